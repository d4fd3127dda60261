"""What random worlds meet once in hours is met, and survived: one short world for each."""

from __future__ import annotations

import pytest

from tests.bench.world import SELDOM
from tests.world.plan import Event, Plan, Setup, event
from tests.world.world import live

PLANS: dict[str, tuple[Setup, tuple[Event, ...]]] = {
    "push in vain": (
        Setup(107, length=30.0), (event(3.95, "unplugged", 14.0), event(4.0, "push", cuts=())),
    ),
    "R714": (Setup(10, length=7.0), (event(3.0, "sender repeats", 3.0, message=0),)),
    "R755": (Setup(107, length=30.0), (event(3.0, "drive", 20.0), event(8.0, "disk full", 18.0))),
    "display in 'silent': Show": (Setup(213, length=7.5), (event(5.004, "stall", 1.4),)),
    "display in 'met': Greet of another host or session": (
        Setup(107, baud=9600, length=9.0),
        (event(4.0, "host restarted", 0.3), event(4.33, "host killed", 0.3)),
    ),
}  # fmt: skip


def test_each_has_its_world() -> None:
    assert PLANS.keys() == SELDOM.keys()


@pytest.mark.parametrize("name", PLANS)
def test_what_is_seldom_met_is_survived(name: str) -> None:
    outcome = live(Plan(1, *PLANS[name]))
    assert not outcome.failures, "\n".join(map(str, outcome.failures))
    assert outcome.met[name]
