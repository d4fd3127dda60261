"""A formula that can go far beyond the range that its signal declares."""

from __future__ import annotations

import math

from hmic.diagnostics import Finding, Severity, Span
from hmic.language import syntax
from hmic.language.syntax import Operator
from hmic.model.expressions import Typed, walk
from hmic.model.functions import FUNCTIONS
from hmic.model.memories import REMEMBERING
from hmic.number_text import at_least, at_most, numbers

ROOM = 0.2
"""The part of the declared range by which a formula may go beyond it unsaid: values that are multiplied
are seldom at their ends together (common practice, no source)."""

# Quotients and values of the past have bounds that say little: near nothing, and as fast as can be.
_BOUNDED = frozenset(FUNCTIONS) - frozenset(REMEMBERING) - {"interpolate"}


def beyond_range(
    name: str, formula: syntax.Expression, value: Typed, bounds: tuple[float, float], span: Span
) -> Finding | None:
    """M287, a note: what the inputs allow is shown as out of range. ``value`` is the formula in the
    signal's unit, without its ``bounds``."""
    for node in walk(formula):
        if isinstance(node, syntax.Operation) and node.operator == Operator.OVER:
            return None
        if isinstance(node, syntax.Call) and node.function not in _BOUNDED:
            return None
    low, high = bounds
    over = max(low - value.low, value.high - high)
    if not math.isfinite(over) or over <= ROOM * (high - low):
        return None
    of = f" {value.unit.spelling}" if value.unit is not None and value.unit.spelling else ""
    lowest, highest, least, most = numbers(value.low, value.high, low, high)
    message = (
        f"'{name}' goes from {lowest} to {highest}{of} by the ranges of what it reads, and is out "
        f"of range beyond {least} and {most}"
    )
    wide = f"[{at_most(min(low, value.low))}, {at_least(max(high, value.high))}]"
    remedy = f"write `range: {wide}`, or narrow the ranges of what it reads"
    return Finding("M287", Severity.NOTE, message, span, remedy)
