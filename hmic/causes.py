"""One report for one cause: what has been found wrong in a design, and what merely follows from it.

A finding says by ``rests_on`` what it takes for granted, and an error by its place, or by ``breaks``, what
it leaves unknown. What rests on something unknown is a consequence, and is not told: whoever mends the
cause would be sent to mend what is right.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from hmic.diagnostics import DesignError, Extent, Finding, Sentence, Severity, Span, Subject, Told, error

_Line = tuple[str, int]
"""A file and a line of it, from 1."""
Path = tuple[str, ...]
Keys = Sequence[tuple[tuple[int, int], Path]]
"""Of a file the line and column of each key, ascending, with the keys that lead to it, its own the last."""


WORDS = Subject("", ("words",))
"""All that the layouts say: unknown as long as some of it could not be read."""


NAMELESS = ""
"""Ends the path of what should be there under a name that is not known."""


@dataclass(frozen=True)
class Faults:
    """The errors that were told of a design. ``above`` maps the lines of each layout to the ones that they
    stand below, ``keys`` holds those of the files that have keys. ``unread`` are the errors of words that
    could not be read, which are among the ``errors`` too. What ``parts`` maps to another file is a part of
    that, with the same keys."""

    above: Mapping[str, Mapping[int, int]] = field(default_factory=dict)
    keys: Mapping[str, Keys] = field(default_factory=dict)
    unread: tuple[Finding, ...] = ()
    errors: tuple[Finding, ...] = ()
    parts: Mapping[str, str] = field(default_factory=dict)

    def own(self, found: Sequence[Finding]) -> list[Finding]:
        """Those of more findings that have a cause of their own."""
        together = self.and_also(found)._broken
        return [item for item in found if self._cause(item, together) is None]

    def and_also(self, found: Iterable[Finding]) -> Faults:
        """With the errors among more findings."""
        more = [item for item in found if item.severity is Severity.ERROR]
        return replace(self, errors=tuple(dict.fromkeys((*self.errors, *more))))

    def cause(self, item: Finding) -> Finding | None:
        """The error that a finding is a consequence of; None for one that has a cause of its own."""
        return self._cause(item, self._broken)

    def at(self, span: Span) -> Finding | None:
        """An error told of a place that overlaps this one."""
        return self._places.meet(span)

    def of(self, *subjects: Subject) -> Finding | None:
        """An error told of one of these, of something in it or of what it stands in."""
        return next((told for each in subjects if (told := _first(self._broken, each))), None)

    def told(self, span: Span | None, *subjects: Subject) -> DesignError:
        """What to raise where a sentence cannot go on for want of what was told: at its own place, or of
        one of the subjects. Where nobody has told, that is an error itself."""
        cause = (self.at(span) if span is not None else None) or self.of(*subjects)
        return Told(cause) if cause is not None else DesignError([nobody_told(span)])

    def _cause(self, item: Finding, broken: Mapping[Subject, Sequence[Finding]]) -> Finding | None:
        met = self.at(item.span) if item.span is not None else None
        if met is not None:
            return met
        for rest in item.rests_on:
            told = _first(broken, rest, item) if isinstance(rest, Subject) else self._wrong_in(rest)
            if told is not None:
                return told
        return None

    def _wrong_in(self, sentence: Sentence) -> Finding | None:
        line = (sentence.span.file, sentence.span.line)
        told = (self._wrong if sentence.extent is Extent.SOUND else self._unread).get(line)
        if told is not None or sentence.extent is Extent.READ:
            return told
        return next((self._lost[each] for each in self._above(line) if each in self._lost), None)

    def _above(self, line: _Line) -> Iterator[_Line]:
        """The lines that a line stands below, the nearest first."""
        file, number = line
        owners = self.above.get(file, {})
        while (number := owners.get(number, 0)) > 0:
            yield file, number

    def _sentences(self, found: Iterable[Finding]) -> dict[_Line, Finding]:
        """The lines of the sentences of findings: their own and the ones right above."""
        lines: dict[_Line, Finding] = {}
        for item in found:
            for span in (item.span, *item.also):
                if span is None:
                    continue
                line = (span.file, span.line)
                for each in (line, next(self._above(line), line)):
                    lines.setdefault(each, item)
        return lines

    @cached_property
    def _unread(self) -> Mapping[_Line, Finding]:
        return self._sentences(self.unread)

    @cached_property
    def _lost(self) -> Mapping[_Line, Finding]:
        """The lines of which words could not be read."""
        return {(item.span.file, item.span.line): item for item in self.unread if item.span is not None}

    @cached_property
    def _wrong(self) -> Mapping[_Line, Finding]:
        return self._sentences(self.errors)

    @cached_property
    def _places(self) -> _Places:
        return _Places(self.errors)

    @cached_property
    def _broken(self) -> Mapping[Subject, Sequence[Finding]]:
        """What the errors leave unknown: each subject and all that it stands in."""
        found: dict[Subject, list[Finding]] = {WORDS: list(self.unread)}
        for item in self.errors:
            for subject in item.breaks or self._named(item.span):
                for length in range(len(subject.path) + 1):
                    found.setdefault(Subject(subject.file, subject.path[:length]), []).append(item)
                found.setdefault(_whole(subject), []).append(item)
        return found

    def _named(self, span: Span | None) -> Sequence[Subject]:
        """What stands at a place of a file with keys; without any the whole file."""
        if span is None or span.file in self.above:
            return ()
        keys = self.keys.get(span.file, ())
        place = bisect_right(keys, (span.line, span.column), key=lambda each: each[0])
        file = self.parts.get(span.file, span.file)
        return (Subject(file, keys[place - 1][1] if place else ()),)


_ALL = "\0"
"""Ends the path of what is unknown as a whole."""


def _whole(subject: Subject) -> Subject:
    return Subject(subject.file, (*subject.path, _ALL))


def _first(
    broken: Mapping[Subject, Sequence[Finding]], subject: Subject, but: Finding | None = None
) -> Finding | None:
    """An error, but for one, of a subject, of what is in it or of what it stands in."""
    wider = [_whole(Subject(subject.file, subject.path[:length])) for length in range(len(subject.path))]
    for each in (subject, *wider):
        for told in broken.get(each, ()):
            if told is not but:
                return told
    return None


def nobody_told(span: Span | None) -> Finding:
    """A336: a sentence shows nothing, and no finding tells why."""
    message = "nothing is shown here, and no other finding tells why"
    return error("A336", message, span, "write it in another way; this is a fault of hmic")


class _Places:
    """Stretches of files that errors are about, joined where they overlap, to be met by others."""

    def __init__(self, errors: Iterable[Finding]) -> None:
        self._starts: dict[str, list[tuple[int, int]]] = {}
        self._ends: dict[str, list[tuple[int, int]]] = {}
        self._told: dict[str, list[Finding]] = {}
        placed = [(span, item) for item in errors for span in (item.span, *item.also) if span is not None]
        for span, item in sorted(placed, key=lambda pair: (pair[0].file, pair[0].line, pair[0].column)):
            starts, ends = self._starts.setdefault(span.file, []), self._ends.setdefault(span.file, [])
            start, end = (span.line, span.column), (span.end_line, span.end_column)
            if ends and start < ends[-1]:
                ends[-1] = max(ends[-1], end)
            else:
                starts.append(start)
                ends.append(end)
                self._told.setdefault(span.file, []).append(item)

    def meet(self, span: Span) -> Finding | None:
        """An error whose stretch overlaps one of them."""
        before = bisect_left(self._starts.get(span.file, []), (span.end_line, span.end_column))
        met = before > 0 and (span.line, span.column) < self._ends[span.file][before - 1]
        return self._told[span.file][before - 1] if met else None
