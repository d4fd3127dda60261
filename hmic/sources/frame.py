"""A frame of a CAN bus, as every source gives it."""

from __future__ import annotations

from typing import NamedTuple


class Frame(NamedTuple):
    """A CAN data frame. ``at`` in seconds; ``channel`` is what brought it, as far as known, and ``bus`` the
    bus of the design that this stands for."""

    at: float
    identifier: int
    extended: bool
    data: bytes
    channel: str | None = None
    bus: str = ""


Row = tuple[float, int, bool, bytes, str | None]
"""A data frame as a log has it: its stamp in seconds of the log's own clock, identifier, whether that has
29 bits, bytes, channel. A plain tuple: a log has millions of them."""

LENGTHS = (*range(9), 12, 16, 20, 24, 32, 48, 64)
"""Bytes of a CAN FD frame by its length code (ISO 11898-1)."""
STANDARD = 0x7FF
"""The highest identifier of 11 bits."""
EXTENDED = 0x1FFFFFFF
"""The highest identifier of 29 bits."""


class BrokenOff(Exception):
    """A log cannot be read further: why."""
