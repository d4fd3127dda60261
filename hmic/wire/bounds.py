"""The most bytes that frames can take on the line, for budgets made ahead of time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from hmic.wire.sizes import (
    BLOCK_HEAD,
    BLOCK_SECONDS,
    CHANGE_HEAD,
    LEAST_BODY,
    MAX_STUFFED,
    OVERHEAD,
    UNIT,
    URGENT,
)

LONGEST_ITEM = 16
"""Bytes of a body that may stay empty because the next item does not fit."""

REFRESH_HEAD = 14
"""Kind, scene, number, first."""

HEARD = 1 + 5 + OVERHEAD
PULSE = 1 + OVERHEAD

TURN_GUARD = 0.004
"""Seconds for a receiver to let go of the wires, and for the other end's program to wake."""

TURN_FRAMES = 2 * (2 + OVERHEAD)
"""Bytes of Turn and Over."""


def change_bytes(moves: Sequence[int], max_body: int = LEAST_BODY) -> int:
    """The most that change frames take in which any positions change, each by at most its ``moves``
    (0: never). Exact for one frame in which all do, without skips; a frame with fewer is shorter."""
    bits = sum(1 if move == 0 else 2 * move.bit_length() + 1 for move in moves)
    body = -(-(CHANGE_HEAD + bits) // 8)
    if body <= max_body:
        return body + OVERHEAD + body // 254
    frames = -(-body // (max_body - LONGEST_ITEM))
    return body + frames * (OVERHEAD + 1 + max_body // 254)


def refresh_bytes(largest: Iterable[int]) -> int:
    """The most that a refresh of a whole list takes; ``largest`` are the largest raw values."""
    sizes = [1 if value < 128 else 2 if value < 16384 else 3 for value in largest]
    return sum(sizes) + -(-len(sizes) // URGENT) * (REFRESH_HEAD + OVERHEAD)


def block_seconds(rate: float) -> float:
    """The longest that one block of a pack keeps the line; ``rate`` in bytes a second."""
    unit = (UNIT + BLOCK_HEAD + OVERHEAD) / rate
    return max(unit, BLOCK_SECONDS + (BLOCK_HEAD + OVERHEAD + 2) / rate)


TURN_REPLY = 0.012
"""Seconds of bytes that a display says in a turn, or one frame if that is longer."""

SHARE = 0.6
"""The part of the time in which the host speaks when both ends take turns."""


def turn_seconds(rate: float) -> float:
    """The longest turn of a display over two wires; ``rate`` in bytes a second."""
    return 2 * TURN_GUARD + TURN_REPLY + (MAX_STUFFED + TURN_FRAMES) / rate
