"""From a design's folder to an arranged design, for every command that needs one."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.remembered import remember, stamp, texts_of
from hmic.cli.rooted import rooted, rooted_arranging, rooted_checks
from hmic.cli.show import show
from hmic.diagnostics import DesignError, Finding, Severity
from hmic.model.ahead import read_ahead
from hmic.records import dataclass

if TYPE_CHECKING:
    from hmic.arrange.compose import Arranged
    from hmic.model.ahead import Parsed
    from hmic.model.design import Design


@dataclass(frozen=True)
class Compiled:
    """A design that has no error, with everything found about it."""

    design: Design
    arranged: Arranged
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Failed:
    """Why there is nothing to build. ``sources`` maps file names to their text. ``compiled`` is what
    can be looked at all the same, when only the checks found an error."""

    findings: tuple[Finding, ...]
    sources: Mapping[str, str]
    compiled: Compiled | None = None


def compile_design(
    folder: Path, language: str | None = None, stamped: bytes | None = None
) -> Compiled | Failed:
    """Loads, arranges and checks a design, in its own language or another. Findings of each stage are
    kept, under the stamp of the files as they were before they were read."""
    stamped = stamp(folder, language) if stamped is None else stamped
    design, arranged, findings = examine(folder, language, ahead=read_ahead(folder))
    if design is None:
        return Failed(tuple(findings), texts_of(folder, findings))
    remember(stamped, findings)
    if arranged is None or any(finding.severity is Severity.ERROR for finding in findings):
        whole = Compiled(design, arranged, tuple(findings)) if arranged is not None else None
        return Failed(tuple(findings), design.sources, whole)
    return Compiled(design, arranged, tuple(findings))


def examine(
    folder: Path,
    language: str | None = None,
    unsaved: Mapping[str, str] | None = None,
    ahead: Callable[[], Parsed] | None = None,
) -> tuple[Design | None, Arranged | None, list[Finding]]:
    """A design as far as it goes, and everything found in it; the rest is as for ``load``."""
    # Loaded here, so that what is read ahead is read meanwhile.
    from hmic.arrange.compose import arrange
    from hmic.check.rules import check
    from hmic.model.load import load

    design, findings = load(folder, language, unsaved, ahead)
    if design is None:
        return None, None, findings
    arranged, more = arrange(design)
    findings = rooted([*findings, *_questions(design)], design.sources)
    findings.extend(rooted_arranging(findings, more, design.sources))
    if arranged is not None:
        findings.extend(rooted_checks(findings, check(design, arranged), design.sources))
    return design, arranged, findings


def _questions(design: Design) -> Sequence[Finding]:
    """What a run would refuse to ask for by OBD."""
    if all(definition.obd is None for definition in design.signals.values()):
        return ()
    from hmic.runtime.obd import Asker

    try:
        Asker(design.signals)
    except DesignError as raised:
        return raised.findings
    return ()


def compile_to_look(folder: Path, language: str | None = None) -> Compiled:
    """The compiled design, even with an error, as long as there is something to look at. Raises
    ``DesignError`` as ``compile_or_stop`` does."""
    result = compile_design(folder, language)
    if isinstance(result, Compiled):
        return result
    return result.compiled if result.compiled is not None else compile_or_stop(folder, language)


def compile_or_stop(folder: Path, language: str | None = None) -> Compiled:
    """The compiled design; shows warnings. Raises ``DesignError`` with everything found if there
    is an error, after showing it with its source lines."""
    result = compile_design(folder, language)
    if isinstance(result, Failed):
        show(result.findings, result.sources)
        raise DesignError([])
    weighty = [finding for finding in result.findings if finding.severity is Severity.WARNING]
    show(weighty, result.design.sources)
    return result
