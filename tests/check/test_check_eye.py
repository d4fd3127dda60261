"""Pictures of what the eye gets, each code by IEC 61966-2-1 from luminances worked out by hand."""

from __future__ import annotations

import math

import pytest
from good_design import FILES, arranged_in
from PIL import Image

from hmic.check.eye import as_seen, seen_at
from hmic.check.light import Condition, light
from hmic.check.vision import evenness
from hmic.model.design import Design
from hmic.model.limits import Limits

RIM = 24
"""Pixels of surroundings on each side."""


@pytest.fixture(scope="module")
def design(tmp_path_factory: pytest.TempPathFactory) -> Design:
    return arranged_in(tmp_path_factory.mktemp("heron"), FILES)[0]


def code(share: float) -> int:
    """The code of a part of the brightest, 0 to 1."""
    share = min(1.0, share)
    return round(255 * (12.92 * share if share <= 0.0031308 else 1.055 * share ** (1 / 2.4) - 0.055))


@pytest.mark.parametrize("condition", list(Condition))
@pytest.mark.parametrize("theme", [0, 1])
def test_white_is_the_brighter_of_the_screen_and_its_surroundings(
    design: Design, condition: Condition, theme: int
) -> None:
    lux = {"night": 10, "dusk": 250, "day": 5000, "sun": 45000}[condition.value]
    screen = design.themes[theme].luminance
    # The glass sends back 1 %, the surroundings 20 % of the light; black is a five hundredth of white.
    veil, surround = 0.01 * lux / math.pi, 0.2 * lux / math.pi
    white = max(screen + veil, surround)
    picture = Image.new("RGB", (3, 2), (255, 255, 255))
    picture.putpixel((1, 0), (0, 0, 0))
    seen = seen_at(picture, light(design.themes[theme], condition, Limits(design)), Limits(design))
    assert seen.size == (3 + 2 * RIM, 2 + 2 * RIM)
    wanted = {
        (0, 0): surround,
        (RIM - 1, RIM): surround,
        (RIM, RIM): screen + veil,
        (RIM + 1, RIM): screen / 500 + veil,
        (RIM + 2, RIM + 1): screen + veil,
        (RIM + 3, RIM + 1): surround,
        (RIM + 2, RIM + 2): surround,
        (2 * RIM + 2, 2 * RIM + 1): surround,
    }
    for place, luminance in wanted.items():
        grey = code(luminance / white)
        assert seen.getpixel(place) == pytest.approx((grey,) * 3, abs=1), place


def test_without_colours_the_luminance_stays() -> None:
    """Of red 0.2126, green 0.7152, blue 0.0722, each pixel by itself."""
    picture = Image.new("RGB", (4, 1))
    for at, colour in enumerate(((255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 0, 0))):
        picture.putpixel((at, 0), colour)
    seen = as_seen(picture, "grey")
    assert [seen.getpixel((at, 0)) for at in range(4)] == [
        (code(share),) * 3 for share in (0.2126, 0.7152, 0.0722, 0.2126)
    ]


def greys(*lightness: float) -> list[tuple[int, int, int]]:
    """Greys of about this CIELAB lightness: the cube root of luminance, 116 times and 16 less."""
    return [(code(((each + 16) / 116) ** 3),) * 3 for each in lightness]


@pytest.mark.parametrize(
    ("lightness", "even"),
    [
        ((20, 40, 60, 80), 1.0),
        ((80, 60, 40, 20), 1.0),
        # The least rise is 10 where 20 is the mean; then one of -20 where 10 is.
        ((20, 45, 70, 80), 0.5),
        ((20, 50, 30, 50), -2.0),
        # From five stops on an odd number may turn at its middle; a half counts that is less even.
        ((80, 50, 20, 50, 80), 1.0),
        ((80, 50, 20, 35, 80), 0.5),
        ((80, 65, 20, 50, 80), 0.5),
        ((80, 60, 40, 20, 40, 60, 80), 1.0),
        ((50, 20, 50), 0.0),
        ((80, 50, 20, 20, 50, 80), 0.0),
        # All but no rise.
        ((50, 50.5, 51), 0.0),
    ],
)
def test_a_ramp_is_as_even_as_its_least_rise(lightness: tuple[float, ...], even: float) -> None:
    assert evenness(greys(*lightness)) == pytest.approx(even, abs=0.06)
