"""Finds in a new pack what the display holds already, from short hashes of the pack it uses.

The display hashes its pack in pieces of ``PIECE`` bytes from the start; the last may be shorter. The
host looks for the same content at any place of the new pack, so that what only moved is not sent. Two
pieces with one hash but other content are found out when the whole pack is read back.
"""

from __future__ import annotations

from collections.abc import Sequence
from zlib import crc32

from hmic.wire.crc import crc16
from hmic.wire.sizes import LEAST_BODY, UNIT

PIECE = 1024
HASH = 6
MOST_HASHES = (LEAST_BODY - 12) // HASH
"""Hashes in one answer: what fits a body that every end takes, behind its head of 12 bytes at most. A short
answer keeps beats and touches from waiting on a slow line."""


def hash_of(piece: bytes) -> bytes:
    """CRC-32/ISO-HDLC (as in the pack's header) of a piece, then its frame CRC, least bytes first."""
    return crc32(piece).to_bytes(4, "little") + crc16(piece).to_bytes(2, "little")


def piece_count(size: int) -> int:
    """Pieces of a pack of ``size`` bytes."""
    return -(-size // PIECE)


def sources(pack: bytes, size: int, hashes: Sequence[bytes]) -> list[int | None]:
    """For each unit of ``pack`` the place in the pack in use (``size`` bytes) that holds the same bytes,
    None where none is known."""
    found: list[int | None] = [None] * -(-len(pack) // UNIT)
    if not hashes:
        return found
    whole = {value: place * PIECE for place, value in enumerate(hashes) if (place + 1) * PIECE <= size}
    sums = {value[:4] for value in whole}
    start = source = place = 0
    covered = 0
    while place + PIECE <= len(pack):
        piece = pack[place : place + PIECE]
        at = whole.get(hash_of(piece)) if crc32(piece).to_bytes(4, "little") in sums else None
        if at is None:
            place += 1
            continue
        if place != covered or at - place != source - start:
            start, source = place, at
        covered = place + PIECE
        _note(found, start, covered, source, len(pack))
        place = covered
    rest = size % PIECE
    if rest and rest <= len(pack) and hash_of(pack[len(pack) - rest :]) == hashes[-1]:
        end, at = len(pack) - rest, size - rest
        if end == covered and at - end == source - start:
            _note(found, start, len(pack), source, len(pack))
        else:
            _note(found, end, len(pack), at, len(pack))
    return found


def _note(found: list[int | None], start: int, end: int, source: int, size: int) -> None:
    """Notes the units that lie whole between ``start`` and ``end``."""
    last = -(-size // UNIT) if end == size else end // UNIT
    # A run grows at its end: units noted before stay as they are.
    for unit in range(last - 1, -(-start // UNIT) - 1, -1):
        if found[unit] is not None:
            break
        found[unit] = source + unit * UNIT - start
