"""The step of a control, held against its scale."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Phrase
from hmic.model.design import OutputDefinition
from hmic.model.expressions import Typed
from hmic.model.units import degrees, difference
from hmic.number_text import number, numbers

Ends = tuple[float, float]
_WORDS = {"steps": "in steps of", "by": "by"}


def asked_step(phrase: Phrase, target: OutputDefinition, typed: Typed, ends: Ends, canvas: Canvas) -> float:
    """The step of an ``in steps of`` or a ``by``, in degrees of the unit of the signal; only that of a
    ``by`` may be below zero. ``ends`` are what is asked for at the least and at the most.
    Raises ``DesignError`` A372."""
    step = canvas.step(phrase.values[-1], typed)
    span = ends[1] - ends[0]
    length = abs(step) if phrase.kind == "by" else step
    if not 0 < length <= span:
        asked, whole = numbers(step, span)
        unit = _unit(typed)
        message = f"a step of {asked}{unit} does not go into a scale of {whole}{unit}"
        remedy = f"{_WORDS[phrase.kind]} {likely_step(target, typed, ends)}"
        raise DesignError([error("A372", message, phrase.span, remedy)])
    return step


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
