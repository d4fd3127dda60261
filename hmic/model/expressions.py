"""Expressions typed by unit, and their evaluation with doubt: the doors of this room's typing."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from hmic.causes import NAMELESS, nobody_told
from hmic.diagnostics import MANY, DesignError, Finding, Subject, Told, closest, did_you_mean, error, lacking
from hmic.language import syntax
from hmic.language.spelling import written
from hmic.model import values
from hmic.model.arithmetic import operation
from hmic.model.functions import FUNCTIONS as FUNCTIONS
from hmic.model.functions import call
from hmic.model.terms import Declared as Declared
from hmic.model.terms import (
    Needed,
    Typing,
    constant_flag,
    is_amount,
    is_flag,
    is_number,
    said,
    spelt,
    with_quantity,
)
from hmic.model.terms import Scope as Scope
from hmic.model.terms import Typed as Typed
from hmic.model.terms import as_unit as as_unit
from hmic.model.terms import constant_number as constant_number
from hmic.model.terms import constant_text as constant_text
from hmic.model.terms import signal_typed as signal_typed
from hmic.model.units import PLAIN, Unit, degrees, quantity_name, unit, unit_remedy
from hmic.model.values import Doubt as Doubt
from hmic.model.values import Lookup as Lookup
from hmic.model.values import Scalar as Scalar
from hmic.model.values import Value as Value
from hmic.model.values import ValueKind as ValueKind

DEEPEST = 50


def typed(expression: syntax.Expression, scope: Scope) -> Typed:
    """The expression with its units checked. DesignError carries every error in it; it is ``Told`` when
    the only cause is a signal in ``scope.broken``. Warnings go to ``scope.warnings``."""
    typing = Typing(scope, [])
    result = _typed(expression, typing, 0)
    if typing.errors:
        raise DesignError(typing.errors)
    if result is None:
        raise Told(typing.relied[0]) if typing.relied else DesignError([nobody_told(expression.span)])
    return result


class Typings:
    """The expressions of one scope, each typed once however often it stands in the design."""

    def __init__(self, scope: Scope) -> None:
        self.scope = scope
        self._known: dict[str, Typed] = {}

    def typed(self, expression: syntax.Expression, warnings: list[Finding]) -> Typed:
        """``typed``, its warnings added to these. An expression that has some is typed in each place, to be
        told of there."""
        key = written(expression)
        known = self._known.get(key)
        if known is None:
            before = len(warnings)
            known = typed(expression, replace(self.scope, warnings=warnings))
            if len(warnings) == before:
                self._known[key] = known
        return known


def condition(expression: syntax.Expression, result: Typed) -> Typed:
    """The expression as typed, for a place that needs on or off (``when``, ``while``). Raises ``DesignError``
    M215 for anything else."""
    if result.kind != ValueKind.FLAG or result.count is not None:
        what = "a list" if result.count is not None else f"a {result.kind}"
        remedy = (
            f"compare it, such as `{said(expression)} > 0 {spelt(result)}`".rstrip(" `") + "`"
            if result.kind == ValueKind.NUMBER
            else f'compare it, such as `{said(expression)} is "..."`'
        )
        if result.count is not None:
            remedy = f"ask for how many it holds: `count({written(expression)}) > 0`"
        raise DesignError(
            [lacking("M215", f"a condition must be true or false; this is {what}", expression.span, remedy)]
        )
    return result


def joined(expression: syntax.Expression, operator: str) -> Iterator[syntax.Expression]:
    """What an expression joins by ``and``, or by ``or``, in order."""
    if isinstance(expression, syntax.Operation) and expression.operator == operator:
        yield from joined(expression.left, operator)
        yield from joined(expression.right, operator)
    else:
        yield expression


def accountable(
    expression: syntax.Expression, result: Typed, typed_as: Callable[[syntax.Expression], Typed]
) -> Typed:
    """A condition that can be asked which of those that it joins by ``and`` does not hold."""
    each = joined(expression, "and")
    return replace(result, needs=tuple(Needed(written(one), typed_as(one).evaluate) for one in each))


def walk(expression: syntax.Expression) -> Iterator[syntax.Expression]:
    """The expression and all that it is made of, in reading order."""
    stack = [expression]
    while stack:
        node = stack.pop()
        yield node
        stack.extend(reversed(_children(node)))


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


def _typed(node: syntax.Expression, typing: Typing, depth: int) -> Typed | None:
    if depth > DEEPEST:
        typing.fail("M216", f"this expression nests deeper than {DEEPEST} levels", node.span, _SPLIT)
        return None
    match node:
        case syntax.Quantity():
            return _quantity(node, typing)
        case syntax.Text(text):
            return constant_text(text)
        case syntax.Flag(value):
            return constant_flag(value)
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
            arguments = [_typed(argument, typing, depth + 1) for argument in node.arguments]
            return call(node, arguments, typing)
        case syntax.Operation():
            left = _typed(node.left, typing, depth + 1)
            right = _typed(node.right, typing, depth + 1)
            if left is None or right is None:
                return None
            return operation(node, left, right, typing)


_SPLIT = "give a piece of it a name as a derived signal in signals.yaml"


def _quantity(node: syntax.Quantity, typing: Typing) -> Typed | None:
    of = unit(node.unit)
    if of is None:
        typing.fail("M203", f"'{node.unit}' is no unit that is known here", node.span, unit_remedy(node.unit))
        return None
    try:
        return constant_number(node.number, of)
    except OverflowError:
        typing.fail("M217", "this number is too large", node.span, "use a larger unit")
        return None


def _name(node: syntax.Name, typing: Typing) -> Typed | None:
    known = typing.scope.names.get(node.name)
    if known is None:
        names = [*typing.scope.names, *typing.scope.signals]
        remedy = did_you_mean(node.name, names, "names")
        typing.fail("M202", f"nothing here is called '{node.name}'", node.span, remedy)
    return known


def unknown_signal(node: syntax.Signal, known: Mapping[str, object]) -> Finding:
    """The finding for a signal that is not declared."""
    message = f"there is no signal '{node.name}'"
    near, remedy = _signal_remedy(node.name, known)
    # What is no slip of a name may be declared under another.
    names = (node.name,) if near else (node.name, NAMELESS)
    declared = tuple(Subject("signals.yaml", ("signals", name)) for name in names)
    return error("M201", message, node.span, remedy, rests_on=declared)


def _signal_remedy(name: str, known: Mapping[str, object]) -> tuple[bool, str]:
    """Whether there is a near name within the group, and that; else what the group has and how to declare
    it: `pack.volts` is no misspelt `pack.cells`, and no signal of another group, though only letters away."""
    group, _, own = name.partition(".")
    declare = f"declare '{name}' in signals.yaml"
    every = sorted(known)
    if not _in_group(group, every):
        groups = {other.partition(".")[0] for other in every}
        near_group = closest(group, groups)
        if near_group is None:
            return False, f"{declare}; {did_you_mean(group, groups, 'groups of signals')}"
        group = near_group
    names = _in_group(group, every)
    at = bisect_left(names, f"{group}.{own}")
    # Of a large group those that begin as the name does.
    start = max(0, min(at - MANY // 2, len(names) - MANY))
    near = closest(own, [other[len(group) + 1 :] for other in names[start : start + MANY]])
    begun = [other for other in names[at : at + 2] if len(own) > 2 and other.startswith(f"{group}.{own}")]
    if near is not None:
        return True, f"did you mean '{group}.{near}'?"
    if len(begun) == 1:
        return True, f"did you mean '{begun[0]}'?"
    shown = ", ".join(names[:8]) + (", ..." if len(names) > 8 else "")
    return False, f"{declare}, or use one of '{group}': {shown}"


def _in_group(group: str, every: Sequence[str]) -> Sequence[str]:
    """Of names in order those of a group."""
    return every[bisect_left(every, f"{group}.") : bisect_left(every, f"{group}/")]


def _signal(node: syntax.Signal, typing: Typing, depth: int) -> Typed | None:
    index = None if node.index is None else _typed(node.index, typing, depth + 1)
    declared = typing.scope.signals.get(node.name)
    if declared is None:
        told = typing.scope.broken.get(node.name)
        if told is None:
            typing.errors.append(unknown_signal(node, typing.scope.signals))
        else:
            typing.relied.append(told)
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
    if index.kind != ValueKind.NUMBER or index.unit != PLAIN or index.count is not None:
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


def _not(node: syntax.Expression, inner: Typed, typing: Typing) -> Typed | None:
    if not is_flag(node, inner, "not", typing):
        return None
    return replace(inner, evaluate=values.each(inner.evaluate, values.opposite))


def _negative(node: syntax.Expression, inner: Typed, typing: Typing) -> Typed | None:
    if not is_number(node, inner, "-", typing) or not is_amount(node, inner, "-", typing):
        return None
    return replace(
        inner,
        low=-inner.high,
        high=-inner.low,
        evaluate=values.each(inner.evaluate, values.negative),
    )


def _convert(node: syntax.Convert, typing: Typing, depth: int) -> Typed | None:
    inner = _typed(node.value, typing, depth + 1)
    target = unit(node.unit)
    if target is None:
        typing.fail("M203", f"'{node.unit}' is no unit that is known here", node.span, unit_remedy(node.unit))
    if inner is None or target is None or not is_number(node.value, inner, "in", typing):
        return None
    if inner.unit is not None and inner.unit.difference:
        target = degrees(target)
    converted = as_unit(inner, target)
    if converted is None and inner.unit is not None:
        if inner.unit == PLAIN and isinstance(node.value, syntax.Quantity):
            number = said(node.value)
            message = f"{number} has no unit, but stands for a value in {target.spelling}"
            typing.fail("M214", message, node.span, f"write `{number} {target.spelling}`")
            return None
        message = f"{with_quantity(inner.unit)} does not convert to {with_quantity(target)}"
        # A value that a phrase wants in a unit has no `in` of its own.
        own = node.span != node.value.span
        if not own:
            wanted = with_quantity(target)
            message = f"this is in {with_quantity(inner.unit)}, and stands for a value in {wanted}"
        remedy = _convert_remedy(inner.unit) if own else f"write it in {target.spelling}"
        typing.fail("M212", message, node.span, remedy)
    return converted


def _convert_remedy(source: Unit) -> str:
    return f"name a unit of {quantity_name(source)}" + (
        f", or leave it in {source.spelling}" if source.spelling else ""
    )
