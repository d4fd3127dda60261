"""Which characters a font file has glyphs for: the cmap table of an OpenType file.

Layout: OpenType specification 1.9, chapters "Font file" and "cmap", formats 4 and 12 (from memory,
compared with fontTools in the tests).
"""

from __future__ import annotations

import struct

_UNICODE_FULL = {(3, 10), (0, 4), (0, 6)}
_UNICODE_BASIC = {(3, 1), (0, 0), (0, 1), (0, 2), (0, 3)}


def characters(data: bytes) -> frozenset[int]:
    """Code points with a glyph. ValueError when the file is not a font with a Unicode cmap."""
    try:
        return frozenset(_read(data))
    except (struct.error, IndexError) as problem:
        raise ValueError("the file ends inside a table") from problem


def _read(data: bytes) -> set[int]:
    if data[:4] not in (b"\0\1\0\0", b"OTTO", b"true"):
        raise ValueError("not an OpenType or TrueType file")
    (tables,) = struct.unpack_from(">H", data, 4)
    for index in range(tables):
        tag, _, offset, length = struct.unpack_from(">4sIII", data, 12 + 16 * index)
        if tag == b"cmap":
            return _unicode_table(data[offset : offset + length])
    raise ValueError("no cmap table")


def _unicode_table(cmap: bytes) -> set[int]:
    (count,) = struct.unpack_from(">H", cmap, 2)
    chosen: dict[bool, int] = {}
    for index in range(count):
        platform, encoding, offset = struct.unpack_from(">HHI", cmap, 4 + 8 * index)
        if (platform, encoding) in _UNICODE_FULL | _UNICODE_BASIC:
            chosen[(platform, encoding) in _UNICODE_FULL] = offset
    if not chosen:
        raise ValueError("no Unicode character map")
    table = cmap[chosen.get(True, chosen.get(False, 0)) :]
    (layout,) = struct.unpack_from(">H", table)
    if layout == 4:
        return _segments(table)
    if layout == 12:
        return _groups(table)
    raise ValueError(f"character map of format {layout}")


def _segments(table: bytes) -> set[int]:
    (doubled,) = struct.unpack_from(">H", table, 6)
    count = doubled // 2
    ends = struct.unpack_from(f">{count}H", table, 14)
    starts = struct.unpack_from(f">{count}H", table, 16 + doubled)
    deltas = struct.unpack_from(f">{count}H", table, 16 + 2 * doubled)
    ranges = struct.unpack_from(f">{count}H", table, 16 + 3 * doubled)
    held: set[int] = set()
    last = -1
    for index, (start, end, delta, reach) in enumerate(zip(starts, ends, deltas, ranges, strict=True)):
        last = _after(last, start, end)
        for code in range(start, min(end, 0xFFFE) + 1):
            glyph = code
            if reach:
                at = 16 + 3 * doubled + 2 * index + reach + 2 * (code - start)
                (glyph,) = struct.unpack_from(">H", table, at)
            if (glyph or not reach) and (glyph + delta) & 0xFFFF:
                held.add(code)
    return held


def _groups(table: bytes) -> set[int]:
    (count,) = struct.unpack_from(">I", table, 12)
    held: set[int] = set()
    last = -1
    for index in range(count):
        start, end, glyph = struct.unpack_from(">III", table, 16 + 12 * index)
        last = _after(last, start, end)
        held.update(range(start if glyph else start + 1, end + 1))
    return held


def _after(last: int, start: int, end: int) -> int:
    """The end of a range that must lie above the one before; this bounds the work."""
    if not last < start <= end <= 0x10FFFF:
        raise ValueError("its character map is out of order")
    return end
