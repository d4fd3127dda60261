"""Two wires for both ways, and a rate agreed on: a push and values pass, and faults are survived."""

from __future__ import annotations

from collections import deque
from random import Random

import pytest

from hmic.link.half_duplex import SHARE, HalfDuplexDisplay, HalfDuplexHost
from hmic.pack.records import identity
from hmic.wire import frames, messages
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import (
    Activated,
    Connected,
    DisplayFacts,
    Outcome,
    Phase,
    RateChanged,
    Shown,
    Touched,
    Transferred,
    Values,
)
from hmic.wire.host_session import HostSession
from tests.wire.bad_line import MemoryStore

BASE = 9600


class Wires:
    """One pair of wires: what one end says the other hears; if both speak at once, both are spoilt.
    Each end has its own rate; at another rate than the speaker's a listener hears noise."""

    def __init__(self, shared: bool, seed: int = 1) -> None:
        self.now = 0.0
        self.shared = shared
        self.rate = [BASE, BASE]
        self.limit = 3_000_000
        self.collisions = self.bytes = 0
        self.dice = Random(seed)
        self.errors = 0.0
        self._free = [0.0, 0.0]
        self._queue: list[deque[tuple[float, int]]] = [deque(), deque()]

    def put(self, way: int, data: bytes) -> None:
        self.bytes += len(data)
        for value in data:
            start = max(self._free[way], self.now)
            self._free[way] = start + 10 / self.rate[way]
            if self.shared and self._free[1 - way] > start:
                self.collisions += 1
                value = self.dice.randrange(256)
            if self.dice.random() < self.errors or self.rate[way] > self.limit:
                value ^= 1 << self.dice.randrange(8)
            if self.rate[0] != self.rate[1]:
                value = self.dice.randrange(256)
            self._queue[way].append((self._free[way], value))

    def get(self, way: int) -> bytes:
        out = bytearray()
        while self._queue[way] and self._queue[way][0][0] <= self.now:
            out.append(self._queue[way].popleft()[1])
        return bytes(out)

    def busy(self, way: int) -> bool:
        return self._free[way] > self.now


class End:
    """One end of the wires as a link."""

    def __init__(self, wires: Wires, way: int) -> None:
        self.wires, self.way = wires, way

    def read(self) -> bytes:
        return self.wires.get(1 - self.way)

    def write(self, data: bytes) -> int:
        room = 0 if self.wires.busy(self.way) else 64
        self.wires.put(self.way, data[:room])
        return min(room, len(data))

    def close(self) -> None:
        pass

    def set_rate(self, baud: int) -> None:
        self.wires.rate[self.way] = baud

    def descriptor(self) -> int | None:
        return None


class Pair:
    """Both sessions, with loops like those of the push and of the display."""

    def __init__(self, shared: bool = False, fastest: tuple[int, int] = (0, 0)) -> None:
        self.wires = Wires(shared)
        near, far = End(self.wires, 0), End(self.wires, 1)
        self.near = HalfDuplexHost(near, BASE, lambda: self.wires.now) if shared else near
        self.far = HalfDuplexDisplay(far, BASE) if shared else far
        self.store = MemoryStore()
        self.fastest = fastest
        self.host = HostSession(5, BASE / 10 * (SHARE if shared else 1), fastest[0])
        self.display = DisplaySession(self.facts(), self.store)
        self.events: list[object] = []
        self.values: tuple[int, ...] = ()
        self.unsent = [b"", b""]
        self.raw = [0] * 12

    def facts(self) -> DisplayFacts:
        known = None if self.store.active is None else identity(self.store.active)
        return DisplayFacts(9, 1024, 600, 16, known, 1 << 21, 512, 1, fastest=self.fastest[1])

    def run(self, seconds: float) -> None:
        end = self.wires.now + seconds
        while self.wires.now < end:
            self.wires.now += 0.001
            self.step(self.wires.now)

    def step(self, now: float) -> None:
        for event in self.host.receive(self.near.read(), now):
            self.events.append(event)
            if isinstance(event, RateChanged):
                self.near.set_rate(event.baud)
            if isinstance(event, Connected):
                self.show()
        self.unsent[0] = self.unsent[0] or self.host.outgoing(now)
        self.unsent[0] = self.unsent[0][self.near.write(self.unsent[0]) :]
        for told in self.display.receive(self.far.read(), now):
            if isinstance(told, Shown):
                self.values = ()
            if isinstance(told, Values):
                self.values = told.raw
            if isinstance(told, Activated):
                self.display.repack(self.facts())
        self.unsent[1] += self.display.outgoing(now)
        self.unsent[1] = self.unsent[1][self.far.write(self.unsent[1]) :]
        if not self.unsent[1] and not self.wires.busy(1):
            rate = self.display.take_rate()
            if rate is not None:
                self.far.set_rate(rate or BASE)

    def show(self) -> None:
        self.host.show(0, 0, 80, 12)
        self.host.update(self.raw, self.wires.now)

    def change(self) -> None:
        self.raw = [(value + 7 * at) % 90 + 3 for at, value in enumerate(self.raw, 1)]
        self.host.update(self.raw, self.wires.now)

    def right(self) -> bool:
        return self.values == tuple(self.raw)

    def rates(self) -> list[int]:
        return [event.baud for event in self.events if isinstance(event, RateChanged)]


