"""A dial says its value: where its needle points, and how far its arc is filled, measured in pixels from
the sentence alone."""

from __future__ import annotations

import math
import random
from functools import cache

import pytest
from PIL import Image

from hmic.arrange.compose import Arranged
from hmic.compile.compiling import Compiled
from hmic.paint.operations import Pointer, Reveal
from hmic.show.screens import raw_values
from tests.arrange.test_within_its_place import arranged
from tests.tools.lit_pixels import lit
from tests.tools.widget_pictures import dunlin

SWEEPS = ((-135, 135), (-90, 90), (135, -135), (0, 360), (-90, 0), (0, 90), (-150, 60), (200, -40))
LOW, HIGH = -60.0, 100.0


@cache
def made(words: str) -> Arranged:
    sentence = f"dial motor.power from {LOW:g} kW to {HIGH:g} kW, {words}"
    result, found = arranged(sentence, (300, 300), 0.17, 500.0)
    assert not [each for each in found if each.severity.value == "error"], found
    return result


def shown(arrangement: Arranged, kind: type, power: float, which: int = 0) -> Image.Image:
    """What the ``which``-th operation of a kind lights at a value."""
    drawing = arrangement.drawing
    compiled = Compiled(dunlin(), arrangement, ())
    raw = raw_values(compiled, {"motor.power": power, "motor.temperature": 20.0})
    places = [at for at, each in enumerate(drawing.screens[0].operations) if isinstance(each, kind)]
    return lit(drawing, 0, places[which], raw)


def axis(arrangement: Arranged) -> tuple[float, float]:
    """The middle of the hub, or of the circle that the rim is part of, from painted pixels of two needles."""
    ends = [tip_and_foot(shown(arrangement, Pointer, value)) for value in (LOW, 0.0)]
    (ax, ay, bx, by), (cx, cy, dx, dy) = ends
    across = (ax - bx) * (cy - dy) - (ay - by) * (cx - dx)
    first, second = ax * by - ay * bx, cx * dy - cy * dx
    return (first * (cx - dx) - (ax - bx) * second) / across, (
        first * (cy - dy) - (ay - by) * second
    ) / across


def tip_and_foot(image: Image.Image) -> tuple[float, float, float, float]:
    """The axis of inertia of the lit pixels, as two points on it."""
    pixels = [(at % image.width, at // image.width) for at, value in enumerate(image.tobytes()) if value]
    x, y = (sum(each) / len(pixels) for each in zip(*pixels, strict=True))
    xx = sum((at[0] - x) ** 2 for at in pixels)
    yy = sum((at[1] - y) ** 2 for at in pixels)
    xy = sum((at[0] - x) * (at[1] - y) for at in pixels)
    angle = math.atan2(2 * xy, xx - yy) / 2
    return x, y, x + 100 * math.cos(angle), y + 100 * math.sin(angle)


@pytest.mark.parametrize("sweep", SWEEPS)
@pytest.mark.parametrize("needle", ["tapered", "line", "tailed"])
def test_the_needle_points_at_its_value(sweep: tuple[int, int], needle: str) -> None:
    first, last = sweep
    dial = made(f"sweep from {first}° to {last}°, needle {needle}")
    across, along = axis(dial)
    chance = random.Random(f"{sweep}{needle}")
    for value in (LOW, HIGH, *(chance.uniform(LOW, HIGH) for _ in range(4))):
        image = shown(dial, Pointer, value)
        x, y, *_ = tip_and_foot(image)
        bearing = math.degrees(math.atan2(x - across, along - y))
        wanted = first + (last - first) * (value - LOW) / (HIGH - LOW)
        assert abs(math.remainder(bearing - wanted, 360)) < 2.0, (value, bearing, wanted)


@pytest.mark.parametrize("sweep", SWEEPS[:6])
def test_the_arc_is_filled_from_zero_to_its_value(sweep: tuple[int, int]) -> None:
    """But for round ends. The first reveal covers again what lies below the value, the second is above zero:
    the ends everything or nothing is lit, between them a part in proportion."""
    dial = made(f"sweep from {sweep[0]}° to {sweep[1]}°, with arc")

    def count(power: float, which: int) -> int:
        return sum(value > 0 for value in shown(dial, Reveal, power, which).tobytes())

    whole_below, whole_above = count(0.0, 0), count(HIGH, 1)
    assert count(LOW, 0) < 0.06 * whole_below and count(-LOW, 0) == whole_below
    assert count(0.0, 1) < 0.06 * whole_above and count(LOW, 1) == 0
    for part in (0.25, 0.5, 0.8):
        assert count(LOW * part, 0) == pytest.approx((1 - part) * whole_below, rel=0.05, abs=450)
        assert count(HIGH * part, 1) == pytest.approx(part * whole_above, rel=0.05, abs=450)


def test_more_of_the_value_never_lights_less() -> None:
    dial = made("with arc")
    before = 0
    for value in range(-60, 101, 5):
        now = sum(each > 0 for each in shown(dial, Reveal, float(value), 1).tobytes())
        assert now >= before
        before = now


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("sweep from 0° to 20°", "A384"),
        ("sweep from 0° to 400°", "A384"),
        ("sweep from 0 to 90", "M214"),
        ("as \"0 kW\", centred, needle tapered", "A385"),
        ("needle none", "A385"),
        ("needle bent", "A386"),
        ("figures around", "A386"),
        ("fine marks every 5 kW", "A325"),
        ("marks every 20 kW, fine marks every 0.1 kW", "A325"),
        ("target pack.voltage", "M212"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_told_once(words: str, code: str) -> None:
    _, found = arranged(f"dial motor.power from -60 kW to 100 kW, {words}", (300, 300), 0.17, 500.0)
    assert [each.code for each in found] == [code], found
    assert found[0].remedy
