"""Which themes are shown when, against the runtime's own choosing over every minute and the whole range."""

from __future__ import annotations

import math
import random
from itertools import combinations, pairwise
from pathlib import Path

import pytest
from good_design import FILES, found_in, spoiled

from hmic.check.shown_themes import at_night, by_light, reached, turned
from hmic.cli.main import main
from hmic.compile.compiling import Compiled, compile_design
from hmic.model.design import ByClock, BySignal, Design, first_theme
from hmic.model.expressions import Doubt
from hmic.model.units import unit
from hmic.runtime.theming import Theming
from tests.tools.changed import replace


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


def by_levels(chance: random.Random) -> tuple[BySignal, float, float]:
    """Any levels, some of them outside the range of the signal, and that range."""
    grid = [float(value) for value in range(-4, 13)]
    numbers = chance.sample(range(5), chance.randint(1, 5))
    levels = sorted(chance.sample(grid, len(numbers)))
    low, high = sorted(chance.sample(grid, 2))
    hysteresis = chance.choice((0.0, 0.2, 0.5, 0.9))
    return BySignal("sky.light", tuple(zip(levels, numbers, strict=True)), hysteresis, 0, 0), low, high


def values_of(choice: BySignal, low: float, high: float) -> list[float]:
    """Both ends of a range, and within it each level, just below it, and between two."""
    levels = [level for level, _ in choice.levels]
    steps = [low, high, *levels, *(math.nextafter(level, -math.inf) for level in levels)]
    steps += [(one + other) / 2 for one, other in pairwise(sorted({low, high, *levels}))]
    return sorted({value for value in steps if low <= value <= high})


@pytest.mark.parametrize("seed", range(400))
def test_what_a_sensor_reaches_is_what_the_runtime_shows(design: Design, seed: int) -> None:
    """Of random levels and ranges: all that any value, from any other, brings; and the dark is the least
    light, from wherever it comes."""
    choice, low, high = by_levels(random.Random(seed))
    light = replace(design.signals["vehicle.speed"], name="sky.light", unit=unit("lx"), low=low, high=high)
    themes = design.themes * 3
    made = replace(design, choose=choice, signals={**design.signals, "sky.light": light}, themes=themes[:5])
    shown, dark = {0}, set()
    for first in values_of(choice, low, high):
        for value in (*values_of(choice, low, high), low):
            theming = Theming(choice)
            for now, given in enumerate((first, first, value, value, value)):
                theming.follow(lambda name, given=given: given, 1000.0 * now)  # type: ignore[misc]
                shown.add(theming.theme)
            if value == low:
                dark.add(theming.theme)
    assert reached(made) == shown
    assert by_light(made) and at_night(made) == dark


@pytest.mark.parametrize("seed", range(200))
def test_by_the_clock_no_change_makes_the_darker_hour_the_brighter(design: Design, seed: int) -> None:
    """Against every two minutes of a day: of two before noon, or two after, the one further from it is the
    darker, and every minute of the night is darker than noon."""
    chance = random.Random(seed)
    numbers = chance.sample(range(4), chance.randint(1, 4))
    at = sorted(chance.sample(range(0, 1440, 15), len(numbers)))
    choice = ByClock(tuple(zip(at, numbers, strict=True)))
    white = chance.sample((20.0, 20.0, 90.0, 300.0, 700.0), 4)
    themes = tuple(replace(design.themes[0], name=f"t{n}", luminance=each) for n, each in enumerate(white))
    made = replace(design, choose=choice, themes=themes)
    shown = [white[shown_at(choice, minute)] for minute in range(1440)]
    rising, falling = range(5 * 60 - 1, 720), range(720, 22 * 60 + 1)
    wrong = any(
        shown[one] > shown[other] for one, other in combinations(rising, 2) if shown[one] != shown[other]
    )
    wrong = wrong or any(shown[other] > shown[one] for one, other in combinations(falling, 2))
    wrong = wrong or any(shown[minute] > shown[720] for minute in (*range(22 * 60, 1440), *range(5 * 60)))
    assert bool(turned(made)) == wrong
    # Until a run speaks: as dark as it ever gets in a day.
    assert white[first_theme(made)] == min(shown)


def shown_at(choice: ByClock, minute: int) -> int:
    theming = Theming(choice)
    theming.follow(lambda name: float(minute), 0.0)
    return theming.theme


LIGHT = (
    (
        "signals.yaml",
        "outputs:",
        "  sky.light: {unit: lx, range: [0, 60000], from: pipe, stale: 2 s}\noutputs:",
    ),
    (
        "themes.yaml",
        "{by: clock, times: {day: 7:00, night: 19:30}}",
        "{by: sky.light, levels: {night: 0 lx, day: 200 lx}}",
    ),
)
DAY, NIGHT = (
    "  day:" + FILES["themes.yaml"].split("  day:")[1].split("  night:")[0],
    "  night:" + FILES["themes.yaml"].split("  night:")[1],
)


def test_the_first_theme_is_shown_while_the_sensor_is_silent(tmp_path: Path) -> None:
    """Of a design in which nothing else is found: told where the first is bright, and only there."""
    files = spoiled(*LIGHT)
    (found,) = found_in(tmp_path, files)
    assert found.code == "C429" and found.remedy == "put theme 'night' first in themes.yaml"
    themes = files["themes.yaml"].replace(DAY + NIGHT, NIGHT + DAY)
    assert themes != files["themes.yaml"]
    assert found_in(tmp_path, {**files, "themes.yaml": themes}) == []
    dead = Theming(BySignal("sky.light", ((0.0, 1), (200.0, 0)), 0.2, 2000, 1000))
    for now in range(0, 100_000, 1000):
        dead.follow(lambda name: Doubt.UNSEEN, float(now))
        assert dead.theme == 0


def test_the_night_of_a_day(design: Design) -> None:
    """By DESIGN.md alone: each theme from its time on, the last one on past midnight."""
    assert at_night(replace(design, choose=ByClock(((420, 0), (1170, 1))))) == {1}
    assert at_night(replace(design, choose=ByClock(((420, 1), (1170, 0))))) == {0}
    assert at_night(replace(design, choose=ByClock(((420, 0), (1380, 1))))) == {0, 1}
    assert at_night(replace(design, choose=ByClock(((420, 1),)))) == {1}


def test_a_sensor_has_the_first_theme_shown_first(design: Design) -> None:
    assert design.themes[1].luminance < design.themes[0].luminance
    for choice in (None, BySignal("sky.light", ((0.0, 1), (200.0, 0)), 0.2, 2000, 1000)):
        assert first_theme(replace(design, choose=choice)) == 0


def test_without_a_choice_the_first_theme_is_shown_for_ever(design: Design) -> None:
    made = replace(design, choose=None)
    assert reached(made) == at_night(made) == seen(made, [0.0, Doubt.STALE]) == {0}
