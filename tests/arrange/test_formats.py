"""Formats: what is shown for a number, and the longest thing that can be."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.arrange.formats import extent, parse_format, rendered, step_size, usual
from hmic.diagnostics import DesignError, Span

NOWHERE = Span("test", 1, 1, 1, 2)


@pytest.mark.parametrize(
    ("pattern", "number", "text"),
    [
        ("0 km/h", 7, "7"),
        ("000 V", 48, "048"),
        ("0.0 V", 3, "0.3"),
        ("0.00 V", -1234, "−12.34"),
        ("+0 kW", 12, "+12"),
        ("+0 kW", 0, "0"),
        ("0,0 V", 123, "12,3"),
        ("0:00 h", 95, "1:35"),
        ("00:00 h", 60 * 7 + 5, "07:05"),
    ],
)
def test_rendered(pattern: str, number: int, text: str) -> None:
    assert rendered(parse_format(pattern, NOWHERE), number) == text


@pytest.mark.parametrize("pattern", ["", "km/h", "0.", "#0 V", "0:00 V", "0:0 h", "0 0 V", "1.0 V"])
def test_what_is_no_format_is_a_finding(pattern: str) -> None:
    with pytest.raises(DesignError) as raised:
        parse_format(pattern, NOWHERE)
    assert raised.value.findings[0].code == "A320"
    assert raised.value.findings[0].remedy


@given(
    st.sampled_from(["0 V", "00.0 V", "0.00 V", "+0.0 V", "0:00 h"]),
    st.floats(-5000, 5000),
    st.floats(0, 9000),
    st.floats(0, 1),
)
def test_no_value_in_range_is_longer_than_the_extent(
    pattern: str, low: float, span: float, part: float
) -> None:
    form = parse_format(pattern, NOWHERE)
    reach = extent(form, low, low + span)
    value = low + part * span
    step = min(max(round((value - low) / step_size(form)), 0), reach.count - 1)
    text = rendered(form, reach.offset + step)
    assert sum(char.isdigit() for char in text) <= reach.places
    assert reach.sign or text[0].isdigit()


@pytest.mark.parametrize(
    ("pattern", "first", "last", "look"),
    [
        ("0 %", 0, 100, (2, False)),
        ("0 km/h", 0, 240, (3, False)),
        ("0 kW", -40, 80, (2, False)),
        ("0 kW", -80, 40, (2, True)),
        ("+0 A", 0, 9, (1, True)),
        ("0.0 V", 0, 420, (3, False)),
        ("000 V", 0, 50, (3, False)),
        ("0:00 h", 0, 24 * 60 - 1, (4, False)),
        ("0:00 h", 0, 9 * 60, (3, False)),
        ("0 V", 7, 7, (1, False)),
    ],
)
def test_how_most_of_a_range_looks(pattern: str, first: int, last: int, look: tuple[int, bool]) -> None:
    assert usual(parse_format(pattern, NOWHERE), first, last) == look


@given(
    st.sampled_from(["0 V", "000 V", "0.00 V", "+0 V", "0:00 h"]),
    st.integers(-3000, 3000),
    st.integers(0, 3000),
)
def test_the_usual_look_is_the_most_frequent(pattern: str, first: int, count: int) -> None:
    form = parse_format(pattern, NOWHERE)
    texts = [rendered(form, number) for number in range(first, first + count + 1)]
    places = [sum(char.isdigit() for char in text) for text in texts]
    signed = sum(not text[0].isdigit() for text in texts)
    most = max(set(places), key=lambda count: (places.count(count), count))
    assert usual(form, first, first + count) == (most, 2 * signed > len(texts))


@pytest.mark.parametrize("pattern", ["0" * 15, "0." + "0" * 14, "00000." + "0" * 10 + " V"])
def test_a_format_shows_up_to_fifteen_figures(pattern: str) -> None:
    assert parse_format(pattern, NOWHERE).least == 15


@pytest.mark.parametrize("pattern", ["0" * 16, "0." + "0" * 15, "0." + "0" * 900 + " V"])
def test_more_figures_than_a_number_has_are_refused(pattern: str) -> None:
    with pytest.raises(DesignError) as raised:
        parse_format(pattern, NOWHERE)
    (found,) = raised.value.findings
    assert found.code == "A320" and found.remedy and "15" in found.message
