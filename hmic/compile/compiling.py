"""From a design's folder to an arranged design, with everything found in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.causes import Faults
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
    if seen.design is not None and seen.arranged is not None:
        remember(stamped, tuple(seen.findings), seen.unjudged)
    return _result(seen, folder)


def compile_in_steps(folder: Path, language: str | None = None) -> Iterator[Compiled | Failed]:
    """As ``compile_design``, first without what the checks find, as soon as there is something to look at,
    then with it."""
    begun = _begun(folder, language)
    yield _result(begun.plain(), folder)
    if begun.arranged is not None:
        yield _result(_checked(begun), folder)


def _result(seen: _Examined, folder: Path) -> Compiled | Failed:
    findings = tuple(seen.findings)
    if seen.design is None or seen.arranged is None:
        return Failed(findings, texts_of(folder, findings))
    compiled = Compiled(seen.design, seen.arranged, findings, seen.unjudged)
    if seen.whole and not any(finding.severity is Severity.ERROR for finding in findings):
        return compiled
    return Failed(findings, seen.design.sources, compiled if seen.sound else None, compiled)


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
    """``whole`` where arranging found no error and met none, ``sound`` where loading did not either."""

    design: Design | None
    arranged: Arranged | None
    findings: list[Finding]
    whole: bool = False
    sound: bool = False
    unjudged: tuple[Unjudged, ...] = ()


@dataclass(frozen=True)
class _Begun:
    """A design that was loaded and arranged, with what was found so far and the faults that it follows
    from."""

    design: Design | None
    arranged: Arranged | None
    findings: list[Finding]
    faults: Faults
    whole: bool = False

    def plain(self) -> _Examined:
        return _Examined(self.design, self.arranged, sorted_findings(self.findings), self.whole, self.sound)

    @property
    def sound(self) -> bool:
        return self.whole and not any(finding.severity is Severity.ERROR for finding in self.findings)


def _examined(
    folder: Path,
    language: str | None = None,
    unsaved: Mapping[str, str] | None = None,
) -> _Examined:
    return _checked(_begun(folder, language, unsaved))


def _begun(folder: Path, language: str | None = None, unsaved: Mapping[str, str] | None = None) -> _Begun:
    from hmic.arrange.compose import arrange_with_gaps
    from hmic.model.load import load

    design, findings = load(folder, language, unsaved)
    if design is None:
        return _Begun(None, None, findings, Faults())
    arranged, more = arrange_with_gaps(design)
    whole = not arranged.relied and not any(finding.severity is Severity.ERROR for finding in more)
    findings.extend(_questions(design))
    more = design.faults.own(more)
    findings.extend(more)
    faults = design.faults.and_also(more)
    findings = [item for item in findings if item.severity is Severity.ERROR or faults.cause(item) is None]
    return _Begun(design, arranged, findings, faults, whole)


def _checked(begun: _Begun) -> _Examined:
    from hmic.check.rules import judge, measure

    design, arranged = begun.design, begun.arranged
    if design is None or arranged is None:
        return begun.plain()
    unjudged: Sequence[Unjudged] = ()
    if begun.whole:
        found, unjudged = judge(design, arranged)
        found = [*found, *_packing(design, arranged)]
    else:
        found = measure(design, arranged)
    findings = sorted_findings([*begun.findings, *begun.faults.own(found)])
    return _Examined(design, arranged, findings, begun.whole, begun.sound, tuple(unjudged))


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
