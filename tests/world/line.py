"""The serial line between a host's port and the display, with the faults that events give it."""

from __future__ import annotations

import random
from collections import Counter, deque
from collections.abc import Callable

from hmic.link.any_link import LinkLost
from tests.world.plan import NOISE, Event

BUFFER = 4095
"""Bytes that a port's driver takes before it takes no more."""
LATENCY = 0.002


class Way:
    """One direction. Every byte leaves at the line's rate; faults strike it as it leaves."""

    def __init__(
        self, baud: int, troubles: list[tuple[Event, random.Random]], struck: Counter[str]
    ) -> None:
        self._struck = struck
        self._second = 10.0 / baud
        self._troubles = troubles
        self._under_way: deque[tuple[float, int]] = deque()
        self._free_at = 0.0
        self.carried = 0

    def put(self, data: bytes, now: float) -> int:
        """How many bytes the driver took."""
        waiting = max(0, int((self._free_at - now) / self._second))
        taken = data[: max(0, BUFFER - waiting)]
        for value in taken:
            leaves = max(now, self._free_at)
            for trouble, _ in self._troubles:
                if trouble.kind == "stall" and trouble.at <= leaves < trouble.ends:
                    leaves = trouble.ends
                    self._struck["stall"] += 1
            self._free_at = leaves + self._second
            self._under_way.append((self._free_at + LATENCY, value))
        self.carried += len(taken)
        return len(taken)

    def take(self, now: float) -> bytes:
        """What has arrived."""
        out = bytearray()
        while self._under_way and self._under_way[0][0] <= now:
            at, value = self._under_way.popleft()
            out += self._arrived(value, at)
        return bytes(out)

    def cut(self, now: float) -> None:
        """All that is under way is lost."""
        self._under_way.clear()
        self._free_at = now

    def next_arrival(self) -> float | None:
        """When the next byte is there."""
        return self._under_way[0][0] if self._under_way else None

    def _arrived(self, value: int, at: float) -> bytes:
        out = bytes((value,))
        for trouble, dice in self._troubles:
            if trouble.kind not in NOISE or not trouble.at <= at < trouble.ends:
                continue
            chance, before = trouble["chance"], out
            if trouble.kind == "bit errors":
                out = bytes(
                    each ^ sum(1 << bit for bit in range(8) if dice.random() < chance) for each in out
                )
            elif dice.random() < chance:
                out = {"loss": b"", "doubling": out + out, "insertion": out + dice.randbytes(1)}[trouble.kind]
            self._struck[trouble.kind] += out != before
        return out


class Line:
    """The wires. ``whole`` is false while they are unplugged; ``port`` while the host's adapter is out.
    ``struck`` counts by kind what events changed."""

    def __init__(self, baud: int, troubles: list[Event], struck: Counter[str]) -> None:
        self.whole = self.port = True
        self.struck = struck
        seeded = [[(each, random.Random(f"{way}{each}")) for each in troubles] for way in ("forth", "back")]
        self.forth, self.back = (Way(baud, each, struck) for each in seeded)

    def cut(self, now: float) -> None:
        """What is under way is lost."""
        self.forth.cut(now)
        self.back.cut(now)


class HostEnd:
    """The port that a host has opened. ``mine`` tells whether the wires lead to this host now."""

    def __init__(self, line: Line, now: Callable[[], float], mine: Callable[[], bool]) -> None:
        self._line, self._now, self._mine = line, now, mine
        self._held = b""
        self._open = True

    def gather(self) -> None:
        """The driver takes in what has arrived."""
        if self._line.whole and self._line.port and self._mine():
            self._held = (self._held + self._line.back.take(self._now()))[-BUFFER:]

    @property
    def ready(self) -> bool:
        """Something can be read."""
        return bool(self._held)

    def read(self) -> bytes:
        """As ``Link``."""
        self._check()
        self.gather()
        held, self._held = self._held, b""
        return held

    def write(self, data: bytes) -> int:
        """As ``Link``."""
        self._check()
        if not (self._line.whole and self._mine()):
            self._line.struck["unplugged"] += not self._line.whole
            return len(data)
        return self._line.forth.put(data, self._now())

    def close(self) -> None:
        """As ``Link``."""
        self._open = False

    def set_rate(self, baud: int) -> None:
        """Nothing: no event asks for another rate."""

    def descriptor(self) -> int | None:
        """Something that is not None: the world knows when there is something to read."""
        return 0

    def _check(self) -> None:
        if not self._open or not self._line.port:
            self._line.struck["port gone"] += not self._line.port
            raise LinkLost("the port is gone")
