"""Lengths as written (mm, px, arcmin) to pixels."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from operator import add, mul, sub

from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Expression, Negative, Operation, Operator, Quantity
from hmic.model.design import Panel

LENGTH_UNITS = ("mm", "px", "arcmin")


def exact_pixels(length: Expression, panel: Panel, across: bool = False) -> Fraction:
    """Pixels down, or ``across``, unrounded. Raises ``DesignError`` A301 unless it is a length of at least 0,
    or is worked out from lengths and counters: ``10 mm + 8 mm * n``."""
    result = _signed(length, panel, across)
    if result < 0:
        raise DesignError([error("A301", "a length cannot be negative", length.span, "write it without -")])
    return result


def _signed(length: Expression, panel: Panel, across: bool) -> Fraction:
    match length:
        case Negative(value):
            return -_signed(value, panel, across)
        case Operation(Operator.PLUS, left, right):
            return _signed(left, panel, across) + _signed(right, panel, across)
        case Operation(Operator.MINUS, left, right):
            return _signed(left, panel, across) - _signed(right, panel, across)
        case Operation(Operator.TIMES, left, right):
            count, other = (right, left) if _count(right) is not None else (left, right)
            times = _count(count)
            if times is not None:
                return times * _signed(other, panel, across)
        case Quantity():
            return _of_quantity(length, panel, across)
    raise DesignError([error("A301", "this must be a length", length.span, "write it like 14 mm")])


def _count(node: Expression) -> Fraction | None:
    """A plain number, or what plain numbers come to."""
    match node:
        case Quantity(number, ""):
            return number
        case Negative(value):
            counted = _count(value)
            return None if counted is None else -counted
        case Operation(operator, left, right) if operator in _COUNTED:
            one, other = _count(left), _count(right)
            return None if one is None or other is None else _COUNTED[operator](one, other)
    return None


_COUNTED: Mapping[Operator, Callable[[Fraction, Fraction], Fraction]] = {
    Operator.PLUS: add,
    Operator.MINUS: sub,
    Operator.TIMES: mul,
}


def _of_quantity(length: Quantity, panel: Panel, across: bool) -> Fraction:
    if length.unit not in LENGTH_UNITS:
        shown = f"'{length.unit}' is not a length on the panel" if length.unit else "this length has no unit"
        remedy = f"write {float(length.number):g} mm, {float(length.number):g} px or an angle like 20 arcmin"
        raise DesignError([error("A301", shown, length.span, remedy)])
    if length.unit == "px":
        return length.number
    if length.unit == "mm":
        return Fraction(panel.pixels_from_mm(float(length.number), across))
    return Fraction(panel.pixels_from_arcmin(float(length.number), across))


def pixels(length: Expression, panel: Panel, across: bool = False) -> int:
    """Whole pixels, halves up."""
    return int(exact_pixels(length, panel, across) + Fraction(1, 2))


def described(count: int, panel: Panel, across: bool = False) -> str:
    """A length in pixels with what it comes to on the glass and to the eye."""
    return f"{count} px ({count * (panel.pitch_across if across else panel.pitch):.1f} mm)"
