"""stepper: a value of an output with a target for less and one for more."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, aligned, inset, phrase_text
from hmic.arrange.steps import asked_step, likely_step
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.touch import control, guarded, output, said_width, scale_ends
from hmic.arrange.widgets.common import captioned, fit_width, longest, measured, number_left, place_number
from hmic.diagnostics import DesignError, Finding, lacking
from hmic.language.syntax import PhraseKind, Signal, Widget, phrase_kinds
from hmic.model.actions import StepOutput
from hmic.model.expressions import Typed
from hmic.paint.operations import Box

SUBJECT = SubjectKind.SIGNAL
PHRASES = phrase_kinds("scale steps format text font unit decimals called allowed held confirmed refused")
TARGET_MM = 14.0
LEAST_MM = 4.0
STEPPER_ARCMIN = 22


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Less at the left, the value as read back, more at the right."""
    assert isinstance(widget.subject, Signal)
    target = output(widget.subject, canvas)
    typed = canvas.number(widget.subject)
    limits = widget.one(PhraseKind.SCALE)
    low, high = scale_ends(limits, target, typed, canvas)
    steps, form = widget.one(PhraseKind.STEPS), widget.one(PhraseKind.FORMAT)
    if steps is None or form is None:
        raise DesignError([_lacking(widget, likely_step(target, typed, (low, high)), typed)])
    place = captioned(widget, box, canvas)
    said = said_width(widget.phrases, canvas)
    side = min(max(canvas.px(TARGET_MM), said), place.width // 3)
    canvas.fit(canvas.px(LEAST_MM), side, "one of the two targets", widget.head, least=True, share=3)
    what = "what one of the two targets says"
    canvas.fit(said, side, what, widget.head, shorter="shorten its longest word", share=3)
    step = asked_step(steps, target, typed, (low, high), canvas)
    ends = ((place.left, "−", -step), (place.left + place.width - side, "+", step))
    face = canvas.face("text", canvas.small(26))
    for left, sign, by in ends:
        key = Box(left, place.top, side, place.height)
        at = (
            left + aligned(face.measure(sign), side),
            place.top + (place.height - face.capital_height) // 2,
        )
        asks = guarded(StepOutput(target.name, by, low, high), widget.phrases, canvas)
        with control(widget.phrases, key, asks, widget.head, canvas):
            canvas.text(sign, face, at, canvas.artwork.ink("ink"), widget.head)
    height = canvas.capital_height(widget, STEPPER_ARCMIN)
    number = measured(widget.subject, phrase_text(form), form.span, height, canvas, widget=widget)
    room = place.width - 2 * side
    what = f'the value "{longest(number)}"'
    fit_width(number, room - canvas.px(2), what, widget.head, canvas)
    between = inset(place, side + canvas.px(1), 0, side + canvas.px(1), 0)
    canvas.fit(number.tall, place.height, what, widget.head, height=True, letters=height)
    at = (number_left(number, between, between), number.standing(place))
    place_number(number, at, canvas.artwork.ink("ink"), widget.head, canvas)


def _lacking(widget: Widget, step: str, typed: Typed) -> Finding:
    """A371: what of its step and its format the sentence lacks. The format shows a step of ``step``."""
    unit = typed.unit.spelling if typed.unit is not None else ""
    _, point, places = step.split(" ")[0].partition(".")
    form = f"0{point}{'0' * len(places)} {unit}".rstrip()
    needs = {
        PhraseKind.STEPS: ("its step", f"in steps of {step}"),
        PhraseKind.FORMAT: ("its format", f'as "{form}"'),
    }
    lacks = [told for kind, told in needs.items() if widget.one(kind) is None]
    what, add = " and ".join(what for what, _ in lacks), ", ".join(add for _, add in lacks)
    return lacking("A371", f"the stepper needs {what}", widget.head, f"add {add}")
