"""Findings: what is wrong, where, against which limit, and what to do about it.

A finding is data. The terminal text and the JSON form are two renderings of the same record.
"""

from __future__ import annotations

import json
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from enum import Enum, StrEnum
from heapq import nlargest, nsmallest
from typing import NamedTuple

from hmic.foreign_text import visible
from hmic.number_text import measured_and_limit


class Severity(Enum):
    """How much a finding weighs: an error stops the build, a warning only with ``--strict``."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


class Basis(StrEnum):
    """How much the figure, or the rule, behind a finding is worth."""

    READ = "read in the document"
    QUOTED = "quoted at second hand"
    PRACTICE = "common practice, no source"
    CHOICE = "our own choice"
    MEMORY = "from memory, confirm before relying on it"
    DESIGN = "set by this design"


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
class Subject:
    """Something that the files of a design say: the file, and the keys or names that lead to it there.
    Without a path it is all of the file."""

    file: str
    path: tuple[str, ...] = ()


class Extent(Enum):
    """How much of a sentence must be sound for what is found in it to be so."""

    READ = "its words, and those of the lines right below it, could be read"
    READ_ABOVE = "they could, and so could those of every line that it stands below"
    SOUND = "nothing at all is wrong in them, and every line that it stands below could be read"


@dataclass(frozen=True)
class Sentence:
    """The line of a layout that a place stands in, as far as something rests on it."""

    span: Span
    extent: Extent = Extent.READ


@dataclass(frozen=True)
class Edit:
    """Text in place of a stretch of a file; of an empty stretch, text that is put in there. ``told`` says so
    where the text alone does not: a value without its key."""

    span: Span
    text: str
    told: str = field(default="", compare=False)

    @property
    def says(self) -> str:
        """What to do, for a person: ``write text 12 arcmin``."""
        if self.told:
            return self.told
        span = self.span
        added = (span.line, span.column) == (span.end_line, span.end_column)
        return f"{'add' if added else 'write'} {self.text.strip(' ,')}"


@dataclass(frozen=True)
class Mend:
    """What takes a finding away, as data: its prose is made from it. ``unasked`` where it changes how
    something is told, and not what or whether: then nobody has to be asked."""

    edits: tuple[Edit, ...]
    unasked: bool = False

    @property
    def says(self) -> str:
        """What to do, for a person."""
        return " and ".join(dict.fromkeys(edit.says for edit in self.edits))


@dataclass(frozen=True)
class Finding:
    """One thing found. ``measured``, ``limit`` and ``unit`` go together; ``source`` names the document, or
    what the rule is for, and ``basis`` how much that is worth; ``assumed`` says on what guess it hangs, and
    how far it holds. ``mend`` is the remedy as edits, where it can be computed.
    ``also`` are other places that the same cause spoils: what one edit mends is one finding.
    ``rests_on`` is what it takes for granted: where an error has been told of that, it is a mere
    consequence. ``breaks`` is what an error leaves unknown, where that is not what its place says."""

    code: str
    severity: Severity
    message: str
    span: Span | None = None
    remedy: str | None = None
    measured: float | None = None
    limit: float | None = None
    unit: str | None = None
    source: str | None = None
    basis: Basis | None = None
    assumed: str | None = None
    mend: Mend | None = None
    also: tuple[Span, ...] = ()
    rests_on: tuple[Subject | Sentence, ...] = field(default=(), compare=False)
    breaks: tuple[Subject, ...] = field(default=(), compare=False)


class Unjudged(NamedTuple):
    """A question that no rule can answer, and the names of the screens, or signals, that it is about."""

    question: str
    where: tuple[str, ...]


def told_once(alike: Sequence[Finding]) -> Finding:
    """One finding for what several say of one cause: the first of them, with the places of all."""
    first = alike[0]
    places = dict.fromkeys(item.span for item in alike if item.span is not None)
    ordered = sorted(places, key=lambda span: (span.file, span.line, span.column))
    mends = [item.mend for item in alike if item.mend is not None]
    mend = first.mend
    if mend is not None:
        edits = dict.fromkeys(edit for each in mends for edit in each.edits)
        mend = replace(mend, edits=tuple(edits)) if len(mends) == len(alike) else None
    return replace(first, also=tuple(span for span in ordered if span != first.span), mend=mend)


def mended_by(finding: Finding, mend: Mend | None, more: str = "") -> Finding:
    """A finding with its remedy as edits, the prose made from them; without them as it is."""
    return finding if mend is None else replace(finding, mend=mend, remedy=mend.says + more)


def error(
    code: str,
    message: str,
    span: Span | None = None,
    remedy: str | None = None,
    *,
    rests_on: tuple[Subject | Sentence, ...] = (),
    breaks: tuple[Subject, ...] = (),
    also: tuple[Span, ...] = (),
) -> Finding:
    """An error without a measurement, the most common kind."""
    return Finding(code, Severity.ERROR, message, span, remedy, also=also, rests_on=rests_on, breaks=breaks)


def lacking(code: str, message: str, span: Span, remedy: str | None = None) -> Finding:
    """An error about what a sentence lacks: it may stand in words that could not be read."""
    return error(code, message, span, remedy, rests_on=(Sentence(span),))


def warning(
    code: str,
    message: str,
    span: Span | None = None,
    remedy: str | None = None,
    *,
    rests_on: tuple[Subject | Sentence, ...] = (),
    also: tuple[Span, ...] = (),
) -> Finding:
    """A warning without a measurement."""
    return Finding(code, Severity.WARNING, message, span, remedy, also=also, rests_on=rests_on)


class DesignError(Exception):
    """Carries findings out of a step that cannot go on."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        super().__init__("; ".join(finding.message for finding in findings))
        self.findings = tuple(findings)


