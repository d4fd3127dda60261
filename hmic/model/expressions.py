"""Expressions typed by unit, and their evaluation with doubt."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Protocol

from hmic.diagnostics import DesignError, Finding, Span, did_you_mean, error, warning
from hmic.language import syntax
from hmic.model import values
from hmic.model.units import (
    PERCENT,
    PLAIN,
    Unit,
    convertible,
    difference,
    product,
    quantity_name,
    quotient,
    unit,
    unit_remedy,
)
from hmic.model.units import converter as unit_converter
from hmic.model.values import Doubt as Doubt
from hmic.model.values import Item
from hmic.model.values import Lookup as Lookup
from hmic.model.values import Scalar as Scalar
from hmic.model.values import Value as Value

DEEPEST = 50


@dataclass(frozen=True)
class Typed:
    """An expression whose units have been checked.

    ``kind`` is ``number``, ``flag``, ``word`` or ``text``; ``count`` the length if an array.
    Numbers come out in ``unit``. ``low`` and ``high`` bound what a number can be, from the
    ranges of its signals (infinite where nothing bounds it). ``words`` are the words it can be.
    ``signals`` names every signal it reads. ``evaluate`` takes a lookup of signal values in their
    declared units and never raises: a missing value or a division by zero comes out as ``Doubt``.
    """

    kind: str
    unit: Unit | None
    count: int | None
    low: float
    high: float
    words: tuple[str, ...]
    signals: frozenset[str]
    evaluate: Callable[[Lookup], Value]

    @property
    def constant(self) -> bool:
        """Whether it is the same for ever: it reads no signal."""
        return not self.signals


class Declared(Protocol):
    """What an expression needs to know of a signal; ``design.SignalDefinition`` is one."""

    @property
    def kind(self) -> str: ...
    @property
    def unit(self) -> Unit | None: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...
    @property
    def count(self) -> int | None: ...
    @property
    def words(self) -> Mapping[int, str]: ...


@dataclass(frozen=True)
class Scope:
    """Names in reach. ``names`` holds part parameters and ``each`` counters; ``broken`` the signals
    whose declaration has an error, reported where it stands. ``warnings`` gathers what ``typed``
    finds that is no error."""

    signals: Mapping[str, Declared]
    names: Mapping[str, Typed] = field(default_factory=dict)
    broken: frozenset[str] = frozenset()
    warnings: list[Finding] = field(default_factory=list)


def typed(expression: syntax.Expression, scope: Scope) -> Typed:
    """The expression with its units checked. DesignError carries every error in it; its list is
    empty when the only cause is a signal in ``scope.broken``. Warnings go to ``scope.warnings``."""
    typing = _Typing(scope, [])
    result = _typed(expression, typing, 0)
    if result is None or typing.errors:
        raise DesignError(typing.errors)
    return result


def condition(expression: syntax.Expression, scope: Scope) -> Typed:
    """``typed`` for a place that needs on or off (``when``, ``while``)."""
    result = typed(expression, scope)
    if result.kind != "flag" or result.count is not None:
        what = "a list" if result.count is not None else f"a {result.kind}"
        remedy = (
            f"compare it, such as `{said(expression)} > 0 {_spelt(result)}`".rstrip(" `") + "`"
            if result.kind == "number"
            else f'compare it, such as `{said(expression)} is "..."`'
        )
        raise DesignError(
            [error("M215", f"a condition must be true or false; this is {what}", expression.span, remedy)]
        )
    return result


def as_unit(value: Typed, target: Unit) -> Typed | None:
    """The number in another unit, or None when it does not convert."""
    if value.kind != "number" or value.unit is None or not convertible(value.unit, target):
        return None
    if value.unit == target:
        return value
    convert = unit_converter(value.unit, target)
    return replace(
        value,
        unit=target,
        low=convert(value.low),
        high=convert(value.high),
        evaluate=values.each(value.evaluate, lambda item: values.finite(convert(float(item)))),
    )


def signal_typed(name: str, signal: Declared) -> Typed:
    """The bare signal as an expression. A value that breaks the declaration is out of range."""
    words = tuple(dict.fromkeys(signal.words[raw] for raw in sorted(signal.words)))
    check: Callable[[object], Item]
    if signal.kind == "number":
        check = values.number_check(signal.low, signal.high)
    elif signal.kind == "flag":
        check = values.flag_check
    elif signal.kind == "word":
        check = values.word_check(words)
    else:
        check = values.text_check
    return Typed(
        signal.kind,
        signal.unit if signal.kind == "number" else None,
        signal.count,
        signal.low if signal.kind == "number" else 0.0,
        signal.high if signal.kind == "number" else 0.0,
        words if signal.kind == "word" else (),
        frozenset({name}),
        values.read(name, signal.count, check),
    )


def constant_number(number: Fraction | float, of: Unit = PLAIN) -> Typed:
    """A number that never changes, such as the counter of ``each``."""
    value = float(number)
    return Typed("number", of, None, value, value, (), frozenset(), values.constant(value))


def constant_text(text: str) -> Typed:
    """A text that never changes."""
    return Typed("text", None, None, 0.0, 0.0, (text,), frozenset(), values.constant(text))


def walk(expression: syntax.Expression) -> Iterator[syntax.Expression]:
    """The expression and all that it is made of, in reading order."""
    stack = [expression]
    while stack:
        node = stack.pop()
        yield node
        stack.extend(reversed(_children(node)))


def said(expression: syntax.Expression) -> str:
    """How a message names the expression: as written where that is short."""
    match expression:
        case syntax.Signal(name, index):
            return name if index is None else f"{name}[{said(index)}]"
        case syntax.Quantity(number, spelling):
            return f"{_decimal(number)} {spelling}".strip()
        case syntax.Text(text):
            return f'"{text}"'
        case syntax.Flag(value):
            return "on" if value else "off"
        case syntax.Name(name):
            return name
        case syntax.Call(function):
            return f"{function}(...)"
    return "this value"


@dataclass(frozen=True)
class _Typing:
    scope: Scope
    errors: list[Finding]

    def fail(self, code: str, message: str, span: Span, remedy: str | None = None) -> None:
        self.errors.append(error(code, message, span, remedy))


def _children(node: syntax.Expression) -> tuple[syntax.Expression, ...]:
    match node:
        case syntax.Signal(_, index):
            return () if index is None else (index,)
        case syntax.Operation(_, left, right):
            return (left, right)
        case syntax.Not(value) | syntax.Negative(value) | syntax.Convert(value):
            return (value,)
        case syntax.Call(_, arguments):
            return arguments
    return ()


def _decimal(number: Fraction) -> str:
    return str(number.numerator) if number.denominator == 1 else f"{float(number):g}"


def _spelt(value: Typed) -> str:
    return value.unit.spelling if value.unit is not None else ""


def _typed(node: syntax.Expression, typing: _Typing, depth: int) -> Typed | None:
    if depth > DEEPEST:
        typing.fail("M216", f"this expression nests deeper than {DEEPEST} levels", node.span, _SPLIT)
        return None
    match node:
        case syntax.Quantity():
            return _quantity(node, typing)
        case syntax.Text(text):
            return constant_text(text)
        case syntax.Flag(value):
            return Typed("flag", None, None, 0.0, 0.0, (), frozenset(), values.constant(value))
        case syntax.Name():
            return _name(node, typing)
        case syntax.Signal():
            return _signal(node, typing, depth)
        case syntax.Not(value):
            inner = _typed(value, typing, depth + 1)
            return inner and _not(value, inner, typing)
        case syntax.Negative(value):
            inner = _typed(value, typing, depth + 1)
            return inner and _negative(value, inner, typing)
        case syntax.Convert():
            return _convert(node, typing, depth)
        case syntax.Call():
            return _call(node, typing, depth)
        case syntax.Operation():
            left = _typed(node.left, typing, depth + 1)
            right = _typed(node.right, typing, depth + 1)
            if left is None or right is None:
                return None
            return _operation(node, left, right, typing)


_SPLIT = "give a piece of it a name as a derived signal in signals.yaml"


def _quantity(node: syntax.Quantity, typing: _Typing) -> Typed | None:
    of = unit(node.unit)
    if of is None:
        typing.fail("M203", f"'{node.unit}' is no unit that is known here", node.span, unit_remedy(node.unit))
        return None
    try:
        return constant_number(node.number, of)
    except OverflowError:
        typing.fail("M217", "this number is too large", node.span, "use a larger unit")
        return None


def _name(node: syntax.Name, typing: _Typing) -> Typed | None:
    known = typing.scope.names.get(node.name)
    if known is None:
        names = [*typing.scope.names, *typing.scope.signals]
        remedy = did_you_mean(node.name, names, "names")
        typing.fail("M202", f"nothing here is called '{node.name}'", node.span, remedy)
    return known


def unknown_signal(node: syntax.Signal, known: Mapping[str, object]) -> Finding:
    """The finding for a signal that is not declared."""
    message = f"there is no signal '{node.name}'"
    return error("M201", message, node.span, did_you_mean(node.name, known, "signals"))


def _signal(node: syntax.Signal, typing: _Typing, depth: int) -> Typed | None:
    index = None if node.index is None else _typed(node.index, typing, depth + 1)
    declared = typing.scope.signals.get(node.name)
    if declared is None:
        if node.name not in typing.scope.broken:
            typing.errors.append(unknown_signal(node, typing.scope.signals))
        return None
    whole = signal_typed(node.name, declared)
    if node.index is None:
        return whole
    if index is None:
        return None
    if whole.count is None:
        remedy = f"write `{node.name}` alone"
        typing.fail("M209", f"'{node.name}' is a single value and has no elements", node.span, remedy)
        return None
    if index.kind != "number" or index.unit != PLAIN or index.count is not None:
        typing.fail("M209", "an element's place is a plain number", node.index.span, "write, say, `[1]`")
        return None
    outside = index.high < 1 or index.low > whole.count
    if index.constant and (outside or index.low != int(index.low)):
        message = f"'{node.name}' has elements 1 to {whole.count}; there is no {said(node.index)}"
        typing.fail("M209", message, node.index.span, f"use a place from 1 to {whole.count}")
        return None
    return replace(
        whole,
        count=None,
        signals=whole.signals | index.signals,
        evaluate=values.element(whole.evaluate, index.evaluate),
    )


def _not(node: syntax.Expression, inner: Typed, typing: _Typing) -> Typed | None:
    if not _is_flag(node, inner, "not", typing):
        return None
    return replace(inner, evaluate=values.each(inner.evaluate, lambda item: not item))


def _is_flag(node: syntax.Expression, value: Typed, word: str, typing: _Typing) -> bool:
    if value.kind == "flag":
        return True
    message = f"'{word}' joins conditions; {said(node)} is a {value.kind}"
    typing.fail("M206", message, node.span, "compare it first, with <, > or `is`")
    return False


def _is_number(node: syntax.Expression, value: Typed, operator: str, typing: _Typing) -> bool:
    if value.kind == "number":
        return True
    message = f"'{operator}' needs numbers; {said(node)} is a {value.kind}"
    remedy = "compare with `is`" if operator in _ORDER else "use a signal that has a unit"
    typing.fail("M206", message, node.span, remedy)
    return False


def _is_amount(node: syntax.Expression, value: Typed, operator: str, typing: _Typing) -> bool:
    """Whether the number may be multiplied, negated or summed: no point on a temperature scale."""
    if value.unit is None or not value.unit.offset:
        return True
    message = (
        f"{said(node)} is a point on the {value.unit.spelling} scale; '{operator}' has no meaning for it"
    )
    remedy = f"convert it first: `{said(node)} in K`; a difference of temperatures is in K too"
    typing.fail("M205", message, node.span, remedy)
    return False


def _negative(node: syntax.Expression, inner: Typed, typing: _Typing) -> Typed | None:
    if not _is_number(node, inner, "-", typing) or not _is_amount(node, inner, "-", typing):
        return None
    return replace(
        inner,
        low=-inner.high,
        high=-inner.low,
        evaluate=values.each(inner.evaluate, lambda item: -float(item)),
    )


def _convert(node: syntax.Convert, typing: _Typing, depth: int) -> Typed | None:
    inner = _typed(node.value, typing, depth + 1)
    target = unit(node.unit)
    if target is None:
        typing.fail("M203", f"'{node.unit}' is no unit that is known here", node.span, unit_remedy(node.unit))
    if inner is None or target is None or not _is_number(node.value, inner, "in", typing):
        return None
    converted = as_unit(inner, target)
    if converted is None and inner.unit is not None:
        if inner.unit.difference and target.offset:
            message = f"a difference of temperatures is no point on the {target.spelling} scale"
            typing.fail("M212", message, node.span, "write `in K`")
        else:
            message = f"{_with_quantity(inner.unit)} does not convert to {_with_quantity(target)}"
            typing.fail("M212", message, node.span, _convert_remedy(inner.unit))
    return converted


def _with_quantity(of: Unit) -> str:
    return "a plain number" if of == PLAIN else f"{of.spelling} ({quantity_name(of)})"


def _convert_remedy(source: Unit) -> str:
    return f"name a unit of {quantity_name(source)}" + (
        f", or leave it in {source.spelling}" if source.spelling else ""
    )


# Comparisons, sums, products ------------------------------------------------------------------

_ORDER: dict[str, Callable[[float, float], bool]] = {
    "<": lambda a, b: a < b,
    "<=": lambda a, b: a <= b,
    ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b,
}


def _operation(node: syntax.Operation, left: Typed, right: Typed, typing: _Typing) -> Typed | None:
    if left.count is not None and right.count is not None and left.count != right.count:
        message = f"{said(node.left)} has {left.count} elements, {said(node.right)} has {right.count}"
        typing.fail("M213", message, node.span, "join lists of the same length, or take one element")
        return None
    if node.operator in {"and", "or"}:
        flags = [
            _is_flag(side, value, node.operator, typing)
            for side, value in ((node.left, left), (node.right, right))
        ]
        join = values.both if node.operator == "and" else values.either
        return _flag(left, right, join) if all(flags) else None
    if node.operator in {"is", "is_not"}:
        return _equality(node, left, right, typing)
    numbers = [
        _is_number(side, value, node.operator, typing)
        for side, value in ((node.left, left), (node.right, right))
    ]
    if not all(numbers):
        return None
    if node.operator in _ORDER:
        aligned = _aligned(node, left, right, typing)
        if aligned is None:
            return None
        _warn_never(node, left, aligned, typing)
        order = _ORDER[node.operator]
        return _flag(left, aligned, values.certain(lambda a, b: order(float(a), float(b))))
    if node.operator in {"+", "-"}:
        return _sum(node, left, right, typing)
    return _product(node, left, right, typing)


def _flag(left: Typed, right: Typed, function: Callable[[Item, Item], Item]) -> Typed:
    return Typed(
        "flag",
        None,
        left.count if left.count is not None else right.count,
        0.0,
        0.0,
        (),
        left.signals | right.signals,
        values.pair(left.evaluate, right.evaluate, function),
    )


def _equality(node: syntax.Operation, left: Typed, right: Typed, typing: _Typing) -> Typed | None:
    wanted = node.operator == "is"
    same = values.certain(lambda a, b: (a == b) is wanted)
    kinds = {left.kind, right.kind}
    if kinds == {"number"}:
        aligned = _aligned(node, left, right, typing)
        if aligned is not None:
            _warn_never(node, left, aligned, typing)
        return aligned and _flag(left, aligned, same)
    if kinds == {"word", "text"}:
        signal, other, place = (left, right, node.right) if left.kind == "word" else (right, left, node.left)
        unknown = [word for word in other.words if word not in signal.words]
        if unknown and other.constant:
            message = f'"{unknown[0]}" is none of the words of {said(_other_side(node, place))}'
            typing.fail("M210", message, place.span, did_you_mean(unknown[0], signal.words, "words"))
            return None
    elif kinds == {"word"}:
        if not set(left.words) & set(right.words):
            message = f"{said(node.left)} and {said(node.right)} have no word in common"
            typing.fail("M210", message, node.span, f"words: {', '.join(left.words)}")
            return None
    elif len(kinds) > 1:
        message = f"{said(node.left)} is a {left.kind}, {said(node.right)} is a {right.kind}"
        typing.fail("M206", message, node.span, _kind_remedy(left))
        return None
    return _flag(left, right, same)


def _other_side(node: syntax.Operation, place: syntax.Expression) -> syntax.Expression:
    return node.left if place is node.right else node.right


def _kind_remedy(left: Typed) -> str:
    if left.kind == "flag":
        return "compare it with on or off"
    if left.kind == "number":
        return f"compare it with a number{' in ' + _spelt(left) if _spelt(left) else ''}"
    return f"compare it with a word in quotes{', such as ' + chr(34) + left.words[0] + chr(34) if left.words else ''}"


def _aligned(node: syntax.Operation, left: Typed, right: Typed, typing: _Typing) -> Typed | None:
    """The right side in the left side's unit; a finding and None where they do not go together."""
    assert left.unit is not None and right.unit is not None
    mixed = left.unit != right.unit and PLAIN in (left.unit, right.unit)
    converted = None if mixed else as_unit(right, left.unit)
    if converted is not None and not (left.unit.difference and right.unit.offset):
        return converted
    verb = "compared" if node.operator in _ORDER or node.operator.startswith("is") else "joined"
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
        typing.fail("M205", message, node.span, "write the limit of a difference in K, such as `5 K`")
        return None
    message = (
        f"{said(node.left)} is in {_with_quantity(left.unit)}, "
        f"{said(node.right)} in {_with_quantity(right.unit)}; they cannot be {verb}"
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
    number = _decimal(literal.number)
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


def _warn_never(node: syntax.Operation, left: Typed, right: Typed, typing: _Typing) -> None:
    """A literal that the other side never reaches makes a condition that cannot change."""
    literal, value, place, other = node.right, right, node.right, left
    if isinstance(node.left, syntax.Quantity):
        literal, value, place, other = node.left, left, node.left, right
    if not isinstance(literal, syntax.Quantity) or other.constant:
        return
    if other.low <= value.low <= other.high:
        return
    side = _other_side(node, place)
    spelt = _spelt(other)
    message = (
        f"{said(literal)} lies outside what {said(side)} can be "
        f"({other.low:g} to {other.high:g} {spelt}".rstrip()
        + "), so the comparison never changes"
    )
    remedy = f"use a limit from {other.low:g} to {other.high:g} {spelt}".rstrip()
    typing.scope.warnings.append(warning("M211", message, literal.span, remedy))


def _arithmetic(
    left: Typed,
    right: Typed,
    of: Unit,
    bounds: tuple[float, float],
    function: Callable[[float, float], float],
) -> Typed:
    return Typed(
        "number",
        of,
        left.count if left.count is not None else right.count,
        *bounds,
        (),
        left.signals | right.signals,
        values.pair(left.evaluate, right.evaluate, values.certain(values.calculated(function))),
    )


def _sum(node: syntax.Operation, left: Typed, right: Typed, typing: _Typing) -> Typed | None:
    assert left.unit is not None and right.unit is not None
    if left.unit.offset and right.unit.dimension == left.unit.dimension and not right.unit.offset:
        return _point_and_step(node, left, right)
    if right.unit.offset and left.unit.dimension == right.unit.dimension and not left.unit.offset:
        if node.operator == "+":
            return _point_and_step(node, right, left)
        message = f"a point on the {right.unit.spelling} scale cannot be taken from a difference in K"
        typing.fail("M205", message, node.span, f"take K from {right.unit.spelling}, not the other way")
        return None
    if left.unit.offset and right.unit.offset and node.operator == "+":
        message = f"two points on the {left.unit.spelling} scale cannot be added"
        typing.fail("M205", message, node.span, "add a difference in K, or use mean(...)")
        return None
    aligned = _aligned(node, left, right, typing)
    if aligned is None:
        return None
    if node.operator == "+":
        bounds = (left.low + aligned.low, left.high + aligned.high)
        return _arithmetic(left, aligned, left.unit, _real(bounds), lambda a, b: a + b)
    bounds = (left.low - aligned.high, left.high - aligned.low)
    result = _arithmetic(left, aligned, left.unit, _real(bounds), lambda a, b: a - b)
    return _as_difference(result, left.unit)


def _as_difference(result: Typed, of: Unit) -> Typed:
    """Of a subtraction in ``of``: a difference of points comes out in K."""
    if not of.offset:
        return result
    scale = float(of.factor)
    scaled = values.each(result.evaluate, lambda item: values.finite(float(item) * scale))
    return replace(
        result,
        unit=difference(of),
        low=result.low * scale,
        high=result.high * scale,
        evaluate=scaled if scale != 1 else result.evaluate,
    )


def _point_and_step(node: syntax.Operation, point: Typed, step: Typed) -> Typed:
    assert point.unit is not None
    scale = 1 / float(point.unit.factor)
    sign = 1 if node.operator == "+" else -1
    ends = (step.low * scale * sign, step.high * scale * sign)
    bounds = (point.low + min(ends), point.high + max(ends))
    return _arithmetic(point, step, point.unit, _real(bounds), lambda a, b: a + sign * b * scale)


def _real(bounds: tuple[float, float]) -> tuple[float, float]:
    low, high = bounds
    return (-math.inf if math.isnan(low) else low, math.inf if math.isnan(high) else high)


def _product(node: syntax.Operation, left: Typed, right: Typed, typing: _Typing) -> Typed | None:
    amounts = [
        _is_amount(side, value, node.operator, typing)
        for side, value in ((node.left, left), (node.right, right))
    ]
    if not all(amounts):
        return None
    times = node.operator == "*"
    left, right = _without_percent(left, right, times)
    assert left.unit is not None and right.unit is not None
    of = product(left.unit, right.unit) if times else quotient(left.unit, right.unit)
    if times:
        ends = [_times(a, b) for a in (left.low, left.high) for b in (right.low, right.high)]
        result = _arithmetic(left, right, of, (min(ends), max(ends)), lambda a, b: a * b)
    else:
        result = _arithmetic(left, right, of, _quotient_bounds(left, right), lambda a, b: a / b)
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


def _times(a: float, b: float) -> float:
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


# Functions ------------------------------------------------------------------------------------

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
}


