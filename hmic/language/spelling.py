"""Expressions back to text, one spelling for each meaning."""

from __future__ import annotations

from fractions import Fraction

from hmic.language.syntax import (
    Call,
    Convert,
    Expression,
    Flag,
    Name,
    Negative,
    Not,
    Operation,
    Quantity,
    Signal,
    Text,
)

_BINDING = {
    "or": 1,
    "and": 2,
    "<": 4,
    "<=": 4,
    ">": 4,
    ">=": 4,
    "is": 4,
    "is_not": 4,
    "+": 5,
    "-": 5,
    "*": 6,
    "/": 6,
}
_NOT, _NEGATIVE, _CONVERT = 3, 7, 8


def number(value: Fraction) -> str:
    """The shortest decimal that is exactly the value; a fraction with a slash if there is none."""
    if value.denominator == 1:
        return str(value.numerator)
    places = 0
    while (value * 10**places).denominator != 1:
        places += 1
        if places > 30:
            return f"{value.numerator}/{value.denominator}"
    digits = f"{abs(int(value * 10**places)):0{places + 1}d}"
    return f"{'-' if value < 0 else ''}{digits[:-places]}.{digits[-places:]}"


def written(node: Expression) -> str:
    """The expression as a builder would write it, with the fewest brackets."""
    return _written(node, 0)


def _written(node: Expression, around: int) -> str:
    match node:
        case Quantity(value, unit):
            return f"{number(value)} {unit}".rstrip()
        case Text(text):
            return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
        case Flag(value):
            return "on" if value else "off"
        case Name(name):
            return name
        case Signal(name, index):
            return name if index is None else f"{name}[{_written(index, 0)}]"
        case Call(function, arguments):
            return f"{function}({', '.join(_written(item, 0) for item in arguments)})"
        case Operation(operator, left, right):
            own = _BINDING[operator]
            word = operator.replace("_", " ")
            text = f"{_written(left, own)} {word} {_written(right, own + 1)}"
        case Not(value):
            own, text = _NOT, f"not {_written(value, _NOT)}"
        case Negative(value):
            own, text = _NEGATIVE, f"-{_written(value, _NEGATIVE)}"
        case Convert(value, unit):
            own, text = _CONVERT, f"{_written(value, _CONVERT)} in {unit}"
    return f"({text})" if own < around else text
