"""The player of ``hmic/player`` built for this machine and loaded: the C display side as Python sees it.

``HMIC_CC=gcc`` builds with gcc instead of the compiler that the ``ziglang`` wheel brings.
"""

from __future__ import annotations

import ctypes
import hashlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

import hmic.player
from hmic.paint.operations import Moment

SOURCES = Path(hmic.player.__file__).parent
WARNINGS = ["-std=c99", "-Wall", "-Wextra", "-Wconversion", "-Wshadow", "-Wundef", "-pedantic", "-Werror"]
SECTIONS = 19
MOST_AREAS = 8


def compiler() -> list[str]:
    """The command of a C compiler and its first options."""
    asked = os.environ.get("HMIC_CC")
    return asked.split() if asked else [sys.executable, "-m", "ziglang", "cc"]


def sources() -> list[Path]:
    """The portable sources, in a fixed order."""
    return sorted(SOURCES.glob("*.c"))


def run(command: list[str]) -> None:
    """Runs a command; what it says is the assertion when it fails."""
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"


def built(name: str, options: Sequence[str], files: Sequence[Path]) -> Path:
    """The file that a compiler makes of ``files``, made once for the same sources and options."""
    command = [*compiler(), *WARNINGS, *options, f"-I{SOURCES}"]
    digest = hashlib.sha256("\0".join(command).encode())
    for path in (*sorted(SOURCES.glob("*.h")), *files):
        digest.update(path.read_bytes())
    place = Path(tempfile.gettempdir()) / f"hmic-player-{os.getuid()}"
    place.mkdir(mode=0o700, exist_ok=True)
    made = place / f"{digest.hexdigest()[:16]}-{name}"
    if not made.exists():
        part = made.with_suffix(f".{os.getpid()}")
        run([*command, *map(str, files), "-o", str(part)])
        part.replace(made)
    return made


class _Pack(ctypes.Structure):
    _fields_ = [
        ("data", ctypes.c_void_p),
        ("size", ctypes.c_uint32),
        *[(name, ctypes.c_uint8) for name in ("depth", "themes")],
        *[(name, ctypes.c_uint16) for name in ("width", "height", "colours", "channels", "screens")],
        ("at", ctypes.c_uint32 * (SECTIONS + 1)),
        ("records", ctypes.c_uint32 * (SECTIONS + 1)),
    ]


class _Moment(ctypes.Structure):
    _fields_ = [
        ("screen", ctypes.c_uint16),
        ("theme", ctypes.c_uint16),
        ("raw", ctypes.c_void_p),
        ("clock", ctypes.c_uint32),
    ]


class Area(ctypes.Structure):
    """Pixels ``left <= x < right``, ``top <= y < bottom``."""

    _fields_ = [(name, ctypes.c_int32) for name in ("left", "top", "right", "bottom")]


class Areas(ctypes.Structure):
    """A few areas."""

    _fields_ = [("count", ctypes.c_uint32), ("list", Area * MOST_AREAS)]


@cache
def library() -> ctypes.CDLL:
    """The player as a shared library."""
    made = ctypes.CDLL(str(built("player.so", ["-O2", "-shared", "-fPIC"], sources())))
    made.hmic_paint.argtypes = [ctypes.c_void_p, ctypes.c_void_p, Area, ctypes.c_void_p]
    made.hmic_paint.restype = None
    made.hmic_changed.restype = None
    made.hmic_pack_check.argtypes = [
        *(ctypes.c_void_p, ctypes.c_char_p, ctypes.c_uint32, ctypes.c_void_p, ctypes.c_uint32)
    ]
    return made


def fault(data: bytes, marks: int = 8192) -> int:
    """What the player finds wrong with a pack, 0 for nothing."""
    return int(
        library().hmic_pack_check(
            ctypes.byref(_Pack()), data, len(data), ctypes.create_string_buffer(marks), marks
        )
    )


class PlayerPainter:
    """Paints the moments of one pack as the player does."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self.pack = _Pack()
        marks = ctypes.create_string_buffer(8192)
        found = library().hmic_pack_check(ctypes.byref(self.pack), data, len(data), marks, 8192)
        assert found == 0, f"refused by rule {found}"
        self.width, self.height = int(self.pack.width), int(self.pack.height)
        self.pixel = 2 if self.pack.depth == 16 else 3

    def area(self, moment: Moment, area: Area) -> bytes:
        """An area's rows, in the panel's own pixels."""
        size = (area.right - area.left) * (area.bottom - area.top) * self.pixel
        # Bytes beyond both ends that must stay as they are.
        held = ctypes.create_string_buffer(b"\xa5" * (size + 64), size + 64)
        told, _raw = self.told(moment)
        start = ctypes.addressof(held) + 32
        library().hmic_paint(ctypes.byref(self.pack), ctypes.byref(told), area, start)
        assert held.raw[:32] == held.raw[32 + size :] == b"\xa5" * 32, "painted outside its buffer"
        return held.raw[32 : 32 + size]

    def frame(self, moment: Moment, lines: int | None = None) -> bytes:
        """The whole panel, painted in bands of so many lines."""
        step = lines or self.height
        tops = range(0, self.height, step)
        return b"".join(
            self.area(moment, Area(0, top, self.width, min(top + step, self.height))) for top in tops
        )

    def changed(self, before: Moment, after: Moment) -> list[Area]:
        """The areas that the player would paint anew."""
        areas = Areas()
        one, _one = self.told(before)
        two, _two = self.told(after)
        library().hmic_changed(*map(ctypes.byref, (self.pack, one, two, areas)))
        return list(areas.list[: areas.count])

    def mended(self, frame: bytes, before: Moment, after: Moment) -> bytes:
        """A frame brought from one moment to the next by its changed areas only."""
        pixels = bytearray(frame)
        for area in self.changed(before, after):
            fresh = self.area(after, area)
            row = (area.right - area.left) * self.pixel
            for number in range(area.bottom - area.top):
                at = ((area.top + number) * self.width + area.left) * self.pixel
                pixels[at : at + row] = fresh[number * row : (number + 1) * row]
        return bytes(pixels)

    def told(self, moment: Moment) -> tuple[_Moment, object]:
        """A moment as the player takes it, and what must be kept as long."""
        raw = (ctypes.c_uint16 * (len(moment.raw) or 1))(*moment.raw)
        told = _Moment(moment.screen, moment.theme, ctypes.addressof(raw), moment.clock & 0xFFFFFFFF)
        return told, raw


def as_rgb(frame: bytes, pixel: int) -> bytes:
    """A frame in the panel's pixels as red, green and blue bytes: the words as a panel shows them."""
    return frame if pixel == 3 else _shown()[np.frombuffer(frame, "<u2")].tobytes()


@cache
def _shown() -> np.ndarray[tuple[int, int], np.dtype[np.uint8]]:
    """Red, green and blue of each word of five, six and five bits, each widened by its own first bits."""
    word = np.arange(1 << 16)
    red, green, blue = word >> 11, word >> 5 & 63, word & 31
    parts = (red << 3 | red >> 2, green << 2 | green >> 4, blue << 3 | blue >> 2)
    return np.stack(parts, axis=1).astype(np.uint8)
