"""From text to a tree of lines by indentation. Any text gives a tree."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from hmic.diagnostics import Finding, Span, error
from hmic.language.vocabulary import BODY_WORDS, CONTENTS, PHRASE_FORMS, TOP_WORDS

_OPENING = frozenset((*TOP_WORDS, *BODY_WORDS))
_PIECES = frozenset((*CONTENTS, "trace")) - {"each", "use"}
_AREA = r"in[ \t]+[^\W\d]\w*(?:[ \t]+(?:across|down|freely))?"
BLANK = " \t\u00a0\u202f"
INDENT = 4
DEEPEST = 12
LONGEST = 1000
"""Characters in one sentence: more than a builder writes, little enough to bound all work on it."""


@dataclass
class Line:
    """One sentence. ``column`` is where ``text`` starts, counting characters from 1; the comment and
    the blanks around it are gone. ``children`` are the lines that stand deeper below it."""

    number: int
    column: int
    text: str
    children: list[Line] = field(default_factory=list)

    def span(self, file: str, start: int = 0, end: int | None = None) -> Span:
        """The span of ``text[start:end]``."""
        stop = len(self.text) if end is None else end
        return Span(file, self.number, self.column + start, self.number, self.column + stop)

    def first_word(self) -> str:
        """The leading word, or "" when the line starts with anything else."""
        return word_at(self.text, 0)


def word_at(text: str, start: int) -> str:
    """The letters, digits and underscores from ``start`` on."""
    end = start
    while end < len(text) and (text[end].isalnum() or text[end] == "_"):
        end += 1
    return text[start:end]


def read_lines(text: str, file: str) -> tuple[list[Line], list[Finding]]:
    """The top lines, each with its deeper lines below it, and what is wrong with the indentation."""
    raws = text.split("\n")
    both = (_line(number, raw) for number, raw in enumerate(raws, 1))
    read = [(line, depth) for line, depth in both if line is not None]
    reading = _Reading(file, _step([depth for _, depth in read]), read)
    tabbed: list[Span] = []
    for place, (line, depth) in enumerate(read):
        number, raw = line.number, raws[line.number - 1]
        lead = raw[: line.column - 1]
        if "\t" in lead:
            column = lead.index("\t") + 1
            tabbed.append(Span(file, number, column, number, line.column))
        if len(line.text) > LONGEST:
            message = f"this line has {len(line.text)} characters; a sentence may have {LONGEST}"
            remedy = "put its phrases on lines of their own"
            reading.findings.append(error("L103", message, line.span(file), remedy))
            line.text = ""
        reading.take(line, depth, place)
    if tabbed:
        more = f" (so do {len(tabbed) - 1} more lines)" if len(tabbed) > 1 else ""
        message = f"this line is indented with a tab{more}: how deep that is depends on the editor"
        remedy = "use four spaces for each level; most editors have 'indent with spaces'"
        reading.findings.append(error("L101", message, tabbed[0], remedy))
    return reading.top, reading.findings


@dataclass
class _Reading:
    """``lines`` are all of the text, each with its depth. ``open_lines`` are those that the next one may
    stand below, each with the depth of its level; ``levels`` the depth of the lines below a line."""

    file: str
    step: int
    lines: Sequence[tuple[Line, int]]
    top: list[Line] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    open_lines: list[tuple[int, Line]] = field(default_factory=list)
    levels: dict[int, int] = field(default_factory=dict)

    def take(self, line: Line, depth: int, place: int) -> None:
        """One line: it goes to the level it stands at, or to the nearest with a finding."""
        if self._too_far_out(line, depth, place):
            return
        while self.open_lines and self.open_lines[-1][0] >= depth:
            self.open_lines.pop()
        if len(self.open_lines) == DEEPEST:
            message = f"this line stands {DEEPEST} levels deep"
            remedy = "put a piece of the screen into a part"
            self.findings.append(error("L103", message, line.span(self.file), remedy))
            self.open_lines[-1][1].children.append(line)
            return
        if self.open_lines and self._beside(line, depth):
            self.open_lines.pop()
        if depth > 0 and self._of_a_screen(line) and self._at_the_edge():
            # The parser tells that the line above it stands at the left edge.
            self.top.append(line)
            self.open_lines = [(depth, line)]
            return
        if not self.open_lines and self.top and self._of_a_screen(line):
            begun = id(self.top[-1]) in self.levels
            if self.top[-1].first_word() in ("screen", "part") and (begun or depth > 0):
                self.open_lines.append((0, self.top[-1]))
        parent = self.open_lines[-1][1] if self.open_lines else None
        if parent is not None and self._rows_without_plan(line, depth, parent, place):
            return
        if id(parent) not in self.levels:
            self.levels[id(parent)] = self._level_below(depth, place) if parent else 0
        level = self.levels[id(parent)]
        if depth != level:
            self._tell(line, depth, level, parent)
        (parent.children if parent else self.top).append(line)
        self.open_lines.append((level, line))

    def _level_below(self, depth: int, place: int) -> int:
        """The level of the lines below the last open one, the first of which stands at a depth: a step
        further in, if any of them stands there."""
        above, owner = self.open_lines[-1]
        for at in range(place, len(self.lines)):
            later, there = self.lines[at]
            if there <= above or (self._of_a_screen(owner) and self._of_a_screen(later)):
                break
            if there == above + self.step:
                return there
        return depth

    def _too_far_out(self, line: Line, depth: int, place: int) -> bool:
        """Whether a line was meant as one more row of the plan, or piece of the area, that stands above it;
        it is told and put there."""
        for at, (level, owner) in reversed(list(enumerate(self.open_lines))):
            if depth > level or not _holds(owner.text, line.text):
                continue
            inner = self.levels.get(id(owner))
            if owner.text == "plan" and not self._is_row(line, owner, level, place):
                return False
            inner = level + self.step if inner is None else inner
            self._tell(line, depth, inner, owner)
            owner.children.append(line)
            self.levels[id(owner)] = inner
            self.open_lines[at + 1 :] = [(inner, line)]
            return True
        return False

    def _rows_without_plan(self, line: Line, depth: int, parent: Line, place: int) -> bool:
        """Whether a line is the first row of a plan whose first line is missing; then it gets one."""
        if parent.first_word() not in ("screen", "part") or depth != 2 * self.step or self._began(parent):
            return False
        if not _holds("plan", line.text) or not self._is_row(line, Line(0, 0, "plan"), self.step, place):
            return False
        message = "this looks like a row of a plan, but it does not stand below 'plan'"
        remedy = f"put a line `plan` above it, indented by {self.step} spaces"
        self.findings.append(error("L115", message, line.span(self.file), remedy))
        plan = Line(line.number, line.column, "plan", [line])
        parent.children.append(plan)
        self.levels |= {id(parent): self.step, id(plan): depth}
        self.open_lines += [(self.step, plan), (depth, line)]
        return True

    def _began(self, parent: Line) -> bool:
        return id(parent) in self.levels

    def _is_row(self, line: Line, plan: Line, level: int, place: int) -> bool:
        """Whether a line names as many areas as the row of the plan before it, or, if it would be the first,
        as the one after it."""
        after = [row for row, depth in self.lines[place + 1 : place + 2] if depth == level + self.step]
        return any(len(row.text.split()) == len(line.text.split()) for row in plan.children[-1:] or after)

    def _beside(self, line: Line, depth: int) -> bool:
        """Whether a line that stands a little deeper than the one above was meant to stand beside it."""
        above, parent = self.open_lines[-1]
        further = depth - above
        level = self.levels.get(id(parent))
        if parent.text == "plan" and depth == (above + self.step if level is None else level):
            # An area may be called `rows`.
            words = line.text.split()
            if (len(words) == 1 or words[0] not in ("in", "touch", "comes", "gives")) and _are_names(words):
                return False
        if self._of_a_screen(line) and self._of_a_screen(parent):
            return True
        if line.first_word() in _PIECES and parent.first_word() in _PIECES and not _traces(line, parent):
            return True
        if level is not None:
            return depth != level and further < abs(level - depth)
        if len(self.open_lines) > 1 and self.open_lines[-2][1].text == "plan":
            return True
        if _opens_phrase(line.text) and not _opens_phrase(parent.text):
            return False
        if not parent.column > 1 and len(self.open_lines) == 1:
            return 2 * further < self.step and line.first_word() not in BODY_WORDS
        word = line.first_word()
        alike = word == parent.first_word() == "trace"
        return further < self.step and (alike or 2 * further < self.step)

    def _of_a_screen(self, line: Line) -> bool:
        words = line.text.split()
        phrase = words[:2] in (["in", "steps"], ["rows", "of"])
        return line.first_word() in BODY_WORDS and "through" not in words and not phrase

    def _at_the_edge(self) -> bool:
        """Whether a line that a screen should hold is the last one at the left edge, with none open
        below it."""
        return bool(self.top) and len(self.open_lines) < 2 and self._of_a_screen(self.top[-1])

    def _tell(self, line: Line, depth: int, level: int, parent: Line | None) -> None:
        span = Span(self.file, line.number, 1, line.number, line.column) if depth else line.span(self.file)
        if parent is None:
            message = f"this line is indented by {depth} but nothing above it can hold it"
            self.findings.append(error("L102", message, span, "start it at the left edge"))
            return
        beside = f"the lines beside it, under line {parent.number}, by {level}"
        message = f"this line is indented by {depth}; {beside}"
        self.findings.append(error("L102", message, span, f"indent it by {level} spaces"))


def _step(depths: Sequence[int]) -> int:
    """How many columns a level is deep in a text of such lines: the step most lines take."""
    steps: dict[int, int] = {}
    for last, depth in pairwise((0, *depths)):
        if depth > last:
            steps[depth - last] = steps.get(depth - last, 0) + 1
    return max(steps, key=lambda step: (steps[step], -abs(step - INDENT), step), default=INDENT)


def _holds(owner: str, text: str) -> bool:
    """Whether a line can only stand below another: a row, of several names, below a plan; a piece below an
    area that has none on its own line; a phrase below a piece."""
    words = text.split()
    if owner == "plan":
        return _are_names(words) and len(words) > 1 and words[0] not in _OPENING
    if _opens_phrase(text):
        return _is_piece(owner.split())
    return words[:1] != [] and words[0] in CONTENTS and re.fullmatch(_AREA, owner) is not None


def _are_names(words: Sequence[str]) -> bool:
    """Whether words can be a row of a plan."""
    return all(word == "." or re.fullmatch(r"[^\W\d]\w*", word) for word in words)


def _traces(line: Line, parent: Line) -> bool:
    """Whether a line is a trace below its chart."""
    return line.first_word() == "trace" and parent.first_word() != "trace"


def _is_piece(words: Sequence[str]) -> bool:
    """Whether a line takes phrases: a widget or trace, also on the line of its area."""
    words = words[2:] if words[:1] == ["in"] else words
    return bool(words) and words[0] in _PIECES


def _opens_phrase(text: str) -> bool:
    """Whether a line goes on with the sentence above it."""
    words = text.split(maxsplit=2)
    first = words[0] if words else ""
    if first == "in":
        return words[1:2] == ["steps"]
    colour = len(words) > 1 and words[1] in ("while", "above", "below") and first not in CONTENTS
    return colour or (first in PHRASE_FORMS and first not in BODY_WORDS and first not in CONTENTS)


def _line(number: int, raw: str) -> tuple[Line | None, int]:
    """The line, or None for a blank one, and its depth in columns."""
    start = 1 if number == 1 and raw.startswith("\ufeff") else 0
    text = raw[start:]
    bare = text.lstrip(" \t")
    lead = text[: len(text) - len(bare)]
    bare = _without_comment(bare).rstrip(BLANK + "\r")
    if not bare:
        return None, 0
    depth = len(lead.expandtabs(INDENT)) if "\t" in lead else len(lead)
    return Line(number, start + len(lead) + 1, bare), depth


def _without_comment(text: str) -> str:
    if "#" not in text:
        return text
    quoted = False
    skip = False
    for place, char in enumerate(text):
        if skip:
            skip = False
        elif quoted and char == "\\":
            skip = True
        elif char == '"':
            quoted = not quoted
        elif char == "#" and not quoted:
            return text[:place]
    return text
