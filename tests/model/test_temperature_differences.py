"""What is known to be a difference of temperatures, in degrees of every scale. By pint's delta units."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import product
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.diagnostics import DesignError
from hmic.language.parser import parse_expression
from hmic.model.expressions import Scope, Typed, typed
from hmic.model.units import convertible, degrees, unit

UNITS = pint.UnitRegistry()
SCALES = {"K": "kelvin", "°C": "degC", "°F": "degF"}
DELTAS = {"K": "kelvin", "°C": "delta_degC", "°F": "delta_degF"}
scales = st.sampled_from(sorted(SCALES))
numbers = st.integers(-400, 900).map(lambda tenths: tenths / 10)


@dataclass(frozen=True)
class Declared:
    unit: Any
    kind: str = "number"
    low: float = -1e4
    high: float = 1e4
    count: int | None = None
    words: dict[int, str] = field(default_factory=dict)


def of(text: str, one: str = "°C", other: str = "°C") -> Typed:
    """An expression of two temperatures, each on its scale."""
    node, findings = parse_expression(text, "x", 1, 1)
    assert not findings and node is not None
    return typed(node, Scope({"a.hot": Declared(unit(one)), "b.hot": Declared(unit(other))}))


def value(found: Typed, a: float, b: float) -> Any:
    return found.evaluate({"a.hot": a, "b.hot": b}.__getitem__)


def apart(a: float, one: str, b: float, other: str) -> Any:
    """What lies between two temperatures, by pint."""
    return UNITS.Quantity(a, SCALES[one]).to("kelvin") - UNITS.Quantity(b, SCALES[other]).to("kelvin")


# A reading in K beside one on a scale may be either, and counts as a step from it.
@given(st.sampled_from([("K", "K"), *product(["°C", "°F"], repeat=2)]), scales, numbers, numbers)
def test_a_difference_is_shown_in_degrees_of_any_scale(
    both: tuple[str, str], shown: str, a: float, b: float
) -> None:
    one, other = both
    theirs = apart(a, one, b, other).to(DELTAS[shown]).magnitude
    difference = of(f"(a.hot - b.hot) in {shown}", one, other)
    assert difference.unit is not None and difference.unit.spelling == shown and not difference.unit.offset
    assert difference.unit.difference
    assert value(difference, a, b) == pytest.approx(theirs, abs=1e-9)
    again = of(f"((a.hot - b.hot) in {shown}) in K", one, other)
    assert value(again, a, b) == pytest.approx(apart(a, one, b, other).magnitude, abs=1e-9)


@given(st.sampled_from(["°C", "°F"]), scales, scales, numbers, numbers, st.integers(1, 90))
def test_a_limit_of_a_difference_is_degrees_of_its_scale(
    one: str, shown: str, scale: str, a: float, b: float, limit: int
) -> None:
    degrees_apart = apart(a, one, b, one)
    bound = UNITS.Quantity(limit, DELTAS[scale]).to("kelvin")
    if abs((degrees_apart - bound).magnitude) < 1e-6:
        return
    beyond = bool(degrees_apart > bound)
    for text in (
        f"a.hot - b.hot > {limit} {scale}",
        f"((a.hot - b.hot) in {shown}) > {limit} {scale}",
        f"{limit} {scale} < a.hot - b.hot",
    ):
        assert value(of(text, one, one), a, b) is beyond, text
    most = value(of(f"max(a.hot - b.hot, {limit} {scale})", one, one), a, b)
    assert most == pytest.approx(max(degrees_apart, bound).magnitude, abs=1e-9)


@given(st.sampled_from(["°C", "°F"]), st.sampled_from(["°C", "°F"]), numbers, numbers)
def test_differences_are_reckoned_with_on_any_scale(one: str, shown: str, a: float, b: float) -> None:
    between = apart(a, one, b, one)
    written = f"((a.hot - b.hot) in {shown})"
    twice = of(f"2 * {written}", one, one)
    assert value(twice, a, b) == pytest.approx((2 * between).to(DELTAS[shown]).magnitude, abs=1e-9)
    nothing = of(f"{written} - (a.hot - b.hot)", one, one)
    assert nothing.unit is not None and nothing.unit.spelling == "K"
    assert value(nothing, a, b) == pytest.approx(0, abs=1e-9)
    back = of(f"b.hot + {written}", one, one)
    assert back.unit is not None and back.unit.spelling == one and back.unit.offset
    assert value(back, a, b) == pytest.approx(a, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        "a.hot - b.hot > a.hot",
        "a.hot < a.hot - b.hot",
        "max(a.hot, a.hot - b.hot)",
        "max(5 °C, a.hot - b.hot)",
    ],
)
def test_a_point_is_no_difference(text: str) -> None:
    with pytest.raises(DesignError) as caught:
        of(text)
    assert [finding.code for finding in caught.value.findings] == ["M205"]


@given(scales, scales)
def test_points_and_differences_do_not_convert(one: str, other: str) -> None:
    point, difference = unit(one), degrees(unit(other))  # type: ignore[arg-type]
    assert point is not None
    assert convertible(point, difference) == convertible(difference, point) == (one == "K")
    assert convertible(degrees(point), difference)
