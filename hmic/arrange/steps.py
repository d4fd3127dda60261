"""The step of a control, held against its scale and against what the output's field can carry."""

from __future__ import annotations

import math

from hmic.arrange.canvas import Canvas
from hmic.diagnostics import DesignError, error, warning
from hmic.language.syntax import Phrase, PhraseKind
from hmic.model.design import OutputDefinition
from hmic.model.expressions import Typed
from hmic.model.units import degrees, difference
from hmic.number_text import number, numbers

Ends = tuple[float, float]
# A step in one unit is seldom a multiple in another: so small a part of it is not seen. Common practice,
# no source.
UNSEEN = 0.01
_WORDS = {"steps": "in steps of", "by": "by"}


def asked_step(phrase: Phrase, target: OutputDefinition, typed: Typed, ends: Ends, canvas: Canvas) -> float:
    """The step of an ``in steps of`` or a ``by``, in degrees of the unit of the signal; only that of a
    ``by`` may be below zero. ``ends`` are what is asked for at the least and at the most.
    Raises ``DesignError`` A372 or A381."""
    step = canvas.step(phrase.values[-1], typed)
    span = ends[1] - ends[0]
    length = abs(step) if phrase.kind == PhraseKind.BY else step
    if not 0 < length <= span:
        asked, whole = numbers(step, span)
        unit = _unit(typed)
        message = f"a step of {asked}{unit} does not go into a scale of {whole}{unit}"
        remedy = f"{_WORDS[phrase.kind]} {likely_step(target, typed, ends)}"
        raise DesignError([error("A372", message, phrase.span, remedy)])
    _carried(step, phrase, target, typed, canvas)
    return step


def _carried(step: float, phrase: Phrase, target: OutputDefinition, typed: Typed, canvas: Canvas) -> None:
    """Tells a step that is no multiple of the field's. Raises ``DesignError`` A381 where it is finer."""
    if target.steps is None:
        return
    field = target.steps.step
    whole = math.copysign(max(1, round(abs(step) / field)) * field, step)
    if abs(step - whole) <= abs(step) * UNSEEN:
        return
    asked, can, nearest = numbers(step, field, whole)
    unit = _unit(typed)
    remedy = f"{_WORDS[phrase.kind]} {nearest}{unit}"
    if abs(step) < field:
        message = (
            f"a step of {asked}{unit} is too fine: the field of '{target.name}' has steps of {can}{unit}"
        )
        raise DesignError([error("A381", message, phrase.span, remedy)])
    message = (
        f"a step of {asked}{unit} is no multiple of {can}{unit}, the step of the field of '{target.name}'"
    )
    found = warning("A382", message, phrase.span, remedy)
    if found not in canvas.findings:
        canvas.findings.append(found)


def likely_step(target: OutputDefinition, typed: Typed, ends: Ends) -> str:
    """A step for a remedy: a tenth of the scale, in steps that the output's field can carry."""
    tenth = (ends[1] - ends[0]) / 10
    if target.steps is not None:
        tenth = max(1, round(tenth / target.steps.step)) * target.steps.step
    return f"{number(tenth)}{_unit(typed)}"


def _unit(typed: Typed) -> str:
    """What stands behind a step: K for °C, °F for °F, any other unit as it is."""
    if typed.unit is None:
        return ""
    of = degrees(typed.unit)
    kelvin = difference(typed.unit)
    return f" {(kelvin if kelvin.factor == of.factor else of).spelling}".rstrip()
