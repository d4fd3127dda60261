"""Formats of readings: the pattern in ``as "0.0 kW"`` and the widest thing it can show.

The zeros before the point are the least number of figures shown, those after it the decimals; a
leading ``+`` shows the sign of positive numbers too; what follows is the unit. ``0:00`` with a
unit of time shows hours and minutes (``h``) or minutes and seconds (``min``).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from hmic.diagnostics import DesignError, Span, error
from hmic.language.design_bounds import MOST_FIGURES
from hmic.language.spelling import number as decimal
from hmic.language.syntax import Quantity
from hmic.model.channels import nearest
from hmic.model.design import DecimalSign, Locale
from hmic.model.units import convert, unit
from hmic.paint.operations import COLON, COMMA, FULL_STOP

_PATTERN = re.compile(r"(\+?)(0+)(?:([.,:])(0+))?(?:\s*([^\s\d.,:+#-]\S*))?\s*")
_SIXTIETHS = {"h": "min", "min": "s"}


@dataclass(frozen=True)
class Format:
    """A parsed pattern. ``value_unit`` is the unit the shown integer counts (before decimals),
    None for the value's own; ``unit`` is what is written behind the number, perhaps nothing."""

    plus: bool
    least: int
    decimals: int
    point: int
    sixties: bool
    unit: str
    value_unit: str | None


@dataclass(frozen=True)
class Extent:
    """The shown integers of a format over a range: ``offset + step`` for ``count`` steps, and the
    places and sign that the longest of them needs."""

    offset: int
    count: int
    places: int
    sign: bool


def parse_format(pattern: str, span: Span) -> Format:
    """Raises ``DesignError`` A320 for a text that is no format."""
    match = _PATTERN.fullmatch(pattern)
    if match is None:
        message = f'"{pattern}" is not a format'
        remedy = 'write the figures as zeros and then the unit: "0 km/h", "0.00 V", "+0 kW", "0:00 h"'
        raise DesignError([error("A320", message, span, remedy)])
    plus, whole, mark, fraction, unit = match.groups()
    if len(whole) + len(fraction or "") > MOST_FIGURES:
        message = f"this format has more than {MOST_FIGURES} figures"
        raise DesignError([error("A320", message, span, "show as many as the value can tell, such as 0.0")])
    if mark == ":":
        if unit not in _SIXTIETHS or len(fraction) != 2:
            message = f'"{pattern}" shows sixtieths, which needs two zeros after the colon and h or min'
            raise DesignError([error("A320", message, span, 'write "0:00 h" or "0:00 min"')])
        return Format(bool(plus), len(whole) + 2, 2, COLON, True, unit, _SIXTIETHS[unit])
    decimals = len(fraction or "")
    point = COMMA if mark == "," else FULL_STOP
    return Format(bool(plus), len(whole) + decimals, decimals, point, False, unit or "", unit)


def localised(form: Format, locale: Locale) -> Format:
    """The format as the design's locale writes it: its decimal sign, and its unit in place of the one
    in the pattern. Hours, minutes and seconds stay what they are."""
    if form.sixties:
        return form
    point = {DecimalSign.POINT: FULL_STOP, DecimalSign.COMMA: COMMA, None: form.point}[locale.decimal]
    unit = locale.units.get(form.unit)
    if unit is None:
        return replace(form, point=point)
    return replace(form, point=point, unit=unit, value_unit=unit)


def figure(value: float, locale: Locale) -> str:
    """A number that stands still, as on a scale. One that was converted is rounded to three figures
    and more only before the point, for it is seldom round."""
    text = f"{value:g}"
    if locale.units:
        text = f"{value:.0f}" if abs(value) >= 100 else f"{float(f'{value:.3g}'):g}"
    return _signs(text, locale)


def quantity(of: Quantity, locale: Locale) -> str:
    """A number that a builder wrote, with its unit, as the locale has both."""
    exchanged = locale.units.get(of.unit)
    written, shown = unit(of.unit), unit(exchanged) if exchanged is not None else None
    if exchanged is None or written is None or shown is None:
        return f"{_signs(decimal(of.number), locale)} {of.unit}".rstrip()
    return f"{figure(float(convert(of.number, written, shown)), locale)} {exchanged}"


def _signs(text: str, locale: Locale) -> str:
    text = text.replace("-", "−")
    return text.replace(".", ",") if locale.decimal == DecimalSign.COMMA else text


def extent(form: Format, low: float, high: float) -> Extent:
    """What a format shows between ``low`` and ``high``, given in ``value_unit``."""
    scale = 1 if form.sixties else 10**form.decimals
    first, last = nearest(low * scale), nearest(high * scale)
    places = max(_places(first, form), _places(last, form))
    return Extent(first, last - first + 1, places, first < 0 or form.plus)


def usual(form: Format, first: int, last: int) -> tuple[int, bool]:
    """How most of the shown integers from ``first`` to ``last`` look: their places, and whether they
    have a sign. Of counts that are equally frequent the larger."""
    frequent: dict[int, int] = {}
    under, places = 0, form.least
    while under <= max(abs(first), abs(last)):
        until = 60 * 10 ** (places - 2) if form.sixties else 10**places
        frequent[places] = _within(first, last, under, until - 1) + _within(
            first, last, 1 - until, -max(under, 1)
        )
        under, places = until, places + 1
    signed = _within(first, last, first, -1) + (_within(first, last, 1, last) if form.plus else 0)
    most = max(frequent, key=lambda count: (frequent[count], count))
    return most, 2 * signed > last - first + 1


def _within(first: int, last: int, low: int, high: int) -> int:
    """How many integers lie both in ``first`` to ``last`` and in ``low`` to ``high``."""
    return max(0, min(last, high) - max(first, low) + 1)


def step_size(form: Format) -> float:
    """The value of one step, in ``value_unit``."""
    return 1.0 if form.sixties else 1.0 / 10**form.decimals


def rendered(form: Format, number: int) -> str:
    """The text of one shown integer, as the display paints it (without the unit)."""
    figures: list[str] = []
    rest = abs(number)
    while len(figures) < form.least or rest:
        radix = 6 if form.sixties and len(figures) == 1 else 10
        figures.append(str(rest % radix))
        rest //= radix
    if form.decimals:
        figures.insert(form.decimals, {FULL_STOP: ".", COMMA: ",", COLON: ":"}[form.point])
    sign = "−" if number < 0 else "+" if form.plus and number > 0 else ""
    return sign + "".join(reversed(figures))


def _places(number: int, form: Format) -> int:
    return sum(char.isdigit() for char in rendered(form, number))
