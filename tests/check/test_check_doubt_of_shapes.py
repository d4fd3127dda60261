"""What is nearest to a live look in doubt, for each way that doubt is painted: distances by coloraide."""

from __future__ import annotations

from itertools import pairwise

import pytest
from coloraide import Color
from good_design import FILES, arranged_in

from hmic.arrange.compose import Arranged
from hmic.check import doubt_look
from hmic.check.painted import Painted
from hmic.diagnostics import Finding
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.paint.operations import Axis, Box, Fill, Ink, Operation, Reveal, Run, Slide, When
from tests.tools.changed import replace

RGB = tuple[int, int, int]
Good = tuple[Design, Arranged]

BOX = Box(10, 10, 60, 30)
GROUND, STALE, FIRST, SECOND = (8, 6, 5), (161, 138, 172), (248, 243, 230), (255, 208, 74)
TONE = (150, 130, 160)
"""Near to the doubt ink."""


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Good:
    design, arranged, _ = arranged_in(tmp_path_factory.mktemp("heron"), FILES)
    return design, arranged


def distance(one: RGB, other: RGB) -> float:
    ours = (Color("srgb", [part / 255 for part in each]) for each in (one, other))
    return float(next(ours).delta_e(next(ours), method="2000"))


def found_of(
    good: Good, operations: list[Operation], colours: tuple[RGB, ...], apart: int = 0
) -> list[Finding]:
    """What the check finds of one widget that has these operations, on a screen of its own; of two where the
    first so many are ``apart``."""
    design, arranged = good
    theme = replace(arranged.drawing.themes[0], colours=colours)
    screen = replace(arranged.drawing.screens[0], operations=(Fill(BOX, Ink(0)), *operations))
    drawing = replace(arranged.drawing, themes=(theme,), screens=(screen,), depth=24)
    ends = (1, 1 + apart, 1 + len(operations)) if apart else (1, 1 + len(operations))
    pieces = tuple(
        replace(arranged.screens[0].pieces[0], first=first, last=last) for first, last in pairwise(ends)
    )
    fact = replace(arranged.screens[0], pieces=pieces)
    one = replace(arranged, drawing=drawing, screens=(fact,))
    single = replace(design, themes=design.themes[:1])
    return doubt_look.check(single, one, Limits(single), [Painted(one, 0)])


def flag_of(good: Good) -> int:
    """A channel of the vehicle with two steps."""
    painted = Painted(good[1], 0)
    counts = good[1].drawing.channels
    return next(at for at, steps in enumerate(counts) if steps == 2 and painted.tells(at))


def text_of(good: Good) -> Run:
    runs = (item for item in good[1].drawing.screens[0].operations if isinstance(item, Run))
    return next(item for item in runs if item.when is None)


@pytest.mark.parametrize("near", [0, 1])
def test_a_text_in_doubt_is_in_the_doubt_ink(good: Good, near: int) -> None:
    """Of its two colours the nearer one counts."""
    run = replace(text_of(good), ink=Ink(2, flag_of(good)))
    assert found_of(good, [run], (GROUND, STALE, FIRST, SECOND)) == []
    inks = [FIRST, SECOND]
    inks[near] = TONE
    (finding,) = found_of(good, [run], (GROUND, STALE, *inks))
    assert finding.code == "C455" and finding.limit == 10
    assert finding.measured == pytest.approx(distance(TONE, STALE), abs=0.01)
    # What lies beneath is no help: it lies beneath the live text as well.
    (same,) = found_of(good, [run], (STALE, STALE, *inks))
    assert same.measured == finding.measured


def test_a_filled_place_in_doubt_shows_what_lies_beneath(good: Good) -> None:
    """A hatch of the doubt ink tells even where that is the live colour, as long as the ground differs."""
    place = Fill(BOX, Ink(2, flag_of(good)))
    assert found_of(good, [place], (GROUND, STALE, TONE, SECOND)) == []
    (finding,) = found_of(good, [place], (TONE, STALE, TONE, SECOND))
    assert finding.measured == pytest.approx(distance(TONE, STALE), abs=0.01)


def test_a_bar_in_doubt_differs_from_an_empty_one_too(good: Good) -> None:
    bar = Reveal(BOX, flag_of(good), Axis.RIGHTWARD, 0, 0xFFFF, Ink(2))
    assert found_of(good, [bar], (GROUND, STALE, FIRST)) == []
    (finding,) = found_of(good, [bar], (TONE, STALE, FIRST))
    assert finding.measured == pytest.approx(distance(TONE, STALE), abs=0.01)


def test_what_vanishes_in_doubt_is_never_like_it(good: Good) -> None:
    mask = next(item.mask for item in good[1].drawing.screens[0].operations if hasattr(item, "mask"))
    slide = Slide(BOX, flag_of(good), Axis.RIGHTWARD, mask, Ink(2))
    assert found_of(good, [slide], (GROUND, STALE, STALE)) == []


def test_the_limit_itself_is_enough(good: Good) -> None:
    """Greys just inside and just outside of 10 by CIEDE2000."""
    run = replace(text_of(good), ink=Ink(2, flag_of(good)))
    for level in range(90, 130):
        found = found_of(good, [run], (GROUND, (100, 100, 100), (level,) * 3, FIRST))
        assert bool(found) is (distance((level,) * 3, (100, 100, 100)) < 10), level


@pytest.mark.parametrize(
    ("ranges", "silent"),
    [
        # A word for each value, and one for each doubt or one for all: raw 0, 1 and 2 are doubts.
        ([(3, 3), (4, 4)], True),
        ([(3, 3), (4, 4), (0, 0), (1, 1), (2, 2)], False),
        ([(3, 3), (4, 4), (0, 2)], False),
        ([(3, 3), (4, 4), (0, 1), (1, 2)], False),
        ([(3, 3), (4, 4), (0, 1)], True),
        ([(3, 3), (4, 4), (1, 2)], True),
        ([(3, 3), (4, 4), (0, 0), (2, 2)], True),
        # What stands there for a live value too tells of no doubt.
        ([(4, 4), (0, 3)], True),
        ([(4, 4), (0, 0), (1, 3)], True),
    ],
)
def test_what_comes_and_goes_must_tell_each_doubt_by_itself(
    good: Good, ranges: list[tuple[int, int]], silent: bool
) -> None:
    shapes: list[Operation] = [Fill(BOX, Ink(2), When(flag_of(good), low, high)) for low, high in ranges]
    found = found_of(good, shapes, (GROUND, STALE, FIRST))
    assert [each.code for each in found] == (["C455"] if silent else [])
    assert all("looks the same while its value is in doubt" in each.message for each in found)


def test_of_two_widgets_each_is_told(good: Good) -> None:
    """The one that tells of no doubt, and the one beside it whose doubt looks live."""
    mute = Fill(BOX, Ink(2), When(flag_of(good), 3, 3))
    alike = replace(text_of(good), ink=Ink(3, flag_of(good)))
    found = found_of(good, [mute, alike], (GROUND, STALE, FIRST, TONE, SECOND), apart=1)
    assert [each.measured is None for each in found] == [True, False]


def test_how_a_touch_fares_is_never_in_doubt(good: Good) -> None:
    painted = Painted(good[1], 0)
    touch = next(at for at in painted.drawing.screens[0].channels if not painted.tells(at))
    states = good[1].drawing.channels[touch]
    run = replace(text_of(good), ink=Ink(2, touch))
    assert found_of(good, [run], (GROUND, STALE, *[TONE] * states)) == []
