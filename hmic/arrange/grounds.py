"""Places that others stand on: plain or shaded between two roles, with round corners and a thin edge.

A shade is painted as bands of one colour each, as many as the panel tells apart, so that what stands on it is
held against colours of the palette like everything else.
"""

from __future__ import annotations

from enum import StrEnum
from itertools import groupby
from typing import NamedTuple

from hmic.arrange import lengths
from hmic.arrange.artwork import Key
from hmic.arrange.canvas import Canvas, inset
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Phrase, PhraseKind, Widget
from hmic.model.design import GLASS
from hmic.number_text import at_most
from hmic.paint import shapes
from hmic.paint.operations import Box, Fill, Frame, Ink, Mask, Stencil

EDGE_MM = 0.25
Way = StrEnum("Way", "DOWNWARD UPWARD RIGHTWARD LEFTWARD OUTWARD")
"""How a shade runs."""
MOST_DISCS = 16


class Shade(NamedTuple):
    """Both ends of a shade, and the way it runs; without a way they are one colour."""

    first: Key
    last: Key
    way: Way | None


def shade_of(widget: Widget, base: str, canvas: Canvas) -> Shade:
    """The shade that a sentence asks for; of one colour, ``colour`` or the role ``base``, where it asks for
    none. Raises ``DesignError`` A302 for both."""
    phrase, plain = widget.one(PhraseKind.SHADED), widget.one(PhraseKind.COLOUR)
    if phrase is None:
        only = canvas.artwork.role_entry(canvas.role(plain, base))
        return Shade(only, only, None)
    if plain is not None:
        message, remedy = "it is shaded between two roles already", "leave out one of the two"
        raise DesignError([error("A302", message, plain.span, remedy)])
    first, last, *way = phrase.words
    ends = [canvas.artwork.role_entry(canvas.role(_single(phrase, word))) for word in (first, last)]
    return Shade(ends[0], ends[1], Way(way[0]) if way else Way.DOWNWARD)


def _single(phrase: Phrase, word: str) -> Phrase:
    return Phrase(phrase.kind, (word,), (), phrase.span)


def soft_place(widget: Widget, box: Box, radius: int, canvas: Canvas) -> bool:
    """A box, or with the radius of half of it a disc, that fades toward its edge, if its sentence is soft.
    Raises ``DesignError`` A302 for one that has an edge or a shade too, or is soft beyond its middle."""
    phrase = widget.one(PhraseKind.SOFT)
    if phrase is None:
        return False
    for kind in (PhraseKind.EDGE, PhraseKind.SHADED):
        other = widget.one(kind)
        if other is not None:
            message, remedy = "what is soft has one colour and no edge", "leave out one of the two"
            raise DesignError([error("A302", message, other.span, remedy)])
    soft, most = lengths.pixels(phrase.values[0], canvas.design.panel), min(box.width, box.height) // 2
    if not 1 <= soft <= most:
        pitch = canvas.design.panel.pitch
        message = f"a fade of {soft * pitch:.1f} mm does not fit in {2 * most * pitch:.1f} mm"
        remedy = f"write soft {at_most(most * pitch)} mm, or less"
        raise DesignError([error("A302", message, phrase.span, remedy, rests_on=GLASS)])
    role = canvas.role(widget.one(PhraseKind.COLOUR), "line")
    mask = canvas.artwork.mask(shapes.soft_box(box.width, box.height, max(radius, soft), soft))
    canvas.operations.append(Stencil(box, mask, canvas.artwork.ink(role)))
    return True


