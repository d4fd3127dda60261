"""Parts and ``each`` written out: after this a screen holds only widgets, joints and pipes."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from operator import add, mul, sub

from hmic.arrange.formats import quantity
from hmic.diagnostics import DesignError, Extent, Sentence, Span, did_you_mean, error
from hmic.language.syntax import (
    Call,
    Convert,
    Expression,
    Flag,
    Name,
    Negative,
    Not,
    Operation,
    Operator,
    Phrase,
    Pipe,
    Quantity,
    Signal,
    Text,
    Widget,
)
from hmic.model.design import Locale

Bindings = Mapping[str, Expression]

_HOLE = re.compile(r"\{([^{}]*)\}")
AS_WRITTEN = Locale()
# Names that a later stage gives a meaning to.
OPEN_NAMES = frozenset({"row"})


def expression(node: Expression, bindings: Bindings, locale: Locale = AS_WRITTEN) -> Expression:
    """The expression with parameters and counters put in. Raises ``DesignError`` A330."""
    match node:
        case Name(name, span):
            return node if name in OPEN_NAMES else _lookup(name, span, bindings)
        case Text():
            return replace(node, text=text(node.text, node.span, bindings, locale))
        case Quantity() | Flag():
            return node
        case Signal():
            index = None if node.index is None else _folded(expression(node.index, bindings))
            return replace(node, index=index)
        case Operation():
            left, right = expression(node.left, bindings, locale), expression(node.right, bindings, locale)
            return replace(node, left=left, right=right)
        case Not() | Negative() | Convert():
            return replace(node, value=expression(node.value, bindings, locale))
        case Call():
            arguments = tuple(expression(item, bindings, locale) for item in node.arguments)
            return replace(node, arguments=arguments)


def phrase(node: Phrase, bindings: Bindings, locale: Locale = AS_WRITTEN) -> Phrase:
    """A phrase with its values put in."""
    return replace(node, values=tuple(expression(value, bindings, locale) for value in node.values))


def widget(node: Widget, bindings: Bindings, locale: Locale = AS_WRITTEN) -> Widget:
    """A widget with its subject, phrases and traces put in."""
    return replace(
        node,
        subject=None if node.subject is None else expression(node.subject, bindings, locale),
        phrases=tuple(phrase(item, bindings, locale) for item in node.phrases),
        children=tuple(widget(child, bindings, locale) for child in node.children),
    )


def pipe(node: Pipe, bindings: Bindings) -> Pipe:
    """A pipe with its phrases put in."""
    return replace(node, phrases=tuple(phrase(item, bindings) for item in node.phrases))


def text(written: str, span: Span, bindings: Bindings, locale: Locale = AS_WRITTEN) -> str:
    """A string with each ``{name}`` replaced by the text or number bound to the name, numbers as the
    locale writes them."""

    def filled(match: re.Match[str]) -> str:
        bound = _lookup(match.group(1), span, bindings)
        if isinstance(bound, Text):
            return bound.text
        if isinstance(bound, Quantity):
            return quantity(bound, locale)
        message = f"'{{{match.group(1)}}}' in a text must stand for a text or a number"
        raise DesignError([error("A330", message, span, "show a signal with a reading instead")])

    return _HOLE.sub(filled, written)


def whole_number(node: Expression, bindings: Bindings) -> int:
    """A constant whole number. Raises ``DesignError`` A331."""
    value = _folded(expression(node, bindings))
    if isinstance(value, Quantity) and not value.unit and value.number.denominator == 1:
        return int(value.number)
    raise DesignError(
        [error("A331", "this must be a whole number known here", node.span, "write 1, 2, 3 ...")]
    )


def counter(number: int, span: Span) -> Quantity:
    """The value of an ``each`` counter."""
    return Quantity(Fraction(number), "", span)


def _lookup(name: str, span: Span, bindings: Bindings) -> Expression:
    if name in bindings:
        return bindings[name]
    remedy = did_you_mean(name, bindings, "parameters")
    if not bindings:
        remedy = "signal names have a dot, like pack.voltage; texts stand in double quotes"
    rests_on = (Sentence(span, Extent.READ_ABOVE),)  # a line above may name a counter
    raise DesignError([error("A330", f"'{name}' means nothing here", span, remedy, rests_on=rests_on)])


def _folded(node: Expression) -> Expression:
    """Constant arithmetic of plain numbers carried out, so that indices can be computed."""
    if not isinstance(node, Operation) or node.operator not in _COUNTED:
        return node
    left, right = _folded(node.left), _folded(node.right)
    if not (isinstance(left, Quantity) and isinstance(right, Quantity)) or left.unit or right.unit:
        return node
    return Quantity(_COUNTED[node.operator](left.number, right.number), "", node.span)


_COUNTED: Mapping[Operator, Callable[[Fraction, Fraction], Fraction]] = {
    Operator.PLUS: add,
    Operator.MINUS: sub,
    Operator.TIMES: mul,
}
