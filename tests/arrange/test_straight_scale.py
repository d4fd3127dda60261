"""A bar or level says its value, its zones and its target, measured in pixels from the sentence alone."""

from __future__ import annotations

import random
from functools import cache

import pytest
from PIL import Image

from hmic.arrange.compose import Arranged
from hmic.compile.compiling import Compiled
from hmic.paint.operations import Axis, Box, Fill, Moment, Reveal, Run, Slide, Stencil
from hmic.paint.painter import Painter
from hmic.show.screens import raw_values
from tests.arrange.test_within_its_place import arranged
from tests.tools.lit_pixels import levels, lit, touch
from tests.tools.widget_pictures import dunlin

LOW, HIGH = -60.0, 100.0
WAYS = ("upward", "downward", "rightward", "leftward")


@cache
def made(sentence: str, size: tuple[int, int] = (300, 300)) -> Arranged:
    result, found = arranged(sentence, size, 0.17, 500.0)
    assert not [each for each in found if each.severity.value == "error"], found
    return result


def bar(words: str, size: tuple[int, int] = (300, 300)) -> Arranged:
    return made(f"bar motor.power from {LOW:g} kW to {HIGH:g} kW, {words}", size)


def places(arrangement: Arranged, kind: type) -> list[int]:
    return [at for at, each in enumerate(arrangement.drawing.screens[0].operations) if isinstance(each, kind)]


def shown(arrangement: Arranged, at: int, power: float = 20.0) -> Image.Image:
    """What an operation lights at a value of the bar."""
    values = {"motor.power": power, "pack.charge": power, "charge.limit": power}
    raw = raw_values(Compiled(dunlin(), arrangement, ()), values)
    return lit(arrangement.drawing, 0, at, raw)


def track(arrangement: Arranged) -> tuple[Box, Axis]:
    reveal = arrangement.drawing.screens[0].operations[places(arrangement, Reveal)[0]]
    assert isinstance(reveal, Reveal)
    return reveal.box, reveal.axis


def along(box: Box, axis: Axis, value: float) -> float:
    """The pixel at which a value of the scale stands, of x or y."""
    part = (value - LOW) / (HIGH - LOW)
    match axis:
        case Axis.UPWARD:
            return box.top + box.height * (1 - part)
        case Axis.DOWNWARD:
            return box.top + box.height * part
        case Axis.LEFTWARD:
            return box.left + box.width * (1 - part)
        case _:
            return box.left + box.width * part


def extent(image: Image.Image, upright: bool) -> tuple[int, int]:
    found = image.getbbox()
    assert found is not None
    return (found[1], found[3]) if upright else (found[0], found[2])


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("more", ["", ", with round ends", ", segments every 20 kW", ", marks every 20 kW"])
def test_the_target_points_at_its_value(way: str, more: str) -> None:
    made_bar = bar(f"{way}, target motor.power{more}")
    box, axis = track(made_bar)
    (slide,) = places(made_bar, Slide)
    chance = random.Random(way + more)
    for value in (LOW, HIGH, 0.0, *(chance.uniform(LOW, HIGH) for _ in range(5))):
        first, last = extent(shown(made_bar, slide, value), axis in (Axis.UPWARD, Axis.DOWNWARD))
        assert abs((first + last) / 2 - along(box, axis, value)) <= 1.0, value


