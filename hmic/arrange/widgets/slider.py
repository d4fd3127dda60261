"""slider: a value of an output set by a finger along a scale; the knob stands at what is read back."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas
from hmic.arrange.steps import Ends, asked_step, likely_step
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.touch import control, guarded, output, scale_ends
from hmic.arrange.widgets.common import below_caption, caption, fit_width, longest, number_of, place_number
from hmic.diagnostics import DesignError, lacking
from hmic.language.syntax import PhraseKind, Signal, Widget, phrase_kinds
from hmic.model.actions import SlideOutput
from hmic.model.channels import Channel, Scaled
from hmic.model.design import OutputDefinition
from hmic.model.expressions import Typed
from hmic.paint import shapes
from hmic.paint.operations import NO_MASK, Axis, Box, Fill, Mask, Reveal, Slide

SUBJECT = SubjectKind.SIGNAL
PHRASES = phrase_kinds("scale steps format text font unit decimals called allowed held confirmed refused")
KNOB_MM = 9.0
TRACK_MM = 2.4
SLIDER_ARCMIN = 20


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Caption above, the track, the value behind it; the whole track is the target."""
    assert isinstance(widget.subject, Signal)
    target = output(widget.subject, canvas)
    value = canvas.number(widget.subject)
    low, high = scale_ends(widget.one(PhraseKind.SCALE), target, value, canvas)
    place = _number(widget, below_caption(widget, box, canvas), canvas)
    caption(widget, box, place, canvas)
    knob = canvas.narrow(shapes.disc(canvas.px(KNOB_MM) | 1))
    pad = canvas.px(2.0)
    why = "its knob needs a way to go"
    canvas.fit(knob.width * 3 + 2 * pad, place.width, "the slider's track", widget.head, least=True, why=why)
    canvas.fit(knob.height + 2 * pad, place.height, "the slider's track", widget.head, True, least=True)
    travel = place.width - 2 * pad - knob.width
    left, middle = place.left + pad, place.top + place.height // 2
    step = _step(widget, target, value, (low, high), canvas)
    action = SlideOutput(target.name, low, high, step, left + knob.width // 2, travel, False)
    with control(widget.phrases, place, guarded(action, widget.phrases, canvas), widget.head, canvas):
        _knob(knob, value, (low, high), (left, middle, travel), canvas)


def _knob(knob: Mask, value: Typed, ends: Ends, way: tuple[int, int, int], canvas: Canvas) -> None:
    """The track, filled up to the value, and the knob on it."""
    left, middle, travel = way
    channel = canvas.channel(Channel(value, Scaled(ends[0], (ends[1] - ends[0]) / travel, travel + 1)))
    thick = canvas.px(TRACK_MM)
    track = Box(left + knob.width // 2, middle - thick // 2, travel, thick)
    canvas.operations.append(Fill(track, canvas.artwork.ink("line")))
    accent = canvas.artwork.ink("accent")
    canvas.operations.append(Reveal(track, channel, Axis.RIGHTWARD, 0, NO_MASK, accent))
    mask = canvas.artwork.mask(knob)
    box = Box(left, middle - knob.height // 2, travel + knob.width, knob.height)
    canvas.operations.append(Slide(box, channel, Axis.RIGHTWARD, mask, canvas.artwork.ink("ink")))


def _step(widget: Widget, target: OutputDefinition, value: Typed, ends: Ends, canvas: Canvas) -> float:
    phrase = widget.one(PhraseKind.STEPS)
    if phrase is None:
        remedy = f"add in steps of {likely_step(target, value, ends)}"
        raise DesignError([lacking("A372", "the slider has no step", widget.head, remedy)])
    return asked_step(phrase, target, value, ends, canvas)


def _number(widget: Widget, place: Box, canvas: Canvas) -> Box:
    phrase, number = widget.one(PhraseKind.FORMAT), number_of(widget, SLIDER_ARCMIN, canvas)
    if phrase is None or number is None:
        return place
    gap = canvas.px(2.5)
    what = f'the value "{longest(number)}"'
    fit_width(number, place.width // 2 - gap, what, phrase.span, canvas, share=2)
    left = place.left + place.width - number.width
    canvas.fit(number.tall, place.height, what, phrase.span, height=True, letters=number.height)
    place_number(number, (left, number.standing(place)), canvas.artwork.ink("ink"), phrase.span, canvas)
    return Box(place.left, place.top, place.width - number.width - gap, place.height)
