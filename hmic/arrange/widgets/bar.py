"""bar: a straight scale filled from zero, or from its end, to the value."""

from __future__ import annotations

from typing import NamedTuple

from hmic.arrange.canvas import Canvas, inset, scale
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets import inside_figures
from hmic.arrange.widgets.common import (
    Number,
    below_caption,
    caption,
    colouring,
    fit_width,
    foot_room,
    glide_of,
    longest,
    number_ink,
    number_left,
    number_of,
    place_number,
)
from hmic.arrange.widgets.marks import Marks, is_marked, marks_of, usual_marks
from hmic.arrange.widgets.straight_scale import (
    Figured,
    Straight,
    draw_scale,
    inside_need,
    lengths,
    room_beside,
    segmented,
    straight_of,
)
from hmic.diagnostics import DesignError
from hmic.language.syntax import PhraseKind, Widget, phrase_kinds
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed
from hmic.paint import shapes
from hmic.paint.operations import NO_MASK, Axis, Box, Fill, Mask, Reveal, Slide, Stencil

SUBJECT = SubjectKind.VALUE
PHRASES = phrase_kinds(
    "scale format text font unit decimals called colour above below ramp marks unmarked figures direction "
    "peak target zone zones rounded segments glides within"
)
THICKNESS_MM = 8.0
# Of the bar itself, beside the figures of its marks.
THINNEST_MM, LEAST_MM = 1.0, 4.0
# Between bar and number, and between the figures of its marks and the number.
GAP_MM = 1.5
MARKS_GAP_MM = 3.0
NUMBER_ARCMIN = 22
# Usual marks stand further apart than their figures need.
AT_EASE = 1.3


class _Laid(NamedTuple):
    """The bar's box, and what stands along it."""

    track: Box
    along: Straight


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Caption above, number below (upright) or behind (lying), marks beside the bar. Caption, bar and
    number share one axis, the bar's."""
    assert widget.subject is not None
    place = below_caption(widget, box, canvas)
    number = number_of(widget, NUMBER_ARCMIN, canvas)
    track, along = _laid(widget, place, number, canvas.shown(widget.subject), canvas=canvas)
    caption(widget, box, track, canvas)
    if number is not None:
        _draw_number(widget, number, place, track=track, along=along, canvas=canvas)
    _fill(widget, track, along, canvas)
    _peak(widget, track, along, canvas)
    draw_scale(widget, along, track, canvas)


