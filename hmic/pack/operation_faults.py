"""What an operation must hold, so that painting it never looks outside a table or a box."""

from __future__ import annotations

from collections.abc import Iterator

from hmic.pack.records import LARGEST_SIDE, LARGEST_STEPS, LONGEST_PITCH, MOST_PLACES
from hmic.paint.operations import (
    COLON,
    COMMA,
    FULL_STOP,
    LARGEST_POINTER,
    NO_CHANNEL,
    NO_MASK,
    Axis,
    Box,
    Drawing,
    Figures,
    Fill,
    Flow,
    Frame,
    Glyph,
    Ink,
    Letters,
    Operation,
    Picture,
    Pointer,
    Reveal,
    Run,
    Slide,
    Stencil,
    Trace,
    ink_of,
    leading_channel,
)

WORD = 0xFFFF
MOST_MARKS_A_SECOND = 3
"""WCAG 2.3.1: no more than three flashes a second."""


def within(where: str, low: int, high: int, *values: int) -> Iterator[str]:
    """A fault for each value outside the range."""
    for value in values:
        if not low <= value <= high:
            yield f"{where} has a number {value}; {low} to {high} are possible"


def box_faults(box: Box, drawing: Drawing) -> Iterator[str]:
    """A fault for a box that is not on the panel."""
    inside = (
        min(box.left, box.top, box.width, box.height) >= 0
        and box.left + box.width <= drawing.width
        and box.top + box.height <= drawing.height
    )
    if not inside:
        yield (
            f"the box {box.width} x {box.height} at {box.left}, {box.top} "
            f"leaves the panel of {drawing.width} x {drawing.height}"
        )


def glyph_faults(where: str, glyphs: tuple[Glyph, ...], drawing: Drawing) -> Iterator[str]:
    """Faults of the glyphs' masks and places."""
    for glyph in glyphs:
        if not 0 <= glyph.mask < len(drawing.masks):
            yield f"{where} has a glyph with mask {glyph.mask}, which does not exist"
        if not (-32768 <= glyph.left <= 32767 and -32768 <= glyph.top <= 32767):
            yield f"{where} has a glyph at {glyph.left}, {glyph.top}; 16 bits with sign are possible"


def operation_faults(operation: Operation, drawing: Drawing, reach: frozenset[int]) -> Iterator[str]:
    """Sentences on one operation of a screen that lists the channels in ``reach``."""
    yield from box_faults(operation.box, drawing)
    ink = ink_of(operation)
    if ink is not None:
        yield from _ink_faults(ink, drawing, reach)
    when = operation.when
    if when is not None:
        yield from _reach_faults(when.channel, reach)
        if not 0 <= when.low <= when.high <= WORD:
            yield f"it is shown from raw value {when.low} to {when.high}"
    leading = leading_channel(operation)
    if leading is not None:
        yield from _reach_faults(leading, reach)
    match operation:
        case Fill():
            pass
        case Stencil(mask=mask) | Frame(corner=mask):
            yield from _held("mask", mask, len(drawing.masks))
        case Run(glyphs=glyphs):
            yield from within("it", 0, WORD, len(glyphs))
            yield from glyph_faults("it", glyphs, drawing)
        case Figures():
            yield from _figures_faults(operation, drawing)
        case Reveal():
            yield from _reveal_faults(operation, drawing)
        case Slide(axis=axis, mask=mask):
            yield from _straight(axis)
            yield from _held("mask", mask, len(drawing.masks))
        case Pointer():
            yield from _pointer_faults(operation, drawing)
        case Trace():
            yield from _trace_faults(operation, drawing, reach)
        case Flow():
            yield from _flow_faults(operation, drawing)
        case Picture(picture=number):
            yield from _held("picture", number, len(drawing.pictures))
        case Letters():
            yield from _letters_faults(operation, drawing, reach)


def _steps(channel: int, drawing: Drawing) -> int:
    """The steps of a channel, 1 for one that does not exist: that is another fault."""
    return drawing.channels[channel] if 0 <= channel < len(drawing.channels) else 1


def _ink_faults(ink: Ink, drawing: Drawing, reach: frozenset[int]) -> Iterator[str]:
    steps = 1
    if ink.tint != NO_CHANNEL:
        yield from _reach_faults(ink.tint, reach)
        steps = _steps(ink.tint, drawing)
    colours = len(drawing.themes[0].colours) if drawing.themes else 0
    if ink.first < 0 or ink.first + steps > colours:
        yield f"it paints with colours {ink.first} to {ink.first + steps - 1} of {colours}"