def rounded_place(widget: Widget, box: Box, corner_mm: float, base: str, canvas: Canvas) -> None:
    """A box as its sentence shades, rounds, softens and edges it."""
    corner, edge = widget.one(PhraseKind.CORNER), widget.one(PhraseKind.EDGE)
    radius = round(canvas.design.panel.pixels_from_mm(corner_mm))
    if corner is not None:
        radius = lengths.pixels(corner.values[0], canvas.design.panel)
    radius = min(radius, box.width // 2, box.height // 2)
    if soft_place(widget, box, radius, canvas):
        return
    shade = shade_of(widget, base, canvas)
    if edge is not None:
        thin = canvas.px(EDGE_MM)
        _plain(box, radius, canvas.artwork.ink(canvas.role(edge)), canvas)
        box, radius = inset(box, thin, thin, thin, thin), max(0, radius - thin)
    if shade.way is Way.OUTWARD:
        phrase = widget.one(PhraseKind.SHADED)
        message, remedy = "only a disc is shaded outward", "write shaded from ... to ..., or shape disc"
        raise DesignError([error("A302", message, phrase.span if phrase else widget.head, remedy)])
    _banded(box, radius, shade, canvas)


def shaded_disc(widget: Widget, box: Box, canvas: Canvas) -> None:
    """A disc as its sentence shades, softens and edges it; a shade runs from the middle outward."""
    if soft_place(widget, box, box.width // 2, canvas):
        return
    shade, edge = shade_of(widget, "line", canvas), widget.one(PhraseKind.EDGE)
    phrase = widget.one(PhraseKind.SHADED)
    if phrase is not None and shade.way is not Way.OUTWARD:
        remedy = f"write shaded outward from {phrase.words[0]} to {phrase.words[1]}"
        raise DesignError([error("A302", "a disc is shaded outward", phrase.span, remedy)])
    discs = min(MOST_DISCS, box.width // 2) if shade.way else 1
    colours = canvas.artwork.shade(shade.first, shade.last, discs, woven=False)
    for number, colour in zip(range(discs, 0, -1), reversed(colours), strict=True):
        side = max(1, box.width * number // discs)
        side -= (box.width - side) % 2
        _stamp(shapes.disc(side), side, box, canvas.artwork.entry(colour), canvas)
    if edge is not None:
        ring = shapes.ring(box.width, canvas.px(EDGE_MM))
        _stamp(ring, box.width, box, canvas.artwork.ink(canvas.role(edge)), canvas)


def _stamp(mask: Mask, side: int, box: Box, ink: Ink, canvas: Canvas) -> None:
    place = Box(box.left + (box.width - side) // 2, box.top + (box.height - side) // 2, side, side)
    canvas.operations.append(Stencil(place, canvas.artwork.mask(mask), ink))


def _plain(box: Box, radius: int, ink: Ink, canvas: Canvas) -> None:
    if radius < 1:
        canvas.operations.append(Fill(box, ink))
    else:
        canvas.operations.append(Frame(box, canvas.artwork.mask(shapes.corner(radius)), ink))


def _banded(box: Box, radius: int, shade: Shade, canvas: Canvas) -> None:
    """Both ends as rounded boxes as high as their corners need, the bands between them over what these have
    too much."""
    art = canvas.artwork
    if shade.way is None:
        _plain(box, radius, art.entry(shade.first), canvas)
        return
    upright = shade.way in (Way.DOWNWARD, Way.UPWARD)
    length = box.height if upright else box.width
    colours = art.shade(shade.first, shade.last, length - 2 * radius, woven=True)
    if shade.way in (Way.UPWARD, Way.LEFTWARD):
        colours.reverse()
    if radius:
        end = min(length, 2 * radius)
        _plain(_stretch(box, upright, 0, end), radius, art.entry(colours[0]), canvas)
        _plain(_stretch(box, upright, length - end, end), radius, art.entry(colours[-1]), canvas)
    start = radius
    for colour, lines in groupby(colours):
        size = len(list(lines))
        canvas.operations.append(Fill(_stretch(box, upright, start, size), art.entry(colour)))
        start += size


def _stretch(box: Box, upright: bool, start: int, size: int) -> Box:
    if upright:
        return Box(box.left, box.top + start, box.width, size)
    return Box(box.left + start, box.top, size, box.height)