def _fill(widget: Widget, track: Box, along: Straight, canvas: Canvas) -> None:
    """The track, and on it the filling. Its front is straight whatever the form of the ends, so that it is
    read to the pixel."""
    low, high = along.ends
    length = track.height if along.upright else track.width
    zero = round(min(max(0.0, -low / (high - low)), 1.0) * length)
    steps = Scaled(low, (high - low) / length, length + 1)
    channel = canvas.channel(Channel(along.value, steps, glide=glide_of(widget, canvas)))
    surface = canvas.artwork.ink(canvas.trough)
    mask, form = NO_MASK, None
    if widget.one(PhraseKind.ROUNDED) is None and widget.one(PhraseKind.SEGMENTS) is None:
        canvas.operations.append(Fill(track, surface))
    else:
        rounded = widget.one(PhraseKind.ROUNDED) is not None
        form = canvas.filling(
            track.width,
            lambda wide: shapes.rounded(wide, track.height, min(wide, track.height) // 2 if rounded else 0),
        )
        mask = canvas.artwork.mask(segmented(form, widget, along, canvas))
        canvas.operations.append(Stencil(track, mask, surface))
    ink = colouring(widget, along.value, "accent", canvas)
    fill = Reveal(track, channel, along.axis, zero, mask, ink)
    canvas.operations.append(fill)
    if along.figured is Figured.INSIDE and along.marks.values:
        inside_figures.draw(along, fill, form, widget.head, canvas)


def _peak(widget: Widget, track: Box, along: Straight, canvas: Canvas) -> None:
    """A thin line that stays at the highest value for the time that ``peak held`` says."""
    phrase = widget.one(PhraseKind.PEAK)
    if phrase is None:
        return
    held = canvas.constant(phrase.values[0], "s")
    thick = max(2, canvas.px(0.5))
    low, high = along.ends
    length = (track.height if along.upright else track.width) - thick
    channel = canvas.channel(Channel(along.value, Scaled(low, (high - low) / length, length + 1), peak=held))
    across = track.width if along.upright else track.height
    # Between round ends a whole line would stand out at the corners.
    long = across // 2 if widget.one(PhraseKind.ROUNDED) is not None else across
    off = (across - long) // 2
    size = (long, thick) if along.upright else (thick, long)
    mask = canvas.artwork.mask(Mask(*size, bytes([15]) * (size[0] * size[1])))
    place = inset(track, off, 0, 0, 0) if along.upright else inset(track, 0, off, 0, 0)
    canvas.operations.append(Slide(place, channel, along.axis, mask, canvas.artwork.ink("ink")))


def _axis(widget: Widget, box: Box) -> Axis:
    phrase = widget.one(PhraseKind.DIRECTION)
    if phrase is None:
        return Axis.UPWARD if box.height > box.width else Axis.RIGHTWARD
    return Axis[phrase.words[0].upper()]


def _laid(widget: Widget, place: Box, number: Number | None, value: Typed, *, canvas: Canvas) -> _Laid:
    """Where the bar lies, with the marks that are said of it, or else with the most usual ones that leave it
    its thickness and have all their figures."""
    ends = scale(widget, value, canvas)

    def laid(marks: Marks) -> _Laid:
        along = straight_of(widget, value, _axis(widget, place), marks, canvas)
        rest = _beside_number(widget, number, place, along=along, canvas=canvas)
        return _Laid(_track(widget, rest, along, canvas), along)

    said = laid(marks_of(widget, value, *ends, canvas))
    if is_marked(widget):
        return said
    for marks in usual_marks(*ends):
        try:
            found = laid(marks)
        except DesignError:
            continue
        if _roomy(found, said, canvas):
            return found
    return said


def _roomy(found: _Laid, bare: _Laid, canvas: Canvas) -> bool:
    """Whether marks take nothing of the bar's thickness, and every one has figures that stand at ease."""
    track, along = found
    across, length = (track.width, track.height) if along.upright else (track.height, track.width)
    whole = bare.track.width if along.upright else bare.track.height
    needs = lengths(along, canvas)
    return across >= whole and needs.get(along.marks.values, 0) * AT_EASE <= length


def _beside_number(
    widget: Widget, number: Number | None, place: Box, *, along: Straight, canvas: Canvas
) -> Box:
    """The place that the number leaves for the bar and its marks."""
    phrase = widget.one(PhraseKind.FORMAT)
    if number is None or phrase is None:
        return place
    what, letters = f'the number "{longest(number)}"', number.height
    fit_width(number, place.width, what, phrase.span, canvas)
    canvas.fit(number.tall, place.height, what, phrase.span, height=True, letters=letters)
    if along.upright:
        # The lowest mark's figures end where the bar does or below: they keep clear of the number.
        gap = canvas.px(MARKS_GAP_MM if along.marks.values else GAP_MM)
        rest = inset(place, 0, 0, 0, number.height + gap + foot_room(number, canvas))
    else:
        rest = inset(place, 0, 0, number.width + canvas.px(GAP_MM), 0)
    room, high = min(rest.height, rest.width), rest.height < rest.width
    canvas.fit(canvas.px(LEAST_MM), room, f"the bar beside {what}", phrase.span, high, shorter="", least=True)
    return rest


def _draw_number(
    widget: Widget, number: Number, place: Box, *, track: Box, along: Straight, canvas: Canvas
) -> None:
    """Under an upright bar, in its axis; behind a lying one, at its height."""
    if along.upright:
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


def _track(widget: Widget, place: Box, along: Straight, canvas: Canvas) -> Box:
    """The bar's box. Raises ``DesignError`` A350 or A351 where its marks' figures leave none."""
    upright, marks = along.upright, along.marks
    beside, other, pad = room_beside(along, canvas)
    across, length = (place.width, place.height) if upright else (place.height, place.width)
    what = "the bar with the figures of its marks" if marks.values else "the bar"
    thinnest = max(canvas.px(THINNEST_MM), inside_need(along, canvas))
    least = max(canvas.px(LEAST_MM), min(lengths(along, canvas).values(), default=0))
    canvas.fit(thinnest + beside + other, across, what, widget.head, not upright, least=True)
    canvas.fit(least + 2 * pad, length, what, widget.head, upright, least=True)
    thickness = min(max(canvas.px(THICKNESS_MM), inside_need(along, canvas)), across - beside - other)
    if upright:
        # In the middle of its place, unless what stands beside it needs more than half of the rest.
        left = place.left + min(max(beside, (across - thickness) // 2), across - thickness - other)
        return Box(left, place.top + pad, thickness, length - 2 * pad)
    top = place.top + other + (across - thickness - beside - other) // 2
    return Box(place.left + pad, top, length - 2 * pad, thickness)
