"""Findings: what is wrong, where, against which limit, and what to do about it.

A finding is data. The terminal text and the JSON form are two renderings of the same record.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import Enum

from hmic.foreign_text import visible
from hmic.number_text import measured_and_limit


class Severity(Enum):
    """How much a finding weighs: an error stops the build, a warning only with ``--strict``."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True)
class Span:
    """A stretch of a source file. Lines and columns count from 1; the end column is exclusive."""

    file: str
    line: int
    column: int
    end_line: int
    end_column: int

    def to(self, other: Span) -> Span:
        """The span from the start of this one to the end of the other."""
        return replace(self, end_line=other.end_line, end_column=other.end_column)


@dataclass(frozen=True)
class Finding:
    """One thing found. ``measured``, ``limit`` and ``unit`` go together; ``source`` names the document.
    ``also`` are other places that the same cause spoils: what one edit mends is one finding."""

    code: str
    severity: Severity
    message: str
    span: Span | None = None
    remedy: str | None = None
    measured: float | None = None
    limit: float | None = None
    unit: str | None = None
    source: str | None = None
    also: tuple[Span, ...] = ()


def told_once(alike: Sequence[Finding]) -> Finding:
    """One finding for what several say of one cause: the first of them, with the places of all."""
    first = alike[0]
    places = dict.fromkeys(item.span for item in alike if item.span is not None)
    ordered = sorted(places, key=lambda span: (span.file, span.line, span.column))
    return replace(first, also=tuple(span for span in ordered if span != first.span))


def error(code: str, message: str, span: Span | None = None, remedy: str | None = None) -> Finding:
    """An error without a measurement, the most common kind."""
    return Finding(code, Severity.ERROR, message, span, remedy)


def warning(code: str, message: str, span: Span | None = None, remedy: str | None = None) -> Finding:
    """A warning without a measurement."""
    return Finding(code, Severity.WARNING, message, span, remedy)


class DesignError(Exception):
    """Carries findings out of a step that cannot go on."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        super().__init__("; ".join(finding.message for finding in findings))
        self.findings = tuple(findings)


def closest(word: str, candidates: Iterable[str]) -> str | None:
    """The candidate a typist most likely meant, or None when none is near.

    Distance is optimal string alignment (an insertion, a deletion, a substitution or a swap of
    neighbours costs 1); "near" is a third of the word's length, at least 1.
    """
    limit = max(1, len(word) // 3)
    best: tuple[int, str] | None = None
    for candidate in sorted(set(candidates)):
        distance = _alignment_distance(word.lower(), candidate.lower(), limit)
        if distance <= limit and (best is None or distance < best[0]):
            best = (distance, candidate)
    return best[1] if best else None


FEW, NEAREST = 12, 8
"""Names that a remedy lists all; of more, so many of the most alike."""


def did_you_mean(word: str, candidates: Iterable[str], kind: str = "names") -> str:
    """A remedy sentence for an unknown word: the near name, or the list to choose from, or of a long list
    what is most alike."""
    names = sorted(set(candidates))
    ends = [name for name in names if word and name.endswith(f".{word}")]
    near = closest(word, names) or (ends[0] if len(ends) == 1 else None)
    if near is not None:
        return f"did you mean '{near}'?"
    if not names:
        return f"there are no {kind} to choose from"
    if len(names) <= FEW:
        return f"known {kind}: {', '.join(names)}"
    return f"the nearest of {len(names)} {kind}: {', '.join(alike(word, names)[:NEAREST])}"


def alike(word: str, candidates: Iterable[str]) -> list[str]:
    """The candidates, those first that share most with a word."""
    from difflib import SequenceMatcher

    def shared(candidate: str) -> float:
        return SequenceMatcher(None, word.lower(), candidate.lower(), False).ratio()

    return sorted(set(candidates), key=lambda candidate: (-shared(candidate), candidate))


def sorted_findings(findings: Iterable[Finding]) -> list[Finding]:
    """By file, place and weight, without exact repeats."""
    order = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}

    def key(finding: Finding) -> tuple[str, int, int, int, str, str]:
        span = finding.span
        where = (span.file, span.line, span.column) if span else ("", 0, 0)
        return (*where, order[finding.severity], finding.code, finding.message)

    return sorted(dict.fromkeys(findings), key=key)


def exit_code(findings: Iterable[Finding], strict: bool = False) -> int:
    """0 when nothing weighs more than a note, 1 with errors (or warnings under ``strict``)."""
    weighty = {Severity.ERROR, Severity.WARNING} if strict else {Severity.ERROR}
    return 1 if any(finding.severity in weighty for finding in findings) else 0


def as_json(findings: Iterable[Finding]) -> str:
    """The JSON list of the command contract; keys that do not apply are absent."""
    return json.dumps([_record(finding) for finding in findings], indent=2, ensure_ascii=False)


def as_text(
    findings: Iterable[Finding],
    sources: Mapping[str, str],
    width: int | None = None,
    coloured: bool = False,
) -> str:
    """Findings for a person: the place, its line with what is meant marked below it, then beside a margin
    of headings what is wrong, what was measured, and what to do.

    ``sources`` maps a file name as used in spans to its text; a file that is absent is shown without its
    line. Sentences are broken to lines of ``width`` columns; without it they stay whole, so that a kept
    text can be searched. ``coloured`` is for a terminal.
    """
    return "\n\n".join(_block(finding, sources, width, coloured) for finding in findings)


def named(finding: Finding) -> str:
    """What a finding is called: ``error A350``."""
    return f"{finding.severity.value} {finding.code}"


def _record(finding: Finding) -> dict[str, object]:
    record: dict[str, object] = {"code": finding.code, "severity": finding.severity.value}
    if finding.span is not None:
        record |= asdict(finding.span)
    optional = {
        "measured": finding.measured,
        "limit": finding.limit,
        "unit": finding.unit,
        "source": finding.source,
        "remedy": finding.remedy,
        "also": [asdict(span) for span in finding.also] or None,
    }
    return record | {"message": finding.message} | {k: v for k, v in optional.items() if v is not None}


MARGIN = 14
"""Columns of the headings beside a finding's sentences: ``warning C401`` and a gap."""
LEAST_SENTENCE = 30
"""Columns left to the sentences on the narrowest terminal."""
MOST_PLACES = 30
"""Places that a text lists beside the first."""
_INKS = {Severity.ERROR: "\x1b[31m", Severity.WARNING: "\x1b[33m", Severity.NOTE: "\x1b[36m"}
_NO_INK = "\x1b[0m"


