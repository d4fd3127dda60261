"""FORMAT.md's own examples, and a reading of them by the offsets its tables give."""

from __future__ import annotations

import csv
import dataclasses
import re
import struct
import zlib
from pathlib import Path

import hmic.pack
import hmic.paint
from hmic.pack import records
from hmic.pack.reader import read
from hmic.pack.records import RECORD_SIZES, Section, checksum, identity
from hmic.pack.writer import write
from hmic.paint import operations
from hmic.paint.operations import Box, Drawing, Fill, Ink, Mask, ScreenDrawing, Stencil, Theme, When, Zone

TEXT = (Path(hmic.pack.__file__).parent / "FORMAT.md").read_text()
REFERENCE = Path(__file__).parents[1] / "reference" / "06_crc_check_values.csv"


def example() -> Drawing:
    """The drawing that FORMAT.md describes in words."""
    theme = Theme("day", ((0, 0, 0), (128, 128, 128), (255, 0, 0)), 80)
    panel = Box(0, 0, 40, 20)
    lamp = Stencil(Box(4, 4, 3, 2), 0, Ink(2), When(0, 4, 4), True)
    screen = ScreenDrawing("lamp", (Fill(panel, Ink(0)), lamp), (0,), (Zone(panel),))
    mask = Mask(3, 2, bytes((0, 8, 15, 15, 8, 0)))
    return Drawing(40, 20, 16, (theme,), (mask,), (), (), (2,), (screen,), 0)


def written_out() -> bytes:
    """The pack that FORMAT.md shows in hexadecimal."""
    rows = re.findall(r"^([0-9A-F]{4})  ((?:[0-9A-F]{2} ?)+)$", TEXT, re.MULTILINE)
    size = int(re.search(r"(\d+) bytes, rows of zeros left out", TEXT)[1])  # type: ignore[index]
    data = bytearray(size)
    for offset, values in rows:
        row = bytes.fromhex(values)
        data[int(offset, 16) : int(offset, 16) + len(row)] = row
    return bytes(data)


def number(data: bytes, offset: int, size: int) -> int:
    return int.from_bytes(data[offset : offset + size], "little")


def test_the_example_is_what_the_writer_writes() -> None:
    assert write(example()) == written_out()
    assert read(written_out()) == example()
    assert f"`{identity(written_out()).hex(' ').upper()}`" in TEXT


def test_the_example_read_by_the_tables() -> None:
    data = written_out()
    assert data[:8] == bytes.fromhex("68 6D 69 63 D9 0A 00 FF")
    assert (number(data, 8, 2), number(data, 10, 2), number(data, 12, 4)) == (1, 64, len(data))
    assert number(data, 16, 4) == zlib.crc32(data[:16] + bytes(4) + data[20:])
    assert [number(data, at, 2) for at in range(20, 60, 2)] == [
        *(40, 20, 16 | 1 << 8, 0, 3, 1, 1, 0, 0, 1, 3, 2, 2, 1, 1),
        *(1 << 1 | 1 << 2, 19, 0, 0, 0),
    ]
    sections = {}
    for place in range(19):
        at = 64 + 16 * place
        assert number(data, at, 2) == place + 1
        start, length = number(data, at + 4, 4), number(data, at + 8, 4)
        assert start % 64 == 0
        sections[place + 1] = data[start : start + length]
    assert sections[1] == b"daylamp"
    assert sections[2][6] == 80 and sections[3][6:] == b"\xff\0\0" and sections[4] == b"\x02\0"
    shape = sections[8][number(sections[5], 8, 4) :][: number(sections[5], 12, 4)]
    assert shape == bytes.fromhex("80 0F 8F 00") and sections[5][4] == 0
    stencil = sections[16][36:]
    assert stencil[:2] == b"\x02\x01"
    assert [number(stencil, at, 2) for at in range(2, 22, 2)] == [4, 4, 3, 2, 2, 0xFFFF, 0, 4, 4, 0]
    assert sections[19] == b""


def test_the_section_list_is_the_one_in_use() -> None:
    rows = re.findall(r"^\| (\d+) \| ([a-z ]+) \| (\d+) \|", TEXT, re.MULTILINE)
    told = [(int(kind), name, int(size)) for kind, name, size in rows]
    used = [(int(kind), kind.name.lower().replace("_", " "), RECORD_SIZES[kind]) for kind in Section]
    assert told == used


