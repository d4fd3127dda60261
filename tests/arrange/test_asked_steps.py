"""What a control steps by: its scale rises, and its step is one that the output's field can carry."""

from __future__ import annotations

from pathlib import Path

import pytest

from hmic.arrange.compose import arrange
from hmic.cli.starter import THEMES
from hmic.compile.compiling import compile_design
from hmic.diagnostics import Finding
from hmic.language.parser import parse
from tests.tools.changed import replace
from tests.tools.designs import SMALL
from tests.tools.widget_pictures import dunlin, one_screen

DBC = """VERSION ""
NS_ :
BS_:
BU_: Dash
BO_ 256 Said: 8 Dash
 SG_ Wanted : 0|8@1+ (1,0) [0|0] "degC" Dash
BO_ 320 Ask: 8 Dash
 SG_ Wanted : 0|8@1+ (1,0) [0|0] "degC" Dash
"""
SIGNALS = """\
signals:
  stove.wanted: {unit: °C, range: [10, 40], from: Said.Wanted, stale: 2 s}
outputs:
  stove.wanted: {to: Ask.Wanted}
"""
GOOD = 'from 10 °C to 40 °C, in steps of 5 K, as "0 °C"'


def told(folder: Path, sentence: str, unit: str = "°C") -> list[Finding]:
    """What is found in a sentence, but for how it looks."""
    low, high = (50, 104) if unit == "°F" else (10, 40)
    signals = SIGNALS.replace("unit: °C, range: [10, 40]", f'unit: "{unit}", range: [{low}, {high}]')
    files = {"design.yaml": SMALL, "car.dbc": DBC, "signals.yaml": signals, "themes.yaml": THEMES}
    screen = f'screen all "All"\n    plan\n        a\n    in a  {sentence}\n'
    for name, text in (files | {"all.layout": screen}).items():
        (folder / name).write_text(text)
    return [item for item in compile_design(folder).findings if item.code[0] != "C"]


def one(folder: Path, sentence: str, unit: str = "°C") -> tuple[str, str, str | None]:
    (found,) = told(folder, sentence, unit)
    return found.code, found.message, found.remedy


@pytest.mark.parametrize("kind", ["stepper", "slider"])
def test_a_scale_that_falls_is_told(tmp_path: Path, kind: str) -> None:
    assert told(tmp_path, f"{kind} stove.wanted {GOOD}") == []
    falls = GOOD.replace("from 10 °C to 40 °C", "from 40 °C to 10 °C")
    assert one(tmp_path, f"{kind} stove.wanted {falls}") == (
        "A344", "the scale does not rise", "write the lower end first: from 10 °C to 40 °C",
    )  # fmt: skip
    same = GOOD.replace("to 40 °C", "to 10 °C")
    assert one(tmp_path, f"{kind} stove.wanted {same}")[:2] == (
        "A344",
        "both ends of the scale are the same",
    )


@pytest.mark.parametrize(
    "sentence",
    [
        "bar stove.wanted {}, rightward",
        "level stove.wanted {}",
        'dial stove.wanted {}, as "0 °C"',
        "chart over 600 s, marks every 60 s\n        trace stove.wanted {}, colour accent",
        "freely\n        joint one at 10 mm across 10 mm down\n        joint two at 20 mm across 10 mm down\n"
        "        pipe from one to two, filled by ramp charge of stove.wanted {}",
    ],
)
def test_no_scale_may_fall(tmp_path: Path, sentence: str) -> None:
    codes = [item.code for item in told(tmp_path, sentence.format("from 40 °C to 10 °C"))]
    assert "A344" in codes
    codes = [item.code for item in told(tmp_path, sentence.format("from 10 °C to 40 °C"))]
    assert "A344" not in codes


@pytest.mark.parametrize("kind", ["stepper", "slider"])
@pytest.mark.parametrize("step", ["0 K", "-5 K", "31 K"])
def test_a_step_that_does_not_go_into_the_scale_is_told(tmp_path: Path, kind: str, step: str) -> None:
    code, message, remedy = one(tmp_path, f"{kind} stove.wanted {GOOD.replace('5 K', step)}")
    assert (code, message) == ("A372", f"a step of {step} does not go into a scale of 30 K")
    assert remedy == "in steps of 3 K"
    assert told(tmp_path, f"{kind} stove.wanted {GOOD.replace('5 K', '30 K')}") == []


def test_a_button_steps_by_something(tmp_path: Path) -> None:
    code, message, remedy = one(tmp_path, 'button "More", steps stove.wanted by 0 K')
    assert (code, remedy) == ("A372", "by 3 K")
    assert message == "a step of 0 K does not go into a scale of 30 K"
    for by in ("5 K", "-5 K", "5 °C"):
        assert told(tmp_path, f'button "More", steps stove.wanted by {by}') == []


