"""Whatever a widget paints lies within its place, on panels and places of any size; what cannot be is told,
and the larger place that is told of helps."""

from __future__ import annotations

import math
import random
import re

import pytest

from hmic.arrange.compose import Arranged, arrange_with_gaps
from hmic.diagnostics import Finding
from hmic.language.parser import parse
from hmic.model.design import Locale
from hmic.paint.operations import Box
from tests.tools.changed import replace
from tests.tools.widget_pictures import dunlin, empty_screen, sentences

LEFT, TOP, RIGHT, BOTTOM = 17, 23, 31, 29
"""Pixels around the place."""
LARGE = (3000, 2500)
"""Of a panel, in pixels, on which a place can grow."""

MORE = (
    'label "Ängstrøm jy", text 20 arcmin',
    'label "Äjgp", text 12 arcmin, aligned left',
    'reading pack.voltage as "0.0 V"',
    'reading vehicle.speed as "0 km/h", text 90 arcmin, aligned right',
    "words vehicle.gear, text 12 arcmin",
    'clock as "00:00", called "Jüngste Ägide"',
    'bar motor.power from -60 kW to 100 kW, upward, marks every 20 kW, as "0 kW", called "Äpower"',
    "bar motor.power from -60 kW to 100 kW, downward, marks every 20 kW",
    'bar motor.power from -60 kW to 100 kW, leftward, marks every 40 kW, called "Jpq"',
    "bar pack.charge from 0 % to 100 %, peak held 2 s",
    'bar motor.power from -60 kW to 100 kW, target motor.power + 20 kW, caution above 60 kW, with zones, '
    'called "Äg"',
    'bar motor.power from -60 kW to 100 kW, upward, zone good from 0 kW to 20 kW, with round ends, '
    'target motor.power + 20 kW, as "0 kW", peak held 2 s',
    "bar pack.charge from 0 % to 100 %, leftward, segments every 50 %, figures none, marks every 50 %",
    'bar motor.power from -60 kW to 100 kW, upward, figures inside, marks every 20 kW, as "0 kW"',
    "bar motor.power from -60 kW to 100 kW, leftward, figures inside, marks every 20 kW, with round ends",
    'level pack.charge from 0 % to 100 %, shaped battery, as "0 %", beside, called "Äg"',
    'level pack.charge from 0 % to 100 %, shaped tank, as "0 %", beside, target charge.limit, '
    "marks every 50 %",
    'level pack.charge from 0 % to 100 %, shaped box, as "0 %", danger below 20 %, with zones, '
    'target charge.limit, marks every 20 %',
    'level pack.charge from 0 % to 100 %, shaped tank, as "0 %", called "Äg"',
    'dial motor.temperature from 0 °C to 140 °C, marks every 20 °C, called "Motor"',
    "dial motor.temperature from 0 °C to 140 °C, marks every 10 °C",
    'lamp plug, danger while charge.fault, called "Jpg", means "Cable"',
    'symbol pump, called "Ägj"',
    "symbol pump, turned by coolant.valve",
    "cells pack.cells difference from mean within 40 mV, rows of 12, filled by ramp voltage",
    'chart over 600 s, marks every 60 s, called "Äjg"\n        trace motor.power from 0 kW to 9 kW',
    "shape ring",
    "shape line",
    'button "", goes to drive',
    'choice motor.mode of "Calm" or "Normal" or "Hill"',
    'stepper motor.speed_limit from 30 km/h to 120 km/h, in steps of 10 km/h, as "0 km/h", called "Limit"',
    'stepper motor.speed_limit from 30 km/h to 120 km/h, in steps of 10 km/h, as "0 km/h", called "Limit"\n'
    '        allowed when vehicle.speed < 1 km/h, refused with "Not charging", confirmed by "Understood?"',
    "slider motor.regen from 0 % to 100 %, in steps of 5 %",
)
EVERY = (*sentences().values(), *MORE)


