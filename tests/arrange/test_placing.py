"""Free placement, by the pixels that are painted."""

from __future__ import annotations

import re

import pytest
from PIL import Image, ImageChops

from hmic.arrange.compose import arrange
from hmic.diagnostics import Finding
from hmic.language.parser import parse
from hmic.paint.operations import Box, Pointer, Stencil
from tests.tools.changed import replace
from tests.tools.widget_pictures import alone, dunlin, paint

HEAD = 'screen only "Only"\n    plan\n        here\n    margin 0 mm\n    in here freely\n'
AT = ", at 30 mm across 20 mm down"
SIZE = (60, 40)
WIDGETS = {
    "label": 'label "Grapefruit"',
    "reading": 'reading pack.voltage as "0.0 V", called "Battery"',
    "minus": 'reading motor.power as "0 kW"',
    "words": 'words vehicle.gear, called "Gear"',
    "clock": 'clock as "00:00"',
    "face": "clock with hands, sized 24 mm",
    "dial": "dial motor.temperature from 0 °C to 140 °C, sized 30 mm",
    "bar": "bar motor.power from -60 kW to 100 kW, sized 40 mm by 6 mm",
    "level": "level pack.charge from 0 % to 100 %, sized 14 mm by 24 mm",
    "lamp": "lamp plug, danger while charge.fault",
    "cells": "cells pack.cells from 2.8 V to 4.2 V, rows of 16, filled by ramp voltage, sized 40 mm by 30 mm",
    "button": 'button "Drive", goes to drive, sized 24 mm by 12 mm',
    "ring": "shape ring, sized 20 mm",
    "line": "shape line, sized 40 mm",
}


def inked(sentence: str, size: tuple[int, int] = SIZE) -> Box:
    """What a sentence of a free area paints on."""
    picture = paint(alone(f"{HEAD}        {sentence}\n", size))
    ground = picture.getpixel((0, 0))
    box = ImageChops.difference(picture, Image.new("RGB", picture.size, ground)).getbbox()
    assert box is not None
    return Box(box[0], box[1], box[2] - box[0], box[3] - box[1])


@pytest.mark.parametrize("name", WIDGETS)
def test_a_piece_stands_about_its_point_wherever_that_is(name: str) -> None:
    pitch = dunlin().panel.pixels_from_mm(1)
    box = inked(WIDGETS[name] + AT)
    moved = inked(WIDGETS[name] + ", at 33 mm across 22 mm down", (66, 44))
    assert abs(moved.left - box.left - 3 * pitch) <= 1 and abs(moved.top - box.top - 2 * pitch) <= 1
    assert (moved.width, moved.height) == (box.width, box.height)
    point = (30 * pitch, 20 * pitch)
    assert box.left < point[0] < box.left + box.width and box.top - 2 < point[1] < box.top + box.height + 2


@pytest.mark.parametrize("name", ["label", "face", "dial", "bar", "level", "cells", "button", "ring", "line"])
def test_the_point_is_the_middle(name: str) -> None:
    pitch = dunlin().panel.pixels_from_mm(1)
    box = inked(WIDGETS[name] + AT)
    assert abs(box.left + box.width / 2 - 30 * pitch) <= 3


@pytest.mark.parametrize("name", ["label", "reading", "clock"])
def test_what_is_aligned_begins_or_ends_at_its_point(name: str) -> None:
    pitch = dunlin().panel.pixels_from_mm(1)
    first, last = (inked(f"{WIDGETS[name]}{AT}, aligned {side}") for side in ("left", "right"))
    # The unused place of a rarer longer number stays free on its left.
    assert -1 <= first.left - 30 * pitch <= (20 if name == "reading" else 4)
    assert -1 <= 30 * pitch - last.left - last.width <= 4


def test_what_lies_behind_is_painted_first_wherever_it_is_written() -> None:
    label, shape = f'label "Up"{AT}', f"shape box, colour surface, behind{AT}, sized 20 mm by 12 mm"
    pictures = [
        paint(alone(f"{HEAD}        {one}\n        {other}\n", SIZE)).tobytes()
        for one, other in ((label, shape), (shape, label))
    ]
    assert pictures[0] == pictures[1]


def test_what_lies_behind_without_a_place_takes_the_area() -> None:
    panel = dunlin().panel
    sized = inked("shape box, colour surface, behind, sized 50 mm by 30 mm")
    assert abs(sized.width - panel.pixels_from_mm(50)) <= 1
    assert abs(sized.height - panel.pixels_from_mm(30)) <= 1
    layout, _ = parse(f"{HEAD}        shape box, colour surface, behind\n", "a.layout")
    arranged, found = arrange(replace(dunlin(), screens={"only": layout.screens[0]}, start="only"))
    assert arranged is not None and not found
    assert arranged.drawing.screens[0].operations[0].box == Box(0, 0, panel.width, panel.height)


def test_a_pipe_ends_at_any_piece_with_a_name() -> None:
    text = (
        "        level pack.charge from 0 % to 100 %, named pack, at 14 mm across 20 mm down, "
        "sized 12 mm by 20 mm\n"
        "        symbol motor named motor at 46 mm across 20 mm down\n"
        "        pipe from pack.right to motor.left, colour quiet\n"
    )
    assert alone(HEAD + text, SIZE).findings == ()


