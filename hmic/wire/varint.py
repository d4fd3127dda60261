"""Unsigned integers in groups of seven bits, least first (LEB128).

Source: DWARF 5 section 7.6. Here a number has at most 32 bits and only its shortest form is read.
"""

from __future__ import annotations

LIMIT = 0xFFFFFFFF


def encode(value: int) -> bytes:
    """One to five bytes for 0 <= ``value`` <= ``LIMIT``; ValueError outside."""
    if not 0 <= value <= LIMIT:
        raise ValueError(f"{value} does not fit 32 bits")
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def decode(data: bytes, place: int) -> tuple[int, int] | None:
    """The number at ``place`` and the place after it; None when cut short, too long or above LIMIT."""
    value = shift = 0
    for byte in data[place : place + 5]:
        place += 1
        value |= (byte & 0x7F) << shift
        if byte < 0x80:
            return None if value > LIMIT or (byte == 0 and shift) else (value, place)
        shift += 7
    return None
