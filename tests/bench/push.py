"""Goodput of a push beside ZMODEM and YMODEM (lrzsz), all on one relay between two pseudo terminals.

``python -m tests.bench push [--seconds N]``. The relay gives 115200 Bd, 2 ms each way and the bit errors
asked for, in both directions; a transfer that takes longer than N seconds has failed. lrzsz is Debian's
``lrzsz``; without it its rows are left out. The first tables are simulated: what an edit costs, also at slow
rates.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import shutil
import subprocess
import tempfile
import threading
import time
import tty
from collections import deque
from pathlib import Path

from hmic.link.memory import Faults, MemoryLine
from hmic.link.push import push
from hmic.link.serial_port import open_port
from hmic.model.design import Design
from hmic.pack.records import identity
from hmic.pack.writer import write
from hmic.paint.operations import Drawing
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Outcome, Transferred
from hmic.wire.host_session import HostSession
from hmic.wire.likeness import PIECE
from tests.bench.drive import MemoryStore, dunlin
from tests.tools.changed import replace

BAUD = 115200
DELAY = 0.002
SIZE = 150_000
ERRORS = (0.0, 1e-5, 1e-4)
SLOW = (9600, 19200)


class Relay:
    """Two pseudo terminals and a line of a certain rate, delay and bit error rate between them."""

    def __init__(self, errors: float, baud: int = BAUD, seed: int = 1) -> None:
        self.ends = [os.openpty() for _ in range(2)]
        for own, other in self.ends:
            tty.setraw(other)
            os.set_blocking(own, False)
        self.paths = [os.ttyname(other) for _, other in self.ends]
        self.rate = baud / 10
        self._errors = 1 - (1 - errors) ** 8
        self._dice = random.Random(seed)
        self._stop = False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Ends the relay."""
        self._stop = True
        self._thread.join()
        for own, other in self.ends:
            os.close(own)
            os.close(other)

    def _run(self) -> None:
        ways = [
            [self.ends[0][0], self.ends[1][0], deque(), 0.0],
            [self.ends[1][0], self.ends[0][0], deque(), 0.0],
        ]
        while not self._stop:
            now = time.monotonic()
            for way in ways:
                self._move(way, now)
            busy = [way[0] for way in ways if way[3] < now + 0.002]
            select.select(busy, [], [], 0.001)

    def _move(self, way: list, now: float) -> None:
        source, target, queue, free = way
        # As a serial port does: only what the line is about to take leaves the sender's buffer.
        if free < now + 0.002:
            try:
                data = os.read(source, max(1, int(0.004 * self.rate)))
            except (BlockingIOError, OSError):
                data = b""
            for value in data:
                free = max(free, now) + 1 / self.rate
                if self._errors and self._dice.random() < self._errors:
                    value ^= 1 << self._dice.randrange(8)
                queue.append((free + DELAY, value))
            way[3] = free
        ready = bytearray()
        while queue and queue[0][0] <= now:
            ready.append(queue.popleft()[1])
        if ready:
            try:
                os.write(target, ready)
            except (BlockingIOError, OSError):
                return


class Far(threading.Thread):
    """A display without a panel at the far end."""

    def __init__(self, path: str) -> None:
        super().__init__(daemon=True)
        self.store = MemoryStore()
        self._path = path
        self._ending = False

    def run(self) -> None:
        line = open_port(self._path, BAUD)
        session = DisplaySession(DisplayFacts(7, 1024, 600, 24, None, 1 << 21, 512, 1), self.store)
        while not self._ending:
            now = time.monotonic()
            session.receive(line.read(), now)
            line.write(session.outgoing(now))
            select.select([line.descriptor()], [], [], 0.002)
        line.close()

    def end(self) -> None:
        self._ending = True
        self.join()


def ours(data: bytes, errors: float, seconds: float) -> float | None:
    """Seconds of a push, None if it failed."""
    relay = Relay(errors)
    far = Far(relay.paths[1])
    far.start()
    begun = time.monotonic()
    try:
        done = push(lambda: open_port(relay.paths[0], BAUD), data, BAUD, lambda facts: None)
        assert done.outcome is Outcome.ACTIVATED and far.store.active == data
        taken = time.monotonic() - begun
        return taken if taken <= seconds else None
    finally:
        far.end()
        relay.close()


def theirs(sender: list[str], receiver: str, data: bytes, errors: float, seconds: float) -> float | None:
    """Seconds of a transfer by two programs, None if it failed."""
    relay = Relay(errors)
    with tempfile.TemporaryDirectory() as folder:
        here, there = Path(folder) / "here", Path(folder) / "there"
        here.mkdir(), there.mkdir()
        (here / "data.bin").write_bytes(data)
        near, far = (os.open(path, os.O_RDWR | os.O_NOCTTY) for path in relay.paths)
        quiet = subprocess.DEVNULL
        begun = time.monotonic()
        with (
            subprocess.Popen(
                [receiver, "-b", "-q"], stdin=far, stdout=far, stderr=quiet, cwd=there
            ) as taking,
            subprocess.Popen(
                [*sender, "-q", "data.bin"], stdin=near, stdout=near, stderr=quiet, cwd=here
            ) as giving,
        ):
            arrived = there / "data.bin"
            while (taken := time.monotonic() - begun) < seconds:
                # Whole on disk or over: what a program does after that is not counted.
                if giving.poll() is not None or (arrived.is_file() and arrived.stat().st_size >= len(data)):
                    break
                time.sleep(0.01)
            time.sleep(1.0)
            for process in (giving, taking):
                process.kill()
        os.close(near)
        os.close(far)
        relay.close()
        whole = arrived.is_file() and arrived.read_bytes()[: len(data)] == data
        return taken if whole and taken <= seconds else None


