"""The WebAssembly module: built from the sources that stand here, and a display like the others."""

from __future__ import annotations

import random
import struct
from functools import cache
from pathlib import Path

import pytest

from hmic.pack.reader import read
from hmic.pack.records import identity
from hmic.pack.writer import write
from hmic.paint.operations import LIVE, Moment
from hmic.paint.painter import Painter
from hmic.wire.events import Connected
from hmic.wire.host_session import HostSession
from tests.display.test_display_line import two_screens
from tests.tools.designs import example_pack
from tests.tools.player import as_rgb
from tests.tools.player_wasm import MODULE, build

wasmtime = pytest.importorskip("wasmtime", reason="wasmtime has no wheel for this system")

LARGEST = 64 * 1024
PAGE = 65536
EXAMPLES = ("dunlin", "roost", "plover")


class Module:
    """An instance with memory that is handed out from ``__heap_base`` on."""

    def __init__(self) -> None:
        engine = wasmtime.Engine()
        self._store = wasmtime.Store(engine)
        limits = wasmtime.Limits(1, None)
        self.memory = wasmtime.Memory(self._store, wasmtime.MemoryType(limits))
        module = wasmtime.Module.from_file(engine, str(MODULE))
        self._exports = wasmtime.Instance(self._store, module, [self.memory]).exports(self._store)
        self._free = self._exports["__heap_base"].value(self._store)

    def call(self, name: str, *arguments: int) -> int:
        return self._exports[name](self._store, *arguments) or 0

    def place(self, size: int, data: bytes = b"") -> int:
        at = -(-self._free // 16) * 16
        self._free = at + size
        lacking = self._free - self.memory.data_len(self._store)
        if lacking > 0:
            self.memory.grow(self._store, -(-lacking // PAGE))
        self.write(at, data)
        return at

    def write(self, at: int, data: bytes) -> None:
        self.memory.write(self._store, data, at)

    def read(self, at: int, size: int) -> bytes:
        return bytes(self.memory.read(self._store, at, at + size))


def test_it_is_built_from_these_sources(tmp_path: Path) -> None:
    build(tmp_path / "again.wasm")
    assert (tmp_path / "again.wasm").read_bytes() == MODULE.read_bytes(), (
        "build it again: python -m tests.tools.player_wasm"
    )
    assert MODULE.stat().st_size <= LARGEST


@cache
def opened(name: str) -> tuple[Module, int, int, int]:
    """A module with a pack open; places of the pack's state, the values and the pixels."""
    data = example_pack(name)
    drawing = read(data)
    module = Module()
    state, marks = module.place(512), module.place(8192)
    pack = module.place(len(data), data)
    assert module.call("web_open", state, pack, len(data), marks, 8192) == 0
    raw = module.place(2 * len(drawing.channels) + 2)
    pixels = module.place(drawing.width * drawing.height * 3)
    return module, state, raw, pixels


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_screen_is_as_the_painter_paints_it(name: str) -> None:
    drawing = read(example_pack(name))
    module, state, at, pixels = opened(name)
    painter = Painter(drawing)
    chance = random.Random(name)
    size = drawing.width * drawing.height * (2 if drawing.depth == 16 else 3)
    for screen in range(len(drawing.screens)):
        for turn in range(6):
            theme = turn % len(drawing.themes)
            raw = tuple(turn if turn < LIVE else LIVE + chance.randrange(steps) for steps in drawing.channels)
            moment = Moment(screen, theme, raw, chance.randrange(1 << 32))
            module.write(at, struct.pack(f"<{len(raw)}H", *raw))
            clock = moment.clock - (1 << 32 if moment.clock >= 1 << 31 else 0)
            module.call("web_frame", state, screen, theme, at, clock, pixels)
            frame = as_rgb(module.read(pixels, size), 2 if drawing.depth == 16 else 3)
            assert frame == painter.paint(moment).tobytes(), (screen, turn)


def test_it_is_a_whole_display() -> None:
    """Pushed to and run by a host, as bytes handed back and forth."""
    drawing = two_screens()
    data = write(drawing)
    module = Module()
    size = module.call("web_size", 40, 24, 64)
    self = module.place(size)
    flash_size = 64 * 4096
    flash, frame = module.place(flash_size, b"\xff" * flash_size), module.place(40 * 20 * 3)
    out, back = module.place(1024), module.place(4096)
    assert module.call("web_start", self, flash, flash_size, frame, 40, 20, 24, 64, 1234)
    host, now, shown = HostSession(9, 1e6), 0, False
    host.transfer(data)
    facts = None
    for _ in range(400):
        now += 10
        said = host.outgoing(now / 1000)
        for start in range(0, len(said), 1024):
            piece = said[start : start + 1024]
            module.write(out, piece)
            module.call("web_receive", self, out, len(piece), now)
        module.call("web_receive", self, out, 0, now)
        heard = b""
        while count := module.call("web_outgoing", self, back, 4096):
            heard += module.read(back, count)
        for event in host.receive(heard, now / 1000):
            facts = event.facts if isinstance(event, Connected) else facts
        if facts is not None and facts.identity == identity(data) and not shown:
            shown = True
            host.show(0, 1, 70, 2)
            host.update([LIVE + 1, LIVE + 2], now / 1000)
    assert shown
    assert module.call("web_paint", self, now) >= 1
    wanted = Painter(drawing).paint(Moment(0, 1, (LIVE + 2, LIVE + 1, 0), now)).tobytes()
    assert module.read(frame, 40 * 20 * 3) == wanted
    rgba = module.place(40 * 20 * 4)
    module.call("web_rgba", self, rgba)
    seen = module.read(rgba, 40 * 20 * 4)
    assert bytes(part for at in range(0, len(seen), 4) for part in seen[at : at + 3]) == wanted
    assert module.call("web_paint", self, now) == 0
