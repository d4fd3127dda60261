"""shape: a plain figure to group or part things: box, line, ring or disc."""

from __future__ import annotations

from hmic.arrange import lengths
from hmic.arrange.canvas import Canvas
from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.language.syntax import PhraseKind, Widget, phrase_kinds
from hmic.paint import shapes
from hmic.paint.operations import Box, Fill, Frame, Stencil

SUBJECT = "pictogram"
PHRASES = phrase_kinds("colour corner sized behind")
NAMES = ("box", "line", "ring", "disc")
LINE_MM = 0.4
SIDE_MM = 9.0
"""Of one that is placed freely and has no size of its own."""


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int, int]:
    """As high as it is wide; a line is thin."""
    width = canvas.px(SIDE_MM) if width is None else width
    return width, canvas.px(LINE_MM) if widget.word == "line" else width


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """A box fills its place, a line runs through the middle of it, a ring or disc stands centred."""
    if widget.word not in NAMES:
        remedy = did_you_mean(widget.word or "", NAMES, "shapes")
        raise DesignError([error("A377", f"there is no shape '{widget.word}'", widget.head, remedy)])
    ink = canvas.artwork.ink(canvas.role(widget.one(PhraseKind.COLOUR), "line"))
    thin = canvas.px(LINE_MM)
    if widget.word == "line":
        lying = box.width >= box.height
        middle = Box(box.left, box.top + (box.height - thin) // 2, box.width, thin)
        upright = Box(box.left + (box.width - thin) // 2, box.top, thin, box.height)
        canvas.operations.append(Fill(middle if lying else upright, ink))
        return
    if widget.word == "box":
        corner = widget.one(PhraseKind.CORNER)
        radius = lengths.pixels(corner.values[0], canvas.design.panel) if corner else 0
        if radius < 1:
            canvas.operations.append(Fill(box, ink))
        else:
            canvas.operations.append(Frame(box, canvas.artwork.mask(shapes.corner(radius)), ink))
        return
    side = min(box.width, box.height)
    mask = shapes.disc(side) if widget.word == "disc" else shapes.ring(side, thin)
    place = Box(box.left + (box.width - side) // 2, box.top + (box.height - side) // 2, side, side)
    canvas.operations.append(Stencil(place, canvas.artwork.mask(mask), ink))
