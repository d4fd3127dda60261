"""Bounds and limits of the line, against frames as they are written: what is said ahead of time is enough,
and no more than is needed."""

from __future__ import annotations

import pytest

from hmic.wire import bounds, frames, messages, varint
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Phase
from hmic.wire.host_rate import RATE_TRIES, Rate
from hmic.wire.host_session import HostSession
from hmic.wire.sent import SentValues
from hmic.wire.sent_units import Flight, Units
from hmic.wire.sizes import BATCH, OVERHEAD
from hmic.wire.updates import decode_changes, encode_changes, encode_fill
from tests.wire.bad_line import MemoryStore

WHOLE = varint.LIMIT


@pytest.mark.parametrize(
    ("bound", "message"),
    [
        (bounds.HEARD, messages.Heard(WHOLE)),
        (bounds.RESUME, messages.Resume(WHOLE, 0xFFFF)),
        (bounds.OFFER, messages.Offer(255, WHOLE, b"\xff" * 32)),
    ],
)
def test_a_message_takes_its_bound_at_most_and_that_can_come(bound: int, message: messages.Message) -> None:
    body = messages.encode(message)
    assert len(frames.encode(body)) <= len(body) + OVERHEAD == bound


def bodies(count: int, move: int, room: int) -> list[bytes]:
    """All positions move at once and as far as they may, every other one down, which suits no Fill."""
    sent = SentValues(count, 0, [])
    sent.aim((20_000,) * count, 0.0)
    while sent.behind:
        sent.advance(500, 0.0)
    sent.aim(tuple(20_000 + (-move if at % 2 else move) for at in range(count)), 0.0)
    made = []
    while sent.behind:
        made.append(sent.advance(room, 0.0))
    return made


@pytest.mark.parametrize("move", [1, 2, 6, 31, 400, 9000])
@pytest.mark.parametrize("count", [1, 2, 5, 7])
def test_the_bound_of_one_frame_is_what_it_takes(count: int, move: int) -> None:
    (body,) = bodies(count, move, 500)
    assert bounds.value_frames((move,) * count, 500) == (len(body), 1)
    assert bounds.value_bytes((move,) * count, 500) == len(body) + OVERHEAD


@pytest.mark.parametrize("move", [1, 400, 9000])
def test_frames_that_end_early_cost_their_heads(move: int) -> None:
    """One after the first positions, one before the list's end; no skip is longer than 8 bits and 3."""
    first, frames_of_first = bounds.value_frames((move,) * 32, 500)
    whole, frames_of_whole = bounds.value_frames((move,) * 40, 500)
    assert (frames_of_first, frames_of_whole) == (1, 3)
    assert first * 40 / 32 <= whole + 1 and whole <= first * 40 / 32 + 2 * 5


@pytest.mark.parametrize("move", [1, 31, 400, 9000])
@pytest.mark.parametrize("room", [16, 24, 56])
def test_the_bound_of_several_frames_is_not_much_more_than_they_take(room: int, move: int) -> None:
    made = bodies(200, move, room)
    most = bounds.value_frames((move,) * 200, room)
    took = sum(map(len, made))
    assert len(made) <= most[1] and took <= most[0] <= 2 * (took + room)
    assert bounds.value_frames((0, 0), room) == (0, 0)


def test_updates_come_as_often_as_the_line_allows() -> None:
    """STEPS.md: ten times a second; oftener where that takes a tenth of the line at most, but not oftener
    than film; less often where it would take more than seven tenths, but twice a second at least."""
    seen = set()
    for rate in (50, 200, 400, 960, 2000, 4000, 11520, 50_000, 1e6):
        for count in (1, 10, 100):
            moves = (400,) * count
            needs = bounds.value_bytes(moves, 56) / rate
            apart = bounds.batch_seconds(moves, rate, 56)
            if apart == 1 / 30:
                assert needs / apart <= 0.1
            elif apart < BATCH:
                assert needs / apart == pytest.approx(0.1)
            elif apart == BATCH:
                assert 0.1 <= needs / apart <= 0.7
            elif apart < 0.5:
                assert needs / apart == pytest.approx(0.7)
            else:
                assert apart == 0.5 and needs / apart >= 0.7
            seen.add((apart == 1 / 30, apart < BATCH, apart == BATCH, apart < 0.5))
    assert len(seen) == 5


