"""A line over links that come and go, against a model that only counts."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.diagnostics import DesignError, error
from hmic.link.any_link import LinkLost
from hmic.link.line import POLL, REOPEN, Line


class Port:
    """A port that can be pulled and stuck, and its links; ``taken`` is all that any link took."""

    def __init__(self) -> None:
        self.there, self.room, self.taken, self.opened = True, 1 << 30, b"", 0
        self.incoming = b""

    def open(self) -> PortLink:
        if not self.there:
            raise DesignError([error("W640", "no such port", None, "plug it in")])
        self.opened += 1
        return PortLink(self)


class PortLink:
    """One opening of a port."""

    def __init__(self, port: Port) -> None:
        self._port, self.rate = port, 0

    def _check(self) -> None:
        if not self._port.there:
            raise LinkLost("the port is gone")

    def read(self) -> bytes:
        self._check()
        data, self._port.incoming = self._port.incoming, b""
        return data

    def write(self, data: bytes) -> int:
        self._check()
        taken = data[: self._port.room]
        self._port.room -= len(taken)
        self._port.taken += taken
        return len(taken)

    def close(self) -> None:
        pass

    def set_rate(self, baud: int) -> None:
        self._check()
        self.rate = baud

    def descriptor(self) -> int | None:
        return None


def test_what_the_first_opening_raises_comes_through() -> None:
    port = Port()
    port.there = False
    with pytest.raises(DesignError):
        Line(port.open)


def test_a_lost_link_is_told_once_and_opened_again_after_half_a_second() -> None:
    port = Port()
    line = Line(port.open)
    port.there = False
    assert line.read(1.0) == b""
    assert (line.is_open, line.take_loss(), line.take_loss()) == (False, "the port is gone", None)
    assert line.next_look(1.0) == 1.0 + REOPEN
    assert line.write(b"lost", 1.1) == 0
    port.there, port.incoming = True, b"new"
    assert line.read(1.0 + REOPEN - 0.01) == b""
    assert line.read(1.0 + REOPEN) == b"new"
    assert (line.take_return(), line.take_return(), port.opened) == (True, False, 2)
    assert line.unsent == 0


def test_an_opening_that_fails_is_tried_again_no_sooner_than_that() -> None:
    port = Port()
    line = Line(port.open)
    port.there = False
    line.read(0.0)
    line.read(REOPEN)
    port.there = True
    line.read(2 * REOPEN - 0.01)
    assert not line.is_open
    line.read(2 * REOPEN)
    assert line.is_open


def test_a_loss_while_writing_or_changing_the_rate_is_a_loss() -> None:
    for act in (lambda line: line.write(b"x", 0.0), lambda line: line.set_rate(9600, 0.0)):
        port = Port()
        line = Line(port.open)
        port.there = False
        act(line)
        assert line.take_loss() == "the port is gone"


def test_a_closed_line_stays_closed() -> None:
    port = Port()
    line = Line(port.open)
    line.close()
    line.close()
    assert line.read(1e9) == b"" and not line.is_open and port.opened == 1


def test_a_full_link_is_looked_at_soon() -> None:
    port = Port()
    port.room = 2
    line = Line(port.open)
    assert line.write(b"abc", 5.0) == 2
    assert (line.unsent, line.next_look(5.0)) == (1, 5.0 + POLL)


ACTS = st.tuples(st.sampled_from(["write", "pull", "plug", "room"]), st.binary(max_size=9))


@given(st.lists(ACTS, max_size=60))
def test_bytes_leave_in_order_and_none_of_a_lost_link_afterwards(acts: list[tuple[str, bytes]]) -> None:
    port = Port()
    port.room = 0
    line = Line(port.open)
    owed, expected, now = b"", b"", 0.0
    for act, data in acts:
        now += 1.0
        match act:
            case "pull":
                port.there = False
            case "plug":
                port.there = True
            case "room":
                port.room += len(data)
        line.read(now)
        if not line.is_open:
            owed = b""
        elif act == "write":
            owed += data
        left = port.room
        taken = line.write(data if act == "write" else b"", now)
        assert taken == min(left, len(owed))
        expected, owed = expected + owed[:taken], owed[taken:]
        assert (port.taken, line.unsent) == (expected, len(owed))