def _reach_faults(channel: int, reach: frozenset[int]) -> Iterator[str]:
    if channel not in reach:
        yield f"it needs channel {channel}, which its screen does not list"


def _held(what: str, number: int, count: int) -> Iterator[str]:
    if not 0 <= number < count:
        yield f"{what} {number} does not exist"


def _straight(axis: Axis) -> Iterator[str]:
    if axis == Axis.MAPPED:
        yield "its axis is mapped; only a reveal can have that"


def _figures_faults(operation: Figures, drawing: Drawing) -> Iterator[str]:
    last = operation.figure_set + (1 if operation.small else 0)
    yield from _held("figure set", last, len(drawing.figure_sets))
    if not 1 <= operation.places <= MOST_PLACES:
        yield f"it has {operation.places} places; 1 to {MOST_PLACES} are possible"
    yield from within("it", 0, MOST_PLACES, operation.least, operation.point_after)
    if operation.point not in (0, FULL_STOP, COMMA, COLON):
        yield f"its point {operation.point} is none of 0, {FULL_STOP}, {COMMA}, {COLON}"
    last = operation.offset + operation.scale * (_steps(operation.channel, drawing) - 1)
    for number in (operation.offset, operation.scale, last):
        if not -(1 << 31) <= number < 1 << 31:
            yield f"the number {number} does not fit 32 bits"


def _reveal_faults(operation: Reveal, drawing: Drawing) -> Iterator[str]:
    yield from within("it", 0, WORD, operation.zero, operation.gain)
    yield from within("its edge", 1, WORD, operation.edge)
    if operation.mask != NO_MASK:
        yield from _held("mask", operation.mask, len(drawing.masks))
    if operation.map != NO_MASK:
        yield from _held("map", operation.map, len(drawing.maps))
    if operation.axis == Axis.MAPPED and operation.map == NO_MASK:
        yield "its axis is mapped, but it has no map"


def _pointer_faults(operation: Pointer, drawing: Drawing) -> Iterator[str]:
    yield from within("its box", 0, LARGEST_POINTER, operation.box.width, operation.box.height)
    yield from _held("outline", operation.outline, len(drawing.outlines))
    if 0 <= operation.outline < len(drawing.outlines):
        held, steps = len(drawing.outlines[operation.outline].polygons), _steps(operation.channel, drawing)
        if steps > held:
            yield f"its channel has {steps} steps, its outline {held} polygons"


def _trace_faults(operation: Trace, drawing: Drawing, reach: frozenset[int]) -> Iterator[str]:
    columns, levels = operation.columns, operation.levels
    yield from within("its number of columns", 1, min(LARGEST_SIDE, operation.box.width), columns)
    yield from within("its number of levels", 1, LARGEST_STEPS, levels)
    yield from within("its thickness", 1, operation.box.height, operation.thickness)
    if _steps(operation.head, drawing) > columns:
        yield f"its head has {_steps(operation.head, drawing)} steps, more than the {columns} columns"
    if columns <= LARGEST_SIDE:
        for channel in range(operation.first, operation.first + columns):
            yield from _reach_faults(channel, reach)
            if _steps(channel, drawing) > levels:
                yield f"channel {channel} has {_steps(channel, drawing)} steps, more than {levels} levels"


def _flow_faults(operation: Flow, drawing: Drawing) -> Iterator[str]:
    yield from _straight(operation.axis)
    yield from within("its pitch", 1, LONGEST_PITCH, operation.pitch)
    yield from within("its mark", 1, operation.pitch, operation.mark)
    yield from within("it", 0, WORD, operation.offset, operation.pace)
    fastest = (_steps(operation.channel, drawing) - 1) * operation.pace
    if fastest > MOST_MARKS_A_SECOND * operation.pitch:
        limit = MOST_MARKS_A_SECOND * operation.pitch
        yield f"its marks move at up to {fastest} px/s; {limit} px/s are possible with this pitch"


def _letters_faults(operation: Letters, drawing: Drawing, reach: frozenset[int]) -> Iterator[str]:
    yield from within("its number of letters", 1, WORD, operation.count)
    yield from _held("letter set", operation.letter_set, len(drawing.letter_sets))
    if operation.count > WORD or not 0 <= operation.letter_set < len(drawing.letter_sets):
        return
    most = len(drawing.letter_sets[operation.letter_set].letters) + 1
    for channel in range(operation.first, operation.first + operation.count):
        yield from _reach_faults(channel, reach)
        if _steps(channel, drawing) > most:
            yield f"channel {channel} has {_steps(channel, drawing)} steps; its letters allow {most}"