def _block(finding: Finding, sources: Mapping[str, str], width: int | None, coloured: bool) -> str:
    def ink(text: str) -> str:
        return f"{_INKS[finding.severity]}{text}{_NO_INK}" if coloured else text

    lines = []
    if finding.span is not None:
        place, *quoted = _quoted(finding.span, sources.get(finding.span.file, ""))
        lines = [place, *quoted[:1], *map(ink, quoted[1:])]
    (name, message), *others = _sentences(finding)
    lines += _beside(ink(name.ljust(MARGIN)), message, width)
    for heading, sentence in others:
        lines += _beside(heading.ljust(MARGIN), sentence, width)
    return "\n".join(lines)


def _sentences(finding: Finding) -> list[tuple[str, str]]:
    """What there is to say, each with its heading."""
    said = [(named(finding), finding.message)]
    if held := held_against(finding):
        said.append(("measured", held + (f" ({finding.source})" if finding.source else "")))
    if finding.remedy:
        said.append(("remedy", finding.remedy))
    if finding.also:
        listed = ", ".join(f"{span.file}:{span.line}:{span.column}" for span in finding.also[:MOST_PLACES])
        more = len(finding.also) - MOST_PLACES
        said.append(("also at", listed + (f" and {more} places more" if more > 0 else "")))
    return said


def held_against(finding: Finding) -> str:
    """What was measured and the limit: ``487 px, limit 466 px``; nothing where nothing was measured."""
    if finding.measured is None or finding.limit is None:
        return ""
    unit = f" {finding.unit}" if finding.unit else ""
    measured, limit = measured_and_limit(finding.measured, finding.limit)
    return f"{measured}{unit}, limit {limit}{unit}"


def _beside(heading: str, sentence: str, width: int | None) -> list[str]:
    """A sentence beside its heading, all its lines behind the margin."""
    lines = [visible(sentence)]
    if width is not None:
        from textwrap import wrap

        wide = max(width - MARGIN, LEAST_SENTENCE)
        lines = wrap(lines[0], wide, break_long_words=False, break_on_hyphens=False) or lines
    return [heading + lines[0], *(" " * MARGIN + line for line in lines[1:])]


def _quoted(span: Span, source: str) -> list[str]:
    """The place; and where the source is known, its line, and the marks below what is meant."""
    place = f"{visible(span.file)}:{span.line}:{span.column}"
    lines = source.split("\n")
    if not source or not 0 < span.line <= len(lines):
        return [place]
    text = lines[span.line - 1].rstrip("\r")
    end = span.end_column if span.end_line == span.line else len(text) + 1
    before, meant = visible(text[: span.column - 1]), visible(text[span.column - 1 : end - 1])
    return [place, f"    {visible(text)}", f"    {below(before)}{MARK * max(1, _columns(meant))}"]


MARK = "="
"""Stands below each column of what is meant."""


def below(before: str) -> str:
    """Blanks as wide as the text before what is marked, its tabs kept."""
    return "".join("\t" if char == "\t" else " " * _columns(char) for char in before)


def _columns(text: str) -> int:
    """The columns that a text takes on a terminal: none for a mark above a letter, two for a wide one."""
    from unicodedata import category, east_asian_width

    if text.isascii():
        return len(text)
    return sum(0 if category(char) in ("Mn", "Me") else 1 + (east_asian_width(char) in "WF") for char in text)


def _alignment_distance(left: str, right: str, limit: int) -> int:
    if abs(len(left) - len(right)) > limit:
        return limit + 1
    before: list[int] = []
    previous = list(range(len(right) + 1))
    for i, a in enumerate(left, 1):
        current = [i]
        for j, b in enumerate(right, 1):
            cost = min(previous[j] + 1, current[j - 1] + 1, previous[j - 1] + (a != b))
            if i > 1 and j > 1 and a == right[j - 2] and left[i - 2] == b:
                cost = min(cost, before[j - 2] + 1)
            current.append(cost)
        before, previous = previous, current
    return previous[-1]
