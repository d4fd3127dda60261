"""Two sessions on a simulated line with an explicit clock and seeded faults."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from hashlib import sha256
from random import Random

from hmic.pack.records import identity
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import Activated, Connected, DisplayFacts, Phase, Shown, Touched, Values
from hmic.wire.host_session import HostSession
from hmic.wire.sizes import UNIT
from tests.wire.sound_packs import SCREENS


class MemoryStore:
    """A store that remembers a transfer that was broken off."""

    def __init__(self) -> None:
        self.identity = bytes(8)
        self.content = bytearray()
        self.units: set[int] = set()
        self.active: bytes | None = None
        self.written = 0

    def begin(self, size: int, identity: bytes) -> bool:
        if identity != self.identity or len(self.content) != size:
            self.identity, self.content, self.units = identity, bytearray(size), set()
        return True

    def arriving(self, size: int, identity: bytes) -> bool:
        return (size, identity) == (len(self.content), self.identity)

    def have(self) -> bytes:
        bits = bytearray(-(-len(self.content) // UNIT) // 8 + 1)
        for unit in self.units:
            bits[unit // 8] |= 1 << unit % 8
        return bytes(bits)

    def write(self, offset: int, data: bytes) -> None:
        assert offset % UNIT == 0 and offset + len(data) <= len(self.content)
        self.content[offset : offset + len(data)] = data
        self.units.update(range(offset // UNIT, -(-(offset + len(data)) // UNIT)))
        self.written += len(data)

    def hash(self) -> bytes:
        return sha256(self.content).digest()

    def activate(self) -> bool:
        self.active = bytes(self.content)
        return True

    def size_in_use(self) -> int:
        return len(self.active or b"")

    def read_in_use(self, offset: int, length: int) -> bytes:
        return (self.active or b"")[offset : offset + length]

    def rot(self, low: int, high: int) -> None:
        """Flips a bit of each byte of a part of the pack in use."""
        assert self.active is not None
        rotten = bytes(byte ^ 1 for byte in self.active[low:high])
        self.active = self.active[:low] + rotten + self.active[high:]


@dataclass(frozen=True)
class Faults:
    """``bit_errors`` a bit; the others chances a chunk of bytes."""

    bit_errors: float = 0.0
    loss: float = 0.0
    twice: float = 0.0
    insertion: float = 0.0
    stall: float = 0.0


CLEAN = Faults()


class Way:
    """One direction: bytes leave at the line's rate, arrive ``delay`` later, and may be spoilt."""

    def __init__(self, rate: float, delay: float, dice: Random) -> None:
        self.rate, self.delay, self.dice = rate, delay, dice
        self.faults = CLEAN
        self.free = 0.0
        self.bytes = 0
        self._queue: deque[tuple[float, bytes]] = deque()

    def put(self, data: bytes, now: float) -> None:
        dice, faults = self.dice, self.faults
        for start in range(0, len(data), 64):
            piece = data[start : start + 64]
            self.bytes += len(piece)
            self.free = max(self.free, now) + len(piece) / self.rate
            if faults != CLEAN:
                piece = self._spoil(piece)
                if dice.random() < faults.stall:
                    self.free += dice.uniform(0.1, 1.5)
            self._queue.append((self.free + self.delay, piece))

    def _spoil(self, piece: bytes) -> bytes:
        dice, faults = self.dice, self.faults
        if dice.random() < faults.loss:
            cut = sorted(dice.randrange(len(piece) + 1) for _ in range(2))
            piece = piece[: cut[0]] + piece[cut[1] :]
        if dice.random() < faults.twice:
            piece += piece
        if dice.random() < faults.insertion:
            at = dice.randrange(len(piece) + 1)
            piece = piece[:at] + dice.randbytes(dice.randrange(1, 30)) + piece[at:]
        if faults.bit_errors and dice.random() < 1 - (1 - faults.bit_errors) ** (8 * len(piece)) and piece:
            spoilt = bytearray(piece)
            spoilt[dice.randrange(len(piece))] ^= 1 << dice.randrange(8)
            piece = bytes(spoilt)
        return piece

    def get(self, now: float) -> bytes:
        out = bytearray()
        while self._queue and self._queue[0][0] <= now:
            out += self._queue.popleft()[1]
        return bytes(out)


