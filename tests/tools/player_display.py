"""The player as a whole display, with the doors of ``hmic.display.display.Display``: the suites of that
class run on both."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from PIL import Image

from hmic.display.display import CHANNEL_CAPACITY, Glass
from hmic.display.flash import Flash, FlashError
from hmic.pack.records import identity
from hmic.paint.operations import Moment
from tests.tools.player import as_rgb, built, sources

SHIM = Path(__file__).parents[1] / "player" / "shim.c"
POLL = 0.01
LARGEST_OUT = 8192

U8, U16, U32, VOID = ctypes.c_uint8, ctypes.c_uint16, ctypes.c_uint32, ctypes.c_void_p


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
        *[(name, VOID) for name in ("raw", "painted", "held", "believed")],
        ("channels", U16),
        ("pixels", VOID),
        ("pixels_size", U32),
    ]


@cache
def library() -> ctypes.CDLL:
    """The player with the tests' own functions."""
    made = ctypes.CDLL(str(built("display.so", ["-O2", "-shared", "-fPIC"], [*sources(), SHIM])))
    made.shim_rate.restype = ctypes.c_int64
    for name in ("hmic_display_start", "hmic_display_press", "hmic_display_release"):
        getattr(made, name).restype = ctypes.c_bool
    made.hmic_display_install.restype = ctypes.c_bool
    return made


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
    ) -> None:
        self.glass = glass
        self.refusal: str | None = None
        self.frame = bytearray(glass.width * glass.height * (2 if glass.depth == 16 else 3))
        self.pushed = 0
        self._flash = flash
        self._failure: BaseException | None = None
        self._now = 0.0
        self._nonce = nonce
        self._display = ctypes.create_string_buffer(library().shim_size())
        self._port = self._made_port(glass, fastest, two_wires, baud)
        self._raw = (U16 * CHANNEL_CAPACITY)()
        words = U16 * CHANNEL_CAPACITY
        self._rest = [words(), words(), (U8 * (CHANNEL_CAPACITY // 8))()]
        pixel = 2 if glass.depth == 16 else 3
        self._pixels = ctypes.create_string_buffer(glass.width * pixel * lines)
        places = [ctypes.addressof(part) for part in (self._raw, *self._rest)]
        self._memory = _Memory(
            *places, CHANNEL_CAPACITY, ctypes.addressof(self._pixels), len(self._pixels.raw)
        )
        started = self._call("hmic_display_start", ctypes.byref(self._port), None, ctypes.byref(self._memory))
        assert started, "the port's facts do not fit together"

    def receive(self, data: bytes, now: float) -> None:
        self._now = now
        self._call("hmic_display_receive", data, len(data), _ms(now))
        self._call("hmic_display_pass", _ms(now))

    def outgoing(self, now: float) -> bytes:
        self._now = now
        out = ctypes.create_string_buffer(LARGEST_OUT)
        made = self._call("shim_outgoing", _ms(now), out, LARGEST_OUT)
        return out.raw[:made]

    def said(self) -> bytes:
        """What was composed and not yet taken."""
        out = ctypes.create_string_buffer(LARGEST_OUT)
        made = self._call("shim_said", out)
        return out.raw[:made]

    def take_rate(self) -> int | None:
        rate = self._call("shim_rate")
        return None if rate < 0 else int(rate)

    def tick(self, now: float) -> None:
        self.receive(b"", now)

    def next_deadline(self) -> float | None:
        return self._now + POLL

    def press(self, x: int, y: int, now: float) -> bool:
        self.receive(b"", now)
        return bool(self._call("hmic_display_press", x, y))

    def release(self, x: int, y: int, now: float) -> bool:
        self.receive(b"", now)
        return bool(self._call("hmic_display_release", x, y))

    def install(self, pack: bytes) -> bool:
        taken = bool(self._call("hmic_display_install", pack, len(pack)))
        self.refusal = None if taken else "the player refuses it"
        return taken

    @property
    def identity(self) -> bytes | None:
        packed, _, _, _, size, record = self._told()[:6]
        if not packed:
            return None
        # The bank by the record; what stands there decides.
        pack = self._flash.read(self._bank(record), size)
        return identity(pack)

    @property
    def brightness(self) -> int:
        return int(self._told()[3])

    @property
    def shows(self) -> bool:
        """Whether a host has shown a screen."""
        return self._told()[7] >= 2

    def moment(self, now: float) -> Moment:
        told = self._told()
        return Moment(told[1], told[2], tuple(self._raw[: told[6]]), int(now * 1000))

    def image(self, now: float) -> Image.Image:
        self._now = now
        self._call("hmic_display_pass", _ms(now))
        self._call("hmic_display_paint")
        size = (self.glass.width, self.glass.height)
        return Image.frombytes("RGB", size, as_rgb(bytes(self.frame), 2 if self.glass.depth == 16 else 3))

    def held(self) -> tuple[int | None, int, int, int]:
        """Seal, scene, value number and frames dropped, for a fuzzer."""
        told = (U32 * 4)()
        sealed = self._call("shim_held", told)
        return (told[0] if sealed else None, told[1], told[2], told[3])

    def _told(self) -> list[int]:
        told = (U32 * 8)()
        self._call("shim_told", told)
        return list(told)

    def _bank(self, record: int) -> int:
        bank = self._flash.read(record + 8, 1)[0]
        sectors = (self._flash.size // self._flash.sector - 2) // 2
        directory = 1
        while directory * self._flash.sector < 32 + (sectors - directory) * self._flash.sector // 64 // 8 + 1:
            directory += 1
        return (2 + bank * sectors + directory) * self._flash.sector

    def _call(self, name: str, *arguments: Any) -> Any:
        result = getattr(library(), name)(self._display, *arguments)
        if self._failure is not None:
            failure, self._failure = self._failure, None
            self._dead = failure
            raise failure
        return result

    def _made_port(self, glass: Glass, fastest: int, two_wires: bool, baud: int) -> _Port:
        cells = getattr(self._flash, "cells", None)
        assert isinstance(cells, bytearray), "the player reads its flash as memory"
        self._cells = (U8 * len(cells)).from_buffer(cells)
        flash, kinds = self._flash, dict(_Port._fields_)

        def guarded(act: Callable[[], None]) -> bool:
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

        def program(_: int, offset: int, data: int, size: int) -> bool:
            return guarded(lambda: flash.program(offset, ctypes.string_at(data, size)))

        def push(_: int, left: int, top: int, width: int, height: int, pixels: int) -> None:
            pixel = 2 if glass.depth == 16 else 3
            rows = ctypes.string_at(pixels, width * height * pixel)
            self.pushed += width * height
            for y in range(height):
                at = ((top + y) * glass.width + left) * pixel
                self.frame[at : at + width * pixel] = rows[y * width * pixel : (y + 1) * width * pixel]

        made = {
            "read": lambda board, to, room: 0,
            "write": lambda board, data, count: 0,
            "rate": lambda board, rate: None,
            "milliseconds": lambda board: _ms(self._now),
            "random": lambda board: self._nonce,
            "erase": lambda board, offset: guarded(lambda: flash.erase(offset)),
            "program": program,
            "push": push,
            "finger": lambda board, x, y: False,
            "backlight": lambda board, percent: None,
        }
        functions = [kinds[name](function) for name, function in made.items()]
        place = ctypes.addressof(self._cells)
        facts = (flash.size, flash.sector, flash.page, baud, fastest)
        return _Port(*functions, place, *facts, glass.width, glass.height, glass.depth, two_wires)


def _ms(now: float) -> int:
    return int(now * 1000) & 0xFFFFFFFF
