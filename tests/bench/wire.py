"""Bytes on the wire for ten minutes of driving, beside other ways to say the same.

Run: ``python tests/bench/wire.py``. The stream is made here: 24 channels of a drive screen, some
following slow random walks, some busy, lamps that rarely move; the host looks at 20, 10 and 5 Hz.
"""

from __future__ import annotations

import json
import math
import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path
from random import Random

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "wire")]

from bad_line import MemoryStore  # noqa: E402

from hmic.wire import DisplayFacts, DisplaySession, HostSession, Values  # noqa: E402

CHANNELS = 24
SECONDS = 600
RATE = 20


def stream(seed: int = 1) -> list[list[int]]:
    """Raw values by tick and position."""
    dice = Random(seed)
    pace = [0.9, 0.6, 0.5, 0.4, 0.3, 0.3] + [0.1] * 6 + [0.02] * 8 + [0.002] * 4
    spread = [4, 2, 2, 1, 1, 1] + [1] * 18
    raw = [200] * 12 + [40] * 8 + [3] * 4
    ticks: list[list[int]] = []
    for _ in range(SECONDS * RATE):
        for place in range(CHANNELS):
            if dice.random() < pace[place]:
                step = round(dice.gauss(0, spread[place])) or dice.choice((-1, 1))
                top = 4 if place >= 20 else 400
                raw[place] = min(top, max(3, raw[place] + step))
        ticks.append(list(raw))
    return ticks


def entropy_bytes(ticks: list[list[int]]) -> float:
    """Order-0 entropy of the non-zero differences, each channel with its own distribution, in bytes."""
    total = 0.0
    for place in range(CHANNELS):
        column = [tick[place] for tick in ticks]
        moves = Counter(b - a for a, b in pairwise(column) if b != a)
        count = sum(moves.values())
        total -= sum(n * math.log2(n / count) for n in moves.values())
    return total / 8


def wire_bytes(ticks: list[list[int]], rate: int) -> tuple[HostSession, int]:
    """The stream through both sessions on a clean line."""
    store = MemoryStore()
    display = DisplaySession(DisplayFacts(7, 1024, 600, 16, None, 1 << 20, 512, 1), store)
    host = HostSession(5)
    host.show(0, 0, 80, CHANNELS)
    shown: tuple[int, ...] = ()
    for turn, tick in enumerate(ticks):
        now = turn / rate
        host.update(tick, now)
        for _ in range(3 if turn == 0 else 1):
            for event in display.receive(host.outgoing(now), now):
                if isinstance(event, Values):
                    shown = event.raw
            host.receive(display.outgoing(now), now)
        if turn > 2:
            assert shown == tuple(tick)
    return host, host.statistics.bytes


def table(ticks: list[list[int]], rate: int) -> None:
    """Print one table: the stream looked at ``rate`` times a second."""
    text = json_size = changes = 0
    for turn, (before, after) in enumerate(pairwise(ticks), 1):
        pairs = enumerate(zip(before, after, strict=True))
        moved = {f"channel_{place:02d}": new for place, (old, new) in pairs if old != new}
        changes += len(moved)
        text += sum(len(f"{name}={value}\n") for name, value in moved.items())
        if moved:
            json_size += len(json.dumps({"t": turn * 1000 // rate, **moved}, separators=(",", ":"))) + 1
    host, wire = wire_bytes(ticks, rate)
    counts = host.statistics
    print(f"{SECONDS} s, {CHANNELS} channels, {rate} Hz, {changes} changes of a visible step")
    rows = (
        ("text lines", text),
        ("JSON lines", json_size),
        ("wire", wire),
        ("entropy", entropy_bytes(ticks)),
    )
    for name, size in rows:
        bits = 8 * size / changes
        print(f"  {name:12}{size / 1000:9.1f} kB {size / wire:8.2f} x wire {bits:8.2f} bit/change")
    print(
        f"  the wire: {counts.frames} frames, {counts.value_frames} of them of values, {counts.items} changes"
    )


def main() -> None:
    """Print a table for each rate."""
    ticks = stream()
    for divisor in (1, 2, 4):
        table(ticks[::divisor], RATE // divisor)


if __name__ == "__main__":
    main()