def _call(node: syntax.Call, typing: _Typing, depth: int) -> Typed | None:
    arguments = [_typed(argument, typing, depth + 1) for argument in node.arguments]
    if node.function not in FUNCTIONS:
        remedy = did_you_mean(node.function, FUNCTIONS, "functions")
        typing.fail("M207", f"there is no function '{node.function}'", node.span, remedy)
        return None
    known = [argument for argument in arguments if argument is not None]
    if len(known) != len(arguments):
        return None
    usage = f"{node.function}: {FUNCTIONS[node.function]}"
    if not known:
        typing.fail("M208", f"{node.function}() needs something to work on", node.span, usage)
        return None
    if node.function == "count":
        return _count(node, known, usage, typing)
    numbers = [
        _is_number(place, value, node.function, typing)
        for place, value in zip(node.arguments, known, strict=True)
    ]
    if not all(numbers):
        return None
    if node.function == "abs":
        return _abs(node, known, usage, typing)
    joined = _one_list(node, known, usage, typing)
    return joined and _reduction(node, joined, known, typing)


def _count(node: syntax.Call, known: Sequence[Typed], usage: str, typing: _Typing) -> Typed | None:
    array = known[0]
    if len(known) != 1 or array.count is None or array.kind != "flag":
        typing.fail("M208", "count() takes one list of conditions", node.span, usage)
        return None
    return replace(
        array,
        kind="number",
        unit=PLAIN,
        count=None,
        low=0.0,
        high=float(array.count),
        evaluate=values.reduced(array.evaluate, lambda items: float(sum(map(bool, items)))),
    )


