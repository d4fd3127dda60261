"""How soon a display is right again after losses, every value moving: ``python -m tests.bench heal``."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from random import Random

from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Values
from hmic.wire.host_session import HostSession
from hmic.wire.received import STALE
from tests.bench.drive import MemoryStore

COUNTS = (16, 64, 216, 947)
BAUDS = (9600, 115200)
ERRORS = (1e-5, 1e-4, 1e-3)
LATENCY = 0.002
SECONDS = 20.0
LAMP, LAMP_EVERY = 0, 0.75


class Healing:
    """Two sessions and values that move each 0.1 s, on a line that loses whole frames on demand and bits at
    random. ``fates`` are those of the next frames of host and display: True for lost. ``doubt`` are the
    seconds for which a value was not shown, the mean of all, ``oldest`` how long ago a value shown as live
    was true, ``lamp`` the longest that the change of the first value, which is a lamp, took."""

    def __init__(
        self, baud: int, count: int, moving: int | None = None, seed: int = 1, latency: float = LATENCY
    ) -> None:
        self.dice = Random(seed)
        self.rate = baud / 10
        self.moving = count if moving is None else moving
        self.latency = latency
        self.errors = 0.0
        self.host = HostSession(3, self.rate)
        facts = DisplayFacts(7, 1024, 600, 16, None, 1 << 21, 1024, 1)
        self.display = DisplaySession(facts, MemoryStore())
        self.raw = [200] * count
        self.until: list[dict[int, float]] = [{} for _ in range(count)]
        self.now = self.next_update = self.next_lamp = 0.0
        self.doubt = self.oldest = self.lamp = 0.0
        self.lamp_changed = 0.0
        self.free = [0.0, 0.0]
        self.ways: list[deque[tuple[float, bytes]]] = [deque(), deque()]
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
                if at != LAMP:
                    moved = self.raw[at] + self.dice.choice((-2, -1, 1, 2))
                    self._set(at, min(400, max(3, moved)))
            self.host.update(self.raw, self.now)
        if self.now >= self.next_lamp:
            self.next_lamp += LAMP_EVERY
            self.lamp_changed = self.now
            self._set(LAMP, 3 + (self.raw[LAMP] == 3))
            self.host.update(self.raw, self.now)
        for event in self.display.receive(self._arrived(0), self.now):
            if isinstance(event, Values):
                self.visible = event.raw
        self._put(1, self.display.outgoing(self.now))
        self.host.receive(self._arrived(1), self.now)
        self._put(0, self.host.outgoing(self.now))
        self._judge(seconds)

    def run(self, seconds: float) -> None:
        """Many steps."""
        end = self.now + seconds
        while self.now < end:
            self.step()

    def forget(self) -> None:
        """Judges from here on."""
        self.doubt = self.oldest = self.lamp = 0.0

    def stale(self) -> float:
        """The part of the values that is shown as stale."""
        return self.visible.count(STALE) / len(self.visible) if self.visible else 1.0

    def behind(self) -> float:
        """Seconds since the oldest value that is shown as live was true."""
        ages = (
            self.now - self.until[at].get(shown, 0.0)
            for at, (shown, true) in enumerate(zip(self.visible, self.raw, strict=False))
            if shown >= 3 and shown != true
        )
        return max(ages, default=0.0)

    def lose(self, mends: int) -> None:
        """The next frame is lost, and the first ``mends`` that mend it."""
        self.fates[0].append(True)
        resumed = self.host.statistics.resumed
        while mends:
            self.step()
            if self.host.statistics.resumed > resumed:
                resumed, mends = self.host.statistics.resumed, mends - 1
                self.ways[0].clear()

    def _set(self, at: int, value: int) -> None:
        self.until[at][self.raw[at]] = self.now
        self.raw[at] = value

    def _judge(self, seconds: float) -> None:
        self.doubt += seconds * self.stale()
        if round(self.now * 1000) % 10 == 0:
            self.oldest = max(self.oldest, self.behind())
        if self.visible and self.visible[LAMP] != self.raw[LAMP]:
            self.lamp = max(self.lamp, self.now - self.lamp_changed)

    def _put(self, way: int, data: bytes) -> None:
        for piece in data.split(b"\0")[:-1]:
            self.free[way] = max(self.free[way], self.now) + (len(piece) + 1) / self.rate
            if not (piece and self.fates[way] and self.fates[way].popleft()):
                self.ways[way].append((self.free[way] + self.latency, self._spoilt(piece + b"\0")))

    def _spoilt(self, data: bytes) -> bytes:
        if not self.errors or self.dice.random() < (1 - self.errors) ** (8 * len(data)):
            return data
        spoilt = bytearray(data)
        spoilt[self.dice.randrange(len(data))] ^= 1 << self.dice.randrange(8)
        return bytes(spoilt)

    def _arrived(self, way: int) -> bytes:
        queue, out = self.ways[way], b""
        while queue and queue[0][0] <= self.now:
            out += queue.popleft()[1]
        return out


def after_losses(baud: int, count: int, moving: int | None, mends: int) -> tuple[float, float]:
    """Seconds for which a value was stale, and the age of the oldest value that looked live, in the two
    seconds in which a value frame and the first ``mends`` mends of it are lost."""
    line = Healing(baud, count, moving)
    line.run(4.0)
    line.forget()
    line.lose(mends)
    line.run(2.0)
    return line.doubt, line.oldest


def main() -> None:
    """The tables."""
    print("seconds stale, mean of all values / oldest value shown as live, of two seconds in which are lost:")
    for baud in BAUDS:
        for count in COUNTS:
            line = Healing(baud, count)
            line.run(4.0)
            line.forget()
            line.run(2.0)
            row = [f"nothing {line.doubt:.2f} / {line.oldest:.2f}"]
            for name, mends in (("a frame", 0), ("and its mend", 1), ("and two", 2)):
                doubt, oldest = after_losses(baud, count, None, mends)
                row.append(f"{name} {doubt:.2f} / {oldest:.2f}")
            doubt, oldest = after_losses(baud, count, 5, 1)
            row.append(f"five moving, a frame and its mend {doubt:.2f} / {oldest:.2f}")
            print(f"  {baud:6} Bd {count:4} channels: " + ", ".join(row))
    print(f"bit errors, {SECONDS:.0f} s: seconds stale / oldest value shown as live / lamp at worst")
    for baud in BAUDS:
        for count in COUNTS:
            row = []
            for errors in ERRORS:
                line = Healing(baud, count)
                line.run(4.0)
                line.forget()
                line.errors = errors
                line.run(SECONDS)
                row.append(f"{errors:.0e} {line.doubt:.2f} / {line.oldest:.2f} / {line.lamp:.3f}")
            print(f"  {baud:6} Bd {count:4} channels: " + ", ".join(row))


if __name__ == "__main__":
    main()
