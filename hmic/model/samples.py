"""Signal values for pictures made without a vehicle: plausible samples, and values set by hand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction

from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.language import syntax
from hmic.language.parser import parse_expression
from hmic.model.builtin import CLOCK
from hmic.model.design import Design, Sample, SignalDefinition
from hmic.model.expressions import Doubt, Lookup, Scalar, Value, ValueKind
from hmic.model.touch_progress import HOLD_PREFIX, TOUCH_PREFIX, TouchState
from hmic.model.units import degrees
from hmic.model.units import unit as unit_by_spelling
from hmic.model.values import lookup_over
from hmic.number_text import at_least, at_most

# Where in its range a sample lies, and how far the elements of an array spread around it.
SAMPLE_PLACE = 0.62
SAMPLE_SPREAD = 0.03
CLOCK_SAMPLE = 10 * 60 + 24.0
HALF_HELD = 0.5
ON_WORDS = {"on": True, "off": False, "true": True, "false": False, "yes": True, "no": False}
STATE_WORDS = {"unseen": Doubt.UNSEEN, "stale": Doubt.STALE, "out": Doubt.OUT_OF_RANGE}


def sample_values(design: Design, screen: str = "") -> dict[str, Value]:
    """A plausible value for each signal that is not derived, in its declared unit, at the moment of a
    ``screen`` that has its own; one that depends on the past counts as not derived where it has a range to
    lie in."""
    values: dict[str, Value] = {CLOCK: CLOCK_SAMPLE}
    for name, definition in design.signals.items():
        remembers = definition.derived is not None and any(
            read in design.memories for read in definition.derived.signals
        )
        bounded = math.isfinite(definition.low) and math.isfinite(definition.high)
        if definition.derived is None or (remembers and bounded):
            values[name] = _sample(definition, definition.sample)
    for name, said in design.moments.get(screen, {}).items():
        values[name] = _sample(design.signals[name], said)
    return values


def doubtful_values(design: Design, doubt: Doubt) -> dict[str, Value]:
    """Every signal in the same doubt, to see how a screen looks then."""
    values: dict[str, Value] = {CLOCK: CLOCK_SAMPLE}
    for name, definition in design.signals.items():
        if definition.derived is None:
            values[name] = doubt if definition.count is None else (doubt,) * definition.count
    return values


def lookup(design: Design, values: Mapping[str, Value], touch: str = TouchState.IDLE) -> Lookup:
    """A lookup over ``values``; derived signals are worked out from them, every touch is in one state, and
    what must be held half way there while it is pressed.

    A value given for a derived signal takes the place of its expression.
    """
    derived = {
        name: definition.derived
        for name, definition in design.signals.items()
        if definition.derived is not None
    }
    inner = lookup_over(values, derived)
    held = HALF_HELD if touch == TouchState.PRESSED else 0.0

    def find(name: str) -> Value:
        if name.startswith(TOUCH_PREFIX):
            return touch
        return held if name.startswith(HOLD_PREFIX) else inner(name)

    return find


def time_of_day(text: str) -> float | None:
    """Minutes since midnight of ``HH:MM``; None for anything else."""
    hours, _, minutes = text.partition(":")
    # Not ``isdigit``: a raised 2 is a digit that ``int`` does not take.
    if hours.isdecimal() and minutes.isdecimal() and int(hours) < 24 and int(minutes) < 60:
        return int(hours) * 60.0 + int(minutes)
    return None


def set_value(design: Design, assignment: str) -> tuple[str, Value]:
    """One ``signal=value`` of the command line: a number with or without unit, a word, on or off,
    or ``unseen``, ``stale``, ``out``. Raises ``DesignError`` M29x."""
    name, equals, text = (part.strip() for part in assignment.partition("="))
    if not equals or not text:
        remedy = "write it like pack.charge=40 or vehicle.gear=D"
        raise DesignError([error("M290", f"'{assignment}' sets nothing", None, remedy)])
    if name == CLOCK:
        minutes = time_of_day(text)
        if minutes is not None:
            return name, minutes
        raise DesignError([error("M291", f"'{text}' is no time of day", None, "write clock.time=10:24")])
    definition = design.signals.get(name)
    if definition is None:
        remedy = did_you_mean(name, design.signals, "signals")
        raise DesignError([error("M292", f"there is no signal '{name}'", None, remedy)])
    if text in STATE_WORDS and text not in definition.words.values():
        return name, _filled(definition, STATE_WORDS[text])
    return name, _filled(definition, _value(definition, text))


def _filled(definition: SignalDefinition, value: Scalar | Doubt) -> Value:
    return value if definition.count is None else (value,) * definition.count


def _value(definition: SignalDefinition, text: str) -> Scalar | Doubt:
    if definition.kind == ValueKind.TEXT:
        return text
    if definition.kind == ValueKind.WORD:
        words = tuple(definition.words.values())
        if text in words:
            return text
        remedy = did_you_mean(text, words, "words")
        raise DesignError([error("M293", f"'{definition.name}' has no word '{text}'", None, remedy)])
    if definition.kind == ValueKind.FLAG:
        if text.lower() in ON_WORDS:
            return ON_WORDS[text.lower()]
        raise DesignError([error("M293", f"'{definition.name}' is on or off", None, f"{definition.name}=on")])
    number = _number(definition, text)
    return number if definition.low <= number <= definition.high else Doubt.OUT_OF_RANGE


def _number(definition: SignalDefinition, text: str) -> float:
    node, findings = parse_expression(text, "--set", 1, 1)
    declared = definition.unit
    if not findings and isinstance(node, syntax.Quantity):
        given = unit_by_spelling(node.unit) if node.unit else declared
        if given is not None and declared is not None and given.dimension == declared.dimension:
            given = degrees(given) if declared.difference else given
            base = node.number * given.factor + given.offset
            return float((base - declared.offset) / Fraction(declared.factor))
        if declared is None and not node.unit:
            return float(node.number)
    unit = f" in {declared.spelling}" if declared and declared.spelling else ""
    low, high = at_least(definition.low), at_most(definition.high)
    remedy = f"write {definition.name}={low}, between {low} and {high}"
    raise DesignError([error("M293", f"'{text}' is not a number{unit}", None, remedy)])


def _sample(definition: SignalDefinition, said: Sample | None) -> Value:
    if isinstance(said, tuple):
        # A list that is shorter begins anew.
        return tuple(_said(definition, said[i % len(said)]) for i in range(definition.count or 1))
    if said is not None and (definition.count is None or definition.kind != ValueKind.NUMBER):
        return _filled(definition, _said(definition, said))
    if isinstance(said, str):
        return _filled(definition, STATE_WORDS[said])
    if definition.kind == ValueKind.TEXT:
        word = definition.name.rpartition(".")[2].replace("_", " ").capitalize()
        return (
            word if definition.count is None else tuple(f"{word} {i}" for i in range(1, definition.count + 1))
        )
    if definition.kind == ValueKind.FLAG:
        return _filled(definition, False)
    if definition.kind == ValueKind.WORD:
        words = tuple(definition.words.values())
        return _filled(definition, words[len(words) // 2] if words else Doubt.UNSEEN)
    span = definition.high - definition.low
    middle = said if isinstance(said, float) else definition.low + SAMPLE_PLACE * span
    if definition.count is None:
        return middle
    # A fixed scatter, so that pictures are the same on every machine.
    return tuple(
        middle + SAMPLE_SPREAD * span * ((i * 37 % 29) / 14 - 1) for i in range(1, definition.count + 1)
    )


def _said(definition: SignalDefinition, said: float | bool | str) -> Scalar | Doubt:
    """One value as signals.yaml gives it: a word of doubt, unless it is a word or text of the signal."""
    own = definition.kind == ValueKind.TEXT or said in definition.words.values()
    return STATE_WORDS[said] if isinstance(said, str) and said in STATE_WORDS and not own else said
