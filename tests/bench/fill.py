"""How soon every screen of the examples shows all its values at 9600 Bd: ``python -m tests.bench fill``.

The vehicle is the recorded one at the end of its drive where there is one, so that charts are full, else the
simulated one. A screen is judged until the display shows something of every value that the runtime has.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled, compile_design
from hmic.runtime.binding import BoundDesign
from hmic.runtime.decoding import Arrival
from hmic.runtime.rising import Sight
from hmic.runtime.runtime import Runtime
from hmic.runtime.simulator import Simulator
from hmic.runtime.vehicle_time import VehicleTime
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Values
from tests.bench.drive import MemoryStore, arrivals
from tests.tools.changed import replace

LAYOUTS = Path(__file__).parents[2] / "layouts"
BAUD = 9600
CALM = 0.1
LATENCY = 0.002
STEP = 0.001
LONGEST = 10.0


@dataclass(frozen=True)
class Filled:
    """A screen's name and channels; seconds from its Show until all is shown, and bytes that it took."""

    screen: str
    channels: int
    seconds: float
    bytes: int


BEFORE = {"dunlin": 590.0, "roost": 120.0}
"""Seconds after which the screen is brought up."""


class Recorded:
    """The recorded drive as a source."""

    def __init__(self) -> None:
        self._coming = deque(arrivals())

    def due(self, now: float) -> list[Arrival]:
        """What has come by ``now``."""
        found = []
        while self._coming and self._coming[0].at <= now:
            found.append(self._coming.popleft())
        return found


def fills(layout: str, only: tuple[str, ...] = (), baud: int = BAUD) -> Iterator[Filled]:
    """Each screen of an example, or some by name."""
    compiled = compile_design(LAYOUTS / layout)
    assert isinstance(compiled, Compiled)
    bound = bind(compiled)
    bound = replace(bound, design=replace(bound.design, panel=replace(bound.design.panel, baud=baud)))
    for screen in bound.screens:
        if not only or screen.name in only:
            yield _filled(bound, screen.name, layout)


def _filled(bound: BoundDesign, name: str, layout: str) -> Filled:
    clock, before = VehicleTime(), BEFORE[layout]
    runtime = Runtime(bound, 5, clock)
    quiet = Sight(bound.screens, bound.start).signals
    vehicle = Recorded() if layout == "dunlin" else Simulator(bound.design.signals, clock, quiet)
    panel = bound.design.panel
    facts = DisplayFacts(
        7, panel.width, panel.height, panel.depth, bound.identity, 1 << 20, 4096, len(bound.screens)
    )
    display = DisplaySession(facts, MemoryStore())
    for turn in range(int(before / CALM)):
        for arrival in vehicle.due(turn * CALM):
            runtime.feed(arrival, turn * CALM)
    rate, now, free = panel.baud / 10, before, [before, before]
    ways: list[list[tuple[float, bytes]]] = [[], []]
    runtime.go_to(name, now)
    shown: tuple[int, ...] = ()
    begun = bytes_before = 0.0
    while now < before + LONGEST:
        now += STEP
        for arrival in vehicle.due(now):
            runtime.feed(arrival, now)
        runtime.tick(now)
        came = [b"".join(data for at, data in way if at <= now) for way in ways]
        ways = [[(at, data) for at, data in way if at > now] for way in ways]
        for event in display.receive(came[0], now):
            shown = event.raw if isinstance(event, Values) else shown
        runtime.receive(came[1], now)
        for way, data in enumerate((runtime.outgoing(now), display.outgoing(now))):
            free[way] = max(free[way], now) + len(data) / rate
            ways[way].append((free[way] + LATENCY, data))
        session = runtime._session
        if not begun and session._scene.look is not None and session.state == "together":
            begun, bytes_before = now, session.statistics.bytes
        if begun and shown and all(shown[at] for at, value in enumerate(runtime._values.raw) if value):
            return Filled(name, len(shown), now - begun, int(session.statistics.bytes - bytes_before))
    return Filled(name, len(shown), LONGEST, 0)


def main() -> None:
    """The table."""
    print(f"at {BAUD} Bd, from Show until every value is shown")
    for layout in ("dunlin", "roost"):
        for each in fills(layout):
            print(
                f"  {layout}, {each.screen:10} {each.channels:5} channels "
                f"{each.seconds:6.2f} s {each.bytes:6} bytes"
            )


if __name__ == "__main__":
    main()
