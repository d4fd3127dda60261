"""From a design's folder to an arranged design, with everything found in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.compile.kept_findings import remember, stamp, texts_of
from hmic.diagnostics import DesignError, Finding, Severity, Unjudged, sorted_findings

if TYPE_CHECKING:
    from hmic.arrange.compose import Arranged
    from hmic.model.design import Design


@dataclass(frozen=True)
class Compiled:
    """A design that has no error, with everything found about it, and what is left to a person; within
    ``Failed``, one with errors."""

    design: Design
    arranged: Arranged
    findings: tuple[Finding, ...]
    unjudged: tuple[Unjudged, ...] = ()

    @cached_property
    def pack(self) -> bytes:
        """The screen pack. Raises ``DesignError`` only where ``findings`` hold an error: all that the
        writer refuses is among them."""
        from hmic.pack.writer import write

        return write(self.arranged.drawing)


@dataclass(frozen=True)
class Failed:
    """Why there is nothing to build. ``sources`` maps file names to their text. ``compiled`` is there
    when only the checks found an error; ``with_gaps`` is what can be looked at all the same, with the
    place of what has an error left empty."""

    findings: tuple[Finding, ...]
    sources: Mapping[str, str]
    compiled: Compiled | None = None
    with_gaps: Compiled | None = None


def compile_design(
    folder: Path, language: str | None = None, stamped: bytes | None = None
) -> Compiled | Failed:
    """Loads, arranges and checks a design, in its own language or another. Findings of each stage are
    kept, under the stamp of the files as they were before they were read."""
    stamped = stamp(folder, language) if stamped is None else stamped
    seen = _examined(folder, language)
    findings = tuple(seen.findings)
    if seen.design is None or seen.arranged is None:
        return Failed(findings, texts_of(folder, findings))
    remember(stamped, findings, seen.unjudged)
    compiled = Compiled(seen.design, seen.arranged, findings, seen.unjudged)
    if seen.whole and not any(finding.severity is Severity.ERROR for finding in findings):
        return compiled
    return Failed(findings, seen.design.sources, compiled if seen.whole else None, compiled)


def examine(
    folder: Path,
    language: str | None = None,
    unsaved: Mapping[str, str] | None = None,
) -> tuple[Design | None, Arranged | None, list[Finding]]:
    """A design as far as it goes, and everything found in it; the rest is as for ``load``."""
    seen = _examined(folder, language, unsaved)
    return seen.design, seen.arranged if seen.whole else None, seen.findings


@dataclass(frozen=True)
class _Examined:
    """``whole`` where arranging found no error and met none."""

    design: Design | None
    arranged: Arranged | None
    findings: list[Finding]
    whole: bool = False
    unjudged: tuple[Unjudged, ...] = ()


def _examined(
    folder: Path,
    language: str | None = None,
    unsaved: Mapping[str, str] | None = None,
) -> _Examined:
    from hmic.arrange.compose import arrange_with_gaps
    from hmic.check.rules import judge, measure
    from hmic.model.load import load

    design, findings = load(folder, language, unsaved)
    if design is None:
        return _Examined(None, None, sorted_findings(findings))
    arranged, more = arrange_with_gaps(design)
    whole = not arranged.relied and not any(finding.severity is Severity.ERROR for finding in more)
    findings.extend(_questions(design))
    more = design.faults.own(more)
    findings.extend(more)
    faults = design.faults.and_also(more)
    findings = [item for item in findings if item.severity is Severity.ERROR or faults.cause(item) is None]
    if not whole:
        findings.extend(faults.own(measure(design, arranged)))
        return _Examined(design, arranged, sorted_findings(findings))
    found, unjudged = judge(design, arranged)
    findings.extend(faults.own([*found, *_packing(design, arranged)]))
    return _Examined(design, arranged, sorted_findings(findings), True, tuple(unjudged))


def _packing(design: Design, arranged: Arranged) -> Sequence[Finding]:
    """What the writer of packs refuses, and a flash that does not hold the pack. It is only written where
    a bound on its size is too much: that takes longer than all the checks."""
    from hmic.check.budget import check_flash
    from hmic.pack.bound import size_bound
    from hmic.pack.records import LARGEST_PACK
    from hmic.pack.validity import refusals
    from hmic.wire.banks import banks

    refused = refusals(arranged.drawing)
    most = min(LARGEST_PACK, banks(design.panel.flash).capacity)
    if refused or size_bound(arranged.drawing, most) <= most:
        return refused
    from hmic.pack.inspect import section_sizes
    from hmic.pack.writer import write

    try:
        return check_flash(design, arranged, section_sizes(write(arranged.drawing)))
    except DesignError as raised:
        return raised.findings


def _questions(design: Design) -> Sequence[Finding]:
    """What a run would refuse to ask for by OBD."""
    if all(definition.asked is None for definition in design.signals.values()):
        return ()
    from hmic.runtime.obd import Asker

    try:
        Asker(design.signals)
    except DesignError as raised:
        return raised.findings
    return ()
