"""What a sound run shrugs off, or does right: with a fault planted, an oracle says no to each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from unittest import mock

import pytest

from hmic.runtime import keeping, touching
from hmic.runtime.requests import Requests
from hmic.runtime.rising import Sight
from hmic.runtime.run import Loop
from hmic.runtime.theming import Theming
from hmic.runtime.touching import Fingers
from tests.tools.changed import replace
from tests.world.plan import Event, Plan, Setup, event
from tests.world.world import World, live


def test_a_run_by_the_wall_clock_is_found() -> None:
    calm = Plan(1, Setup(107, length=14.0), (event(6.0, "wall clock", by=86400.0),))
    assert not live(calm).failures
    world, whole = World(calm), Loop.turn
    with mock.patch.object(Loop, "turn", lambda loop, now: whole(loop, now + world.clock.wall)):
        found = world.live().failures
    assert {each.oracle for each in found} & {"heal", "stale", "truth"}


def test_a_run_that_waits_for_a_full_disk_is_found() -> None:
    calm = Plan(1, Setup(107, length=30.0), (event(3.0, "drive", 20.0), event(8.0, "disk full", 18.0)))
    assert not live(calm).failures
    world, whole = World(calm), keeping.save_sums

    def waiting(*given: Any) -> None:
        try:
            whole(*given)
        except OSError:
            world.block(4.0)

    with mock.patch.object(keeping, "save_sums", waiting):
        found = world.live().failures
    assert {each.oracle for each in found} & {"heal", "stale"}


_judge = Fingers._judge


def _without(**what: Any) -> Any:
    """Touches are judged as if no control had said this of itself."""

    def judge(fingers: Fingers, *given: Any, **named: Any) -> Any:
        zones = fingers._zones
        fingers._zones = tuple(replace(zone, **what) for zone in zones)
        try:
            return _judge(fingers, *given, **named)
        finally:
            fingers._zones = zones

    return judge


@dataclass(frozen=True)
class Planted:
    """A fault, ``instead`` of what ``owner`` calls ``name``, that ``oracle`` finds in an else sound world."""

    owner: Any
    name: str
    instead: Any
    oracle: str
    setup: Setup
    events: tuple[Event, ...]


TAP = event(2.0, "tap", 0.1, zone=1)
PLANTED = {
    "a control need not be held": Planted(
        Fingers, "_judge", _without(held_ms=0), "bus", Setup(216, length=5.0), (TAP,)
    ),
    "a control asks no question": Planted(
        Fingers, "_judge", _without(confirm=None), "bus", Setup(200, length=5.0), (TAP,)
    ),
    "a question is answered before it can be read": Planted(
        touching, "READ_WITHIN", 0.0, "bus", Setup(200, length=5.0),
        (event(2.0, "answer", 0.1, zone=1, after=0.2),),
    ),
    "a control's own condition counts for nothing": Planted(
        Fingers, "_judge", _without(allowed=None), "bus", Setup(213, length=8.0),
        (event(3.0, "drive", 4.0), event(5.4, "tap", 0.1, zone=0)),
    ),
    "an output is asked for sooner than it says": Planted(
        Requests, "_too_soon", lambda *_: None, "bus", Setup(202, length=5.0),
        (TAP, event(2.5, "tap", 0.1, zone=1)),
    ),
    "no screen comes up by itself": Planted(
        Sight, "weigh", lambda *_: None, "screen", Setup(203, length=8.0), ()
    ),
    "the theme stays as it is": Planted(
        Theming, "follow", lambda *_: False, "theme", Setup(201, length=11.0),
        (event(4.0, "other light", 6.0, lux=100),),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PLANTED)
def test_a_fault_of_screens_touches_and_themes_is_found(name: str) -> None:
    planted = PLANTED[name]
    plan = Plan(1, planted.setup, planted.events)
    assert not live(plan).failures
    with mock.patch.object(planted.owner, planted.name, planted.instead):
        found = live(plan).failures
    assert planted.oracle in {each.oracle for each in found}
