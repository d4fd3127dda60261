"""The example's themes hold what their file says of them."""

import itertools
import math
from pathlib import Path

import pytest
import yaml

from hmic.check.colour import contrast, hex_colour, lab, least_difference, relative_luminance

THEMES = yaml.safe_load(
    (Path(__file__).parents[2] / "layouts" / "dunlin" / "themes.yaml").read_text(encoding="utf-8")
)["themes"]
TEXT_ROLES = ("quiet", "accent", "good", "notice", "caution", "danger", "stale")
STATE_ROLES = ("good", "notice", "caution", "danger")


def role(theme, name):
    return hex_colour(THEMES[theme]["roles"][name])


def hue(colour):
    _, a, b = lab(colour)
    return math.degrees(math.atan2(b, a)) % 360


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("behind", ["ground", "surface"])
def test_text_keeps_its_contrast(theme, behind):
    """WCAG 2.2, 1.4.6 for ink (7:1), 1.4.3 for the rest (4.5:1); tests/reference/02."""
    assert contrast(role(theme, "ink"), role(theme, behind)) >= 7
    for name in TEXT_ROLES:
        assert contrast(role(theme, name), role(theme, behind)) >= 4.5, name


@pytest.mark.parametrize("theme", THEMES)
def test_states_stay_apart_for_every_eye(theme):
    """CIEDE2000 of 10 or more (a choice of this design) in full and in simulated colour vision."""
    for one, other in itertools.combinations(STATE_ROLES, 2):
        amount, whose = least_difference(role(theme, one), role(theme, other))
        assert amount >= 10, (one, other, whose)
    for name in ("ink", "quiet"):
        assert least_difference(role(theme, "stale"), role(theme, name))[0] >= 10


@pytest.mark.parametrize("theme", THEMES)
def test_state_colours_are_those_of_telltales(theme):
    """UN R121 and ISO 2575, clause 5: red danger, yellow or amber caution, green in order, blue
    information (tests/reference/05, some rows from memory); CIELAB hue angles."""
    assert 20 <= hue(role(theme, "danger")) <= 45
    assert 65 <= hue(role(theme, "caution")) <= 100
    assert 130 <= hue(role(theme, "good")) <= 175
    assert 255 <= hue(role(theme, "notice")) <= 300


@pytest.mark.parametrize("theme", THEMES)
def test_ramps_rise_evenly(theme):
    for name, stops in THEMES[theme]["ramps"].items():
        lightness = [lab(hex_colour(stop))[0] for stop in stops]
        rises = [after - before for before, after in itertools.pairwise(lightness)]
        if name == "apart":
            half = len(rises) // 2
            assert all(abs(rise + mirror) < 2 for rise, mirror in zip(rises, reversed(rises), strict=True))
            rises = rises[half:]
        assert min(rises) > 4, name
        assert max(rises) - min(rises) < 3, name


def test_night_is_dim_and_warm():
    """Less than a twentieth of the day's light from ink, and less blue than red in the neutrals."""
    light = {
        name: theme["luminance"] * relative_luminance(role(name, "ink")) for name, theme in THEMES.items()
    }
    assert light["night"] < light["day"] / 20
    for name in ("ground", "surface", "line", "ink", "quiet", "accent"):
        red, _, blue = role("night", name)
        assert blue < red, name


def test_themes_define_the_same_names():
    first, *others = THEMES.values()
    for other in others:
        assert set(other["roles"]) == set(first["roles"])
        assert set(other["ramps"]) == set(first["ramps"])
