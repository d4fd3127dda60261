"""Operations as records of 36 bytes, and back."""

from __future__ import annotations

from hmic.pack.records import (
    FIGURES_TAIL,
    FILL_TAIL,
    FLASH,
    FLOW_TAIL,
    LETTERS_TAIL,
    MASK_TAIL,
    OPERATION_HEAD,
    PLUS,
    POINTER_TAIL,
    REVEAL_TAIL,
    RUN_TAIL,
    SIXTIES,
    SLIDE_TAIL,
    SMALL,
    TRACE_TAIL,
    Kind,
)
from hmic.paint.operations import (
    GROUND,
    NO_CHANNEL,
    Axis,
    Box,
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
    When,
    ink_of,
)

NO_INK = Ink(GROUND)
"""What stands in the record of a picture."""


class RecordError(ValueError):
    """A record that breaks the format; the message says how."""


def kind_of(operation: Operation) -> Kind:
    """The number an operation has in a pack."""
    return Kind[type(operation).__name__.upper()]


def encode(operation: Operation, first_glyph: int) -> bytes:
    """The record; ``first_glyph`` is where the glyphs of a run begin in their section."""
    box, when, ink = operation.box, operation.when, ink_of(operation) or NO_INK
    flags, tail = _tail(operation, first_glyph)
    head = OPERATION_HEAD.pack(
        kind_of(operation),
        flags,
        box.left,
        box.top,
        box.width,
        box.height,
        ink.first,
        ink.tint,
        when.channel if when else NO_CHANNEL,
        when.low if when else 0,
        when.high if when else 0,
    )
    return head + tail


def _tail(operation: Operation, first_glyph: int) -> tuple[int, bytes]:
    """Flags and the last 16 bytes."""
    match operation:
        case Fill():
            return 0, FILL_TAIL.pack()
        case Stencil(mask=mask, flash=flash):
            return FLASH if flash else 0, MASK_TAIL.pack(mask)
        case Run(glyphs=glyphs):
            return 0, RUN_TAIL.pack(first_glyph, len(glyphs))
        case Frame(corner=mask):
            return 0, MASK_TAIL.pack(mask)
        case Figures() as f:
            flags = (PLUS if f.plus else 0) | (SIXTIES if f.sixties else 0) | (SMALL if f.small else 0)
            numbers = (f.offset, f.scale, f.least, f.places, f.point, f.point_after)
            return flags, FIGURES_TAIL.pack(f.channel, f.figure_set, *numbers)
        case Reveal() as r:
            return 0, REVEAL_TAIL.pack(r.channel, r.axis, r.zero, r.mask, r.map, r.gain, r.edge)
        case Slide() as s:
            return 0, SLIDE_TAIL.pack(s.channel, s.axis, s.mask)
        case Pointer() as p:
            return 0, POINTER_TAIL.pack(p.channel, p.outline)
        case Trace() as t:
            return 0, TRACE_TAIL.pack(t.first, t.columns, t.head, t.levels, t.thickness)
        case Flow() as w:
            return 0, FLOW_TAIL.pack(w.channel, w.axis, w.offset, w.pitch, w.mark, w.pace)
        case Picture(picture=number):
            return 0, MASK_TAIL.pack(number)
        case Letters() as t:
            return 0, LETTERS_TAIL.pack(t.first, t.count, t.letter_set)


def decode(record: bytes, glyphs: tuple[Glyph, ...], used: int) -> Operation:
    """The operation of a record; ``used`` of the glyphs belong to earlier runs. Raises RecordError."""
    kind, flags, left, top, width, height, first, tint, channel, low, high = OPERATION_HEAD.unpack_from(
        record
    )
    box, ink = Box(left, top, width, height), Ink(first, tint)
    when = None if channel == NO_CHANNEL else When(channel, low, high)
    operation = _operation(
        kind, flags, record[OPERATION_HEAD.size :], box=box, ink=ink, when=when, glyphs=glyphs, used=used
    )
    if encode(operation, used) != record:
        raise RecordError("has flags, a condition or spare bytes that do not belong there")
    return operation


def _operation(
    kind: int,
    flags: int,
    tail: bytes,
    *,
    box: Box,
    ink: Ink,
    when: When | None,
    glyphs: tuple[Glyph, ...],
    used: int,
) -> Operation:
    match kind:
        case Kind.FILL:
            return Fill(box, ink, when)
        case Kind.STENCIL:
            (mask,) = MASK_TAIL.unpack(tail)
            return Stencil(box, mask, ink, when, bool(flags & FLASH))
        case Kind.RUN:
            begin, count = RUN_TAIL.unpack(tail)
            if begin != used or used + count > len(glyphs):
                raise RecordError("has its glyphs not where they should be")
            return Run(box, glyphs[begin : begin + count], ink, when)
        case Kind.FRAME:
            (mask,) = MASK_TAIL.unpack(tail)
            return Frame(box, mask, ink, when)
        case Kind.FIGURES:
            channel, number, offset, scale, least, places, point, after = FIGURES_TAIL.unpack(tail)
            plus, sixties, small = bool(flags & PLUS), bool(flags & SIXTIES), bool(flags & SMALL)
            written = (channel, number, offset, scale, least, places, point, after)
            return Figures(box, *written, plus, sixties, ink, when, small)
        case Kind.REVEAL:
            channel, axis, zero, mask, plane, gain, edge = REVEAL_TAIL.unpack(tail)
            return Reveal(box, channel, _axis(axis), zero, mask, ink, plane, gain, edge, when)
        case Kind.SLIDE:
            channel, axis, mask = SLIDE_TAIL.unpack(tail)
            return Slide(box, channel, _axis(axis), mask, ink, when)
        case Kind.POINTER:
            channel, outline = POINTER_TAIL.unpack(tail)
            return Pointer(box, channel, outline, ink, when)
        case Kind.TRACE:
            first, columns, head, levels, thickness = TRACE_TAIL.unpack(tail)
            return Trace(box, first, columns, head, levels, thickness, ink, when)
        case Kind.FLOW:
            channel, axis, offset, pitch, mark, pace = FLOW_TAIL.unpack(tail)
            return Flow(box, _axis(axis), channel, offset, pitch, mark, pace, ink, when)
        case Kind.PICTURE:
            (picture,) = MASK_TAIL.unpack(tail)
            return Picture(box, picture, when)
        case Kind.LETTERS:
            first, count, letter_set = LETTERS_TAIL.unpack(tail)
            return Letters(box, first, count, letter_set, ink, when)
        case _:
            raise RecordError(f"is of the unknown kind {kind}")


def _axis(number: int) -> Axis:
    if number > max(Axis):
        raise RecordError(f"has the unknown axis {number}")
    return Axis(number)
