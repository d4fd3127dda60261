"""What is taken for granted of moves, by the words of ``line_delays.py``, worked out by hand."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from hmic.check.line_delays import Line, Moves, calm_seconds, line_of, moves_of
from hmic.model.channels import LIVE, Channel, Listed, Scaled


def channel(count: int, urgency: int = 2, scaled: bool = True) -> Channel:
    steps: Any = Scaled(0.0, 1.0, count) if scaled else Listed(tuple(map(str, range(count))))
    return Channel(None, steps, urgency=urgency)


@pytest.mark.parametrize(
    ("count", "moves"), [(1, 0), (2, 1), (3, 1), (66, 1), (67, 2), (100, 2), (1000, 2), (65533, 2)]
)
def test_a_value_moves_by_two_steps_or_three_per_cent_or_one(count: int, moves: int) -> None:
    """Two, but no more than 0.03 of its range, or one; what has one step alone never moves."""
    found = moves_of([channel(count)], [False], [False], frozenset())
    assert found.moving == (moves,) and found.ranges == (LIVE + count - 1,)


def test_words_past_and_charts_do_not_move_by_themselves() -> None:
    channels = [channel(100, scaled=False), channel(100), channel(100), channel(100, 0), channel(100, 1)]
    past, traced = [False, True, False, False, False], [False, False, True, False, False]
    found = moves_of(channels, past, traced, frozenset({2}))
    assert found.moving == (0, 0, 0, 2, 2)
    assert found.ranges == (102, 0, 102, 102, 102)
    # Danger (0) and caution (1) are lamps.
    assert found.lamps == {3, 4} and found.prompt == {2}


def test_a_jump_is_all_moves_with_lamps_a_widget_and_the_widest_value() -> None:
    moves = Moves((1, 1, 1, 1, 1), (10, 20, 40, 40, 30), frozenset({0}), frozenset())
    # Of two that are as wide it is the first.
    assert moves.jump([]) == (10, 1, 40, 1, 1)
    assert moves.jump([4, 1]) == (10, 20, 40, 1, 30)
    assert Moves((), (), frozenset(), frozenset()).jump([]) == ()


@pytest.mark.parametrize("batch", [1 / 30, 0.04, 0.05, 0.07, 0.1, 0.13, 0.15, 0.19, 0.2, 0.21, 0.3, 0.5])
def test_what_only_changes_figures_waits_for_the_update_nearest_to_a_fifth_of_a_second(batch: float) -> None:
    """Nobody reads a number more often (``sizes.CALM``); it goes with an update of the others."""
    seconds = calm_seconds(batch)
    updates = seconds / batch
    assert updates == pytest.approx(round(updates)) and round(updates) >= 1
    assert abs(seconds - max(0.2, batch)) <= batch / 2 + 1e-9


MOVING = (2,) * 40


def test_a_faster_line_is_never_later_and_a_push_never_sooner() -> None:
    moves = Moves(MOVING, (103,) * 40, frozenset({0, 1}), frozenset({5}))
    jumps = [moves.jump([]), moves.jump([7, 8])]
    for slow, fast in pairwise(Line(baud / 10) for baud in (9600, 19200, 57600, 115200, 921600)):
        one, two = (line.delays(moves, jumps)[0] for line in (slow, fast))
        pushed = slow.delays(moves, jumps)[1]
        for name in ("at_once", "first", "rest"):
            assert getattr(two, name) <= getattr(one, name) < getattr(pushed, name)
        assert one.at_once is not None and one.first is not None and one.at_once <= one.first
        assert slow.load(MOVING) > fast.load(MOVING) or slow.batch(MOVING) > fast.batch(MOVING)


@pytest.mark.parametrize("baud", [9600, 115200])
def test_a_delay_is_no_longer_than_what_can_be_under_way_and_ahead(baud: int) -> None:
    """One lamp alone on a quiet line: bytes that wait (0.01 s), a frame under way, a lost frame's mend with
    its 0.03 s and what was under way then, replies, a sign of life, and its own frame; each at most 20 bytes
    or 0.025 s (PROTOCOL.md). It cannot be less than the two frames."""
    moves = Moves((0,), (4,), frozenset({0}), frozenset())
    frame = max(0.025, 20 / (baud / 10))
    found = Line(baud / 10).delays(moves, [moves.jump([])])[0]
    assert found.at_once is not None
    assert 2 * frame <= found.at_once <= 0.02 + 4 * frame + 0.03 + 5 * 20 / (baud / 10)


def test_two_wires_have_three_fifths_of_the_time_and_wait_for_a_turn() -> None:
    """PROTOCOL.md: the host speaks 0.6 of the time; a turn has guards of 0.004 s at both ends, 0.012 s or one
    frame of a reply, and Turn and Over."""
    one, two = line_of(115200, False), line_of(115200, True)
    assert (one.rate, one.turn) == (11520, 0)
    assert two.rate == pytest.approx(0.6 * 11520)
    assert 0.008 + 0.012 < two.turn < 0.008 + 0.012 + 540 / 11520


def test_what_moves_take_is_one_frame_and_one_more_for_each_pair() -> None:
    """One step of one value: 3 bits of head, 1 of the skip, 2 of the step; a byte, and 4 around it.
    A frame that ends early before a pair costs its bytes again (PROTOCOL.md)."""
    alone = Moves((1,), (4,), frozenset(), frozenset())
    assert (alone.size((1,), 56), alone.frames((1,), 56)) == (5, 1)
    assert (alone.size((0,), 56), alone.frames((0,), 56)) == (0, 0)
    told_by_two = Moves((1,), (4,), frozenset(), frozenset(), pairs=1)
    assert (told_by_two.size((1,), 56), told_by_two.frames((1,), 56)) == (10, 2)
