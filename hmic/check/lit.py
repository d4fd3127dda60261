"""How much of a screen an operation can light, without painting it."""

from __future__ import annotations

from functools import lru_cache

from hmic.paint.operations import (
    NO_MASK,
    Box,
    Drawing,
    Figures,
    Fill,
    Frame,
    Letters,
    Mask,
    Operation,
    Part,
    Reveal,
    Run,
    Slide,
    Stencil,
    Trace,
    figure_sets_of,
)

# An outline is painted as a box and a smaller one straight after it.
_LOOK_AHEAD = 3


def lit(drawing: Drawing, operations: tuple[Operation, ...], index: int) -> float:
    """The most that an operation's ink covers while all channels are live, in pixels; of one partly
    covered its part. A trace is taken as level, its columns all of one height."""
    operation = operations[index]
    box = operation.box
    whole = box.width * box.height
    masks = drawing.masks
    match operation:
        case Stencil():
            return _amount(masks[operation.mask])
        case Run():
            return sum(_amount(masks[glyph.mask]) for glyph in operation.glyphs)
        case Reveal() | Slide() if operation.mask != NO_MASK:
            return min(whole, _amount(masks[operation.mask]))
        case Figures():
            sets = figure_sets_of(operation, drawing)
            largest = max(_amount(masks[glyph.mask]) for held in sets for glyph in held.glyphs)
            narrowest = min(min(held.advance, held.point_advance) for held in sets)
            return min(whole, largest * (2 + box.width // narrowest)) if narrowest else whole
        case Letters():
            letters = drawing.letter_sets[operation.letter_set].letters
            inked = [letter.glyph.mask for letter in letters if letter.glyph.mask != NO_MASK]
            largest = max((_amount(masks[mask]) for mask in inked), default=0.0)
            return min(whole, operation.count * largest)
        case Trace():
            return min(whole, box.width * (operation.thickness + 2))
        case Fill() | Frame():
            after = operations[index + 1 : index + 1 + _LOOK_AHEAD]
            return whole - max((_hidden(drawing, box, over) for over in after), default=0)
        case _:
            return whole


def _hidden(drawing: Drawing, box: Box, over: Operation) -> int:
    """Pixels of a box that what is painted over it surely covers."""
    if over.part is not Part.PLACE or over.when is not None:
        return 0
    width = min(box.left + box.width, over.box.left + over.box.width) - max(box.left, over.box.left)
    height = min(box.top + box.height, over.box.top + over.box.height) - max(box.top, over.box.top)
    if width <= 0 or height <= 0:
        return 0
    corner = drawing.masks[over.corner] if isinstance(over, Frame) else None
    return max(0, width * height - (4 * corner.width * corner.height if corner else 0))


@lru_cache(maxsize=2048)
def _amount(mask: Mask) -> float:
    return sum(mask.coverage) / 15
