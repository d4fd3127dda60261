"""The ring of a control that is held, in pixels: it fills clockwise from the top, and only while pressed."""

from __future__ import annotations

import math

import pytest
from PIL import Image, ImageChops

from hmic.compile.compiling import Compiled
from hmic.model.channels import raw_value
from hmic.model.samples import sample_values
from hmic.model.touch_progress import HOLD_PREFIX, TOUCH_PREFIX, TouchState
from hmic.model.values import Value
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from tests.tools.widget_pictures import alone, one_screen

CONTROLS = {
    "button": ('button "Clear fault", sets motor.clear_fault to on', (60, 20)),
    "tall": ('button "Clear fault", sets motor.clear_fault to on', (34, 50)),
    "slider": ('slider motor.regen from 0 % to 100 %, in steps of 5 %, as "0 %"', (64, 18)),
}


def painted(compiled: Compiled, state: str, held: float, speed: float = 0.0) -> Image.Image:
    values: dict[str, Value] = {**sample_values(compiled.design), "vehicle.speed": speed}

    def find(name: str) -> Value:
        if name.startswith(TOUCH_PREFIX):
            return state
        return held if name.startswith(HOLD_PREFIX) else values[name]

    raw = tuple(raw_value(channel, find) for channel in compiled.arranged.channels)
    return Painter(compiled.arranged.drawing).paint(Moment(0, 0, raw))


def ring(compiled: Compiled, held: float) -> list[tuple[int, int]]:
    """The pixels by which a held control differs from one that has just been pressed."""
    first, now = (painted(compiled, TouchState.PRESSED, part) for part in (0.0, held))
    changed = ImageChops.difference(first, now).convert("L").point([0] + [255] * 255)
    return [(at % now.width, at // now.width) for at, lit in enumerate(changed.tobytes()) if lit]


@pytest.mark.parametrize("kind", CONTROLS)
def test_it_fills_clockwise_all_around(kind: str) -> None:
    sentence, size = CONTROLS[kind]
    compiled = alone(one_screen(f"{sentence}, held 2 s"), size)
    box = compiled.arranged.drawing.screens[0].zones[0].box
    whole = set(ring(compiled, 1.0))
    assert whole
    before: set[tuple[int, int]] = set()
    for part in range(1, 9):
        now = set(ring(compiled, part / 8))
        assert before < now <= whole
        # What is new lies further round.
        middle = (box.left + box.width / 2, box.top + box.height / 2)
        fresh = [
            math.degrees(math.atan2((x - middle[0]) / box.width, (middle[1] - y) / box.height)) % 360
            for x, y in now - before
        ]
        if 1 < part < 8:
            assert sum(360 * (part - 2) / 8 < at < 360 * (part + 1) / 8 for at in fresh) > 0.95 * len(fresh)
        before = now
    # The control's words stand clear of it.
    inner = (box.left + 14, box.top + 14, box.left + box.width - 14, box.top + box.height - 14)
    assert not [1 for x, y in whole if inner[0] <= x < inner[2] and inner[1] <= y < inner[3]]


@pytest.mark.parametrize("state", [state for state in TouchState if state != TouchState.PRESSED])
def test_only_a_pressed_control_has_one(state: str) -> None:
    sentence, size = CONTROLS["button"]
    compiled = alone(one_screen(f"{sentence}, held 2 s"), size)
    assert painted(compiled, state, 1.0).tobytes() == painted(compiled, state, 0.0).tobytes()


def test_it_stays_empty_while_a_touch_would_be_refused() -> None:
    sentence, size = CONTROLS["button"]
    compiled = alone(one_screen(f"{sentence}, held 2 s, allowed when vehicle.speed < 1 km/h"), size)
    for speed, fills in ((0.0, True), (30.0, False)):
        one, two = (painted(compiled, TouchState.PRESSED, part, speed) for part in (0.0, 1.0))
        assert (one.tobytes() != two.tobytes()) == fills


def test_a_control_that_is_not_held_is_as_before() -> None:
    sentence, size = CONTROLS["button"]
    names = {
        name
        for channel in alone(one_screen(sentence), size).arranged.channels
        if channel.value is not None
        for name in channel.value.signals
    }
    assert not any(name.startswith(HOLD_PREFIX) for name in names)