def test_a_block_keeps_the_line_for_its_time_or_for_one_unit() -> None:
    """64 bytes of a pack at least, with 8 before them and 4 around; 40 ms where that is longer."""
    assert bounds.block_seconds(960.0) == 76 / 960
    assert bounds.block_seconds(1e6) == 0.04 + 14 / 1e6


def test_a_touch_that_was_heard_is_answered_at_once() -> None:
    host = HostSession(3, 11520.0)
    display = DisplaySession(DisplayFacts(7, 1024, 600, 16, None, 1 << 21, 512, 1), MemoryStore())
    host.show(0, 0, 80, 0)
    now = 0.0
    for _ in range(100):
        now += 0.01
        display.receive(host.outgoing(now), now)
        host.receive(display.outgoing(now), now)
    assert host.next_deadline() > now
    display.touch(0, Phase.PRESS, 5, 5, now)
    host.receive(display.outgoing(now), now)
    assert host.next_deadline() <= now and host.outgoing(now)


@pytest.mark.parametrize("limit", range(16, 40))
def test_a_fill_that_does_not_hold_all_is_full(limit: int) -> None:
    """Of steps of three bits no byte stays empty."""
    target = [at % 2 for at in range(1000)]
    for first, place in ((0, 0), (5, 0)):
        body, taken = encode_fill([0] * 1000, target, first, 1000, place, limit=limit)
        assert len(body) == limit and taken.values[first : taken.place] == target[first : taken.place]
        assert taken.values[taken.place :] == [0] * (1000 - taken.place)


def test_a_change_says_something_and_is_filled_with_less_than_a_byte() -> None:
    body, _ = encode_changes([0] * 8, [0, 3, 0, 0, 0, 0, 9, 0], 99)
    assert decode_changes(body, 8) == ((1, 3), (6, 9))
    for more in (b"\xff", b"\xff\xff\xff"):
        assert decode_changes(body + more, 8) is None
    assert decode_changes(bytes((0b1_00_11111,)), 8) is None


def test_a_report_of_a_block_that_never_left_is_none() -> None:
    units = Units(10, 4)
    for unit in (0, 1):
        units.leave(Flight(unit, 1, False, 70, 0.01, 0.0))
        told = units.report(messages.Need(0, unit + 1, False, unit + 1, ()), 1.0)
        assert told is not None and [(each.flight.first, each.lost) for each in told] == [(unit, False)]
        for serial, base in ((unit + 2, 2), (255, 2), (unit + 1, 11)):
            assert units.report(messages.Need(0, serial, False, base, ()), 1.0) is None
    assert units.held() == 2 and units.next_missing() == 2


def test_a_higher_rate_that_broke_three_times_is_left_alone() -> None:
    rate = Rate(9600, 115200)
    for number in range(RATE_TRIES):
        rate.begin(1_000_000, 0.0)
        assert rate.asking, number
        asked = rate.ask(0.0)
        assert asked == messages.Rate(115200) and rate.take(asked.baud) and not rate.asking
        assert rate.part()
    rate.begin(1_000_000, 0.0)
    assert not rate.asking and not rate.take(115200)


def test_values_that_never_rest_wait_until_the_others_have_been_told() -> None:
    restless = (40, 41, 42)
    sent, target, told = SentValues(120, 0, []), [5] * 120, 0
    while sent.values[119] != 5:
        before = sent.values
        sent.aim(tuple(target), 0.0)
        sent.advance(16, 0.0)
        for at in restless:
            told += sent.values[at] != before[at]
            target[at] += sent.values[at] == target[at]
    assert told == len(restless)
