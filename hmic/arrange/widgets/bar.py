"""bar: a straight scale filled from zero, or from its end, to the value."""

from __future__ import annotations

import math

from hmic.arrange.canvas import Canvas, inset, phrase_text, reach, scale
from hmic.arrange.formats import figure
from hmic.arrange.widgets.common import (
    Number,
    below_caption,
    caption,
    colouring,
    fit_width,
    foot_room,
    longest,
    measured,
    number_ink,
    number_left,
    place_number,
)
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Widget
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed
from hmic.paint.operations import NO_MASK, Axis, Box, Fill, Mask, Reveal, Slide

SUBJECT = "value"
PHRASES = frozenset(
    {
        "scale",
        "format",
        "text",
        "called",
        "colour",
        "above",
        "below",
        "ramp",
        "marks",
        "direction",
        "peak",
        "within",
    }
)
THICKNESS_MM = 8.0
# Of the bar itself, beside the figures of its marks.
THINNEST_MM, LEAST_MM = 1.0, 4.0
TICK_MM, TICK_GAP_MM = 1.2, 0.5
# Between bar and number, and between the figures of its marks and the number.
GAP_MM = 1.5
MARKS_GAP_MM = 3.0
NUMBER_ARCMIN = 22
MARK_ARCMIN = 14
MOST_MARKS = 60


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Caption above, number below (upright) or behind (lying), marks beside the bar. Caption, bar and
    number share one axis, the bar's."""
    assert widget.subject is not None
    place = below_caption(widget, box, canvas)
    value = canvas.shown(widget.subject)
    low, high = scale(widget, value, canvas)
    axis = _axis(widget, place)
    marks = marks_of(widget, value, low, high, canvas)
    number = _number(widget, canvas)
    rest = _beside_number(widget, number, place, axis, marks, canvas)
    track = _track(widget, rest, axis, marks, canvas)
    caption(widget, box, track, canvas)
    if number is not None:
        _draw_number(widget, number, place, track, axis, canvas)
    length = track.height if _upright(axis) else track.width
    zero = round(min(max(0.0, -low / (high - low)), 1.0) * length)
    channel = canvas.channel(Channel(value, Scaled(low, (high - low) / length, length + 1)))
    canvas.operations.append(Fill(track, canvas.artwork.ink("surface")))
    ink = colouring(widget, value, "accent", canvas)
    canvas.operations.append(Reveal(track, channel, axis, zero, NO_MASK, ink))
    _peak(widget, value, (low, high), track, axis, canvas)
    _draw_marks(widget, track, axis, marks, low, high, canvas)


def _peak(
    widget: Widget, value: Typed, ends: tuple[float, float], track: Box, axis: Axis, canvas: Canvas
) -> None:
    """A thin line that stays at the highest value for the time that ``peak held`` says."""
    phrase = widget.one("peak")
    if phrase is None:
        return
    held = canvas.constant(phrase.values[0], "s")
    thick = max(2, canvas.px(0.5))
    upright = _upright(axis)
    length = (track.height if upright else track.width) - thick
    steps = Scaled(ends[0], (ends[1] - ends[0]) / length, length + 1)
    channel = canvas.channel(Channel(value, steps, peak=held))
    size = (track.width, thick) if upright else (thick, track.height)
    mask = canvas.artwork.mask(Mask(*size, bytes([15]) * (size[0] * size[1])))
    canvas.operations.append(Slide(track, channel, axis, mask, canvas.artwork.ink("ink")))


def _axis(widget: Widget, box: Box) -> Axis:
    phrase = widget.one("direction")
    if phrase is None:
        return Axis.UPWARD if box.height > box.width else Axis.RIGHTWARD
    return Axis[phrase.words[0].upper()]


def _upright(axis: Axis) -> bool:
    return axis in (Axis.UPWARD, Axis.DOWNWARD)


def _number(widget: Widget, canvas: Canvas) -> Number | None:
    phrase = widget.one("format")
    if phrase is None:
        return None
    assert widget.subject is not None
    height = canvas.capital_height(widget, NUMBER_ARCMIN)
    ends = widget.one("scale")
    return measured(widget.subject, phrase_text(phrase), phrase.span, height, canvas, ends=ends)


def _beside_number(
    widget: Widget, number: Number | None, place: Box, axis: Axis, marks: list[float], canvas: Canvas
) -> Box:
    """The place that the number leaves for the bar and its marks."""
    phrase = widget.one("format")
    if number is None or phrase is None:
        return place
    what, letters = f'the number "{longest(number)}"', number.height
    fit_width(number, place.width, what, phrase.span, canvas)
    canvas.fit(number.tall, place.height, what, phrase.span, height=True, letters=letters)
    if _upright(axis):
        # The lowest mark's figures end where the bar does or below: they keep clear of the number.
        gap = canvas.px(MARKS_GAP_MM if marks else GAP_MM)
        rest = inset(place, 0, 0, 0, number.height + gap + foot_room(number, canvas))
    else:
        rest = inset(place, 0, 0, number.width + canvas.px(GAP_MM), 0)
    room, high = min(rest.height, rest.width), rest.height < rest.width
    canvas.fit(canvas.px(LEAST_MM), room, f"the bar beside {what}", phrase.span, high, shorter="", least=True)
    return rest


