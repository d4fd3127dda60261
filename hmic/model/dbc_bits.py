"""The raw value of one field of a frame, whatever else is said of its message.

cantools refuses a message as a whole, for every frame, when two of its fields overlap or one lies beyond
its end, and all plain fields of a frame with a page that the file does not know. Where it gives a value,
this gives the same.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from hmic.model.dbc_places import MOST_BITS

if TYPE_CHECKING:
    from cantools.database.can.signal import Signal

_FLOATS = {16: ("<H", "<e"), 32: ("<I", "<f"), 64: ("<Q", "<d")}


class Lack(Enum):
    """Why a frame gives no value of a field."""

    OTHER_PAGE = "the frame brings another page"
    UNKNOWN_PAGE = "it brings a page that the DBC does not know"
    TOO_SHORT = "it is too short"
    UNREADABLE = "the DBC describes no such field"


@dataclass(frozen=True, slots=True)
class Place:
    """Where the bits of a field lie. ``start`` is its lowest bit, counted from the lowest of the first
    byte, or with ``big`` its highest, counted from the highest. ``page``: it is there where the selecting
    field has one of these values, of all that are known."""

    big: bool
    start: int
    length: int
    signed: bool
    real: bool
    page: tuple[Place, frozenset[int], frozenset[int]] | None = None


def place_of(field: Signal, fields: Mapping[str, Signal], depth: int = 8) -> Place | None:
    """The place of a field among those of its message; None where it can be nowhere."""
    length, start = int(field.length), int(field.start)
    if not 1 <= length <= MOST_BITS or start < 0 or (field.is_float and length not in _FLOATS):
        return None
    page = None
    if field.multiplexer_ids:
        selecting = fields.get(field.multiplexer_signal or "")
        selector = place_of(selecting, fields, depth - 1) if selecting is not None and depth else None
        if selecting is None or not selecting.is_multiplexer or selector is None or selector.real:
            return None
        known = {int(raw) for raw in selecting.choices or ()}
        for other in fields.values():
            if other.multiplexer_signal == selecting.name:
                known.update(other.multiplexer_ids or ())
        page = selector, frozenset(field.multiplexer_ids), frozenset(known)
    big = field.byte_order == "big_endian"
    # A DBC counts the bits of a byte from the lowest also where the highest comes first.
    start = start // 8 * 8 + 7 - start % 8 if big else start
    return Place(big, start, length, bool(field.is_signed), bool(field.is_float), page)


def raw_value(place: Place | None, data: bytes) -> int | float | Lack:
    """The raw value of a field in a frame, before scale and offset."""
    if place is None:
        return Lack.UNREADABLE
    if place.page is not None:
        selector, pages, known = place.page
        page = raw_value(selector, data)
        if isinstance(page, Lack):
            return page
        if page not in pages:
            return Lack.OTHER_PAGE if page in known else Lack.UNKNOWN_PAGE
    behind = 8 * len(data) - place.start - place.length
    if behind < 0:
        return Lack.TOO_SHORT
    whole = int.from_bytes(data, "big" if place.big else "little")
    return of_bits(place, whole >> (behind if place.big else place.start) & ((1 << place.length) - 1))


def of_bits(place: Place, bits: int) -> int | float:
    """The raw value that a field's bits say."""
    if place.real:
        as_bits, as_real = _FLOATS[place.length]
        return float(struct.unpack(as_real, struct.pack(as_bits, bits))[0])
    return bits - (1 << place.length) if place.signed and bits >> (place.length - 1) else bits


def bits_of(place: Place, raw: int | float) -> int | None:
    """The bits by which a field says a raw value; None where it cannot."""
    if place.real:
        as_bits, as_real = _FLOATS[place.length]
        try:
            return int(struct.unpack(as_bits, struct.pack(as_real, raw))[0])
        except (OverflowError, struct.error):
            return None
    if not isinstance(raw, int):
        return None
    half = 1 << place.length - 1
    low, high = (-half, half - 1) if place.signed else (0, 2 * half - 1)
    return raw & 2 * half - 1 if low <= raw <= high else None
