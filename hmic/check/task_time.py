"""How long an act takes while driving, by keystroke-level figures for touch screens in vehicles.

Elwart, Green, Lin, "Touch-screen task-element times for improving SAE recommended practice J2365: a first
proposal", 2015: seconds to find a place on the screen, to bring the hand there from the wheel (far) or from
another place of the screen (near), and to press. Eyes are taken to be on the screen for all of it; what
drivers of another age need, and what a passenger sees, is not in the figures.
"""

from __future__ import annotations

from typing import NamedTuple

from hmic.arrange.canvas import TouchFact
from hmic.check.values_shown import is_vehicle_speed, words_of
from hmic.model.actions import ZoneAction
from hmic.model.design import Design

SEARCH, REACH_FAR, REACH_NEAR, PRESS = 0.54, 0.75, 0.42, 0.64
"""Seconds (read in the document)."""
GEARS = frozenset(("gear", "parked", "standing"))


class TaskTime(NamedTuple):
    """``seconds`` of a whole act, and of its ``longest`` step, after which the eyes can be on the road."""

    seconds: float
    longest: float


def task_time(touches_before: int, action: ZoneAction) -> TaskTime:
    """Of an act behind so many touches that lead to its screen. While a finger is held the eyes may be
    elsewhere; an answer is pressed where the finger is."""
    first = SEARCH + REACH_FAR + PRESS
    answer = SEARCH + PRESS if action.confirm is not None else 0.0
    seconds = first + touches_before * (SEARCH + REACH_NEAR + PRESS) + answer + action.held_ms / 1000
    return TaskTime(seconds, first)


def while_moving(fact: TouchFact, design: Design) -> bool:
    """Whether an act can be asked for in a moving vehicle: no condition of it reads the speed, or what the
    gear is."""
    if fact.action.allowed is None:
        return True
    names = fact.action.allowed.signals
    return not any(is_vehicle_speed(name, design) or GEARS & set(words_of(name)) for name in names)
