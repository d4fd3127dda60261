"""A line in memory with the faults of a real one, under a clock that the caller moves.

Everything follows from the seed and the order of calls, so that a fault seen once can be seen again.
"""

from __future__ import annotations

import random
from collections import deque
from dataclasses import dataclass

from hmic.link.any_link import LinkLost


@dataclass(frozen=True)
class Faults:
    """What one direction does to its bytes. ``rate`` in bytes a second (None: at once), ``latency``
    in seconds. ``loss``, ``insertion`` and ``duplication`` are chances for each byte, ``bit_errors``
    for each bit. In a stall, from and to in seconds, bytes wait. ``buffer``: bytes the sender's end
    holds before it takes no more."""

    rate: float | None = None
    latency: float = 0.0
    loss: float = 0.0
    bit_errors: float = 0.0
    insertion: float = 0.0
    duplication: float = 0.0
    stalls: tuple[tuple[float, float], ...] = ()
    buffer: int = 4096


CLEAN = Faults()


class _Direction:
    def __init__(self, faults: Faults, seed: int) -> None:
        self.faults = faults
        self._chance = random.Random(seed)
        self._waiting: deque[tuple[float, float, bytes]] = deque()
        self._free_at = 0.0
        self.carried = 0

    def put(self, data: bytes, now: float) -> int:
        faults = self.faults
        unsent = sum(1 for sent, _, _ in self._waiting if sent > now) if faults.rate else 0
        taken = data[: max(0, faults.buffer - unsent)]
        for value in taken:
            sent = max(now, self._free_at)
            for start, end in faults.stalls:
                if start <= sent < end:
                    sent = end
            if faults.rate:
                sent += 1 / faults.rate
            self._free_at = sent
            self._waiting.append((sent, sent + faults.latency, self._disturbed(value)))
        self.carried += len(taken)
        return len(taken)

    def take(self, now: float) -> bytes:
        out = bytearray()
        while self._waiting and self._waiting[0][1] <= now:
            out += self._waiting.popleft()[2]
        return bytes(out)

    def clear(self, now: float) -> None:
        self._waiting.clear()
        self._free_at = now

    def next_arrival(self) -> float | None:
        return self._waiting[0][1] if self._waiting else None

    def _disturbed(self, value: int) -> bytes:
        faults, chance = self.faults, self._chance.random
        if faults.loss and chance() < faults.loss:
            return b""
        if faults.bit_errors:
            for bit in range(8):
                if chance() < faults.bit_errors:
                    value ^= 1 << bit
        out = bytes((value,))
        if faults.duplication and chance() < faults.duplication:
            out += out
        if faults.insertion and chance() < faults.insertion:
            out += self._chance.randbytes(1)
        return out


class MemoryEnd:
    """One end of a ``MemoryLine``."""

    def __init__(self, line: MemoryLine, out: _Direction, into: _Direction) -> None:
        self._line = line
        self._out = out
        self._into = into
        self._open = True

    def read(self) -> bytes:
        """What has arrived by the line's clock. Raises LinkLost while unplugged."""
        self._check()
        return self._into.take(self._line.now)

    def write(self, data: bytes) -> int:
        """How many bytes the line took. Raises LinkLost while unplugged."""
        self._check()
        return self._out.put(data, self._line.now)

    def close(self) -> None:
        """Closes this end."""
        self._open = False

    def set_rate(self, baud: int) -> None:
        """Nothing: the rate is the line's."""

    def descriptor(self) -> int | None:
        """None: there is nothing to wait on but the clock."""
        return None

    @property
    def carried(self) -> int:
        """Bytes this end has given to the line so far."""
        return self._out.carried

    def _check(self) -> None:
        if not self._open:
            raise LinkLost("this end was closed")
        if not self._line.plugged:
            raise LinkLost("the line is unplugged")


class MemoryLine:
    """A line with the ends ``near`` and ``far``. Move its clock with ``advance``."""

    def __init__(self, forth: Faults = CLEAN, back: Faults = CLEAN, seed: int = 0) -> None:
        self.now = 0.0
        self.plugged = True
        self._forth = _Direction(forth, 2 * seed)
        self._back = _Direction(back, 2 * seed + 1)
        self.near = MemoryEnd(self, self._forth, self._back)
        self.far = MemoryEnd(self, self._back, self._forth)

    def advance(self, now: float) -> None:
        """Sets the clock, in seconds; it never goes back."""
        self.now = max(self.now, now)

    def next_arrival(self) -> float | None:
        """When the next byte arrives at either end, None when nothing is under way."""
        times = [time for time in (self._forth.next_arrival(), self._back.next_arrival()) if time is not None]
        return min(times, default=None)

    def disturb(self, forth: Faults, back: Faults) -> None:
        """Other faults from now on, for bytes not yet written."""
        self._forth.faults = forth
        self._back.faults = back

    def unplug(self) -> None:
        """Loses all that is under way; both ends raise LinkLost until ``plug``."""
        self.plugged = False
        self._forth.clear(self.now)
        self._back.clear(self.now)

    def plug(self) -> None:
        """Joins the ends again."""
        self.plugged = True
