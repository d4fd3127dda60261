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

A Fill's body is its kind and bits:

    1                   goes on at the place where the last Change or Fill ended; 0 and 16 bits: begins at
                        this position
    4 bits              ``low``: the width of the low part of a step
    steps               to the end: to each value from the one before it in the list, modulo 2^16, zigzag;
                        its high part as so many ones and a zero, then its low part in ``low`` bits; or
                        ``MOST_ONES`` ones and all 16 bits
    up to 7 ones        to the end of the byte

Both hold for the values before the frame, which its seal vouches for.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hmic.wire.crc import START, crc16
from hmic.wire.messages import Kind
from hmic.wire.sizes import CHANGE_HEAD, MAX_RAW, MOST_ONES, WIDTHS

CHANGE = 0x80
"""The first body byte of a change frame is at least this."""

PULSE = b"\xff"
"""The body of a change frame without a change."""

LOW_BITS = 4
"""Bits that tell the width of the low part of a Fill's steps."""

Items = tuple[tuple[int, int], ...]


def session_seal(host: int, display: int, session: int) -> int:
    """The seal of a session's frames: both nonces (4 bytes each) and the session (2), least first."""
    agreed = host.to_bytes(4, "little") + display.to_bytes(4, "little") + session.to_bytes(2, "little")
    return crc16(agreed, START)


def value_seal(session: int, scene: int, number: int, late: int, before: Sequence[int]) -> int:
    """The seal of a value frame or Pulse: the session's, then scene and number (4 bytes each), and before the
    frame how many positions are late and all raw values (2 bytes each), least first."""
    return crc16(struct.pack(f"<IIH{len(before)}H", scene, number, late, *before), session)


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


@dataclass(frozen=True)
class Taken:
    """The values after a value frame, and the place where it ended: behind its last position."""

    values: list[int]
    place: int


def encode_fill(
    held: Sequence[int], target: Sequence[int], first: int, end: int, place: int, *, limit: int
) -> tuple[bytes, Taken]:
    """The shortest body that brings the positions from ``first`` to ``end`` (exclusive) of the values held
    to the ``target``, at most ``limit`` bytes (at least 16); what did not fit stays as it is. ``place`` is
    where the last Change or Fill ended."""
    begin = "1" if first == place else "0" + format(first, "016b")
    room = 8 * (limit - 1) - len(begin) - LOW_BITS
    before = [held[first - 1] if first else 0, *target[first : end - 1]]
    steps = [_zigzag(new - old) for old, new in zip(before, target[first:end], strict=True)]
    tries = (_steps_written(steps, low, room) for low in range(1 << LOW_BITS))
    taken, bits = min(tries, key=lambda found: (-found[0], len(found[1])))
    ended = first + taken
    values = [*held[:first], *target[first:ended], *held[ended:]]
    return bytes((Kind.FILL,)) + _whole(begin + bits), Taken(values, ended)


def _filled(body: bytes, held: Sequence[int], place: int) -> Taken | None:
    bits = format(int.from_bytes(body, "big"), f"0{8 * len(body)}b")[8:]
    goes_on = bits[:1] == "1"
    at = 1 if goes_on else 17
    first = place if goes_on else _number(bits, 1, 17)
    if len(bits) < at + LOW_BITS or first >= len(held):
        return None
    low, at = int(bits[at : at + LOW_BITS], 2), at + LOW_BITS
    values, value, told = list(held), held[first - 1] if first else 0, 0
    while (found := _split(bits, at, low)) is not None:
        step, at = found
        if at > len(bits) or first >= len(held):
            return None
        value = value + (step >> 1 ^ -(step & 1)) & MAX_RAW
        values[first] = value
        first, told = first + 1, told + 1
    return Taken(values, first) if told and len(bits) - at <= 7 else None


def taken(body: bytes, held: Sequence[int], place: int) -> Taken | None:
    """What a Change, Fill or Pulse makes of the values held; None when it is none for them."""
    if body[:1] == bytes((Kind.FILL,)):
        return _filled(body, held, place)
    items = decode_changes(body, len(held))
    if items is None:
        return None
    after = list(held)
    for position, change in items:
        after[position] += change
        if not 0 <= after[position] <= MAX_RAW:
            return None
        place = position + 1
    return Taken(after, place)


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
