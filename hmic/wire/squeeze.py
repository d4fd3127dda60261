"""Packs pieces of up to 1 KiB each by themselves, so that what was unpacked is all the memory it takes.

A packed piece is a row of marks: 00 to 7F, the next ``mark + 1`` bytes as they are; 80 to FF, a copy of
``(mark >> 2 & 31) + 3`` bytes from ``((mark & 3) << 8 | next byte) + 1`` bytes back, byte by byte, so
that it may run into what it makes.
"""

from __future__ import annotations

MOST = 1024
"""Bytes of a piece, unpacked."""

SHORTEST, LONGEST = 3, 34
LITERALS = 128
TRIES = 24
"""Earlier places looked at for the longest copy; more gains under 1 % (measured on the example)."""


def squeeze(data: bytes) -> bytes:
    """The packed form. ValueError for more than ``MOST`` bytes."""
    if len(data) > MOST:
        raise ValueError(f"{len(data)} bytes are more than {MOST}")
    out = bytearray()
    places: dict[bytes, list[int]] = {}
    start = place = 0
    while place < len(data):
        length, back = _longest(data, place, places.get(data[place : place + SHORTEST], ()))
        if length:
            _literals(out, data[start:place])
            out += bytes((0x80 | length - SHORTEST << 2 | back - 1 >> 8, back - 1 & 0xFF))
        step = length or 1
        for passed in range(place, place + step):
            places.setdefault(data[passed : passed + SHORTEST], []).append(passed)
        place += step
        if length:
            start = place
    _literals(out, data[start:])
    return bytes(out)


def unsqueeze(packed: bytes, length: int) -> bytes | None:
    """The ``length`` bytes that were packed; None when it is no packed form of just so many. Never
    holds more than ``length`` bytes, nor more than ``MOST``."""
    if not 0 <= length <= MOST:
        return None
    out = bytearray()
    place = 0
    while place < len(packed):
        mark = packed[place]
        if mark < 0x80:
            piece = packed[place + 1 : place + 2 + mark]
            place += 2 + mark
            if place > len(packed) or len(out) + len(piece) > length:
                return None
            out += piece
            continue
        if place + 2 > len(packed):
            return None
        size, back = (mark >> 2 & 31) + SHORTEST, ((mark & 3) << 8 | packed[place + 1]) + 1
        place += 2
        if back > len(out) or len(out) + size > length:
            return None
        for _ in range(size):
            out.append(out[-back])
    return bytes(out) if len(out) == length else None


def _longest(data: bytes, place: int, earlier: list[int] | tuple[()]) -> tuple[int, int]:
    """The longest copy that could stand at ``place``: its length (0 for none) and how far back."""
    best = back = 0
    most = min(LONGEST, len(data) - place)
    if most < SHORTEST:
        return 0, 0
    for start in earlier[: -TRIES - 1 : -1]:
        if best and data[start + best] != data[place + best]:
            continue
        length = SHORTEST
        while length < most and data[start + length] == data[place + length]:
            length += 1
        if length > best:
            best, back = length, place - start
            if best == most:
                break
    return best, back


def _literals(out: bytearray, data: bytes) -> None:
    for start in range(0, len(data), LITERALS):
        piece = data[start : start + LITERALS]
        out.append(len(piece) - 1)
        out += piece
