"""symbol: a pictogram that always shows, in one colour."""

from __future__ import annotations

from hmic.arrange import sizes
from hmic.arrange.canvas import Canvas
from hmic.arrange.widgets.turning import valve
from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.language.syntax import Widget
from hmic.paint import pictograms
from hmic.paint.operations import Box, Stencil

SUBJECT = "pictogram"
PHRASES = frozenset({"colour", "sized", "means", "at", "named", "turned"})
DEFAULT_MM = 9.0


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """The pictogram centred in its place."""
    if widget.one("turned") is not None:
        valve(widget, box, canvas)
        return
    number, place = pictogram(widget, box, pictogram_side(widget, box, canvas), canvas)
    role = canvas.role(widget.one("colour"), "ink")
    canvas.operations.append(Stencil(place, number, canvas.artwork.ink(role)))


def pictogram_side(widget: Widget, box: Box, canvas: Canvas) -> int:
    """The side in px: as ``sized`` asks, else 9 mm or what there is room for."""
    phrase = widget.one("sized")
    if phrase is None:
        return min(canvas.px(DEFAULT_MM), box.width, box.height)
    side = sizes.pixels(phrase.values[0], canvas.design.panel)
    canvas.fit(side, box.width, f"the pictogram '{widget.word}'", phrase.span)
    canvas.fit(side, box.height, f"the pictogram '{widget.word}'", phrase.span, height=True)
    return side


def pictogram(widget: Widget, box: Box, side: int, canvas: Canvas) -> tuple[int, Box]:
    """The mask number and the place of the widget's pictogram, centred in ``box``."""
    name = widget.word or ""
    if name not in pictograms.names():
        remedy = did_you_mean(name, pictograms.names(), "pictograms")
        raise DesignError([error("A324", f"there is no pictogram '{name}'", widget.head, remedy)])
    mask = pictograms.draw(name, side, side)
    left = box.left + (box.width - mask.width) // 2
    top = box.top + (box.height - mask.height) // 2
    return canvas.artwork.mask(mask), Box(left, top, mask.width, mask.height)
