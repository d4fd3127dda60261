"""Bytes on the wire beside other ways to say the same, and how late they are.

``python -m tests.bench wire``: ten recorded minutes of the example van on its drive screen and on its
cell screen, a made-up busy stream, and the time from a CAN frame to its bytes on this computer.
"""

from __future__ import annotations

import json
import math
import time
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from random import Random

from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled, compile_design
from hmic.model.channels import signals_of
from hmic.model.expressions import Doubt
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.runtime import Runtime
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Values
from hmic.wire.host_session import HostSession
from tests.bench.drive import DUNLIN, Drive, MemoryStore, arrivals, drive, dunlin, facts, simulated

RATES = (100, 500, 1000, 2000)
SECONDS = 120.0
ROOST = DUNLIN.parent / "roost"


@dataclass
class Sizes:
    """Bytes of the other ways, by name, in order."""

    rows: dict[str, float]

    def add(self, name: str, size: float) -> None:
        self.rows[name] = self.rows.get(name, 0.0) + size


def head(value: int) -> int:
    """Bytes of a CBOR integer (RFC 8949 section 3); MessagePack differs by the limits of one byte."""
    return 1 if value < 24 else 2 if value < 256 else 3 if value < 65536 else 5


def step_sizes(updates: list[tuple[int, ...]], names: list[str]) -> Sizes:
    """The visible steps of each update that changed, said in other ways, without framing."""
    sizes = Sizes({})
    for before, after in pairwise(updates):
        moved = [(at, new) for at, (old, new) in enumerate(zip(before, after, strict=True)) if old != new]
        if not moved:
            continue
        sizes.add("steps: text lines", sum(len(f"{names[at]}={value}\n") for at, value in moved))
        sizes.add(
            "steps: JSON", len(json.dumps({names[at]: new for at, new in moved}, separators=(",", ":"))) + 1
        )
        sizes.add("steps: CBOR, numbered", 1 + sum(head(at) + head(new) for at, new in moved))
        sizes.add(
            "steps: CBOR, each update with length and CRC", 4 + sum(head(at) + head(new) for at, new in moved)
        )
        sizes.add(
            "steps: MessagePack, numbered",
            (1 if len(moved) < 16 else 3)
            + sum(1 + (1 if new < 128 else 2 if new < 256 else 3) for _, new in moved),
        )
    return sizes


def entropy(updates: list[tuple[int, ...]]) -> tuple[float, float]:
    """Order-0 entropy in bytes, each channel with its own distribution: of the changes alone, and with
    "no change" as one of them at each update that was sent (which moved, and by how much)."""
    moves: list[Counter[int]] = [Counter() for _ in updates[0]]
    sent = 0
    for before, after in pairwise(updates):
        if before != after:
            sent += 1
            for counter, old, new in zip(moves, before, after, strict=True):
                counter[new - old] += 1
    return sum(bits(Counter({k: n for k, n in c.items() if k})) for c in moves) / 8, sum(map(bits, moves)) / 8


def bits(counter: Counter[int]) -> float:
    """Bits that all symbols of a counter need by its own distribution."""
    total = sum(counter.values())
    return -sum(n * math.log2(n / total) for n in counter.values())


def value_text(screen: str) -> dict[str, float]:
    """Lines of text and CBOR for each value of the screen's signals that CAN brought and that changed."""
    compiled = dunlin()
    design = compiled.design
    drawn = next(one for one in compiled.arranged.drawing.screens if one.name == screen)
    names = {name for at in drawn.channels for name in signals_of(compiled.arranged.channels[at])}
    for _ in range(8):
        for name in list(names):
            derived = design.signals[name].derived if name in design.signals else None
            if derived is not None:
                names |= derived.signals
    known: dict[tuple[str, int | None], object] = {}
    order = {name: at for at, name in enumerate(sorted(names))}
    text = cbor = 0
    for arrival in arrivals():
        for reading in arrival.readings:
            key = (reading.name, reading.element)
            if reading.name in names and known.get(key) != reading.value:
                known[key] = reading.value
                text += len(line(reading))
                cbor += 1 + head(order[reading.name] + (reading.element or 0)) + 5
    return {"values: text lines": text, "values: CBOR, numbered": cbor}


def line(reading: Reading) -> str:
    """A value as a person would send it."""
    name = reading.name if reading.element is None else f"{reading.name}[{reading.element}]"
    value = "?" if isinstance(reading.value, Doubt) else reading.value
    return f"{name}={value:.6g}\n" if isinstance(value, float) else f"{name}={value}\n"


def report(title: str, wire: float, back: float, frames: int, rows: dict[str, float]) -> None:
    """One table."""
    print(f"\n{title}")
    print(f"  {'the wire':46}{wire / 1000:9.1f} kB   ({frames} frames; {back / 1000:.1f} kB back)")
    for name, size in rows.items():
        print(f"  {name:46}{size / 1000:9.1f} kB {size / wire:9.2f} x the wire")


def changes(updates: list[tuple[int, ...]]) -> int:
    """How many steps changed."""
    return sum(old != new for pair in pairwise(updates) for old, new in zip(*pair, strict=True))


FRAME = 3
"""Bytes of a check of 16 bits and a delimiter."""


def floor(frames: int, which: float) -> float:
    """Bytes below which no way can go that checks each update and sign of life by itself: nothing around
    the content but check and delimiter, and the content as short as its entropy."""
    return frames * FRAME + which


