"""Round glass: what the circle cuts off is found, measured here on painted pixels by another way."""

from __future__ import annotations

import random

import numpy
import pytest

from hmic.arrange.compose import Arranged, arrange
from hmic.check.rules import check
from hmic.language.parser import parse
from hmic.model.design import Design, Panel
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from tests.tools.changed import replace
from tests.tools.widget_pictures import dunlin

SIDE, MM = 320, 53.0


def glass(text: str) -> tuple[Design, Arranged]:
    """A layout of one screen on round glass."""
    panel: Panel = replace(dunlin().panel, width=SIDE, height=SIDE, width_mm=MM, height_mm=MM, round=True)
    tree, findings = parse(text, "x.layout")
    assert not findings
    design = replace(dunlin(), panel=panel, screens={"only": tree.screens[0]}, start="only", order=())
    arranged, found = arrange(design)
    assert arranged is not None, found
    return design, arranged


def farthest(arranged: Arranged) -> float:
    """By how many px the pixel farthest out that differs from the ground lies beyond the circle."""
    channels = tuple(3 for _ in arranged.channels)
    picture = numpy.asarray(Painter(arranged.drawing).paint(Moment(0, 0, channels))).astype(int)
    ground = picture[0, 0] if not (picture[0, 0] - picture[-1, -1]).any() else picture[SIDE // 2, 0]
    rows, columns = numpy.nonzero((abs(picture - ground) > 96).any(axis=2))
    return float(numpy.hypot(columns + 0.5 - SIDE / 2, rows + 0.5 - SIDE / 2).max() - SIDE / 2)


@pytest.mark.parametrize("seed", range(40))
def test_what_the_rim_hides_is_told(seed: int) -> None:
    dice = random.Random(seed)
    left, top = dice.randint(1, 34), dice.randint(1, 40)
    text = (
        f"screen only \"Only\"\n    plan\n        .  .\n        .  here\n    columns {left} mm, 1\n"
        f"    rows {top} mm, 1\n    margin 0 mm\n    gap 0 mm\n"
        '    in here  label "Ohm", text 3 mm, aligned left\n'
    )
    design, arranged = glass(text)
    beyond = farthest(arranged)
    told = [item for item in check(design, arranged) if item.code == "C485"]
    if abs(beyond) > 2:
        assert bool(told) == (beyond > 0), beyond


def test_a_plan_without_a_margin_lies_within_the_circle() -> None:
    text = (
        'screen only "Only"\n    plan\n        a  b\n        c  d\n'
        + "".join(f"    in {name}  shape box, colour ink\n" for name in "abcd")
    )
    _, arranged = glass(text)
    assert -20 < farthest(arranged) < 0


def test_a_target_at_the_round_rim_is_told_and_one_in_the_middle_is_not() -> None:
    head = 'screen only "Only"\n    plan\n        here  .\n        .     there\n'
    body = '    in {}  button "Go", toggles house.lights, held 1 s\n'
    for margin, codes in (("    margin 0 mm\n", {"C412", "C485"}), ("", set())):
        design, arranged = glass(head + margin + body.format("here"))
        assert {item.code for item in check(design, arranged)} & {"C412", "C485"} == codes


@pytest.mark.parametrize(("across", "told"), [(6, True), (20, False)])
def test_a_pipe_beneath_the_rim_is_told_once(across: int, told: bool) -> None:
    text = (
        'screen only "Only"\n    plan\n        here\n    margin 0 mm\n    in here freely\n'
        f"        joint above at {across} mm across 8 mm down\n"
        f"        joint below at {across} mm across 26 mm down\n"
        "        pipe from above to below, colour quiet\n"
    )
    design, arranged = glass(text)
    found = [item for item in check(design, arranged) if item.code == "C485"]
    assert len(found) == told and all("the pipe reaches" in item.message for item in found)
    assert all(item.span is not None and item.span.line == 8 for item in found)
