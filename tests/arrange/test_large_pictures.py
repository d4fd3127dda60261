"""Pictures of any size: width and height are looked at before a pixel is unpacked, and no library speaks of
its own."""

from __future__ import annotations

import struct
import time
import warnings
import zlib
from pathlib import Path

import pytest

from hmic.compile.compiling import examine
from hmic.diagnostics import Finding
from hmic.language.design_bounds import MOST_PICTURE, MOST_PIXELS
from tests.check.good_design import FILES
from tests.tools.large_designs import written

AT_ONCE = 60.0
"""Seconds: a hang is one for ever; on two busy cores an honest answer may take its time."""


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int, height: int, before: bytes = b"", rows: int | None = None) -> bytes:
    """A grey picture of one bit a pixel, by the PNG specification; its rows can be fewer than it says."""
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    line = bytes(1 + (width + 7) // 8)
    count = height if rows is None else rows
    packer = zlib.compressobj(1)
    data = b"".join(packer.compress(line) for _ in range(count)) + packer.flush()
    body = chunk(b"IHDR", head) + before + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def found(folder: Path, data: bytes, times: int = 1) -> list[Finding]:
    pieces = "".join('        picture "x.png"\n' for _ in range(times))
    layout = f'screen more "More"\n    plan\n        here\n    in here across\n{pieces}'
    start = time.perf_counter()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        _, _, findings = examine(written(folder, FILES | {"more.layout": layout} | {"x.png": data}))
    assert time.perf_counter() - start < AT_ONCE
    return [item for item in findings if item.span and item.span.file == "more.layout"]


@pytest.mark.parametrize(
    ("width", "height"),
    [(13_000, 13_000), (MOST_PICTURE + 1, 1), (1, MOST_PICTURE + 1), (2**31 - 1, 2**31 - 1), (2**32 - 1, 1)],
)
def test_a_picture_that_is_too_large_is_refused_by_its_head(width: int, height: int, tmp_path: Path) -> None:
    (told,) = found(tmp_path, png(width, height, rows=0) if width > 20_000 else png(width, height, rows=1))
    assert told.code == "A376" and f"{width} x {height}" in told.message
    assert told.remedy == "make it as small as its place on the screen"


@pytest.mark.parametrize(
    ("width", "height"), [(MOST_PICTURE, MOST_PICTURE), (MOST_PICTURE - 1, 1), (1, MOST_PICTURE)]
)
def test_up_to_the_limit_a_picture_is_shown(width: int, height: int, tmp_path: Path) -> None:
    assert not found(tmp_path, png(width, height))


def test_all_pictures_of_a_design_are_counted(tmp_path: Path) -> None:
    times = MOST_PIXELS // 4000**2
    data = png(4000, 4000)
    assert not found(tmp_path, data, times)
    told = found(tmp_path, data, times + 2)
    assert [item.code for item in told] == ["A376"] * 2


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x89PNG\r\n\x1a\n",
        png(8, 8)[:20],
        png(8, 8)[:60],
        b"GIF89a" + png(8, 8)[6:],
        b"II*\0" + png(8, 8)[4:],
        png(0, 0, rows=0),
        png(8, 8, before=chunk(b"acTL", bytes(8))),
        png(8, 8, before=chunk(b"acTL", b"\xff" * 3)),
        png(8, 8, before=chunk(b"zTXt", b"k\0\0" + zlib.compress(bytes(100_000_000), 1))),
        png(8, 8, before=chunk(b"tRNS", bytes(2))),
        png(8, 8, before=chunk(b"iCCP", b"k\0\0" + zlib.compress(b"no profile"))),
    ],
    ids=[
        "empty", "only-signature", "cut-in-head", "cut-later", "another-kind", "a-third-kind", "no-pixels",
        "no-frames", "broken-frames", "text-bomb", "clear", "profile",
    ],
)  # fmt: skip
def test_no_file_makes_the_library_speak(
    data: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert {item.code for item in found(tmp_path, data)} <= {"A376"}
    assert capsys.readouterr() == ("", "")
