"""Words with a pictogram beside or above them, as a control says what it does."""

from __future__ import annotations

from typing import NamedTuple

from hmic.arrange.canvas import Canvas, aligned, broken
from hmic.arrange.widgets.symbol import pictogram
from hmic.diagnostics import Span
from hmic.language.syntax import Widget, WidgetKind
from hmic.paint.fonts import Face
from hmic.paint.operations import Box, Ink, Stencil

MOST_MM, ALONE_MM, LEAST_MM = 9.0, 14.0, 5.0
GAP_MM = 1.6


class Said(NamedTuple):
    """What is written, in which face and ink; ``letters`` where a ``text`` phrase may set its height."""

    text: str
    face: Face
    ink: Ink
    span: Span
    letters: int


def fits_beside(text: str, face: Face, box: Box, canvas: Canvas) -> bool:
    """Whether a pictogram and a line of words have room beside each other."""
    side = min(canvas.px(MOST_MM), box.height)
    if "\n" in text:
        return False
    return side >= canvas.px(LEAST_MM) and side + canvas.px(GAP_MM) + face.measure(text) <= box.width


def pictured_words(said: Said, name: str, box: Box, canvas: Canvas, *, beside: bool) -> None:
    """Pictogram ``name`` and the words in the middle of a box: beside each other, or the pictogram above.
    Raises ``DesignError`` A324, A350 or A351."""
    gap, least = canvas.px(GAP_MM), canvas.px(LEAST_MM)
    what = f"the pictogram '{name}'"
    canvas.fit(least, box.width, what, said.span, least=True)
    canvas.fit(least, box.height, what, said.span, True, least=True)
    if not said.text.strip():
        side = min(canvas.px(ALONE_MM), box.width, box.height)
        _sign(said, name, _square(box, side), canvas)
        return
    if beside:
        side = min(canvas.px(MOST_MM), box.height)
        left = box.left + (box.width - side - gap - said.face.measure(said.text)) // 2
        _sign(said, name, _square(Box(left, box.top, side, box.height), side), canvas)
        top = canvas.line_top([said.text], said.face, box, said.span, f'the text "{said.text}"')
        canvas.text(said.text, said.face, (left + side + gap, top), said.ink, said.span)
        return
    rows = len(broken(said.text, said.face, box.width))
    below = said.face.capital_height + said.face.line_height * rows - said.face.ascent
    canvas.fit(least + gap + below, box.height, f"{what} with its words", said.span, True, least=True)
    side = min(canvas.px(MOST_MM), box.width, box.height - gap - below)
    top = box.top + (box.height - side - gap - below) // 2
    _sign(said, name, _square(Box(box.left, top, box.width, side), side), canvas)
    place = Box(box.left, top + side + gap, box.width, below)
    what = f'the text "{said.text}"'
    canvas.lines(said.text, said.face, place, said.ink, said.span, what=what, letters=said.letters)


def _square(part: Box, side: int) -> Box:
    """A square in the middle of a place."""
    return Box(part.left + aligned(side, part.width), part.top + aligned(side, part.height), side, side)


def _sign(said: Said, name: str, place: Box, canvas: Canvas) -> None:
    named = Widget(WidgetKind.SYMBOL, name, None, (), (), said.span, said.span)
    number, drawn = pictogram(named, place, canvas)
    number = canvas.rounded(canvas.artwork.masks[number])
    width = canvas.artwork.masks[number].width
    canvas.operations.append(
        Stencil(drawn._replace(left=drawn.left + (drawn.width - width) // 2, width=width), number, said.ink)
    )