def test_two_wires_carry_values_touches_and_a_push() -> None:
    pair = Pair(shared=True)
    pair.show()
    pair.run(1.0)
    assert pair.right()
    for _ in range(10):
        pair.change()
        pair.run(0.25)
        assert pair.right()
    assert pair.display.touch(2, Phase.PRESS, 3, 4, pair.wires.now)
    pair.run(0.15)
    assert any(isinstance(event, Touched) for event in pair.events)
    pack = Random(1).randbytes(6000)
    pair.host.transfer(pack)
    pair.run(14.0)
    assert Transferred(Outcome.ACTIVATED) in pair.events and pair.store.active == pack
    pair.run(1.5)
    assert pair.right()
    assert pair.wires.collisions == 0


def test_a_calm_screen_leaves_two_wires_alone() -> None:
    """Turns are rare until a finger comes; then they come as fast as it moves."""
    pair = Pair(shared=True)
    pair.show()
    pair.run(1.0)
    pair.wires.bytes = 0
    pair.run(4.0)
    assert pair.right() and pair.wires.bytes < 0.15 * 4 * BASE / 10
    for mark in range(10):
        before = pair.wires.now
        assert pair.display.touch(2, Phase(mark % 2), mark, 4, before)
        while not any(isinstance(event, Touched) and event.x == mark for event in pair.events):
            pair.run(0.001)
        assert pair.wires.now - before < (0.15 if mark == 0 else 0.08)
        pair.run(0.1)


def test_two_wires_on_a_bad_line() -> None:
    pair = Pair(shared=True)
    pair.show()
    pair.wires.errors = 0.003
    for _ in range(40):
        pair.run(0.1)
        pair.change()
    pair.wires.errors = 0.0
    pair.run(2.0)
    assert pair.right()


@pytest.mark.parametrize(
    ("host", "display", "agreed"), [(921600, 3_000_000, 921600), (3_000_000, 115200, 115200)]
)
def test_the_highest_common_rate_is_agreed(host: int, display: int, agreed: int) -> None:
    pair = Pair(fastest=(host, display))
    pair.show()
    pack = Random(2).randbytes(30_000)
    pair.host.transfer(pack)
    pair.run(4.0)
    assert pair.rates()[0] == agreed
    assert Transferred(Outcome.ACTIVATED) in pair.events and pair.store.active == pack
    pair.run(2.0)
    assert pair.right()


@pytest.mark.parametrize("fastest", [(0, 921600), (921600, 0), (9600, 9600)])
def test_an_end_that_has_one_rate_keeps_it(fastest: tuple[int, int]) -> None:
    pair = Pair(fastest=fastest)
    pair.show()
    pair.run(1.0)
    assert pair.rates() == [] and pair.right()


def test_a_rate_that_the_wires_do_not_carry_is_given_up() -> None:
    pair = Pair(fastest=(921600, 921600))
    pair.wires.limit = 500_000
    pair.show()
    pair.run(12.0)
    assert pair.rates() == [921600, BASE] * 3
    assert pair.wires.rate == [BASE, BASE] and pair.right()
    pair.change()
    pair.run(0.3)
    assert pair.right()


@pytest.mark.parametrize("seed", range(5))
def test_a_bad_line_while_agreeing(seed: int) -> None:
    pair = Pair(fastest=(115200, 115200))
    pair.wires.dice = Random(seed)
    pair.wires.errors = 0.02
    pair.show()
    pair.run(6.0)
    pair.wires.errors = 0.0
    pair.run(4.0)
    pair.change()
    pair.run(0.4)
    assert pair.wires.rate[0] == pair.wires.rate[1] and pair.right()


class Heard:
    """A line that brings what is put there and keeps what is said."""

    def __init__(self) -> None:
        self.came, self.said = b"", b""

    def read(self) -> bytes:
        came, self.came = self.came, b""
        return came

    def write(self, data: bytes) -> int:
        self.said += data
        return len(data)

    def close(self) -> None:
        pass


def test_what_waits_for_a_turn_is_what_is_so_by_then() -> None:
    """Of what tells how things stand the newest is said, of what has happened all of it, in order."""
    line = Heard()
    end = HalfDuplexDisplay(line, 1_000_000)
    told = [
        messages.Want(1, 3),
        messages.Touch(0, 0, None, Phase.PRESS, 1, 1, 0),
        messages.Alone(),
        messages.DisplayBeat(1, 3, 0),
        messages.Need(1, 4, False, 0, ()),
        messages.Want(1, 3),
        messages.Touch(1, 0, None, Phase.RELEASE, 1, 1, 0),
        messages.DisplayBeat(1, 4, 0),
        messages.Need(1, 5, False, 9, ()),
        messages.Want(1, 4),
    ]
    for message in told:
        data = frames.encode(messages.encode(message), 77)
        assert end.write(data[:2]) == 2 and end.write(data[2:]) == len(data) - 2
    line.came = frames.encode(messages.encode(messages.Turn()))
    end.read()
    said = [messages.decode(frame.body) for frame in frames.FrameDecoder().receive(line.said)]
    assert said == [told[at] for at in (1, 2, 6, 7, 8, 9)] + [messages.Over()]


def test_a_display_that_never_gets_a_turn_keeps_little() -> None:
    line = Heard()
    end = HalfDuplexDisplay(line, BASE)
    for number in range(2000):
        for message in (messages.Want(1, number), messages.DisplayBeat(1, number, 0)):
            data = frames.encode(messages.encode(message), 77)
            assert end.write(data) == len(data)
    assert len(end._waiting) < 40
