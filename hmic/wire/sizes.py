"""The numbers of the line that more than one part of it holds to. Sizes in bytes, times in seconds."""

from __future__ import annotations

from hmic.wire.cobs import encoded_limit

MAX_BODY = 512
"""Body bytes no frame may exceed, in either direction."""

MAX_STUFFED = encoded_limit(MAX_BODY + 2)
"""Bytes between two delimiters beyond which a decoder stops listening until the next delimiter."""

LEAST_BODY = 128
"""Body bytes every end must take."""

OVERHEAD = 4
"""Most bytes around a body of up to 252 bytes: one of stuffing (mostly saved), two of CRC, one delimiter."""

UNIT = 64
"""Bytes of the smallest piece of a pack that is sent, stored and reported."""


def unit_count(size: int) -> int:
    """Units of a pack of ``size`` bytes."""
    return -(-size // UNIT)


MAX_RAW = 0xFFFF
"""The largest raw value."""

URGENT = 32
"""Positions at the start of a list that go before all others in every value frame."""

FRAME_SECONDS = 0.025
"""A value frame keeps the line no longer than this, or than ``LEAST_ROOM`` does: what is urgent waits for
no long one, and a lost one costs little."""

LEAST_ROOM = 16
"""Body bytes that a value frame may always have: the longest item, or the start of a Fill."""

CHANGE_HEAD = 3
"""Bits of a change frame before its items."""

BLOCK_HEAD = 8
"""Most bytes of a block before its data for packs below 2 GiB: kind, transfer, serial, count, unit."""

BLOCK_SECONDS = 0.04
"""A block keeps the line no longer than this, or than one unit does, so that updates can pass."""

BARE_BLOCK_SECONDS = 0.3
"""The same while no screen is shown, so that no update waits: not longer than between two signs of life."""

VALUE_LEAD = 0.01
"""Seconds of bytes not yet on the line up to which values are added; beyond, they wait and gather,
so that what is sent is the newest."""

BLOCK_LEAD = 0.008
"""The same for blocks of a pack: no more than a slow waking of the caller needs."""

BATCH = 0.1
"""Seconds between two updates of what is not urgent on a line that takes it easily: a bar or needle moves ten
times a second. Faster where that costs little, slower where the line needs it (``bounds.batch_seconds``)."""

CALM = 0.2
"""Seconds between two updates of what only changes figures: nobody reads a number that changes more
than five times a second (both: common practice, no source)."""


def value_room(rate: float, max_body: int) -> int:
    """Most body bytes of a value frame; ``rate`` in bytes a second."""
    return max(LEAST_ROOM, min(max_body, int(FRAME_SECONDS * rate) - OVERHEAD))


WIDTHS = (0, 2, 4, 7)
"""Bits of the low part of a skip in a change frame: changes side by side, near, scattered, in a long list."""

MOST_ONES = 8
"""Ones of a skip or step after which it stands in 16 bits; more than may fill the last byte."""
