"""What a value is like, by its unit and by the words of its name: which of its ends is the bad one."""

from __future__ import annotations

import re

from hmic.language.syntax import Convert, Expression, Quantity, Signal
from hmic.model.design import Design
from hmic.model.expressions import Doubt
from hmic.model.units import Unit

HEATS = ("°C", "°F")
"""Units of how warm something is."""
_LITTLE_IS_BAD = frozenset(("charge", "soc", "fuel", "fresh", "range", "energy_left", "left"))


def last_word(subject: Expression) -> str:
    """The last word of a signal's name; of anything else none."""
    while isinstance(subject, Convert):
        subject = subject.value
    return re.split(r"[._]", subject.name.lower())[-1] if isinstance(subject, Signal) else ""


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
