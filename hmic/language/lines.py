"""From text to a tree of lines by indentation. Any text gives a tree."""

from __future__ import annotations

from dataclasses import dataclass, field

from hmic.diagnostics import Finding, Span, error
from hmic.language.vocabulary import BODY_WORDS, CONTENTS, PHRASE_FORMS

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
    reading = _Reading(file, _step(text))
    tabbed: list[Span] = []
    for number, raw in enumerate(text.split("\n"), 1):
        line, depth = _line(number, raw)
        if line is None:
            continue
        lead = raw[: line.column - 1]
        if "\t" in lead:
            column = lead.index("\t") + 1
            tabbed.append(Span(file, number, column, number, line.column))
        if len(line.text) > LONGEST:
            message = f"this line has {len(line.text)} characters; a sentence may have {LONGEST}"
            remedy = "put its phrases on lines of their own"
            reading.findings.append(error("L103", message, line.span(file), remedy))
            line.text = ""
        reading.take(line, depth)
    if tabbed:
        more = f" (so do {len(tabbed) - 1} more lines)" if len(tabbed) > 1 else ""
        message = f"this line is indented with a tab{more}: how deep that is depends on the editor"
        remedy = "use four spaces for each level; most editors have 'indent with spaces'"
        reading.findings.append(error("L101", message, tabbed[0], remedy))
    return reading.top, reading.findings


@dataclass
class _Reading:
    """``open_lines`` are the lines that the next one may stand below, each with the depth of its level;
    ``levels`` the depth of the lines below a line, ``below`` those lines with their own depth."""

    file: str
    step: int
    top: list[Line] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    open_lines: list[tuple[int, Line]] = field(default_factory=list)
    levels: dict[int, int] = field(default_factory=dict)
    below: dict[int, list[tuple[int, Line]]] = field(default_factory=dict)

    def take(self, line: Line, depth: int) -> None:
        """One line: it goes to the level it stands at, or to the nearest with a finding."""
        while self.open_lines and self.open_lines[-1][0] >= depth:
            self.open_lines.pop()
        if len(self.open_lines) == DEEPEST:
            message = f"this line stands {DEEPEST} levels deep"
            remedy = "put a piece of the screen into a part"
            self.findings.append(error("L103", message, line.span(self.file), remedy))
            self.open_lines.pop()
            self.open_lines[-1][1].children.append(line)
            self.open_lines.append((depth, line))
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
        level = self.levels.setdefault(id(parent), depth if parent else 0)
        if depth != level:
            level = self._crooked(line, depth, level, parent)
        (parent.children if parent else self.top).append(line)
        self.below.setdefault(id(parent), []).append((depth, line))
        self.open_lines.append((level, line))

    def _beside(self, line: Line, depth: int) -> bool:
        """Whether a line that stands a little deeper than the one above was meant to stand beside it."""
        above, parent = self.open_lines[-1]
        further = depth - above
        level = self.levels.get(id(parent))
        if level is not None:
            return depth != level and further < abs(level - depth)
        if len(self.open_lines) > 1 and self.open_lines[-2][1].text == "plan":
            return True
        if _opens_phrase(line.text) and not _opens_phrase(parent.text):
            return False
        if not parent.column > 1 and len(self.open_lines) == 1:
            return 2 * further < self.step and line.first_word() not in BODY_WORDS
        word = line.first_word()
        alike = word == parent.first_word() == "trace" or (
            word in BODY_WORDS and parent.first_word() in BODY_WORDS and parent.text != "plan"
        )
        return further < self.step and (alike or 2 * further < self.step)

    def _of_a_screen(self, line: Line) -> bool:
        return line.first_word() in BODY_WORDS and "through" not in line.text.split()

    def _at_the_edge(self) -> bool:
        """Whether a line that a screen should hold is the last one at the left edge, with none open
        below it."""
        return bool(self.top) and len(self.open_lines) < 2 and self._of_a_screen(self.top[-1])

    def _crooked(self, line: Line, depth: int, level: int, parent: Line | None) -> int:
        """Tells which line stands crooked, and gives the level of this one."""
        above = self.open_lines[-1][0] if self.open_lines else 0
        if parent is not None and depth - above == self.step != level - above:
            # The lines before it stand wrong, not this one.
            for own, before in self.below.get(id(parent), []):
                if own == level:
                    self._tell(before, own, depth, parent)
            self.levels[id(parent)] = depth
            return depth
        self._tell(line, depth, level, parent)
        return level

    def _tell(self, line: Line, depth: int, level: int, parent: Line | None) -> None:
        span = Span(self.file, line.number, 1, line.number, line.column) if depth else line.span(self.file)
        if parent is None:
            message = f"this line is indented by {depth} but nothing above it can hold it"
            self.findings.append(error("L102", message, span, "start it at the left edge"))
            return
        beside = f"the lines beside it, under line {parent.number}, by {level}"
        message = f"this line is indented by {depth}; {beside}"
        self.findings.append(error("L102", message, span, f"indent it by {level} spaces"))


def _step(text: str) -> int:
    """How many columns a level is deep in this text: the step most lines take."""
    steps: dict[int, int] = {}
    last = 0
    for number, raw in enumerate(text.split("\n"), 1):
        line, depth = _line(number, raw)
        if line is not None:
            if depth > last:
                steps[depth - last] = steps.get(depth - last, 0) + 1
            last = depth
    return max(steps, key=lambda step: (steps[step], -abs(step - INDENT), step), default=INDENT)


def _opens_phrase(text: str) -> bool:
    """Whether a line goes on with the sentence above it."""
    words = text.split(maxsplit=2)
    first = words[0] if words else ""
    if first == "in":
        return words[1:2] == ["steps"]
    colour = len(words) > 1 and words[1] in ("while", "above", "below")
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
