"""Units: a small exact table of what a vehicle needs.

Why not a library: the best known one takes 270 ms to import and fill its registry, more than half
of the 500 ms that a whole check may take, and computes in floats. Here a factor is a ``Fraction``,
so a limit converts to the value the builder would get on paper.

What is decided here:

- A temperature in °C or °F is a point on a scale (it has an offset). The difference of two points
  is in K; a point takes a K added or taken away; points cannot be added, multiplied or negated.
  In a product or quotient (``°C/h``) degrees are those of a difference.
  What is known to be a difference is shown and held in degrees of any scale: there ``10 °C`` are ten
  degrees, as 10 K and 18 °F are. That is so wherever a layout wants a difference (a step, a spread, a
  limit of one), where one is converted, and for a number written beside one. A reading is never taken
  for a difference, nor a difference for a point.
- ``rpm`` (also spelt ``1/min``) counts turns, ``Hz`` counts events; they do not convert. Torque is
  energy per angle, so torque times speed is power, and N·m is not J. With angle as a dimension of
  its own lx and cd/m2 differ too. 2 pi, cut at 39 decimals, is the only inexact factor (``rad``,
  ``N·m``, ``lm``, ``lx``).
- ``%`` is a hundredth, but it never mixes silently with a plain number: ``charge > 20`` would mean
  2000 %. ``in %`` and ``*`` say it openly.

Factors: SI brochure 9th edition, tables 4 and 8 (8th edition for knot and nautical mile); NIST SP 811
appendix B for mile, pound-force, inch (exact by definition; all from memory, held against pint).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache

from hmic.diagnostics import closest, did_you_mean
from hmic.model.unit_words import MEANT, tidy, usual


@dataclass(frozen=True)
class Unit:
    """``base = value * factor + offset`` in the base unit of ``dimension``.

    ``dimension`` holds the exponents of (length, mass, time, current, temperature, light, angle),
    in m, kg, s, A, K, cd and turns; two units convert when these are equal. ``difference`` marks the
    degrees of a difference of temperatures, which is no point on a scale.
    """

    spelling: str
    dimension: tuple[int, ...]
    factor: Fraction
    offset: Fraction = Fraction(0)
    difference: bool = field(default=False, compare=False)


_TURN = Fraction("6.283185307179586476925286766559005768394")
_POUND_FORCE = Fraction("0.45359237") * Fraction("9.80665")
_MILE = Fraction("1609.344")

_PLAIN = (0, 0, 0, 0, 0, 0, 0)
_LENGTH = (1, 0, 0, 0, 0, 0, 0)
_MASS = (0, 1, 0, 0, 0, 0, 0)
_TIME = (0, 0, 1, 0, 0, 0, 0)
_CURRENT = (0, 0, 0, 1, 0, 0, 0)
_TEMPERATURE = (0, 0, 0, 0, 1, 0, 0)
_ANGLE = (0, 0, 0, 0, 0, 0, 1)
_VOLTAGE = (2, 1, -3, -1, 0, 0, 0)
_RESISTANCE = (2, 1, -3, -2, 0, 0, 0)
_POWER = (2, 1, -3, 0, 0, 0, 0)
_ENERGY = (2, 1, -2, 0, 0, 0, 0)
_CHARGE = (0, 0, 1, 1, 0, 0, 0)
_FORCE = (1, 1, -2, 0, 0, 0, 0)
_TORQUE = (2, 1, -2, 0, 0, 0, -1)
_PRESSURE = (-1, 1, -2, 0, 0, 0, 0)
_FREQUENCY = (0, 0, -1, 0, 0, 0, 0)
_TURNING = (0, 0, -1, 0, 0, 0, 1)
_SPEED = (1, 0, -1, 0, 0, 0, 0)
_VOLUME = (3, 0, 0, 0, 0, 0, 0)
_FLOW = (3, 0, -1, 0, 0, 0, 0)
_LIGHT = (0, 0, 0, 0, 0, 1, 0)
_LUMEN = (0, 0, 0, 0, 0, 1, 2)
_ILLUMINANCE = (-2, 0, 0, 0, 0, 1, 2)
_LUMINANCE = (-2, 0, 0, 0, 0, 1, 0)
_ACCELERATION = (1, 0, -2, 0, 0, 0, 0)

_NAMES: dict[tuple[int, ...], str] = {
    _PLAIN: "plain number",
    _LENGTH: "length",
    _MASS: "mass",
    _TIME: "time",
    _CURRENT: "current",
    _TEMPERATURE: "temperature",
    _ANGLE: "angle",
    _VOLTAGE: "voltage",
    _RESISTANCE: "resistance",
    _POWER: "power",
    _ENERGY: "energy",
    _CHARGE: "charge",
    _FORCE: "force or energy for a distance",
    _TORQUE: "torque",
    _PRESSURE: "pressure",
    _FREQUENCY: "frequency",
    _TURNING: "turning speed",
    _SPEED: "speed",
    _VOLUME: "volume",
    _FLOW: "flow",
    _LIGHT: "luminous intensity",
    _LUMEN: "luminous flux",
    _ILLUMINANCE: "illuminance",
    _LUMINANCE: "luminance",
    _ACCELERATION: "acceleration",
}

_TABLE: dict[str, Unit] = {
    spelling: Unit(spelling, dimension, Fraction(factor), Fraction(offset))
    for spelling, dimension, factor, offset in (
        ("", _PLAIN, 1, 0),
        ("%", _PLAIN, "1/100", 0),
        ("‰", _PLAIN, "1/1000", 0),
        ("m", _LENGTH, 1, 0),
        ("mm", _LENGTH, "1/1000", 0),
        ("cm", _LENGTH, "1/100", 0),
        ("km", _LENGTH, 1000, 0),
        ("ft", _LENGTH, "0.3048", 0),
        ("yd", _LENGTH, "0.9144", 0),
        ("mi", _LENGTH, _MILE, 0),
        ("nmi", _LENGTH, 1852, 0),
        ("kg", _MASS, 1, 0),
        ("g", _MASS, "1/1000", 0),
        ("t", _MASS, 1000, 0),
        ("s", _TIME, 1, 0),
        ("ms", _TIME, "1/1000", 0),
        ("µs", _TIME, "1/1000000", 0),
        ("min", _TIME, 60, 0),
        ("h", _TIME, 3600, 0),
        ("d", _TIME, 86400, 0),
        ("A", _CURRENT, 1, 0),
        ("mA", _CURRENT, "1/1000", 0),
        ("K", _TEMPERATURE, 1, 0),
        ("°C", _TEMPERATURE, 1, "273.15"),
        ("°F", _TEMPERATURE, "5/9", Fraction("459.67") * 5 / 9),
        ("turn", _ANGLE, 1, 0),
        ("deg", _ANGLE, "1/360", 0),
        ("arcmin", _ANGLE, "1/21600", 0),
        ("rad", _ANGLE, 1 / _TURN, 0),
        ("mrad", _ANGLE, 1 / _TURN / 1000, 0),
        ("V", _VOLTAGE, 1, 0),
        ("mV", _VOLTAGE, "1/1000", 0),
        ("kV", _VOLTAGE, 1000, 0),
        ("Ω", _RESISTANCE, 1, 0),
        ("mΩ", _RESISTANCE, "1/1000", 0),
        ("kΩ", _RESISTANCE, 1000, 0),
        ("MΩ", _RESISTANCE, 1_000_000, 0),
        ("W", _POWER, 1, 0),
        ("mW", _POWER, "1/1000", 0),
        ("kW", _POWER, 1000, 0),
        ("J", _ENERGY, 1, 0),
        ("kJ", _ENERGY, 1000, 0),
        ("MJ", _ENERGY, 1_000_000, 0),
        ("Wh", _ENERGY, 3600, 0),
        ("kWh", _ENERGY, 3_600_000, 0),
        ("Ah", _CHARGE, 3600, 0),
        ("mAh", _CHARGE, "3.6", 0),
        ("N", _FORCE, 1, 0),
        ("kN", _FORCE, 1000, 0),
        ("N·m", _TORQUE, _TURN, 0),
        ("Pa", _PRESSURE, 1, 0),
        ("hPa", _PRESSURE, 100, 0),
        ("kPa", _PRESSURE, 1000, 0),
        ("MPa", _PRESSURE, 1_000_000, 0),
        ("mbar", _PRESSURE, 100, 0),
        ("bar", _PRESSURE, 100_000, 0),
        ("psi", _PRESSURE, _POUND_FORCE / Fraction("0.0254") ** 2, 0),
        ("Hz", _FREQUENCY, 1, 0),
        ("kHz", _FREQUENCY, 1000, 0),
        ("rpm", _TURNING, "1/60", 0),
        ("km/h", _SPEED, "5/18", 0),
        ("mph", _SPEED, _MILE / 3600, 0),
        ("kn", _SPEED, "463/900", 0),
        ("m/s", _SPEED, 1, 0),
        ("m/s²", _ACCELERATION, 1, 0),
        ("l", _VOLUME, "1/1000", 0),
        ("ml", _VOLUME, "1/1000000", 0),
        ("µl", _VOLUME, "1/1000000000", 0),
        ("l/min", _FLOW, "1/60000", 0),
        ("cd", _LIGHT, 1, 0),
        ("cd/m2", _LUMINANCE, 1, 0),
        ("lm", _LUMEN, 1 / _TURN**2, 0),
        ("lx", _ILLUMINANCE, 1 / _TURN**2, 0),
    )
}

PLAIN = _TABLE[""]
PERCENT = _TABLE["%"]
KELVIN_DIFFERENCE = Unit("K", _TEMPERATURE, Fraction(1), Fraction(0), True)

_ATOM = re.compile(r"(\d{1,6})?([^\d²³^-]+?)(?:\^?(-?[123]|²|³))?")
_POWERS = {"²": 2, "³": 3, **{str(power): power for power in (-3, -2, -1, 1, 2, 3)}}


@lru_cache(maxsize=512)
def unit(spelling: str) -> Unit | None:
    """The unit spelt so, or None. Products and quotients of known units are known: ``Wh/km``,
    ``kWh/100km``, ``m/s²``. The empty spelling is the plain number."""
    plain = tidy(spelling)
    return _known(plain) or _compound(plain)


def _known(plain: str) -> Unit | None:
    return _TABLE.get(plain) or _TABLE.get(usual(plain))


def spellings() -> tuple[str, ...]:
    """The spellings of the table, without compounds, plain number left out."""
    return tuple(spelling for spelling in _TABLE if spelling)


def unit_remedy(spelling: str) -> str:
    """What to write in place of an unknown unit."""
    same = next((known for known in _TABLE if known and known.lower() == spelling.lower()), None)
    near = MEANT.get(spelling) or same or closest(spelling, spellings())
    return f"did you mean '{near}'?" if near else did_you_mean(spelling, spellings(), "units")


def quantity_name(of: Unit) -> str:
    """What a unit measures, in a word: ``voltage``, ``temperature``."""
    if of == PERCENT:
        return "share"
    return _NAMES.get(of.dimension, "quantity in " + of.spelling)


def convertible(source: Unit, target: Unit) -> bool:
    """Whether a value can be converted: same dimension, and no temperature difference made a
    point on a scale, nor the other way."""
    if (source.difference and target.offset) or (target.difference and source.offset):
        return False
    return source.dimension == target.dimension


def convert(value: Fraction, source: Unit, target: Unit) -> Fraction:
    """The same quantity in another unit, exactly. ValueError where ``convertible`` is false."""
    if not convertible(source, target):
        raise ValueError(f"{source.spelling or 'a plain number'} does not convert to {target.spelling}")
    return (value * source.factor + source.offset - target.offset) / target.factor


def converter(source: Unit, target: Unit) -> Callable[[float], float]:
    """``convert`` for floats, one rounding where the numbers are small. ValueError as there."""
    shift = convert(Fraction(0), source, target)
    gain = convert(Fraction(1), source, target) - shift
    if gain == 1 and shift == 0:
        return float
    bottom = gain.denominator * shift.denominator
    top, added = gain.numerator * shift.denominator, shift.numerator * gain.denominator
    if max(top, bottom, abs(added)) < 1 << 53:
        return lambda value: (value * top + added) / bottom
    slope, start = float(gain), float(shift)
    return lambda value: value * slope + start


def product(left: Unit, right: Unit) -> Unit:
    """The unit of a product. Neither may be a point on a temperature scale (ValueError)."""
    return _combined(left, right, 1)


def quotient(left: Unit, right: Unit) -> Unit:
    """The unit of a quotient. Neither may be a point on a temperature scale (ValueError)."""
    return _combined(left, right, -1)


def degrees(of: Unit) -> Unit:
    """The unit of a difference in the degrees of a temperature's unit; any other unit as it is."""
    return replace(of, offset=Fraction(0), difference=True) if of.dimension == _TEMPERATURE else of


