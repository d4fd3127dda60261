"""What an operation can light, against all that it paints over every value of its channels."""

from __future__ import annotations

from itertools import product

import pytest
from PIL import Image, ImageChops

from hmic.check.pixel_reach import Reach, common
from hmic.paint.operations import (
    COMMA,
    NO_MASK,
    Axis,
    Box,
    Drawing,
    Figures,
    FigureSet,
    Fill,
    Frame,
    Glyph,
    Image565,
    Ink,
    Letter,
    Letters,
    LetterSet,
    Mask,
    Moment,
    Operation,
    Outline,
    Picture,
    Pointer,
    Reveal,
    Run,
    ScreenDrawing,
    Stencil,
    Theme,
)
from hmic.paint.painter import Painter
from tests.tools.changed import replace

WHITE = (255, 255, 255)
PANEL = Box(0, 0, 40, 24)
NUMBERS = 199
"""Steps of channel 0, -99 to 99; channel 1 has the three letters and an end."""

# Coverage 3 is not lit, 4 is: more than a quarter.
SOFT = Mask(4, 3, bytes((0, 3, 4, 15, 15, 4, 3, 0, 8, 8, 0, 2)))
CORNER = Mask(3, 2, bytes((0, 3, 15, 4, 15, 15)))


def stroke(number: int) -> Mask:
    """A glyph 4 wide and 6 high that is unlike the others."""
    return Mask(4, 6, bytes(15 if (number * 37 >> at % 7) + at & 1 else 0 for at in range(24)))


MASKS = (SOFT, CORNER, *map(stroke, range(18)))
FIGURES = FigureSet(5, 3, 8, tuple(Glyph(2 + at, at % 2, at % 3) for at in range(18)))
LETTER_SET = LetterSet(
    9, tuple(Letter(Glyph(2 + at, 0, at), 4) for at in range(3)), (Letter(Glyph(9, 0, 1), 4),) * 3
)
NEEDLE = Outline(
    4,
    tuple(
        ((16 * x, 32), (16 * x + 40, 32), (16 * x + 40, 150), (16 * x, 150))
        for x in (0, 3, 8, 13)
    ),
)
SPOTTED = Image565(3, 2, b"\xff" * 12, bytes((0, 3, 4, 15, 8, 0)))
PLAIN = Image565(3, 2, b"\xff" * 12)


def drawing(*operations: Operation) -> Drawing:
    theme = Theme("day", ((0, 0, 0), WHITE, WHITE), 80)
    screen = ScreenDrawing("all", operations, (0, 1, 2), ())
    tables = ((FIGURES,), (NUMBERS, 4, 4), (screen,), 0, (NEEDLE,), (LETTER_SET,), (SPOTTED, PLAIN))
    return Drawing(PANEL.width, PANEL.height, 24, (theme,), MASKS, (), *tables)


LIT = [255 if level >= 4 * 17 else 0 for level in range(256)]


def painted(operation: Operation) -> Image.Image:
    """255 on each pixel that is more than a quarter lit for some values, live or in doubt."""
    one = drawing(operation)
    painter, found = Painter(one), Image.new("L", (PANEL.width, PANEL.height))
    counts = [steps + 3 for steps in one.channels]
    values = [(value, 3, 3) for value in range(counts[0])]
    values += [(3, *each) for each in product(range(counts[1]), range(counts[2]))]
    for raw in values:
        shown = painter.paint(Moment(0, 0, raw)).getchannel("G")
        found = ImageChops.lighter(found, shown.point(LIT))
    return found


EXACT: list[Operation] = [
    Fill(Box(3, 4, 5, 6), Ink(2)),
    Stencil(Box(3, 4, 9, 9), 0, Ink(2)),
    Run(Box(3, 4, 20, 9), (Glyph(0, 0, 0), Glyph(3, 5, 2), Glyph(0, 9, 1)), Ink(2)),
    Frame(Box(3, 4, 11, 9), 1, Ink(2)),
    Reveal(Box(3, 4, 4, 3), 2, Axis.RIGHTWARD, 0, 0, Ink(2)),
    Reveal(Box(3, 4, 4, 3), 2, Axis.RIGHTWARD, 4, NO_MASK, Ink(2)),
    Picture(Box(3, 4, 3, 2), 0),
    Picture(Box(3, 4, 9, 9), 1),
    Pointer(Box(5, 3, 30, 20), 2, 0, Ink(2)),
    Pointer(Box(20, 15, 20, 9), 2, 0, Ink(2)),
]


@pytest.mark.parametrize("operation", EXACT, ids=lambda operation: type(operation).__name__)
def test_what_can_be_lit_is_what_some_value_lights(operation: Operation) -> None:
    if isinstance(operation, Pointer):
        # Every step of the channel: the fourth shape is met too.
        assert len(NEEDLE.polygons) == 4
    can = Reach(drawing(operation)).lit(operation, PANEL)
    assert ImageChops.difference(can, painted(operation)).getbbox() is None


@pytest.mark.parametrize("operation", EXACT, ids=lambda operation: type(operation).__name__)
@pytest.mark.parametrize(
    "within", [Box(4, 5, 6, 7), Box(0, 0, 4, 5), Box(10, 3, 30, 3), Box(39, 23, 1, 1), Box(7, 6, 1, 30)]
)
def test_within_a_part_it_is_that_part_of_it(operation: Operation, within: Box) -> None:
    reach = Reach(drawing(operation))
    left, top, width, height = within
    whole = reach.lit(operation, PANEL).crop((left, top, left + width, top + height))
    assert ImageChops.difference(reach.lit(operation, within), whole).getbbox() is None


@pytest.mark.parametrize(("point", "after"), [(0, 0), (0, 1), (COMMA, 1), (COMMA, 0)])
@pytest.mark.parametrize("least", [0, 1, 2])
def test_figures_can_light_any_digit_mark_and_sign_of_each_place(point: int, after: int, least: int) -> None:
    """Of -99 to 99. A sign stands left of as many figures as there are at least, and of more."""
    number = Figures(Box(6, 4, 26, 8), 0, 0, -99, 1, least, 2, point, after, True, False, Ink(2))
    can = Reach(drawing(number)).lit(number, PANEL)
    assert ImageChops.difference(painted(number), can).getbbox() is None
    # With a third place there is room for figures that do not come.
    longer = Reach(drawing(number)).lit(replace(number, places=3), PANEL)
    assert ImageChops.subtract(can, longer).getbbox() is None and longer != can


def test_letters_can_light_the_rows_of_the_tallest_and_the_deepest() -> None:
    text = Letters(Box(6, 4, 20, 9), 1, 2, 0, Ink(2))
    can = Reach(drawing(text)).lit(text, PANEL)
    # Letters begin 0, 1 and 2 rows down, and are 6 high.
    assert can.getbbox() == (6, 4, 26, 12) and can.histogram()[255] == 20 * 8
    assert ImageChops.subtract(painted(text), can).getbbox() is None
    low = replace(text, box=Box(6, 4, 20, 7))
    assert Reach(drawing(low)).lit(low, PANEL).getbbox() == (6, 4, 26, 11)


def test_what_two_have_in_common() -> None:
    reach = Reach(drawing())
    one, other = Fill(Box(2, 3, 5, 5), Ink(2)), Fill(Box(6, 7, 9, 9), Ink(2))
    assert common(reach.lit(one, PANEL), reach.lit(other, PANEL)) == (6, 7, 7, 8)
    beside = Fill(Box(7, 7, 9, 9), Ink(2))
    assert common(reach.lit(one, PANEL), reach.lit(beside, PANEL)) is None
