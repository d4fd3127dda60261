"""Parts and ``each`` written out: after this a screen holds only widgets, joints and pipes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from hmic.diagnostics import DesignError, Span, did_you_mean, error
from hmic.language.syntax import (
    Call,
    Convert,
    Expression,
    Flag,
    Name,
    Negative,
    Not,
    Operation,
    Phrase,
    Pipe,
    Quantity,
    Signal,
    Text,
    Widget,
)

Bindings = Mapping[str, Expression]

_HOLE = re.compile(r"\{([^{}]*)\}")
# Names that a later stage gives a meaning to.
OPEN_NAMES = frozenset({"row"})


def expression(node: Expression, bindings: Bindings) -> Expression:
    """The expression with parameters and counters put in. Raises ``DesignError`` A330."""
    match node:
        case Name(name, span):
            return node if name in OPEN_NAMES else _lookup(name, span, bindings)
        case Text():
            return replace(node, text=text(node.text, node.span, bindings))
        case Quantity() | Flag():
            return node
        case Signal():
            index = None if node.index is None else _folded(expression(node.index, bindings))
            return replace(node, index=index)
        case Operation():
            left, right = expression(node.left, bindings), expression(node.right, bindings)
            return replace(node, left=left, right=right)
        case Not() | Negative() | Convert():
            return replace(node, value=expression(node.value, bindings))
        case Call():
            return replace(node, arguments=tuple(expression(item, bindings) for item in node.arguments))


def phrase(node: Phrase, bindings: Bindings) -> Phrase:
    """A phrase with its values put in."""
    return replace(node, values=tuple(expression(value, bindings) for value in node.values))


def widget(node: Widget, bindings: Bindings) -> Widget:
    """A widget with its subject, phrases and traces put in."""
    return replace(
        node,
        subject=None if node.subject is None else expression(node.subject, bindings),
        phrases=tuple(phrase(item, bindings) for item in node.phrases),
        children=tuple(widget(child, bindings) for child in node.children),
    )


def pipe(node: Pipe, bindings: Bindings) -> Pipe:
    """A pipe with its phrases put in."""
    return replace(node, phrases=tuple(phrase(item, bindings) for item in node.phrases))


def text(written: str, span: Span, bindings: Bindings) -> str:
    """A string with each ``{name}`` replaced by the text or number bound to the name."""

    def filled(match: re.Match[str]) -> str:
        bound = _lookup(match.group(1), span, bindings)
        if isinstance(bound, Text):
            return bound.text
        if isinstance(bound, Quantity):
            number = bound.number
            shown = str(number) if number.denominator == 1 else f"{float(number):g}"
            return f"{shown} {bound.unit}".rstrip()
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
    raise DesignError([error("A330", f"'{name}' means nothing here", span, remedy)])


def _folded(node: Expression) -> Expression:
    """Constant arithmetic of plain numbers carried out, so that indices can be computed."""
    if not isinstance(node, Operation) or node.operator not in ("+", "-", "*"):
        return node
    left, right = _folded(node.left), _folded(node.right)
    if not (isinstance(left, Quantity) and isinstance(right, Quantity)) or left.unit or right.unit:
        return node
    result = {
        "+": left.number + right.number,
        "-": left.number - right.number,
        "*": left.number * right.number,
    }[node.operator]
    return Quantity(result, "", node.span)
