"""dial: a round scale with a needle or a filled arc, coloured bands and the value in figures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from hmic.arrange.canvas import Canvas, scale
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets import filled_arc, needles
from hmic.arrange.widgets.common import (
    KNOWN,
    Number,
    captioned,
    colouring,
    fit_width,
    foot_room,
    glide_of,
    longest,
    number_ink,
    number_left,
    number_of,
    place_number,
    smaller_text,
    with_text,
)
from hmic.arrange.widgets.marks import Marks, fine_marks, is_marked, marks_of, usual_marks
from hmic.arrange.widgets.needles import Needle
from hmic.arrange.widgets.round_marks import Figured, Ring, draw_marks, figure_places
from hmic.arrange.widgets.sweep import Sweep, ring_piece, sweep_of
from hmic.arrange.widgets.zones import zones_of
from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.language.syntax import Expression, PhraseKind, Widget, phrase_kinds
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed
from hmic.paint import shapes
from hmic.paint.operations import LARGEST_POINTER, LIVE, Box, Ink, Pointer, Stencil, When
from hmic.paint.raster import UNIT, Point, Samples

SUBJECT = SubjectKind.VALUE
PHRASES = phrase_kinds(
    "scale marks format text called above below colour ramp within sweep figures fine centred needle "
    "arc growing peak also target zone unmarked glides unit decimals font"
)
_FILLED = phrase_kinds("arc growing ramp")
STEPS_AT_MOST = 270
NUMBER_ARCMIN = 22
LEAST_RADIUS_MM = 9.0
HUB_MM = 1.4
FILLED_MM = 3.4
# Usual marks stand further apart than their figures need, and take little of the radius.
AT_EASE, LITTLE_LESS = 2.5, 0.85
# Of an arc that grows: where it begins, in parts of its width there, and how much wider it ends.
THIN, WIDER = 0.3, 1.5
TARGET_MM = 2.4
GAP_MM = 2.0


@dataclass(frozen=True)
class _Dial:
    """What the sentence asks for, looked up. ``filled`` is the width of a filled arc, 0 without one."""

    widget: Widget
    value: Typed
    ends: tuple[float, float]
    marks: Marks
    fine: tuple[float, ...]
    sweep: Sweep
    figures: Figured
    needle: Needle
    filled: int
    number: Number | None

    @property
    def centred(self) -> bool:
        """Whether the number stands in the middle."""
        return self.number is not None and self.widget.one(PhraseKind.CENTRED) is not None


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int | None, int | None]:
    """As high as it is wide."""
    return width, width


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Caption above; the scale's arc with its bands outside, a filled arc, marks and figures inside; the
    number in the middle, or below all."""
    assert widget.subject is not None
    place = captioned(widget, box, canvas)
    dial = _looked_up(widget, widget.subject, canvas)
    below = _below(dial, canvas)
    radius = _radius(dial, place, below, canvas)
    dial, radius = _usually_marked(dial, radius, (place, below), canvas)
    left, up, right, down = (int(radius * part) for part in dial.sweep.reach())
    out = _outside(dial, radius, canvas)
    needs = (out[0] + left, out[1] + up, out[2] + right, out[3] + down + below)
    across, along = centre = _axis(widget, place, needs)
    _bands(dial, centre, radius, canvas)
    ring = _ring(dial, radius, canvas)
    if dial.filled:
        _fill(dial, centre, radius, canvas)
    draw_marks(widget, dial.marks, dial.fine, ring=ring, centre=centre, radius=radius, canvas=canvas)
    under = along + down + out[3]
    _number(dial, centre, under, sides=(across - left, across + right), place=place, canvas=canvas)
    _pointers(dial, centre, radius, canvas)


