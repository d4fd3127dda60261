"""A host and a display with a panel on a line that has bad days; every frame it shows is judged.

Shared by the property test and ``python -m tests.bench faults``.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from random import Random

from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.link.any_link import LinkLost
from hmic.link.memory import Faults, MemoryLine
from hmic.pack.writer import write
from hmic.paint.operations import LIVE, Box, Drawing, Fill, Ink, Moment, ScreenDrawing, Theme, Zone
from hmic.paint.painter import Painter
from hmic.wire.events import Connected, Touched
from hmic.wire.host_session import HostSession

STEP = 0.005
STEPS = 200
SIDE = 4
COUNTS = (6, 40)
RECENT = 1.0
"""Seconds after which a value that is not confirmed is no longer shown (wire/display_session.py)."""


def squares() -> Drawing:
    """Two screens; each channel is one square whose colour tells its step."""
    theme = Theme("day", tuple((n & 255, n >> 8, 77) for n in range(2 + STEPS)), 80)
    screens, first = [], 0
    for number, count in enumerate(COUNTS):
        fills = tuple(
            Fill(Box(at % 10 * SIDE, at // 10 * SIDE, SIDE, SIDE), Ink(2, first + at)) for at in range(count)
        )
        channels = tuple(range(first, first + count))
        screens.append(ScreenDrawing(f"screen{number}", fills, channels, (Zone(Box(0, 0, 40, 20)),)))
        first += count
    return Drawing(40, 20, 24, (theme,), (), (), (), (STEPS,) * first, tuple(screens), 0)


DRAWING = squares()
PACK = write(DRAWING)


@dataclass
class Counts:
    """What was seen: frames and squares judged, squares of a colour that no true step has, squares that
    show what was true too long ago."""

    frames: int = 0
    squares: int = 0
    wrong: int = 0
    old: int = 0
    live: int = 0


@dataclass(frozen=True)
class Spell:
    """A time of trouble on both ways. ``unplugged`` overrides ``faults``."""

    seconds: float
    faults: Faults
    unplugged: bool = False


@dataclass
class Day:
    """One run. ``rate`` in bytes a second."""

    seed: int
    rate: float = 11520.0
    counts: Counts = field(default_factory=Counts)

    def __post_init__(self) -> None:
        self.dice = Random(self.seed)
        self.clean = Faults(rate=self.rate, latency=0.002)
        self.line = MemoryLine(self.clean, self.clean, self.seed)
        self.display = Display(MemoryFlash(), Glass(40, 20, 24), self.dice.getrandbits(32))
        assert self.display.install(PACK)
        self.painter = Painter(DRAWING)
        self.host = HostSession(self.dice.getrandbits(32), self.rate)
        self.screen = 0
        self.raw = [LIVE] * COUNTS[0]
        self.truth: dict[tuple[int, int], deque[tuple[float, int]]] = {}
        self.made: list[int] = []
        self.told: list[int] = []
        self.pressed = 0
        self.unsent = [b"", b""]
        self.last: tuple[object, ...] = ()
        self.late = 0.0
        self.show()

    def show(self) -> None:
        """Has the host show the screen and values it means."""
        self.host.show(self.screen, 0, 80, COUNTS[self.screen])
        self.say()

    def say(self) -> None:
        """Tells the host the values, and notes until when each was true."""
        now = self.line.now
        for position, value in enumerate(self.raw):
            past = self.truth.setdefault((self.screen, position), deque())
            if not past or past[-1][1] != value:
                past.append((now, value))
        self.host.update(self.raw, now)

    def spell(self, spell: Spell) -> None:
        """Lives through a spell of trouble."""
        faults = spell.faults
        if spell.unplugged:
            self.line.unplug()
        else:
            self.line.disturb(faults, faults)
        self.late = max(self.late, sum(end - start for start, end in faults.stalls))
        end = self.line.now + spell.seconds
        while self.line.now < end:
            self.step()
        self.line.plug()
        self.line.disturb(self.clean, self.clean)

    def rest(self, seconds: float) -> None:
        """Time on a clean line without any change."""
        end = self.line.now + seconds
        while self.line.now < end:
            self.step(quiet=True)

    def step(self, quiet: bool = False) -> None:
        """One turn of both ends."""
        self.line.advance(self.line.now + STEP)
        now = self.line.now
        if not quiet:
            self._live()
        for event in self.host.receive(self._read(self.line.near), now):
            if isinstance(event, Touched):
                self.told.append(event.x)
            elif isinstance(event, Connected):
                self.show()
        self.display.receive(self._read(self.line.far), now)
        self._write(0, self.line.near, self.host.outgoing(now))
        self._write(1, self.line.far, self.display.outgoing(now))
        self._judge(now)

    def right(self) -> bool:
        """Whether the glass shows what the host means, pixel for pixel."""
        now = self.line.now
        raw = [0] * sum(COUNTS)
        for channel, value in zip(DRAWING.screens[self.screen].channels, self.raw, strict=True):
            raw[channel] = value
        meant = Moment(self.screen, 0, tuple(raw), int(now * 1000))
        return self.display.image(now).tobytes() == self.painter.paint(meant).tobytes()

    def _live(self) -> None:
        dice = self.dice
        if dice.random() < 0.12:
            for _ in range(dice.randrange(1, 5)):
                at = dice.randrange(len(self.raw))
                step = dice.choice((-2, -1, 1, 2, 30, -70))
                self.raw[at] = min(LIVE + STEPS - 1, max(LIVE, self.raw[at] + step))
            self.say()
        if dice.random() < 0.003:
            self.screen = 1 - self.screen
            self.raw = [LIVE + dice.randrange(STEPS) for _ in range(COUNTS[self.screen])]
            self.show()
        if dice.random() < 0.02:
            mark = self.pressed % 40
            before = len(self.display._session._touches)
            if self.pressed % 2 == 0:
                self.display.press(mark, 3, self.line.now)
            else:
                self.display.release(mark, 3, self.line.now)
            self.pressed += 1
            if len(self.display._session._touches) > before:
                self.made.append(mark)

    def _read(self, end: object) -> bytes:
        try:
            return end.read()  # type: ignore[attr-defined, no-any-return]
        except LinkLost:
            return b""

    def _write(self, way: int, end: object, data: bytes) -> None:
        try:
            self.unsent[way] += data
            self.unsent[way] = self.unsent[way][end.write(self.unsent[way]) :]  # type: ignore[attr-defined]
        except LinkLost:
            self.unsent[way] = b""

    def _judge(self, now: float) -> None:
        """Looks at the pixels: a square may be in the look of doubt, or in the colour of a step that was
        true for it on the screen in sight, not long ago."""
        moment = self.display.moment(now)
        key = (moment.screen, moment.raw)
        if key == self.last and int(now * 200) % 40:
            return
        self.last = key
        self.counts.frames += 1
        image = self.display.image(now)
        oldest = now - RECENT - 0.4 - self.late
        for position, channel in enumerate(DRAWING.screens[moment.screen].channels):
            place = (position % 10 * SIDE, position // 10 * SIDE)
            red, green, blue = image.getpixel(place)[:3]
            self.counts.squares += 1
            if moment.raw[channel] < LIVE:
                continue
            self.counts.live += 1
            value = (red | green << 8) - 2 + LIVE
            past = self.truth.get((moment.screen, position), deque())
            # The last moment at which this step was true.
            until = [
                past[at + 1][0] if at + 1 < len(past) else now
                for at, (_, told) in enumerate(past)
                if told == value
            ]
            if not until or blue != 77:
                self.counts.wrong += 1
            elif moment.screen == self.screen and until[-1] < oldest:
                self.counts.old += 1


def troubles(dice: Random, count: int, start: float = 0.0) -> list[Spell]:
    """A random schedule."""
    spells: list[Spell] = []
    rate, latency = dice.choice((11520.0, 5760.0, 92160.0)), dice.choice((0.0, 0.002, 0.02))
    for _ in range(count):
        seconds = dice.uniform(0.1, 1.5)
        kind = dice.randrange(7)
        given = {
            0: {"bit_errors": 10 ** dice.uniform(-5, -2.3)},
            1: {"loss": 10 ** dice.uniform(-4, -1)},
            2: {"insertion": 10 ** dice.uniform(-4, -1)},
            3: {"duplication": 10 ** dice.uniform(-4, -1)},
            4: {"bit_errors": 1e-3, "loss": 0.01, "insertion": 0.01, "duplication": 0.01},
            5: {"stalls": ((0.0, 0.0),)},
            6: {},
        }[kind]
        if kind == 5:
            given = {"stalls": ((start, start + dice.uniform(0.05, seconds)),)}
        spells.append(Spell(seconds, Faults(rate=rate, latency=latency, **given), kind == 6))  # type: ignore[arg-type]
        start += seconds
    return spells


def bad_day(seed: int, count: int = 5) -> Day:
    """A whole run: quiet, troubles, quiet. Asserts what must hold at its end."""
    day = Day(seed)
    for _ in range(100):
        day.step()
    for spell in troubles(day.dice, count, day.line.now):
        day.spell(spell)
    # What the trouble still holds back must have left the line.
    while day.line.next_arrival() is not None and day.line.now < 60 and any(map(len, day.unsent)):
        day.step(quiet=True)
    day.rest(2.0)
    assert day.right(), f"seed {seed}: the frame is not right two seconds after the trouble"
    day.rest(3.0)
    assert day.right()
    assert day.told == day.made, f"seed {seed}: touches"
    return day
