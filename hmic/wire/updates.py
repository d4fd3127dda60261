"""Value frames: what moved since the last one, a few bits for most moves, or a run of values.

A Change's body is a string of bits, the most significant of a byte first:

    1                   the mark of a change frame
    2 bits              which of ``WIDTHS`` is the width of the low part of a skip
    items               to the end, in rising order of position
    up to 7 ones        to the end of the byte

    skip                positions left out since the last item: its high part as so many ones and a
                        zero, then its low part in ``width`` bits; or ``MOST_ONES`` ones and all 16 bits
    change              its size 2^j + r as j ones, a zero and r in j bits; then 0 for up, 1 for down

The body ``PULSE`` has no item: nothing moved, the host lives.

A Fill's body is its kind, the first position and the value there as varints, and bits:

    4 bits              ``low``: the width of the low part of a step
    steps               to the end: from each value to the next, modulo 2^16, zigzag; its high part as
                        so many ones and a zero, then its low part in ``low`` bits; or ``MOST_ONES``
                        ones and all 16 bits
    up to 7 ones        to the end of the byte

Both hold for the values before the frame, which its seal vouches for.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence

from hmic.wire import varint
from hmic.wire.crc import START, crc16
from hmic.wire.messages import Kind
from hmic.wire.sizes import CHANGE_HEAD, MAX_RAW

CHANGE = 0x80
"""The first body byte of a change frame is at least this."""

PULSE = b"\xff"
"""The body of a change frame without a change."""

WIDTHS = (0, 2, 4, 7)
"""Bits of the low part of a skip: changes side by side, near, scattered, in a long list."""

MOST_ONES = 8
"""Ones of a skip or step after which it stands in 16 bits; more than may fill the last byte."""

LOW_BITS = 4
"""Bits that tell the width of the low part of a Fill's steps."""

Items = tuple[tuple[int, int], ...]


def session_seal(host: int, display: int, session: int) -> int:
    """The seal of a session's frames: both nonces (4 bytes each) and the session (2), least first."""
    agreed = host.to_bytes(4, "little") + display.to_bytes(4, "little") + session.to_bytes(2, "little")
    return crc16(agreed, START)


def value_seal(session: int, scene: int, number: int, before: Sequence[int]) -> int:
    """The seal of a value frame or Pulse: the session's, then scene and number (4 bytes each) and all raw
    values before the frame (2 bytes each), least first."""
    return crc16(struct.pack(f"<II{len(before)}H", scene, number, *before), session)


def encode_changes(
    before: Sequence[int], after: Sequence[int], limit: int, positions: Iterable[int] | None = None
) -> tuple[bytes, list[int]]:
    """The shortest body that changes ``before`` into ``after``, at most ``limit`` bytes (at least 16,
    the room of one item), and the values after it.

    Takes the changes in order of position until the body is full, of ``positions`` alone (rising) if they
    are given; the values returned differ from ``after`` where a change did not fit. Nothing changed gives
    ``PULSE``.
    """
    moves = [
        (position, after[position] - before[position])
        for position in (range(len(after)) if positions is None else positions)
        if before[position] != after[position]
    ]
    if not moves:
        return PULSE, list(before)
    tries = (_written(moves, choice, 8 * limit) for choice in range(len(WIDTHS)))
    taken, bits = min(tries, key=lambda found: (-found[0], len(found[1])))
    values = list(before)
    for position, change in moves[:taken]:
        values[position] += change
    return _whole(bits), values


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
    while (found := _split(bits, place, width)) is not None:
        skip, start = found
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


