"""Contrast that is told, worked out again: luminance by coloraide, veil by Lambert's law, the worst of the
conditions of a theme by the published limits."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from coloraide import Color
from good_design import THEMES, found_in, spoiled

LUX = {"night": 10, "dusk": 250, "day": 5000, "sun": 45000}
THEME = {"day": (600, ("day", "sun")), "night": (36, ("night", "dusk"))}
# ISO 15008:2003/2009 (from memory) for text, FHWA-RD-98-057 for symbols, common practice for areas, which
# are not held against the sun.
LIMITS = {
    "C420": {"night": 5, "dusk": 5, "day": 3, "sun": 2},
    "C421": {"night": 3, "dusk": 3, "day": 3, "sun": 2},
    "C422": {"night": 1.5, "dusk": 1.5, "day": 1.5},
}
GROUND = {"day": "#11171a", "night": "#080605"}
SURFACE = {"day": "#1c2529", "night": "#130e0b"}
SPEED = 'reading vehicle.speed as "0 km/h", text 90 arcmin'
THINGS = {
    "C420": (SPEED, 'label "Heron", text 60 arcmin, colour faint'),
    "C421": (SPEED, "symbol battery, sized 20 mm, colour faint"),
    "C422": ("filled by ramp charge", "colour faint"),
}


def ratio(theme: str, condition: str, one: str, other: str) -> float:
    """Of two colours: black is a 500th of white, and 1 % of the light comes back diffusely."""
    white = THEME[theme][0]
    veil = LUX[condition] * 0.01 / math.pi
    dark, light = sorted(
        white / 500 + white * (1 - 1 / 500) * Color(colour).luminance() + veil for colour in (one, other)
    )
    return light / dark


def worst(code: str, theme: str, ink: str, under: str) -> tuple[float, float] | None:
    """(ratio, limit) of the condition that keeps least of its limit, None where all hold theirs."""
    held = [
        (ratio(theme, condition, ink, under), float(LIMITS[code][condition]))
        for condition in THEME[theme][1]
        if condition in LIMITS[code]
    ]
    failing = [each for each in held if each[0] < each[1]]
    return min(failing, key=lambda each: each[0] / each[1], default=None)


def changed(theme: str, ink: str) -> str:
    """themes.yaml with a role of its own, which is plain to see in the other theme."""
    plain = {"day": "#f8f3e6", "night": "#edd0a3"}
    colours = {**plain, theme: ink}
    day, night = THEMES.split("  night:")
    parts = {"day": day, "night": night}
    return "  night:".join(
        parts[name].replace("\n    ramps:", f'\n      faint: "{colours[name]}"\n    ramps:', 1)
        for name in ("day", "night")
    )


GREYS = {"day": (40, 60, 80, 96, 112, 120, 128, 140, 160), "night": (20, 36, 48, 60, 72, 90, 110, 140)}


@pytest.mark.parametrize("code", THINGS)
@pytest.mark.parametrize("theme", THEME)
def test_the_contrast_that_is_told_is_that_of_the_worst_condition(
    code: str, theme: str, tmp_path: Path
) -> None:
    for grey in GREYS[theme]:
        ink = f"#{grey:02x}{grey:02x}{grey:02x}"
        files = spoiled(("road.layout", *THINGS[code]), ("themes.yaml", THEMES, changed(theme, ink)))
        found = [item for item in found_in(tmp_path, files) if item.code == code]
        # A level is filled within its outline, which shows the surface that is beneath it.
        beneath = SURFACE if code == "C422" else GROUND
        expected = worst(code, theme, ink, beneath[theme])
        if expected is None:
            assert found == [], (ink, [(item.measured, item.limit) for item in found])
            continue
        (item,) = found
        assert (item.measured, item.limit) == (pytest.approx(expected[0], rel=2e-3), expected[1]), ink
        assert f"theme '{theme}'" in item.message


ONE_THEME = THEMES.split("  night:")[0].replace("{day: 7:00, night: 19:30}", "{day: 7:00}")


@pytest.mark.parametrize("themes", [THEMES, ONE_THEME])
@pytest.mark.parametrize("role", ["ink", "quiet"])
def test_of_an_ink_like_its_ground_the_ink_is_changed_alone(themes: str, role: str, tmp_path: Path) -> None:
    day = themes.split("  night:")[0]
    was = re.search(rf'{role}: "(#\w+)"', day)
    assert was is not None
    spoilt = themes.replace(was[0], f'{role}: "{GROUND["day"]}"', 1)
    files = spoiled(("themes.yaml", THEMES, spoilt))
    told = [item for item in found_in(tmp_path, files) if item.code in THINGS]
    assert told and len({item.code for item in told}) == len(told)
    assert len({item.remedy for item in told}) == 1
    for item in told:
        said = re.fullmatch(r"in themes.yaml, day, roles: write `(\w+): \"(#\w+)\"`", item.remedy or "")
        assert said is not None and said[1] == role, item
        mended = spoilt.replace(f'{role}: "{GROUND["day"]}"', f'{role}: "{said[2]}"')
        left = found_in(tmp_path, {**files, "themes.yaml": mended})
        assert not {each.code for each in left} & set(THINGS)
