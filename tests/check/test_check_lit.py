"""The bound on a screen's light against what is painted."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.check.colour import linear
from hmic.check.lit import lit
from hmic.paint.operations import LIVE, Box, Drawing, Fill, Ink, Moment, ScreenDrawing, Theme, Trace
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