def test_a_step_is_told_in_degrees_of_its_signal(tmp_path: Path) -> None:
    remedy = one(tmp_path, 'slider stove.wanted, in steps of 0 K, as "0 °F"', "°F")[2]
    assert remedy is not None and remedy.endswith("°F")
    assert told(tmp_path, f'slider stove.wanted, {remedy}, as "0 °F"', "°F") == []


@pytest.mark.parametrize(
    ("step", "code", "carried"),
    [
        ("0.3 K", "A381", "1 K"),
        ("0.5 K", "A381", "1 K"),
        ("1 °F", "A381", "1 K"),
        ("1.4 K", "A382", "1 K"),
        ("2.5 K", "A382", "2 K"),
        ("5.5 °F", "A382", "3 K"),
    ],
)
def test_a_step_that_the_field_cannot_carry_is_told(
    tmp_path: Path, step: str, code: str, carried: str
) -> None:
    for kind in ("stepper", "slider"):
        found, _, remedy = one(tmp_path, f"{kind} stove.wanted {GOOD.replace('5 K', step)}")
        assert (found, remedy) == (code, f"in steps of {carried}")
        assert told(tmp_path, f"{kind} stove.wanted {GOOD.replace('5 K', carried)}") == []
    for sign in ("", "-"):
        found, _, remedy = one(tmp_path, f'button "More", steps stove.wanted by {sign}{step}')
        assert (found, remedy) == (code, f"by {sign}{carried}")
        assert told(tmp_path, f'button "More", steps stove.wanted by {sign}{carried}') == []


@pytest.mark.parametrize("step", ["1 K", "3 K", "9 °F", "30 K"])
def test_a_step_that_the_field_carries_is_fine(tmp_path: Path, step: str) -> None:
    for kind in ("stepper", "slider"):
        assert told(tmp_path, f"{kind} stove.wanted {GOOD.replace('5 K', step)}") == []


def test_only_a_step_that_does_nothing_is_an_error(tmp_path: Path) -> None:
    kinds = [
        told(tmp_path, f"stepper stove.wanted {GOOD.replace('5 K', step)}")[0].severity.value
        for step in ("0.3 K", "2.5 K")
    ]
    assert kinds == ["error", "warning"]


@pytest.mark.parametrize(
    ("unit", "step", "form"),
    [("°C", "in steps of 3 K", 'as "0 °C"'), ("°F", "in steps of 5.4 °F", 'as "0.0 °F"')],
)
def test_only_what_a_stepper_lacks_is_told(tmp_path: Path, unit: str, step: str, form: str) -> None:
    begun = "stepper stove.wanted"
    assert one(tmp_path, begun, unit) == (
        "A371",
        "the stepper needs its step and its format",
        f"add {step}, {form}",
    )
    assert one(tmp_path, f"{begun}, {form}", unit) == (
        "A371",
        "the stepper needs its step",
        f"add {step}",
    )
    assert one(tmp_path, f"{begun}, {step}", unit) == (
        "A371",
        "the stepper needs its format",
        f"add {form}",
    )
    assert one(tmp_path, f"slider stove.wanted, {form}", unit) == (
        "A372",
        "the slider has no step",
        f"add {step}",
    )
    assert told(tmp_path, f"{begun}, {step}, {form}", unit) == []


@pytest.mark.parametrize("again", ["15 °C", "59 °F", "288.15 K", "15.3 °C"])
def test_options_that_ask_for_the_same_are_told(tmp_path: Path, again: str) -> None:
    sentence = 'choice stove.wanted of 15 °C or {} or 25 °C, called "T"'
    code, message, remedy = one(tmp_path, sentence.format(again))
    assert (code, remedy) == ("A383", "leave one of them out, or write another value")
    assert message == f"{again} asks for the same as 15 °C"
    assert told(tmp_path, sentence.format("77 °F").replace(" or 25 °C", "")) == []
    assert one(tmp_path, sentence.format("77 °F"))[1] == "25 °C asks for the same as 77 °F"
    assert told(tmp_path, sentence.format("16 °C")) == []


@pytest.mark.parametrize(
    ("same", "apart"),
    [
        ('motor.mode of "Calm" or "Normal" or "Calm"', 'motor.mode of "Calm" or "Normal" or "Hill"'),
        ("house.lights of on or on", "house.lights of on or off"),
    ],
)
def test_words_and_flags_that_are_the_same_are_told(same: str, apart: str) -> None:
    for options, codes in ((same, ["A383"]), (apart, [])):
        layout, _ = parse(one_screen(f'choice {options}, called "C"'), "x.layout")
        design = replace(dunlin(), screens={"only": layout.screens[0]}, start="only")
        assert [item.code for item in arrange(design)[1]] == codes
