"""The player as a whole display, as a session and as a store, with the doors of ``Display``,
``DisplaySession`` and ``Store``: the suites of those classes run on both."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from enum import IntEnum
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from PIL import Image

from hmic.display.display import CHANNEL_CAPACITY, Glass
from hmic.display.flash import Flash, FlashError
from hmic.pack.records import identity
from hmic.paint.operations import Moment
from hmic.wire.sizes import UNIT
from tests.tools.player import as_rgb, built, sources

SHIM = Path(__file__).parents[1] / "player" / "shim.c"
POLL = 0.01
LARGEST_OUT = 8192

U8, U16, U32, VOID = ctypes.c_uint8, ctypes.c_uint16, ctypes.c_uint32, ctypes.c_void_p


class StoreTold(ctypes.Structure):
    """What ``shim_store`` tells, a word each."""

    _fields_ = [
        (name, U32)
        for name in ("capacity", "sequence", "size_in_use", "in_use", "arriving", "arrived", "open", "failed")
    ]


class Told(ctypes.Structure):
    """What ``shim_display`` tells, a word each."""

    _fields_ = [
        *StoreTold._fields_,
        *[(name, U32) for name in ("packed", "screen", "theme", "brightness", "channels", "state", "sealed")],
        *[(name, U32) for name in ("seal", "scene", "number", "dropped", "has_show", "shown_screen")],
        *[(name, U32) for name in ("shown_count", "count", "touch_count", "line_count", "doubtful", "late")],
    ]


class State(IntEnum):
    """``enum hmic_state``."""

    ALONE = 0
    MET = 1
    SHOWING = 2
    SILENT = 3


class _Port(ctypes.Structure):
    _fields_ = [
        ("read", ctypes.CFUNCTYPE(U32, VOID, VOID, U32)),
        ("write", ctypes.CFUNCTYPE(U32, VOID, VOID, U32)),
        ("rate", ctypes.CFUNCTYPE(None, VOID, U32)),
        ("milliseconds", ctypes.CFUNCTYPE(U32, VOID)),
        ("random", ctypes.CFUNCTYPE(U32, VOID)),
        ("erase", ctypes.CFUNCTYPE(ctypes.c_bool, VOID, U32)),
        ("program", ctypes.CFUNCTYPE(ctypes.c_bool, VOID, U32, VOID, U32)),
        ("push", ctypes.CFUNCTYPE(None, VOID, U16, U16, U16, U16, VOID)),
        ("finger", ctypes.CFUNCTYPE(ctypes.c_bool, VOID, VOID, VOID)),
        ("backlight", ctypes.CFUNCTYPE(None, VOID, U8)),
        ("flash", VOID),
        *[(name, U32) for name in ("flash_size", "sector", "page", "baud", "fastest")],
        *[(name, U16) for name in ("width", "height")],
        ("depth", U8),
        ("two_wires", ctypes.c_bool),
    ]


class _Memory(ctypes.Structure):
    _fields_ = [
        *[(name, VOID) for name in ("raw", "painted", "held")],
        ("channels", U16),
        ("pixels", VOID),
        ("pixels_size", U32),
    ]


@cache
def library() -> ctypes.CDLL:
    """The player with the tests' own functions."""
    made = ctypes.CDLL(str(built("display.so", ["-O2", "-shared", "-fPIC"], [*sources(), SHIM])))
    made.shim_rate.restype = ctypes.c_int64
    for name in ("display_start", "display_press", "display_release", "display_install", "store_start"):
        getattr(made, f"hmic_{name}").restype = ctypes.c_bool
    for name in ("hmic_store_begin", "hmic_store_has", "hmic_store_activate", "shim_lift"):
        getattr(made, name).restype = ctypes.c_bool
    return made


