"""One thing broken in a sound design has one report, at its place; where its remedy can be pasted, that
mends it. What is told of more is an exception that says why."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import pytest

from hmic.compile.compiling import examine
from hmic.diagnostics import Finding, Severity, Span

LAYOUTS = Path(__file__).parents[2] / "layouts"


class Break(NamedTuple):
    """``old``, which stands once in a file of a design, made ``new``: the code that it is told by, in which
    line of that file (from the changed one on, or ``None`` for a place that is said in ``at``)."""

    file: str
    old: str
    new: str
    code: str
    below: int = 0
    pasted: bool = True
    at: str = ""
    design: str = "roost"


def told(design: str, texts: dict[str, str]) -> list[Finding]:
    _, _, found = examine(LAYOUTS / design, None, texts)
    return [item for item in found if item.severity is not Severity.NOTE]


def text_of(design: str, file: str) -> str:
    return (LAYOUTS / design / file).read_text(encoding="utf-8")


# -- a remedy, done to the letter


def mended(text: str, finding: Finding) -> str | None:
    """The text with the remedy put in; None for one that is advice."""
    span, remedy = finding.span, finding.remedy or ""
    assert span is not None
    lines = text.split("\n")
    line = lines[span.line - 1]
    if found := re.fullmatch(r"indent it by (\d+) spaces|start it at the left edge", remedy):
        lines[span.line - 1] = " " * int(found.group(1) or 0) + line.lstrip()
        return "\n".join(lines)
    if found := re.match(r"write: (.*)", remedy):
        lines[span.line - 1] = line[: len(line) - len(line.lstrip())] + found.group(1)
        return "\n".join(lines)
    if found := re.match(r"did you mean '(.*?)'\?", remedy):
        meant = re.search(r"'(.*?)'", finding.message)
        assert meant is not None
        return _put(lines, span, line[span.column - 1 : span.end_column - 1].replace(meant[1], found[1], 1))
    if found := re.fullmatch(r"add '(.*)'", remedy):
        return _put(lines, span, f" {found[1]}")
    if found := re.fullmatch(r"(?:write|write, say,) [`']?(.*?)[`']?(?: for '.*')?", remedy):
        return _put(lines, span, found[1])
    return None


def _put(lines: list[str], span: Span, new: str) -> str:
    line = lines[span.line - 1]
    lines[span.line - 1] = line[: span.column - 1] + new + line[span.end_column - 1 :]
    return "\n".join(lines)


# -- one thing broken


THEMES, SIGNALS, SETTINGS = "themes.yaml", "signals.yaml", "design.yaml"
BATTERY, SUN, TROUBLE, WATER = "battery.layout", "sun.layout", "trouble.layout", "water.layout"
TIMES = "{day: 7:00, night: 20:30}"

BREAKS = [
    # Which theme is shown when
    Break(THEMES, TIMES, "{day: 700, night: 20:30}", "M230", pasted=False),
    Break(THEMES, "by: clock", "by: clok", "M270"),
    Break(THEMES, "  by: clock\n", "", "M229", -1, pasted=False),
    Break(THEMES, "times:", "levels:", "M271", -1, pasted=False),
    Break(THEMES, "times:", "time:", "M228"),
    Break(THEMES, "choose:", "chose:", "M228"),
    Break(THEMES, TIMES, "{day: 7:00, nigth: 20:30}", "M271"),
    Break(THEMES, TIMES, "{night: 7:00, day: 20:30}", "C427", pasted=False, at="themes.yaml:10"),
    Break(THEMES, TIMES, "{day: 7:00, night: 7:00}", "M271", pasted=False),
]


@pytest.mark.parametrize("broken", BREAKS, ids=lambda case: f"{case.code}-{case.new.strip()[:30]}")
def test_one_break_has_one_report(broken: Break) -> None:
    text = text_of(broken.design, broken.file)
    assert text.count(broken.old) == 1
    changed = text.replace(broken.old, broken.new)
    found = told(broken.design, {broken.file: changed})
    assert [item.code for item in found] == [broken.code], [(item.message, item.remedy) for item in found]
    (item,) = found
    assert item.span is not None and item.remedy
    line = text[: text.index(broken.old)].count("\n") + 1 + broken.below
    assert f"{item.span.file}:{item.span.line}" == (broken.at or f"{broken.file}:{line}")
    if broken.pasted:
        result = mended(changed, item)
        assert result is not None, item.remedy
        assert told(broken.design, {broken.file: result}) == [], result
