"""What operations say of themselves is what the independent painter, written from PIXELS.md, paints."""

from __future__ import annotations

import typing

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from hmic.paint.operations import (
    DOUBT,
    GROUND,
    LIVE,
    NO_CHANNEL,
    NO_MASK,
    Drawing,
    InDoubt,
    Ink,
    Moment,
    Operation,
    Part,
    ScreenDrawing,
    channels_of,
    ink_of,
    leading_channel,
    shape_of,
)
from hmic.paint.painter import Painter
from tests.paint.moving_scenes import moving_scene
from tests.paint.reference_painter import hatch, paint, state_of
from tests.paint.scenes import operations_scene
from tests.tools.changed import replace
from tests.tools.drawings import drawings, moments

KINDS = typing.get_args(Operation)


def test_each_operation_says_what_it_is() -> None:
    assert len(KINDS) == 12
    for kind in KINDS:
        assert isinstance(kind.part, Part) and isinstance(kind.in_doubt, InDoubt)
        assert (kind.leading is not None) >= kind.moves, "what moves by a value is in doubt with it"
        own = kind.in_doubt is InDoubt.HATCH or kind.part is Part.PICTURE
        assert not kind.bed or own, "what others stand on has pixels of its own"


@st.composite
def operations_drawn(draw: st.DrawFn) -> tuple[Drawing, Operation]:
    """A drawing, and one operation of its screens."""
    drawing = draw(drawings())
    there = [each for screen in drawing.screens for each in screen.operations]
    assume(there)
    return drawing, draw(st.sampled_from(there))


def alone(drawing: Drawing, operation: Operation) -> Drawing:
    """The drawing with one operation only, whenever it would be painted, on black."""
    kept = replace(operation, when=None)
    if getattr(operation, "flash", False):
        kept = replace(kept, flash=False)
    screen = ScreenDrawing("only", (kept,), tuple(range(len(drawing.channels))), ())
    theme = replace(drawing.themes[0], colours=((0, 0, 0), (9, 99, 199), *drawing.themes[0].colours[2:]))
    return replace(drawing, screens=(screen,), themes=(theme,), depth=24, start=0)


def lit(drawing: Drawing, moment: Moment) -> dict[tuple[int, int], tuple[int, int, int]]:
    """The pixels that are not black."""
    rows = paint(drawing, moment)
    return {
        (x, y): colour for y, row in enumerate(rows) for x, colour in enumerate(row) if colour != (0, 0, 0)
    }


def is_doubt_ink(colour: tuple[int, int, int]) -> bool:
    """A blend of the doubt ink with black, perhaps of several coats."""
    return any(
        all(abs(part * level / 255 - got) <= 2 for part, got in zip((9, 99, 199), colour, strict=True))
        for level in range(256)
    )


@settings(max_examples=60, suppress_health_check=list(HealthCheck))
@given(operations_drawn(), st.integers(0, LIVE - 1))
def test_in_doubt_each_is_painted_as_it_says(drawn: tuple[Drawing, Operation], doubt: int) -> None:
    drawing, operation = drawn
    only = alone(drawing, operation)
    moment = Moment(0, 0, (doubt,) * len(drawing.channels), 0)
    if state_of(only.screens[0].operations[0], list(moment.raw)) >= LIVE:
        assert operation.in_doubt is InDoubt.NEVER or leading_channel(operation) is None
        return
    seen = lit(only, moment)
    assert all(is_doubt_ink(colour) for colour in seen.values())
    match operation.in_doubt:
        case InDoubt.NOTHING:
            assert not seen
        case InDoubt.HATCH | InDoubt.BOX:
            assert all(hatch(doubt, x, y) for x, y in seen)
        case InDoubt.INK:
            assert ink_of(operation) is not None
            inked = replace(only.screens[0].operations[0], ink=Ink(DOUBT))
            screen = replace(only.screens[0], operations=(inked,))
            assert seen == lit(replace(only, screens=(screen,)), moment)


@settings(max_examples=60, suppress_health_check=list(HealthCheck))
@given(operations_drawn(), st.data())
def test_only_what_moves_lights_other_pixels_for_other_values(
    drawn: tuple[Drawing, Operation], data: st.DataObject
) -> None:
    drawing, operation = drawn
    if operation.moves or operation.part is Part.TEXT or operation.part is Part.PICTURE:
        return
    # In the ground's colour nothing is lit.
    assume(operation.ink.first != GROUND)
    only = alone(drawing, operation)
    white = tuple((255, 255, 255) if number else (0, 0, 0) for number in range(len(only.themes[0].colours)))
    only = replace(only, themes=(replace(only.themes[0], colours=white),))
    live = [data.draw(moments(only)).raw for _ in range(2)]
    first, second = (lit(only, Moment(0, 0, tuple(max(LIVE, value) for value in raw), 0)) for raw in live)
    assert first.keys() == second.keys()
    assert operation.ink.tint == NO_CHANNEL or operation.ink.tint in channels_of(operation)


@settings(max_examples=60, suppress_health_check=list(HealthCheck))
@given(operations_drawn(), st.data())
def test_nothing_is_painted_beyond_the_shape(drawn: tuple[Drawing, Operation], data: st.DataObject) -> None:
    drawing, operation = drawn
    assume(shape_of(operation) != NO_MASK)
    only = alone(drawing, operation)
    box, mask = operation.box, drawing.masks[shape_of(operation)]
    for x, y in lit(only, data.draw(moments(only))):
        assert x - box.left < mask.width and y - box.top < mask.height
        assert mask.coverage[(y - box.top) * mask.width + x - box.left]


def test_what_is_painted_in_doubt_at_all_is_as_declared() -> None:
    seen: set[type] = set()
    there: set[type] = set()
    for drawing in (operations_scene(1).drawing(), moving_scene(1).drawing()):
        moment = Moment(0, 0, (1,) * len(drawing.channels), 0)
        for operation in drawing.screens[0].operations:
            only = alone(drawing, operation)
            if state_of(only.screens[0].operations[0], list(moment.raw)) >= LIVE:
                continue
            there.add(type(operation))
            if Painter(only).paint(moment).getbbox() is not None:
                seen.add(type(operation))
    assert there >= {kind for kind in KINDS if kind.leading is not None}
    assert seen == {kind for kind in there if kind.in_doubt is not InDoubt.NOTHING}
