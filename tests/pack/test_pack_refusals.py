"""What a reader refuses of a pack whose check sum is right, taken apart and put together by FORMAT.md alone;
and the limits of figures and reveals."""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import hmic.pack
from hmic.diagnostics import DesignError
from hmic.pack.reader import read
from hmic.pack.validity import faults
from hmic.pack.writer import write
from hmic.paint.operations import (
    COMMA,
    FULL_STOP,
    LIVE,
    Axis,
    Box,
    Drawing,
    Figures,
    FigureSet,
    Fill,
    Glyph,
    Ink,
    Mask,
    Reveal,
    Run,
    ScreenDrawing,
    Theme,
    ThresholdMap,
    When,
    Zone,
)
from tests.tools.changed import replace

FORMAT = (Path(hmic.pack.__file__).parent / "FORMAT.md").read_text(encoding="utf-8")
SIZES = {
    name: int(size)
    for _, name, size in re.findall(r"^\| (\d+) \| ([a-z ]+) \| (\d+) \|", FORMAT, re.MULTILINE)
}
BOX = Box(0, 0, 40, 20)
GLYPH = Glyph(0, 0, 0)
FIGURES = Figures(BOX, 0, 0, 0, 1, 1, 3, FULL_STOP, 1, False, False, Ink(0))
REVEAL = Reveal(BOX, 0, Axis.RIGHTWARD, 0, 0, Ink(0), 0)
RUN = Run(BOX, (GLYPH, GLYPH), Ink(0), When(0, LIVE, LIVE))


def drawing(*operations: Any) -> Drawing:
    """One of each table that these need, and two screens."""
    screens = (
        ScreenDrawing("one", operations, (0,), (Zone(BOX),)),
        ScreenDrawing("two", (Fill(BOX, Ink(0)),), (1,), (Zone(BOX),)),
    )
    themes = tuple(Theme(name, ((0, 0, 0), (9, 9, 9)), 80) for name in ("day", "night"))
    masks = (Mask(3, 2, bytes((0, 8, 15, 15, 8, 0))), Mask(2, 1, bytes((15, 15))))
    maps = (ThresholdMap(2, 1, bytes((1, 2))),)
    sets = (FigureSet(6, 3, 9, (GLYPH,) * 18),)
    return Drawing(40, 20, 24, themes, masks, maps, sets, (3, 3), screens, 0)


def apart(data: bytes) -> tuple[bytes, dict[str, bytes]]:
    """The header, and the bodies of the sections."""
    bodies = {}
    for place, name in enumerate(SIZES):
        kind, _, at, length, _ = struct.unpack_from("<HHIII", data, 64 + 16 * place)
        assert kind == place + 1
        bodies[name] = data[at : at + length]
    return data[:64], bodies


def together(head: bytes, bodies: dict[str, bytes], left_over: bytes = b"", padding: bytes = b"\0") -> bytes:
    """A pack of these, its sizes and its check sum right."""
    at = -(-(64 + 16 * len(bodies)) // 64) * 64
    table, rest = b"", b""
    for place, (name, body) in enumerate(bodies.items()):
        records = len(body) // SIZES[name]
        table += struct.pack("<HHIII", place + 1, 0, at + len(rest), len(body), records)
        rest += body + padding * (-len(body) % 64)
    whole = head + table
    whole += bytes(at - len(whole)) + rest + left_over
    whole = whole[:12] + len(whole).to_bytes(4, "little") + bytes(4) + whole[20:]
    return whole[:16] + zlib.crc32(whole).to_bytes(4, "little") + whole[20:]


def longer(name: str, more: bytes) -> Callable[[dict[str, bytes]], None]:
    def change(bodies: dict[str, bytes]) -> None:
        bodies[name] += more

    return change


def other(name: str, at: int, new: bytes) -> Callable[[dict[str, bytes]], None]:
    def change(bodies: dict[str, bytes]) -> None:
        bodies[name] = bodies[name][:at] + new + bodies[name][at + len(new) :]

    return change


def test_taken_apart_and_put_together_it_is_the_same() -> None:
    whole = drawing(RUN, FIGURES, REVEAL)
    data = write(whole)
    assert together(*apart(data)) == data and read(data) == whole


FILLED = struct.pack("<BB7H20x", 1, 0, 0, 0, 40, 20, 0, 0xFFFF, 0xFFFF)
"""The record of a fill."""


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (longer("names", b"x"), "left over after the last name"),
        (other("names", 0, b"\xff"), "not UTF-8"),
        (other("themes", 0, b"\x01"), "a name is not where it should be"),
        (other("themes", 7, b"\x01"), "theme 0 has a spare byte"),
        (longer("themes", bytes(8)), "the number of themes or colours"),
        (longer("colours", bytes(3)), "the number of themes or colours"),
        (longer("planes", b"\0"), "left over after the last mask, map or picture"),
        (longer("glyphs", bytes(6)), "glyphs are left over after the last text"),
        (longer("screen channels", bytes(2)), "the screens do not add up"),
        (longer("zones", bytes(8)), "the screens do not add up"),
        (longer("operations", FILLED), "the screens do not add up"),
        (other("screens", 8, b"\x01"), "the records of screen 0 are not where they should be"),
        (longer("block hashes", bytes(32)), "block hashes are not part of this version"),
        (other("operations", 20, b"\x01"), "operation record 0 has its glyphs not where they should be"),
    ],
)
def test_a_table_that_does_not_fit_the_others_is_told(
    change: Callable[[dict[str, bytes]], None], words: str
) -> None:
    head, bodies = apart(write(drawing(RUN, FIGURES, REVEAL)))
    change(bodies)
    with pytest.raises(DesignError) as caught:
        read(together(head, bodies))
    (finding,) = caught.value.findings
    assert (finding.code, finding.remedy) == ("P503", "build the pack again with 'hmic build'")
    assert words in finding.message


