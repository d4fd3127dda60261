"""Change frames: what moved since the last value frame, a few bits for most moves.

The body is a string of bits, the most significant of a byte first:

    1                   the mark of a change frame
    2 bits              which of ``WIDTHS`` is the width of the low part of a skip
    items               to the end, in rising order of position
    up to 7 ones        to the end of the byte

    skip                positions left out since the last item: its high part as so many ones and a
                        zero, then its low part in ``width`` bits
    change              its size 2^j + r as j ones, a zero and r in j bits; then 0 for up, 1 for down

The body ``PULSE`` has no item: nothing moved, the host lives. Changes are relative to the values
before the frame, which the frame's seal vouches for.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

from hmic.wire.crc import START, crc16
from hmic.wire.sizes import CHANGE_HEAD

CHANGE = 0x80
"""The first body byte of a change frame is at least this."""

PULSE = b"\xff"
"""The body of a change frame without a change."""

WIDTHS = (0, 2, 4, 7)
"""Bits of the low part of a skip: changes side by side, near, scattered, in a long list."""

Items = tuple[tuple[int, int], ...]


def session_seal(host: int, display: int, session: int) -> int:
    """The seal of a session's frames: both nonces (4 bytes each) and the session (2), least first."""
    agreed = host.to_bytes(4, "little") + display.to_bytes(4, "little") + session.to_bytes(2, "little")
    return crc16(agreed, START)


def change_seal(session: int, scene: int, number: int, before: Sequence[int]) -> int:
    """The seal of a change frame: the session's, then scene and number (4 bytes each) and all raw
    values before the frame (2 bytes each), least first."""
    return crc16(struct.pack(f"<II{len(before)}H", scene, number, *before), session)


def encode_changes(before: Sequence[int], after: Sequence[int], limit: int) -> tuple[bytes, list[int]]:
    """The shortest body that changes ``before`` into ``after``, at most ``limit`` bytes (at least 16,
    the room of one item), and the values after it.

    Takes the changes in order of position until the body is full; the values returned differ from
    ``after`` where a change did not fit. Nothing changed gives ``PULSE``.
    """
    moves = [
        (position, new - old)
        for position, (old, new) in enumerate(zip(before, after, strict=True))
        if old != new
    ]
    if not moves:
        return PULSE, list(before)
    tries = (_written(moves, choice, 8 * limit) for choice in range(len(WIDTHS)))
    taken, bits = min(tries, key=lambda found: (-found[0], len(found[1])))
    values = list(before)
    for position, change in moves[:taken]:
        values[position] += change
    bits += "1" * (-len(bits) % 8)
    return int(bits, 2).to_bytes(len(bits) // 8, "big"), values


def decode_changes(body: bytes, count: int) -> Items | None:
    """The items (position, change) of a change frame's body for a list of ``count``, or None when it
    is none. ``PULSE`` has no items."""
    if body == PULSE:
        return ()
    if not body or body[0] < CHANGE:
        return None
    bits = format(int.from_bytes(body, "big"), "b")
    width = WIDTHS[int(bits[1:CHANGE_HEAD], 2)]
    items: list[tuple[int, int]] = []
    place, position = CHANGE_HEAD, -1
    while (zero := bits.find("0", place)) >= 0:
        start = zero + 1 + width
        skip = zero - place << width | _number(bits, zero + 1, start)
        mark = bits.find("0", start)
        size = mark - start
        place = mark + 2 + size
        if mark < 0 or size > 15 or place > len(bits):
            return None
        change = 1 << size | _number(bits, mark + 1, place - 1)
        position += skip + 1
        if position >= count:
            return None
        items.append((position, -change if bits[place - 1] == "1" else change))
    if not items or len(bits) - place > 7:
        return None
    return tuple(items)


def _written(moves: Sequence[tuple[int, int]], choice: int, room: int) -> tuple[int, str]:
    """How many moves fit into ``room`` bits with this width, and the bits."""
    width = WIDTHS[choice]
    bits = f"1{choice:02b}"
    last = -1
    for taken, (position, change) in enumerate(moves):
        skip, size = position - last - 1, abs(change).bit_length() - 1
        if len(bits) + (skip >> width) + width + 2 * size + 3 > room:
            return taken, bits
        low = format(skip & (1 << width) - 1, f"0{width}b") if width else ""
        rest = format(abs(change) - (1 << size), f"0{size}b") if size else ""
        bits += "1" * (skip >> width) + "0" + low + "1" * size + "0" + rest + ("1" if change < 0 else "0")
        last = position
    return len(moves), bits


def _number(bits: str, start: int, end: int) -> int:
    return int(bits[start:end], 2) if start < end <= len(bits) else 0
