"""How long a display stays in doubt after losses, every value moving: ``python -m tests.bench heal``."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from random import Random

from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Values
from hmic.wire.host_session import HostSession
from tests.bench.drive import MemoryStore

COUNTS = (16, 64, 216, 947)
BAUDS = (9600, 115200)
LATENCY = 0.002
LONGEST = 60.0


class Healing:
    """Two sessions, a line that loses whole frames on demand, values that move each 0.1 s. ``fates`` are
    those of the next frames of host and display: True for lost."""

    def __init__(self, baud: int, count: int, moving: int | None = None, seed: int = 1) -> None:
        self.dice = Random(seed)
        self.rate = baud / 10
        self.moving = count if moving is None else moving
        self.host = HostSession(3, self.rate)
        facts = DisplayFacts(7, 1024, 600, 16, None, 1 << 21, 1024, 1)
        self.display = DisplaySession(facts, MemoryStore())
        self.raw = [200] * count
        self.now = self.next_update = 0.0
        self.free = [0.0, 0.0]
        self.ways: list[list[tuple[float, bytes]]] = [[], []]
        self.fates: tuple[deque[bool], deque[bool]] = (deque(), deque())
        self.visible: Sequence[int] = ()
        self.host.show(0, 0, 80, count)
        self.host.update(self.raw, 0.0)

    def step(self, seconds: float = 0.001) -> None:
        """Let time pass."""
        self.now += seconds
        if self.now >= self.next_update:
            self.next_update += 0.1
            for at in self.dice.sample(range(len(self.raw)), self.moving):
                self.raw[at] = min(400, max(3, self.raw[at] + self.dice.choice((-2, -1, 1, 2))))
            self.host.update(self.raw, self.now)
        for event in self.display.receive(self._arrived(0), self.now):
            if isinstance(event, Values):
                self.visible = event.raw
        self._put(1, self.display.outgoing(self.now))
        self.host.receive(self._arrived(1), self.now)
        self._put(0, self.host.outgoing(self.now))

    def run(self, seconds: float) -> None:
        """Many steps."""
        end = self.now + seconds
        while self.now < end:
            self.step()

    def doubtful(self) -> bool:
        """Whether any value is shown as stale, or nothing is shown yet."""
        return not self.visible or 1 in self.visible

    def healed_after(self, losses: int) -> float:
        """Seconds of doubt after the next frame and then the first ``losses`` parts of its mending are
        lost; ``LONGEST`` if it never heals."""
        self.fates[0].append(True)
        while not self.doubtful():
            self.step()
        begun, refreshed = self.now, self.host.statistics.refreshed
        while losses and self.host.statistics.refreshed == refreshed and self.now < begun + 5:
            self.fates[0].extend([True] * (losses - len(self.fates[0])))
            self.step()
        self.fates[0].clear()
        while self.doubtful() and self.now < begun + LONGEST:
            self.step()
        return self.now - begun

    def _put(self, way: int, data: bytes) -> None:
        for piece in data.split(b"\0"):
            if piece:
                self.free[way] = max(self.free[way], self.now) + (len(piece) + 1) / self.rate
                if not (self.fates[way] and self.fates[way].popleft()):
                    self.ways[way].append((self.free[way] + LATENCY, piece + b"\0"))

    def _arrived(self, way: int) -> bytes:
        queue, out = self.ways[way], b""
        while queue and queue[0][0] <= self.now:
            out += queue.pop(0)[1]
        return out


def main() -> None:
    """The table."""
    print("seconds in doubt after a lost Change, and after that and the lost first part of its mending")
    for baud in BAUDS:
        for count in COUNTS:
            line = Healing(baud, count)
            line.run(8.0)
            first, second = line.healed_after(0), 0.0
            line.run(4.0)
            second = line.healed_after(1)
            few = Healing(baud, count, 5)
            few.run(8.0)
            print(
                f"  {baud:6} Bd {count:4} channels: all moving {first:5.2f} {second:5.2f}"
                f"   five moving {few.healed_after(1):5.2f}"
            )


if __name__ == "__main__":
    main()
