"""What real DBC files write as units (those of opendbc), against pint."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pint
import pytest

from hmic.model.unit_words import says_no_unit, says_plain_number, tidy
from hmic.model.units import convert, convertible, degrees, unit

opendbc = pytest.importorskip("opendbc")

# Spellings that mean something else to pint, whose names are case sensitive and which knows no vehicles.
NOT_AS_PINT = {
    "g": "pint agrees; files also mean the acceleration of a fall",
    "Deg": "no name there",
}


@pytest.fixture(scope="module")
def spelt() -> Counter[str]:
    found: Counter[str] = Counter()
    for file in sorted(Path(opendbc.__file__).parent.rglob("*.dbc")):
        text = file.read_text("cp1252", errors="replace")
        found.update(re.findall(r'^\s*SG_ .*?\]\s*"([^"]*)"', text, re.MULTILINE))
    assert len(found) > 300
    return found


def test_what_pint_also_knows_has_its_value(spelt: Counter[str]) -> None:
    """Compared with the unit that SI builds of the same dimension; turns and degrees are no dimension
    there, so they are compared among themselves."""
    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    anchors = {
        spelling: registry.Quantity(1, theirs)
        for spelling, theirs in {
            "m": "m", "s": "s", "m/s": "m/s", "m/s²": "m/s**2", "V": "V", "A": "A", "W": "W", "Pa": "Pa",
            "N": "N", "J": "J", "Ah": "A*hour", "l": "litre", "Hz": "1/s", "kg": "kg", "Ω": "ohm",
            "m/s³": "m/s**3", "1/m": "1/m", "l/s": "litre/s", "W/m2": "W/m**2",
        }.items()
    }  # fmt: skip
    compared = 0
    for spelling in spelt:
        ours = unit(spelling)
        if ours is None or spelling in NOT_AS_PINT or ours.offset:
            continue
        try:
            theirs = registry.Quantity(1, tidy(spelling).replace("·", "*"))
        except Exception:
            continue
        for anchor, quantity in anchors.items():
            target = unit(anchor)
            assert target is not None
            if convertible(ours, target) and theirs.is_compatible_with(quantity):
                value = float(convert(Fraction(1), ours, target))
                assert value == pytest.approx(theirs.to(quantity.units).magnitude), spelling
                compared += 1
                break
    assert compared >= 25


def test_most_of_what_names_a_unit_is_understood(spelt: Counter[str]) -> None:
    said = {
        each: count for each, count in spelt.items() if not says_no_unit(each) and not says_plain_number(each)
    }
    known = sum(count for each, count in said.items() if unit(each))
    share = known / sum(said.values())
    print(f"{share:.1%} of {sum(said.values())} fields whose unit is said")
    assert share > 0.6


@pytest.mark.parametrize(
    ("spelling", "same"),
    [
        ("Unit", None), ("kilometer/hour", "km/h"), ("meters per second", "m/s"), ("m/s**2", "m/s²"),
        ("Â°C", "°C"),
        ("Degrees C", "°C"), ("Deg", "deg"), ("m-1", "1/m"), ("s^-1", "Hz"), ("watt*hour/km", "Wh/km"),
        ("radians/sec", "rad/s"), ("kilopascal", "kPa"), ("feet", "ft"), ("°C/h", "K/h"), ("C", None),
        ("SED", None), ("MPA", None), ("S", None), ("°C·h/h", None), ("counts", None),
    ],
)  # fmt: skip
def test_spellings_of_one_meaning(spelling: str, same: str | None) -> None:
    found = unit(spelling)
    if same is None:
        assert found is None
        return
    wanted = unit(same)
    assert found is not None and wanted is not None
    assert (found.dimension, found.factor, found.offset) == (wanted.dimension, wanted.factor, wanted.offset)


def test_degrees_an_hour_are_differences() -> None:
    fahrenheit, kelvin = unit("°F/h"), unit("K/h")
    assert fahrenheit is not None and kelvin is not None
    assert convert(Fraction(9), fahrenheit, kelvin) == 5
    assert degrees(kelvin) == kelvin
