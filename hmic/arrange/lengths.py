"""Lengths as written (mm, px, arcmin) to pixels."""

from __future__ import annotations

from fractions import Fraction

from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Expression, Quantity
from hmic.model.design import Panel

LENGTH_UNITS = ("mm", "px", "arcmin")


def exact_pixels(length: Expression, panel: Panel, across: bool = False) -> Fraction:
    """Pixels down, or ``across``, unrounded. Raises ``DesignError`` A301 for what is no length."""
    if not isinstance(length, Quantity):
        raise DesignError([error("A301", "this must be a length", length.span, "write it like 14 mm")])
    if length.unit not in LENGTH_UNITS:
        shown = f"'{length.unit}' is not a length on the panel" if length.unit else "this length has no unit"
        remedy = f"write {float(length.number):g} mm, {float(length.number):g} px or an angle like 20 arcmin"
        raise DesignError([error("A301", shown, length.span, remedy)])
    if length.number < 0:
        raise DesignError([error("A301", "a length cannot be negative", length.span, "write it without -")])
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
