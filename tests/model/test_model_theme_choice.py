"""`choose:` of themes.yaml: levels and times read, and every way to get them wrong."""

import pytest

from hmic.diagnostics import Severity, error
from hmic.model.design import ByClock, BySignal
from hmic.model.load import load
from hmic.model.theme_choice import read_choice
from hmic.model.units import unit
from hmic.model.yaml_source import check_schema, parse_yaml
from hmic.places import examples_folder


class Declared:
    def __init__(self, name, kind="number", spelling="lx", count=None):
        self.name, self.kind, self.count = name, kind, count
        self.unit = unit(spelling) if kind == "number" else None


SIGNALS = {
    "sky.light": Declared("sky.light"),
    "sky.heat": Declared("sky.heat", spelling="°C"),
    "sky.lit": Declared("sky.lit", "flag"),
    "sky.many": Declared("sky.many", count=3),
}
NONE: dict = {}
THEMES = ["day", "dusk", "night"]


def read(text, broken=NONE):
    node, findings = parse_yaml("choose:\n" + text, "themes.yaml")
    assert findings == []
    return read_choice(node, THEMES, SIGNALS, broken)


def test_levels_are_sorted_and_in_the_unit_of_the_signal():
    choice, findings = read("  by: sky.light\n  levels: {day: 400 lx, night: 0, dusk: 5e1 lx}\n")
    assert choice is None and [f.code for f in findings] == ["M271"]  # 5e1 is no way to write a level
    choice, findings = read("  by: sky.light\n  levels: {day: 400 lx, night: 0, dusk: 50 lx}\n")
    assert findings == []
    assert choice == BySignal("sky.light", ((0.0, 2), (50.0, 1), (400.0, 0)), 0.2, 2000, 60_000)
    text = "  by: sky.heat\n  levels: {day: 50 °F}\n  hysteresis: 12.5 %\n  wait: 500 ms\n  keep: 2 min\n"
    choice, findings = read(text)
    assert findings == [] and (choice.hysteresis, choice.wait, choice.keep) == (0.125, 500, 120_000)
    assert choice.levels == ((pytest.approx(10.0), 0),)  # 50 °F is 10 °C


def test_times_of_day():
    choice, findings = read("  by: clock\n  times: {night: 19:30, day: 7:00}\n")
    assert findings == [] and choice == ByClock(((420, 0), (1170, 2)))


def test_without_choose_there_is_no_choice():
    node, _ = parse_yaml("themes: {}\n", "themes.yaml")
    assert read_choice(node, THEMES, SIGNALS, NONE) == (None, [])


@pytest.mark.parametrize(
    ("text", "code", "line", "remedy"),
    [
        ("  by: sky.lihgt\n  levels: {day: 1 lx}\n", "M270", 2, "did you mean 'sky.light'?"),
        ("  by: sky.lit\n  levels: {day: 1 lx}\n", "M270", 2, "by: clock"),
        ("  by: sky.many\n  levels: {day: 1 lx}\n", "M270", 2, "by: clock"),
        ("  by: sky.light\n  times: {day: 7:00}\n", "M271", 2, "levels:"),
        ("  by: sky.light\n", "M271", 2, "levels:"),
        ("  by: clock\n  levels: {day: 1 lx}\n", "M271", 2, "times:"),
        ("  by: sky.light\n  levels: {dya: 1 lx}\n", "M271", 3, "did you mean 'day'?"),
        ("  by: sky.light\n  levels: {day: 1 lx, night: 1.0 lx}\n", "M271", 3, "another"),
        ("  by: clock\n  times: {day: 7:00, night: 07:00}\n", "M271", 3, "another"),
        ("  by: sky.light\n  levels: {day: 1 V}\n", "M271", 3, "in lx"),
        ("  by: sky.light\n  levels: {day: 1 lxx}\n", "M271", 3, "did you mean 'lx'?"),
        ("  by: sky.light\n  levels: {day: 5}\n", "M271", 3, "in lx"),
        ("  by: sky.light\n  levels: {day: bright}\n", "M271", 3, "in lx"),
    ],
)
def test_mistakes(text, code, line, remedy):
    choice, findings = read(text)
    assert choice is None
    assert [finding.code for finding in findings] == [code]
    assert findings[0].span.line == line and remedy in findings[0].remedy


def test_a_signal_with_an_error_of_its_own_is_not_told_twice():
    assert read("  by: sky.dark\n  levels: {day: 1 lx}\n", {"sky.dark": error("M233", "x")}) == (None, [])


@pytest.mark.parametrize(
    "text",
    ["  by: clock\n  times: {day: 25:00}\n", "  by: sky.light\n  levels: {day: 1 lx}\n  hysteresis: lots\n"],
)
def test_what_the_schema_finds_is_told_once(text):
    node, _ = parse_yaml("themes: {day: {}}\nchoose:\n" + text, "themes.yaml")
    said = [f for f in check_schema(node, "themes") if f.span.line > 2]
    assert [finding.code for finding in said] == ["M230"]
    assert read_choice(node, THEMES, SIGNALS, NONE)[1] == []


def test_the_example_van_follows_its_light():
    design, findings = load(examples_folder() / "dunlin")
    assert isinstance(design.choose, BySignal) and design.choose.signal == "vehicle.light"
    assert not [f for f in findings if f.severity is not Severity.NOTE or "vehicle.light" in f.message]