class Bench:
    """A host with changing values, a display with a finger, a line between them."""

    def __init__(self, seed: int, rate: float = 11520.0, window: int = 256, delay: float = 0.002) -> None:
        self.dice = Random(seed)
        self.rate = rate
        self.window = window
        self.now = 100.0
        self.down = Way(rate, delay, self.dice)
        self.up = Way(rate, delay, self.dice)
        self.store = MemoryStore()
        self.screen = 0
        self.theme = 0
        self.raw = [0] * SCREENS[0]
        self.sent: dict[tuple[int, int], set[int]] = {}
        self.shown: Shown | None = None
        self.values: tuple[int, ...] = ()
        self.touches_made: list[int] = []
        self.touches_told: list[int] = []
        self.host_events: list[object] = []
        self.display_events: list[object] = []
        self.wrong: list[tuple[int, int, int]] = []
        self.start_display()
        self.start_host()

    def facts(self) -> DisplayFacts:
        held = None if self.store.active is None else identity(self.store.active)
        nonce = self.dice.getrandbits(32)
        return DisplayFacts(nonce, 1024, 600, 16, held, 1 << 21, 512, len(SCREENS), 512, self.window)

    def start_display(self) -> None:
        self.display = DisplaySession(self.facts(), self.store)
        self.shown, self.values = None, ()

    def start_host(self) -> None:
        self.host = HostSession(self.dice.getrandbits(32), self.rate)
        self.show()

    def show(self) -> None:
        self.host.show(self.screen, self.theme, 80, SCREENS[self.screen])
        self.send()

    def send(self) -> None:
        for position, value in enumerate(self.raw):
            self.sent.setdefault((self.screen, position), set()).add(value)
        self.host.update(self.raw, self.now)

    def change_screen(self, screen: int) -> None:
        self.screen = screen
        self.raw = [self.dice.randrange(3, 300) for _ in range(SCREENS[screen])]
        self.show()

    def change_values(self) -> None:
        for _ in range(self.dice.randrange(6)):
            if self.raw:
                place = self.dice.randrange(len(self.raw))
                step = self.dice.choice((-3, -1, 1, 2, 40, -200))
                self.raw[place] = max(0, self.raw[place] + step)
        self.send()

    def finger(self) -> None:
        mark = len(self.touches_made)
        if self.display.touch(mark % 5 or None, Phase(mark % 2), mark, mark % 600, self.now):
            self.touches_made.append(mark)

    def step(self, seconds: float = 0.005) -> None:
        """Let time pass, both ends seeing what came."""
        self.now += seconds
        for event in self.display.receive(self.down.get(self.now), self.now):
            self.display_events.append(event)
            match event:
                case Shown():
                    self.shown = event
                case Values(raw):
                    self.values = raw
                    self._judge()
                case Activated():
                    self.display.repack(self.facts())
        self.up.put(self.display.outgoing(self.now), self.now)
        for event in self.host.receive(self.up.get(self.now), self.now):
            self.host_events.append(event)
            match event:
                case Touched(x=mark):
                    self.touches_told.append(mark)
                case Connected():
                    self.show()
        self.down.put(self.host.outgoing(self.now), self.now)

    def run(self, seconds: float) -> None:
        end = self.now + seconds
        while self.now < end:
            self.step()

    def _judge(self) -> None:
        assert self.shown is not None and len(self.values) == self.shown.channel_count
        for position, value in enumerate(self.values):
            if value >= 3 and value not in self.sent.get((self.shown.screen, position), ()):
                self.wrong.append((self.shown.screen, position, value))

    def right(self) -> bool:
        """Whether the display shows what the host means."""
        shown = self.shown
        return shown is not None and shown.screen == self.screen and self.values == tuple(self.raw)