TYPES = {"u8": "B", "u16": "H", "u32": "I", "i32": "i", "4 x u16": "4H"}


def test_the_operations_table_is_that_of_the_records_and_names_are_those_of_the_code() -> None:
    """Each row: where the named field stands, of what type; and the dataclass has a field of that name."""
    _, _, text = TEXT.partition("## Operations")
    rows = re.findall(r"^\| ([\w ]*?) ?\| (\d+) \| ([\w ]+) \| ([\w.]+) \|", text, re.MULTILINE)
    told: dict[str, list[tuple[int, str, str]]] = {}
    flags: dict[str, dict[str, int]] = {}
    kind = ""
    for owner, offset, type_, name in rows:
        kind = owner or kind
        told.setdefault(kind, [])
        if type_.startswith("flag"):
            flags.setdefault(kind, {})[name] = int(type_[5:])
        else:
            told[kind].append((int(offset), type_, name))
    assert flags == {
        "2 stencil": {"flash": records.FLASH},
        "5 figures": {"plus": records.PLUS, "sixties": records.SIXTIES, "small": records.SMALL},
    }
    for kind in records.Kind:
        words = f"{int(kind)} {kind.name.lower()}"
        made = getattr(operations, kind.name.capitalize())
        fields = [field.name for field in dataclasses.fields(made)]
        own = told.get(words, [])
        tail = {"stencil": "mask", "frame": "mask", "picture": "mask"}.get(
            kind.name.lower(), kind.name.lower()
        )
        layout = getattr(records, f"{tail.upper()}_TAIL")
        assert [name.partition(".")[0] for _, _, name in own] == [
            name for name in _order(fields) for _ in range(2 if name == "glyphs" else 1)
        ]
        laid = "<" + _padded(own)
        assert struct.calcsize(laid) == 16 and layout.size == 16
        sample = bytes(range(1, 17))
        assert struct.unpack(laid, sample) == layout.unpack(sample)


def test_pixels_tells_of_the_fields_by_their_names() -> None:
    """Each field of an operation; sets are spoken of, and an axis by its four names."""
    _, _, text = TEXT.partition("## Operations")
    rows = re.findall(r"^\| [\w ]*? ?\| \d+ \| [\w ]+ \| ([\w.]+) \|", text, re.MULTILINE)
    pixels = (Path(hmic.paint.__file__).parent / "PIXELS.md").read_text(encoding="utf-8")
    names = {name.partition(".")[0] for name in rows} - {"figure_set", "letter_set", "axis"}
    assert len(names) > 25
    assert not [name for name in names if not re.search(rf"\b{name}\b", pixels)]
    assert all(re.search(rf"\b{name}\b", pixels) for name in ("rightward", "leftward", "upward", "downward"))


def _order(fields: list[str]) -> list[str]:
    """A dataclass's own fields in the order of the record."""
    first = ["channel", "axis"]
    own = [name for name in fields if name not in ("box", "ink", "when", "flash", "plus", "sixties", "small")]
    return [name for name in first if name in own] + [name for name in own if name not in first]


def _padded(own: list[tuple[int, str, str]]) -> str:
    at, layout = 20, ""
    for offset, type_, _ in own:
        layout += "x" * (offset - at) + TYPES[type_]
        at = offset + struct.calcsize("<" + TYPES[type_])
    return layout + "x" * (36 - at)


def test_check_sum_has_the_published_check_value() -> None:
    """CRC-32/ISO-HDLC of "123456789": Catalogue of parametrised CRC algorithms (tests/reference/06)."""
    rows = [line for line in REFERENCE.read_text().splitlines() if not line.startswith("#")]
    (published,) = [row["check"] for row in csv.DictReader(rows) if row["name"] == "CRC-32/ISO-HDLC"]
    assert zlib.crc32(b"123456789") == int(published, 16)
    data = bytes(range(16)) + b"abcd" + b"the rest"
    assert checksum(data) == zlib.crc32(bytes(range(16)) + bytes(4) + b"the rest")
