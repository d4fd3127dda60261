"""The design that a command names: compiled, or what is wrong with it shown."""

from __future__ import annotations

from pathlib import Path
from typing import NoReturn

from hmic.cli.findings import show
from hmic.compile.compiling import Compiled, Failed, compile_design
from hmic.diagnostics import Severity, Shown


def compile_to_look(folder: Path, language: str | None = None) -> Compiled | Failed:
    """The compiled design, or one with an error that can be looked at all the same: ``with_gaps`` is
    there. Raises ``DesignError`` as ``compile_or_stop`` does where nothing can."""
    result = compile_design(folder, language)
    if isinstance(result, Failed) and result.with_gaps is None:
        _stop(result)
    return result


def compile_or_stop(folder: Path, language: str | None = None) -> Compiled:
    """The compiled design; shows warnings. Raises ``DesignError`` with everything found if there
    is an error, after showing it with its source lines."""
    result = compile_design(folder, language)
    if isinstance(result, Failed):
        _stop(result)
    weighty = [finding for finding in result.findings if finding.severity is Severity.WARNING]
    show(weighty, result.design.sources)
    return result


def _stop(failed: Failed) -> NoReturn:
    show(failed.findings, failed.sources)
    raise Shown(failed.findings)