def encode_fill(values: Sequence[int], first: int, end: int, limit: int) -> tuple[bytes, int]:
    """The shortest body that tells the values from ``first`` to ``end`` (exclusive), at most ``limit``
    bytes (at least 16), and the end of those that fit."""
    head = bytes((Kind.FILL,)) + varint.encode(first) + varint.encode(values[first])
    room = 8 * (limit - len(head)) - LOW_BITS
    steps = [_zigzag(values[at] - values[at - 1]) for at in range(first + 1, end)]
    middle = (sum(steps[:room]) // max(1, len(steps[:room]))).bit_length()
    tries = [_steps_written(steps, low, room) for low in range(max(0, middle - 2), min(15, middle) + 1)]
    taken, bits = min(tries, key=lambda found: (-found[0], len(found[1])))
    return head + _whole(bits), first + 1 + taken


def decode_fill(body: bytes, count: int) -> tuple[int, list[int]] | None:
    """The first position and the values of a Fill's body for a list of ``count``; None when it is none."""
    at = varint.decode(body, 1) if body[:1] == bytes((Kind.FILL,)) else None
    value = varint.decode(body, at[1]) if at else None
    if at is None or value is None or value[0] > MAX_RAW or value[1] == len(body):
        return None
    first, values = at[0], [value[0]]
    bits = format(int.from_bytes(b"\1" + body[value[1] :], "big"), "b")[1:]
    low, place = int(bits[:LOW_BITS], 2), LOW_BITS
    while (found := _split(bits, place, low)) is not None:
        step, place = found
        values.append(values[-1] + (step >> 1 ^ -(step & 1)) & MAX_RAW)
        if place > len(bits) or first + len(values) > count:
            return None
    return (first, values) if len(bits) - place <= 7 and first + len(values) <= count else None


def taken(body: bytes, before: Sequence[int]) -> list[int] | None:
    """The values after a Change or Fill, or a Pulse; None when it is none for these values."""
    if body[:1] == bytes((Kind.FILL,)):
        filled = decode_fill(body, len(before))
        if filled is None:
            return None
        first, values = filled
        return [*before[:first], *values, *before[first + len(values) :]]
    items = decode_changes(body, len(before))
    if items is None:
        return None
    after = list(before)
    for position, change in items:
        after[position] += change
        if not 0 <= after[position] <= MAX_RAW:
            return None
    return after


def _written(moves: Sequence[tuple[int, int]], choice: int, room: int) -> tuple[int, str]:
    """How many moves fit into ``room`` bits with this width, and the bits."""
    width = WIDTHS[choice]
    bits = f"1{choice:02b}"
    last = -1
    for taken, (position, change) in enumerate(moves):
        skip, size = position - last - 1, abs(change).bit_length() - 1
        left_out = _parted(skip, width)
        if len(bits) + len(left_out) + 2 * size + 2 > room:
            return taken, bits
        rest = format(abs(change) - (1 << size), f"0{size}b") if size else ""
        bits += left_out + "1" * size + "0" + rest + ("1" if change < 0 else "0")
        last = position
    return len(moves), bits


def _number(bits: str, start: int, end: int) -> int:
    return int(bits[start:end], 2) if start < end <= len(bits) else 0


def _zigzag(step: int) -> int:
    """A step modulo 2^16 as 0, 1, 2, 3 for 0, -1, 1, -2."""
    nearest = (step + 0x8000 & MAX_RAW) - 0x8000
    return nearest << 1 if nearest >= 0 else (-nearest << 1) - 1


def _steps_written(steps: Sequence[int], low: int, room: int) -> tuple[int, str]:
    """How many steps fit into ``room`` bits with this width of the low part, and all bits."""
    bits = [format(low, f"0{LOW_BITS}b")]
    for taken, step in enumerate(steps):
        written = _parted(step, low)
        room -= len(written)
        if room < 0:
            return taken, "".join(bits)
        bits.append(written)
    return len(steps), "".join(bits)


def _parted(number: int, low: int) -> str:
    """A number of 16 bits in its high and its low part, or whole where the high one is too long."""
    high = number >> low
    if high >= MOST_ONES:
        return "1" * MOST_ONES + format(number, "016b")
    return "1" * high + "0" + (format(number & (1 << low) - 1, f"0{low}b") if low else "")


def _split(bits: str, place: int, low: int) -> tuple[int, int] | None:
    """The number whose parts begin at ``place``, and where they end (beyond the bits if it is cut short);
    None if nothing but ones fills the rest."""
    zero = bits.find("0", place, place + MOST_ONES)
    if zero >= 0:
        end = zero + 1 + low
        return zero - place << low | _number(bits, zero + 1, end), end
    if place + MOST_ONES > len(bits):
        return None
    end = place + MOST_ONES + 16
    return _number(bits, place + MOST_ONES, end), end


def _whole(bits: str) -> bytes:
    """Bits with ones to the end of the byte."""
    bits += "1" * (-len(bits) % 8)
    return int(bits, 2).to_bytes(len(bits) // 8, "big")
