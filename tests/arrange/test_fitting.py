"""What is told of a thing larger than its place: what makes it so, and a remedy that helps when done."""

from __future__ import annotations

import re

import pytest

from hmic.arrange.compose import arrange
from hmic.arrange.fitting import ACCEPTABLE
from hmic.diagnostics import Finding, Span
from hmic.language.parser import parse
from hmic.model.design import LimitSetting
from tests.tools.changed import replace
from tests.tools.widget_pictures import dunlin

LAMP = 'lamp battery, danger while pack.fault, means "Battery fault"'
CHART = """chart over 600 s
        trace pack.voltage from 240 V to 390 V, colour accent, called "Battery"
        trace pack.power from -60 kW to 100 kW, colour good, called "Power\""""
PART = """part small (title, height 20 arcmin, side 11 mm)
    plan
        name
        heat
        sign
    in name     label title, text 16 arcmin
    in heat     reading motor.temperature as "0 °C", text height
    in sign     symbol motor, sized side

"""
PLAIN = {"title": '"M"', "height": "20 arcmin", "side": "11 mm"}


def placed(sentence: str, size: tuple[float, float]) -> str:
    """A layout with a sentence in a place of that size, in mm."""
    return (
        'screen only "Only"\n    plan\n        place  .\n        .      .\n'
        f"    columns {size[0]:.1f} mm, 1\n    rows {size[1]:.1f} mm, 1\n    in place    {sentence}\n"
    )


def told(
    sentence: str, size: tuple[float, float], limit: float | None = None, head: str = ""
) -> list[Finding]:
    """What is found in a place of the example's panel."""
    tree, findings = parse(head + placed(sentence, size), "x.layout")
    assert not findings
    parts = {part.name: part for part in tree.parts}
    limits = {}
    if limit is not None:
        limits[ACCEPTABLE] = LimitSetting(limit, "arcmin", "so that it fits", Span("design.yaml", 1, 1, 1, 1))
    design = replace(dunlin(), screens={"only": tree.screens[0]}, start="only", parts=parts, limits=limits)
    return arrange(design)[1]


def one(sentence: str, size: tuple[float, float], limit: float | None = None) -> Finding:
    (found,) = told(sentence, size, limit)
    assert found.remedy
    return found


@pytest.mark.parametrize(
    ("sentence", "size", "why"),
    [
        ('switch house.lights, on as "Awake", text 20 arcmin', (30, 12), "the wider of the two"),
        ('switch house.lights, called "Lights"', (40, 10), "5.1 mm of it around its word"),
        (CHART, (76, 36), 'mm for "Battery  240 … 390 V", 45.2 mm for "Power  −60 … 100 kW"'),
        ('button "Lights of the cabin", toggles house.lights', (8, 36), 'its widest word is "Lights"'),
        ("words inlet.state", (16, 16), "the longest that the signal can say"),
        ('choice motor.mode of "Calm" or "Normal" or "Hill"', (40, 16), "the widest of them"),
        (f'{LAMP}, sized 30 mm, called "Battery"', (36, 26), "5.1 mm of it for the caption"),
    ],
)
def test_the_message_says_what_takes_the_room(sentence: str, size: tuple[float, float], why: str) -> None:
    found = one(sentence, size)
    assert found.code in ("A350", "A351") and found.message.endswith(why)


