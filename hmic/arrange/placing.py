"""Free placement: where each piece stands, and how large it is where nothing says so."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from hmic.arrange import lengths
from hmic.arrange.canvas import Alignment, Canvas, alignment
from hmic.arrange.fitting import millimetres
from hmic.arrange.widgets import WIDGETS
from hmic.arrange.widgets.symbol import with_caption
from hmic.diagnostics import DesignError, Span, error, lacking
from hmic.language.spelling import written
from hmic.language.syntax import Phrase, PhraseKind, Widget, WidgetKind, phrase_kinds
from hmic.model.design import GLASS
from hmic.number_text import at_most
from hmic.paint.operations import Box

PLACED = phrase_kinds("at sized named")
"""What every piece takes where it is placed freely."""

PICTOGRAMS = frozenset((WidgetKind.LAMP, WidgetKind.SYMBOL))
DEFAULT_PIECE_MM = 9.0


class Placed(NamedTuple):
    """A piece in its ``place``; ``whole`` has its caption too."""

    widget: Widget
    place: Box
    whole: Box

    @property
    def behind(self) -> bool:
        """Whether the others may stand on it."""
        return self.widget.one(PhraseKind.BEHIND) is not None


def placed_in(widget: Widget, area: Box, canvas: Canvas) -> Placed:
    """A piece of an area that is filled freely. Raises ``DesignError`` A309 where its place or size is not
    told, A302 for a pictogram with two sizes, A314 where it leaves the area."""
    at, sized = widget.one(PhraseKind.AT), widget.one(PhraseKind.SIZED)
    behind = widget.one(PhraseKind.BEHIND) is not None
    if behind and at is None and sized is None:
        return Placed(widget, area, area)
    size = _size_of(widget, sized, canvas)
    if behind and at is None:
        left, top = area.left + (area.width - size[0]) // 2, area.top + (area.height - size[1]) // 2
        place = Box(left, top, *size)
    else:
        place = place_of(widget.phrases, size, widget.head, area, canvas, align=alignment(widget))
    whole = with_caption(widget, place, canvas) if widget.kind in PICTOGRAMS else place
    span = at.span if at is not None and whole is place else widget.head
    check_inside(whole, area, span, canvas, "the piece" if whole is place else "the piece with its caption")
    return Placed(widget, place, whole)


def _size_of(widget: Widget, sized: Phrase | None, canvas: Canvas) -> tuple[int, int]:
    """Width and height in px: as ``sized`` says, or what the piece has by itself."""
    said = [lengths.pixels(value, canvas.design.panel) for value in sized.values] if sized else []
    if widget.kind in PICTOGRAMS:
        if sized is not None and len(said) > 1:
            message, remedy = "a pictogram has one size", f"write sized {written(sized.values[0])}"
            raise DesignError([error("A302", message, sized.span, remedy)])
        side = said[0] if said else canvas.px(DEFAULT_PIECE_MM)
        return side, side
    if sized is not None and len(said) > 1:
        return lengths.pixels(sized.values[0], canvas.design.panel, across=True), said[1]
    natural = getattr(WIDGETS[widget.kind], "natural", None)
    width, height = (None, None) if natural is None else natural(widget, canvas, said[0] if said else None)
    width = said[0] if said else width
    if width is None:
        message = f"a freely placed {widget.kind} needs its size"
        remedy = f"add sized 40 mm{' by 20 mm' if height is None else ''}: how wide"
        remedy += " and how high it is" if height is None else " it is"
        raise DesignError([lacking("A309", message, widget.head, remedy)])
    if height is None:
        assert sized is not None
        message = f"a freely placed {widget.kind} needs its height too"
        remedy = f"write sized {written(sized.values[0])} by 20 mm: how wide and how high it is"
        raise DesignError([lacking("A309", message, sized.span, remedy)])
    return width, height


def place_of(
    phrases: Sequence[Phrase],
    size: tuple[int, int],
    span: Span,
    area: Box,
    canvas: Canvas,
    *,
    align: Alignment = Alignment.CENTRE,
) -> Box:
    """The box of ``size`` px about the point that the ``at`` phrase names, measured from the area's corner:
    its middle, or the middle of its left or right edge. Raises ``DesignError`` A309."""
    at = next((phrase for phrase in phrases if phrase.kind == PhraseKind.AT), None)
    if at is None:
        remedy = "add at 10 mm across 10 mm down, measured from the area's top left corner"
        raise DesignError([lacking("A309", "a freely placed piece needs its place", span, remedy)])
    panel = canvas.design.panel
    across, down = (
        lengths.pixels(value, panel, way) for value, way in zip(at.values, (True, False), strict=True)
    )
    width, height = size
    before = {Alignment.LEFT: 0, Alignment.CENTRE: width // 2, Alignment.RIGHT: width}[align]
    return Box(area.left + across - before, area.top + down - height // 2, width, height)


def check_inside(place: Box, area: Box, span: Span, canvas: Canvas, what: str = "the piece") -> None:
    """Raises ``DesignError`` A314 for a piece that leaves its area."""
    right = _beyond(place.left - area.left, place.width, area.width)
    down = _beyond(place.top - area.top, place.height, area.height)
    if right == down == 0:
        return
    panel = canvas.design.panel
    wide, high = area.width * panel.pitch_across, area.height * panel.pitch
    message = f"{what} leaves its area, which is {wide:.0f} x {high:.0f} mm"
    if place.width > area.width or place.height > area.height:
        # As wide to its height as it is now.
        part = min(area.width / place.width, area.height / place.height)
        sides = place.width * panel.pitch_across, place.height * panel.pitch
        across, tall = (at_most(math.floor(each * part * 10 + 1e-6) / 10) for each in sides)
        remedy = f"make it {across} mm wide and {tall} mm high, or its area larger"
    else:
        moves = []
        if right:
            moves.append(f"{millimetres(abs(right), panel, True)} {'right' if right > 0 else 'left'}")
        if down:
            moves.append(f"{millimetres(abs(down), panel)} {'down' if down > 0 else 'up'}")
        remedy = f"move it {' and '.join(moves)}, or make it smaller"
    raise DesignError([error("A314", message, span, remedy, rests_on=GLASS)])


def _beyond(start: int, size: int, room: int) -> int:
    """The px by which something has to move on to lie within a room, below 0 to move back."""
    return max(0, -start) or min(0, room - start - size)