def _draw_number(widget: Widget, number: Number, place: Box, track: Box, axis: Axis, canvas: Canvas) -> None:
    """Under an upright bar, in its axis; behind a lying one, at its height."""
    if _upright(axis):
        left = number_left(number, track, place)
        top = place.top + place.height - number.height - foot_room(number, canvas)
    else:
        left = place.left + place.width - number.width
        middle = track.top + (track.height - number.height) // 2
        lowest = place.top + place.height - number.height - number.below
        top = max(place.top + number.above, min(middle, lowest))
    phrase = widget.one("format")
    span = phrase.span if phrase is not None else widget.head
    place_number(number, (left, top), number_ink(widget, canvas), span, canvas)


def marks_of(widget: Widget, value: Typed, low: float, high: float, canvas: Canvas) -> list[float]:
    """The values that the ``marks every`` phrase asks for, within the scale."""
    phrase = widget.one("marks")
    if phrase is None:
        return []
    every = canvas.step(phrase.values[0], value)
    if every <= 0 or (high - low) / every > MOST_MARKS:
        message = f"marks every {every:g} over {low:g} to {high:g} make no readable scale"
        remedy = (
            f"write marks every {(high - low) / 5:g} {value.unit.spelling if value.unit else ''}".rstrip()
        )
        raise DesignError([error("A325", message, phrase.span, remedy)])
    if value.unit is not None and value.unit.spelling in canvas.design.locale.units.values():
        every = _round(every)
    first = math.ceil(low / every - 1e-9)
    last = math.floor(high / every + 1e-9)
    return [round(i * every, 9) for i in range(first, last + 1)]


def _round(every: float) -> float:
    """The nearest of 1, 2 and 5 times a power of ten: a converted step of marks is round again."""
    power = 10.0 ** math.floor(math.log10(every))
    return min((1 * power, 2 * power, 5 * power, 10 * power), key=lambda step: abs(math.log(step / every)))


def _track(widget: Widget, place: Box, axis: Axis, marks: list[float], canvas: Canvas) -> Box:
    """The bar's box. Raises ``DesignError`` A350 or A351 where the figures of its marks leave none."""
    upright = _upright(axis)
    room, pad = _beside_track(upright, marks, canvas)
    across, along = (place.width, place.height) if upright else (place.height, place.width)
    what = "the bar with the figures of its marks" if marks else "the bar"
    thinnest, least = canvas.px(THINNEST_MM), canvas.px(LEAST_MM)
    canvas.fit(thinnest + room, across, what, widget.head, not upright, least=True)
    canvas.fit(least + 2 * pad, along, what, widget.head, upright, least=True)
    thickness = min(canvas.px(THICKNESS_MM), across - room)
    if upright:
        # In the middle of its place, unless the marks' figures need more than half of the rest.
        left = place.left + max(room, (across - thickness) // 2)
        return Box(left, place.top + pad, thickness, along - 2 * pad)
    top = place.top + (across - thickness - room) // 2
    return Box(place.left + pad, top, along - 2 * pad, thickness)


def _beside_track(upright: bool, marks: list[float], canvas: Canvas) -> tuple[int, int]:
    """(across the bar on the side of its marks, along the bar beyond both ends): what marks and figures
    take of its place, in px."""
    if not marks:
        return 0, 0
    face = canvas.face("text", canvas.small(MARK_ARCMIN))
    boxes = [face.ink_box(mark_text(mark, canvas)) for mark in marks]
    wide = max(
        max(right, face.measure(mark_text(mark, canvas))) - min(0, left)
        for mark, (left, _, right, _) in zip(marks, boxes, strict=True)
    )
    above, below = reach([mark_text(mark, canvas) for mark in marks], face)
    tick = canvas.px(TICK_MM) + 2 * canvas.px(TICK_GAP_MM)
    if upright:
        return tick + wide, face.capital_height // 2 + max(above, below)
    return tick + face.capital_height + below, -(-wide // 2)


def mark_text(mark: float, canvas: Canvas) -> str:
    """A mark's figures."""
    return figure(mark, canvas.design.locale)


def _draw_marks(
    widget: Widget, track: Box, axis: Axis, marks: list[float], low: float, high: float, canvas: Canvas
) -> None:
    face = canvas.face("text", canvas.small(MARK_ARCMIN))
    ink = canvas.artwork.ink("quiet")
    tick, gap, thin = canvas.px(TICK_MM), canvas.px(TICK_GAP_MM), max(1, canvas.px(0.2))
    for mark in marks:
        part = (mark - low) / (high - low)
        if axis in (Axis.LEFTWARD, Axis.DOWNWARD):
            part = 1 - part
        text = mark_text(mark, canvas)
        if _upright(axis):
            y = track.top + track.height - round(part * track.height)
            y = min(max(y, track.top), track.top + track.height - thin)
            left = track.left - gap - tick
            canvas.operations.append(Fill(Box(left, y, tick, thin), ink))
            at = (left - gap - face.measure(text), y - face.capital_height // 2)
        else:
            x = min(track.left + round(part * track.width), track.left + track.width - thin)
            top = track.top + track.height + gap
            canvas.operations.append(Fill(Box(x, top, thin, tick), ink))
            at = (x - face.measure(text) // 2, top + tick + gap)
        canvas.text(text, face, at, ink, widget.head)