class Chip:
    """A struct of the player, and the port it calls: a flash that Python keeps, a panel that is a frame."""

    def __init__(
        self,
        flash: Flash,
        glass: Glass,
        nonce: int,
        fastest: int = 0,
        two_wires: bool = False,
        baud: int = 115200,
    ) -> None:
        self.frame = bytearray(glass.width * glass.height * (2 if glass.depth == 16 else 3))
        self.flash, self.glass, self.nonce = flash, glass, nonce
        self.now = 0.0
        self.struct = ctypes.create_string_buffer(library().shim_size())
        self.port = self._made_port(fastest, two_wires, baud)
        self._failure: BaseException | None = None

    def call(self, name: str, *arguments: Any) -> Any:
        """What a function of the library gives for the struct. Raises what the flash raised within."""
        result = getattr(library(), name)(self.struct, *arguments)
        if self._failure is not None:
            failure, self._failure = self._failure, None
            raise failure
        return result

    def _guarded(self, act: Callable[[], None]) -> bool:
        """After a power cut nothing happens any more; the cut is told once the player has returned."""
        if self._failure is not None:
            return False
        try:
            act()
        except FlashError:
            return False
        except BaseException as cut:
            self._failure = cut
            return False
        return True

    def _push(self, _: int, left: int, top: int, width: int, height: int, pixels: int) -> None:
        pixel = 2 if self.glass.depth == 16 else 3
        rows = ctypes.string_at(pixels, width * height * pixel)
        for y in range(height):
            at = ((top + y) * self.glass.width + left) * pixel
            self.frame[at : at + width * pixel] = rows[y * width * pixel : (y + 1) * width * pixel]

    def _made_port(self, fastest: int, two_wires: bool, baud: int) -> _Port:
        flash, glass, kinds = self.flash, self.glass, dict(_Port._fields_)
        cells = getattr(flash, "cells", None)
        assert isinstance(cells, bytearray), "the player reads its flash as memory"
        self._cells = (U8 * len(cells)).from_buffer(cells)

        def program(_: int, offset: int, data: int, size: int) -> bool:
            return self._guarded(lambda: flash.program(offset, ctypes.string_at(data, size)))

        made = {
            "read": lambda board, to, room: 0,
            "write": lambda board, data, count: 0,
            "rate": lambda board, rate: None,
            "milliseconds": lambda board: _ms(self.now),
            "random": lambda board: self.nonce,
            "erase": lambda board, offset: self._guarded(lambda: flash.erase(offset)),
            "program": program,
            "push": self._push,
            "finger": lambda board, x, y: False,
            "backlight": lambda board, percent: None,
        }
        functions = [kinds[name](function) for name, function in made.items()]
        place = ctypes.addressof(self._cells)
        facts = (flash.size, flash.sector, flash.page, baud, fastest)
        return _Port(*functions, place, *facts, glass.width, glass.height, glass.depth, two_wires)


