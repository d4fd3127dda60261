"""Two versions of a design, in all measures."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from hmic.check.measured import Compared, Measured, compared, measured
from hmic.compile.compiling import Compiled, Failed, compile_design
from hmic.diagnostics import Finding, Severity, counted, error


class Comparison(NamedTuple):
    """What a design was compiled to, its measures beside the other's, and everything found in it. Where one
    of them cannot be measured there are no rows, and a finding says why."""

    result: Compiled | Failed
    rows: tuple[Compared, ...]
    findings: tuple[Finding, ...]


def compare(folder: Path, other: Path, language: str | None = None) -> Comparison:
    """A design against another version of it."""
    result = compile_design(folder, language)
    ours = _measured(result)
    if ours is None:
        message, remedy = "the design cannot be measured", "correct the errors shown first"
        return Comparison(result, (), (*result.findings, error("U969", message, None, remedy)))
    against = compile_design(other, language)
    theirs = _measured(against)
    if theirs is None:
        errors = [finding for finding in against.findings if finding.severity is Severity.ERROR]
        message = f"the other version, '{other}', cannot be measured: it has {counted(errors)}"
        remedy = f"correct what `hmic check {other}` shows, or name another folder"
        return Comparison(result, (), (*result.findings, error("U969", message, None, remedy)))
    return Comparison(result, compared(ours, theirs), result.findings)


def _measured(result: Compiled | Failed) -> tuple[Measured, ...] | None:
    """All that can be measured; None where the screens cannot be laid out, or make no pack."""
    from hmic.pack.validity import refusals

    compiled = result if isinstance(result, Compiled) else result.compiled
    if compiled is None or refusals(compiled.arranged.drawing):
        return None
    return measured(compiled.design, compiled.arranged, compiled.findings, len(compiled.pack))