class Told(DesignError):
    """Ends a step for want of what is wrong elsewhere and was told there, by its ``cause``."""

    def __init__(self, cause: Finding) -> None:
        super().__init__([])
        self.cause = cause


class Shown(DesignError):
    """Findings that a person has been shown already."""


def with_article(word: str) -> str:
    """``a voltage``, ``an illuminance``."""
    return f"{'an' if word[:1] in 'aeiou' else 'a'} {word}"


def closest(word: str, candidates: Iterable[str]) -> str | None:
    """The candidate a typist most likely meant, or None when none is near.

    Distance is optimal string alignment (an insertion, a deletion, a substitution or a swap of
    neighbours costs 1); "near" is a third of the word's length, at least 1.
    """
    return _nearest(word[:LONGEST], _around(word, sorted(candidates)))


def _nearest(word: str, names: Iterable[str]) -> str | None:
    """``closest``, of names in order."""
    limit = max(1, len(word) // 3)
    small = word.lower()
    letters, places = set(small), _places(small)
    best: tuple[int, str] | None = None
    for name in names:
        # A change brings at most one letter.
        if abs(len(name) - len(word)) > limit or len(letters.difference(name.lower())) > limit:
            continue
        distance = _alignment_distance(len(small), places, name.lower())
        if distance <= limit and (best is None or distance < best[0]):
            best = (distance, name)
    return best[1] if best else None


FEW, NEAREST = 12, 8
"""Names that a remedy lists all; of more, so many of the most alike."""
LONGEST = 100
"""Letters of a name that is worth to be compared and listed."""
MANY = 200
"""Names that a word is held against; of more, so many that stand around it in their order, since those
begin as it does."""


def _around(word: str, names: Sequence[str], count: int = MANY) -> list[str]:
    """Of names in order so many that stand around a word, each once, without those that are too long."""
    start = max(0, min(bisect_left(names, word) - count // 2, len(names) - count))
    return [name for name in dict.fromkeys(names[start : start + count]) if len(name) <= LONGEST]


def did_you_mean(word: str, candidates: Iterable[str], kind: str = "names") -> str:
    """A remedy sentence for an unknown word: the near name, or the list to choose from, or of a long list
    what is most alike."""
    word, every = word[:LONGEST], sorted(candidates)
    names = _around(word, every)
    near = _nearest(word, names)
    if near is None and word:
        end = f".{word}"
        ends = [name for name in names if name.endswith(end)]
        near = ends[0] if len(ends) == 1 else None
    if near is not None:
        return f"did you mean '{near}'?"
    if not names:
        return f"there are no {kind} to choose from"
    if len(names) <= FEW:
        return f"known {kind}: {', '.join(names)}"
    if len(every) <= MANY:
        return f"the nearest of {len(names)} {kind}: {', '.join(alike(word, names))}"
    return f"the nearest of {len(every)} {kind}: {', '.join(_around(word, every, NEAREST))}"


def alike(word: str, candidates: Iterable[str]) -> list[str]:
    """The ``NEAREST`` candidates that share most with a word, in order, the most alike first. Only those
    that share most letters are looked at closely."""
    from difflib import SequenceMatcher

    small, letters = word.lower(), list(Counter(word.lower()).items())

    def in_common(candidate: str) -> float:
        common = sum(min(count, candidate.lower().count(letter)) for letter, count in letters)
        return common / max(1, len(word) + len(candidate))

    def shared(candidate: str) -> float:
        return SequenceMatcher(None, small, candidate.lower(), False).ratio()

    likely = nlargest(3 * NEAREST, sorted(set(candidates)), key=in_common)
    return nsmallest(NEAREST, likely, key=lambda candidate: (-shared(candidate), candidate))


def sorted_findings(findings: Iterable[Finding]) -> list[Finding]:
    """By file, place and weight, without exact repeats."""
    order = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}

    def key(finding: Finding) -> tuple[str, int, int, int, str, str]:
        span = finding.span
        where = (span.file, span.line, span.column) if span else ("", 0, 0)
        return (*where, order[finding.severity], finding.code, finding.message)

    return sorted(dict.fromkeys(findings), key=key)


def counted(findings: Sequence[Finding]) -> str:
    """``2 errors, 1 warning``, or nothing."""
    pieces = []
    for severity in Severity:
        count = sum(finding.severity is severity for finding in findings)
        if count:
            pieces.append(f"{count} {severity.value}{'s' if count > 1 else ''}")
    return ", ".join(pieces)


def exit_code(findings: Iterable[Finding], strict: bool = False) -> int:
    """0 when nothing weighs more than a note, 1 with errors (or warnings under ``strict``)."""
    weighty = {Severity.ERROR, Severity.WARNING} if strict else {Severity.ERROR}
    return 1 if any(finding.severity in weighty for finding in findings) else 0


def as_json(findings: Iterable[Finding]) -> str:
    """The JSON list of the command contract; keys that do not apply are absent."""
    return json.dumps(records(findings), indent=2, ensure_ascii=False)


def records(findings: Iterable[Finding]) -> list[dict[str, object]]:
    """Findings as JSON has them."""
    return [_record(finding) for finding in findings]


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
    told = list(findings)
    named_in = {finding.span.file for finding in told if finding.span is not None}
    lines = {file: sources[file].split("\n") for file in named_in if sources.get(file)}
    return "\n\n".join(_block(finding, lines, width, coloured) for finding in told)


def left_to_you(unjudged: Sequence[Unjudged]) -> str:
    """What was not looked at, a line each, as a person is told."""
    lines = [f"  {each.question}: {', '.join(each.where)}" for each in unjudged]
    return "\n".join(["not looked at, look yourself:", *lines]) if lines else ""


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
        "basis": finding.basis,
        "assumed": finding.assumed,
        "remedy": finding.remedy,
        "mend": _mend(finding.mend),
        "also": [asdict(span) for span in finding.also] or None,
    }
    return record | {"message": finding.message} | {k: v for k, v in optional.items() if v is not None}


def _mend(mend: Mend | None) -> dict[str, object] | None:
    if mend is None:
        return None
    edits = [asdict(edit.span) | {"text": edit.text} for edit in mend.edits]
    return {"unasked": mend.unasked, "edits": edits}


MARGIN = 14
"""Columns of the headings beside a finding's sentences: ``warning C401`` and a gap."""
LEAST_SENTENCE = 30
"""Columns left to the sentences on the narrowest terminal."""
MOST_PLACES = 30
"""Places that a text lists beside the first."""
_INKS = {Severity.ERROR: "\x1b[31m", Severity.WARNING: "\x1b[33m", Severity.NOTE: "\x1b[36m"}
_NO_INK = "\x1b[0m"


def _block(finding: Finding, sources: Mapping[str, Sequence[str]], width: int | None, coloured: bool) -> str:
    def ink(text: str) -> str:
        return f"{_INKS[finding.severity]}{text}{_NO_INK}" if coloured else text

    lines = []
    if finding.span is not None:
        place, *quoted = _quoted(finding.span, sources.get(finding.span.file, ()))
        lines = [place, *quoted[:1], *map(ink, quoted[1:])]
    (name, message), *others = _sentences(finding)
    lines += _beside(ink(name.ljust(MARGIN)), message, width)
    for heading, sentence in others:
        lines += _beside(heading.ljust(MARGIN), sentence, width)
    return "\n".join(lines)


def _sentences(finding: Finding) -> list[tuple[str, str]]:
    """What there is to say, each with its heading."""
    said = [(named(finding), finding.message)]
    by = by_what(finding)
    if held := held_against(finding):
        said.append(("measured", held + (f" ({by})" if by else "")))
    elif by:
        said.append(("by", by))
    if finding.assumed:
        said.append(("assumed", finding.assumed))
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


def by_what(finding: Finding) -> str:
    """The document behind a finding and how much that is worth; nothing where it is a matter of course."""
    return "; ".join(said for said in (finding.source, finding.basis) if said)


def _beside(heading: str, sentence: str, width: int | None) -> list[str]:
    """A sentence beside its heading, all its lines behind the margin."""
    lines = [visible(sentence)]
    if width is not None:
        from textwrap import wrap

        wide = max(width - MARGIN, LEAST_SENTENCE)
        lines = wrap(lines[0], wide, break_long_words=False, break_on_hyphens=False) or lines
    return [heading + lines[0], *(" " * MARGIN + line for line in lines[1:])]


def _quoted(span: Span, lines: Sequence[str]) -> list[str]:
    """The place; and where the lines of the source are known, its own, and the marks below what is
    meant."""
    place = f"{visible(span.file)}:{span.line}:{span.column}"
    if not 0 < span.line <= len(lines):
        return [place]
    text = lines[span.line - 1].rstrip("\r")
    end = span.end_column if span.end_line == span.line else len(text) + 1
    # Of a line that goes on and on, what stands around the place.
    first = max(0, span.column - 1 - MOST_QUOTED // 2) if len(text) > MOST_QUOTED else 0
    last = first + MOST_QUOTED
    before = visible(text[first : span.column - 1])
    meant = visible(text[span.column - 1 : min(end - 1, last)])
    head, tail = "..." if first else "", "..." if last < len(text) else ""
    shown = f"    {head}{visible(text[first:last])}{tail}"
    return [place, shown, f"    {below(head + before)}{MARK * max(1, _columns(meant))}"]


MOST_QUOTED = 400
"""Characters of a line that are shown."""
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


def _places(word: str) -> dict[str, int]:
    """For each letter of a word the places where it stands, as bits."""
    found: dict[str, int] = {}
    for place, letter in enumerate(word):
        found[letter] = found.get(letter, 0) | 1 << place
    return found


def _alignment_distance(length: int, places: Mapping[str, int], other: str) -> int:
    """Optimal string alignment of a word, given by its length and the places of its letters, and another.

    All of a column of the table at once, in the bits of integers that say where it rises and falls from
    row to row (Hyyro, "A bit-vector algorithm for computing Levenshtein and Damerau edit distances",
    Nordic Journal of Computing 10, 2003).
    """
    all_rows, last = (1 << length) - 1, 1 << length >> 1
    rises, falls, same, before = all_rows, 0, 0, 0
    distance = length
    for letter in other:
        equal = places.get(letter, 0)
        swapped = ((~same & equal) << 1) & before
        same = (((equal & rises) + rises) ^ rises) | equal | falls | swapped
        up = falls | ~(same | rises)
        down = same & rises
        distance += bool(up & last) - bool(down & last)
        up, down = (up << 1) | 1, down << 1
        rises = (down | ~(same | up)) & all_rows
        falls = up & same & all_rows
        before = equal
    return distance if length else len(other)
