"""Numbers as the design's locale writes them: decimal sign, units, and what still fits."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.arrange.compose import Arranged, arrange
from hmic.arrange.formats import figure, localised, parse_format, rendered
from hmic.diagnostics import Finding, Span
from hmic.model.channels import LIVE, raw_value
from hmic.model.design import Locale
from hmic.model.load import load
from hmic.model.samples import lookup, sample_values
from hmic.paint.operations import COMMA, FULL_STOP, Figures
from hmic.places import examples_folder

SPAN = Span("a.layout", 1, 1, 1, 2)
LAYOUT = """screen drive "Drive"
    plan
        a  b
        c  d
    rows 3, 2
    in a    reading vehicle.speed as "0.0 km/h", text 30 arcmin, called "Speed"
    in b    bar vehicle.speed from 0 km/h to 140 km/h, upward, marks every 20 km/h, called "Bar"
        as "0 km/h", caution above 100 km/h
    in c    chart over 60 s, marks every 10 s
        trace vehicle.speed from 0 km/h to 140 km/h, called "Speed"
    in d    reading vehicle.outside as "0.0 °C", text 30 arcmin, called "Outside"
"""


@pytest.fixture
def van(tmp_path: Path) -> Path:
    """Dunlin with one screen."""
    folder = tmp_path / "van"
    shutil.copytree(examples_folder() / "dunlin", folder, ignore=shutil.ignore_patterns("logs", "*.layout"))
    (folder / "drive.layout").write_text(LAYOUT, encoding="utf-8")
    return folder


def arranged(folder: Path, locale: str = "", language: str | None = None) -> tuple[Arranged, list[Finding]]:
    text = (folder / "design.yaml").read_text(encoding="utf-8")
    (folder / "design.yaml").write_text(text + locale, encoding="utf-8")
    design, findings = load(folder, language)
    assert design is not None
    made, more = arrange(design)
    assert made is not None, more
    return made, [finding for finding in [*findings, *more] if finding.code != "M247"]


def texts(made: Arranged) -> list[str]:
    return [fact.text for fact in made.screens[0].texts]


def test_without_a_locale_all_is_as_written(van: Path) -> None:
    made, findings = arranged(van)
    assert findings == []
    assert {"km/h", "°C", "140", "Speed  0 … 140 km/h", "now"} <= set(texts(made))
    assert all(op.point in (0, FULL_STOP) for op in figures_of(made))


def test_comma_and_miles(van: Path) -> None:
    made, findings = arranged(van, "locale: {decimal: comma, units: {km/h: mph, °C: °F}}\n")
    assert findings == []
    said = texts(made)
    assert {"mph", "°F", "Speed  0 … 87 mph"} <= set(said)
    assert not {"km/h", "°C"} & set(said)
    # The marks of a converted scale are round again: every 20 km/h becomes every 10 mph. So are the
    # lines of the chart.
    marks = [str(mark) for mark in range(0, 90, 10)]
    lines = [str(line) for line in range(0, 90, 20)]
    assert [text for text in said if text.isdigit()] == [*marks, *lines]
    assert {op.point for op in figures_of(made)} == {0, COMMA}


def test_a_converted_reading_is_true(van: Path) -> None:
    made, _ = arranged(van, "locale: {units: {km/h: mph, °C: °F}}\n")
    design, _ = load(van)
    assert design is not None
    find = lookup(design, {**sample_values(design), "vehicle.speed": 100.0, "vehicle.outside": -40.0})
    shown = [
        (raw_value(made.channels[op.channel], find) - LIVE + op.offset) / 10**op.point_after
        for op in figures_of(made)
    ]
    # 100 km/h are 62.137 mph (a mile is 1609.344 m); -40 °C are -40 °F.
    assert shown == [62.1, 62.0, -40.0]


def figures_of(made: Arranged) -> list[Figures]:
    return [op for op in made.drawing.screens[0].operations if isinstance(op, Figures)]


def test_a_translation_that_does_not_fit_is_found(van: Path) -> None:
    (van / "words").mkdir()
    table = "Speed: Geschwindigkeit über Grund in der Ebene, gemessen am Getriebeausgang\nBar: Balken\n"
    (van / "words" / "de.yaml").write_text(table + "Outside: Außen\nnow: jetzt\n", encoding="utf-8")
    design, findings = load(van, "de")
    assert design is not None and [f.code for f in findings if f.code != "M247"] == []
    made, findings = arrange(design)
    assert made is None
    assert {finding.code for finding in findings} == {"A350"}
    assert "Geschwindigkeit" in findings[0].message and findings[0].span is not None
    assert findings[0].span.file == "drive.layout"
    (van / "words" / "de.yaml").write_text(
        "Speed: Tempo\nBar: Balken\nOutside: Außen\nnow: jetzt\n", encoding="utf-8"
    )
    made, findings = arranged(van, language="de")
    assert findings == [] and {"jetzt", "Tempo", "Außen"} <= set(texts(made))


@given(st.integers(-(10**6), 10**6), st.integers(0, 3))
def test_only_the_decimal_sign_differs(number: int, decimals: int) -> None:
    pattern = "0" + ("." + "0" * decimals if decimals else "") + " V"
    form = parse_format(pattern, SPAN)
    comma = localised(form, Locale("comma"))
    assert rendered(comma, number) == rendered(form, number).replace(".", ",")
    assert localised(comma, Locale("point")) == form == localised(form, Locale())


@pytest.mark.parametrize(
    ("value", "locale", "text"),
    [
        (-2.5, Locale(), "−2.5"),
        (-2.5, Locale("comma"), "−2,5"),
        (12000.0, Locale(), "12000"),
        (86.9919, Locale(None, {"km/h": "mph"}), "87"),
        (7456.45, Locale(None, {"km/h": "mph"}), "7456"),
        (0.62137, Locale("comma", {"km/h": "mph"}), "0,621"),
    ],
)
def test_figures_that_stand_still(value: float, locale: Locale, text: str) -> None:
    assert figure(value, locale) == text


def test_numbers_within_texts_and_options(van: Path) -> None:
    layout = """part limit (at, low)
    plan
        a
    in a    label "Up to {at}, {low}", text 20 arcmin

screen drive "Drive"
    plan
        a
        b
    in a    use limit with at 80.5 km/h, low -3
    in b    choice motor.speed_limit of 50 km/h or 100 km/h, called "Limit"
"""
    (van / "drive.layout").write_text(layout, encoding="utf-8")
    assert {"Up to 80.5 km/h, −3", "50 km/h", "100 km/h"} <= set(texts(arranged(van)[0]))
    made, _ = arranged(van, "locale: {decimal: comma}\n")
    assert "Up to 80,5 km/h, −3" in texts(made)
    text = (van / "design.yaml").read_text(encoding="utf-8").replace("comma", "comma, units: {km/h: mph}")
    (van / "design.yaml").write_text(text, encoding="utf-8")
    # 50, 80.5 and 100 km/h are 31.07, 50.02 and 62.14 mph.
    assert {"Up to 50 mph, −3", "31,1 mph", "62,1 mph"} <= set(texts(arranged(van)[0]))


def test_hours_and_minutes_are_the_same_everywhere() -> None:
    form = parse_format("0:00 h", SPAN)
    assert localised(form, Locale("comma", {"h": "min", "min": "s"})) == form