def _abs(node: syntax.Call, known: Sequence[Typed], usage: str, typing: _Typing) -> Typed | None:
    value = known[0]
    if len(known) != 1:
        typing.fail("M208", "abs() takes one value", node.span, usage)
        return None
    if not _is_amount(node.arguments[0], value, "abs", typing):
        return None
    within = value.low <= 0 <= value.high
    return replace(
        value,
        low=0.0 if within else min(abs(value.low), abs(value.high)),
        high=max(abs(value.low), abs(value.high)),
        evaluate=values.each(value.evaluate, lambda item: abs(float(item))),
    )


def _one_list(node: syntax.Call, known: Sequence[Typed], usage: str, typing: _Typing) -> Typed | None:
    """One array, or several single values in the first one's unit as an array."""
    if len(known) == 1:
        if known[0].count is None:
            message = f"{node.function}() takes a list; {said(node.arguments[0])} is a single value"
            typing.fail("M208", message, node.span, usage)
            return None
        return known[0]
    if node.function.startswith("where") or any(value.count is not None for value in known):
        typing.fail("M208", f"{node.function}() takes one list", node.span, usage)
        return None
    aligned = [known[0]]
    for place, value in zip(node.arguments[1:], known[1:], strict=True):
        pair = syntax.Operation("+", node.arguments[0], place, place.span)
        fitting = _aligned(pair, known[0], value, typing)
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


