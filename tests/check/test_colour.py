"""Colour measures against published values."""

import csv
import math
from pathlib import Path

import pytest

from hmic.check.colour import (
    VISIONS,
    contrast,
    difference,
    encoded,
    hex_colour,
    lab,
    lab_difference,
    least_difference,
    linear,
    seen_by,
    seen_by_unclipped,
)

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name):
    text = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in text if not line.startswith("#")))


def test_transfer_of_srgb():
    """IEC 61966-2-1, tests/reference/09."""
    found = rows("09_srgb_transfer.csv")
    assert len(found) >= 20
    for row in found:
        code = int(row["code8"])
        assert linear(code) == pytest.approx(float(row["linear"]), abs=1e-12)
        assert encoded(linear(code)) == int(row["roundtrip"])
    assert [encoded(linear(code)) for code in range(256)] == list(range(256))


def test_contrast_of_wcag():
    """W3C WCAG 2.x, tests/reference/02: printed ratios are truncated."""
    found = rows("02_wcag_contrast.csv")
    assert len(found) >= 15
    for row in found:
        ratio = contrast(hex_colour("#" + row["fg"]), hex_colour("#" + row["bg"]))
        assert ratio == pytest.approx(float(row["calc_thr_0.04045"]), abs=1e-6)
        if row["published_is_truncation"] == "1":
            printed = row["published"]
            scale = 10 ** len(printed.partition(".")[2])
            assert math.floor(ratio * scale + 1e-9) / scale == float(printed)


def test_ciede2000_of_sharma():
    """Sharma, Wu, Dalal 2005, table 1, 34 pairs, tests/reference/01; both ways round."""
    found = rows("01_ciede2000_sharma2005.csv")
    assert len(found) == 34
    for row in found:
        one = (float(row["L1"]), float(row["a1"]), float(row["b1"]))
        other = (float(row["L2"]), float(row["a2"]), float(row["b2"]))
        assert lab_difference(one, other) == pytest.approx(float(row["dE00"]), abs=1e-4), row["pair"]
        assert lab_difference(other, one) == pytest.approx(float(row["dE00"]), abs=1e-4), row["pair"]


def test_vision_of_machado():
    """Machado, Oliveira, Fernandes 2009, tests/reference/03; clipped part by part."""
    matrices = rows("03_machado2009_matrices.csv")
    vectors = rows("03_machado2009_vectors.csv")
    assert {row["type"] for row in matrices} == set(VISIONS)
    for row in vectors:
        colour = (int(row["R"]), int(row["G"]), int(row["B"]))
        assert seen_by(colour, row["type"]) == (int(row["R8"]), int(row["G8"]), int(row["B8"])), row["name"]
    for row in matrices:
        if row["severity"] == "1.0":
            part = int(row["row"])
            for place, key in enumerate(("mR", "mG", "mB")):
                colour = tuple(255 if at == place else 0 for at in range(3))
                assert seen_by_unclipped(colour, row["type"])[part] == pytest.approx(
                    float(row[key]), abs=1e-9
                )


def test_lab_of_greys_and_primaries():
    """Greys have no chroma. Red is 53.24, 80.09, 67.20 (CIELAB of sRGB red, D65; from memory)."""
    for code in (0, 1, 77, 200, 255):
        assert lab((code, code, code))[1:] == pytest.approx((0.0, 0.0), abs=2e-3)
    assert lab((255, 255, 255))[0] == pytest.approx(100, abs=1e-9)
    assert lab((255, 0, 0)) == pytest.approx((53.24, 80.09, 67.20), abs=0.03)


def test_least_difference_is_never_above_full_vision():
    red, green = (200, 60, 50), (90, 130, 60)
    amount, whose = least_difference(red, green)
    assert whose in VISIONS and amount < difference(red, green) / 2
    assert least_difference(red, red)[0] == 0.0


@pytest.mark.parametrize("text", ["", "#fff", "112233", "#11223g", "#1122334", "#+12345", "#１12233"])
def test_only_six_digits_make_a_colour(text):
    with pytest.raises(ValueError):
        hex_colour(text)
