"""What touches do, one pixel, one guard, one screen to each side of the rule."""

from __future__ import annotations

from itertools import pairwise, product
from random import Random
from typing import Any

import pytest
from good_design import FILES, arranged_in

from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check import touches
from hmic.diagnostics import Finding, Severity
from hmic.language.syntax import Signal
from hmic.model.actions import GoTo, ZoneAction
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.paint.operations import Box
from tests.tools.changed import replace

Good = tuple[Design, Arranged]
BATTERY, ROAD = 0, 1
"""Screens, in the order of their names."""


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Good:
    design, arranged, _ = arranged_in(tmp_path_factory.mktemp("heron"), FILES)
    return design, arranged


def found_of(design: Design, arranged: Arranged, code: str) -> list[Finding]:
    return [found for found in touches.check(design, arranged, Limits(design)) if found.code == code]


def with_screen(arranged: Arranged, number: int, **change: Any) -> Arranged:
    screens = list(arranged.screens)
    screens[number] = replace(screens[number], **change)
    return replace(arranged, screens=tuple(screens))


def switch_of(arranged: Arranged) -> Any:
    """The touch that asks for the heater."""
    return next(fact for fact in arranged.screens[BATTERY].touches if touches.acts(fact.action) == "heat.on")


# A second press ---------------------------------------------------------------------------------


def pressed_twice(good: Good, middle: tuple[int, int], **change: Any) -> list[Finding]:
    """The button of the first screen has its middle there; the heater's switch, at 100, 50 and 80 by 40
    large, is changed like this."""
    _, arranged = good
    x, y = middle
    to_battery = next(
        fact for fact in arranged.screens[ROAD].touches if fact.action.action == GoTo("battery")
    )
    # Of an odd number of pixels the one in the middle.
    moved = to_battery._replace(box=Box(x - 20, y - 10, 41, 21))
    heater = switch_of(arranged)
    heater = heater._replace(box=Box(100, 50, 80, 40), action=replace(heater.action, **change))
    # What leads back stands there too, and the same control elsewhere.
    back = next(fact for fact in arranged.screens[BATTERY].touches if fact.action.action == GoTo("road"))
    back = back._replace(box=heater.box)
    elsewhere = heater._replace(box=Box(300, 300, 40, 40))
    there = with_screen(arranged, ROAD, touches=(moved,))
    there = with_screen(there, BATTERY, touches=(back, elsewhere, heater))
    return found_of(good[0], there, "C413")


@pytest.mark.parametrize(
    ("middle", "told"),
    [
        ((100, 50), True),
        ((99, 50), False),
        ((100, 49), False),
        ((179, 89), True),
        ((180, 89), False),
        ((179, 90), False),
    ],
)
def test_a_second_press_falls_on_what_lies_under_the_middle(
    good: Good, middle: tuple[int, int], told: bool
) -> None:
    assert bool(pressed_twice(good, middle)) is told


def test_a_condition_makes_it_a_note_and_a_guard_nothing(good: Good) -> None:
    (conditional,) = pressed_twice(good, (120, 60))
    assert conditional.severity is Severity.NOTE
    (bare,) = pressed_twice(good, (120, 60), allowed=None)
    assert bare.severity is Severity.WARNING
    assert pressed_twice(good, (120, 60), held_ms=1) == []
    assert pressed_twice(good, (120, 60), confirm="Heat?") == []
    assert pressed_twice(good, (120, 60), action=GoTo("road")) == []


# Over a reading ---------------------------------------------------------------------------------


def over_reading(good: Good, box: Box, **change: Any) -> list[Finding]:
    """The switch lies there; the reading of the voltage at 100, 50, 80 by 40 large, is changed like this."""
    _, arranged = good
    screen = arranged.screens[BATTERY]
    reading = next(text for text in screen.texts if text.reading)
    heater = switch_of(arranged)._replace(box=box)
    moved = replace(reading, box=Box(100, 50, 80, 40), **change)
    return found_of(good[0], with_screen(arranged, BATTERY, touches=(heater,), texts=(moved,)), "C414")


@pytest.mark.parametrize(
    ("box", "told"),
    [
        (Box(90, 50, 11, 40), True),
        (Box(90, 50, 10, 40), False),
        (Box(179, 50, 9, 40), True),
        (Box(180, 50, 9, 40), False),
        (Box(100, 40, 80, 11), True),
        (Box(100, 40, 80, 10), False),
        (Box(0, 0, 800, 480), True),
    ],
)
def test_a_target_is_over_a_reading_from_one_pixel_on(good: Good, box: Box, told: bool) -> None:
    assert bool(over_reading(good, box)) is told


