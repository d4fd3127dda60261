"""What is painted when, and as what: every pair of conditions, every step and every coverage, against the
painter itself and against the definition spelt out."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from hmic.check.painted import Painted, goes_with, never_together
from hmic.check.seen_through import blended
from hmic.paint.operations import (
    LIVE,
    NO_CHANNEL,
    Box,
    Drawing,
    Fill,
    Ink,
    Mask,
    Moment,
    ScreenDrawing,
    Stencil,
    Theme,
    When,
)
from hmic.paint.painter import Painter

BOX = Box(0, 0, 4, 1)
STEPS = 3
RAW = range(LIVE + STEPS)
RANGES = [None, *(When(0, low, high) for low in RAW for high in RAW if low <= high), When(1, 3, 4)]


def fill(when: When | None, ink: Ink = Ink(0)) -> Fill:  # noqa: B008
    return Fill(BOX, ink, when)


def painted_at(when: When | None, raw: tuple[int, int]) -> bool:
    return when is None or when.low <= raw[when.channel] <= when.high


MOMENTS = list(itertools.product(RAW, RAW))


@pytest.mark.parametrize("one", RANGES, ids=str)
def test_never_together_is_what_no_moment_shows(one: When | None) -> None:
    """Told of conditions on one channel; two channels may take any two values."""
    for other in RANGES:
        both = any(painted_at(one, raw) and painted_at(other, raw) for raw in MOMENTS)
        assert never_together(fill(one), fill(other)) == (not both), (one, other)


@pytest.mark.parametrize("inner", RANGES, ids=str)
def test_a_place_goes_with_what_is_painted_only_while_it_is(inner: When | None) -> None:
    """Of two conditions on one channel; without a condition a place is there in any case, which is asked
    elsewhere."""
    for outer in RANGES:
        always = all(painted_at(outer, raw) for raw in MOMENTS if painted_at(inner, raw))
        alike = inner is not None and outer is not None and inner.channel == outer.channel
        assert goes_with(fill(outer), fill(inner)) == (alike and always), (outer, inner)


def drawn(*operations: Any) -> Drawing:
    """A panel of 4 x 1 with two channels of three steps and eight greys."""
    theme = Theme("day", tuple((30 * at, 30 * at + 1, 30 * at + 2) for at in range(8)), 80)
    masks = tuple(Mask(4, 1, bytes((coverage,) * 4)) for coverage in range(16))
    screen = ScreenDrawing("all", operations, (0, 1), ())
    return Drawing(4, 1, 24, (theme,), masks, (), (), (STEPS, STEPS), (screen,), 0)


@pytest.mark.parametrize("coverage", range(16))
@pytest.mark.parametrize(("under", "ink"), [(0, 7), (7, 0), (3, 4), (5, 5)])
def test_a_soft_ink_is_blended_as_the_painter_does(coverage: int, under: int, ink: int) -> None:
    drawing = drawn(fill(None, Ink(under)), Stencil(BOX, coverage, Ink(ink)))
    picture = Painter(drawing).paint(Moment(0, 0, (LIVE, LIVE)))
    colours = drawing.themes[0].colours
    assert blended(colours[ink], colours[under], coverage) == picture.convert("RGB").getpixel((0, 0))


@pytest.mark.parametrize("when", RANGES, ids=str)
@pytest.mark.parametrize("tint", [0, NO_CHANNEL])
def test_the_steps_of_a_tint_are_those_at_which_it_is_painted(tint: int, when: When | None) -> None:
    operation = fill(when, Ink(2, tint))
    drawing = drawn(operation)
    screen: Any = _arranged(drawing)
    steps = list(Painted(screen, 0).steps(operation))
    if tint == NO_CHANNEL:
        assert steps == [0]
        return
    seen = {raw[0] - LIVE for raw in MOMENTS if raw[0] >= LIVE and painted_at(when, raw)}
    assert steps == sorted(seen)


def _arranged(drawing: Drawing) -> Any:
    from types import SimpleNamespace

    channel = SimpleNamespace(value=None)
    screen = SimpleNamespace(pieces=(), texts=(), name="all")
    return SimpleNamespace(drawing=drawing, screens=(screen,), channels=(channel, channel))


@pytest.mark.parametrize("low", range(LIVE, LIVE + STEPS))
@pytest.mark.parametrize("coverage", [7, 8])
def test_what_lies_beneath_is_every_colour_that_can_be_seen_there(low: int, coverage: int) -> None:
    """A text's place over a place that is there from some step on, over another that always is: by painting
    every moment without it. A mask counts where it covers more than half."""
    bed, over = fill(None, Ink(1)), Stencil(BOX, coverage, Ink(3, 1), When(1, low, LIVE + STEPS - 1))
    top = fill(None, Ink(7))
    whole = Painted(_arranged(drawn(bed, over, top)), 0)
    seen = {pair.under for pair in whole.pairs(2)}
    expected = {1}
    if coverage > 7:
        expected |= {3 + step for step in range(low - LIVE, STEPS)}
    assert seen == expected


@pytest.mark.parametrize("when", RANGES, ids=str)
def test_a_condition_leaves_of_what_is_beneath_only_what_it_goes_with(when: When | None) -> None:
    """A place tinted by channel 0 beneath what is painted on a condition of it, or of another channel."""
    top = Stencil(BOX, 15, Ink(7), when)
    whole = Painted(_arranged(drawn(fill(None, Ink(2, 0)), top)), 0)
    live = [raw for raw in MOMENTS if raw[0] >= LIVE and painted_at(when, raw)]
    assert {pair.under for pair in whole.pairs(1)} == {2 + raw[0] - LIVE for raw in live}
