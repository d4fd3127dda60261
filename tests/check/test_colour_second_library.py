"""CIEDE2000, luminance and contrast against a second library on ten thousand random colours.

coloraide (MIT, on the package index), another implementation of the same publications. Its sRGB
matrix has more digits than the one IEC 61966-2-1 prints, hence the tolerances.
"""

import random

import pytest

from hmic.check.colour import contrast, difference, lab, relative_luminance, tritan_by_brettel

coloraide = pytest.importorskip("coloraide")


def test_ten_thousand_colours():
    chance = random.Random(2000)
    worst = {"lab": 0.0, "luminance": 0.0, "CIEDE2000": 0.0, "contrast": 0.0}
    before, theirs_before = (0, 0, 0), coloraide.Color("srgb", [0, 0, 0])
    for _ in range(10_000):
        colour = tuple(chance.randrange(256) for _ in range(3))
        theirs = coloraide.Color("srgb", [part / 255 for part in colour])
        their_lab = theirs.convert("lab-d65")[:3]
        worst["lab"] = max(worst["lab"], *(abs(a - b) for a, b in zip(lab(colour), their_lab, strict=True)))
        worst["luminance"] = max(worst["luminance"], abs(relative_luminance(colour) - theirs.luminance()))
        there = theirs.delta_e(theirs_before, method="2000", space="lab-d65")
        worst["CIEDE2000"] = max(worst["CIEDE2000"], abs(difference(colour, before) - there))
        ratio = theirs.contrast(theirs_before)
        worst["contrast"] = max(worst["contrast"], abs(contrast(colour, before) - ratio) / ratio)
        before, theirs_before = colour, theirs
    print(worst)
    assert worst["lab"] < 0.05 and worst["luminance"] < 2e-4
    assert worst["CIEDE2000"] < 0.05 and worst["contrast"] < 2e-3


def test_tritan_by_brettel():
    """Of coloraide's own matrices, in another space; to the code."""
    chance = random.Random(1997)
    for _ in range(1000):
        colour = tuple(chance.randrange(256) for _ in range(3))
        theirs = coloraide.Color("srgb", [part / 255 for part in colour])
        seen = theirs.filter("tritan", 1, method="brettel", out_space="srgb").coords()
        cut = tuple(min(255, max(0, round(part * 255))) for part in seen)
        assert max(abs(a - b) for a, b in zip(tritan_by_brettel(colour), cut, strict=True)) <= 1
