"""Doubt ends while values go on moving, whatever was lost before."""

from __future__ import annotations

from itertools import product

import pytest

from hmic.wire import host_session
from tests.bench.heal import Healing

pytestmark = pytest.mark.usefixtures("either_session")

PART = 2
DOWN, UP = 6, 2
WITHIN = 0.25


@pytest.mark.parametrize("moving", [1, 5])
def test_no_pattern_of_losses_keeps_doubt_alive(moving: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every way to lose the next frames of both ends, with a list of three parts; then each frame
    arrives, and every value is live within the time of a pulse, two questions and their mending."""
    monkeypatch.setattr(host_session, "REFRESH_VALUES", PART)
    worst = 0.0
    for fates in product((False, True), repeat=DOWN + UP):
        line = Healing(115200, 5, moving)
        line.run(0.305)
        line.fates[0].extend(fates[:DOWN])
        line.fates[1].extend(fates[DOWN:])
        end = line.now + 5.0
        while any(line.fates) and line.now < end:
            line.step(0.004)
        begun = line.now
        last = begun
        while line.now < begun + 2.0:
            line.step(0.004)
            last = line.now if line.doubtful() else last
        worst = max(worst, last - begun)
    assert worst < WITHIN


@pytest.mark.parametrize(("count", "moving"), [(16, 16), (64, 64), (64, 5), (216, 216), (216, 5), (947, 5)])
def test_lost_parts_of_long_lists_heal(count: int, moving: int) -> None:
    line = Healing(115200, count, moving)
    line.run(3.0)
    assert line.healed_after(1) < 0.5
