"""How a display's flash is shared out: records first, then two banks alike, each with its directory before
the pack. ``display/store.py`` says what stands where; budgets count it ahead of time."""

from __future__ import annotations

from typing import NamedTuple

from hmic.wire.sizes import UNIT

SECTOR = 4096
"""Bytes that are erased at once, where a flash does not say otherwise."""

RECORD_SECTORS = 2

ARRIVING_SIZE = 32
"""Bytes of a directory before its bits, one for each unit of the bank."""


class Banks(NamedTuple):
    """Byte offsets and sizes that follow from a flash's size; there is room for a pack where ``capacity`` is
    above 0."""

    at: tuple[int, int]
    directory: int
    capacity: int


def banks(size: int, sector: int = SECTOR) -> Banks:
    """The banks of a flash of so many bytes."""
    bank = (size // sector - RECORD_SECTORS) // 2
    directory = 1
    while directory < _directory(bank - directory, sector):
        directory += 1
    first = RECORD_SECTORS * sector
    return Banks((first, first + bank * sector), directory * sector, (bank - directory) * sector)


def flash_need(pack_size: int, sector: int = SECTOR) -> int:
    """Bytes of the smallest flash whose banks hold a pack of so many bytes."""
    data = -(-pack_size // sector)
    return (RECORD_SECTORS + 2 * (data + _directory(data, sector))) * sector


def _directory(data: int, sector: int) -> int:
    """Sectors of the directory of so many sectors of units, of which a byte is begun at most."""
    return -(-(ARRIVING_SIZE + data * sector // UNIT // 8 + 1) // sector)