def test_places_are_counted_out() -> None:
    """An ``each`` puts its pieces in a row, as if every place were written."""
    row = (
        "        each n from 1 to 4\n            shape disc, at 6 mm + 10 mm * (n - 1) across 4 mm * 5 down, "
        "sized 9 mm - 10 px\n"
    )
    pixels = round(9 * dunlin().panel.pixels_from_mm(1)) - 10
    every = "".join(
        f"        shape disc, at {6 + 10 * at} mm across 20 mm down, sized {pixels} px\n" for at in range(4)
    )
    assert paint(alone(HEAD + row, SIZE)).tobytes() == paint(alone(HEAD + every, SIZE)).tobytes()


@pytest.mark.parametrize(
    "at", ["2 mm * 3 mm across 5 mm down", "5 across 5 mm down", "5 mm - 9 mm across 5 mm down"]
)
def test_what_is_worked_out_must_be_a_length(at: str) -> None:
    layout, findings = parse(f"{HEAD}        shape disc, at {at}\n", "a.layout")
    assert not findings
    _, found = arrange(replace(dunlin(), screens={"only": layout.screens[0]}, start="only"))
    assert [item.code for item in found] == ["A301"]


def test_a_control_takes_its_touch_where_it_stands() -> None:
    compiled = alone(f"{HEAD}        {WIDGETS['button']}{AT}\n", SIZE)
    (zone,) = compiled.arranged.drawing.screens[0].zones
    pitch = dunlin().panel.pixels_from_mm(1)
    assert abs(zone.box.left + zone.box.width / 2 - 30 * pitch) <= 1
    assert abs(zone.box.width - 24 * pitch) <= 1 and abs(zone.box.height - 12 * pitch) <= 1


def test_the_axis_of_a_dial_stands_at_its_point() -> None:
    pitch = dunlin().panel.pixels_from_mm(1)
    dial = "dial motor.temperature from 0 °C to 140 °C, marks every 20 °C, sized 36 mm"
    drawing = alone(f"{HEAD}        {dial}{AT}\n", SIZE).arranged.drawing
    hub = next(each for each in reversed(drawing.screens[0].operations) if isinstance(each, Stencil)).box
    assert abs(hub.left + hub.width / 2 - 30 * pitch) <= 1 and abs(hub.top + hub.height / 2 - 20 * pitch) <= 1


def found_of(sentence: str) -> list[Finding]:
    """What is found in a sentence of a free area of ``SIZE``."""
    panel = dunlin().panel
    width, height = (round(panel.pixels_from_mm(side)) for side in SIZE)
    small = replace(
        panel, width=width, height=height, width_mm=width * panel.pitch, height_mm=height * panel.pitch
    )
    layout, _ = parse(f"{HEAD}        {sentence}\n", "a.layout")
    return arrange(replace(dunlin(), panel=small, screens={"only": layout.screens[0]}, start="only"))[1]


@pytest.mark.parametrize("sized", ["30 mm by 90 mm", "90 mm by 30 mm", "200 mm by 200 mm"])
def test_the_size_that_is_told_fits_the_area(sized: str) -> None:
    (finding,) = found_of(f"shape box, behind, sized {sized}")
    across, down = re.findall(r"([\d.]+) mm (?:wide|high)", str(finding.remedy))
    assert found_of(f"shape box, behind, sized {across} mm by {down} mm") == []
    wide, high = map(float, re.findall(r"(\d+) mm", sized))
    assert abs(float(across) / float(down) - wide / high) <= 0.02 * wide / high
    assert float(across) > SIZE[0] - 1 or float(down) > SIZE[1] - 1


@pytest.mark.parametrize(
    ("at", "told"),
    [
        ("2 mm across 20 mm down", "right"),
        ("30 mm across 38 mm down", "up"),
        ("58 mm across 2 mm down", "left and"),
    ],
)
def test_the_move_that_is_told_brings_a_piece_into_its_area(at: str, told: str) -> None:
    def found(at: str) -> list[Finding]:
        return found_of(f"shape disc, sized 12 mm, at {at}")

    (finding,) = found(at)
    assert finding.code == "A314" and finding.remedy is not None and told in finding.remedy
    across, down = map(float, re.findall(r"(\d+) mm", at))
    for length, way in re.findall(r"([\d.]+) mm (left|right|up|down)", finding.remedy):
        across += {"left": -1, "right": 1}.get(way, 0) * float(length)
        down += {"up": -1, "down": 1}.get(way, 0) * float(length)
    assert found(f"{across:g} mm across {down:g} mm down") == []


@pytest.mark.parametrize(
    ("sides", "standing"),
    [(("top", "bottom"), True), (("bottom",), True), (("left", "right"), False), (("top", "right"), False)],
)
def test_the_bar_of_a_valve_lies_along_its_pipes_at_the_last_word(
    sides: tuple[str, ...], standing: bool
) -> None:
    places = {
        "left": "10 mm across 20", "right": "50 mm across 20",
        "top": "30 mm across 4", "bottom": "30 mm across 36",
    }  # fmt: skip
    lines = ["symbol valve named valve, turned by coolant.valve, sized 10 mm" + AT]
    for side in sides:
        lines += [f"joint {side} at {places[side]} mm down", f"pipe from valve.{side} to {side}"]
    arranged = alone(HEAD + "".join(f"        {line}\n" for line in lines), SIZE).arranged
    (bar,) = [each for each in arranged.drawing.screens[0].operations if isinstance(each, Pointer)]
    first, *_, last = arranged.drawing.outlines[bar.outline].polygons

    def tall(polygon: tuple[tuple[int, int], ...]) -> bool:
        across, down = zip(*polygon, strict=True)
        return max(down) - min(down) > max(across) - min(across)

    assert (tall(first), tall(last)) == (not standing, standing)
