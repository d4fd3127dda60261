"""The brightest place and the mean of a screen at night, worked out by hand for white and grey places."""

from __future__ import annotations

import pytest
from good_design import FILES, arranged_in

from hmic.arrange.compose import Arranged
from hmic.check import dazzle
from hmic.check.painted import Painted
from hmic.diagnostics import Finding
from hmic.model.design import ByClock, Design
from hmic.model.limits import Limits
from hmic.paint.operations import Box, Fill, Ink, Operation
from tests.tools.changed import replace

Good = tuple[Design, Arranged]
BLACK, WHITE = (0, 0, 0), (255, 255, 255)
GREY, GREY_LIGHT = (188, 188, 188), 0.5029
"""IEC 61966-2-1: ((188 / 255 + 0.055) / 1.055) ** 2.4."""


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Good:
    design, arranged, _ = arranged_in(tmp_path_factory.mktemp("heron"), FILES)
    return design, arranged


def found_of(good: Good, luminance: float, *operations: Operation, day: float = 600) -> list[Finding]:
    """What is found where each screen has these operations and the theme of the night this white."""
    design, arranged = good
    names = [theme.name for theme in design.themes]
    white = {"day": day, "night": luminance}
    themes = tuple(replace(theme, luminance=white[theme.name]) for theme in design.themes)
    times = ((420, names.index("day")), (1170, names.index("night")))
    made = replace(design, themes=themes, choose=ByClock(times))
    colours = (BLACK, BLACK, WHITE, GREY, WHITE)
    drawn = tuple(replace(theme, colours=colours) for theme in arranged.drawing.themes)
    screens = tuple(replace(screen, operations=operations) for screen in arranged.drawing.screens)
    facts = tuple(replace(screen, pieces=()) for screen in arranged.screens)
    drawing = replace(arranged.drawing, themes=drawn, screens=screens, depth=24)
    one = replace(arranged, drawing=drawing, screens=facts)
    painted = [Painted(one, number) for number in range(len(facts))]
    return dazzle.check(made, one, Limits(made), painted)


def codes_of(good: Good, luminance: float, *operations: Operation) -> list[str]:
    return sorted(found.code for found in found_of(good, luminance, *operations))


def part(good: Good, share: float, ink: int = 2) -> Fill:
    """That share of the screen, from the top."""
    drawing = good[1].drawing
    return Fill(Box(0, 0, drawing.width, round(drawing.height * share)), Ink(ink))


@pytest.mark.parametrize(
    ("luminance", "share", "codes"),
    [
        # The mean may be 8 cd/m2. Black is a five hundredth of white.
        (8.0, 1.0, []),
        (8.1, 1.0, ["C425"]),
        (15.9, 0.5, []),
        (16.1, 0.5, ["C425"]),
        (31.7, 0.25, []),
        (32.1, 0.25, ["C425"]),
        # A place may have 60.
        (60.0, 0.1, []),
        (60.1, 0.1, ["C424"]),
        (81.0, 0.1, ["C424", "C425"]),
        (61.0, 0.0, []),
    ],
)
def test_a_white_place_at_the_limits(good: Good, luminance: float, share: float, codes: list[str]) -> None:
    operations = [part(good, share)] if share else []
    assert codes_of(good, luminance, *operations) == codes


def test_what_is_told_is_what_is_measured(good: Good) -> None:
    (peak, mean) = sorted(found_of(good, 200.0, part(good, 0.5)), key=lambda found: found.code)
    assert (peak.measured, peak.limit) == (pytest.approx(200), 60)
    assert (mean.measured, mean.limit) == (pytest.approx(0.4 + 199.6 / 2, rel=0.01), 8)
    assert "30 %" in (peak.remedy or "") and "200" in peak.message


def test_grey_has_its_part_and_what_is_hidden_none(good: Good) -> None:
    (mean,) = found_of(good, 40.0, part(good, 1.0, 3))
    assert mean.code == "C425" and mean.measured == pytest.approx(40 * GREY_LIGHT, rel=0.01)
    # White beneath grey can be the brightest place for all that is known; the mean is what is painted.
    hidden = found_of(good, 40.0, part(good, 1.0), part(good, 1.0, 3))
    assert [found.measured for found in hidden if found.code == "C425"] == [pytest.approx(mean.measured)]


def test_by_day_nothing_dazzles(good: Good) -> None:
    assert found_of(good, 5.0, part(good, 1.0), day=2000) == []


@pytest.mark.parametrize("first", [2, 3])
def test_the_brighter_of_the_first_and_the_last_step_counts(good: Good, first: int) -> None:
    """White while a flag is off and grey while it is on, and the other way round."""
    flag = next(at for at, steps in enumerate(good[1].drawing.channels) if steps == 2)
    place = Fill(part(good, 1.0).box, Ink(first, flag))
    (mean,) = found_of(good, 12.0, place)
    assert mean.code == "C425" and mean.measured == pytest.approx(12, rel=0.01)


def test_a_grey_place_has_its_own_light(good: Good) -> None:
    """Half of a white of 100 or 119 is within 60, of 121 it is not."""
    for luminance, codes in ((100.0, []), (119.0, []), (121.0, ["C424"])):
        assert codes_of(good, luminance, part(good, 0.05, 3)) == codes
