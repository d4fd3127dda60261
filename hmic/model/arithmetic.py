"""Typing of comparisons, conditions, sums and products."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from hmic.diagnostics import closest, did_you_mean, warning
from hmic.language import syntax
from hmic.language.syntax import Operator
from hmic.model import values
from hmic.model.terms import (
    Scope,
    Typed,
    Typing,
    as_unit,
    decimal,
    is_amount,
    is_flag,
    is_number,
    said,
    spelt,
    with_quantity,
)
from hmic.model.units import (
    KELVIN_DIFFERENCE,
    PERCENT,
    PLAIN,
    Unit,
    degrees,
    difference,
    product,
    quantity_name,
    quotient,
)
from hmic.model.values import Item, ValueKind
from hmic.number_text import at_least, at_most, numbers


def operation(node: syntax.Operation, left: Typed, right: Typed, typing: Typing) -> Typed | None:
    if left.count is not None and right.count is not None and left.count != right.count:
        message = f"the left side has {left.count} elements, the right side has {right.count}"
        typing.fail("M213", message, node.span, "join lists of the same length, or take one element")
        return None
    if node.operator in {Operator.AND, Operator.OR}:
        flags = [
            is_flag(side, value, node.operator, typing)
            for side, value in ((node.left, left), (node.right, right))
        ]
        join = values.both if node.operator == Operator.AND else values.either
        return _flag(left, right, join) if all(flags) else None
    if node.operator in {Operator.IS, Operator.IS_NOT}:
        return _equality(node, left, right, typing)
    numbers = [
        is_number(side, value, node.operator, typing)
        for side, value in ((node.left, left), (node.right, right))
    ]
    if not all(numbers):
        return None
    if node.operator in values.ORDERS:
        aligned = aligned_with(node, left, right, typing)
        if aligned is None:
            return None
        _warn_never(node, left, aligned, typing)
        return _flag(left, aligned, values.certain(values.compared(str(node.operator))))
    if node.operator in {Operator.PLUS, Operator.MINUS}:
        return _sum(node, left, right, typing)
    return _product(node, left, right, typing)


def _flag(left: Typed, right: Typed, function: Callable[[Item, Item], Item]) -> Typed:
    return Typed(
        ValueKind.FLAG,
        None,
        left.count if left.count is not None else right.count,
        0.0,
        0.0,
        (),
        left.signals | right.signals,
        values.pair(left.evaluate, right.evaluate, function),
    )


def _equality(node: syntax.Operation, left: Typed, right: Typed, typing: Typing) -> Typed | None:
    wanted = node.operator == Operator.IS
    same = values.certain(values.same(wanted))
    kinds = {left.kind, right.kind}
    if kinds == {ValueKind.NUMBER}:
        aligned = aligned_with(node, left, right, typing)
        if aligned is not None:
            _warn_never(node, left, aligned, typing)
        return aligned and _flag(left, aligned, same)
    if kinds == {ValueKind.WORD, ValueKind.TEXT}:
        signal, other, place = left, right, node.right
        if left.kind == ValueKind.TEXT:
            signal, other, place = right, left, node.left
        unknown = [word for word in other.words if word not in signal.words]
        if unknown and other.constant:
            message = f'"{unknown[0]}" is none of the words of {said(_other_side(node, place))}'
            typing.fail("M210", message, place.span, _word_remedy(unknown[0], signal.words))
            return None
    elif kinds == {ValueKind.WORD}:
        if not set(left.words) & set(right.words):
            message = f"{said(node.left)} and {said(node.right)} have no word in common"
            typing.fail("M210", message, node.span, f"words: {', '.join(left.words)}")
            return None
    elif len(kinds) > 1:
        message = f"{said(node.left)} is a {left.kind}, {said(node.right)} is a {right.kind}"
        typing.fail("M206", message, node.span, _kind_remedy(left))
        return None
    return _flag(left, right, same)


def _word_remedy(word: str, words: Sequence[str]) -> str:
    """One letter is near to any other: for gears the list says more than a guess."""
    if len(word) > 2 and closest(word, words) is not None:
        return did_you_mean(word, words)
    return f"words: {', '.join(words[:12])}"


def _other_side(node: syntax.Operation, place: syntax.Expression) -> syntax.Expression:
    return node.left if place is node.right else node.right


def _kind_remedy(left: Typed) -> str:
    if left.kind == ValueKind.FLAG:
        return "compare it with on or off"
    if left.kind == ValueKind.NUMBER:
        return f"compare it with a number{' in ' + spelt(left) if spelt(left) else ''}"
    return "compare it with a word in quotes" + (f', such as "{left.words[0]}"' if left.words else "")


def aligned_with(node: syntax.Operation, left: Typed, right: Typed, typing: Typing) -> Typed | None:
    """The right side in the left side's unit; a finding and None where they do not go together. A number
    written beside a difference of temperatures is one too."""
    assert left.unit is not None and right.unit is not None
    compares = node.operator in values.ORDERS or node.operator.startswith("is")
    if left.unit.difference and isinstance(node.right, syntax.Quantity):
        right = replace(right, unit=degrees(right.unit))
    if right.unit and right.unit.difference and compares and isinstance(node.left, syntax.Quantity):
        left = replace(left, unit=degrees(left.unit))
    assert left.unit is not None and right.unit is not None
    mixed = left.unit != right.unit and PLAIN in (left.unit, right.unit)
    converted = None if mixed else as_unit(right, left.unit)
    if converted is not None:
        return converted
    verb = "compared" if compares else "joined"
    if mixed:
        bare, of = (node.right, left.unit) if right.unit == PLAIN else (node.left, right.unit)
        message = f"{said(bare)} has no unit, but is {verb} with a value in {of.spelling}"
        number = said(bare) if isinstance(bare, syntax.Quantity) else "..."
        remedy = f"write `{number} {of.spelling}`"
        if not isinstance(bare, syntax.Quantity):
            remedy = f"give {said(bare)} a unit, or say `in {of.spelling}` where it converts"
        typing.fail("M214", message, bare.span, remedy)
        return None
    if left.unit.difference or right.unit.difference:
        message = "a difference of temperatures is no point on a temperature scale"
        typing.fail("M205", message, node.span, "hold it against a number, such as `5 K`")
        return None
    message = (
        f"{said(node.left)} is in {with_quantity(left.unit)}, "
        f"{said(node.right)} in {with_quantity(right.unit)}; they cannot be {verb}"
    )
    typing.fail("M204", message, node.span, _unit_remedy(node, left, right, typing.scope))
    return None


def _unit_remedy(node: syntax.Operation, left: Typed, right: Typed, scope: Scope) -> str:
    assert left.unit is not None and right.unit is not None
    literal, other, of = node.right, right, left.unit
    if isinstance(node.left, syntax.Quantity) and not isinstance(node.right, syntax.Quantity):
        literal, other, of = node.left, left, right.unit
    if not isinstance(literal, syntax.Quantity):
        return f"use two values of {quantity_name(of)}, such as two in {of.spelling}"
    number = decimal(literal.number)
    other_unit = other.unit
    names = sorted(
        name
        for name, signal in scope.signals.items()
        if signal.unit is not None
        and other_unit is not None
        and signal.unit.dimension == other_unit.dimension
    )
    meant = f"did you mean `{number} {of.spelling}`"
    if names:
        meant += f", or a signal of {quantity_name(other_unit or PLAIN)}: {', '.join(names[:3])}"
    return meant + "?"


def _warn_never(node: syntax.Operation, left: Typed, right: Typed, typing: Typing) -> None:
    """A literal that the other side never reaches makes a condition that cannot change."""
    literal, value, place, other = node.right, right, node.right, left
    if isinstance(node.left, syntax.Quantity):
        literal, value, place, other = node.left, left, node.left, right
    if not isinstance(literal, syntax.Quantity) or other.constant:
        return
    if other.low <= value.low <= other.high:
        return
    side = _other_side(node, place)
    of, ends = spelt(other), numbers(other.low, other.high)
    message = (
        f"{said(literal)} lies outside what {said(side)} can be ({ends[0]} to {ends[1]} {of}".rstrip()
        + "), so the comparison never changes"
    )
    remedy = f"use a limit from {at_least(other.low)} to {at_most(other.high)} {of}".rstrip()
    typing.scope.warnings.append(warning("M211", message, literal.span, remedy))


def _arithmetic(
    left: Typed,
    right: Typed,
    of: Unit,
    bounds: tuple[float, float],
    function: Callable[[float, float], float],
) -> Typed:
    return Typed(
        ValueKind.NUMBER,
        of,
        left.count if left.count is not None else right.count,
        *bounds,
        (),
        left.signals | right.signals,
        values.pair(left.evaluate, right.evaluate, values.certain(values.calculated(function))),
    )


def _sum(node: syntax.Operation, left: Typed, right: Typed, typing: Typing) -> Typed | None:
    assert left.unit is not None and right.unit is not None
    if left.unit.offset and right.unit.dimension == left.unit.dimension and not right.unit.offset:
        return _point_and_step(node, left, right)
    if right.unit.offset and left.unit.dimension == right.unit.dimension and not left.unit.offset:
        if node.operator == Operator.PLUS:
            return _point_and_step(node, right, left)
        message = f"a point on the {right.unit.spelling} scale cannot be taken from a difference in K"
        typing.fail("M205", message, node.span, f"take K from {right.unit.spelling}, not the other way")
        return None
    if left.unit.offset and right.unit.offset and node.operator == Operator.PLUS:
        message = f"two points on the {left.unit.spelling} scale cannot be added"
        typing.fail("M205", message, node.span, "add a difference in K, or use mean(...)")
        return None
    aligned = aligned_with(node, left, right, typing)
    if aligned is None:
        return None
    if node.operator == Operator.PLUS:
        bounds = (left.low + aligned.low, left.high + aligned.high)
        return _arithmetic(left, aligned, left.unit, real_bounds(bounds), values.plus)
    bounds = (left.low - aligned.high, left.high - aligned.low)
    result = _arithmetic(left, aligned, left.unit, real_bounds(bounds), values.minus)
    if not left.unit.offset and (left.constant or aligned.constant):
        # 300 K less 10 K may be a point on the scale as well as a difference.
        return result
    return as_difference(result, left.unit)


def as_difference(result: Typed, of: Unit) -> Typed:
    """Of a subtraction in ``of``: a difference of temperatures comes out in K."""
    scale = float(of.factor / difference(of).factor)
    scaled = values.each(result.evaluate, values.scaled(scale))
    return replace(
        result,
        unit=difference(of),
        low=result.low * scale,
        high=result.high * scale,
        evaluate=scaled if scale != 1 else result.evaluate,
    )


def _point_and_step(node: syntax.Operation, point: Typed, step: Typed) -> Typed:
    in_kelvin = as_unit(step, KELVIN_DIFFERENCE)
    assert point.unit is not None and in_kelvin is not None
    step = in_kelvin
    scale = 1 / float(point.unit.factor)
    sign = 1 if node.operator == Operator.PLUS else -1
    ends = (step.low * scale * sign, step.high * scale * sign)
    bounds = (point.low + min(ends), point.high + max(ends))
    return _arithmetic(point, step, point.unit, real_bounds(bounds), values.moved(sign * scale))


def real_bounds(bounds: tuple[float, float]) -> tuple[float, float]:
    low, high = bounds
    return (-math.inf if math.isnan(low) else low, math.inf if math.isnan(high) else high)


def _product(node: syntax.Operation, left: Typed, right: Typed, typing: Typing) -> Typed | None:
    amounts = [
        is_amount(side, value, node.operator, typing)
        for side, value in ((node.left, left), (node.right, right))
    ]
    if not all(amounts):
        return None
    times = node.operator == Operator.TIMES
    left, right = _without_percent(left, right, times)
    assert left.unit is not None and right.unit is not None
    of = product(left.unit, right.unit) if times else quotient(left.unit, right.unit)
    if times:
        ends = [times_bound(a, b) for a in (left.low, left.high) for b in (right.low, right.high)]
        result = _arithmetic(left, right, of, (min(ends), max(ends)), values.times)
    else:
        result = _arithmetic(left, right, of, _quotient_bounds(left, right), values.over)
    if of != PLAIN and not any(of.dimension) and of != PERCENT:
        return as_unit(result, PLAIN)
    return result


def _without_percent(left: Typed, right: Typed, times: bool) -> tuple[Typed, Typed]:
    """A share becomes a plain factor, unless the other side is a plain number that only scales it."""
    keep_left = right.unit == PLAIN
    keep_right = times and left.unit == PLAIN
    if left.unit == PERCENT and not keep_left:
        left = as_unit(left, PLAIN) or left
    if right.unit == PERCENT and not keep_right:
        right = as_unit(right, PLAIN) or right
    return left, right


def times_bound(a: float, b: float) -> float:
    return 0.0 if a == 0 or b == 0 else a * b


def _quotient_bounds(left: Typed, right: Typed) -> tuple[float, float]:
    if right.low <= 0 <= right.high:
        return (-math.inf, math.inf)
    try:
        ends = [a / b for a in (left.low, left.high) for b in (right.low, right.high)]
    except OverflowError:
        return (-math.inf, math.inf)
    if any(math.isnan(end) for end in ends):
        return (-math.inf, math.inf)
    return (min(ends), max(ends))
