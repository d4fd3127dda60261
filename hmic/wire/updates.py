"""Change frames: what moved since the last value frame, one byte for most moves.

Body: the byte ``0x80 | number % 128``; then absolute values of ``rotation_share(count)`` positions
from ``rotation_start(number, count)`` on, as varints; then items in rising order of position, each

    high nibble   positions skipped since the last item (0..14), or 15 and a varint of the rest
    low nibble    zigzag(change) - 1 (0..14), or 15 and a varint of the rest

to the end of the body. Items are relative to the values before the frame, absolutes hold after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hmic.wire import varint
from hmic.wire.crc import START, crc16

CHANGE = 0x80
"""The first body byte of a change frame is at least this."""

ROUND = 32
"""Change frames in which every position is sent absolutely once."""

MAX_RAW = 0xFFFF
"""The largest raw value."""


@dataclass(frozen=True)
class Changes:
    """A change frame: ``absolutes`` in rotation order, ``items`` as (position, change)."""

    absolutes: tuple[int, ...]
    items: tuple[tuple[int, int], ...]


def rotation_share(count: int) -> int:
    """Absolute values in each change frame of a list of ``count``."""
    return min(-(-count // ROUND), 32)


def rotation_start(number: int, count: int) -> int:
    """The first position sent absolutely in value frame ``number``; positions wrap at ``count``."""
    return number * rotation_share(count) % count


def session_seal(host: int, display: int, session: int) -> int:
    """The seal of a session's frames: both nonces (4 bytes each) and the session (2), least first."""
    agreed = host.to_bytes(4, "little") + display.to_bytes(4, "little") + session.to_bytes(2, "little")
    return crc16(agreed, START)


def change_seal(session: int, scene: int, number: int) -> int:
    """The seal of a change frame: the session's, then scene and number (4 bytes each, least first)."""
    return crc16(scene.to_bytes(4, "little") + number.to_bytes(4, "little"), session)


def number_after(number: int, low: int) -> int:
    """The smallest number above ``number`` whose remainder by 128 is ``low``."""
    return number + 1 + (low - number - 1) % 128


def encode_changes(
    number: int, before: Sequence[int], after: Sequence[int], limit: int
) -> tuple[bytes, list[int]]:
    """The body of value frame ``number``, at most ``limit`` bytes, and the values after it.

    Takes the changes from ``before`` to ``after`` in order of position until the body is full; the
    values returned differ from ``after`` where a change did not fit. ``limit`` must leave room for
    the rotation (1 + 3 * share) and one item (7).
    """
    count = len(before)
    share, start = rotation_share(count), rotation_start(number, count)
    room = limit - 1 - 3 * share
    values = list(before)
    items = bytearray()
    last = -1
    for position, (old, new) in enumerate(zip(before, after, strict=True)):
        if old != new:
            item = _item(position - last - 1, new - old)
            if len(items) + len(item) > room:
                break
            items += item
            values[position] = new
            last = position
    absolutes = b"".join(varint.encode(values[(start + turn) % count]) for turn in range(share))
    return bytes((CHANGE | number % 128,)) + absolutes + items, values


def decode_changes(body: bytes, count: int) -> Changes | None:
    """The content of a change frame's body for a list of ``count``, or None when it is none."""
    if not body or body[0] < CHANGE or count == 0:
        return None
    place = 1
    absolutes: list[int] = []
    for _ in range(rotation_share(count)):
        read = varint.decode(body, place)
        if read is None or read[0] > MAX_RAW:
            return None
        absolutes.append(read[0])
        place = read[1]
    items: list[tuple[int, int]] = []
    position = -1
    while place < len(body):
        gap, low = body[place] >> 4, body[place] & 15
        place += 1
        if gap == 15:
            read = varint.decode(body, place)
            if read is None:
                return None
            gap, place = 15 + read[0], read[1]
        if low == 15:
            read = varint.decode(body, place)
            if read is None:
                return None
            low, place = 15 + read[0], read[1]
        position += gap + 1
        if position >= count:
            return None
        items.append((position, varint.unzigzag(low + 1)))
    return Changes(tuple(absolutes), tuple(items))


def _item(gap: int, change: int) -> bytes:
    code = varint.zigzag(change) - 1
    item = bytes((min(gap, 15) << 4 | min(code, 15),))
    if gap >= 15:
        item += varint.encode(gap - 15)
    if code >= 15:
        item += varint.encode(code - 15)
    return item
