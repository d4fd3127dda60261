"""The runtime under load: CAN frame in to bytes out, share of a core, memory over a simulated day.

Run: ``python -m tests.bench runtime [latency|load|chart|memory HOURS]``. Frames are those of the
example van's log, again and again, at a rate of their own. Latency is wall time from handing over a
frame until the bytes it caused are there, where it caused any that go at once; updates that wait for
their batch wait that long by design and are not counted. The last but one column is the same in
processor time, for a machine that has other things to do.
"""

from __future__ import annotations

import gc
import resource
import sys
import time
import tracemalloc
from collections.abc import Iterator

from hmic.compile.bind import bind
from hmic.runtime.decoding import Arrival
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.runtime import Runtime
from hmic.runtime.simulator import Simulator
from hmic.runtime.vehicle_time import VehicleTime
from hmic.sources.frame import Frame
from hmic.sources.log import Log
from hmic.wire.display_session import DisplaySession
from hmic.wire.sizes import BATCH
from tests.bench.drive import LOG, MemoryStore, dunlin, facts
from tests.tools.changed import replace


def frames(count: int) -> list[Frame]:
    """The log's frames, repeated, their counters still in turn."""
    log: list[Frame] = []
    while len(log) < count:
        log += list(Log(LOG))
    return log[:count]


class Bench:
    """A runtime and a display that answers, under a virtual clock."""

    def __init__(self, screen: str) -> None:
        bound = bind(dunlin())
        self.clock = VehicleTime()
        self.runtime = Runtime(bound, 5, self.clock)
        self.display = DisplaySession(facts(bound), MemoryStore())
        self.decoder = load_decoder(bound.design)
        self.now = 0.0
        self.runtime.go_to(screen, 0.0)
        for _ in range(8):
            self.now += 0.05
            self.exchange(self.runtime.outgoing(self.now))

    def exchange(self, data: bytes) -> None:
        """The display takes bytes and answers."""
        self.display.receive(data, self.now)
        self.runtime.receive(self.display.outgoing(self.now), self.now)

    def take(self, frame: Frame) -> bytes:
        """A frame decoded, fed, and what goes out for it."""
        readings = self.decoder.readings(frame)
        if readings:
            at = self.clock.at(self.now)
            self.runtime.feed(Arrival(at, readings, frame), self.now)
        return self.runtime.outgoing(self.now)


def latency(rate: int, seconds: float, screen: str) -> tuple[list[float], list[float], float]:
    """Wall and processor seconds of each frame that caused bytes, and the share of a core at that rate."""
    bench = Bench(screen)
    times: list[float] = []
    worked: list[float] = []
    busy = 0.0
    clock = time.perf_counter
    start = bench.now
    for number, frame in enumerate(frames(int(rate * seconds))):
        bench.now = start + number / rate
        begun, work = clock(), time.thread_time()
        data = bench.take(frame)
        taken, work = clock() - begun, time.thread_time() - work
        busy += work
        if data:
            times.append(taken)
            worked.append(work)
            bench.display.receive(data, bench.now)
            answer = bench.display.outgoing(bench.now)
            work = time.thread_time()
            bench.runtime.receive(answer, bench.now)
            busy += time.thread_time() - work
    return times, worked, busy / seconds


def share(of: list[float], part: float) -> float:
    """A percentile in milliseconds."""
    return sorted(of)[min(len(of) - 1, int(len(of) * part))] * 1000 if of else 0.0


def latency_table(screens: tuple[str, ...], rates: tuple[int, ...], seconds: float) -> None:
    """Print latency and load by screen and rate."""
    heads = f"{'screen':10}{'frames/s':>9}{'sent':>6}{'p50 ms':>8}{'p99 ms':>8}{'worst':>8}"
    print(heads + f"{'p99 cpu':>9}{'core %':>8}")
    for screen in screens:
        for rate in rates:
            times, worked, busy = latency(rate, seconds, screen)
            print(
                f"{screen:10}{rate:9}{len(times):6}{share(times, 0.5):8.2f}{share(times, 0.99):8.2f}"
                f"{share(times, 1.0):8.2f}{share(worked, 0.99):9.2f}{busy * 100:8.1f}"
            )
    print(f"(a value that is not urgent waits up to {BATCH * 1000:g} ms for its batch besides)")


def moments(bench: Bench, source: Simulator, until: float) -> Iterator[None]:
    """Everything that a loop would do up to ``until``, by the runtime's own deadlines."""
    while bench.now < until:
        for arrival in source.due(bench.now):
            bench.runtime.feed(arrival, bench.now)
        bench.runtime.tick(bench.now)
        bench.exchange(bench.runtime.outgoing(bench.now))
        bench.runtime.take_events()
        next_due = source.next_deadline()
        bench.now = max(bench.now + 0.05, min(bench.now + 0.25, next_due or bench.now))
        yield


def memory(hours: float) -> None:
    """Print what is held after each twelfth of a simulated time, the screen changed every minute."""
    bench = Bench("drive")
    causes = [cause for screen in bench.runtime.bound.screens for cause in screen.rises]
    quiet = {name for cause in causes for name in cause.signals}
    signals = {
        name: replace(definition, stale_after=max(definition.stale_after, 4000))
        for name, definition in bench.runtime.bound.design.signals.items()
    }
    source = Simulator(signals, bench.clock, quiet, least=1.0)
    names = [screen.name for screen in bench.runtime.bound.screens if not screen.rises]
    tracemalloc.start()
    begun, spent = time.perf_counter(), time.process_time()
    print(f"{'hour':>6}{'held kB':>9}{'peak kB':>9}{'process MB':>12}{'updates':>10}{'wall s':>8}")
    for part in range(13):
        until = part * hours * 300
        turn = 0
        for _ in moments(bench, source, until):
            if bench.now // 60 > turn:
                turn = int(bench.now // 60)
                bench.runtime.go_to(names[turn % len(names)], bench.now)
        gc.collect()
        held, peak = tracemalloc.get_traced_memory()
        process = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{bench.now / 3600:6.1f}{held / 1000:9.0f}{peak / 1000:9.0f}{process:12.1f}"
            f"{bench.runtime.updates:10}{time.perf_counter() - begun:8.1f}",
            flush=True,
        )
    print(f"{time.process_time() - spent:.1f} s of processor for {hours:g} h, traced")


def main() -> None:
    """Print what was asked for, or latency and load of the drive and chart screens."""
    words = sys.argv[1:] or ["latency"]
    if words[0] == "memory":
        memory(float(words[1]) if len(words) > 1 else 24.0)
    else:
        latency_table(("drive", "cells", "chart"), (100, 500, 1000, 2000), 30.0)


if __name__ == "__main__":
    main()