@pytest.mark.parametrize("way", WAYS)
def test_a_zone_lies_at_its_stretch_in_its_colour(way: str) -> None:
    made_bar = bar(f"{way}, caution above 60 kW, danger above 80 kW, zone good from -20 kW to 10 kW")
    box, axis = track(made_bar)
    drawing = made_bar.drawing
    colours = drawing.themes[0].colours
    roles = dunlin().themes[0].roles
    wanted = {roles["good"]: (-20.0, 10.0), roles["caution"]: (60.0, 80.0), roles["danger"]: (80.0, HIGH)}
    found = {}
    for at in places(made_bar, Fill):
        operation = drawing.screens[0].operations[at]
        assert isinstance(operation, Fill)
        colour = colours[operation.ink.first]
        if colour in wanted:
            assert not touch(shown(made_bar, at), shown(made_bar, places(made_bar, Reveal)[0], HIGH))
            found[colour] = extent(shown(made_bar, at), axis in (Axis.UPWARD, Axis.DOWNWARD))
    assert set(found) == set(wanted)
    for colour, (low, high) in wanted.items():
        ends = sorted((along(box, axis, low), along(box, axis, high)))
        assert all(abs(a - b) <= 1 for a, b in zip(found[colour], ends, strict=True))


def test_the_gravest_is_shown_where_zones_meet_limits() -> None:
    """A zone that says that all is well never covers a limit."""
    made_bar = bar("danger above 80 kW, zone good from -60 kW to 100 kW, zone notice from 0 kW to 90 kW")
    drawing = made_bar.drawing
    colours, roles = drawing.themes[0].colours, dunlin().themes[0].roles
    order = [
        colours[each.ink.first]
        for each in sorted(
            (each for each in drawing.screens[0].operations if isinstance(each, Fill)),
            key=lambda fill: fill.box.left,
        )
        if colours[each.ink.first] in (roles["good"], roles["notice"], roles["danger"])
    ]
    assert order == [roles["good"], roles["notice"], roles["danger"]] + [roles["danger"]] * (len(order) - 3)


@pytest.mark.parametrize("way", WAYS)
def test_round_ends_and_segments_do_not_move_the_value(way: str) -> None:
    """The front of the filling stands where that of a plain bar does."""
    for more in ("with round ends", "segments every 10 kW"):
        plain, other = bar(f"{way}, without marks"), bar(f"{way}, without marks, {more}")
        assert track(plain) == track(other)
        upright = track(plain)[1] in (Axis.UPWARD, Axis.DOWNWARD)
        for value in (33.0, -27.0, 71.0):
            ends = [
                extent(shown(each, places(each, Reveal)[0], value), upright) for each in (plain, other)
            ]
            # A gap between segments may lie at the front or at zero.
            assert all(abs(a - b) <= 4 for a, b in zip(*ends, strict=True)), (more, value, ends)


def test_segments_are_as_many_as_said() -> None:
    made_bar = bar("rightward, segments every 20 kW, without marks")
    (at,) = places(made_bar, Stencil)
    box, _ = track(made_bar)
    row = shown(made_bar, at).crop((box.left, box.top + 5, box.left + box.width, box.top + 6)).tobytes()
    starts = sum(value and not before for before, value in zip(b"\0" + row, row, strict=False))
    assert starts == 8
    level = made("level pack.charge from 0 % to 100 %, segments every 25 %")
    image = shown(level, places(level, Stencil)[0])
    found = image.getbbox()
    assert found is not None
    middle = (found[0] + found[2]) // 2
    column = image.crop((middle, found[1], middle + 1, found[3])).tobytes()
    assert sum(value and not before for before, value in zip(b"\0" + column, column, strict=False)) == 4