def recorded(screen: str) -> None:
    """The table of one screen."""
    played: Drive = drive(screen=screen)
    updates = [(0,) * len(played.updates[-1][1])] + [raw for _, raw in played.updates]
    names = [f"channel_{at:02d}" for at in range(len(updates[0]))]
    sizes = step_sizes(updates, names)
    alone, which = entropy(updates)
    counts = played.counts
    rows = value_text(screen) | sizes.rows
    rows |= {"entropy: changes alone": alone, "entropy: which and what": which}
    rows["that, and a check and delimiter a frame"] = floor(played.counts.frames, which)
    signs = counts.frames - counts.value_frames
    title = (
        f"ten minutes on screen {screen}: {len(names)} channels, {changes(updates)} changes of a step in "
        f"{counts.value_frames} frames, {signs} other frames"
    )
    report(title, played.wire, played.back, counts.frames, rows)


def every_screen(seconds: float) -> None:
    """Bytes of each screen of the examples beside the floor."""
    print(f"\nevery screen of the examples, {seconds:.0f} s: the wire, its floor, how many times that")
    for screen in bind(dunlin()).screens:
        told("dunlin", screen.name, drive(seconds, screen.name))
    compiled = compile_design(ROOST)
    assert isinstance(compiled, Compiled)
    bound = bind(compiled)
    for screen in bound.screens:
        told("roost", screen.name, simulated(bound, seconds, screen.name))


def told(layout: str, name: str, played: Drive) -> None:
    """A row of it."""
    updates = [(0,) * len(played.updates[-1][1])] + [raw for _, raw in played.updates]
    least = floor(played.counts.frames, entropy(updates)[1])
    signs = played.counts.frames - played.counts.value_frames
    print(
        f"  {layout}, {name:10}{len(updates[0]):5} {played.wire / 1000:7.2f} kB, {least / 1000:7.2f} kB, "
        f"{played.wire / least:5.2f} ({played.counts.value_frames} value frames, {signs} others)",
        flush=True,
    )


def busy(seed: int = 1, channels: int = 24, seconds: int = 600, rate: int = 10) -> list[tuple[int, ...]]:
    """A made-up stream: slow random walks, some busy, lamps that rarely move."""
    dice = Random(seed)
    pace = [0.9, 0.6, 0.5, 0.4, 0.3, 0.3] + [0.1] * 6 + [0.02] * 8 + [0.002] * 4
    spread = [4, 2, 2, 1, 1, 1] + [1] * 18
    raw = [200] * 12 + [40] * 8 + [3] * 4
    ticks: list[tuple[int, ...]] = []
    for _ in range(seconds * rate):
        for place in range(channels):
            if dice.random() < pace[place]:
                step = round(dice.gauss(0, spread[place])) or dice.choice((-1, 1))
                raw[place] = min(4 if place >= 20 else 400, max(3, raw[place] + step))
        ticks.append(tuple(raw))
    return ticks


def made_up() -> None:
    """The table of the busy stream, looked at ten times a second."""
    ticks = busy()
    count = len(ticks[0])
    display = DisplaySession(DisplayFacts(7, 1024, 600, 16, None, 1 << 20, 512, 1), MemoryStore())
    host = HostSession(5)
    host.show(0, 0, 80, count)
    shown: tuple[int, ...] = ()
    back = 0
    for turn, tick in enumerate(ticks):
        now = turn / 10
        host.update(tick, now)
        for _ in range(3 if turn == 0 else 1):
            for event in display.receive(host.outgoing(now), now):
                shown = event.raw if isinstance(event, Values) else shown
            answer = display.outgoing(now)
            back += len(answer)
            host.receive(answer, now)
        assert turn < 2 or shown == tick
    alone, which = entropy(ticks)
    rows = step_sizes(ticks, [f"channel_{at:02d}" for at in range(count)]).rows
    rows |= {"entropy: changes alone": alone, "entropy: which and what": which}
    counts = host.statistics
    rows["that, and a check and delimiter a frame"] = floor(counts.frames, which)
    title = f"a made-up busy stream, ten minutes at 10 Hz: {count} channels, {changes(ticks)} changes"
    report(title, counts.bytes, back, counts.frames, rows)


def latency() -> None:
    """Milliseconds of this computer from a decoded frame to its bytes, for an urgent and any frame."""
    bound = bind(dunlin())
    print("\nfrom a CAN frame to its bytes, in ms of one core (every frame is followed by an update)")
    print(f"  {'frames/s':>10}{'p50':>9}{'p99':>9}{'most':>9}{'busy':>9}")
    for rate in RATES:
        runtime = Runtime(bound, 5)
        display = DisplaySession(facts(bound), MemoryStore())
        runtime.go_to("drive", 0.0)
        took: list[float] = []
        begun = time.perf_counter()
        for turn, arrival in enumerate(arrivals()[: 10 * rate]):
            now = turn / rate
            start = time.perf_counter()
            runtime.feed(Arrival(now, arrival.readings), now)
            out = runtime.outgoing(now)
            took.append(time.perf_counter() - start)
            display.receive(out, now)
            runtime.receive(display.outgoing(now), now)
        share = (time.perf_counter() - begun) / 10
        took.sort()
        p50, p99, most = took[len(took) // 2], took[len(took) * 99 // 100], took[-1]
        print(f"  {rate:>10}{1000 * p50:>9.3f}{1000 * p99:>9.3f}{1000 * most:>9.3f}{100 * share:>8.1f}%")


def main() -> None:
    """All tables."""
    for screen in ("drive", "cells"):
        recorded(screen)
    every_screen(SECONDS)
    made_up()
    latency()


if __name__ == "__main__":
    main()
