"""In which light each theme is held, by when it is shown: one row for each sentence of ``lights``."""

from __future__ import annotations

import pytest
from good_design import FILES

from hmic.check.light import light, lights
from hmic.model.design import ByClock, BySignal, Design
from hmic.model.limits import DEFAULTS, Limits
from hmic.model.load import load
from tests.tools.changed import replace

DAY, EVENING, NIGHT = range(3)
LUMINANCE = (600.0, 200.0, 36.0)
DARK, BETWEEN, BRIGHT = ["night", "dusk"], ["dusk", "day"], ["day", "sun"]
ALL = ["night", "dusk", "day", "sun"]
BY_SPEED = BySignal("vehicle.speed", ((0.0, DAY), (50.0, NIGHT)), 0.2, 0, 1000)


def clock(*times: tuple[int, int]) -> ByClock:
    return ByClock(tuple((hour * 60, theme) for hour, theme in times))


@pytest.fixture(scope="module")
def design(tmp_path_factory: pytest.TempPathFactory) -> Design:
    folder = tmp_path_factory.mktemp("heron")
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    design, _ = load(folder)
    assert design is not None
    names = ("day", "evening", "night")
    themes = tuple(
        replace(design.themes[0], name=name, luminance=white)
        for name, white in zip(names, LUMINANCE, strict=True)
    )
    return replace(design, themes=themes)


@pytest.mark.parametrize(
    ("choose", "day", "evening", "night"),
    [
        # What is shown at night, the brightest, and another.
        (clock((7, DAY), (17, EVENING), (20, NIGHT)), BRIGHT, BETWEEN, DARK),
        # The evening's is shown until after ten.
        (clock((7, DAY), (17, EVENING), (23, NIGHT)), BRIGHT, DARK, DARK),
        # One that only --theme shows: by its brightness, neither the darkest nor the brightest here.
        (clock((7, DAY), (20, NIGHT)), BRIGHT, BETWEEN, DARK),
        (clock((7, DAY), (20, EVENING)), BRIGHT, DARK, DARK),
        # All that a run shows.
        (None, ALL, BETWEEN, DARK),
        (clock((7, DAY)), ALL, BETWEEN, DARK),
        # Turned round: what is bright at night and dark by day is held by its brightness.
        (clock((7, NIGHT), (20, DAY)), BRIGHT, BETWEEN, DARK),
        # By what is no light, any of them may come at night: the brightest is then for all there is.
        (BY_SPEED, ALL, BETWEEN, DARK),
    ],
)
def test_a_theme_is_held_in_the_light_that_it_is_for(
    design: Design, choose: ByClock | BySignal | None, day: list[str], evening: list[str], night: list[str]
) -> None:
    made = replace(design, choose=choose)
    held = lights(made, Limits(made))
    found = {name: [each.condition.value for each in said] for name, said in held.items()}
    assert found == {"day": day, "evening": evening, "night": night}
    for name, said in held.items():
        theme = next(each for each in made.themes if each.name == name)
        assert said == tuple(light(theme, each.condition, Limits(made)) for each in said)


def test_the_first_alone_is_all_that_is_known_though_it_is_dark(design: Design) -> None:
    day, evening, night = design.themes
    made = replace(design, choose=None, themes=(night, evening, day))
    held = lights(made, Limits(made))
    found = {name: [each.condition.value for each in said] for name, said in held.items()}
    assert found == {"night": ALL, "evening": BETWEEN, "day": BRIGHT}


def test_light_adds_the_veil_of_its_condition(design: Design) -> None:
    """Twice the light, twice the veil; a tenth of the theme's light, a tenth of black and white."""
    limits = Limits(design)
    shown = [light(design.themes[DAY], condition, limits) for condition in ALL]
    lux = [DEFAULTS[f"light {when}"].value for when in ("at night", "at dusk", "by day", "in sun")]
    for one, other in zip(shown, lux, strict=True):
        assert one.veil * lux[0] == pytest.approx(shown[0].veil * other)
        assert (one.white, one.white / one.black) == (600.0, pytest.approx(500.0))
        # The lighter to the darker, whichever is named first.
        assert one.ratio((255, 255, 255), (0, 0, 0)) == one.ratio((0, 0, 0), (255, 255, 255)) > 1
        assert one.ratio((9, 9, 9), (9, 9, 9)) == 1
