"""How people and DBC files spell units: each spelling that can mean one thing only, and what it means."""

from __future__ import annotations

import re

# Unicode twins and forms that keyboards make easier.
_ALIASES = {
    "1/min": "rpm",
    "r/min": "rpm",
    "rev/min": "rpm",
    "U/min": "rpm",
    "min-1": "rpm",
    "min^-1": "rpm",
    "Nm": "N·m",
    "N m": "N·m",
    "N.m": "N·m",
    "mOhm": "mΩ",
    "mohm": "mΩ",
    "kOhm": "kΩ",
    "kohm": "kΩ",
    "KOhm": "kΩ",
    "MOhm": "MΩ",
    "Mohm": "MΩ",
    "°": "deg",
    "° C": "°C",
    "° F": "°F",
    "L": "l",
    "cd/m²": "cd/m2",
    "m/s2": "m/s²",
    "us": "µs",
    "ul": "µl",
}

# Spelt in small or large letters alike, where no other unit is spelt so: not with m or M (milli, mega), nor
# C and F (coulomb, farad), S (siemens), D or a (year) alone.
_ANY_CASE = {
    "km/h": ("km/h", "kph", "kmh", "kmph", "km/hr"),
    "°C": ("°c", "degc", "deg c", "deg. c", "degrees c", "degreesc", "celsius", "degrees celsius"),
    "°F": ("°f", "degf", "deg f", "deg. f", "degrees f", "degreesf", "fahrenheit", "degrees fahrenheit"),
    "K": ("kelvin",),
    "%": ("percent", "per cent", "pct"),
    "‰": ("per mille", "permille"),
    "V": ("v", "volt", "volts"),
    "mV": ("millivolt", "millivolts"),
    "kV": ("kv",),
    "A": ("amp", "amps", "ampere", "amperes"),
    "mA": ("milliampere", "milliamperes", "milliamp", "milliamps"),
    "Ah": ("ah", "amperehour", "amphour", "amp hour", "ampere hour"),
    "W": ("w", "watt", "watts"),
    "kW": ("kw", "kilowatt", "kilowatts"),
    "Wh": ("wh", "watthour", "watt hour", "watthr"),
    "kWh": ("kwh", "kilowatthour", "kilowatt hour"),
    "Ω": ("ohm", "ohms"),
    "mΩ": ("milliohm", "milliohms"),
    "s": ("sec", "secs", "second", "seconds"),
    "ms": ("millisecond", "milliseconds", "msec"),
    "µs": ("microsecond", "microseconds", "usec"),
    "min": ("min", "minute", "minutes"),
    "h": ("hr", "hrs", "hour", "hours"),
    "d": ("day", "days"),
    "Hz": ("hz", "hertz"),
    "kHz": ("khz",),
    "rpm": ("rpm",),
    "mph": ("mph",),
    "kn": ("knot", "knots", "kt", "kts"),
    "m": ("meter", "meters", "metre", "metres"),
    "mm": ("millimeter", "millimeters", "millimetre", "millimetres"),
    "cm": ("centimeter", "centimeters", "centimetre", "centimetres"),
    "km": ("km", "kilometer", "kilometers", "kilometre", "kilometres"),
    "ft": ("ft", "foot", "feet"),
    "mi": ("mile", "miles"),
    "nmi": ("nautical mile", "nautical miles"),
    "kg": ("kg", "kilogram", "kilograms"),
    "g": ("gram", "grams"),
    "Pa": ("pa", "pascal"),
    "hPa": ("hpa", "hectopascal"),
    "kPa": ("kpa", "kilopascal"),
    "bar": ("bar", "bars"),
    "mbar": ("millibar", "millibars"),
    "psi": ("psi",),
    "N": ("newton", "newtons"),
    "kN": ("kilonewton", "kilonewtons"),
    "N·m": ("newton meter", "newton metre", "newtonmeter", "newtonmetre"),
    "l": ("litre", "litres", "liter", "liters"),
    "ml": ("milliliter", "milliliters", "millilitre", "millilitres"),
    "µl": ("microliter", "microliters", "microlitre", "microlitres"),
    "deg": ("deg", "degs", "degree", "degrees"),
    "rad": ("radian", "radians"),
    "lx": ("lux",),
    "cd/m2": ("nit", "nits"),
}
_FOLDED = {word: meant for meant, words in _ANY_CASE.items() for word in words}

# What people write that could mean two things, and what they mean here. It is not accepted.
MEANT = {
    "C": "°C",
    "F": "°F",
    "S": "s",
    "H": "h",
    "nm": "N·m",
    "NM": "N·m",
    "MW": "kW",
    "MV": "mV",
    "MA": "mA",
    "a": "A",
}

# What DBC files write where there is no unit, and what they write of a number that only counts or selects.
_UNSAID = frozenset({"", "-", "--", "?", "??", "n/a", "na", "none", "undefined", "unknown", "tbd", "mixed"})
_COUNTS = {"1", "number", "unitless", "count", "counts", "cnt", "pulse", "pulses", "pulse count"}
_SELECTS = {"index", "enum", "state", "discrete", "color index", "step", "steps", "detents", "bcd", "ascii"}
_SWITCHES = {"flag", "binary", "bool", "boolean", "bit", "bits", "on/off", "yes/no", "times", "piece"}
_PLAIN = _COUNTS | _SELECTS | _SWITCHES

# Signs that look alike, and UTF-8 read as CP1252 ("Â°C"), as some DBC files have it.
_LOOKALIKES = {
    "Â°": "°", "Âº": "°", "Âµ": "µ", "\u2126": "Ω", "℃": "°C", "℉": "°F", "⋅": "·", "\u03bc": "µ",
    "\u00ba": "°", "\u02da": "°", "**": "^",
}  # fmt: skip
_PER = re.compile(r"\s+per\s+", re.IGNORECASE)
_STROKES = re.compile(r"\s*([/·*])\s*|(?<=\d)\s+")


def tidy(spelling: str) -> str:
    """With one sign where several look alike, no space around strokes and dots, a stroke for "per"."""
    for alike, sign in _LOOKALIKES.items():
        spelling = spelling.replace(alike, sign)
    return _STROKES.sub(lambda found: found[1] or "", _PER.sub("/", spelling.strip()))


def usual(plain: str) -> str:
    """The spelling of the table of units for a tidied one; as it is where none is known."""
    return _ALIASES.get(plain) or _FOLDED.get(plain.lower(), plain)


def says_no_unit(spelling: str) -> bool:
    """Whether a DBC's text for a unit says nothing: ``-``, ``n/a``."""
    return spelling.strip().lower() in _UNSAID


def says_plain_number(spelling: str) -> bool:
    """Whether a DBC's text for a unit stands for a plain number: ``counts``, ``unitless``."""
    return spelling.strip().lower() in _PLAIN
