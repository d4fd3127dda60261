"""bar: a straight scale filled from zero, or from its end, to the value."""

from __future__ import annotations

import math
from itertools import pairwise

from hmic.arrange.canvas import Canvas, inset, phrase_text, reach, scale
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
from hmic.arrange.widgets.marks import APART, Marks, mark_face, mark_text, marks_of
from hmic.language.syntax import PhraseKind, Widget, phrase_kinds
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed
from hmic.paint.fonts import Face
from hmic.paint.operations import NO_MASK, Axis, Box, Fill, Mask, Reveal, Slide

SUBJECT = "value"
PHRASES = phrase_kinds("scale format text called colour above below ramp marks direction peak within")
THICKNESS_MM = 8.0
# Of the bar itself, beside the figures of its marks.
THINNEST_MM, LEAST_MM = 1.0, 4.0
TICK_MM, TICK_GAP_MM = 1.2, 0.5
# Between bar and number, and between the figures of its marks and the number.
GAP_MM = 1.5
MARKS_GAP_MM = 3.0
NUMBER_ARCMIN = 22


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
    rest = _beside_number(widget, number, place, axis=axis, marks=marks, canvas=canvas)
    track = _track(widget, rest, axis, marks, canvas)
    caption(widget, box, track, canvas)
    if number is not None:
        _draw_number(widget, number, place, track=track, axis=axis, canvas=canvas)
    length = track.height if _upright(axis) else track.width
    zero = round(min(max(0.0, -low / (high - low)), 1.0) * length)
    channel = canvas.channel(Channel(value, Scaled(low, (high - low) / length, length + 1)))
    canvas.operations.append(Fill(track, canvas.artwork.ink("surface")))
    ink = colouring(widget, value, "accent", canvas)
    canvas.operations.append(Reveal(track, channel, axis, zero, NO_MASK, ink))
    _peak(widget, value, (low, high), track=track, axis=axis, canvas=canvas)
    _draw_marks(widget, track, axis, marks, canvas)


def _peak(
    widget: Widget, value: Typed, ends: tuple[float, float], *, track: Box, axis: Axis, canvas: Canvas
) -> None:
    """A thin line that stays at the highest value for the time that ``peak held`` says."""
    phrase = widget.one(PhraseKind.PEAK)
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
    phrase = widget.one(PhraseKind.DIRECTION)
    if phrase is None:
        return Axis.UPWARD if box.height > box.width else Axis.RIGHTWARD
    return Axis[phrase.words[0].upper()]


def _upright(axis: Axis) -> bool:
    return axis in (Axis.UPWARD, Axis.DOWNWARD)


def _number(widget: Widget, canvas: Canvas) -> Number | None:
    phrase = widget.one(PhraseKind.FORMAT)
    if phrase is None:
        return None
    assert widget.subject is not None
    height = canvas.capital_height(widget, NUMBER_ARCMIN)
    ends = widget.one(PhraseKind.SCALE)
    return measured(widget.subject, phrase_text(phrase), phrase.span, height, canvas, ends=ends)


def _beside_number(
    widget: Widget, number: Number | None, place: Box, *, axis: Axis, marks: Marks, canvas: Canvas
) -> Box:
    """The place that the number leaves for the bar and its marks."""
    phrase = widget.one(PhraseKind.FORMAT)
    if number is None or phrase is None:
        return place
    what, letters = f'the number "{longest(number)}"', number.height
    fit_width(number, place.width, what, phrase.span, canvas)
    canvas.fit(number.tall, place.height, what, phrase.span, height=True, letters=letters)
    if _upright(axis):
        # The lowest mark's figures end where the bar does or below: they keep clear of the number.
        gap = canvas.px(MARKS_GAP_MM if marks.values else GAP_MM)
        rest = inset(place, 0, 0, 0, number.height + gap + foot_room(number, canvas))
    else:
        rest = inset(place, 0, 0, number.width + canvas.px(GAP_MM), 0)
    room, high = min(rest.height, rest.width), rest.height < rest.width
    canvas.fit(canvas.px(LEAST_MM), room, f"the bar beside {what}", phrase.span, high, shorter="", least=True)
    return rest


