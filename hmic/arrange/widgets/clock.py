"""clock: the time of day, in figures or with hands."""

from __future__ import annotations

from functools import cache, lru_cache

from hmic.arrange.canvas import Canvas, Line, alignment
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets import reading
from hmic.arrange.widgets.common import KNOWN, Number, captioned, measured, number_size, under_caption
from hmic.arrange.widgets.needles import baton
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import PhraseKind, Signal, Text, Widget, phrase_kinds
from hmic.model.builtin import BUILTIN, CLOCK
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed, ValueKind
from hmic.model.shown import hand
from hmic.paint import shapes
from hmic.paint.operations import LARGEST_POINTER, Box, Mask, Pointer, Stencil
from hmic.paint.raster import UNIT, Samples, polar

SUBJECT = SubjectKind.NONE
PHRASES = phrase_kinds("format text font called colour aligned hands")
PATTERNS = ("0:00", "00:00")
LEAST_RADIUS_MM = 5.0
TAIL = 0.12
"""What hands reach behind their axis, in parts of the radius (common practice, no source)."""


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int | None, int | None]:
    """As large as its figures; a face is as high as it is wide."""
    if widget.one(PhraseKind.HANDS) is not None:
        return width, width
    return under_caption(widget, number_size(_figures(widget, canvas), alignment(widget)), canvas)


def draw(widget: Widget, box: Box, canvas: Canvas) -> Line | None:
    """Hours and minutes: 24 hours a day in figures, 12 on a face."""
    if widget.one(PhraseKind.HANDS) is not None:
        _with_hands(widget, box, canvas)
        return None
    return reading.put(widget, _time(widget), _figures(widget, canvas), box, canvas)


def _time(widget: Widget) -> Signal:
    return Signal(CLOCK, None, widget.head)


def _figures(widget: Widget, canvas: Canvas) -> Number:
    phrase = widget.one(PhraseKind.FORMAT)
    pattern = phrase.values[0] if phrase else Text("00:00", widget.head)
    if not isinstance(pattern, Text) or pattern.text not in PATTERNS:
        message = "a clock shows hours and minutes"
        raise DesignError([error("A322", message, pattern.span, 'write as "0:00" or as "00:00"')])
    time, height, shown = _time(widget), canvas.capital_height(widget), pattern.text + " h"
    return measured(time, shown, pattern.span, height, canvas, with_unit=False, widget=widget)


def _with_hands(widget: Widget, box: Box, canvas: Canvas) -> None:
    """A face with a mark each hour, longer at the quarters; hour hand short and wide."""
    wrong = [phrase for phrase in widget.phrases if phrase.kind in (PhraseKind.FORMAT, PhraseKind.TEXT)]
    if wrong:
        message = "a clock with hands shows no figures"
        raise DesignError([error("A322", message, wrong[0].span, "leave this out, or leave out with hands")])
    place = captioned(widget, box, canvas)
    radius = min(place.width, place.height, LARGEST_POINTER) // 2 - 1
    lying, side = place.height < place.width, min(place.width, place.height)
    canvas.fit(2 * canvas.px(LEAST_RADIUS_MM) + 2, side, "the clock's face", widget.head, lying, least=True)
    side = 2 * radius + 1
    face = Box(place.left + (place.width - side) // 2, place.top + (place.height - side) // 2, side, side)
    known = canvas.channel(Channel(_minutes_of(60, 1.0), KNOWN))
    marks = canvas.artwork.inks(["quiet"], known)
    canvas.operations.append(Stencil(face, canvas.artwork.mask(_face(side)), marks))
    ink = canvas.artwork.ink(canvas.role(widget.one(PhraseKind.COLOUR), "ink"))
    half = max(1.0, radius / 26)
    for cycle, steps, length, thick in ((720, 144, 0.5, half * 1.5), (60, 60, 0.78, half)):
        bearings = [i * 360 * 16 // steps for i in range(steps)]
        outline = canvas.artwork.outline(baton(radius, bearings, radius * length, thick, radius * TAIL))
        steps_of = Scaled(0.0, cycle / steps, steps)
        channel = canvas.channel(Channel(_minutes_of(cycle, cycle / steps), steps_of))
        canvas.operations.append(Pointer(face, channel, outline, ink))
    hub = round(3 * half) * 2 + 1
    middle = Box(face.left + radius - hub // 2, face.top + radius - hub // 2, hub, hub)
    canvas.operations.append(Stencil(middle, canvas.artwork.mask(shapes.disc(hub)), ink))


@lru_cache(maxsize=64)
def _face(side: int) -> Mask:
    middle = (side * UNIT // 2, side * UNIT // 2)
    outer = side * UNIT // 2
    samples = Samples(side, side)
    for hour in range(12):
        length = outer // (5 if hour % 3 == 0 else 10)
        width = max(2, side // 50) * UNIT
        inner = outer - width // 2
        samples.stroke([polar(middle, inner, hour * 30), polar(middle, inner - length, hour * 30)], width)
    return samples.mask()


@cache
def _minutes_of(cycle: int, step: float) -> Typed:
    """The time of day within a hand's cycle in minutes, cut down to whole steps of the hand."""
    unit, reads = BUILTIN[CLOCK].unit, frozenset({CLOCK})
    return Typed(ValueKind.NUMBER, unit, None, 0.0, cycle - step, (), reads, hand(float(cycle), step))