class PlayerDisplay:
    """A panel with a store behind it, as ``Display``. Bands are of ``lines`` lines."""

    def __init__(
        self,
        flash: Flash,
        glass: Glass,
        nonce: int,
        fastest: int = 0,
        *,
        lines: int = 16,
        two_wires: bool = False,
        baud: int = 115200,
        channels: int = CHANNEL_CAPACITY,
    ) -> None:
        self.glass = glass
        self.refusal: str | None = None
        self._chip = Chip(flash, glass, nonce, fastest, two_wires, baud)
        words = U16 * channels
        self.raw, self._painted, self.held = words(), words(), words()
        pixel = 2 if glass.depth == 16 else 3
        self._pixels = ctypes.create_string_buffer(glass.width * pixel * lines)
        places = [ctypes.addressof(part) for part in (self.raw, self._painted, self.held)]
        self._memory = _Memory(*places, channels, ctypes.addressof(self._pixels), len(self._pixels.raw))
        started = self.call(
            "hmic_display_start", ctypes.byref(self._chip.port), None, ctypes.byref(self._memory)
        )
        assert started, "the port's facts do not fit together"

    def call(self, name: str, *arguments: Any) -> Any:
        """What a function of the library gives for this display."""
        return self._chip.call(name, *arguments)

    def told(self) -> Told:
        """What the struct holds."""
        told = Told()
        self.call("shim_display", ctypes.byref(told))
        return told

    def receive(self, data: bytes, now: float) -> None:
        self._chip.now = now
        self.call("hmic_display_receive", data, len(data), _ms(now))
        self.call("hmic_display_pass", _ms(now))

    def outgoing(self, now: float) -> bytes:
        self._chip.now = now
        out = ctypes.create_string_buffer(LARGEST_OUT)
        made = self.call("shim_outgoing", _ms(now), out, LARGEST_OUT)
        return out.raw[:made]

    def said(self) -> bytes:
        """What was composed and not yet taken."""
        out = ctypes.create_string_buffer(LARGEST_OUT)
        made = self.call("shim_said", out)
        return out.raw[:made]

    def take_rate(self) -> int | None:
        rate = self.call("shim_rate")
        return None if rate < 0 else int(rate)

    def tick(self, now: float) -> None:
        self.receive(b"", now)

    def next_deadline(self) -> float | None:
        return self._chip.now + POLL

    def press(self, x: int, y: int, now: float) -> bool:
        self.receive(b"", now)
        return bool(self.call("hmic_display_press", x, y))

    def release(self, x: int, y: int, now: float) -> bool:
        self.receive(b"", now)
        return bool(self.call("hmic_display_release", x, y))

    def install(self, pack: bytes) -> bool:
        taken = bool(self.call("hmic_display_install", pack, len(pack)))
        self.refusal = None if taken else "the player refuses it"
        return taken

    @property
    def identity(self) -> bytes | None:
        told = self.told()
        pack = self._chip.flash.read(told.in_use, told.size_in_use)
        return identity(pack) if told.packed else None

    @property
    def brightness(self) -> int:
        return int(self.told().brightness)

    @property
    def shows(self) -> bool:
        """Whether a host has shown a screen."""
        return State(self.told().state) in (State.SHOWING, State.SILENT)

    def moment(self, now: float) -> Moment:
        told = self.told()
        return Moment(told.screen, told.theme, tuple(self.raw[: told.channels]), int(now * 1000))

    def image(self, now: float) -> Image.Image:
        self._chip.now = now
        self.call("hmic_display_pass", _ms(now))
        self.call("hmic_display_paint")
        size = (self.glass.width, self.glass.height)
        pixel = 2 if self.glass.depth == 16 else 3
        return Image.frombytes("RGB", size, as_rgb(bytes(self._chip.frame), pixel))


class PlayerStore:
    """The player's store, as ``Store``."""

    def __init__(self, flash: Flash, accepts: Callable[[bytes], bool] = lambda _: True) -> None:
        self._accepts = accepts
        self._identity = bytes(8)
        self._chip = Chip(flash, Glass(1, 1, 16), 0)
        assert self._chip.call("hmic_store_start", ctypes.byref(self._chip.port), None)

    @property
    def capacity(self) -> int:
        return int(self._told().capacity)

    def active(self) -> bytes | None:
        told = self._told()
        return self._chip.flash.read(told.in_use, told.size_in_use) if told.size_in_use else None

    def begin(self, size: int, identity: bytes) -> bool:
        self._identity = identity
        return bool(self._chip.call("hmic_store_begin", size, identity, True))

    def arriving(self, size: int, identity: bytes) -> bool:
        return bool(self._chip.call("hmic_store_begin", size, identity, False))

    def have(self) -> bytes:
        bits = bytearray(-(-self._told().arriving // UNIT) // 8 + 1)
        for unit in range(-(-self._told().arriving // UNIT)):
            bits[unit // 8] |= self._chip.call("hmic_store_has", unit) << unit % 8
        return bytes(bits)

    def write(self, offset: int, data: bytes) -> None:
        self._chip.call("hmic_store_keep", offset // UNIT, data, len(data))

    def hash(self) -> bytes:
        return sha256(self._arrived()).digest()

    def activate(self) -> bool:
        """As on Finish: the pack is looked at before the banks are switched."""
        pack = self._arrived()
        if identity(pack) != self._identity or not self._accepts(pack):
            return False
        return bool(self._chip.call("hmic_store_activate", sha256(pack).digest()))

    def install(self, pack: bytes) -> bool:
        if pack == self.active():
            return True
        if not self.begin(len(pack), identity(pack)):
            return False
        self.write(0, pack)
        return self.hash() == sha256(pack).digest() and self.activate()

    def _arrived(self) -> bytes:
        told = self._told()
        return self._chip.flash.read(told.arrived, told.arriving)

    def _told(self) -> StoreTold:
        told = StoreTold()
        self._chip.call("shim_store", ctypes.byref(told))
        return told


def _ms(now: float) -> int:
    return int(now * 1000) & 0xFFFFFFFF
