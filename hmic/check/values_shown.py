"""What a value is like, by its unit and by the words of its name: which of its ends is the bad one."""

from __future__ import annotations

import re

from hmic.language.syntax import Convert, Expression, Quantity, Signal
from hmic.model.design import Design
from hmic.model.expressions import Doubt, ValueKind
from hmic.model.units import Unit, unit

HEATS = ("°C", "°F")
"""Units of how warm something is."""
_LITTLE_IS_BAD = frozenset(("charge", "soc", "fuel", "fresh", "range", "energy_left", "left"))


def last_word(subject: Expression) -> str:
    """The last word of a signal's name; of anything else none."""
    while isinstance(subject, Convert):
        subject = subject.value
    return words_of(subject.name)[-1] if isinstance(subject, Signal) else ""


def words_of(name: str) -> list[str]:
    """The words of a signal's name."""
    return re.split(r"[._]", name.lower())


_OTHER_SPEEDS = frozenset(
    (
        *("air", "charge", "charger", "charging", "coolant", "current", "fan", "flow", "gust"),
        *("level", "pump", "rain", "tide", "water", "wind", "winds"),
    )
)
"""Words in the name of a speed that is not the vehicle's."""


def is_other_speed(name: str) -> bool:
    """Whether a speed is not the vehicle's: a wind blows, and a charge comes, at one too."""
    return not _OTHER_SPEEDS.isdisjoint(words_of(name))


def is_vehicle_speed(name: str, design: Design) -> bool:
    """Whether a signal is the vehicle's speed, by its unit and the words of its name."""
    definition, like = design.signals.get(name), unit("km/h")
    if definition is None or definition.unit is None or like is None or is_other_speed(name):
        return False
    return definition.kind == ValueKind.NUMBER and definition.unit.dimension == like.dimension


def low_is_bad(subject: Expression) -> bool:
    """Whether little of it is what a driver has to know of, as of a charge."""
    return last_word(subject) in _LITTLE_IS_BAD


def amount(node: Expression, unit: Unit | None, design: Design) -> float | None:
    """A fixed number as so many of ``unit``; None where it is none."""
    spelt = unit.spelling if unit is not None else ""
    if spelt and not (isinstance(node, Quantity) and not node.unit):
        node = Convert(node, spelt, node.span)
    typed = design.typings.typed(node, [])
    if typed.signals:
        return None
    value = typed.evaluate(lambda name: Doubt.UNSEEN)
    return None if isinstance(value, Doubt) or not isinstance(value, float | int) else float(value)
