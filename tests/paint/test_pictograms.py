"""Pictograms: each is there, whole, sharp, and the same as on the committed sheet.

Run as a program, it draws the sheet anew.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from hmic.paint import pictograms
from hmic.paint.operations import Mask

SHEET = Path(__file__).parent / "golden" / "pictograms.png"
SIZES = (24, 48, 96)
COLUMNS = 4
WANTED = """abs airbag auxiliary_battery back battery belt brake brake_fault cable charger check chiller
coolant cross cruise cruise_set demist demist_rear dipped_beam door drive_fault fan folder
front_fog hazard insulation main_beam park_brake ready rear_fog reduced_power side_lights
turn_left turn_right tyre_pressure washer wiper fridge heater high_voltage house inlet inverter
light lock motor music next parking pause person play plug pump radiator snow tank temperature
tyre unlock valve warning"""
WORDS = """means draw fill clear path box circle arc to by closed wide 4 0 1,1 9,9 -3,2.5 radius from
turned times about mirrored rounded , # 1e9"""
# SHA-256 of the coverages at 13, 37 and 63 px, in alphabetical order.
ODD_SIZES = "70d66a324cf401b83eabbaa96a848b7c97fa3c771f3adf31b5a0f6933e8141f5"


def rows(mask: Mask) -> list[bytes]:
    return [mask.coverage[y * mask.width : (y + 1) * mask.width] for y in range(mask.height)]


def sheet() -> Image.Image:
    """All pictograms in three sizes, four to a line, in alphabetical order."""
    names = pictograms.names()
    width, height = sum(SIZES) + 8 * (len(SIZES) + 1), max(SIZES) + 8
    picture = Image.new("L", (width * COLUMNS, height * -(-len(names) // COLUMNS)))
    for i, name in enumerate(names):
        left, top = i % COLUMNS * width + 8, i // COLUMNS * height + 4
        for side in SIZES:
            mask = pictograms.draw(name, side, side)
            levels = bytes(17 * coverage for coverage in mask.coverage)
            picture.paste(Image.frombytes("L", (side, side), levels), (left, top))
            left += side + 8
    return picture


def test_sheet_is_as_committed() -> None:
    committed = Image.open(SHEET)
    drawn = sheet()
    assert committed.mode == "L" and committed.size == drawn.size
    assert committed.tobytes() == drawn.tobytes(), "a picture changed: look at it, then draw the sheet anew"


def test_masks_of_odd_sizes_are_as_committed() -> None:
    digest = hashlib.sha256()
    for name in pictograms.names():
        for side in (13, 37, 63):
            digest.update(pictograms.draw(name, side, side).coverage)
    assert digest.hexdigest() == ODD_SIZES


def test_names_are_those_of_the_reference() -> None:
    assert set(WANTED.split()) <= set(pictograms.names())
    assert list(pictograms.names()) == sorted(pictograms.names())


@pytest.mark.parametrize("name", pictograms.names())
def test_each_is_whole_at_every_size(name: str) -> None:
    for side in SIZES:
        mask = pictograms.draw(name, side, side)
        assert (mask.width, mask.height, len(mask.coverage)) == (side, side, side * side)
        ink = sum(mask.coverage) / 15 / side**2
        assert 0.1 < ink < 0.6, "too faint or too heavy among the others"
        lines = rows(mask)
        rim = [*lines[0], *lines[-1], *(line[0] for line in lines), *(line[-1] for line in lines)]
        assert max(rim) <= (8 if side == 24 else 0), "cut off at the edge"
        reach = [x for line in lines for x, coverage in enumerate(line) if coverage]
        depth = [y for y, line in enumerate(lines) if any(line)]
        assert max(max(reach) - min(reach), depth[-1] - depth[0]) >= side * 0.7, "smaller than the others"


def test_meanings_are_said_once_each() -> None:
    said = [pictograms.words(name) for name in pictograms.names()]
    assert all(said) and len(set(said)) == len(said)


@pytest.mark.parametrize(
    "name", ["cross", "light", "lock", "motor", "pause", "person", "plug", "snow", "warning"]
)
def test_a_symmetric_drawing_gives_a_symmetric_mask(name: str) -> None:
    for side in (24, 37, 48, 61, 96):
        for line in rows(pictograms.draw(name, side, side)):
            assert line == line[::-1]


def test_fitted_and_centred_in_a_box_of_another_shape() -> None:
    square = rows(pictograms.draw("battery", 48, 48))
    wide = rows(pictograms.draw("battery", 80, 48))
    assert [line[16:64] for line in wide] == square
    assert not any(any(line[:16] + line[64:]) for line in wide)
    tall = rows(pictograms.draw("battery", 48, 60))
    assert tall[6:54] == square


def test_straight_lines_are_sharp_at_every_size() -> None:
    for side in range(24, 97):
        drawing = pictograms.draw("parking", side, side)
        middle = rows(drawing)[side // 2]
        first = next(x for x, coverage in enumerate(middle) if coverage)
        assert middle[first] == 15, f"blurred at {side} px"


def test_tiny_boxes_are_no_trouble() -> None:
    for side in range(13):
        for name in ("battery", "chiller", "inlet"):
            assert len(pictograms.draw(name, side, side).coverage) == side * side


def test_an_unknown_name_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        pictograms.draw("unicorn", 24, 24)
    with pytest.raises(KeyError):
        pictograms.words("../pictograms/battery")


@pytest.mark.parametrize(
    ("line", "complaint"),
    [
        ("paint box 1,1 to 2,2", "begins with draw, fill or clear"),
        ("draw blob 1,1", "a shape is a path, box, circle or arc"),
        ("draw circle 24,24", "'radius' is missing"),
        ("draw path 1,1 to", "a point such as 24,8 is missing"),
        ("draw path 1,1 by 2,2 by 3,3 by 4,4 to 5,5", "'to' is missing"),
        ("draw box 1,1 to 9,9 turned 4 times", "a box cannot be turned"),
        ("draw circle 9,9 radius 3 turned 7 times", "divides 360"),
        ("draw circle 9,9 radius 3 shiny", "'shiny' says nothing here"),
        ("draw circle 9;9 radius 3", "cannot read '9;9 radius 3'"),
    ],
)
def test_a_wrong_sentence_is_named_with_its_line(line: str, complaint: str) -> None:
    with pytest.raises(pictograms.DrawingError, match=r"thing\.path line 2") as raised:
        pictograms.read("thing", f"means a thing\n{line}\n")
    assert complaint in str(raised.value)


@given(st.lists(st.sampled_from([*WORDS.split(), "\n"]), max_size=30))
def test_no_text_makes_another_error(words: list[str]) -> None:
    try:
        drawing = pictograms.read("thing", "means a thing\n" + " ".join(words))
    except pictograms.DrawingError as wrong:
        assert "thing.path" in str(wrong)
    else:
        assert drawing.words and drawing.sentences


if __name__ == "__main__":
    SHEET.parent.mkdir(exist_ok=True)
    sheet().save(SHEET, optimize=True)
