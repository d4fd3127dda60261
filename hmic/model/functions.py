"""Typing of the functions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from hmic.diagnostics import did_you_mean
from hmic.language import syntax
from hmic.language.syntax import Operator
from hmic.model import values
from hmic.model.arithmetic import aligned_with, as_difference, real_bounds, times_bound
from hmic.model.memories import REMEMBERING, interpolate, power, remembering
from hmic.model.terms import Typed, Typing, are_numbers, is_amount, said
from hmic.model.units import PLAIN
from hmic.model.values import ValueKind

FUNCTIONS: Mapping[str, str] = {
    "min": "the smallest of a list, or of several values",
    "max": "the largest of a list, or of several values",
    "mean": "the arithmetic mean of a list, or of several values",
    "spread": "largest less smallest of a list, or of several values",
    "sum": "the sum of a list, or of several values",
    "abs": "the size without the sign",
    "count": "how many elements of a list of conditions are true: count(pack.cells < 3 V)",
    "where_min": "the place, from 1, of the smallest element of a list",
    "where_max": "the place, from 1, of the largest element of a list",
    "interpolate": "straight lines between points: interpolate(tank.voltage, 0.5 V, 0 %, 4.5 V, 100 %)",
    "power": "of torque and turning speed, or voltage and current: power(motor.torque, motor.speed)",
    **REMEMBERING,
}


def _count(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    array = known[0]
    if len(known) != 1 or array.count is None or array.kind != ValueKind.FLAG:
        typing.fail("M208", "count() takes one list of conditions", node.span, _usage(node))
        return None
    return replace(
        array,
        kind=ValueKind.NUMBER,
        unit=PLAIN,
        count=None,
        low=0.0,
        high=float(array.count),
        evaluate=values.reduced(array.evaluate, values.how_many),
    )


def _abs(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    value = known[0]
    if len(known) != 1:
        typing.fail("M208", "abs() takes one value", node.span, _usage(node))
        return None
    if not is_amount(node.arguments[0], value, "abs", typing):
        return None
    within = value.low <= 0 <= value.high
    return replace(
        value,
        low=0.0 if within else min(abs(value.low), abs(value.high)),
        high=max(abs(value.low), abs(value.high)),
        evaluate=values.each(value.evaluate, values.size),
    )


def _one_list(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    """One array, or several single values in the first one's unit as an array."""
    if len(known) == 1:
        if known[0].count is None:
            message = f"{node.function}() takes a list; {said(node.arguments[0])} is a single value"
            typing.fail("M208", message, node.span, _usage(node))
            return None
        return known[0]
    if node.function.startswith("where") or any(value.count is not None for value in known):
        typing.fail("M208", f"{node.function}() takes one list", node.span, _usage(node))
        return None
    aligned = [known[0]]
    for place, value in zip(node.arguments[1:], known[1:], strict=True):
        pair = syntax.Operation(Operator.PLUS, node.arguments[0], place, place.span)
        fitting = aligned_with(pair, known[0], value, typing)
        if fitting is not None:
            aligned.append(fitting)
    if len(aligned) != len(known):
        return None
    return replace(
        known[0],
        count=len(known),
        low=min(value.low for value in aligned),
        high=max(value.high for value in aligned),
        signals=frozenset().union(*(value.signals for value in aligned)),
        evaluate=values.gathered([value.evaluate for value in aligned]),
    )


def _reduction(node: syntax.Call, joined: Typed, known: Sequence[Typed], typing: Typing) -> Typed | None:
    assert joined.count is not None and joined.unit is not None
    single = replace(joined, count=None)
    match node.function:
        case "min":
            return replace(single, evaluate=values.reduced(joined.evaluate, values.least))
        case "max":
            return replace(single, evaluate=values.reduced(joined.evaluate, values.most))
        case "mean":
            return replace(single, evaluate=values.reduced(joined.evaluate, values.mean))
        case "spread":
            spread = values.reduced(joined.evaluate, values.width)
            width = real_bounds((0.0, joined.high - joined.low))
            result = replace(single, low=width[0], high=width[1], evaluate=spread)
            return as_difference(result, joined.unit)
        case "sum":
            if not is_amount(node.arguments[0], joined, "sum", typing):
                return None
            return replace(
                single,
                low=times_bound(joined.low, joined.count),
                high=times_bound(joined.high, joined.count),
                evaluate=values.reduced(joined.evaluate, values.total),
            )
    best = {"where_min": values.place_of_least, "where_max": values.place_of_most}[node.function]
    return replace(
        single,
        unit=PLAIN,
        low=1.0,
        high=float(joined.count),
        evaluate=values.reduced(joined.evaluate, best),
    )


def call(node: syntax.Call, arguments: Sequence[Typed | None], typing: Typing) -> Typed | None:
    """The call typed; ``arguments`` are the typed arguments, None where one is in error."""
    if node.function not in FUNCTIONS:
        remedy = did_you_mean(node.function, FUNCTIONS, "functions")
        typing.fail("M207", f"there is no function '{node.function}'", node.span, remedy)
        return None
    known = [argument for argument in arguments if argument is not None]
    if len(known) != len(arguments):
        return None
    if not known:
        typing.fail("M208", f"{node.function}() needs something to work on", node.span, _usage(node))
        return None
    if node.function in REMEMBERING:
        return remembering(node, known, typing)
    if node.function in _OF_ANYTHING:
        return _OF_ANYTHING[node.function](node, known, typing)
    if not are_numbers(node, known, typing):
        return None
    if node.function in _OF_NUMBERS:
        return _OF_NUMBERS[node.function](node, known, typing)
    joined = _one_list(node, known, typing)
    return joined and _reduction(node, joined, known, typing)


_OF_ANYTHING = {"count": _count}
_OF_NUMBERS = {"interpolate": interpolate, "power": power, "abs": _abs}
"""All others take a list, or several numbers."""


def _usage(node: syntax.Call) -> str:
    return f"{node.function}: {FUNCTIONS[node.function]}"
