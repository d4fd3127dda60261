"""The bound on a screen's light against what is painted."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.check.colour import linear
from hmic.check.lit import lit
from hmic.paint.operations import (
    LIVE,
    NO_MASK,
    Axis,
    Box,
    Drawing,
    Figures,
    FigureSet,
    Fill,
    Frame,
    Glyph,
    Ink,
    Letter,
    Letters,
    LetterSet,
    Mask,
    Moment,
    Operation,
    Reveal,
    Run,
    ScreenDrawing,
    Slide,
    Stencil,
    Theme,
    Trace,
    When,
)
from hmic.paint.painter import Painter
from tests.tools.changed import replace
from tests.tools.drawings import drawings

WHITE = (255, 255, 255)
NIGHT = Theme("night", ((0, 0, 0), WHITE, WHITE), 50)


def white_on_black(drawing: Drawing) -> Drawing:
    colours = ((0, 0, 0), *[WHITE] * (len(drawing.themes[0].colours) - 1))
    return replace(drawing, depth=24, themes=(Theme("night", colours, 50),))


def painted_light(drawing: Drawing, screen: int, top: bool) -> float:
    """Light of all pixels, 1 for a white one."""
    raw = tuple(LIVE + (count - 1 if top else 0) for count in drawing.channels)
    picture = Painter(drawing).paint(Moment(screen, 0, raw))
    return sum(linear(code) for code in picture.getchannel("G").tobytes())


@settings(max_examples=150)
@given(drawings(), st.booleans())
def test_no_screen_is_lit_more_than_its_bound(drawing: Drawing, top: bool) -> None:
    drawing = white_on_black(drawing)
    for number, screen in enumerate(drawing.screens):
        # In a drawing without rule a trace is not level.
        if any(isinstance(operation, Trace) for operation in screen.operations):
            continue
        bound = sum(lit(drawing, screen.operations, at) for at in range(len(screen.operations)))
        rounding = 0.005 * drawing.width * drawing.height
        assert painted_light(drawing, number, top) <= bound + rounding


def test_a_level_trace_is_lit_no_more_than_its_bound() -> None:
    for thickness in (1, 2, 3):
        trace = Trace(Box(4, 4, 40, 30), 0, 10, 10, 20, thickness, Ink(2))
        screen = ScreenDrawing("chart", (trace,), tuple(range(11)), ())
        drawing = Drawing(60, 40, 24, (NIGHT,), (), (), (), (20,) * 10 + (10,), (screen,), 0)
        for top in (False, True):
            light = painted_light(drawing, 0, top)
            assert 0 < light <= lit(drawing, (trace,), 0)


def test_a_box_within_a_box_counts_the_rim_of_the_outer_once() -> None:
    operations = (Fill(Box(0, 0, 20, 10), Ink(2)), Fill(Box(1, 1, 18, 8), Ink(0)))
    drawing = Drawing(20, 10, 24, (NIGHT,), (), (), (), (), (), 0)
    assert lit(drawing, operations, 0) == 20 * 10 - 18 * 8


SOFT = Mask(3, 2, bytes((0, 8, 15, 15, 8, 0)))
"""46 fifteenths of a pixel."""
DOT = Mask(1, 1, bytes((15,)))
NO_GLYPH = Glyph(NO_MASK, 0, 0)


def tables(*operations: Operation) -> Drawing:
    """A drawing with a table of each kind."""
    figures = FigureSet(6, 3, 9, (Glyph(1, 0, 0), Glyph(0, 0, 0), *[Glyph(1, 0, 0)] * 16))
    letters = LetterSet(5, (Letter(NO_GLYPH, 3), Letter(Glyph(0, 0, 0), 3)), (Letter(Glyph(1, 0, 0), 3),) * 3)
    screen = ScreenDrawing("all", operations, (0,), ())
    return Drawing(60, 40, 24, (NIGHT,), (SOFT, DOT), (), (figures,), (9,), (screen,), 0, (), (letters,), ())


def bound_of(*operations: Operation) -> float:
    return lit(tables(*operations), operations, 0)


@pytest.mark.parametrize(
    ("operation", "fifteenths"),
    [
        (Stencil(Box(0, 0, 9, 9), 0, Ink(2)), 46),
        (Run(Box(0, 0, 9, 9), (Glyph(0, 0, 0), Glyph(1, 4, 0), Glyph(0, 6, 0)), Ink(2)), 46 + 15 + 46),
        # The box of a reveal or a slide where it is less than the mask, or where there is none.
        (Reveal(Box(0, 0, 9, 9), 0, Axis.RIGHTWARD, 0, 0, Ink(2)), 46),
        (Reveal(Box(0, 0, 1, 1), 0, Axis.RIGHTWARD, 0, 0, Ink(2)), 15),
        (Reveal(Box(0, 0, 9, 9), 0, Axis.RIGHTWARD, 0, NO_MASK, Ink(2)), 81 * 15),
        (Slide(Box(0, 0, 9, 9), 0, Axis.RIGHTWARD, 0, Ink(2)), 46),
        # As many of the narrower cells of 3 pixels as the box has begun, and one: of the largest glyph.
        (Figures(Box(0, 0, 30, 9), 0, 0, 0, 1, 1, 3, 0, 0, False, False, Ink(2)), 12 * 46),
        (Figures(Box(0, 0, 31, 9), 0, 0, 0, 1, 1, 3, 0, 0, False, False, Ink(2)), 12 * 46),
        (Figures(Box(0, 0, 33, 9), 0, 0, 0, 1, 1, 3, 0, 0, False, False, Ink(2)), 13 * 46),
        (Figures(Box(0, 0, 3, 1), 0, 0, 0, 1, 1, 3, 0, 0, False, False, Ink(2)), 3 * 15),
        (Letters(Box(0, 0, 50, 9), 0, 4, 0, Ink(2)), 4 * 46),
        (Letters(Box(0, 0, 2, 2), 0, 4, 0, Ink(2)), 4 * 15),
        (Trace(Box(0, 0, 40, 30), 0, 10, 10, 20, 3, Ink(2)), 40 * 5 * 15),
        (Trace(Box(0, 0, 40, 4), 0, 10, 10, 20, 3, Ink(2)), 40 * 4 * 15),
        (Fill(Box(0, 0, 7, 5), Ink(2)), 35 * 15),
    ],
)
def test_the_bound_of_each_operation_by_hand(operation: Operation, fifteenths: int) -> None:
    assert bound_of(operation) == pytest.approx(fifteenths / 15)


OUTER = Box(10, 10, 20, 10)


@pytest.mark.parametrize(
    ("over", "hidden"),
    [
        (Fill(Box(29, 19, 5, 5), Ink(0)), 1),
        (Fill(Box(30, 19, 5, 5), Ink(0)), 0),
        (Fill(Box(29, 20, 5, 5), Ink(0)), 0),
        (Fill(Box(5, 5, 6, 6), Ink(0)), 1),
        (Fill(Box(5, 5, 5, 6), Ink(0)), 0),
        (Fill(Box(11, 0, 1, 40), Ink(0)), 10),
        (Fill(Box(0, 11, 60, 1), Ink(0)), 20),
        (Fill(Box(0, 0, 60, 40), Ink(0)), 200),
        # Its corners, of 3 by 2 pixels each, may let the outer one be seen.
        (Frame(Box(10, 10, 20, 10), 0, Ink(0)), 200 - 4 * 6),
        (Frame(Box(10, 10, 4, 4), 0, Ink(0)), 0),
        # What comes and goes, and what is no place, hides nothing for sure.
        (Fill(Box(0, 0, 60, 40), Ink(0), When(0, LIVE, LIVE)), 0),
        (Stencil(Box(10, 10, 3, 2), 0, Ink(0)), 0),
    ],
)
@pytest.mark.parametrize("between", [0, 1, 2, 3])
def test_a_place_is_not_lit_where_another_straight_after_it_hides_it(
    over: Operation, hidden: int, between: int
) -> None:
    """Up to the third operation after it (two more may stand between)."""
    mark = Stencil(Box(0, 0, 3, 2), 0, Ink(2))
    operations = (Fill(OUTER, Ink(2)), *[mark] * between, over)
    assert bound_of(*operations) == 200 - (hidden if between < 3 else 0)
