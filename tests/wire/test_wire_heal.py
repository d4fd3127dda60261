"""Doubt ends while values go on moving, whatever was lost before."""

from __future__ import annotations

from itertools import product

import pytest

from hmic.wire import host_values
from hmic.wire.sizes import FRAME_SECONDS, VALUE_LEAD
from tests.bench.heal import Healing
from tests.wire.joint import NEVER, TICK, Explored, Joint, components, endless, explore, together

DOWN, UP = 6, 2
WITHIN = 0.25


def explored(joint: Joint, room: int) -> Explored:
    """All that losses, moving values and time in any order lead to."""
    found = explore(joint, room, 30_000)
    assert len(found.states) > 300 and any(found.asking)
    # Two bytes of check: one spoilt frame in 65536 passes.
    assert found.chance <= len(found.states) // 5000
    return found


@pytest.mark.parametrize(
    ("count", "slowest", "under_way", "room"), [(2, 0, 1, 2), (1, 1, 2, 1), (1, 1, 1, 1)]
)
def test_no_circle_of_states_keeps_doubt_alive(
    count: int, slowest: int, under_way: int, room: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All states that losses, moving values and time in any order lead to: from none of them is there a way
    on without a loss that asks again and again. In the last, the host has to find out first that frames
    are under way for longer than it thought."""
    assert endless(explored(together(count, slowest, under_way * TICK, monkeypatch), room)) == 0


def test_the_exploration_finds_an_endless_circle(monkeypatch: pytest.MonkeyPatch) -> None:
    """A host that never learns how long frames are under way goes back again for each repeated Want."""
    joint = together(1, 1, TICK, monkeypatch)
    monkeypatch.setattr(host_values, "UNDER_WAY_LIMIT", TICK)
    assert endless(explored(joint, 1)) > 0


@pytest.mark.parametrize("late", [TICK, NEVER])
def test_no_loss_makes_an_old_value_look_live(late: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """In no state that can be reached does the display show a value as live that was untrue for as long as
    makes it late when the host last proved it; a host that knows of no lateness is found out."""
    found = explored(together(1, 0, TICK, monkeypatch, late), 1)
    if late == NEVER:
        assert found.untrue > TICK and not found.late
    else:
        assert found.untrue < TICK and found.late > len(found.states) // 4 and endless(found) == 0


@pytest.mark.parametrize("late", [TICK, NEVER])
def test_no_slow_line_makes_an_old_value_look_live(late: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same on a line that takes less than what moves."""
    found = explore(together(2, 0, TICK, monkeypatch, late, slow=True), 1, 30_000, losses=False)
    if late == NEVER:
        assert found.untrue >= TICK and not found.late
    else:
        assert found.untrue < TICK and found.late > len(found.states) // 4


def test_components_of_a_small_graph() -> None:
    part = components([[1], [2, 3], [0], [4], [5], [4, 6], []])
    assert part[0] == part[1] == part[2] and part[4] == part[5]
    assert len({part[0], part[3], part[4], part[6]}) == 4


@pytest.mark.usefixtures("either_session")
@pytest.mark.parametrize("moving", [1, 5])
def test_no_pattern_of_losses_keeps_doubt_alive(moving: int) -> None:
    """Every way to lose the next frames of both ends; then each frame arrives, and every value is live
    within the time of a pulse, two questions and their mending."""
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
            last = line.now if line.stale() else last
        worst = max(worst, last - begun)
    assert worst < WITHIN


@pytest.mark.usefixtures("either_session")
@pytest.mark.parametrize("mends", [0, 1, 2])
@pytest.mark.parametrize(
    ("baud", "count", "moving", "doubt", "oldest"),
    [
        (115200, 16, 16, 0.0, 0.3),
        (115200, 64, 64, 0.0, 0.3),
        (115200, 216, 216, 0.0, 0.3),
        (115200, 947, 947, 0.0, 0.35),
        (9600, 16, 16, 0.0, 0.35),
        (9600, 64, 64, 0.05, 0.4),
        (9600, 216, 216, 0.15, 0.75),
        (9600, 947, 947, 0.8, 1.0),
        (9600, 947, 5, 0.1, 0.35),
    ],
)
def test_lost_frames_and_their_mends(
    baud: int, count: int, moving: int, doubt: float, oldest: float, mends: int
) -> None:
    """All values move while it heals. 947 of them are more than 9600 Bd take, losses or not: those at the end
    of the list stay stale."""
    line = Healing(baud, count, moving)
    line.run(4.0)
    line.forget()
    line.lose(mends)
    line.run(1.0)
    assert line.doubt <= doubt and line.oldest <= oldest
    assert line.stale() < (0.6 if (baud, moving) == (9600, 947) else 0.001)


@pytest.mark.usefixtures("either_session")
@pytest.mark.parametrize("errors", [0.0, 1e-4, 1e-3])
@pytest.mark.parametrize(("baud", "count"), [(9600, 216), (9600, 947), (115200, 947)])
def test_nothing_looks_live_that_is_older_than_a_second(baud: int, count: int, errors: float) -> None:
    """Every value moves ten times a second, on lines that take it and lines that do not. Beyond the second
    there is the way of a frame: what waits for the line before it, and itself."""
    line = Healing(baud, count)
    while line.now < 2.0:
        line.step(0.004)
    line.forget()
    line.errors = errors
    while line.now < 6.0:
        line.step(0.004)
    assert line.oldest <= 1.0 + VALUE_LEAD + FRAME_SECONDS + line.latency
    assert line.stale() < 1.0
