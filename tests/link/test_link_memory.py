"""The line in memory: what it carries, and when."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.link.any_link import LinkLost
from hmic.link.memory import Faults, MemoryLine


@settings(max_examples=50, derandomize=True)
@given(st.lists(st.binary(max_size=40), max_size=10))
def test_a_clean_line_carries_all_both_ways(pieces: list[bytes]) -> None:
    line = MemoryLine()
    for piece in pieces:
        assert line.near.write(piece) == len(piece)
        assert line.far.write(piece[::-1]) == len(piece)
    assert line.far.read() == b"".join(pieces)
    assert line.near.read() == b"".join(piece[::-1] for piece in pieces)
    assert line.far.read() == b""


def test_bytes_arrive_at_the_rate_after_the_latency() -> None:
    line = MemoryLine(forth=Faults(rate=100.0, latency=0.5))
    line.near.write(b"abcd")
    assert line.next_arrival() == pytest.approx(0.51)
    line.advance(0.5301)
    assert line.far.read() == b"abc"
    line.advance(0.2)
    assert line.far.read() == b""
    line.advance(1.0)
    assert line.far.read() == b"d" and line.next_arrival() is None


def test_a_full_sender_takes_no_more() -> None:
    line = MemoryLine(forth=Faults(rate=10.0, buffer=5))
    assert line.near.write(b"0123456789") == 5
    assert line.near.write(b"x") == 0
    line.advance(0.1001)
    assert line.near.write(b"xy") == 1
    assert line.near.carried == 6


def test_a_stall_holds_bytes_back() -> None:
    line = MemoryLine(forth=Faults(stalls=((0.0, 2.0),)))
    line.near.write(b"late")
    line.advance(1.99)
    assert line.far.read() == b""
    line.advance(2.0)
    assert line.far.read() == b"late"


def test_unplugging_loses_what_is_under_way() -> None:
    line = MemoryLine(forth=Faults(latency=1.0))
    line.near.write(b"gone")
    line.unplug()
    for end in (line.near, line.far):
        with pytest.raises(LinkLost):
            end.read()
        with pytest.raises(LinkLost):
            end.write(b"x")
    line.plug()
    line.advance(5.0)
    assert line.far.read() == b""
    line.near.close()
    with pytest.raises(LinkLost):
        line.near.read()


@pytest.mark.parametrize(
    ("faults", "low", "high"),
    [
        (Faults(loss=0.1), 8700, 9300),
        (Faults(duplication=0.1), 10700, 11300),
        (Faults(insertion=0.1), 10700, 11300),
        (Faults(bit_errors=0.01), 10000, 10000),
    ],
)
def test_faults_come_as_often_as_told_and_again_the_same(faults: Faults, low: int, high: int) -> None:
    def carried(seed: int) -> bytes:
        line = MemoryLine(forth=faults, seed=seed)
        for _ in range(10):
            line.near.write(bytes(1000))
        return line.far.read()

    first = carried(1)
    assert low <= len(first) <= high
    assert first == carried(1) != carried(2)
    if faults.bit_errors:
        assert 700 <= sum(value.bit_count() for value in first) <= 900
