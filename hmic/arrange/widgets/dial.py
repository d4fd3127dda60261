"""dial: a round scale with a needle, coloured bands and the value in figures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import count, pairwise

from hmic.arrange.canvas import Canvas, phrase_text, scale
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
from hmic.arrange.widgets.marks import APART, Marks, mark_face, mark_text, marks_of
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
LEAST_RADIUS_MM = 9.0
# Length of a mark, from it to its figures, half of the hub.
MARK_MM, FIGURES_MM, HUB_MM = 1.6, 0.6, 1.4
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
    marks = marks_of(widget, value, low, high, canvas)
    below = number.height + foot_room(number, canvas) if number else 0
    # The ends of the arc lie 0.71 of the radius below the middle; the number stands under them.
    radius = min(place.width // 2, int((place.height - below) / OPEN), LARGEST_POINTER // 2) - 1
    least = _least(marks, canvas.px(LEAST_RADIUS_MM), canvas) + 1
    parts = [*(["its number"] if number else []), *(["the figures of its marks"] if marks.values else [])]
    what = " with ".join(["the dial", *([" and ".join(parts)] if parts else [])])
    canvas.fit(2 * least, place.width, what, widget.head, least=True)
    canvas.fit(math.ceil(least * OPEN) + below, place.height, what, widget.head, height=True, least=True)
    height = int(radius * OPEN) + below
    centre = (place.left + place.width // 2, place.top + (place.height - height) // 2 + radius)
    _arcs(widget, value, (low, high), centre, radius, canvas)
    _marks(widget, marks, centre, radius, canvas)
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


def _hub(canvas: Canvas) -> int:
    """Width of the hub."""
    return 2 * canvas.px(HUB_MM) + 1


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


def _marks(widget: Widget, marks: Marks, centre: Point, radius: int, canvas: Canvas) -> None:
    if not marks.values:
        return
    box = _face(centre, radius)
    middle = (box.width * UNIT // 2, box.width * UNIT // 2)
    outer, inner = _ring(radius, canvas)
    samples = Samples(box.width, box.height)
    for mark in marks.values:
        angle = bearing(mark, (marks.low, marks.high))
        samples.stroke([polar(middle, outer * UNIT, angle), polar(middle, inner * UNIT, angle)], 2 * UNIT)
    _stencil(samples.mask(), box, "quiet", canvas)
    face = mark_face(canvas)
    for mark, place in _figures(marks, radius, canvas).items():
        at = (centre[0] + place.left, centre[1] + place.top)
        canvas.text(mark_text(mark, canvas), face, at, canvas.artwork.ink("quiet"), widget.head)


def _ring(radius: int, canvas: Canvas) -> tuple[int, int]:
    """How far from the hub marks begin and end."""
    outer = radius - _band(canvas) - max(2, canvas.px(0.3))
    return outer, outer - canvas.px(MARK_MM)


def _figures(marks: Marks, radius: int, canvas: Canvas) -> dict[float, Box]:
    """The marks that have figures, and the place of these from the hub: the most that stay apart from
    each other and from the hub."""
    fewest = marks.choices()[-1]
    chosen = next((each for each in marks.choices() if _clear(each, marks, radius, canvas)), fewest)
    return _places(chosen, marks, radius, canvas)


def _clear(chosen: Sequence[float], marks: Marks, radius: int, canvas: Canvas) -> bool:
    apart = math.ceil(APART * mark_face(canvas).capital_height)
    boxes = list(_places(chosen, marks, radius, canvas).values())
    return all(_distance(box) > _hub(canvas) // 2 + apart // 2 for box in boxes) and not any(
        _near(one, other, apart) for at, one in enumerate(boxes) for other in boxes[:at]
    )


def _places(chosen: Sequence[float], marks: Marks, radius: int, canvas: Canvas) -> dict[float, Box]:
    face = mark_face(canvas)
    reach = _ring(radius, canvas)[1] - canvas.px(FIGURES_MM)
    return {
        mark: _inside(
            face.measure(mark_text(mark, canvas)),
            face.capital_height,
            reach,
            bearing(mark, (marks.low, marks.high)),
        )
        for mark in chosen
    }


def _inside(width: int, height: int, reach: int, angle: int) -> Box:
    """A box that touches a circle about the hub from within: its middle lies at a bearing, its furthest
    corner ``reach`` px from the hub."""
    east, north = (abs(part) for part in polar((0, 0), UNIT, angle))
    # The furthest corner: (away * east + width / 2)^2 + (away * north + height / 2)^2 = reach^2.
    half = (east * width + north * height) // (2 * UNIT)
    rest = reach * reach - (width * width + height * height) // 4
    away = math.isqrt(max(0, half * half + rest)) - half
    x, y = polar((0, 0), away, angle)
    return Box(x - width // 2, y - height // 2, width, height)


def _distance(box: Box) -> int:
    """From the hub to the nearest pixel of a box."""
    across = max(box.left, -(box.left + box.width), 0)
    down = max(box.top, -(box.top + box.height), 0)
    return math.isqrt(across * across + down * down)


def _near(one: Box, other: Box, apart: int) -> bool:
    across = max(one.left, other.left) - min(one.left + one.width, other.left + other.width)
    down = max(one.top, other.top) - min(one.top + one.height, other.top + other.height)
    return max(across, down) < apart


def _least(marks: Marks, radius: int, canvas: Canvas) -> int:
    """The least radius from ``radius`` on at which the figures of the marks have room."""
    if not marks.values:
        return radius
    fewest = marks.choices()[-1]
    return next(each for each in count(radius) if _clear(fewest, marks, each, canvas))


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
    hub = _hub(canvas)
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