def test_bytes_that_belong_to_no_section_are_told() -> None:
    head, bodies = apart(write(drawing(RUN)))
    for made, words in (
        (together(head, bodies, left_over=bytes(64)), "left over after the last section"),
        (together(head, bodies, padding=b"\1"), "the padding after section 1 is not zero"),
    ):
        with pytest.raises(DesignError, match=words):
            read(made)


LARGEST = (1 << 31) - 1


@pytest.mark.parametrize(
    ("within", "beyond", "words"),
    [
        ({"places": 1}, {"places": 0}, "it has 0 places; 1 to 16"),
        ({"places": 16}, {"places": 17}, "it has 17 places; 1 to 16"),
        ({"least": 0}, {"least": -1}, "-1"),
        ({"least": 16}, {"least": 17}, "17"),
        ({"point_after": 16}, {"point_after": 17}, "17"),
        ({"point": COMMA}, {"point": FULL_STOP - 1}, "its point 14 is none of 0, 15, 16, 17"),
        ({"point": 0}, {"point": 18}, "its point 18 is none of"),
        # The channel has three steps: the last number is two scales above the offset.
        ({"offset": LARGEST - 2}, {"offset": LARGEST - 1}, f"the number {LARGEST + 1} does not fit"),
        ({"offset": -LARGEST - 1}, {"offset": -LARGEST - 2}, f"the number {-LARGEST - 2} does not fit"),
        ({"scale": LARGEST // 2}, {"scale": LARGEST // 2 + 1}, f"the number {LARGEST + 1} does not fit"),
        ({"figure_set": 0}, {"figure_set": 1}, "figure set 1 does not exist"),
        ({"figure_set": 0}, {"figure_set": -1}, "figure set -1 does not exist"),
    ],
)
def test_figures_at_a_limit_and_beyond(within: dict[str, int], beyond: dict[str, int], words: str) -> None:
    assert list(faults(drawing(replace(FIGURES, **within)))) == []
    told = list(faults(drawing(replace(FIGURES, **beyond))))
    assert told and all("screen 'one'" in each or "screen 0" in each for each in told)
    assert any(words in each for each in told), told


@pytest.mark.parametrize(
    ("within", "beyond", "words"),
    [
        ({"mask": 1}, {"mask": 2}, "mask 2 does not exist"),
        ({"mask": 0xFFFF}, {"mask": -1}, "mask -1 does not exist"),
        ({"map": 0xFFFF}, {"map": 1}, "map 1 does not exist"),
        ({"axis": Axis.MAPPED}, {"axis": Axis.MAPPED, "map": 0xFFFF}, "mapped, but it has no map"),
        ({"zero": 0xFFFF}, {"zero": 0x10000}, "65536"),
        ({"gain": 0xFFFF}, {"gain": -1}, "-1"),
        ({"edge": 1}, {"edge": 0}, "its edge"),
    ],
)
def test_a_reveal_at_a_limit_and_beyond(within: dict[str, int], beyond: dict[str, int], words: str) -> None:
    assert list(faults(drawing(replace(REVEAL, **within)))) == []
    assert any(words in each for each in faults(drawing(replace(REVEAL, **beyond))))