@pytest.mark.parametrize(
    ("sentence", "size"),
    [
        ("switch house.lights", (20, 20)),
        ('switch house.lights, called "Lights of the living part"', (36, 20)),
        ('switch house.lights, called "Lights"', (40, 10)),
        (CHART, (76, 36)),
        ('reading pack.voltage as "0.0 V", text 30 arcmin', (16, 16)),
        ('button "Lights", toggles house.lights', (12, 16)),
        ('choice motor.mode of "Calm" or "Normal" or "Hill"', (46, 16)),
        ('choice motor.mode of "Calm" or "Normal" or "Hill"', (16, 56)),
        ('dial motor.temperature from 0 °C to 140 °C, as "0 °C"', (14, 36)),
        ('dial motor.temperature from 0 °C to 140 °C, as "0 °C"', (36, 14)),
        ('level pack.charge from 0 % to 100 %, shaped battery, as "0 %"', (26, 10)),
        ("slider motor.regen from 0 % to 100 %, in steps of 5 %", (26, 16)),
        ('slider motor.regen from 0 % to 100 %, in steps of 5 %, as "0 %"', (20, 16)),
        ("clock with hands", (8, 26)),
        (f'{LAMP}, called "Battery"', (8, 26)),
    ],
)
def test_a_larger_place_as_large_as_told_fits(sentence: str, size: tuple[float, float]) -> None:
    for _ in range(3):
        findings = told(sentence, size)
        if not findings:
            return
        grown = re.search(
            r"make its place ([\d.]+) mm (wider|higher)$", (findings[0].remedy or "").split(";")[0]
        )
        assert grown, findings[0].remedy
        more = float(grown.group(1))
        size = (size[0] + more, size[1]) if grown.group(2) == "wider" else (size[0], size[1] + more)
    raise AssertionError(told(sentence, size))


def test_a_panel_that_is_too_small_is_not_asked_to_grow() -> None:
    remedy = one('reading pack.voltage as "0 V", text 700 arcmin', (160, 90)).remedy or ""
    assert "its place" not in remedy and remedy.startswith("write text ")
    (found,) = told('label "I", text 700 arcmin', (90, 90), limit=690)
    assert (found.remedy or "").startswith("leave it out: the whole panel is 600 px")


@pytest.mark.parametrize("sentence", ["symbol pump, sized 30 mm", f'{LAMP}, sized 30 mm, called "Battery"'])
def test_the_size_of_a_pictogram_is_told_and_fits(sentence: str) -> None:
    remedy = one(sentence, (36, 24)).remedy or ""
    sized = re.match(r"write (sized [\d.]+ mm)", remedy)
    assert sized, remedy
    assert told(sentence.replace("sized 30 mm", sized.group(1)), (36, 24)) == []


def test_no_size_is_told_at_which_nothing_could_be_made_out() -> None:
    assert "sized" not in (one("symbol pump, sized 30 mm", (36, 6)).remedy or "")


def test_the_length_of_a_row_of_cells_is_told_and_fits() -> None:
    sentence = "cells pack.cells from 2.8 V to 4.2 V, rows of 48, filled by ramp voltage"
    remedy = one(sentence, (56, 26)).remedy or ""
    assert remedy.startswith("write rows of 18")
    assert told(sentence.replace("48", "18"), (56, 26)) == []


def test_no_text_below_the_acceptable_height_is_proposed() -> None:
    sentence = 'reading pack.voltage as "0.0 V", text 26 arcmin'
    assert (one(sentence, (15, 16)).remedy or "").endswith(
        "smaller text is no way out, 16 arcmin is the least (limit 'text acceptable')"
    )
    assert (one(sentence, (15, 16), limit=12).remedy or "").startswith("write text 1")
    assert "20 arcmin is the least" in (one(sentence, (19, 16), limit=20).remedy or "")


@pytest.mark.parametrize(
    ("argument", "value", "begins"),
    [
        ("title", '"Motorwechselrichter"', "shorten title where the part is used, or make its place "),
        ("height", "60 arcmin", "write height 27 arcmin where the part is used, or make its place "),
        ("side", "20 mm", "write side 11.3 mm where the part is used, or make its place "),
    ],
)
def test_inside_a_part_the_value_to_pass_is_named(argument: str, value: str, begins: str) -> None:
    given = {**PLAIN, argument: value}
    use = "use small with " + ", ".join(f"{name} {given[name]}" for name in given)
    (found,) = told(use, (26, 38), head=PART)
    assert (found.remedy or "").startswith(begins), found.remedy
    if "write" in begins:
        better = begins.split(" where")[0].split(" ", 2)[2]
        assert told(use.replace(f"{argument} {value}", f"{argument} {better}"), (26, 38), head=PART) == []
