"""The plan: shares never lose or overlap a pixel, areas are what is drawn."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.arrange.lengths import pixels
from hmic.arrange.plan import boxes, share_out
from hmic.diagnostics import DesignError, Span
from hmic.language.parser import parse
from hmic.language.syntax import Plan, Quantity
from hmic.model.design import Panel
from hmic.paint.operations import Box

PANEL = Panel(1024, 600, 173.1, 101.4, 700.0, 24, 115200, 1 << 20, 1 << 18)
NOWHERE = Span("test", 1, 1, 1, 2)

shares = st.fractions(min_value=Fraction(1, 16), max_value=32)


@given(st.integers(1, 4000), st.lists(shares, min_size=1, max_size=12))
def test_shares_add_up_and_are_near_their_part(total: int, parts: list[Fraction]) -> None:
    sizes = share_out(total, [None] * len(parts), parts)
    assert sum(sizes) == total
    for size, part in zip(sizes, parts, strict=True):
        assert abs(size - Fraction(total) * part / sum(parts)) <= 1


@given(
    st.integers(200, 2000),
    st.lists(st.one_of(st.integers(1, 90).map(Fraction), st.none()), min_size=1, max_size=8),
)
def test_fixed_sizes_keep_their_size(total: int, fixed: list[Fraction | None]) -> None:
    needed = sum(size for size in fixed if size is not None)
    if needed > total:
        with pytest.raises(ValueError):
            share_out(total, fixed, [Fraction(1)] * len(fixed))
        return
    sizes = share_out(total, fixed, [Fraction(1)] * len(fixed))
    for size, wanted in zip(sizes, fixed, strict=True):
        assert wanted is None or size == wanted
    if None in fixed:
        assert sum(sizes) == total


def drawn(text: str) -> Plan:
    layout, findings = parse(text, "test.layout")
    assert not findings
    plan = layout.screens[0].plan
    assert plan is not None
    return plan


@given(st.integers(1, 5), st.integers(1, 5), st.integers(60, 1300), st.integers(60, 900), st.integers(0, 9))
def test_areas_tile_the_box_but_for_gaps(columns: int, rows: int, width: int, height: int, gap: int) -> None:
    lines = [" ".join(f"a{y}x{x}" for x in range(columns)) for y in range(rows)]
    text = 'screen s "S"\n    plan\n' + "".join(f"        {line}\n" for line in lines)
    text += f"    gap {gap} px\n    margin {gap} px\n"
    places = boxes(drawn(text), Box(7, 9, width, height), PANEL)
    covered: set[tuple[int, int]] = set()
    for x in range(columns):
        assert sum(places[f"a0x{i}"].width for i in range(columns)) == width - gap * (columns + 1)
        assert places[f"a0x{x}"].left >= 7 + gap
    for y in range(rows):
        assert sum(places[f"a{i}x0"].height for i in range(rows)) == height - gap * (rows + 1)
        assert places[f"a{y}x0"].top >= 9 + gap
    for place in places.values():
        corners = {(place.left, place.top)}
        assert not covered & corners
        covered |= corners
        assert place.left + place.width <= 7 + width - gap
        assert place.top + place.height <= 9 + height - gap


def test_an_area_spans_its_rectangle_and_the_gaps_inside_it() -> None:
    text = 'screen s "S"\n    plan\n        a a b\n        a a c\n    gap 4 px\n    margin 10 px\n'
    places = boxes(drawn(text), Box(0, 0, 328, 224), PANEL)
    assert places == {"a": Box(10, 10, 204, 204), "b": Box(218, 10, 100, 100), "c": Box(218, 114, 100, 100)}


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        (["a b", "b a"], "A310"),
        (["a a", "a b c"], "A311"),
        (["a a b", "a c b"], "A310"),
    ],
)
def test_bad_drawings_are_findings(rows: list[str], code: str) -> None:
    text = 'screen s "S"\n    plan\n' + "".join(f"        {row}\n" for row in rows)
    with pytest.raises(DesignError) as raised:
        boxes(drawn(text), Box(0, 0, 400, 300), PANEL)
    assert {finding.code for finding in raised.value.findings} == {code}
    assert all(finding.span and finding.remedy for finding in raised.value.findings)


def test_sizes_that_do_not_fit_name_both_lengths() -> None:
    text = 'screen s "S"\n    plan\n        a b\n    columns 150 mm, 90 mm\n'
    with pytest.raises(DesignError) as raised:
        boxes(drawn(text), Box(0, 0, 1024, 600), PANEL)
    assert "1024 px" in raised.value.findings[0].message
    assert raised.value.findings[0].code == "A313"


def test_arcmin_agrees_with_the_published_table() -> None:
    """tests/reference/04_arcmin_to_mm.csv: FHWA-RD-98-057 eq. 3."""
    from pathlib import Path

    table = Path(__file__).parent.parent / "reference" / "04_arcmin_to_mm.csv"
    checked = 0
    for line in table.read_text().splitlines()[2:]:
        distance, arcmin, height, _ = (float(field) for field in line.split(","))
        panel = Panel(1000, 1000, 100.0, 100.0, distance, 24, 115200, 0, 0)
        assert panel.pixels_from_arcmin(arcmin) * panel.pitch == pytest.approx(height, abs=6e-5)
        assert panel.arcmin_from_pixels(panel.pixels_from_arcmin(arcmin)) == pytest.approx(arcmin)
        checked += 1
    assert checked == 18


@pytest.mark.parametrize(
    ("quantity", "expected"),
    [(Quantity(Fraction(20), "px", NOWHERE), 20), (Quantity(Fraction(10), "mm", NOWHERE), 59)],
)
def test_lengths(quantity: Quantity, expected: int) -> None:
    assert pixels(quantity, PANEL) == expected


def test_a_length_in_volts_is_a_finding() -> None:
    with pytest.raises(DesignError) as raised:
        pixels(Quantity(Fraction(3), "V", NOWHERE), PANEL)
    assert raised.value.findings[0].code == "A301"
