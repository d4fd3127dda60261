"""Pixels that are not square: measured in millimetres on what is painted."""

from __future__ import annotations

import random

import numpy
import pytest

from hmic.arrange.compose import Arranged, arrange
from hmic.language.parser import parse
from hmic.model.design import Design, Panel
from hmic.pack.writer import write
from hmic.paint.operations import LIVE, NO_MASK, Frame, Mask, Moment, Reveal, Slide, Stencil
from hmic.paint.painter import Painter
from tests.tools.changed import replace
from tests.tools.widget_pictures import dunlin

WIDTH, HEIGHT = 400, 240


def glass(sentence: str, ratio: float, more: str = "") -> tuple[Design, Arranged]:
    """A sentence on a panel whose pixels are ``ratio`` times as wide as high."""
    pitch = 0.2
    panel: Panel = replace(
        dunlin().panel, width=WIDTH, height=HEIGHT, width_mm=WIDTH * pitch * ratio, height_mm=HEIGHT * pitch
    )
    text = f'screen only "Only"\n    plan\n        here\n{more}    in here {sentence}\n'
    tree, found = parse(text, "x.layout")
    assert not found
    design = replace(dunlin(), panel=panel, screens={"only": tree.screens[0]}, start="only", order=())
    arranged, told = arrange(design)
    assert arranged is not None, told
    return design, arranged


def lit(arranged: Arranged, step: int = 0) -> tuple[float, float, float, float]:
    """Left, top, right and bottom in px of what differs from the ground, soft edges by their share."""
    channels = (LIVE + step,) * len(arranged.channels)
    painted = Painter(arranged.drawing).paint(Moment(0, 0, channels))
    picture = numpy.asarray(painted.convert("L")).astype(float)
    share = abs(picture - picture[0, 0])
    share /= share.max()
    ends = []
    for axis in (0, 1):
        line = share.max(axis=axis)
        places = numpy.nonzero(line > 0.04)[0]
        ends.append((places[0] + 1 - line[places[0]], places[-1] + line[places[-1]]))
    (left, right), (top, bottom) = ends
    return left, top, right, bottom


ROUND = {
    "disc": "shape disc, colour ink",
    "ring": "shape ring, colour ink",
    "clock": "clock with hands",
    "dial": "dial motor.temperature from 0 °C to 140 °C, sweep from -180° to 180°, figures none",
}


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("name", ["disc", "ring"])
def test_a_circle_is_round_to_the_eye(name: str, seed: int) -> None:
    ratio = random.Random(seed).uniform(0.88, 1.13)
    design, arranged = glass(ROUND[name], ratio)
    left, top, right, bottom = lit(arranged)
    panel = design.panel
    wide = (right - left) * panel.width_mm / panel.width
    high = (bottom - top) * panel.height_mm / panel.height
    off = abs(ratio - 1) if panel.square else 0.0
    # A pixel's share at both ends.
    assert abs(wide - high) <= 0.2 + off * high
    assert abs((left + right) / 2 - WIDTH / 2) <= 1


def corner(mask: Mask) -> tuple[float, float]:
    """How much is left out of the lowest row of a mask before its left corner ends, and of the first column.
    A battery has a terminal at its top."""
    rows = numpy.frombuffer(mask.coverage, numpy.uint8).reshape(mask.height, mask.width) / 15
    half = rows[::-1][: mask.height // 2, : mask.width // 2]
    across, down = ((1 - half).cumprod(axis=axis).sum(axis=axis) for axis in (1, 0))
    return float(across[0]), float(down[0])


@pytest.mark.parametrize("ratio", [0.9, 1.0, 1.074])
@pytest.mark.parametrize(
    "sentence",
    [
        "bar pack.charge from 0 % to 100 %, with round ends, without marks",
        "bar pack.charge from 0 % to 100 %, upward, with round ends, segments every 50 %, without marks",
        "level pack.charge from 0 % to 100 %, shaped tank",
        "level pack.charge from 0 % to 100 %, shaped battery",
        "shape box, colour ink, corner 12 mm",
        "slider motor.regen from 0 % to 100 %, in steps of 5 %",
    ],
)
def test_round_ends_and_corners_are_round_to_the_eye(sentence: str, ratio: float) -> None:
    """The corners of every filling, shape and knob, in millimetres of each direction."""
    design, arranged = glass(sentence, ratio)
    panel, masks = design.panel, arranged.drawing.masks
    sizes = []
    for operation in arranged.drawing.screens[0].operations:
        if isinstance(operation, Frame):
            sizes.append((masks[operation.corner].width, masks[operation.corner].height))
        elif isinstance(operation, Stencil | Reveal | Slide) and operation.mask != NO_MASK:
            sizes.append(corner(masks[operation.mask]))
    seen = [(wide, high) for wide, high in sizes if min(wide, high) > 3]
    assert seen
    for wide, high in seen:
        assert abs(wide * panel.pitch_across - high * panel.pitch) <= 0.25


@pytest.mark.parametrize("ratio", [0.9, 1.074])
@pytest.mark.parametrize("name", ["clock", "dial"])
def test_scale_and_needle_turn_on_a_circle(name: str, ratio: float) -> None:
    """The scale's own extents, and a needle that is as long when it lies as when it stands."""
    design, arranged = glass(ROUND[name], ratio)
    left, top, right, bottom = lit(arranged)
    panel = design.panel
    wide = (right - left) * panel.width_mm / panel.width
    high = (bottom - top) * panel.height_mm / panel.height
    assert abs(wide - high) <= 0.6
    for outline in arranged.drawing.outlines[-1:]:
        tips = []
        for polygon in outline.polygons:
            middle = numpy.mean([numpy.mean(each, axis=0) for each in outline.polygons], axis=0)
            spread = (numpy.asarray(polygon) - middle) * (panel.pitch_across, panel.pitch) / 16
            tips.append(numpy.hypot(*spread.T).max())
        assert max(tips) - min(tips) <= 0.3


def test_lengths_are_told_by_each_direction() -> None:
    for ratio in (1.0, 1.074, 0.9):
        more = "    margin 0 mm\n    gap 0 mm\n"
        _, arranged = glass(
            "freely\n        shape box, colour ink, at 20 mm across 20 mm down, sized 10 mm", ratio, more
        )
        left, top, right, bottom = lit(arranged)
        assert abs((left + right) / 2 * 0.2 * ratio - 20) <= 0.2
        assert abs((top + bottom) / 2 * 0.2 - 20) <= 0.2


def test_a_panel_that_is_nearly_square_is_taken_for_a_square_one() -> None:
    packs = {write(glass(ROUND["dial"], ratio)[1].drawing) for ratio in (1.0, 0.98, 1.02)}
    assert len(packs) == 1


@pytest.mark.parametrize("ratio", [1.0, 1.11])
def test_a_number_keeps_clear_of_its_unit(ratio: float) -> None:
    _, arranged = glass('dial motor.temperature from 0 °C to 140 °C, as "0 °C", text 40 arcmin', ratio)
    figures, unit = (fact.box for fact in arranged.screens[0].texts if "°C" in fact.text)
    assert 2 <= unit.left - (figures.left + figures.width) <= 20
