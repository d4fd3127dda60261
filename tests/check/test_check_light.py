"""The photometric model and the pictures of it."""

import math
import re
from pathlib import Path

import pytest
from good_design import FILES
from PIL import Image

from hmic.check.colour import VISIONS, lab, least_difference, seen_by
from hmic.check.eye import EYES, RIM, as_seen, seen_at
from hmic.check.light import Condition, Light, light, lights
from hmic.check.ramps import READY, ready_colours, red_to_green, substitute
from hmic.check.vision import evenness
from hmic.diagnostics import Basis
from hmic.model.design import Panel
from hmic.model.limits import DEFAULTS, Limits
from hmic.model.load import load

REFERENCE = Path(__file__).parents[1] / "reference"


@pytest.fixture(scope="module")
def design(tmp_path_factory):
    folder = tmp_path_factory.mktemp("heron")
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    return load(folder)[0]


def test_a_diffuse_mirror_sends_back_the_light_over_pi(design):
    """Lambert's law: 45000 lx on 1 % is 45000 * 0.01 / pi = 143.24 cd/m2, worked by hand."""
    sun = light(design.themes[0], "sun", Limits(design))
    assert sun.veil == pytest.approx(143.24, abs=0.01)
    assert sun.luminance((255, 255, 255)) == pytest.approx(600 + 143.24, abs=0.01)
    assert sun.luminance((0, 0, 0)) == pytest.approx(600 / 500 + 143.24, abs=0.01)
    assert sun.ratio((255, 255, 255), (0, 0, 0)) == pytest.approx(743.24 / 144.44, abs=0.001)


def test_every_condition_is_held_in_some_theme(design):
    held = lights(design, Limits(design))
    assert {item.condition for found in held.values() for item in found} == set(Condition)
    assert [item.condition for item in held["night"]] == ["night", "dusk"]


def test_every_limit_names_where_it_comes_from():
    """What tests/reference marks ``memory`` is said to be so."""
    text = (REFERENCE / "04_legibility.csv").read_text(encoding="utf-8")
    assert "night 5:1, twilight 5:1, diffuse daylight 3:1, direct sunlight 2:1" in text
    for name in ("night", "dusk", "day", "sun"):
        place = (
            f"text contrast {'at' if name in ('night', 'dusk') else 'by' if name == 'day' else 'in'} {name}"
        )
        assert DEFAULTS[place].basis is Basis.MEMORY
    assert [
        DEFAULTS[f"text contrast {when}"].value for when in ("at night", "at dusk", "by day", "in sun")
    ] == [5, 5, 3, 2]
    for limit in DEFAULTS.values():
        assert limit.source
        if limit.basis is Basis.QUOTED:
            assert " by " in limit.source, "it says who quotes it"
        if limit.basis in (Basis.READ, Basis.QUOTED):
            assert re.search(r"NHTSA|ISO|FHWA|FAA|MIL-STD|Displays 24|touch guideline", limit.source)


def test_seen_at_shrinks_contrast_and_adds_a_rim(design):
    limits = Limits(design)
    picture = Image.new("RGB", (8, 4), (255, 255, 255))
    picture.putpixel((0, 0), (0, 0, 0))
    spans = {}
    for condition in Condition:
        lit = light(design.themes[0], condition, limits)
        seen = seen_at(picture, lit, limits)
        assert seen.size == (8 + 2 * RIM, 4 + 2 * RIM)
        dark, white = seen.getpixel((RIM, RIM))[0], seen.getpixel((RIM + 1, RIM))[0]
        spans[condition] = white - dark
    assert spans["night"] >= spans["dusk"] > spans["day"] > spans["sun"] > 0


def test_pictures_for_other_eyes():
    """The vectors of Machado 2009 (tests/reference/03) are tested in test_colour.py."""
    picture = Image.new("RGB", (2, 1), (200, 60, 50))
    picture.putpixel((1, 0), (12, 34, 56))
    for eye in VISIONS:
        seen = as_seen(picture, eye)
        assert seen.getpixel((0, 0)) == seen_by((200, 60, 50), eye)
        assert seen.getpixel((1, 0)) == seen_by((12, 34, 56), eye)
    grey = as_seen(picture, "grey").getpixel((0, 0))
    assert len(set(grey)) == 1 and len(EYES) == 4


@pytest.mark.parametrize("name", READY)
def test_ready_ramps_are_even_and_safe(name):
    """Lightness rises by equal steps; the ends stay apart in each simulated vision."""
    colours = ready_colours(name)
    assert evenness(colours) > 0.9
    assert least_difference(colours[0], colours[-1])[0] >= 25
    assert not red_to_green(colours)


@pytest.mark.parametrize("name", ["viridis", "cividis"])
def test_published_even_ramps_are_found_even(name):
    """viridis and cividis as in matplotlib, tests/reference/09: every 15th colour."""
    lines = (REFERENCE / "09_colormaps_viridis_cividis.csv").read_text(encoding="utf-8").splitlines()
    rows = [line.split(",") for line in lines if line.startswith(name + ",")]
    stops = [tuple(int(part) for part in row[5:8]) for row in rows]
    assert len(stops) == 18
    assert evenness(stops) > 0.75


def test_red_to_green_is_replaced_with_its_meaning_kept():
    red, green = (224, 80, 60), (76, 176, 80)
    assert red_to_green((red, green)) and red_to_green((green, red))
    assert lab(ready_colours("amount")[0])[0] < lab(ready_colours("amount")[-1])[0]
    assert substitute((red, green)) == READY["amount"]
    assert substitute((green, red)) == READY["amount"][::-1]


def test_contrast_without_light_is_the_web_formula_but_for_its_flare():
    """With a black of 5 % of white and no veil the ratio is WCAG's (tests/reference/02)."""
    from hmic.check.colour import contrast

    flare = Light("day", "night", 0.05, 1.05, 0.0)
    for one, other in (
        ((255, 255, 255), (118, 118, 118)),
        ((200, 30, 30), (0, 0, 0)),
        ((1, 2, 3), (250, 0, 9)),
    ):
        assert flare.ratio(one, other) == pytest.approx(contrast(one, other), rel=1e-9)
    assert math.isclose(flare.ratio((255, 255, 255), (0, 0, 0)), 21, rel_tol=1e-9)


def test_angles_of_the_printed_table():
    """FHWA-RD-98-057 equation 3, tests/reference/04: height in mm of an angle at a distance."""
    lines = (REFERENCE / "04_arcmin_to_mm.csv").read_text(encoding="utf-8").splitlines()
    rows = [line.split(",") for line in lines if line[:1].isdigit()]
    assert len(rows) == 18
    for distance, arcmin, millimetres, _ in rows:
        # One pixel a millimetre.
        panel = Panel(100, 100, 100.0, 100.0, float(distance), 24, 115200, 1, 1)
        assert panel.pixels_from_arcmin(float(arcmin)) == pytest.approx(float(millimetres), abs=6e-5)
        assert panel.arcmin_from_pixels(float(millimetres)) == pytest.approx(float(arcmin), abs=1e-3)
