"""Masks and maps as bytes: rows of 4-bit or 8-bit values, plain or run-length coded by PackBits.

PackBits as in TIFF 6.0 section 9 (Apple Technical Note TN1023), one row at a time: no run crosses
the end of a row, so a row can be decoded by itself with no buffer.
"""

from __future__ import annotations

from hmic.pack.records import PACKED, PLAIN

# Coded planes begin with the start of every 16th row, so that a display which draws in bands
# need not decode from the top.
ROWS_PER_START = 16


class PlaneError(ValueError):
    """Coded data that break the format; the message says how."""


def nibbles(coverage: bytes, width: int) -> list[bytes]:
    """Rows of 4-bit values, the left pixel in the low half of a byte; odd rows end in a zero half."""
    rows = []
    for start in range(0, len(coverage), width) if width else ():
        row = coverage[start : start + width] + bytes(width & 1)
        rows.append(bytes(low | high << 4 for low, high in zip(row[::2], row[1::2], strict=True)))
    return rows


def spread(rows: list[bytes], width: int) -> bytes:
    """The inverse of ``nibbles``. Raises PlaneError when a padding half is not zero."""
    out = bytearray()
    for row in rows:
        wide = bytearray(2 * len(row))
        wide[::2] = row.translate(_LOW)
        wide[1::2] = row.translate(_HIGH)
        if width & 1 and wide[-1]:
            raise PlaneError("the half byte after an odd row is not zero")
        out += wide[:width]
    return bytes(out)


def encode(rows: list[bytes]) -> tuple[int, bytes]:
    """The form and bytes of a plane, whichever form is shorter (plain when equal)."""
    plain = b"".join(rows)
    starts: list[int] = []
    body = bytearray()
    for number, row in enumerate(rows):
        if number and number % ROWS_PER_START == 0:
            starts.append(len(body))
        body += _pack_row(row)
    size = 4 * len(starts)
    coded = b"".join((start + size).to_bytes(4, "little") for start in starts) + bytes(body)
    return (PACKED, coded) if len(coded) < len(plain) else (PLAIN, plain)


def decode(form: int, data: bytes, row_size: int, rows: int) -> list[bytes]:
    """The rows of a plane of ``rows`` rows of ``row_size`` bytes. Raises PlaneError."""
    if form == PLAIN:
        if len(data) != row_size * rows:
            raise PlaneError(f"{len(data)} bytes where {row_size * rows} belong")
        return (
            [data[at : at + row_size] for at in range(0, len(data), row_size)] if row_size else [b""] * rows
        )
    if form != PACKED:
        raise PlaneError(f"form {form} is not known")
    at = size = 4 * (max(0, rows - 1) // ROWS_PER_START)
    if size > len(data):
        raise PlaneError("the row starts do not fit")
    out: list[bytes] = []
    for number in range(rows):
        if number and number % ROWS_PER_START == 0:
            entry = 4 * (number // ROWS_PER_START - 1)
            if int.from_bytes(data[entry : entry + 4], "little") != at:
                raise PlaneError(f"the start of row {number} is wrong")
        row, at = _unpack_row(data, at, row_size)
        out.append(row)
    if at != len(data):
        raise PlaneError("bytes are left over after the last row")
    return out


def _pack_row(row: bytes) -> bytes:
    out = bytearray()
    literal = 0
    at = 0
    size = len(row)
    while at < size:
        end = at + 1
        while end < size and row[end] == row[at] and end - at < 128:
            end += 1
        # A run of two inside a literal saves nothing.
        if end - at >= 3 or (end - at == 2 and literal == at):
            _flush(out, row[literal:at])
            out += bytes((257 - (end - at), row[at]))
            literal = end
        at = end
    _flush(out, row[literal:size])
    return bytes(out)


def _flush(out: bytearray, literal: bytes) -> None:
    for start in range(0, len(literal), 128):
        piece = literal[start : start + 128]
        out.append(len(piece) - 1)
        out += piece


def _unpack_row(data: bytes, at: int, row_size: int) -> tuple[bytes, int]:
    row = bytearray()
    while len(row) < row_size:
        if at + 1 >= len(data):
            raise PlaneError("the data end inside a row")
        head = data[at]
        if head < 128:
            end = at + 2 + head
            if end > len(data):
                raise PlaneError("the data end inside a row")
            row += data[at + 1 : end]
            at = end
        elif head > 128:
            row += data[at + 1 : at + 2] * (257 - head)
            at += 2
        else:
            raise PlaneError("the code 128 does not belong here")
    if len(row) != row_size:
        raise PlaneError("a run crosses the end of a row")
    return bytes(row), at


_LOW = bytes(value & 15 for value in range(256))
_HIGH = bytes(value >> 4 for value in range(256))