def _axis(widget: Widget, place: Box, needs: tuple[int, int, int, int]) -> Point:
    """The axis of a dial that needs so much left of it, above, right and below: all of it stands in the
    middle. Of one that is placed freely the axis does, where there is room, so that it fits on a disc."""
    left, up, right, below = needs
    middle = (place.left + place.width // 2, place.top + place.height // 2)
    room = 2 * max(left, right) < place.width and 2 * max(up, below) < place.height
    if room and widget.one(PhraseKind.AT) is not None:
        return middle
    return (
        place.left + (place.width - left - right) // 2 + left,
        place.top + (place.height - up - below) // 2 + up,
    )


def _fill(dial: _Dial, centre: Point, radius: int, canvas: Canvas) -> None:
    low, high = dial.ends
    least = dial.filled
    if dial.widget.one(PhraseKind.GROWING) is not None:
        least = max(2, round(dial.filled * THIN))
    zero = min(max(0.0, -low / (high - low)), 1.0)
    shape = filled_arc.Shape(dial.sweep, centre, radius, _rim(canvas), dial.filled, least, zero)
    ink = colouring(dial.widget, dial.value, "accent", canvas)
    steps = Scaled(low, (high - low) / filled_arc.STEPS, filled_arc.STEPS + 1)
    # Filled, a closed scale has two ends: nothing glides across them.
    channel = canvas.channel(Channel(dial.value, steps, glide=glide_of(dial.widget, canvas)))
    filled_arc.draw(shape, channel, ink, canvas)


def _looked_up(widget: Widget, subject: Expression, canvas: Canvas) -> _Dial:
    value = canvas.shown(subject)
    ends = scale(widget, value, canvas)
    filled = any(widget.one(kind) is not None for kind in _FILLED)
    growing = widget.one(PhraseKind.GROWING) is not None
    centred = widget.one(PhraseKind.CENTRED) is not None and widget.one(PhraseKind.FORMAT) is not None
    form = _needle_form(widget, filled, centred)
    sweep = sweep_of(widget, canvas, needles.FORMS[form].tail)
    marks = _open(marks_of(widget, value, *ends, canvas), sweep)
    return _Dial(
        widget,
        value,
        ends,
        marks,
        fine_marks(widget, value, marks, canvas),
        sweep,
        Figured(_one_of(widget, PhraseKind.FIGURES, tuple(Figured), Figured.INSIDE)),
        form,
        canvas.px(FILLED_MM * (WIDER if growing else 1)) if filled else 0,
        number_of(widget, NUMBER_ARCMIN, canvas),
    )


def _needle_form(widget: Widget, filled: bool, centred: bool) -> Needle:
    """Raises ``DesignError`` A385 for one that would cross the number, or where nothing shows the value."""
    usual = Needle.NONE if filled else Needle.RIM if centred else Needle.TAPERED
    form = Needle(_one_of(widget, PhraseKind.NEEDLE, tuple(Needle), usual))
    phrase = widget.one(PhraseKind.NEEDLE)
    if phrase is not None and centred and needles.FORMS[form].hub:
        message = f"a {form} needle would cross the number in the middle"
        raise DesignError([error("A385", message, phrase.span, "write `needle rim`, or leave out `centred`")])
    if phrase is not None and form == Needle.NONE and not filled:
        message = "without needle and filling the dial shows no value"
        remedy = "write `needle line`, or `with arc`"
        raise DesignError([error("A385", message, phrase.span, remedy)])
    return form


def _one_of(widget: Widget, kind: PhraseKind, known: Sequence[str], otherwise: str) -> str:
    """The word of a phrase. Raises ``DesignError`` A386."""
    phrase = widget.one(kind)
    if phrase is None or phrase.words[0] in known:
        return phrase.words[0] if phrase else otherwise
    remedy = did_you_mean(phrase.words[0], known, f"{kind} of a dial")
    raise DesignError([error("A386", f"a dial has no {kind} '{phrase.words[0]}'", phrase.span, remedy)])


def _rim(canvas: Canvas) -> int:
    """Width of the band along the scale."""
    return max(3, canvas.px(1.2))


def _ring(dial: _Dial, radius: int, canvas: Canvas) -> Ring:
    """Where marks and figures stand."""
    outer = radius - _within_rim(dial, canvas) - max(2, canvas.px(0.3))
    second = dial.widget.one(PhraseKind.ALSO) is not None
    if dial.needle == Needle.RIM or (second and not needles.FORMS[dial.needle].hub):
        # A wedge runs between the rim and the marks, so that it hides no figure.
        outer -= round(needles.wedge_length(radius))
    least = _hub(canvas) // 2 if needles.FORMS[dial.needle].hub else 0
    return Ring(dial.sweep, outer, outer - canvas.px(1.6), radius, dial.figures, least)


def _within_rim(dial: _Dial, canvas: Canvas) -> int:
    """What band and filled arc take of the radius."""
    return _rim(canvas) + (dial.filled + canvas.px(0.5) if dial.filled else 0)


def _hub(canvas: Canvas) -> int:
    """Width of the hub."""
    return 2 * canvas.px(HUB_MM) + 1


def _outside(dial: _Dial, radius: int, canvas: Canvas) -> tuple[int, int, int, int]:
    """What figures outside the scale, and a target there, need beyond it: left, up, right, down."""
    left, up, right, down = (int(radius * part) for part in dial.sweep.reach())
    room = canvas.px(TARGET_MM) + 2 if dial.widget.one(PhraseKind.TARGET) is not None else 0
    boxes = figure_places(dial.marks, _ring(dial, radius, canvas), canvas).values()
    return (
        max([room, *(-box.left - left for box in boxes)]),
        max([room, *(-box.top - up for box in boxes)]),
        max([room, *(box.left + box.width - right for box in boxes)]),
        max([_target_below(dial, radius, room), *(box.top + box.height - down for box in boxes), 0]),
    )


def _target_below(dial: _Dial, radius: int, room: int) -> int:
    """What a target with so much ``room`` outside the scale needs below it, as far as the scale goes down."""
    part = replace(dial.sweep, tail=0.0).reach()[3]
    return min(room, max(0, int((radius + room) * part) + room // 2 - int(radius * dial.sweep.reach()[3])))


def _below(dial: _Dial, canvas: Canvas) -> int:
    """What a number below the scale takes of its height."""
    number = dial.number
    if number is None or dial.centred:
        return 0
    return _lead(dial, number, canvas) + number.height + foot_room(number, canvas)


def _size(dial: _Dial, radius: int, below: int, canvas: Canvas) -> tuple[int, int]:
    """The width and height of all of it."""
    left, up, right, down = dial.sweep.reach()
    out = _outside(dial, radius, canvas)
    return math.ceil((radius + 1) * (left + right)) + out[0] + out[2], (
        math.ceil((radius + 1) * (up + down)) + below + out[1] + out[3]
    )


def _smaller(dial: _Dial, place: Box, canvas: Canvas) -> tuple[str, ...]:
    """The way to a dial that fits by smaller text, if one that can be acted on does."""

    def fits(arcmin: int) -> bool:
        number = number_of(with_text(dial.widget, arcmin), NUMBER_ARCMIN, canvas)
        smaller = replace(dial, number=number)
        wide, tall = _size(smaller, _least(smaller, canvas), _below(smaller, canvas), canvas)
        widest = max(wide, number.width) if number is not None else wide
        return widest <= place.width and tall <= place.height

    return smaller_text(dial.number, fits, canvas)


def _radius(dial: _Dial, place: Box, below: int, canvas: Canvas) -> int:
    """The largest radius that has room. Raises ``DesignError`` A350 or A351."""
    left, up, right, down = dial.sweep.reach()
    size = partial(_size, dial, below=below, canvas=canvas)
    least = _least(dial, canvas)
    wide, tall = size(least)
    parts = [
        *(["its number"] if dial.number else []),
        *(["the figures of its marks"] if dial.marks.values and dial.figures != Figured.NONE else []),
    ]
    what = " with ".join(["the dial", *([" and ".join(parts)] if parts else [])])
    ways = _smaller(dial, place, canvas) if wide > place.width or tall > place.height else ()
    canvas.fit(wide, place.width, what, dial.widget.head, least=True, ways=ways)
    canvas.fit(tall, place.height, what, dial.widget.head, height=True, least=True, ways=ways)
    widest = min(int(place.width / (left + right)), int((place.height - below) / (up + down)))
    radius = min(widest, LARGEST_POINTER // 2) - 1
    for fitting in range(radius, least, -1):
        wide, tall = size(fitting)
        if wide <= place.width and tall <= place.height:
            return fitting
    return least


def _usually_marked(dial: _Dial, radius: int, room: tuple[Box, int], canvas: Canvas) -> tuple[_Dial, int]:
    """Where nothing is said of marks: the most usual ones that all have figures, at ease, and leave the dial
    its size or little less."""
    if is_marked(dial.widget):
        return dial, radius
    for marks in usual_marks(*dial.ends):
        marked = replace(dial, marks=_open(marks, dial.sweep))
        if _least(marked, canvas) > radius:
            continue
        found = _radius(marked, *room, canvas)
        ring = _ring(marked, found, canvas)
        all_figured = marked.figures == Figured.NONE or ring.at_ease(marked.marks, canvas, AT_EASE)
        if found >= radius * LITTLE_LESS and all_figured:
            return marked, found
    return dial, radius


def _open(marks: Marks, sweep: Sweep) -> Marks:
    """Without that at the high end of a closed scale, where the low end has its own."""
    if not sweep.closed:
        return marks
    return marks._replace(values=tuple(mark for mark in marks.values if mark != marks.high))


def _least(dial: _Dial, canvas: Canvas) -> int:
    """The least radius at which the figures of the marks keep apart, and a number in the middle has room."""
    radius = canvas.px(LEAST_RADIUS_MM)
    while True:
        ring = _ring(dial, radius, canvas)
        number = dial.number if dial.centred else None
        if ring.clear(dial.marks, canvas) and (
            number is None or _half_diagonal(number) <= ring.free(dial.marks, canvas)
        ):
            return radius
        radius += 1


def _half_diagonal(number: Number) -> float:
    return math.hypot(number.width, number.tall) / 2


def _lead(dial: _Dial, number: Number, canvas: Canvas) -> int:
    """Between the scale and a number below it: none where the scale is open there."""
    open_below = 0.25 < replace(dial.sweep, tail=0.0).reach()[3] < 0.95
    return 0 if open_below else number.above + canvas.px(GAP_MM)


def _bands(dial: _Dial, centre: Point, radius: int, canvas: Canvas) -> None:
    """Each stretch of the scale in the colour of its limit or zone, hatched when the value is in doubt."""
    channel = canvas.channel(Channel(dial.value, KNOWN))
    for start, end, said in zones_of(dial.widget, dial.value, dial.ends, canvas):
        role = said or ("" if dial.filled else "quiet")
        if not role:
            # The track of a filled arc is the scale.
            continue
        span = (dial.sweep.bearing(start, dial.ends), dial.sweep.bearing(end, dial.ends))
        box = dial.sweep.face(centre, radius)
        middle = dial.sweep.middle(radius)
        samples = Samples(box.width, box.height)
        samples.polygon([ring_piece(middle, (radius, radius - _rim(canvas)), *span)])
        ink = canvas.artwork.inks([role], channel)
        canvas.operations.append(Stencil(box, canvas.artwork.mask(samples.mask()), ink))


def _number(
    dial: _Dial, centre: Point, top: int, *, sides: tuple[int, int], place: Box, canvas: Canvas
) -> None:
    """Below the scale in the middle of its ``sides``, or about the axis."""
    number = dial.number
    if number is None:
        return
    fit_width(number, place.width, f'the number "{longest(number)}"', dial.widget.head, canvas)
    if dial.centred:
        # By its figures alone: the unit hangs off them, as it does below other numbers.
        top = centre[1] - number.height // 2
        left = centre[0] - number.width // 2
    else:
        top += _lead(dial, number, canvas)
        left = number_left(number, Box((sides[0] + sides[1]) // 2, top, 0, number.height), place)
    place_number(number, (left, top), number_ink(dial.widget, canvas), dial.widget.head, canvas)


def _pointers(dial: _Dial, centre: Point, radius: int, canvas: Canvas) -> None:
    """Target and peak at the rim, a second value's needle, then the needle itself on top of all."""
    widget = dial.widget
    unit = dial.value.unit.spelling if dial.value.unit else None
    reach = radius - _within_rim(dial, canvas)
    put = partial(_pointer, dial, centre=centre, radius=radius, canvas=canvas)
    glide = glide_of(widget, canvas)
    ink = canvas.artwork.ink
    if (phrase := widget.one(PhraseKind.TARGET)) is not None:
        shape = needles.wedge(radius + 1, -canvas.px(TARGET_MM), canvas.px(TARGET_MM) / 2)
        # Outside the scale: its box reaches further than the face.
        put(canvas.number(phrase.values[0], unit), shape, ink=ink("accent"), more=canvas.px(TARGET_MM) + 2)
    if (phrase := widget.one(PhraseKind.PEAK)) is not None:
        inner = reach - (0 if dial.filled else canvas.px(1.2))
        shape = needles.stroke(inner, radius, max(2.0, canvas.px(0.5)))
        put(dial.value, shape, ink=ink("ink"), peak=canvas.constant(phrase.values[0], "s"))
    half = canvas.px(0.9)
    tip = reach - (canvas.px(1.4) if needles.FORMS[dial.needle].hub else max(2, canvas.px(0.3)))
    if (phrase := widget.one(PhraseKind.ALSO)) is not None:
        form = Needle.LINE if needles.FORMS[dial.needle].hub else Needle.RIM
        shape = needles.corners(form, tip, half, radius)
        put(canvas.number(phrase.values[0], unit), shape, ink=ink("accent"), glide=glide)
    if dial.needle != Needle.NONE:
        role = "ink" if dial.filled else canvas.role(widget.one(PhraseKind.COLOUR), "ink")
        shape = needles.corners(dial.needle, tip, half, radius)
        put(dial.value, shape, ink=ink(role), glide=glide)
    if needles.FORMS[dial.needle].hub:
        hub = _hub(canvas)
        place = Box(centre[0] - hub // 2, centre[1] - hub // 2, hub, hub)
        mask = canvas.artwork.mask(shapes.disc(hub))
        # In doubt it goes with its needle: a bright hub alone would look like a dial at rest.
        live = When(canvas.channel(Channel(dial.value, KNOWN)), LIVE, LIVE)
        canvas.operations.append(Stencil(place, mask, ink("ink"), live))


def _pointer(
    dial: _Dial,
    value: Typed,
    shape: Sequence[needles.Corner],
    *,
    ink: Ink,
    centre: Point,
    radius: int,
    canvas: Canvas,
    more: int = 0,
    peak: float = 0.0,
    glide: float = 0.0,
) -> None:
    """One that stands at the place of a value on the scale; its box has ``more`` px on each side."""
    low, high = dial.ends
    steps = min(STEPS_AT_MOST, radius * 4)
    turn = steps if glide and dial.sweep.closed else 0
    scaled = Scaled(low, (high - low) / steps, steps + 1)
    channel = canvas.channel(Channel(value, scaled, peak=peak, glide=glide, turn=turn))
    face = dial.sweep.face(centre, radius)
    box = Box(face.left - more, face.top - more, face.width + 2 * more, face.height + 2 * more)
    across, along = dial.sweep.middle(radius)
    middle = (across * 16 // UNIT + 16 * more, along * 16 // UNIT + 16 * more)
    first, turn = dial.sweep.first, dial.sweep.last - dial.sweep.first
    bearings = [first * 16 + turn * 16 * i // steps for i in range(steps + 1)]
    outline = canvas.artwork.outline(needles.outline(shape, middle, bearings))
    canvas.operations.append(Pointer(box, channel, outline, ink))