def _reduction(node: syntax.Call, joined: Typed, known: Sequence[Typed], typing: _Typing) -> Typed | None:
    assert joined.count is not None and joined.unit is not None
    single = replace(joined, count=None)
    match node.function:
        case "min":
            return replace(single, evaluate=values.reduced(joined.evaluate, min))
        case "max":
            return replace(single, evaluate=values.reduced(joined.evaluate, max))
        case "mean":
            return replace(single, evaluate=values.reduced(joined.evaluate, values.mean))
        case "spread":
            spread = values.reduced(joined.evaluate, lambda items: max(items) - min(items))
            width = _real((0.0, joined.high - joined.low))
            result = replace(single, low=width[0], high=width[1], evaluate=spread)
            return _as_difference(result, joined.unit)
        case "sum":
            if not _is_amount(node.arguments[0], joined, "sum", typing):
                return None
            return replace(
                single,
                low=_times(joined.low, joined.count),
                high=_times(joined.high, joined.count),
                evaluate=values.reduced(joined.evaluate, values.total),
            )
    best = min if node.function == "where_min" else max
    return replace(
        single,
        unit=PLAIN,
        low=1.0,
        high=float(joined.count),
        evaluate=values.reduced(joined.evaluate, lambda items: float(items.index(best(items)) + 1)),
    )
