"""Units against published definitions, and exact in both directions."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.model.units import (
    KELVIN_DIFFERENCE,
    convert,
    converter,
    convertible,
    product,
    quantity_name,
    quotient,
    spellings,
    unit,
    unit_remedy,
)


def known(spelling):
    found = unit(spelling)
    assert found is not None, spelling
    return found


# SI brochure, 9th edition, tables 4 and 8 and section 2.3.1 (°C); the inch, the pound, the mile and
# standard gravity are exact by the 1959 yard and pound agreement and CGPM 1901. All from memory.
@pytest.mark.parametrize(
    ("value", "source", "target", "result"),
    [
        ("1", "kWh", "MJ", "3.6"),
        ("1", "Wh", "J", "3600"),
        ("0", "°C", "K", "273.15"),
        ("100", "°C", "°F", "212"),
        ("-40", "°F", "°C", "-40"),
        ("1", "bar", "kPa", "100"),
        ("1", "mi", "m", "1609.344"),
        ("60", "mph", "km/h", "96.56064"),
        ("36", "km/h", "m/s", "10"),
        ("1", "l", "ml", "1000"),
        ("60", "l/min", "l/h", "3600"),
        ("1", "turn", "deg", "360"),
        ("1", "deg", "arcmin", "60"),
        ("1", "Ah", "mAh", "1000"),
        ("1", "kWh/100km", "Wh/km", "10"),
        ("50", "%", "", "0.5"),
        ("1", "h", "min", "60"),
        ("9.80665", "m/s²", "m/s^2", "9.80665"),
    ],
)
def test_published_conversions_are_exact(value, source, target, result):
    assert convert(Fraction(value), known(source), known(target)) == Fraction(result)


def test_psi_to_seven_figures():
    # NIST SP 811 appendix B.8: 1 psi = 6.894757 E+03 Pa (from memory).
    assert f"{float(convert(Fraction(1), known('psi'), known('Pa'))):.7g}" == "6894.757"


def test_torque_times_speed_is_power():
    # P = 2 pi n T: 100 N·m at 3000 1/min is 31.4159 kW (ISO 80000-4, from memory).
    watts = product(known("N·m"), known("rpm"))
    assert float(convert(Fraction(300_000), watts, known("kW"))) == pytest.approx(
        31.41592653589793, rel=1e-15
    )


@pytest.mark.parametrize(
    ("left", "right"),
    [("rpm", "Hz"), ("N·m", "J"), ("lx", "cd/m2"), ("V", "°C"), ("kWh", "kW"), ("Wh/km", "km/kWh")],
)
def test_what_must_not_convert(left, right):
    assert not convertible(known(left), known(right))
    with pytest.raises(ValueError, match="does not convert"):
        convert(Fraction(1), known(left), known(right))


def test_a_difference_of_temperatures_is_no_point():
    assert convertible(KELVIN_DIFFERENCE, known("K"))
    assert not convertible(KELVIN_DIFFERENCE, known("°C"))
    assert convertible(known("K"), known("°C"))


@pytest.mark.parametrize(
    ("left", "right", "spelling"),
    [("V", "A", "W"), ("kW", "h", "kWh"), ("A", "Ω", "V"), ("m/s", "s", "m"), ("l/min", "min", "l")],
)
def test_products_have_their_name(left, right, spelling):
    assert product(known(left), known(right)).spelling == spelling


def test_quotients():
    assert quotient(known("kWh"), known("h")).spelling == "kW"
    assert quotient(known("km"), known("km")).spelling == ""
    assert convert(Fraction(18), quotient(known("kWh"), known("km")), known("kWh/100km")) == 1800


@pytest.mark.parametrize(
    "spelling", ["C", "nm", "MA", "kWh/a", "°X", "m/", "/s", "1", "°C·h/h", "x·m", "0km", "m²²"]
)
def test_unknown_spellings(spelling):
    assert unit(spelling) is None
    assert unit_remedy(spelling)


@pytest.mark.parametrize(
    ("wrong", "meant"),
    [("C", "°C"), ("MW", "kW"), ("nm", "N·m"), ("kkm/h", "km/h"), ("mah", "mAh"), ("a", "A")],
)
def test_the_remedy_names_the_unit_that_is_meant(wrong, meant):
    assert unit_remedy(wrong) == f"did you mean '{meant}'?"


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("kOhm", "kΩ"),
        ("MOhm", "MΩ"),
        ("kohm", "kΩ"),
        ("mOhm", "mΩ"),
        ("degC", "°C"),
        ("deg C", "°C"),
        ("º C", "°C"),
        ("Celsius", "°C"),
        ("Nm", "N·m"),
        ("N m", "N·m"),
        ("RPM", "rpm"),
        ("1 / min", "rpm"),
        ("kph", "km/h"),
        ("KM/H", "km/h"),
        ("percent", "%"),
        ("per cent", "%"),
        ("Volt", "V"),
        ("KW", "kW"),
        ("kwh", "kWh"),
        ("seconds", "s"),
        (" V ", "V"),
    ],
)
def test_what_can_mean_one_thing_only_is_understood(written, meant):
    assert known(written) is known(meant)


def test_spellings_in_a_product_are_understood_too():
    one, other = known("kwh/100 km"), known("kWh/100km")
    assert (one.dimension, one.factor) == (other.dimension, other.factor)


def test_of_many_units_the_nearest_are_told():
    told = unit_remedy("kWatthours")
    assert told.startswith("the nearest of ") and "units: kWh, " in told
    assert len(told.split(", ")) == 8 and "..." not in told


def test_names_of_quantities():
    assert quantity_name(known("mV")) == "voltage"
    assert quantity_name(known("°F")) == "temperature"
    assert quantity_name(known("%")) == "share"


numbers = st.fractions(min_value=-(10**6), max_value=10**6, max_denominator=10**6)


@given(numbers, st.data())
def test_there_and_back_is_exact(number, data):
    source = known(data.draw(st.sampled_from(spellings())))
    others = [s for s in spellings() if convertible(source, known(s))]
    target = known(data.draw(st.sampled_from(others)))
    assert convert(convert(number, source, target), target, source) == number


@given(st.integers(-(10**6), 10**6), st.data())
def test_floats_agree_with_fractions(number, data):
    source = known(data.draw(st.sampled_from(spellings())))
    target = known(data.draw(st.sampled_from([s for s in spellings() if convertible(source, known(s))])))
    exact = convert(Fraction(number), source, target)
    assert converter(source, target)(float(number)) == pytest.approx(float(exact), rel=1e-14, abs=1e-300)


@given(st.text(max_size=12) | st.text("1kmVA/·*²3^s°Ch%", max_size=12))
def test_no_spelling_raises(spelling):
    found = unit(spelling)
    assert found is None or found.factor > 0