def difference(of: Unit) -> Unit:
    """The unit of a difference: K of its own kind for temperatures, else the unit itself."""
    return KELVIN_DIFFERENCE if of.dimension == _TEMPERATURE else of


def unit_of(spelling: str) -> Unit:
    """A unit that is known to be one."""
    found = unit(spelling)
    assert found is not None
    return found


def _combined(left: Unit, right: Unit, sign: int) -> Unit:
    if left.offset or right.offset:
        raise ValueError("a temperature on a scale takes part in no product")
    if right == PLAIN:
        return left
    if left == PLAIN and sign > 0:
        return right
    dimension = tuple(a + sign * b for a, b in zip(left.dimension, right.dimension, strict=True))
    factor = left.factor * right.factor**sign
    if dimension == _PLAIN and factor == 1:
        return PLAIN
    for known in _TABLE.values():
        if known.dimension == dimension and known.factor == factor and not known.offset:
            return known
    joined = f"{left.spelling or 1}{'·' if sign > 0 else '/'}{right.spelling}"
    return Unit(joined, dimension, factor)


def _compound(spelling: str) -> Unit | None:
    if not 1 < len(spelling) <= 24 or spelling.count("/") > 2:
        return None
    result: Unit | None = None
    sign = 1
    for piece in re.split(r"([/·*])", spelling):
        if piece in {"/", "·", "*"}:
            sign = -1 if piece == "/" else 1
            continue
        atom = PLAIN if piece == "1" and result is None else _atom(piece)
        if atom is None:
            return None
        result = atom if result is None else _combined(result, atom, sign)
    if result is None or result == PLAIN or (result.dimension == _TEMPERATURE and "°" in spelling):
        return None
    return Unit(spelling, result.dimension, result.factor)


def _atom(piece: str) -> Unit | None:
    match = _ATOM.fullmatch(piece)
    if match is None:
        return None
    times, name, power = match.groups()
    base = _known(name)
    if base is None or base == PLAIN or times == "0" * len(times or "x"):
        return None
    base = degrees(base)
    exponent = _POWERS[power] if power else 1
    return Unit(
        piece,
        tuple(part * exponent for part in base.dimension),
        Fraction(int(times or 1)) * base.factor**exponent,
    )
