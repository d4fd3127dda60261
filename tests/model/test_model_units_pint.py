"""Every unit against pint, a general-purpose library of units that knows nothing of ours."""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest

from hmic.model.units import convert, convertible, spellings, unit

# How pint spells what we spell otherwise; what counts turns has no twin there (see the units' page).
TWINS = {
    "%": "percent",
    "‰": "permille",
    "d": "day",
    "l": "litre",
    "ml": "millilitre",
    "µl": "microlitre",
    "l/min": "litre/minute",
    "h": "hour",
    "min": "minute",
    "t": "tonne",
    "mi": "mile",
    "mph": "mile/hour",
    "nmi": "nautical_mile",
    "kn": "knot",
    "km/h": "km/hour",
    "m/s²": "m/s**2",
    "N·m": "N*m",
    "°C": "degC",
    "°F": "degF",
    "Ah": "A*hour",
    "mAh": "mA*hour",
    "Wh": "W*hour",
    "kWh": "kW*hour",
    "rpm": "revolution/minute",
    "cd/m2": "cd/m**2",
    "arcmin": "arcminute",
    "": "dimensionless",
    "Wh/km": "W*hour/km",
    "K/min": "kelvin/minute",
}
KNOWN = [*spellings(), "Wh/km", "K/min"]
# For pint an angle has no dimension, so a torque converts to an energy there and not here.
PAIRS = [
    (source, target)
    for source in KNOWN
    for target in KNOWN
    if source != target and convertible(unit(source), unit(target))  # type: ignore[arg-type]
]


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def test_there_are_many_pairs() -> None:
    assert len(PAIRS) > 100


def test_conversions_equal_those_of_pint(registry: pint.UnitRegistry) -> None:
    for source, target in PAIRS:
        for number in (Fraction(1), Fraction(-40), Fraction("12.75")):
            ours = float(convert(number, unit(source), unit(target)))  # type: ignore[arg-type]
            given = registry.Quantity(float(number), TWINS.get(source, source))
            theirs = given.to(TWINS.get(target, target)).magnitude
            assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-9), (source, target)


@pytest.mark.parametrize("spelling", ["kn", "kt", "kts", "knot", "Knots"])
def test_knots_are_no_newtons(spelling: str) -> None:
    speed = unit(spelling)
    assert speed is not None and convertible(speed, unit("km/h"))  # type: ignore[arg-type]
    assert convert(Fraction(10), speed, unit("km/h")) == Fraction("18.52")  # type: ignore[arg-type]
    assert not convertible(unit("kN"), unit("km/h"))  # type: ignore[arg-type]
