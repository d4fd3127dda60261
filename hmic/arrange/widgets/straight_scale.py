"""What stands along a straight scale: zones, marks with their figures, a target."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import NamedTuple

from hmic.arrange.canvas import Canvas, reach
from hmic.arrange.widgets import zones
from hmic.arrange.widgets.common import KNOWN
from hmic.arrange.widgets.marks import APART, Marks, mark_face, mark_text, round_above
from hmic.arrange.widgets.zones import Zone
from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.language.syntax import PhraseKind, Widget, WidgetKind
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed
from hmic.paint.fonts import Face
from hmic.paint.operations import Axis, Box, Fill, Mask, Slide
from hmic.paint.raster import UNIT, Samples

TICK_MM, TICK_GAP_MM = 1.2, 0.5
ZONE_MM, ZONE_GAP_MM = 1.2, 0.4
TARGET_MM, TARGET_GAP_MM = 2.4, 0.3
SEGMENT_GAP_MM = 0.5
LEAST_SEGMENT = 2
"""The shortest segment with the gap after it, in gaps."""

Figured = StrEnum("Figured", "BESIDE INSIDE NONE")
"""Where the figures of the marks stand; ``INSIDE`` is for a bar."""


class Room(NamedTuple):
    """What a scale takes of its place beside the track on the side of its marks and on the other, and along
    it beyond both ends, in px."""

    marks: int
    other: int
    ends: int


@dataclass(frozen=True)
class Straight:
    """What the sentence asks for along a track."""

    axis: Axis
    marks: Marks
    figured: Figured
    zones: tuple[Zone, ...]
    value: Typed
    target: Typed | None

    @property
    def upright(self) -> bool:
        """Whether the track stands."""
        return self.axis in (Axis.UPWARD, Axis.DOWNWARD)

    @property
    def ends(self) -> tuple[float, float]:
        """Both ends of the scale."""
        return self.marks.low, self.marks.high

    def place(self, value: float, length: int) -> int:
        """How far along a track of that length from its left or top a value stands."""
        low, high = self.ends
        part = min(max((value - low) / (high - low), 0.0), 1.0)
        at = round((1 - part if self.axis in (Axis.LEFTWARD, Axis.DOWNWARD) else part) * length)
        return length - at if self.upright else at


def straight_of(widget: Widget, value: Typed, axis: Axis, marks: Marks, canvas: Canvas) -> Straight:
    """What stands along the scale of the ``marks``. Raises ``DesignError`` A386, A387, A341."""
    phrase = widget.one(PhraseKind.TARGET)
    unit = value.unit.spelling if value.unit else None
    target = canvas.number(phrase.values[0], unit) if phrase is not None else None
    ends = (marks.low, marks.high)
    found = zones.zones_of(widget, value, ends, canvas) if zones.are_shown(widget) else []
    shown = tuple(zone for zone in found if zone.role)
    return Straight(axis, marks, _figured(widget), shown, value, target)


def _figured(widget: Widget) -> Figured:
    phrase = widget.one(PhraseKind.FIGURES)
    if phrase is None:
        return Figured.BESIDE
    word = phrase.words[0]
    known = [each for each in Figured if each is not Figured.INSIDE or widget.kind == WidgetKind.BAR]
    if word not in known:
        remedy = did_you_mean(word, known, f"figures of a {widget.kind}")
        raise DesignError([error("A386", f"a {widget.kind} has no figures '{word}'", phrase.span, remedy)])
    return Figured(word)


def room_beside(scale: Straight, canvas: Canvas) -> Room:
    """What marks, zones and target take of the place."""
    marks, other, ends = _zone_room(scale, canvas), 0, 0
    inside = scale.figured is Figured.INSIDE
    if scale.marks.values and not inside:
        marks += canvas.px(TICK_MM) + canvas.px(TICK_GAP_MM)
    if scale.target is not None:
        other, ends = canvas.px(TARGET_MM) + canvas.px(TARGET_GAP_MM), _target_width(canvas) // 2
    if not scale.marks.values or inside or scale.figured is Figured.NONE:
        return Room(marks, other, ends)
    face = mark_face(canvas)
    texts = [mark_text(mark, canvas) for mark in scale.marks.values]
    wide = max(_width(text, face) for text in texts)
    above, below = reach(texts, face)
    marks += canvas.px(TICK_GAP_MM)
    if scale.upright:
        return Room(marks + wide, other, max(ends, face.capital_height // 2 + max(above, below)))
    return Room(marks + face.capital_height + below, other, max(ends, -(-wide // 2)))


def inside_need(scale: Straight, canvas: Canvas) -> int:
    """How thick a bar has to be for marks and figures inside it, in px; 0 without any."""
    if not scale.marks.values or scale.figured is not Figured.INSIDE:
        return 0
    face = mark_face(canvas)
    across = face.capital_height
    if scale.upright:
        across = max(_width(mark_text(mark, canvas), face) for mark in scale.marks.values)
    return across + canvas.px(TICK_MM) + 2 * canvas.px(TICK_GAP_MM)


def _zone_room(scale: Straight, canvas: Canvas) -> int:
    return canvas.px(ZONE_MM) + canvas.px(ZONE_GAP_MM) if scale.zones else 0


def _target_width(canvas: Canvas) -> int:
    """Along the scale; even, so that its tip stands between two pixels, where a filling ends."""
    return 2 * max(2, canvas.px(TARGET_MM) // 2)


def lengths(scale: Straight, canvas: Canvas) -> dict[tuple[float, ...], int]:
    """For each choice of marks that may have figures the length of track in px that keeps them apart, the
    most figures first."""
    if scale.figured is Figured.NONE:
        return {}
    face, marks = mark_face(canvas), scale.marks
    apart = math.ceil(APART * face.capital_height)
    found = {}
    for chosen in marks.choices():
        sizes = [
            face.capital_height if scale.upright else _width(mark_text(mark, canvas), face) for mark in chosen
        ]
        nearest = max(((one + other + 1) // 2 + apart for one, other in pairwise(sizes)), default=0)
        step = chosen[1] - chosen[0] if len(chosen) > 1 else 1.0
        # Both places are rounded to pixels.
        found[chosen] = math.ceil((nearest + 1) * (marks.high - marks.low) / step) if nearest else 0
    return found


def figured_marks(scale: Straight, length: int, canvas: Canvas) -> tuple[float, ...]:
    """The marks that have figures on a track of so many px."""
    return next((chosen for chosen, need in lengths(scale, canvas).items() if need <= length), ())


def _width(text: str, face: Face) -> int:
    left, _, right, _ = face.ink_box(text)
    return max(right, face.measure(text)) - min(0, left)


def draw_scale(widget: Widget, scale: Straight, track: Box, canvas: Canvas) -> None:
    """Beside a track, which lies there already: on the left of one that stands, below one that lies; the
    target on its other side. What stands inside it is not drawn here."""
    _draw_zones(scale, track, canvas)
    if scale.figured is not Figured.INSIDE:
        _draw_marks(widget, scale, track, canvas)
    _draw_target(scale, track, canvas)


def _draw_zones(scale: Straight, track: Box, canvas: Canvas) -> None:
    """Hatched while the value is in doubt, as the track is."""
    wide, gap = canvas.px(ZONE_MM), canvas.px(ZONE_GAP_MM)
    for zone in scale.zones:
        known = canvas.channel(Channel(scale.value, KNOWN))
        ink = canvas.artwork.inks([zone.role], known)
        length = track.height if scale.upright else track.width
        first, last = sorted(scale.place(end, length) for end in (zone.low, zone.high))
        if scale.upright:
            box = Box(track.left - gap - wide, track.top + first, wide, last - first)
        else:
            box = Box(track.left + first, track.top + track.height + gap, last - first, wide)
        canvas.operations.append(Fill(box, ink))


def _draw_marks(widget: Widget, scale: Straight, track: Box, canvas: Canvas) -> None:
    face = mark_face(canvas)
    ink = canvas.artwork.ink("quiet")
    tick, gap, thin = canvas.px(TICK_MM), canvas.px(TICK_GAP_MM), max(1, canvas.px(0.2))
    off = gap + _zone_room(scale, canvas)
    length = track.height if scale.upright else track.width
    figured = figured_marks(scale, length, canvas)
    for mark in scale.marks.values:
        at = scale.place(mark, length)
        text = mark_text(mark, canvas)
        if scale.upright:
            y = min(track.top + at, track.top + length - thin)
            left = track.left - off - tick
            canvas.operations.append(Fill(Box(left, y, tick, thin), ink))
            pen = (left - gap - face.measure(text), y - face.capital_height // 2)
        else:
            x = min(track.left + at, track.left + length - thin)
            top = track.top + track.height + off
            canvas.operations.append(Fill(Box(x, top, thin, tick), ink))
            pen = (x - face.measure(text) // 2, top + tick + gap)
        if mark in figured:
            canvas.text(text, face, pen, ink, widget.head)


def _draw_target(scale: Straight, track: Box, canvas: Canvas) -> None:
    """A small triangle whose tip points at the track."""
    if scale.target is None:
        return
    low, high = scale.ends
    length = track.height if scale.upright else track.width
    channel = canvas.channel(Channel(scale.target, Scaled(low, (high - low) / length, length + 1)))
    wide, long, gap = _target_width(canvas), canvas.px(TARGET_MM), canvas.px(TARGET_GAP_MM)
    if scale.upright:
        box = Box(track.left + track.width + gap, track.top - wide // 2, long, length + wide)
        corners = [(0, wide * UNIT // 2), (long * UNIT, 0), (long * UNIT, wide * UNIT)]
    else:
        box = Box(track.left - wide // 2, track.top - gap - long, length + wide, long)
        corners = [(wide * UNIT // 2, long * UNIT), (0, 0), (wide * UNIT, 0)]
    size = (long, wide) if scale.upright else (wide, long)
    samples = Samples(*size)
    samples.polygon([corners])
    canvas.operations.append(
        Slide(box, channel, scale.axis, canvas.artwork.mask(samples.mask()), canvas.artwork.ink("accent"))
    )


def segmented(mask: Mask, widget: Widget, scale: Straight, canvas: Canvas) -> Mask:
    """The mask of a track in segments, as ``segments every`` says. Raises ``DesignError`` A325."""
    phrase = widget.one(PhraseKind.SEGMENTS)
    if phrase is None:
        return mask
    every = canvas.step(phrase.values[0], scale.value)
    low, high = scale.ends
    length = mask.height if scale.upright else mask.width
    gap = max(2, canvas.px(SEGMENT_GAP_MM))
    if every <= 0 or every * length < LEAST_SEGMENT * gap * (high - low):
        unit = scale.value.unit.spelling if scale.value.unit else ""
        message = f"segments every {every:g} on {length} px cannot be told apart"
        fit = round_above(max(LEAST_SEGMENT * gap * (high - low) / length, (high - low) / 20))
        remedy = f"write segments every {fit:g} {unit}".rstrip()
        raise DesignError([error("A325", message, phrase.span, remedy)])
    first, last = math.floor(low / every) + 1, math.ceil(high / every) - 1
    cut = bytearray(mask.coverage)
    for number in range(first, last + 1):
        at = scale.place(number * every, length) - gap // 2
        for along in range(max(0, at), min(length, at + gap)):
            if scale.upright:
                cut[along * mask.width : (along + 1) * mask.width] = bytes(mask.width)
            else:
                cut[along :: mask.width] = bytes(mask.height)
    return Mask(mask.width, mask.height, bytes(cut))
