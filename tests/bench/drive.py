"""The recorded drive of the example van, played through the runtime under a simulated clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path

from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled, compile_design
from hmic.runtime.binding import BoundDesign
from hmic.runtime.decoding import Arrival
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.rising import Sight
from hmic.runtime.runtime import Runtime
from hmic.runtime.simulator import Simulator
from hmic.runtime.vehicle_time import VehicleTime
from hmic.sources.log import Log
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Values
from hmic.wire.host_session import HostSession
from hmic.wire.outbox import Statistics
from hmic.wire.sizes import UNIT
from tests.tools.changed import replace

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
LOG = DUNLIN / "logs" / "ten_minutes.blf"


class MemoryStore:
    """A store without flash."""

    def __init__(self, active: bytes | None = None) -> None:
        self.identity = bytes(8)
        self.content = bytearray()
        self.units: set[int] = set()
        self.active = active

    def begin(self, size: int, identity: bytes) -> bool:
        if (identity, size) != (self.identity, len(self.content)):
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
        self.content[offset : offset + len(data)] = data
        self.units.update(range(offset // UNIT, -(-(offset + len(data)) // UNIT)))

    def hash(self) -> bytes:
        return sha256(self.content).digest()

    def activate(self) -> bool:
        self.active = bytes(self.content)
        return True

    def size_in_use(self) -> int:
        return len(self.active or b"")

    def read_in_use(self, offset: int, length: int) -> bytes:
        return (self.active or b"")[offset : offset + length]


@cache
def dunlin() -> Compiled:
    """The compiled example."""
    compiled = compile_design(DUNLIN)
    assert isinstance(compiled, Compiled), [finding.message for finding in compiled.findings]
    return compiled


@cache
def arrivals() -> tuple[Arrival, ...]:
    """What the log brings, decoded, in order of time, from 0."""
    decoder = load_decoder(dunlin().design)
    found: list[Arrival] = []
    first: float | None = None
    for frame in Log(LOG):
        first = frame.at if first is None else first
        readings = decoder.readings(frame)
        if readings:
            found.append(Arrival(frame.at - first, readings))
    return tuple(found)


def facts(bound: BoundDesign) -> DisplayFacts:
    """A display that holds the design's pack."""
    panel = bound.design.panel
    return DisplayFacts(
        7, panel.width, panel.height, panel.depth, bound.identity, 1 << 20, 4096, len(bound.screens)
    )


@dataclass
class Drive:
    """What a replay came to. ``updates`` are the raw values given to the session, with their times;
    ``wire`` the bytes that left, ``back`` those that came."""

    updates: list[tuple[float, tuple[int, ...]]]
    wire: int
    back: int
    counts: Statistics


def drive(seconds: float = 600.0, screen: str = "drive", baud: int = 115200) -> Drive:
    """Plays the log on one screen: a clean line, a display that answers."""
    bound = bind(dunlin())
    bound = replace(bound, design=replace(bound.design, panel=replace(bound.design.panel, baud=baud)))
    runtime = Runtime(bound, 5, VehicleTime())
    return _played(runtime, bound, screen, seconds, _moments(runtime, seconds))


def simulated(bound: BoundDesign, seconds: float, screen: str) -> Drive:
    """Plays a design's simulated vehicle on one screen."""
    clock = VehicleTime()
    runtime = Runtime(bound, 5, clock)
    vehicle = Simulator(bound.design.signals, clock, Sight(bound.screens, bound.start).signals)

    def moments() -> Iterator[tuple[float, Arrival | None]]:
        for turn in range(round(seconds * 50)):
            yield from ((turn / 50, arrival) for arrival in vehicle.due(turn / 50))
            yield turn / 50, None

    return _played(runtime, bound, screen, seconds, moments())


def _played(
    runtime: Runtime,
    bound: BoundDesign,
    screen: str,
    seconds: float,
    moments: Iterator[tuple[float, Arrival | None]],
) -> Drive:
    session: HostSession = runtime._session
    display = DisplaySession(facts(bound), MemoryStore())
    updates: list[tuple[float, tuple[int, ...]]] = []
    plain = session.update

    def noted(raw: object, now: float) -> None:
        updates.append((now, tuple(raw)))  # type: ignore[arg-type]
        plain(raw, now)  # type: ignore[arg-type]

    session.update = noted  # type: ignore[method-assign, assignment]
    runtime.go_to(screen, 0.0)
    runtime.set_clock(624.0, 0.0)
    shown: tuple[int, ...] = ()
    back = 0
    for now, arrival in moments:
        if arrival is not None:
            runtime.feed(arrival, now)
        else:
            runtime.tick(now)
        for event in display.receive(runtime.outgoing(now), now):
            if isinstance(event, Values):
                shown = event.raw
        answer = display.outgoing(now)
        back += len(answer)
        runtime.receive(answer, now)
    # One more exchange, for what the last moment left.
    display.receive(runtime.outgoing(seconds + 1), seconds + 1)
    assert shown, "nothing was ever shown"
    return Drive(updates, session.statistics.bytes, back, session.statistics)


def _moments(runtime: Runtime, seconds: float) -> Iterator[tuple[float, Arrival | None]]:
    """When something happens: a frame comes in, a deadline of the runtime, and each 0.05 s at least."""
    now = 0.0
    minute = 624
    for arrival in arrivals():
        if arrival.at > seconds:
            return
        while now < arrival.at:
            due = runtime.next_deadline()
            now = min(arrival.at, now + 0.05, max(now + 0.002, due if due is not None else now + 0.05))
            if now < arrival.at:
                if 624 + int(now // 60) != minute:
                    minute = 624 + int(now // 60)
                    runtime.set_clock(minute, now)
                yield now, None
        yield now, arrival


def each(
    change: Callable[[float, int, int, int], None], updates: list[tuple[float, tuple[int, ...]]]
) -> None:
    """Calls ``change(at, position, before, after)`` for every step that changed between updates."""
    before: tuple[int, ...] = ()
    for at, raw in updates:
        if len(raw) != len(before):
            before = (0,) * len(raw)
        for position, (old, new) in enumerate(zip(before, raw, strict=True)):
            if old != new:
                change(at, position, old, new)
        before = raw
