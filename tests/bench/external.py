"""A display of another make, or on a board, put through what the line benches put the software display to.

    python -m tests.bench external PORT [--design layouts/roost] [--seconds N] [--picture FILE --process PID]

PORT is its serial port or pseudo terminal. It is sent the design's pack, an edited one, another while
bits are spoilt both ways, and the first again; then it shows each screen while every value moves, on a sound
line and on one that spoils bits and loses bytes. Times are as they pass on this computer. A display on it
that saves its picture on SIGUSR1 is asked for it at the end: it must be the painter's own.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

from PIL import Image

from hmic.link.any_link import Link
from hmic.link.push import push
from hmic.link.serial_port import open_port
from hmic.pack.writer import write
from hmic.paint.operations import LIVE, UNSEEN, Drawing, Moment
from hmic.paint.painter import Painter
from hmic.wire.events import Connected, Disconnected
from hmic.wire.host_session import HostSession
from tests.bench.push import recoloured
from tests.tools.changed import replace
from tests.tools.designs import LAYOUTS, design_drawing

BAUD = 115200
ERRORS = 1e-4
MOVES = 10.0
"""Times a second that all values move."""
STEP = 0.002
SETTLES = 3.0
"""Seconds of peace after which what is held must be what was said."""


class Spoilt:
    """A link that flips bits and loses bytes, both ways."""

    def __init__(self, link: Link, errors: float, dice: random.Random) -> None:
        self._link = link
        self._dice = dice
        self._held = b""
        self.errors = errors

    def read(self) -> bytes:
        return self._spoilt(self._link.read())

    def write(self, data: bytes) -> int:
        # What is held was counted as taken, and is spoilt already.
        if not self._held:
            self._held = self._spoilt(data)
            self._held = self._held[self._link.write(self._held) :]
            return len(data)
        self._held = self._held[self._link.write(self._held) :]
        return 0

    def set_rate(self, baud: int) -> None:
        self._link.set_rate(baud)

    def descriptor(self) -> int | None:
        return None

    def close(self) -> None:
        self._link.close()

    def _spoilt(self, data: bytes) -> bytes:
        out = bytearray()
        for value in data:
            if self._dice.random() >= 8 * self.errors:
                out.append(value)
            elif self._dice.random() < 0.75:
                out.append(value ^ 1 << self._dice.randrange(8))
        return bytes(out)


class Talk:
    """A host that shows one screen of a display, as time passes."""

    def __init__(self, port: str, drawing: Drawing, screen: int, errors: float, dice: random.Random) -> None:
        self.session = HostSession(dice.randrange(1 << 32), BAUD / 10)
        self.steps = [drawing.channels[channel] for channel in drawing.screens[screen].channels]
        self.link = Spoilt(open_port(port, BAUD), errors, dice)
        self.losses = 0
        self.answered: float | None = None
        self.session.show(screen, 0, 80, len(self.steps))
        self._unsent = b""

    def run(self, seconds: float, values: Callable[[], list[int]] | None = None) -> None:
        """So many seconds, in which all values move if there are some."""
        begun = moved = now = time.monotonic()
        while now < begun + seconds:
            now = time.monotonic()
            for event in self.session.receive(self.link.read(), now):
                if isinstance(event, Connected) and self.answered is None:
                    self.answered = now - begun
                self.losses += isinstance(event, Disconnected)
            if values is not None and now >= moved:
                moved += 1 / MOVES
                self.session.update(values(), now)
            self._unsent += self.session.outgoing(now)
            self._unsent = self._unsent[self.link.write(self._unsent) :]
            time.sleep(STEP)


def pushes(port: str, drawing: Drawing, dice: random.Random) -> None:
    """The table of pushes."""
    pack, edited = write(drawing), write(recoloured(drawing))
    fewer = write(replace(drawing, screens=drawing.screens[:-1], start=0))
    print(f"  {'pushed':34}{'s':>8}{'bytes forth':>14}")
    for name, data, errors in (
        ("the pack", pack, 0.0),
        ("with one colour edited", edited, 0.0),
        (f"a screen less, {ERRORS:g} bit errors", fewer, ERRORS),
        ("the pack again", pack, 0.0),
    ):
        done = push(lambda: Spoilt(open_port(port, BAUD), errors, dice), data, BAUD, lambda facts: None)  # noqa: B023
        print(f"  {name:34}{done.seconds:>8.2f}{done.bytes_sent:>14}", flush=True)


def screens(port: str, drawing: Drawing, seconds: float, dice: random.Random) -> Moment:
    """The table of screens. Gives what the display must show at the end."""
    titles = ("bit errors", "answer, s", "values", "dropped", "resumed", "lost")
    print(f"\n  {'screen':14}" + "".join(f"{title:>11}" for title in titles))
    raw: list[int] = []
    dropped = 0
    for number, screen in enumerate(drawing.screens):
        for errors in (0.0, ERRORS):
            talk = Talk(port, drawing, number, errors, dice)
            try:
                talk.run(seconds, lambda: [LIVE + dice.randrange(each) for each in talk.steps])  # noqa: B023
                talk.link.errors = 0.0
                raw = [LIVE + each // 2 for each in talk.steps]
                talk.session.update(raw, time.monotonic())
                talk.run(SETTLES)
            finally:
                talk.link.close()
            told = talk.session.statistics
            answered = "none" if talk.answered is None else f"{talk.answered:.3f}"
            cells = (f"{errors:g}", answered, told.value_frames, told.display_dropped - dropped, told.resumed)
            dropped = told.display_dropped
            row = "".join(f"{cell:>11}" for cell in (*cells, talk.losses))
            print(f"  {screen.name:14}{row}", flush=True)
    channels = [UNSEEN] * len(drawing.channels)
    for channel, value in zip(drawing.screens[-1].channels, raw, strict=True):
        channels[channel] = value
    return Moment(len(drawing.screens) - 1, 0, tuple(channels))


def picture(path: Path, process: int) -> bytes:
    """What a display on this computer shows, which it saves on SIGUSR1."""
    path.unlink(missing_ok=True)
    os.kill(process, signal.SIGUSR1)
    until = time.monotonic() + 10
    while not path.exists() and time.monotonic() < until:
        time.sleep(0.02)
    with Image.open(path) as image:
        return image.convert("RGB").tobytes()


def main() -> int:
    """All of it; 1 if the picture at the end is not the painter's."""
    parser = argparse.ArgumentParser(prog="tests.bench external", description=__doc__)
    parser.add_argument("port", help="the display's serial port or pseudo terminal")
    parser.add_argument("--design", type=Path, default=LAYOUTS / "roost", help="what it is made for")
    parser.add_argument("--seconds", type=float, default=5.0, help="how long the values of a screen move")
    parser.add_argument("--picture", type=Path, help="where it saves its picture")
    parser.add_argument("--process", type=int, help="its process, which saves the picture on SIGUSR1")
    told = parser.parse_args()
    drawing, dice = design_drawing(told.design), random.Random(1)
    print(f"{told.port}, {told.design.name}, at {BAUD} Bd where the port has a rate\n")
    pushes(told.port, drawing, dice)
    last = screens(told.port, drawing, told.seconds, dice)
    if told.picture is None or told.process is None:
        return 0
    talk = Talk(told.port, drawing, last.screen, 0.0, dice)
    listed = drawing.screens[last.screen].channels
    talk.session.update([last.raw[channel] for channel in listed], time.monotonic())
    talk.run(SETTLES)
    # Within the second in which a display still takes a host that is silent for alive.
    seen = picture(told.picture, told.process)
    talk.link.close()
    equal = seen == Painter(drawing).paint(last).convert("RGB").tobytes()
    print(f"\nthe picture at the end is {'' if equal else 'NOT '}as painted here")
    return 0 if equal else 1


if __name__ == "__main__":
    sys.exit(main())