def arranged(
    sentence: str, size: tuple[int, int], pitch: float, eye: float, whole: tuple[int, int] | None = None
) -> tuple[Arranged, list[Finding]]:
    """The sentence in a place of that size on a panel whose pixels are ``pitch`` mm."""
    width, height = size
    whole = whole or (width + LEFT + RIGHT, height + TOP + BOTTOM)
    text = (
        f'screen only "Only"\n    plan\n        . . .\n        . place .\n        . . .\n'
        f"    columns {LEFT} px, {width} px, 1\n    rows {TOP} px, {height} px, 1\n"
        f"    gap 0 px\n    margin 0 px\n    in place    {sentence}\n"
    )
    layout, found = parse(text, "only.layout")
    assert not found, found
    panel = replace(
        dunlin().panel,
        width=whole[0],
        height=whole[1],
        width_mm=whole[0] * pitch,
        height_mm=whole[1] * pitch,
        eye_distance=eye,
    )
    others = {name: empty_screen(name) for name in ("drive", "cells", "charging")}
    screens = {"only": layout.screens[0], **others}
    design = replace(dunlin(), panel=panel, screens=screens, start="only")
    if eye > 600:
        design = replace(design, locale=Locale("comma"))
    return arrange_with_gaps(design)


def sizes(chance: random.Random) -> tuple[int, int, float, float]:
    """Places from next to nothing to a large panel, the small ones more often."""
    width, height = (round(10 * 60 ** chance.random()) for _ in range(2))
    return width, height, chance.choice((0.1, 0.15, 0.2, 0.3)), chance.choice((400.0, 700.0, 900.0))


@pytest.mark.parametrize("sentence", EVERY)
def test_every_operation_lies_within_its_place(sentence: str) -> None:
    chance = random.Random(sentence)
    drawn = 0
    for _ in range(60):
        width, height, pitch, eye = sizes(chance)
        result, found = arranged(sentence, (width, height), pitch, eye)
        operations = result.drawing.screens[0].operations
        drawn += bool(operations)
        errors = [each for each in found if each.severity.value == "error"]
        assert bool(errors) != bool(operations), (width, height, pitch, eye, errors)
        for finding in errors:
            assert finding.span is not None and finding.remedy, finding
            # The safety net is for what no widget sees itself; with the fonts of the house all do.
            assert "all of the" not in finding.message, (width, height, pitch, eye, finding)
        for operation in operations:
            assert inside(operation.box, width, height), (width, height, pitch, eye, operation)
    assert drawn or sentence.startswith(("chart", "cells")), "no size was large enough"


def inside(box: Box, width: int, height: int) -> bool:
    return (
        min(box.width, box.height) >= 0
        and box.left >= LEFT
        and box.top >= TOP
        and box.left + box.width <= LEFT + width
        and box.top + box.height <= TOP + height
    )


@pytest.mark.parametrize("words", ["", 'refused with "Not charging"', 'confirmed by "Understood?"'])
def test_the_targets_of_a_stepper_grow_with_what_they_say(words: str) -> None:
    """In a wide place the words stand over a target, however little of the place a target takes without."""
    sentence = 'stepper motor.speed_limit from 30 km/h to 120 km/h, in steps of 10 km/h, as "0 km/h"'
    allowed = f", allowed when vehicle.speed < 1 km/h, {words}" if words else ""
    result, found = arranged(sentence + allowed, (774, 180), 0.19, 700.0)
    assert [each for each in found if each.severity.value == "error"] == []
    targets = [zone.box.width for zone in result.drawing.screens[0].zones]
    assert len(targets) == 2 and all(84 < each <= 258 if words else each == 74 for each in targets), targets


@pytest.mark.parametrize("sentence", EVERY)
def test_the_larger_place_that_is_told_of_helps(sentence: str) -> None:
    """Followed again and again, it ends at a place that is large enough."""
    chance = random.Random(f"{sentence} grows")
    for _ in range(8):
        width, height, pitch, eye = sizes(chance)
        for _ in range(40):
            _, found = arranged(sentence, (width, height), pitch, eye, LARGE)
            ways = [
                (float(size), way)
                for each in found
                if each.code in ("A350", "A351")
                for size, way in re.findall(r"make its place ([\d.]+) mm (wider|higher)", each.remedy or "")
            ]
            if not ways:
                break
            for size, way in ways:
                more = math.ceil(size / pitch)
                width, height = (width + more, height) if way == "wider" else (width, height + more)
        left = [each for each in found if each.severity.value == "error"]
        assert not [each for each in left if each.code in ("A350", "A351")], (width, height, pitch, eye, left)
