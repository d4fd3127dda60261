"""What hangs on a guess says so, and holds as far as it says; what nobody looked at is listed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from good_design import FILES, THEMES, arranged_in, spoiled
from hypothesis import given
from hypothesis import strategies as st

from hmic.check.colour import shown
from hmic.check.rules import check, judge
from hmic.cli.main import main
from hmic.diagnostics import Basis
from hmic.display.blank import blank
from hmic.model.limits import DEFAULTS
from hmic.paint.operations import Drawing, Moment
from hmic.paint.painter import Painter
from tests.tools.changed import replace

SPEED = 'reading vehicle.speed as "0 km/h", text 90 arcmin'
LABEL = 'label "Heron", text 40 arcmin, colour faint'


def faint(day: str) -> tuple[str, str, str]:
    """A role of its own for a label, which stands out less than the rest by day."""
    role = '\n      faint: "{}"\n    ramps:'
    first, second = THEMES.split("  night:")
    changed = first.replace("\n    ramps:", role.format(day), 1)
    return (
        "themes.yaml",
        THEMES,
        changed + "  night:" + second.replace("\n    ramps:", role.format("#8c7b70"), 1),
    )


def with_reflectance(files: dict[str, str], percent: float) -> dict[str, str]:
    design = files["design.yaml"].replace("  baud:", f"  reflectance: {percent:.5f} %\n  baud:")
    return {**files, "design.yaml": design}


def codes(folder: Path, files: dict[str, str]) -> set[str]:
    design, arranged, _ = arranged_in(folder, files)
    return {item.code for item in check(design, arranged)}


@pytest.mark.parametrize("day", ["#f8f3e6", "#8d8d8d"])
def test_a_verdict_turns_at_the_reflectance_that_is_told(day: str, tmp_path: Path) -> None:
    files = spoiled(("road.layout", SPEED, LABEL), faint(day))
    design, arranged, _ = arranged_in(tmp_path, files)
    found, unjudged = judge(design, arranged)
    assert found == []
    said = [each for each in unjudged if "send back" in each.question]
    turn = float(re.search(r"above ([\d.]+) %", said[0].question)[1])  # type: ignore[index]
    assert 1 < turn < 2
    # Told to three figures, no more than it is.
    assert codes(tmp_path, with_reflectance(files, turn)) == set()
    assert codes(tmp_path, with_reflectance(files, turn * 1.011)) & {"C420", "C421", "C422"}


def test_a_finding_that_hangs_on_a_guess_says_how_far_it_holds(tmp_path: Path) -> None:
    files = spoiled(("road.layout", SPEED, LABEL), faint("#7d7d78"))
    design, arranged, _ = arranged_in(tmp_path, files)
    (one,) = [item for item in check(design, arranged) if item.code == "C420"]
    turn = float(re.search(r"holds above ([\d.]+) %", one.assumed or "")[1])  # type: ignore[index]
    assert 0 < turn < 1
    assert "C420" not in codes(tmp_path, with_reflectance(files, turn * 0.989))
    assert "C420" in codes(tmp_path, with_reflectance(files, turn * 1.001))
    told = with_reflectance(files, 1)
    design, arranged, _ = arranged_in(tmp_path, told)
    assert {item.assumed for item in check(design, arranged)} == {None}
    assert not any("send back" in each.question for each in judge(design, arranged)[1])


def drawn(depth: int) -> Drawing:
    """A panel on which nothing stands."""
    return blank(8, 8, depth)


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_a_panel_of_16_bits_is_judged_in_what_it_paints(colour: tuple[int, int, int]) -> None:
    """As the painter paints the ground; of 24 bits nothing is lost."""
    painted = drawn(16)
    themes = tuple(replace(each, colours=(colour, *each.colours[1:])) for each in painted.themes)
    picture = Painter(replace(painted, themes=themes)).paint(Moment(0, 0, ()))
    assert picture.getpixel((0, 0)) == shown(colour, 16)
    assert shown(colour, 24) == colour


def test_two_colours_that_a_panel_of_16_bits_paints_alike_are_told(tmp_path: Path) -> None:
    """One step apart in 24 bits, and far enough only by the steps that a panel of 16 has not."""
    near = ("themes.yaml", 'accent: "#8fd3f4"', 'accent: "#4c5b61"')
    deep = spoiled(near)
    flat = spoiled(near, ("design.yaml", "colour depth: 24", "colour depth: 16"))
    measured = []
    for files in (deep, flat):
        design, arranged, _ = arranged_in(tmp_path, files)
        measured += [item.measured for item in check(design, arranged) if item.code == "C430"]
    assert len(measured) == 2 and measured[0] != measured[1]


def test_it_is_never_just_nothing_found(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "heron"
    folder.mkdir()
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    for _ in "fresh", "remembered":
        assert main(["check", str(folder)]) == 0
        said = capsys.readouterr().out
        before, _, after = said.partition("not looked at, look yourself:\n")
        assert before.endswith("heron: 1 note\n\n")
        lines = after.splitlines()
        assert len(lines) >= 4 and all(re.fullmatch(r"  \S.*: \w+(, \w+)*", line) for line in lines)
        assert any(line.endswith(": battery, road") for line in lines)


def test_a_fault_that_no_screen_tells_is_asked_about(tmp_path: Path) -> None:
    quiet = ("signals.yaml", "  pack.fault:", "  brake.failed: {flag: true, from: pipe}\n  pack.fault:")
    design, arranged, _ = arranged_in(tmp_path, spoiled(quiet))
    asked = [each.where for each in judge(design, arranged)[1] if "no screen tells" in each.question]
    assert asked == [("brake.failed",)]


@pytest.mark.parametrize("name", DEFAULTS)
def test_what_is_not_published_does_not_say_so(name: str) -> None:
    limit = DEFAULTS[name]
    named = re.search(r"\b(ISO|NHTSA|FHWA|FAA|MIL-|JAMA|UN R|UN Reg|Displays)", limit.source)
    published = limit.basis in (Basis.READ, Basis.QUOTED)
    assert bool(named) or not published or "guideline" in limit.source
    assert limit.basis is not Basis.DESIGN
