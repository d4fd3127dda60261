"""Random kinds of trouble that a sound run shrugs off: with a fault planted, an oracle says no to each."""

from __future__ import annotations

from typing import Any
from unittest import mock

from hmic.runtime import keeping
from hmic.runtime.run import Loop
from tests.world.plan import Plan, Setup, event
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
