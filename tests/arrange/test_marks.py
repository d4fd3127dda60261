"""Figures of marks, and options of a choice, keep clear of each other and of all beside them, in pixels;
fewer marks have figures where there is less room."""

from __future__ import annotations

import random

import pytest

from hmic.paint.operations import Box, Drawing, Frame, Pointer, Reveal, Run
from tests.arrange.test_within_its_place import arranged
from tests.tools.lit_pixels import lit, touch

SCALES = (
    'dial motor.temperature from 0 °C to 140 °C, marks every 20 °C, as "0 °C", caution above 110 °C',
    "dial motor.power from -60 kW to 100 kW, marks every 5 kW",
    'dial vehicle.speed from 0 km/h to 140 km/h, marks every 20 km/h, as "0 km/h", called "Speed"',
    'dial motor.temperature from 0 °C to 140 °C, marks every 20 °C, fine marks every 5 °C, figures outside, '
    'as "0 °C", needle tailed, danger above 125 °C',
    'dial motor.power from -60 kW to 100 kW, marks every 10 kW, with arc, as "0 kW", centred, text 16 arcmin',
    "dial vehicle.speed from 0 km/h to 360 km/h, sweep from 0° to 360°, marks every 10 km/h",
    'dial vehicle.speed from 0 km/h to 140 km/h, sweep from 0° to -90°, marks every 10 km/h, as "0 km/h"',
    'dial vehicle.speed from 0 km/h to 140 km/h, sweep from -90° to 90°, figures outside, '
    'marks every 20 km/h, needle rim, as "0 km/h", centred, text 14 arcmin',
    "bar motor.power from -60 kW to 100 kW, upward, marks every 5 kW",
    'bar motor.power from -60 kW to 100 kW, downward, marks every 20 kW, as "0 kW", called "Power"',
    "bar motor.power from -60 kW to 100 kW, rightward, marks every 20 kW",
    'bar vehicle.speed from 0 km/h to 140 km/h, leftward, marks every 10 km/h, as "0 km/h"',
    'bar motor.power from -60 kW to 100 kW, upward, marks every 5 kW, caution above 60 kW, with zones, '
    'target motor.power + 20 kW, as "0 kW"',
    'bar motor.power from -60 kW to 100 kW, rightward, marks every 10 kW, zone good from 0 kW to 20 kW, '
    'with round ends, segments every 20 kW',
)


def drawn(sentence: str, chance: random.Random) -> Drawing | None:
    """The sentence in a place of a random size on one of several panels; None where it does not fit."""
    size = chance.randint(80, 420), chance.randint(60, 320)
    made, _ = arranged(sentence, size, chance.choice((0.12, 0.17, 0.25)), chance.choice((500.0, 700.0)))
    return made.drawing if made.drawing.screens[0].operations else None


@pytest.mark.parametrize("sentence", SCALES)
def test_figures_of_a_scale_keep_clear(sentence: str) -> None:
    chance = random.Random(sentence)
    seen, fewest, most = 0, 99, 0
    while seen < 6:
        drawing = drawn(sentence, chance)
        if drawing is None:
            continue
        seen += 1
        operations = drawing.screens[0].operations
        pixels = [lit(drawing, 0, index) for index in range(len(operations))]
        texts = [index for index, each in enumerate(operations) if isinstance(each, Run)]
        for index in texts:
            for other, operation in enumerate(operations):
                # A needle passes over figures and goes on; the bar's own filling is beside them.
                if other != index and not isinstance(operation, Pointer | Reveal):
                    assert not touch(pixels[index], pixels[other]), (operations[index].box, operation)
        fewest, most = min(fewest, len(texts)), max(most, len(texts))
    assert fewest >= 2
    assert most > fewest or "every 20" in sentence


@pytest.mark.parametrize("pitch", [0.12, 0.17, 0.25])
def test_an_option_keeps_clear_of_its_light(pitch: float) -> None:
    for height in range(30, 110, 4):
        made, found = arranged(
            'choice motor.mode of "Calm" or "Normal" or "Hill"', (600, height), pitch, 700.0
        )
        operations = made.drawing.screens[0].operations
        if not operations:
            assert {each.code for each in found if each.severity.value == "error"} <= {"A350", "A351"}
            continue
        runs = [each.box for each in operations if isinstance(each, Run) and each.when is None]
        lights = [each.box for each in operations if isinstance(each, Frame) and each.box.height * pitch < 2]
        assert len(runs) == 3 and len(lights) >= 3
        assert all(above(run, light) for run in runs for light in lights if across(run, light))
        assert len({run.top + run.height for run in runs if run.height == runs[0].height}) == 1


def above(text: Box, light: Box) -> bool:
    return text.top + text.height < light.top


def across(one: Box, other: Box) -> bool:
    return one.left < other.left + other.width and other.left < one.left + one.width