def test_a_label_and_the_controls_own_words_may_lie_under_it(good: Good) -> None:
    everywhere = Box(0, 0, 800, 480)
    assert over_reading(good, everywhere, reading=False) == []
    assert over_reading(good, everywhere, span=switch_of(good[1]).span) == []


def test_the_reading_of_what_a_control_sets_may_lie_under_it(good: Good) -> None:
    design, arranged = good
    screen = arranged.screens[BATTERY]
    reading = next(text for text in screen.texts if text.reading)
    heater = switch_of(arranged)._replace(box=Box(0, 0, 800, 480))
    for name, told in (("heat.on", 0), ("pack.voltage", 1)):
        pieces = tuple(
            replace(piece, widget=replace(piece.widget, subject=Signal(name, None, piece.widget.head)))
            if piece.widget.head.line == reading.span.line
            else piece
            for piece in screen.pieces
        )
        there = with_screen(arranged, BATTERY, touches=(heater,), texts=(reading,), pieces=pieces)
        assert len(found_of(design, there, "C414")) == told


# Unguarded --------------------------------------------------------------------------------------


@pytest.mark.parametrize("guards", product([False, True], repeat=4))
def test_one_guard_is_enough(good: Good, guards: tuple[bool, bool, bool, bool]) -> None:
    """A condition, a hold, a question, or that its effect is shown there."""
    design, arranged = good
    condition, hold, question, shown = guards
    heater = switch_of(arranged)
    action = ZoneAction(
        heater.action.action,
        heater.action.allowed if condition else None,
        1 if hold else 0,
        "Heat?" if question else None,
    )
    there = with_screen(arranged, BATTERY, touches=(heater._replace(action=action),), pieces=())
    if not shown:
        drawing = there.drawing
        bare = replace(drawing.screens[BATTERY], channels=())
        screens = (*drawing.screens[:BATTERY], bare, *drawing.screens[BATTERY + 1 :])
        there = replace(there, drawing=replace(drawing, screens=screens))
    assert len(found_of(design, there, "C415")) == (not any(guards))


# Far away ---------------------------------------------------------------------------------------


def walked(count: int, steps: set[tuple[int, int]]) -> list[list[float]]:
    """The least steps between all pairs, by Floyd and Warshall."""
    far = float("inf")
    away = [[1 if (at, to) in steps else far for to in range(count)] for at in range(count)]
    for at in range(count):
        away[at][at] = 0
    for middle, at, to in product(range(count), repeat=3):
        away[at][to] = min(away[at][to], away[at][middle] + away[middle][to])
    return away


@pytest.mark.parametrize("seed", range(60))
def test_how_far_a_control_is_from_the_first_screen(good: Good, seed: int) -> None:
    """Screens in a random order of swipes from side to side, some left out of it, with buttons and swipes of
    their own at random: more than six touches are told, the touch itself and its question counted."""
    design, arranged = good
    dice = Random(seed)
    count = dice.randint(2, 14)
    names = [f"s{at}" for at in range(count)]
    order = dice.sample(names, dice.randint(0, count))
    confirmed = [dice.random() < 0.5 for _ in names]
    steps = {(dice.randrange(count), dice.randrange(count)) for _ in range(dice.randint(0, 3))}
    swipes = {(dice.randrange(count), dice.randrange(count)) for _ in range(dice.randint(0, 3))}
    heater = switch_of(arranged)
    screens = []
    for at, name in enumerate(names):
        goes = [ZoneAction(GoTo(names[to])) for start, to in steps if start == at]
        asks = replace(heater.action, confirm="Heat?" if confirmed[at] else None)
        screens.append(
            ArrangedScreen(
                name,
                arranged.screens[ROAD].span,
                (*goes, asks),
                tuple((dice.choice(("up", "down")), names[to]) for start, to in swipes if start == at),
                (),
                False,
                (),
                (heater._replace(action=asks), heater._replace(action=asks)),
            )
        )
    drawing = replace(arranged.drawing, screens=arranged.drawing.screens[:1] * count)
    made = replace(arranged, drawing=drawing, screens=tuple(screens))
    start = dice.randrange(count)
    found = found_of(replace(design, start=names[start], order=tuple(order)), made, "C416")
    beside = {(names.index(one), names.index(other)) for one, other in pairwise(order)}
    away = walked(count, steps | swipes | beside | {(to, at) for at, to in beside})[start]
    wanted = {
        names[at]: away[at] + 1 + confirmed[at]
        for at in range(count)
        if 6 < away[at] + 1 + confirmed[at] < float("inf")
    }
    told = {each.message.split("'")[3]: each.measured for each in found}
    assert told == wanted and len(found) == len(wanted)
    assert all(each.severity is Severity.NOTE and names[start] in each.message for each in found)
