"""One report for one cause: what is found only because of an earlier error is left out."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from hmic.diagnostics import Finding, Severity, Span, error

if TYPE_CHECKING:
    from hmic.arrange.canvas import Relied

# What a sentence lacks: it may stand in the very words that could not be read.
_LACKS = frozenset(
    ("A305", "A308", "A309", "A321", "A323", "A327", "A330", "A335", "A343", "A360", "A363", "A370", "A371",
     "A372", "A373", "C444", "M215")
)  # fmt: skip

_Line = tuple[str, int]
"""A file and a line of it, from 1."""


def rooted(loaded: Sequence[Finding], sources: Mapping[str, str]) -> list[Finding]:
    """The findings of loading a design that have a cause of their own: what the model finds wrong in
    words that could not be read is left out."""
    unread = [item for item in loaded if item.code[0] == "L"]
    own = _own_cause(unread, _Outline(sources))
    return [item for item in loaded if item.code[0] == "L" or own(item)]


def rooted_arranging(
    loaded: Sequence[Finding], arranged: Sequence[Finding], sources: Mapping[str, str]
) -> list[Finding]:
    """The findings of arranging that have a cause of their own. Loading has looked up every name
    already, and followed every part into its parts."""
    errors = [item for item in loaded if item.severity is Severity.ERROR]
    told = {"M201"} if errors else set()
    if any(item.code == "M246" for item in errors):
        told.add("A334")
    own = _own_cause(errors, _Outline(sources))
    rest = [item for item in arranged if item.code not in told and own(item)]
    if not any(item.code == "A361" for item in rest):
        return rest
    if any(item.code in _UNREADABLE and _of_signals(item.span) for item in errors):
        return [item for item in rest if item.code != "A361"]
    names = _declared_badly(errors, sources.get("signals.yaml", ""))
    return [item for item in rest if item.code != "A361" or names.isdisjoint(_quoted(item.message))]


_UNREADABLE = frozenset(("M221", "M222", "M223", "M226"))
"""Nothing can be known of a file that one of these is about."""


def _of_signals(span: Span | None) -> bool:
    return span is None or span.file == "signals.yaml"


def _declared_badly(errors: Sequence[Finding], text: str) -> set[str]:
    """The keys of the lines of signals.yaml that have an error."""
    lines = text.split("\n")
    numbers = {item.span.line for item in errors if item.span and item.span.file == "signals.yaml"}
    named = (lines[number - 1] for number in numbers if number <= len(lines))
    return {line.strip().split(":")[0].strip() for line in named}


def _quoted(message: str) -> list[str]:
    return re.findall(r"'([^']+)'", message)


def rooted_checks(
    earlier: Sequence[Finding], checks: Sequence[Finding], sources: Mapping[str, str]
) -> list[Finding]:
    """What the checks find in sentences that could be read whole: what one lacks may stand in the words
    that could not be read."""
    outline = _Outline(sources)
    unread = outline.sentences(item.span for item in earlier if item.severity is Severity.ERROR)
    return [item for item in checks if item.span is None or _line(item.span) not in unread]


def untold(relied: Iterable[Relied], findings: Sequence[Finding]) -> list[Finding]:
    """A336 for each sentence that shows nothing though nobody has told why: what it relies on is no error
    of its file, nor of its own lines."""
    errors = [item.span for item in findings if item.severity is Severity.ERROR]
    files = {span.file if span else "" for span in errors}
    lines = {(span.file, line) for span in errors if span for line in range(span.line, span.end_line + 1)}
    found = []
    for each in relied:
        span = each.span
        own = any((span.file, line) in lines for line in range(span.line, span.end_line + 1))
        if not own and (not each.file or files.isdisjoint((each.file, ""))):
            message = "nothing is shown here, and no other finding tells why"
            found.append(error("A336", message, span, "write it in another way; this is a fault of hmic"))
    return found


def _own_cause(errors: Sequence[Finding], outline: _Outline) -> Callable[[Finding], bool]:
    """Whether a later finding overlaps none of the errors, and is not about what is missing in a sentence
    that could not be read whole."""
    places = _Places(item.span for item in errors if item.span is not None)
    unread = outline.sentences(item.span for item in errors if item.code[0] == "L")

    def own(item: Finding) -> bool:
        if item.span is None:
            return True
        line = _line(item.span)
        return not (
            places.meet(item.span)
            or (item.code in _LACKS and line in unread)
            # A line above that could not be read may name a counter.
            or (item.code == "A330" and any(above in unread for above in outline.above(line)))
        )

    return own


def _line(span: Span) -> _Line:
    return span.file, span.line


class _Places:
    """Stretches of files, joined where they overlap, to be met by others."""

    def __init__(self, spans: Iterable[Span]) -> None:
        self._starts: dict[str, list[tuple[int, int]]] = {}
        self._ends: dict[str, list[tuple[int, int]]] = {}
        for span in sorted(spans, key=lambda span: (span.file, span.line, span.column)):
            starts, ends = self._starts.setdefault(span.file, []), self._ends.setdefault(span.file, [])
            start, end = (span.line, span.column), (span.end_line, span.end_column)
            if ends and start < ends[-1]:
                ends[-1] = max(ends[-1], end)
            else:
                starts.append(start)
                ends.append(end)

    def meet(self, span: Span) -> bool:
        """Whether a stretch overlaps one of them."""
        before = bisect_left(self._starts.get(span.file, []), (span.end_line, span.end_column))
        return before > 0 and (span.line, span.column) < self._ends[span.file][before - 1]


class _Outline:
    """The line that each line of a file stands below, by its indentation."""

    def __init__(self, sources: Mapping[str, str]) -> None:
        self._sources = sources
        self._owners: dict[str, list[int]] = {}

    def above(self, line: _Line) -> Iterable[_Line]:
        """The lines that a line stands below, the nearest first."""
        file, number = line
        if file not in self._owners:
            self._owners[file] = _owners(self._sources.get(file, "").split("\n"))
        owners = self._owners[file]
        while number := owners[min(number, len(owners)) - 1]:
            yield file, number

    def sentences(self, spans: Iterable[Span | None]) -> set[_Line]:
        """The lines of the sentences of findings: their own and the ones they stand below."""
        found: set[_Line] = set()
        for line in {_line(span) for span in spans if span is not None}:
            found.update((line, next(iter(self.above(line)), line)))
        return found


def _owners(lines: Sequence[str]) -> list[int]:
    """For each line the number, from 1, of the one it stands below; 0 for none."""
    owners: list[int] = []
    depths: list[int] = []
    numbers: list[int] = []
    for number, line in enumerate(lines, 1):
        depth = len(line) - len(line.lstrip())
        level = bisect_left(depths, depth)
        owners.append(numbers[level - 1] if level else 0)
        if line.strip():
            depths[level:], numbers[level:] = [depth], [number]
    return owners
