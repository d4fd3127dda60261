"""Writes ``tests/vectors``: packs and frames, sessions and transfers as bytes with times, by which another
display's program can be tried. ``python -m tests.tools.vectors`` writes them all again; see VECTORS.md there.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from hmic.compile.compiling import Compiled, compile_design
from hmic.display.display import CHANNEL_CAPACITY, Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.display.store import Store
from hmic.link.memory import CLEAN, Faults, MemoryLine
from hmic.pack.writer import write
from hmic.paint.operations import LIVE, Drawing, Moment
from hmic.paint.painter import Painter
from hmic.places import examples_folder
from hmic.wire.host_session import HostSession
from tests.display.test_display_line import two_screens
from tests.paint.moving_scenes import moving_scene
from tests.paint.scenes import operations_scene
from tests.tools.changed import replace

FOLDER = Path(__file__).parents[1] / "vectors"
TURN = 7
"""Milliseconds from one turn of a display to the next. No interval of the protocol is a multiple of it, so
that no frame hangs on how a program rounds its clock."""
NONCE = 0x1234_5678
FASTEST = 460_800
LINE = Faults(rate=11_520)
NOISY = Faults(rate=11_520, bit_errors=3e-4, loss=1e-4, duplication=1e-4, insertion=1e-4)


@cache
def drawings() -> dict[str, Drawing]:
    """What the packs hold, by name."""
    roost = compile_design(examples_folder() / "roost")
    assert isinstance(roost, Compiled)
    drawing = roost.arranged.drawing
    first = drawing.themes[0]
    return {
        "small": two_screens(),
        "operations": operations_scene(LIVE + 152).drawing(),
        "moving": moving_scene(LIVE + 61).drawing(16),
        "roost": drawing,
        "roost_edited": replace(
            drawing, themes=(replace(first, brightness=first.brightness - 1), *drawing.themes[1:])
        ),
    }


def digest(pixels: bytes) -> str:
    """How a frame is told: SHA-256 of its rows, three bytes a pixel."""
    return sha256(pixels).hexdigest()


def moments(drawing: Drawing, seed: int, count: int) -> Iterator[Moment]:
    """Random moments of each screen and theme, with every doubt."""
    dice = random.Random(seed)
    for screen in range(len(drawing.screens)):
        for theme in range(len(drawing.themes)):
            for _ in range(count):
                raw = tuple(
                    dice.randrange(LIVE) if dice.random() < 0.2 else LIVE + dice.randrange(steps)
                    for steps in drawing.channels
                )
                yield Moment(screen, theme, raw, dice.randrange(1 << 20))


def frames(name: str) -> dict[str, Any]:
    """A pack's pictures."""
    drawing = drawings()[name]
    painter = Painter(drawing)
    listed = [
        {
            "screen": each.screen,
            "theme": each.theme,
            "clock": each.clock,
            "raw": list(each.raw),
            "frame": digest(painter.paint(each).tobytes()),
        }
        for each in moments(drawing, len(name), 3)
    ]
    return {"pack": f"{name}.pack", "moments": listed}