@pytest.mark.parametrize("way", WAYS)
def test_figures_inside_are_dark_on_the_filling_and_light_elsewhere(way: str) -> None:
    """On every pixel that they cover wholly, at every value; nothing is left of them in doubt."""
    made_bar = bar(f"{way}, figures inside, marks every 20 kW, with round ends")
    drawing, roles = made_bar.drawing, dunlin().themes[0].roles
    fill, *figures = places(made_bar, Reveal)
    assert len(figures) == 3
    everything = [levels(drawing, 0, at, raw_at(made_bar, end)) for at in figures for end in (LOW, HIGH)]
    solid = [max(each) == 255 for each in zip(*(image.tobytes() for image in everything), strict=True)]
    assert sum(solid) > 150
    for value in (LOW, -33.0, 0.0, 1.0, 47.0, 79.0, HIGH):
        raw = raw_at(made_bar, value)
        image = Painter(drawing).paint(Moment(0, 0, raw))
        filled = lit(drawing, 0, fill, raw).tobytes()
        for at, (whole, inside) in enumerate(zip(solid, filled, strict=True)):
            if whole:
                wanted = roles["ground" if inside else "ink"]
                assert image.getpixel((at % image.width, at // image.width)) == wanted, (value, at)
    for doubt in range(3):
        raw = (doubt,) * len(drawing.channels)
        assert not any(lit(drawing, 0, at, raw).getbbox() for at in figures)


def raw_at(arrangement: Arranged, power: float) -> tuple[int, ...]:
    return raw_values(Compiled(dunlin(), arrangement, ()), {"motor.power": power})


@pytest.mark.parametrize("height", range(70, 130, 6))
def test_a_number_beside_a_level_takes_nothing_of_its_height(height: int) -> None:
    words = "level pack.charge from 0 % to 100 %, shaped battery"
    alone = made(words, (400, height))
    beside = made(f'{words}, as "0 %", beside', (400, height))
    first, second = (track(each)[0] for each in (alone, beside))
    assert (first.width, first.height) == (second.width, second.height)
    operations = beside.drawing.screens[0].operations
    images = [lit(beside.drawing, 0, at) for at in range(len(operations))]
    figures = [at for at, each in enumerate(beside.screens[0].texts) if each.reading]
    assert figures
    texts = [at for at, each in enumerate(operations) if isinstance(each, Run)]
    for at in texts:
        assert not any(touch(images[at], image) for other, image in enumerate(images) if other != at)


@pytest.mark.parametrize(
    ("sentence", "texts"),
    [
        ("bar motor.power from -60 kW to 100 kW, upward", ["−50", "0", "50", "100"]),
        ("bar motor.power from -60 kW to 100 kW, upward, without marks", []),
        ("bar pack.charge from 0 % to 100 %, upward", ["0", "20", "40", "60", "80", "100"]),
        ("bar pack.charge from 0 % to 100 %, upward, marks every 50 %", ["0", "50", "100"]),
        ("bar motor.power from -60 kW to 100 kW, upward, figures none", []),
    ],
)
def test_marks_of_which_nothing_is_said_are_round(sentence: str, texts: list[str]) -> None:
    assert [each.text for each in made(sentence, (200, 160)).screens[0].texts] == texts


@pytest.mark.parametrize("kind", ["upward", "rightward"])
def test_usual_marks_take_nothing_of_the_bar(kind: str) -> None:
    for side in range(30, 140, 5):
        size = (side, 200) if kind == "upward" else (200, side)
        bare, usual = bar(f"{kind}, without marks", size), bar(kind, size)
        widths = [
            box.width if kind == "upward" else box.height for box in (track(bare)[0], track(usual)[0])
        ]
        assert widths[0] == widths[1], side


@pytest.mark.parametrize(
    ("sentence", "code"),
    [
        ("bar motor.power from -60 kW to 100 kW, zone good from 20 kW to 10 kW", "A344"),
        ("bar motor.power from -60 kW to 100 kW, zone good from 110 kW to 120 kW", "A387"),
        ("bar motor.power from -60 kW to 100 kW, zone good from 10 V to 20 V", "M212"),
        ("bar motor.power from -60 kW to 100 kW, segments every 1 kW", "A325"),
        ("bar motor.power from -60 kW to 100 kW, segments every 0 kW", "A325"),
        ("bar motor.power from -60 kW to 100 kW, figures within", "A386"),
        ("level pack.charge from 0 % to 100 %, figures outside", "A386"),
        ("bar motor.power from -60 kW to 100 kW, beside", "A302"),
    ],
)
def test_what_cannot_be_is_told_once(sentence: str, code: str) -> None:
    _, found = arranged(sentence, (300, 300), 0.17, 500.0)
    assert [each.code for each in found] == [code], found
    assert found[0].remedy
