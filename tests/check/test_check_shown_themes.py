"""Which themes are shown when, against the runtime's own choosing over every minute and the whole range."""

from __future__ import annotations

from dataclasses import replace

import pytest

from hmic.check.shown_themes import at_night, by_light, reached
from hmic.cli.compiling import Compiled, compile_design
from hmic.cli.main import main
from hmic.model.design import ByClock, BySignal, Design
from hmic.model.expressions import Doubt
from hmic.runtime.theming import Theming


@pytest.fixture(scope="module")
def design(tmp_path_factory: pytest.TempPathFactory) -> Design:
    folder = tmp_path_factory.mktemp("van") / "car"
    assert main(["new", str(folder)]) == 0
    found = compile_design(folder)
    assert isinstance(found, Compiled) and found.findings == ()
    return found.design


def seen(design: Design, values: list[float | Doubt]) -> set[int]:
    """The themes that a run comes to show, each value long enough to count."""
    theming, shown, now = Theming(design.choose), {0}, 0.0
    for value in values:
        for _ in range(3):
            theming.follow(lambda name, value=value: value, now)  # type: ignore[misc]
            shown.add(theming.theme)
            now += 1000.0
    return shown


def test_the_clock_reaches_what_a_day_shows(design: Design) -> None:
    for times in (((420, 0), (1170, 1)), ((420, 1), (1170, 0)), ((420, 0),), ((420, 1),)):
        made = replace(design, choose=ByClock(times))
        day = [float(minute) for minute in range(0, 1440, 5)]
        assert reached(made) == seen(made, [*day, Doubt.STALE])
        theming = Theming(made.choose)
        dark = set()
        for minute in (*range(22 * 60, 24 * 60), *range(5 * 60)):
            theming.follow(lambda name, minute=minute: float(minute), 0.0)  # type: ignore[misc]
            dark.add(theming.theme)
        assert at_night(made) == dark


@pytest.mark.parametrize(
    "levels", [((0.0, 1), (200.0, 0)), ((0.0, 0), (90000.0, 1)), ((50.0, 0), (100.0, 1))]
)
def test_a_sensor_reaches_what_its_range_shows(design: Design, levels: tuple[tuple[float, int], ...]) -> None:
    """Of a range that ends at 160 km/h; 0 and 1 are all the themes."""
    made = replace(design, choose=BySignal("vehicle.speed", levels, 0.2, 0, 1000))
    high = design.signals["vehicle.speed"].high
    speeds = [high * part / 100 for part in range(101)]
    assert reached(made) == seen(made, [*speeds, Doubt.STALE, Doubt.STALE])
    assert not by_light(made) and at_night(made) == reached(made)


def test_the_night_of_a_day(design: Design) -> None:
    """By DESIGN.md alone: each theme from its time on, the last one on past midnight."""
    assert at_night(replace(design, choose=ByClock(((420, 0), (1170, 1))))) == {1}
    assert at_night(replace(design, choose=ByClock(((420, 1), (1170, 0))))) == {0}
    assert at_night(replace(design, choose=ByClock(((420, 0), (1380, 1))))) == {0, 1}
    assert at_night(replace(design, choose=ByClock(((420, 1),)))) == {1}


def test_without_a_choice_the_first_theme_is_shown_for_ever(design: Design) -> None:
    made = replace(design, choose=None)
    assert reached(made) == at_night(made) == seen(made, [0.0, Doubt.STALE]) == {0}
