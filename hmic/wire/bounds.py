"""The most bytes that frames can take on the line, for budgets made ahead of time."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.wire.sizes import (
    BARE_BLOCK_SECONDS,
    BATCH,
    BLOCK_HEAD,
    BLOCK_SECONDS,
    CHANGE_HEAD,
    FRAME_SECONDS,
    LEAST_ROOM,
    MAX_BODY,
    MAX_STUFFED,
    MOST_ONES,
    OVERHEAD,
    UNIT,
    URGENT,
    WIDTHS,
)

HEARD = 1 + 5 + OVERHEAD
PULSE = 1 + OVERHEAD
RESUME = 1 + 5 + 3 + OVERHEAD
OFFER = 1 + 1 + 5 + 32 + OVERHEAD

TURN_GUARD = 0.004
"""Seconds for a receiver to let go of the wires, and for the other end's program to wake."""

TURN_FRAMES = 2 * (2 + OVERHEAD)
"""Bytes of Turn and Over."""

QUICKEST, SLOWEST = 1 / 30, 0.5
"""Seconds between two updates of what is not urgent, at least and at most: film and more is not seen in a
needle (common practice, no source)."""

QUICK_LOAD = 0.1
"""The part of the line that values may take for the sake of smoothness."""

MOST_LOAD = 0.7
"""The part of the line that values may take: the rest is for touches, mends and a push."""


def value_bytes(moves: Sequence[int], room: int, pairs: int = 0) -> int:
    """The most bytes of the value frames, of at most ``room`` bytes of body, in which any positions change,
    each by at most its ``moves`` (0: never), once each; so many ``pairs`` of them in one frame."""
    bodies, frames = value_frames(moves, room, pairs)
    return bodies + frames * OVERHEAD


def value_frames(moves: Sequence[int], room: int, pairs: int = 0) -> tuple[int, int]:
    """The same as bytes of all bodies and the number of frames, for the width of skips that is best. A host
    chooses one for each frame, which gets it as far or farther."""
    changes = [2 * move.bit_length() for move in moves if move]
    if not changes:
        return 0, 0
    # A frame may end early: before a pair, where the first positions crowd others out, at the end.
    early = (2 if len(moves) > URGENT else 0) + pairs
    found = []
    for width in WIDTHS:
        # A skip in 16 bits costs no more than three times its high part.
        left_out = 3 * (len(moves) - len(changes) >> width)
        bits = sum(changes) + (1 + width) * len(changes) + left_out
        # A frame that begins anywhere has all before it to skip, and ends where an item does not fit.
        begin = CHANGE_HEAD + min(3 * (len(moves) >> width), MOST_ONES + 16)
        inside = 8 * room - begin - (max(changes) + width + min(left_out, MOST_ONES + 16))
        if CHANGE_HEAD + bits <= 8 * room:
            frames = 1 + early
            found.append((-(-(CHANGE_HEAD + bits) // 8) + early * -(-begin // 8), frames))
        else:
            frames = -(-bits // inside) + early
            found.append((-(-bits // 8) + frames * -(-(begin + 7) // 8), frames))
    return min(found, key=lambda each: each[0] + each[1] * OVERHEAD)


def frame_seconds(rate: float) -> float:
    """The longest that a value frame keeps the line; ``rate`` in bytes a second."""
    return max(FRAME_SECONDS, (LEAST_ROOM + OVERHEAD) / rate)


def batch_seconds(moves: Sequence[int], rate: float, room: int) -> float:
    """Seconds between two updates of what is not urgent: as short as the line allows if everything moves as
    much as ``moves``."""
    needs = value_bytes(moves, room) / rate
    if needs <= QUICK_LOAD * BATCH:
        return max(QUICKEST, needs / QUICK_LOAD)
    return min(SLOWEST, max(BATCH, needs / MOST_LOAD))


def block_seconds(rate: float) -> float:
    """The longest that one block of a pack keeps the line; ``rate`` in bytes a second."""
    unit = (UNIT + BLOCK_HEAD + OVERHEAD) / rate
    return max(unit, BLOCK_SECONDS + (BLOCK_HEAD + OVERHEAD + 2) / rate)


def push_seconds(size: int, rate: float) -> float:
    """About the time of a whole pack of so many bytes, nothing squeezed or lost, while the line carries
    nothing else; ``rate`` in bytes a second."""
    longest = min(int(rate * BARE_BLOCK_SECONDS), MAX_BODY - BLOCK_HEAD)
    data = UNIT * max(1, longest // UNIT)
    return (size + -(-size // data) * (BLOCK_HEAD + OVERHEAD)) / rate


TURN_REPLY = 0.012
"""Seconds of bytes that a display says in a turn, or one frame if that is longer."""

SHARE = 0.6
"""The part of the time in which the host speaks when both ends take turns."""


def turn_seconds(rate: float) -> float:
    """The longest turn of a display over two wires; ``rate`` in bytes a second."""
    return 2 * TURN_GUARD + TURN_REPLY + (MAX_STUFFED + TURN_FRAMES) / rate
