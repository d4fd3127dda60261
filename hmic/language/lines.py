"""From text to a tree of lines by indentation. Any text gives a tree."""

from __future__ import annotations

from dataclasses import dataclass, field

from hmic.diagnostics import Finding, Span, error

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
    top: list[Line] = []
    findings: list[Finding] = []
    tabbed: list[Span] = []
    open_lines: list[tuple[int, Line]] = []
    depth_of_children: dict[int, int] = {}
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
            findings.append(error("L103", message, line.span(file), "put its phrases on lines of their own"))
            line.text = ""
        while open_lines and open_lines[-1][0] >= depth:
            open_lines.pop()
        too_deep = len(open_lines) == DEEPEST
        if too_deep:
            message = f"this line stands {DEEPEST} levels deep"
            findings.append(error("L103", message, line.span(file), "put a piece of the screen into a part"))
            open_lines.pop()
        parent = open_lines[-1][1] if open_lines else None
        siblings = parent.children if parent else top
        expected = depth_of_children.setdefault(id(parent), depth if parent else 0)
        if depth != expected and not too_deep:
            findings.append(_crooked(line, depth, expected, parent, file))
        siblings.append(line)
        open_lines.append((depth, line))
    if tabbed:
        more = f" (so do {len(tabbed) - 1} more lines)" if len(tabbed) > 1 else ""
        message = f"this line is indented with a tab{more}: how deep that is depends on the editor"
        remedy = "use four spaces for each level; most editors have 'indent with spaces'"
        findings.append(error("L101", message, tabbed[0], remedy))
    return top, findings


def _crooked(line: Line, depth: int, expected: int, parent: Line | None, file: str) -> Finding:
    span = Span(file, line.number, 1, line.number, line.column) if depth else line.span(file)
    if parent is None:
        message = f"this line is indented by {depth} but nothing above it can hold it"
        return error("L102", message, span, "start it at the left edge")
    message = (
        f"this line is indented by {depth}; the lines beside it, under line {parent.number}, by {expected}"
    )
    return error("L102", message, span, f"indent it by {expected} spaces")


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
