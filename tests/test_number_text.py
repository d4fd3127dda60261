"""Numbers in sentences, by exact fractions."""

from __future__ import annotations

import math
from fractions import Fraction

from hypothesis import example, given
from hypothesis import strategies as st

from hmic.diagnostics import Finding, Severity, held_against
from hmic.number_text import at_least, at_most, measured_and_limit, number, numbers

FLOATS = st.floats(allow_nan=False, allow_infinity=False)
USUAL = st.floats(-1e6, 1e6, allow_nan=False)


@st.composite
def neighbours(draw: st.DrawFn) -> tuple[float, float]:
    """Two different floats, often a hair apart."""
    one = draw(USUAL)
    other = draw(st.sampled_from([1e-12, 1e-9, 1e-6, 1e-3, 0.1])) * draw(st.floats(-1, 1)) + one
    return (one, other) if one != other else (one, math.nextafter(one, math.inf))


@given(st.one_of(neighbours(), st.tuples(FLOATS, FLOATS)))
@example((0.991, 1.0))
@example((9.96, 10.0))
@example((1.0, 1.0))
@example((math.nextafter(1, 0), 1.0))
def test_a_measure_reads_on_its_side_of_the_limit(pair: tuple[float, float]) -> None:
    measured, limit = pair
    first, second = map(Fraction, measured_and_limit(measured, limit))
    assert (first < second, first > second) == (measured < limit, measured > limit)
    told = held_against(Finding("C410", Severity.WARNING, "x", None, None, measured, limit, "mm"))
    assert told == "{} mm, limit {} mm".format(*measured_and_limit(measured, limit))


@given(st.lists(st.one_of(FLOATS, USUAL), min_size=1, max_size=4))
@example([1.0, math.nextafter(1, 2)])
def test_two_numbers_that_differ_look_different(values: list[float]) -> None:
    texts = numbers(*values)
    assert len(set(texts)) == len(set(values))
    assert all(text.replace("-", "", 1).replace(".", "", 1).isdecimal() for text in texts)


@given(st.one_of(FLOATS, USUAL), st.integers(1, 17))
def test_rounding_of_a_remedy_is_to_its_side_and_small(value: float, figures: int) -> None:
    exact = Fraction(repr(value))
    low, near, high = (Fraction(way(value, figures)) for way in (at_most, number, at_least))
    assert low <= exact <= high and low <= near <= high
    # A unit of the last figure, which is never before the point.
    unit = min(Fraction(1), Fraction(10) ** (1 - figures) * abs(exact))
    assert high - low <= unit
    assert float(at_least(value, 17)) == float(at_most(value, 17)) == value


def test_what_somebody_wrote_is_written_again() -> None:
    for text in ("0.1", "12", "1234567", "-40", "0.000001", "45000.5", "100"):
        assert number(float(text)) == at_least(float(text)) == at_most(float(text)) == text
    assert (number(-0.0), number(2 / 3, 3), number(math.inf)) == ("0", "0.667", "inf")
    assert (at_least(2 / 3, 3), at_most(2 / 3, 3)) == ("0.667", "0.666")