def _draw_number(
    widget: Widget, number: Number, place: Box, *, track: Box, axis: Axis, canvas: Canvas
) -> None:
    """Under an upright bar, in its axis; behind a lying one, at its height."""
    if _upright(axis):
        left = number_left(number, track, place)
        top = place.top + place.height - number.height - foot_room(number, canvas)
    else:
        left = place.left + place.width - number.width
        middle = track.top + (track.height - number.height) // 2
        lowest = place.top + place.height - number.height - number.below
        top = max(place.top + number.above, min(middle, lowest))
    phrase = widget.one(PhraseKind.FORMAT)
    span = phrase.span if phrase is not None else widget.head
    place_number(number, (left, top), number_ink(widget, canvas), span, canvas)


def _track(widget: Widget, place: Box, axis: Axis, marks: Marks, canvas: Canvas) -> Box:
    """The bar's box. Raises ``DesignError`` A350 or A351 where its marks' figures leave none."""
    upright = _upright(axis)
    room, pad = _beside_track(upright, marks, canvas)
    across, along = (place.width, place.height) if upright else (place.height, place.width)
    what = "the bar with the figures of its marks" if marks.values else "the bar"
    thinnest = canvas.px(THINNEST_MM)
    least = max(canvas.px(LEAST_MM), min(_lengths(upright, marks, canvas).values(), default=0))
    canvas.fit(thinnest + room, across, what, widget.head, not upright, least=True)
    canvas.fit(least + 2 * pad, along, what, widget.head, upright, least=True)
    thickness = min(canvas.px(THICKNESS_MM), across - room)
    if upright:
        # In the middle of its place, unless the marks' figures need more than half of the rest.
        left = place.left + max(room, (across - thickness) // 2)
        return Box(left, place.top + pad, thickness, along - 2 * pad)
    top = place.top + (across - thickness - room) // 2
    return Box(place.left + pad, top, along - 2 * pad, thickness)


def _beside_track(upright: bool, marks: Marks, canvas: Canvas) -> tuple[int, int]:
    """(across the bar on the side of its marks, along the bar beyond both ends): what marks and figures
    take of its place, in px."""
    if not marks.values:
        return 0, 0
    face = mark_face(canvas)
    texts = [mark_text(mark, canvas) for mark in marks.values]
    wide = max(_width(text, face) for text in texts)
    above, below = reach(texts, face)
    tick = canvas.px(TICK_MM) + 2 * canvas.px(TICK_GAP_MM)
    if upright:
        return tick + wide, face.capital_height // 2 + max(above, below)
    return tick + face.capital_height + below, -(-wide // 2)


def _width(text: str, face: Face) -> int:
    left, _, right, _ = face.ink_box(text)
    return max(right, face.measure(text)) - min(0, left)


def _lengths(upright: bool, marks: Marks, canvas: Canvas) -> dict[tuple[float, ...], int]:
    """For each choice of marks that may have figures the length of bar in px that keeps them apart, the
    most figures first."""
    face = mark_face(canvas)
    apart = math.ceil(APART * face.capital_height)
    lengths = {}
    for chosen in marks.choices():
        sizes = [face.capital_height if upright else _width(mark_text(mark, canvas), face) for mark in chosen]
        nearest = max(((one + other + 1) // 2 + apart for one, other in pairwise(sizes)), default=0)
        step = chosen[1] - chosen[0] if len(chosen) > 1 else 1.0
        # Both places are rounded to pixels.
        lengths[chosen] = math.ceil((nearest + 1) * (marks.high - marks.low) / step) if nearest else 0
    return lengths


def _draw_marks(widget: Widget, track: Box, axis: Axis, marks: Marks, canvas: Canvas) -> None:
    face = mark_face(canvas)
    ink = canvas.artwork.ink("quiet")
    tick, gap, thin = canvas.px(TICK_MM), canvas.px(TICK_GAP_MM), max(1, canvas.px(0.2))
    upright = _upright(axis)
    length = track.height if upright else track.width
    figured = next(
        (chosen for chosen, need in _lengths(upright, marks, canvas).items() if need <= length), ()
    )
    for mark in marks.values:
        part = (mark - marks.low) / (marks.high - marks.low)
        if axis in (Axis.LEFTWARD, Axis.DOWNWARD):
            part = 1 - part
        text = mark_text(mark, canvas)
        if upright:
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
        if mark in figured:
            canvas.text(text, face, at, ink, widget.head)