def goodput(seconds: float) -> None:
    """The table of goodput in percent of the line rate."""
    noise = random.Random(3).randbytes(SIZE)
    packed = write(dunlin().arranged.drawing)[:SIZE]
    rows: list[tuple[str, object]] = [
        ("simulated, random bytes", lambda errors: simulated(MemoryStore(), noise, None, errors)[0]),
        ("simulated, pack", lambda errors: simulated(MemoryStore(), packed, None, errors)[0]),
        ("push, random bytes", lambda errors: ours(noise, errors, seconds)),
        ("push, start of a pack", lambda errors: ours(packed, errors, seconds)),
    ]
    if shutil.which("sz"):
        rows += [
            ("ZMODEM, random bytes", lambda errors: theirs(["sz", "-b"], "rz", noise, errors, seconds)),
            ("YMODEM, random bytes", lambda errors: theirs(["sb", "-k"], "rb", noise, errors, seconds)),
        ]
    print(f"goodput of {SIZE} bytes at {BAUD} Bd, {DELAY * 1000:g} ms each way, in % of the line rate")
    print("(simulated: on an ideal clock; the others share this computer with whatever else it does)")
    print(f"  {'bit errors':24}" + "".join(f"{errors:>12g}" for errors in ERRORS))
    for name, run in rows:
        cells = []
        for errors in ERRORS:
            taken = run(errors)  # type: ignore[operator]
            cells.append("failed" if taken is None else f"{100 * SIZE * 10 / BAUD / taken:.1f} %")
        print(f"  {name:24}" + "".join(f"{cell:>12}" for cell in cells), flush=True)


def simulated(
    store: MemoryStore,
    pack: bytes,
    held: bytes | None,
    errors: float = 0.0,
    seed: int = 1,
    baud: int = BAUD,
) -> tuple[float, int, int]:
    """Seconds and bytes forth and back of a push on a simulated line."""
    rate = baud / 10
    known = None if held is None else identity(held)
    display = DisplaySession(DisplayFacts(7, 1024, 600, 24, known, 1 << 21, 512, 1), store)
    host = HostSession(5, rate)
    host.transfer(pack)
    line = MemoryLine(*(Faults(rate=rate, latency=DELAY, bit_errors=errors),) * 2, seed)
    unsent = [b"", b""]
    while True:
        line.advance(line.now + 0.001)
        now = line.now
        display.receive(line.far.read(), now)
        for event in host.receive(line.near.read(), now):
            if isinstance(event, Transferred):
                assert event.outcome is Outcome.ACTIVATED and store.active == pack, event
                return now, line.near.carried, line.far.carried
        unsent[0] += host.outgoing(now)
        unsent[0] = unsent[0][line.near.write(unsent[0]) :]
        unsent[1] += display.outgoing(now)
        unsent[1] = unsent[1][line.far.write(unsent[1]) :]


def recoloured(drawing: Drawing) -> Drawing:
    """One colour of one theme a little different."""
    theme = drawing.themes[0]
    red, green, blue = theme.colours[5]
    colours = (*theme.colours[:5], (red ^ 1, green, blue), *theme.colours[6:])
    return replace(drawing, themes=(replace(theme, colours=colours), *drawing.themes[1:]))


def edits() -> None:
    """What a full push and pushes after edits come to."""
    design: Design = dunlin().design
    drawing = dunlin().arranged.drawing
    first = write(drawing)
    fewer = replace(drawing, screens=drawing.screens[:-1])
    screen = drawing.screens[0]
    moved = replace(screen, operations=screen.operations[1:])
    cases = [
        ("one colour", write(recoloured(drawing))),
        ("one operation less", write(replace(drawing, screens=(moved, *drawing.screens[1:])))),
        ("a screen less", write(fewer)),
    ]
    store = MemoryStore()
    whole, forth, back = simulated(store, first, None)
    print(f"\npush of {design.name} ({len(first)} bytes), simulated at {BAUD} Bd, pieces of {PIECE} bytes")
    print(f"  {'what':24}{'s':>8}{'forth':>10}{'back':>8}{'of a full push':>16}")
    print(f"  {'all':24}{whole:>8.2f}{forth:>10}{back:>8}")
    for name, pack in cases:
        copy = MemoryStore(first)
        taken, out, into = simulated(copy, pack, first)
        print(f"  {name:24}{taken:>8.2f}{out:>10}{into:>8}{100 * out / forth:>15.1f}%")
    pack = cases[0][1]
    print(f"\npush of {design.name} at slow rates, simulated")
    print(f"  {'Bd':>8}{'bit errors':>12}  {'what':16}{'s':>8}{'forth':>10}{'back':>8}")
    for baud in SLOW:
        for errors in (0.0, 5e-4):
            for name, held, sent in (("one colour", first, pack), ("all", None, first)):
                taken, out, into = simulated(MemoryStore(held), sent, held, errors, baud=baud)
                print(f"  {baud:>8}{errors:>12g}  {name:16}{taken:>8.1f}{out:>10}{into:>8}", flush=True)


def main() -> None:
    """Both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0, help="how long a transfer may take")
    arguments = parser.parse_args()
    edits()
    print()
    goodput(arguments.seconds)


if __name__ == "__main__":
    main()
