"""Every table of FORMAT.md is read and held against the code."""

from __future__ import annotations

import re
import struct
from pathlib import Path

import pytest

import hmic.pack
from hmic.pack import planes, records
from tests.tools.tables import Table, tables

TABLES = tables((Path(hmic.pack.__file__).parent / "FORMAT.md").read_text(encoding="utf-8"))
CODES = {"u8": "B", "u16": "H", "u32": "I", "8 bytes": "8s", "4 bytes": "4s", "4 x u16": "4H"}
LAYOUTS = {
    "header": records.HEADER,
    "section table": records.SECTION,
    "theme": records.THEME,
    "mask": records.PLANE,
    "picture": records.PICTURE,
    "screen": records.SCREEN,
    "operations": records.OPERATION_HEAD,
}


def laid() -> dict[str, Table]:
    """The tables of records, by name."""
    return {each.title: each for each in TABLES if each.head[:2] == ("offset", "type")}


def test_no_table_is_left_out() -> None:
    assert set(laid()) == set(LAYOUTS)
    others = [(each.title, each.head[0]) for each in TABLES if each.head[:2] != ("offset", "type")]
    # The sections and the operations' own fields are read by test_pack_format.py.
    assert others == [
        ("the whole", "offset"), ("section table", "kind"), ("operations", "kind"),
        ("forms 1 and 2, coded.", "b"),
    ]  # fmt: skip


@pytest.mark.parametrize("name", LAYOUTS)
def test_records_are_laid_out_as_their_table_says(name: str) -> None:
    """Row by row, no byte left out or told twice."""
    at, code = 0, "<"
    for offset, type_, *_ in laid()[name].rows:
        assert int(offset) == at, (name, offset)
        code += CODES[type_]
        at += struct.calcsize("<" + CODES[type_])
    layout = LAYOUTS[name]
    sample = bytes(range(1, at + 1))
    whole = layout.size + (16 if name == "operations" else 0)
    assert at == layout.size and whole == {"operations": 36}.get(name, at)
    assert struct.unpack(code, sample) == layout.unpack(sample)


def test_numbers_in_the_header_are_the_codes() -> None:
    told = {int(offset): what for offset, _, what, _ in laid()["header"].rows}
    assert bytes.fromhex(told[0].strip("`")) == records.MAGIC
    assert int(re.findall(r"\d+", told[8])[0]) == records.VERSION
    assert int(re.findall(r"\d+", told[10])[0]) == records.HEADER.size
    assert int(re.findall(r"\d+", told[52])[0]) == len(records.Section)
    assert "CRC-32" in told[records.CRC_AT]
    for side in (20, 22):
        assert int(re.findall(r"\d+", told[side])[-1]) == records.LARGEST_SIDE


def test_the_whole_is_laid_out_as_its_table_says() -> None:
    (whole,) = (each for each in TABLES if each.title == "the whole")
    (header, table, zero, first) = whole.rows
    assert (int(header[0]), int(header[1])) == (0, records.HEADER.size)
    count, size = map(int, table[1].split(" x "))
    assert (int(table[0]), count, size) == (records.TABLE_AT, len(records.Section), records.SECTION.size)
    assert int(zero[0]) == records.TABLE_END and int(zero[0]) + int(zero[1]) == int(first[0])
    assert int(first[0]) % records.ALIGNMENT == 0
    assert f"multiple of {records.ALIGNMENT}," in first[2]


def piece(b: int) -> tuple[bytes, bytes]:
    """A piece of a row that begins with ``b``, as the table has it, and the coverages it stands for."""
    if b < 0x40:
        return bytes((b,)), bytes(b + 1)
    if b < 0x80:
        return bytes((b,)), b"\x0f" * (b - 0x3F)
    if b < 0x90:
        return bytes((b,)), bytes((b - 0x80,))
    count = b - 0x8E
    coverage = bytes(at % 16 for at in range(count))
    packed = bytes(low | high << 4 for low, high in zip(coverage[::2], coverage[1::2], strict=False))
    return bytes((b,)) + packed + (bytes((coverage[-1],)) if count % 2 else b""), coverage


def test_pieces_of_a_row_are_those_of_the_table() -> None:
    (pieces,) = (each for each in TABLES if each.head == ("b", "pixels"))
    assert [row[0] for row in pieces.rows] == ["00 to 3F", "40 to 7F", "80 to 8F", "90 to FE", "FF"]
    told = [re.findall(r"b [+-] [\dx0-9A-F]+", row[1]) for row in pieces.rows]
    assert told == [["b + 1"], ["b - 0x3F"], ["b - 0x80"], ["b - 0x8E"], []]
    for b in range(0xFF):
        data, coverage = piece(b)
        assert planes.decode_mask(1, data, len(coverage), 1) == coverage
        above = planes.decode_mask(1, data + b"\xff", len(coverage), 2)
        assert above == coverage * 2