@dataclass
class Script:
    """A host and a display on a line, noting all that the display is given and gives."""

    pack: str | None
    forth: Faults = CLEAN
    back: Faults = CLEAN
    events: list[list[Any]] = field(default_factory=list)
    now: int = 0

    def __post_init__(self) -> None:
        drawing = drawings()[self.pack or "roost"]
        self.glass = Glass(drawing.width, drawing.height, drawing.depth)
        self.display = Display(MemoryFlash(), self.glass, NONCE, FASTEST)
        if self.pack is not None:
            assert self.display.install(write(drawing))
        self.line = MemoryLine(self.forth, self.back, seed=11)
        self.hosts = {1: HostSession(1), 2: HostSession(2)}
        self.host = self.hosts[1]
        self._unsent = {"host": b"", "display": b""}
        self.speaks = True

    def run(self, seconds: float) -> Script:
        """Time passes."""
        for _ in range(round(seconds * 1000) // TURN):
            self.now += TURN
            self._turn(self.now / 1000)
        return self

    def _turn(self, now: float) -> None:
        self.line.advance(now)
        heard = self.line.near.read()
        if self.speaks:
            self.host.receive(heard, now)
            self._unsent["host"] += self.host.outgoing(now)
            self._unsent["host"] = self._unsent["host"][self.line.near.write(self._unsent["host"]) :]
        received = self.line.far.read()
        if received:
            self.events.append([self.now, "in", received.hex()])
        self.display.receive(received, now)
        said = self.display.outgoing(now)
        if said:
            self.events.append([self.now, "out", said.hex()])
        rate = self.display.take_rate()
        if rate is not None:
            self.events.append([self.now, "rate", rate])
        self._unsent["display"] += said
        self._unsent["display"] = self._unsent["display"][self.line.far.write(self._unsent["display"]) :]

    def show(self, screen: int, theme: int, values: Callable[[int], int]) -> Script:
        """The host shows a screen with a value for each position of its list."""
        drawing = drawings()[self.pack or "roost"]
        count = len(drawing.screens[screen].channels)
        self.host.show(screen, theme, 70, count)
        self.host.update([values(place) for place in range(count)], self.now / 1000)
        return self

    def look(self) -> Script:
        """What is on the glass is noted."""
        moment = self.display.moment(self.now / 1000)
        shown = {"screen": moment.screen, "theme": moment.theme, "raw": list(moment.raw)}
        self.events.append([self.now, "shows", shown])
        self.events.append([self.now, "frame", digest(self.display.image(self.now / 1000).tobytes())])
        return self

    def press(self, x: int, y: int) -> Script:
        """A finger comes down."""
        self.events.append([self.now, "press", x, y])
        self.display.press(x, y, self.now / 1000)
        return self

    def release(self, x: int, y: int) -> Script:
        """It lifts."""
        self.events.append([self.now, "release", x, y])
        self.display.release(x, y, self.now / 1000)
        return self

    def other_host(self, number: int) -> Script:
        """Another host takes the line."""
        self.host = self.hosts[number]
        return self

    def speech(self, speaks: bool) -> Script:
        """The host falls silent, or speaks again."""
        self.speaks = speaks
        return self

    def push(self, name: str, dry: bool = False) -> Script:
        """The host begins to send a pack, or only to ask what would have to be sent."""
        self.host.transfer(write(drawings()[name]), dry)
        return self

    def stop(self) -> Script:
        """The host gives the pack up."""
        self.host.cancel_transfer()
        return self

    def made(self) -> dict[str, Any]:
        """The vector."""
        facts = {"width": self.glass.width, "height": self.glass.height, "depth": self.glass.depth}
        pack = None if self.pack is None else f"{self.pack}.pack"
        identity = self.display.identity
        return {
            **facts,
            "nonce": NONCE,
            "fastest": FASTEST,
            "capacity": Store(MemoryFlash()).capacity,
            "channels": CHANNEL_CAPACITY,
            "pack": pack,
            "turn": TURN,
            "events": self.events,
            "end": self.now,
            "identity": None if identity is None else identity.hex(),
        }


def _moving(script: Script, seconds: float) -> Script:
    """Values that all move, ten times a second."""
    for step in range(round(seconds * 10)):
        script.show(0, 0, lambda place: LIVE + (step + place) % 5).run(0.1)  # noqa: B023
    return script


def _shown(pack: str = "small", forth: Faults = CLEAN, back: Faults = CLEAN) -> Script:
    """A display that shows its first screen with values."""
    return Script(pack, forth, back).run(0.5).show(0, 0, lambda place: LIVE + place).run(0.5)


def sessions() -> dict[str, Script]:
    """Every session, run."""
    touched = _shown("small", LINE, NOISY).press(5, 5).run(0.1).release(5, 5).run(2.0)
    swiped = _shown().press(30, 15).run(0.05).release(39, 0).run(0.5)
    silent = _shown().speech(False).run(1.5).look().speech(True).run(1.0).look()
    second = _shown().press(5, 5).other_host(2).run(0.4).show(0, 1, lambda place: LIVE + 2).run(0.6).look()
    broken_off = Script(None, LINE, LINE).push("roost").run(0.7).stop().run(0.3)
    looked_at = broken_off.push("roost", dry=True).run(1.0).push("roost_edited", dry=True).run(2.5)
    return {
        "greeting": Script("small").run(0.6),
        "values": _shown().look(),
        "another_screen": _shown().show(1, 1, lambda place: LIVE + 2).run(0.3).look(),
        "silence": silent,
        "swipe": swiped,
        "touches_on_a_bad_line": touched,
        "two_hosts": second.other_host(1).run(2.0).look(),
        "moving": _moving(_shown("small", LINE, LINE), 2.0).look(),
        "moving_on_a_bad_line": _moving(_shown("small", NOISY, NOISY), 8.0).run(0.5).look(),
        "push_to_an_empty_display": Script(None, LINE, LINE).push("roost").run(9.0).look(),
        "push_of_an_edited_pack": Script("roost", LINE, LINE).push("roost_edited").run(4.0).look(),
        "push_on_a_bad_line": Script("roost", NOISY, NOISY).push("roost_edited").run(12.0).look(),
        "push_after_one_that_broke_off": looked_at.push("roost").run(8.0).look(),
        "push_for_another_panel": Script("small", LINE, LINE).push("roost").run(9.0).look(),
    }


def files() -> dict[str, bytes]:
    """Every file of the folder but its page, by name."""
    made = {f"{name}.pack": write(drawing) for name, drawing in drawings().items()}
    for name in ("small", "operations", "moving", "roost"):
        made[f"{name}.frames.json"] = _text(frames(name), "moments")
    for name, script in sessions().items():
        made[f"{name}.session.json"] = _text(script.made(), "events")
    return made


def _text(vector: dict[str, Any], rows: str) -> bytes:
    """JSON with a line for each of the rows, so that a change can be read."""
    body = ",\n".join("  " + json.dumps(row, separators=(",", ":")) for row in vector[rows])
    facts = {key: value for key, value in vector.items() if key != rows}
    head = "".join(f"{json.dumps(key)}: {json.dumps(value)},\n" for key, value in facts.items())
    return f"{{\n{head}{json.dumps(rows)}: [\n{body}\n]\n}}\n".encode()


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.iterdir():
        if old.suffix in (".pack", ".json"):
            old.unlink()
    for name, data in files().items():
        (FOLDER / name).write_bytes(data)
        print(f"{name}: {len(data)} bytes")


if __name__ == "__main__":
    main()
