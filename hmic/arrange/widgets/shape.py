"""shape: a plain figure to group or part things: box, line, ring or disc."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas
from hmic.arrange.grounds import rounded_place, shaded_disc
from hmic.arrange.subjects import SubjectKind
from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.language.syntax import PhraseKind, Widget, phrase_kinds
from hmic.paint import shapes
from hmic.paint.operations import Box, Fill, Stencil

SUBJECT = SubjectKind.PICTOGRAM
PHRASES = phrase_kinds("colour corner edge shaded soft sized behind during")
SURFACE = "surface"
"""A box under areas: what a `surface` line of a plan paints."""
NAMES = ("box", "line", "ring", "disc")
LINE_MM = 0.4
SURFACE_CORNER_MM = 3.0
SIDE_MM = 9.0
"""Of one that is placed freely and has no size of its own."""


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int, int]:
    """As high as it is wide; a line is thin."""
    width = canvas.px(SIDE_MM) if width is None else width
    return width, canvas.px(LINE_MM) if widget.word == "line" else width


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """A box fills its place, a line runs through the middle of it, a ring or disc stands centred."""
    if widget.word == SURFACE:
        rounded_place(widget, box, SURFACE_CORNER_MM, "surface", canvas)
        return
    if widget.word not in NAMES:
        remedy = did_you_mean(widget.word or "", NAMES, "shapes")
        raise DesignError([error("A377", f"there is no shape '{widget.word}'", widget.head, remedy)])
    if widget.word == "box":
        rounded_place(widget, box, 0, "line", canvas)
        return
    side = min(box.width, box.height)
    place = Box(box.left + (box.width - side) // 2, box.top + (box.height - side) // 2, side, side)
    if widget.word == "disc":
        shaded_disc(widget, place, canvas)
        return
    _check_full(widget)
    ink, thin = canvas.artwork.ink(canvas.role(widget.one(PhraseKind.COLOUR), "line")), canvas.px(LINE_MM)
    if widget.word == "line":
        lying = box.width >= box.height
        middle = Box(box.left, box.top + (box.height - thin) // 2, box.width, thin)
        upright = Box(box.left + (box.width - thin) // 2, box.top, thin, box.height)
        canvas.operations.append(Fill(middle if lying else upright, ink))
        return
    canvas.operations.append(Stencil(place, canvas.artwork.mask(shapes.ring(side, thin)), ink))


def _check_full(widget: Widget) -> None:
    """Raises ``DesignError`` A302 for a line or ring with what only a full figure has."""
    for kind in (PhraseKind.SHADED, PhraseKind.EDGE, PhraseKind.SOFT):
        phrase = widget.one(kind)
        if phrase is not None:
            said = {PhraseKind.SHADED: "shaded", PhraseKind.EDGE: "edged"}.get(kind, "soft")
            message, remedy = f"only a box or a disc is {said}", "leave it out"
            raise DesignError([error("A302", message, phrase.span, remedy)])
