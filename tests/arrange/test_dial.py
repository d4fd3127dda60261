"""A dial says its value: where its needle points, and how far its arc is filled, measured in pixels from
the sentence alone."""

from __future__ import annotations

import math
import random
import re
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image, ImageChops

from hmic.arrange.compose import Arranged
from hmic.compile.compiling import Compiled
from hmic.paint.operations import (
    OUT_OF_RANGE,
    STALE,
    UNSEEN,
    Figures,
    Moment,
    Pointer,
    Reveal,
    Stencil,
)
from hmic.paint.painter import Painter
from hmic.show.screens import raw_values
from tests.arrange.test_within_its_place import arranged
from tests.tools.lit_pixels import levels, lit, touch
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
    ends = [tip_and_foot(shown(arrangement, Pointer, value, -1)) for value in (LOW, 0.0)]
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


@pytest.mark.parametrize(
    ("form", "sweep"),
    [("with arc", (-135, 135)), ("with growing arc", (-135, 135)), ("with arc", (90, -120))],
)
@pytest.mark.parametrize("power", [-41.0, -7.0, 23.7, 88.0])
def test_the_front_of_an_arc_is_half_a_circle(form: str, sweep: tuple[int, int], power: float) -> None:
    """A circle laid through the edge of what is painted ahead of the value: nothing of the edge lies away
    from it, and it is soft by no more than a pixel."""
    dial = large(f"{form}, without marks, sweep from {sweep[0]}° to {sweep[1]}°")
    operations = dial.drawing.screens[0].operations
    raw = raw_values(Compiled(dunlin(), dial, ()), {"motor.power": power, "motor.temperature": 20.0})
    end = next(at for at, each in enumerate(operations) if isinstance(each, Pointer))
    whole = levels(dial.drawing, 0, end, raw)
    for at, each in enumerate(operations):
        if isinstance(each, Reveal) and power > 0:
            whole = ImageChops.lighter(whole, levels(dial.drawing, 0, at, raw))
    bearing = math.radians(sweep[0] + (sweep[1] - sweep[0]) * (power - LOW) / (HIGH - LOW))
    turn = 1 if (power > 0) == (sweep[1] > sweep[0]) else -1
    ahead = (turn * math.cos(bearing), turn * math.sin(bearing))
    wide, pixels, nose = whole.width, whole.tobytes(), levels(dial.drawing, 0, end, raw).tobytes()
    beside = (-1, 1, -wide, wide)
    edge = [
        (here % wide, here // wide)
        for here, level in enumerate(pixels)
        if min(level, nose[here]) >= 128 and any(pixels[here + there] < 128 for there in beside)
    ]
    front = max(x * ahead[0] + y * ahead[1] for x, y in edge)
    across, along, radius = circle([at for at in edge if at[0] * ahead[0] + at[1] * ahead[1] > front - 8])
    middle = across * ahead[0] + along * ahead[1]
    round_ = [at for at in edge if at[0] * ahead[0] + at[1] * ahead[1] > middle + 1]
    assert len(round_) > 2 * radius
    assert max(abs(math.hypot(x - across, y - along) - radius) for x, y in round_) < 0.9
    soft = sum(
        0 < nose[x + wide * y] < 255
        for y in range(whole.height)
        for x in range(wide)
        if x * ahead[0] + y * ahead[1] > middle + 1
    )
    assert soft < 2.2 * len(round_)


@cache
def large(words: str) -> Arranged:
    """A dial on which a step of the filling is several pixels."""
    sentence = f"dial motor.power from {LOW:g} kW to {HIGH:g} kW, {words}"
    result, found = arranged(sentence, (470, 470), 0.15, 500.0)
    assert not [each for each in found if each.severity.value == "error"], found
    return result


def circle(points: list[tuple[int, int]]) -> tuple[float, float, float]:
    """The middle and radius of the circle through points that leaves the least squares (Kasa)."""
    rows = np.array([(2 * x, 2 * y, 1) for x, y in points], float)
    squares = np.array([x * x + y * y for x, y in points], float)
    (across, along, rest), *_ = np.linalg.lstsq(rows, squares, rcond=None)
    return across, along, math.sqrt(rest + across * across + along * along)


FORMS = (
    "marks every 20 kW",
    "marks every 20 kW, figures outside",
    "with arc",
    "with growing arc, centred, text 16 arcmin",
    "centred, text 14 arcmin, marks every 40 kW",
    "needle tailed, sweep from -90° to 90°",
    "sweep from 0° to 360°, needle tailed",
    "sweep from 0° to 360°, centred, text 12 arcmin",
    "sweep from -90° to 0°",
    "sweep from 0° to 90°, needle line",
    "sweep from 45° to 135°",
    "sweep from 135° to 225°, needle tailed",
    "sweep from -170° to 170°",
    "sweep from -150° to 60°, target motor.power, also motor.power, peak held 2 s",
)


@pytest.mark.parametrize("words", FORMS)
def test_the_number_keeps_clear_of_all_that_a_dial_has(words: str) -> None:
    """Of figures, marks and hub, and of the needle wherever it stands."""
    drawn = 0
    for side in range(120, 481, 45):
        sentence = f'dial motor.power from {LOW:g} kW to {HIGH:g} kW, as "0 kW", {words}'
        result, found = arranged(sentence, (side, side), 0.17, 500.0)
        operations = result.drawing.screens[0].operations
        if not operations:
            assert {each.code for each in found} <= {"A350", "A351"}
            continue
        drawn += 1
        compiled = Compiled(dunlin(), result, ())
        (number,) = (at for at, each in enumerate(operations) if isinstance(each, Figures))
        for power in (LOW, *(LOW + (HIGH - LOW) * part / 12 for part in range(1, 12)), HIGH):
            raw = raw_values(compiled, {"motor.power": power})
            digits = lit(result.drawing, 0, number, raw)
            for at, operation in enumerate(operations):
                moved = isinstance(operation, Pointer | Reveal)
                if at != number and (moved or power in (LOW, HIGH)):
                    other = lit(result.drawing, 0, at, raw)
                    assert not touch(digits, other), (side, power, type(operation).__name__)
    assert drawn >= 5


ZONES = "zone good from -20 kW to 10 kW, caution above 60 kW, danger above 80 kW"


@pytest.mark.parametrize("words", ["", ", with arc", ", sweep from 90° to -90°"])
def test_a_zone_lies_at_its_stretch_in_its_colour(words: str) -> None:
    dial = made(f"needle line, without marks, {ZONES}{words}")
    across, along = axis(dial)
    colours, roles = dial.drawing.themes[0].colours, dunlin().themes[0].roles
    first, last = (90, -90) if "sweep" in words else (-135, 135)
    wanted = {"good": (-20.0, 10.0), "caution": (60.0, 80.0), "danger": (80.0, HIGH)}
    for role, ends in wanted.items():
        (at,) = (
            at
            for at, each in enumerate(dial.drawing.screens[0].operations)
            if isinstance(each, Stencil) and colours[each.ink.first] == roles[role]
        )
        image = lit(dial.drawing, 0, at)
        bearings = [
            math.degrees(math.atan2(where % image.width + 0.5 - across, along - where // image.width - 0.5))
            for where, value in enumerate(image.tobytes())
            if value
        ]
        should = sorted(first + (last - first) * (end - LOW) / (HIGH - LOW) for end in ends)
        assert abs(min(bearings) - should[0]) < 2 and abs(max(bearings) - should[1]) < 2, role


def test_a_growing_arc_is_wider_the_further_from_zero() -> None:
    dial = made("with growing arc, without marks, sweep from -135° to 135°")
    widths = []
    for power in (10.0, 36.0, 62.0, 88.0):
        more = shown(dial, Reveal, power + 8, 1).tobytes()
        less = shown(dial, Reveal, power - 8, 1).tobytes()
        widths.append(sum(a > 0 and b == 0 for a, b in zip(more, less, strict=True)))
    assert all(b > a * 1.2 for a, b in pairwise(widths)), widths


@pytest.mark.parametrize("doubt", [UNSEEN, STALE, OUT_OF_RANGE])
def test_no_hub_stays_bright_while_the_value_is_in_doubt(doubt: int) -> None:
    """Neither hub nor needle: nothing in the colour of the ink is left on a dial without a number."""
    dial = made("marks every 20 kW")
    drawing = dial.drawing
    ink = dunlin().themes[0].roles["ink"]
    live = raw_values(Compiled(dunlin(), dial, ()), {"motor.power": 20.0})
    for raw, bright in ((live, True), ((doubt,) * len(drawing.channels), False)):
        image = Painter(drawing).paint(Moment(0, 0, raw))
        middle = image.crop(hub_of(dial))
        assert (ink in {colour for _, colour in middle.getcolors() or ()}) == bright


def hub_of(dial: Arranged) -> tuple[int, int, int, int]:
    box = next(
        each.box
        for each in reversed(dial.drawing.screens[0].operations)
        if isinstance(each, Stencil) and each.box.width == each.box.height < 40
    )
    return box.left, box.top, box.left + box.width, box.top + box.height


@pytest.mark.parametrize(
    ("words", "texts"),
    [
        ("needle line", {"−60", "−40", "−20", "0", "20", "40", "60", "80", "100"}),
        ("without marks", set()),
        ("marks every 50 kW", {"−50", "0", "50", "100"}),
    ],
)
def test_marks_of_which_nothing_is_said_are_round(words: str, texts: set[str]) -> None:
    assert {each.text for each in made(words).screens[0].texts} == texts


def test_usual_marks_leave_a_dial_its_size() -> None:
    for side in range(100, 400, 25):
        reach = []
        for words in ("", ", without marks"):
            sentence = f"dial motor.power from -60 kW to 100 kW{words}"
            result, _ = arranged(sentence, (side, side), 0.17, 500.0)
            operations = result.drawing.screens[0].operations
            reach.append(next((each.box for each in operations if isinstance(each, Pointer)), None))
        assert reach[0] == reach[1], side


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
        ("zone good from 200 kW to 300 kW", "A387"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_told_once(words: str, code: str) -> None:
    _, found = arranged(f"dial motor.power from -60 kW to 100 kW, {words}", (300, 300), 0.17, 500.0)
    assert [each.code for each in found] == [code], found
    assert found[0].remedy


@pytest.mark.parametrize(
    ("words", "side", "least"),
    [
        ('as "0 kW"', 150, 16),
        ('as "0 kW", centred', 190, 16),
        ('as "0.0 kW", centred, decimals small, with arc', 250, 26),
        ('as "0 kW", centred', 150, None),
    ],
)
def test_smaller_text_that_is_proposed_fits_and_no_larger_does(
    words: str, side: int, least: int | None
) -> None:
    """None is proposed where the least that can be acted on does not fit."""

    def told(arcmin: int) -> str:
        said = f"dial motor.power from {LOW:g} kW to {HIGH:g} kW, {words}, text {arcmin} arcmin"
        _, found = arranged(said, (side, side), 0.15, 500.0)
        return next((str(each.remedy) for each in found if each.code in ("A350", "A351")), "")

    way = re.search(r"write text (\d+) arcmin", told(60))
    if least is None:
        assert way is None and told(16)
    else:
        assert way is not None and int(way[1]) >= least
        assert not told(int(way[1])) and told(int(way[1]) + 2)
