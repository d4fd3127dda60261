"""One blank too many or too few in one line is told once, at that line, and nothing follows from it."""

from __future__ import annotations

from pathlib import Path

import pytest

from hmic.diagnostics import Finding
from hmic.language.parser import parse
from hmic.language.syntax import Layout

FOLDER = Path(__file__).parents[2] / "layouts" / "dunlin"


def changed(file: str, number: int, by: int) -> tuple[list[Finding], Layout]:
    """What is found when line ``number`` is moved by so many columns."""
    lines = (FOLDER / file).read_text(encoding="utf-8").split("\n")
    line = lines[number - 1]
    lines[number - 1] = " " * (len(line) - len(line.lstrip()) + by) + line.lstrip()
    layout, findings = parse("\n".join(lines), file)
    return findings, layout


def sentences(file: str) -> list[int]:
    lines = (FOLDER / file).read_text(encoding="utf-8").split("\n")
    return [
        number for number, line in enumerate(lines, 1) if line.strip() and not line.lstrip().startswith("#")
    ]


@pytest.mark.parametrize("by", [1, -1])
@pytest.mark.parametrize("file", ["drive.layout", "chart.layout", "motor.layout"])
def test_one_blank(file: str, by: int) -> None:
    sound, _ = parse((FOLDER / file).read_text(encoding="utf-8"), file)
    for number in sentences(file):
        text = (FOLDER / file).read_text(encoding="utf-8").split("\n")[number - 1]
        if by < 0 and not text.startswith(" "):
            continue
        findings, layout = changed(file, number, by)
        told = [(item.code, item.span.line if item.span else 0) for item in findings]
        # The only phrase line of a widget may stand at any depth below it.
        assert told == [("L102", number)] or (not told and text.startswith("        ")), (
            number,
            text,
            findings,
        )
        if told:
            depth = len(text) - len(text.lstrip())
            wanted = f"indent it by {depth} spaces" if depth else "start it at the left edge"
            assert findings[0].remedy == wanted
        assert [area.name for area in layout.screens[0].areas] == [
            area.name for area in sound.screens[0].areas
        ]
        assert len(layout.screens[0].touches) == len(sound.screens[0].touches)


def test_a_plan_at_the_left_edge() -> None:
    lines = (FOLDER / "drive.layout").read_text(encoding="utf-8").split("\n")
    number = lines.index("    plan") + 1
    findings, _ = changed("drive.layout", number, -4)
    assert [(item.code, item.span.line if item.span else 0) for item in findings] == [("L115", number)]


def test_a_line_of_a_screen_at_the_left_edge() -> None:
    lines = (FOLDER / "drive.layout").read_text(encoding="utf-8").split("\n")
    number = next(at for at, line in enumerate(lines, 1) if line.startswith("    in speed"))
    findings, _ = changed("drive.layout", number, -4)
    assert [(item.code, item.remedy) for item in findings] == [("L102", "indent it by 4 spaces")]


def test_a_phrase_beside_its_widget() -> None:
    text = 'screen a "A"\n    plan\n        b\n    in b\n        label "x"\n        text 20 arcmin\n'
    _, findings = parse(text, "a.layout")
    (finding,) = findings
    assert (finding.code, finding.remedy) == ("L102", "indent it by 12 spaces")


ROWS = ("rows", "rows back", "back rows", "margin gap/gap rows", "touch", "a/columns")


@pytest.mark.parametrize("rows", ROWS)
def test_areas_may_have_the_names_of_sentences(rows: str) -> None:
    names = sorted(set(rows.replace("/", " ").split()))
    plan = "".join(f"        {row}\n" for row in rows.split("/"))
    pieces = "".join(f'    in {name}    label "L"\n' for name in names)
    layout, findings = parse(f'screen a "A"\n    plan\n{plan}{pieces}', "a.layout")
    assert findings == [] and [area.name for area in layout.screens[0].areas] == names
