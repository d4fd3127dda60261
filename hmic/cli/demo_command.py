"""Does all of it once on the example van, with nothing plugged in: builds the screens, starts a
software display, pushes the pack over a pseudo terminal, replays a minute of a recorded drive at ten
times its speed, and writes what the display showed as pictures. Takes under half a minute.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from hmic import places
from hmic.cli.designs import compile_or_stop
from hmic.cli.push_command import misfit
from hmic.cli.run_command import StatusLine, summed_up
from hmic.cli.writing import write_picture, write_result
from hmic.compile.bind import bind

if TYPE_CHECKING:
    from hmic.diagnostics import Finding
    from hmic.display.serve import Server
    from hmic.runtime.run import Status
    from hmic.runtime.runtime import Runtime
    from hmic.sources.frame import Frame
    from hmic.sources.log import Log

FASTER = 10.0
# The stretch of the log, in seconds: it holds the loss of the thermal controller.
STRETCH = (90.0, 150.0)
# A pseudo terminal has no rate of its own; this one keeps the push short.
BAUD = 921600
DISPLAY_SILENCE = 1.6
# What to look at, by second of the replay: screen and theme.
TOUR = {
    1: ("cells", "day"),
    2: ("charging", "day"),
    3: ("drive", "night"),
    4: ("cells", "night"),
    5: ("drive", "day"),
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for pack and pictures (default: a new one)"
    )


def run(arguments: argparse.Namespace) -> int:
    """Runs the whole path and says what it did and where things are."""
    from hmic.display.serve import Server, open_display
    from hmic.link.pseudo_terminal import PseudoTerminal
    from hmic.link.push import push
    from hmic.link.serial_port import open_port

    begun = time.monotonic()
    out: Path = arguments.out or Path(tempfile.mkdtemp(prefix="hmic-demo-"))
    folder = places.examples_folder() / "dunlin"
    compiled = compile_or_stop(folder)
    drawing = compiled.arranged.drawing
    pack = compiled.pack
    write_result(out / "dunlin.pack", pack)
    _say(
        f"built    {folder}: {len(drawing.screens)} screens, {len(drawing.themes)} themes, {len(pack)} bytes"
    )

    terminal = PseudoTerminal()
    from hmic.display.display import Glass

    glass = Glass(drawing.width, drawing.height, drawing.depth)
    server = Server(open_display(None, None, glass), lambda: terminal, _say)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    _say(f"display  an empty software display listens on {terminal.path}")
    try:
        pushed = push(
            lambda: open_port(terminal.path, BAUD), pack, BAUD, lambda facts: misfit(drawing, facts)
        )
        _say(f"pushed   {len(pack)} bytes in {pushed.seconds:.1f} s; the display checked them and switched")
        bound = bind(compiled)
        bound = replace(bound, design=replace(bound.design, panel=replace(bound.design.panel, baud=BAUD)))
        pictures = _Pictures(server, out)
        _replay(bound, folder / "logs" / "ten_minutes.blf", terminal.path, pictures)
        time.sleep(DISPLAY_SILENCE)
        pictures.take("drive-after-silence")
        pictures.wait()
    finally:
        server.stop()
        thread.join(5)
    for path in pictures.written:
        _say(f"picture  {path}")
    _say(f"done     in {time.monotonic() - begun:.1f} s; everything is in {out}")
    return 0


class _Pictures:
    """Asks the display's own thread for its frame, and waits for all asked."""

    def __init__(self, server: Server, out: Path) -> None:
        self.written: list[Path] = []
        self._server = server
        self._out = out
        self._asked = 0
        self._done = threading.Semaphore(0)

    def take(self, name: str) -> None:
        path = self._out / f"{name}.png"
        self._asked += 1

        def save(image: object) -> None:
            from PIL.Image import Image

            assert isinstance(image, Image)
            write_picture(path, image)
            self.written.append(path)
            self._done.release()

        self._server.ask_image(save)

    def wait(self) -> None:
        for _ in range(self._asked):
            self._done.acquire(timeout=5)


class _Stretch:
    """A stretch of a log, its times counted from its start."""

    def __init__(self, log: Log, first: float, last: float) -> None:
        self.name = log.name
        self._log = log
        self._first = first
        self._last = last

    @property
    def findings(self) -> list[Finding]:
        return self._log.findings

    def __iter__(self) -> Iterator[Frame]:
        for frame in self._log:
            if frame.at > self._last:
                return
            if frame.at >= self._first:
                yield frame._replace(at=frame.at - self._first)


def _replay(bound: object, log: Path, port: str, pictures: _Pictures) -> None:
    from hmic.link.serial_port import open_port
    from hmic.runtime.binding import BoundDesign
    from hmic.runtime.from_dbc import load_decoder
    from hmic.runtime.run import run
    from hmic.runtime.runtime import Runtime
    from hmic.runtime.sources import Replay
    from hmic.runtime.vehicle_time import VehicleTime
    from hmic.sources.log import Log

    assert isinstance(bound, BoundDesign)
    vehicle_time = VehicleTime(FASTER)
    stretch = _Stretch(Log(log), *STRETCH)
    source = Replay(stretch, load_decoder(bound.design), vehicle_time)
    runtime = Runtime(bound, int.from_bytes(os.urandom(4), "little"), vehicle_time)
    line = StatusLine()
    tour = _Tour(runtime, pictures)

    def status(now: Status) -> None:
        line.status(now)
        tour.step()

    summary = run(
        runtime,
        lambda: open_port(port, BAUD),
        [source],
        on_event=line.event,
        on_status=status,
        await_display=True,
        time_of_day=lambda: 10 * 60 + 24.0,
    )
    line.end()
    seconds = STRETCH[1] - STRETCH[0]
    _say(f"replayed {seconds:.0f} s of {log.name} at {FASTER:g} times its speed: {summed_up(summary)}")


class _Tour:
    """Each second: a picture of what is in sight, then on to the next screen of the tour."""

    def __init__(self, runtime: Runtime, pictures: _Pictures) -> None:
        self._runtime = runtime
        self._pictures = pictures
        self._second = 0

    def step(self) -> None:
        self._second += 1
        themes = [theme.name for theme in self._runtime.bound.design.themes]
        self._pictures.take(f"{self._second}-{self._runtime.screen}-{themes[self._runtime.theme]}")
        if self._second in TOUR:
            screen, theme = TOUR[self._second]
            now = time.monotonic()
            self._runtime.go_to(screen, now)
            self._runtime.choose_theme(themes.index(theme), now)


def _say(sentence: str) -> None:
    print(sentence, flush=True)
