"""dial: a round scale with a needle, coloured bands and the value in figures."""

from __future__ import annotations

import math
from itertools import pairwise

from hmic.arrange.canvas import Canvas, phrase_text, scale
from hmic.arrange.widgets.bar import mark_text, marks_of
from hmic.arrange.widgets.common import (
    KNOWN,
    Number,
    beyond,
    captioned,
    fit_width,
    foot_room,
    limits_of,
    longest,
    measured,
    number_ink,
    number_left,
    place_number,
)
from hmic.language.syntax import Widget
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed
from hmic.paint import shapes
from hmic.paint.operations import LARGEST_POINTER, Box, Mask, Outline, Pointer, Stencil
from hmic.paint.raster import UNIT, Point, Samples, arc, polar

SUBJECT = "value"
PHRASES = frozenset({"scale", "marks", "format", "text", "called", "above", "below", "colour", "within"})
# Compass bearings of both ends of the scale; it runs clockwise over the top.
FIRST, LAST = -135, 135
STEPS_AT_MOST = 270
NUMBER_ARCMIN = 22
MARK_ARCMIN = 14
LEAST_RADIUS_MM = 9.0
# Height of the arc in parts of its radius.
OPEN = 1.74


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Caption above; the scale's arc with its bands outside, marks and figures inside, the value
    below the hub in the open part of the arc."""
    assert widget.subject is not None
    place = captioned(widget, box, canvas)
    value = canvas.shown(widget.subject)
    low, high = scale(widget, value, canvas)
    number = _number(widget, canvas)
    below = number.height + foot_room(number, canvas) if number else 0
    # The ends of the arc lie 0.71 of the radius below the middle; the number stands under them.
    radius = min(place.width // 2, int((place.height - below) / OPEN), LARGEST_POINTER // 2) - 1
    least, what = canvas.px(LEAST_RADIUS_MM) + 1, "the dial with its number" if number else "the dial"
    canvas.fit(2 * least, place.width, what, widget.head, least=True)
    canvas.fit(math.ceil(least * OPEN) + below, place.height, what, widget.head, height=True, least=True)
    height = int(radius * OPEN) + below
    centre = (place.left + place.width // 2, place.top + (place.height - height) // 2 + radius)
    _arcs(widget, value, (low, high), centre, radius, canvas)
    marks = marks_of(widget, value, low, high, canvas)
    _marks(widget, marks, (low, high), centre, radius, canvas)
    _place_number(widget, number, (centre[0], centre[1] + int(radius * (OPEN - 1))), place, canvas)
    _needle(value, (low, high), centre, radius, canvas)


def bearing(value: float, ends: tuple[float, float]) -> int:
    """The compass bearing of a value, whole degrees."""
    part = min(max((value - ends[0]) / (ends[1] - ends[0]), 0.0), 1.0)
    return FIRST + round(part * (LAST - FIRST))


def _face(centre: Point, radius: int) -> Box:
    """The box of the arc and all within it, as far down as its ends."""
    return Box(centre[0] - radius, centre[1] - radius, 2 * radius + 1, int(radius * OPEN) + 1)


def _band(canvas: Canvas) -> int:
    return max(3, canvas.px(1.2))


def _arcs(
    widget: Widget,
    value: Typed,
    ends: tuple[float, float],
    centre: Point,
    radius: int,
    canvas: Canvas,
) -> None:
    """Each stretch of the scale in the colour of the gravest limit beyond which it lies, hatched when the
    value is in doubt."""
    limits = limits_of(widget, value, canvas)
    inside = sorted({limit for _, limit, _ in limits if ends[0] < limit < ends[1]})
    channel = canvas.channel(Channel(value, KNOWN))
    for low, high in pairwise([ends[0], *inside, ends[1]]):
        role = beyond(limits, (low + high) / 2) or "quiet"
        _arc((bearing(low, ends), bearing(high, ends)), role, centre, radius, channel, canvas)


def _arc(span: tuple[int, int], role: str, centre: Point, radius: int, channel: int, canvas: Canvas) -> None:
    box = _face(centre, radius)
    middle = (box.width * UNIT // 2, box.width * UNIT // 2)
    outer, inner = radius * UNIT, (radius - _band(canvas)) * UNIT
    samples = Samples(box.width, box.height)
    samples.polygon([[*arc(middle, outer, *span), *reversed(arc(middle, inner, *span))]])
    ink = canvas.artwork.inks([role], channel)
    canvas.operations.append(Stencil(box, canvas.artwork.mask(samples.mask()), ink))


def _stencil(mask: Mask, box: Box, role: str, canvas: Canvas) -> None:
    canvas.operations.append(Stencil(box, canvas.artwork.mask(mask), canvas.artwork.ink(role)))


def _marks(
    widget: Widget,
    marks: list[float],
    ends: tuple[float, float],
    centre: Point,
    radius: int,
    canvas: Canvas,
) -> None:
    if not marks:
        return
    box = _face(centre, radius)
    middle = (box.width * UNIT // 2, box.width * UNIT // 2)
    outer = (radius - _band(canvas) - max(2, canvas.px(0.3))) * UNIT
    length = canvas.px(1.6) * UNIT
    samples = Samples(box.width, box.height)
    for mark in marks:
        angle = bearing(mark, ends)
        samples.stroke([polar(middle, outer, angle), polar(middle, outer - length, angle)], 2 * UNIT)
    _stencil(samples.mask(), box, "quiet", canvas)
    face = canvas.face("text", canvas.small(MARK_ARCMIN))
    widest = max(face.measure(mark_text(mark, canvas)) for mark in marks)
    reach = (outer - length) // UNIT - canvas.px(0.6)
    for mark in marks:
        text = mark_text(mark, canvas)
        angle = bearing(mark, ends)
        # The text's box touches the inner end of its mark at every angle.
        away = reach - (widest * abs(angle) // 180 + face.capital_height) // 2
        x, y = polar((0, 0), away, angle)
        at = (centre[0] + x - face.measure(text) // 2, centre[1] + y - face.capital_height // 2)
        canvas.text(text, face, at, canvas.artwork.ink("quiet"), widget.head)


def _number(widget: Widget, canvas: Canvas) -> Number | None:
    phrase = widget.one("format")
    if phrase is None:
        return None
    assert widget.subject is not None
    height = canvas.capital_height(widget, NUMBER_ARCMIN)
    ends = widget.one("scale")
    return measured(widget.subject, phrase_text(phrase), phrase.span, height, canvas, ends=ends)


def _place_number(widget: Widget, number: Number | None, at: Point, place: Box, canvas: Canvas) -> None:
    if number is None:
        return
    fit_width(number, place.width, f'the number "{longest(number)}"', widget.head, canvas)
    left = number_left(number, Box(at[0], at[1], 0, number.height), place)
    place_number(number, (left, at[1]), number_ink(widget, canvas), widget.head, canvas)


def _needle(value: Typed, ends: tuple[float, float], centre: Point, radius: int, canvas: Canvas) -> None:
    steps = min(STEPS_AT_MOST, radius * 4)
    channel = canvas.channel(Channel(value, Scaled(ends[0], (ends[1] - ends[0]) / steps, steps + 1)))
    tip = radius - _band(canvas) - canvas.px(1.4)
    outline = needle(
        radius, [FIRST * 16 + (LAST - FIRST) * 16 * i // steps for i in range(steps + 1)], tip, canvas.px(0.9)
    )
    canvas.operations.append(
        Pointer(_face(centre, radius), channel, canvas.artwork.outline(outline), canvas.artwork.ink("ink"))
    )
    hub = 2 * canvas.px(1.4) + 1
    place = Box(centre[0] - hub // 2, centre[1] - hub // 2, hub, hub)
    _stencil(shapes.disc(hub), place, "ink", canvas)


def needle(radius: int, bearings: list[int], tip: int, half: int) -> Outline:
    """A tapered needle for each bearing (in 1/16 degree), about the middle of a box of
    ``2 * radius + 1`` px: ``tip`` px long, ``half`` px to each side at the hub."""
    import math

    middle = (2 * radius + 1) * 8
    polygons = []
    for sixteenths in bearings:
        angle = math.radians(sixteenths / 16)
        east, north = math.sin(angle), math.cos(angle)

        def at(along: float, aside: float, east: float = east, north: float = north) -> tuple[int, int]:
            x = middle + 16 * (along * east + aside * north)
            y = middle + 16 * (-along * north + aside * east)
            return round(x), round(y)

        thin = max(0.5, half / 4)
        polygons.append((at(0, -half), at(tip, -thin), at(tip, thin), at(0, half)))
    return Outline(4, tuple(polygons))
