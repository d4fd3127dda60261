"""Where a display keeps its pack: two banks in flash, and records that say which one counts.

Layout, in sectors: two for records, then the banks, equal. A bank begins with a directory (32 bytes
on the pack that is arriving, then one bit for each unit of it, cleared once the unit is in), the
data follow from the next sector. Records stand one after the other in a record sector; when it is
full the other one is erased and used. The record with the highest sequence number whose check sum
and whose bank agree decides. A pack is only ever written to the bank that does not count, and a
record only ever to erased flash, so whenever power fails the old pack or the new one is whole.
"""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass

from hmic.display.flash import ERASED, Flash, FlashError
from hmic.pack.records import identity
from hmic.wire.banks import ARRIVING_SIZE, RECORD_SECTORS, Banks, banks
from hmic.wire.sizes import UNIT

# mark, sequence, bank, size, SHA-256, spare; a CRC-32 of these follows
RECORD = struct.Struct("<4sIB3xI32s12x")
RECORD_SIZE = 64
RECORD_MARK = b"bank"

# mark, size, identity, spare; a CRC-32 of these follows
ARRIVING = struct.Struct("<4sI8s12x")
ARRIVING_MARK = b"pack"

NO_IDENTITY = bytes(8)


@dataclass(frozen=True)
class _Record:
    place: int
    sequence: int
    bank: int
    size: int
    digest: bytes


class Store:
    """Offers what ``wire.StoreDoor`` asks. ``accepts`` is asked about a whole pack before it is
    made the one in use. After power-up, make a new Store on the same flash."""

    def __init__(self, flash: Flash, accepts: Callable[[bytes], bool] = lambda _: True) -> None:
        self._flash = flash
        self._accepts = accepts
        self._plan = _plan(flash)
        self._size = 0
        self._identity = NO_IDENTITY
        self._have = bytearray()
        self._erased: set[int] = set()
        self._record, self._pack = self._newest()

    @property
    def capacity(self) -> int:
        """The largest pack it can hold, in bytes."""
        return self._plan.capacity

    def active(self) -> bytes | None:
        """The pack in use, None when there is none."""
        return self._pack

    def begin(self, size: int, identity: bytes) -> bool:
        """Make room for a pack; what is there of the same one is kept. False when it is too large
        or the flash fails."""
        if not 0 < size <= self.capacity and identity != NO_IDENTITY:
            return False
        try:
            if (size, identity) != (self._size, self._identity) or identity == NO_IDENTITY:
                self._open(size, identity)
        except FlashError:
            self._identity = NO_IDENTITY
        return self._identity == identity

    def arriving(self, size: int, identity: bytes) -> bool:
        """Whether units of this pack may be in the store from a transfer broken off."""
        return (size, identity) == (self._size, self._identity) and identity != NO_IDENTITY

    def have(self) -> bytes:
        """Bit ``i % 8`` of byte ``i // 8`` is set when unit ``i`` is in the store."""
        return bytes(self._have)

    def write(self, offset: int, data: bytes) -> None:
        """Keep ``data`` at ``offset``, a multiple of ``UNIT``. What cannot be kept is left out, and
        the hash will tell."""
        if self._identity == NO_IDENTITY or offset % UNIT or not 0 <= offset <= self._size - len(data):
            return
        try:
            for at in range(0, len(data), UNIT):
                piece = data[at : at + UNIT]
                if len(piece) == UNIT or offset + at + len(piece) == self._size:
                    self._write_unit((offset + at) // UNIT, piece)
        except FlashError:
            return

    def hash(self) -> bytes:
        """SHA-256 of the arriving pack as read back."""
        try:
            return hashlib.sha256(self._arrived()).digest()
        except FlashError:
            return bytes(32)

    def activate(self) -> bool:
        """Make the arrived pack the one in use. False when it is not whole or not accepted, or the
        flash fails; then nothing has changed."""
        try:
            pack = self._arrived()
            if self._identity == NO_IDENTITY or identity(pack) != self._identity or not self._accepts(pack):
                return False
            self._flash.sync()
            self._append(pack)
            self._flash.sync()
        except FlashError:
            return False
        record, stored = self._newest()
        if stored != pack:
            return False
        self._record, self._pack = record, stored
        self._identity, self._size, self._have = NO_IDENTITY, 0, bytearray()
        return True

    def size_in_use(self) -> int:
        """Bytes of the pack in use, 0 when there is none."""
        return len(self._pack or b"")

    def read_in_use(self, offset: int, length: int) -> bytes:
        """Bytes of the pack in use."""
        return (self._pack or b"")[offset : offset + length]

    def install(self, pack: bytes) -> bool:
        """Store and activate a pack that is here already; nothing to do when it is in use."""
        if pack == self._pack:
            return True
        if not self.begin(len(pack), identity(pack)):
            return False
        self.write(0, pack)
        return self.activate()

    @property
    def _spare(self) -> int:
        return 1 - self._record.bank if self._record else 0

    def _open(self, size: int, identity: bytes) -> None:
        """Take up the arriving pack in the spare bank, or discard it and start anew."""
        at = self._plan.at[self._spare]
        self._erased.clear()
        self._size, self._identity = size, NO_IDENTITY
        units = -(-size // UNIT)
        head = ARRIVING.pack(ARRIVING_MARK, size, identity)
        head += zlib.crc32(head).to_bytes(4, "little")
        if identity != NO_IDENTITY and self._flash.read(at, ARRIVING_SIZE) == head:
            marks = self._flash.read(at + ARRIVING_SIZE, -(-units // 8))
            self._have = bytearray(mark ^ ERASED for mark in marks)
        else:
            for sector in range(at, at + self._plan.directory, self._flash.sector):
                self._erase(sector)
            self._have = bytearray(-(-units // 8))
            if identity != NO_IDENTITY:
                self._flash.program(at, head)
        self._identity = identity

    def _write_unit(self, unit: int, data: bytes) -> None:
        byte, bit = divmod(unit, 8)
        if self._have[byte] >> bit & 1:
            return
        bank = self._plan.at[self._spare]
        at = bank + self._plan.directory + unit * UNIT
        self._make_room(unit)
        self._flash.program(at, data)
        self._flash.program(bank + ARRIVING_SIZE + byte, bytes((ERASED ^ 1 << bit,)))
        self._have[byte] |= 1 << bit

    def _make_room(self, unit: int) -> None:
        """Erase the sector of a unit, unless a unit of it is in already or it is erased."""
        per_sector = self._flash.sector // UNIT
        sector = unit // per_sector
        if sector in self._erased:
            return
        units = range(sector * per_sector, min((sector + 1) * per_sector, 8 * len(self._have)))
        if not any(self._have[number // 8] >> number % 8 & 1 for number in units):
            bank = self._plan.at[self._spare]
            self._erase(bank + self._plan.directory + sector * self._flash.sector)
        self._erased.add(sector)

    def _erase(self, offset: int) -> None:
        if not _blank(self._flash.read(offset, self._flash.sector)):
            self._flash.erase(offset)

    def _arrived(self) -> bytes:
        return self._flash.read(self._plan.at[self._spare] + self._plan.directory, self._size)

    def _append(self, pack: bytes) -> None:
        records = self._records()
        newest = records[0] if records else None
        sector = self._flash.sector
        places: list[int] = []
        if newest:
            end = (newest.place // sector + 1) * sector
            places = [
                at
                for at in range(newest.place + RECORD_SIZE, end, RECORD_SIZE)
                if _blank(self._flash.read(at, RECORD_SIZE))
            ]
        if not places:
            fresh = sector - newest.place // sector * sector if newest else 0
            self._erase(fresh)
            places = [fresh]
        sequence = newest.sequence + 1 if newest else 1
        body = RECORD.pack(RECORD_MARK, sequence, self._spare, len(pack), hashlib.sha256(pack).digest())
        self._flash.program(places[0], body + zlib.crc32(body).to_bytes(4, "little"))

    def _records(self) -> list[_Record]:
        """Records whose check sums agree, the newest first."""
        found = []
        for place in range(0, RECORD_SECTORS * self._flash.sector, RECORD_SIZE):
            data = self._flash.read(place, RECORD_SIZE)
            body, check = data[: RECORD.size], data[RECORD.size :]
            mark, sequence, bank, size, digest = RECORD.unpack(body)
            sound = mark == RECORD_MARK and bank <= 1 and size <= self.capacity
            if sound and zlib.crc32(body).to_bytes(4, "little") == check:
                found.append(_Record(place, sequence, bank, size, digest))
        return sorted(found, key=lambda record: -record.sequence)

    def _newest(self) -> tuple[_Record | None, bytes | None]:
        try:
            for record in self._records():
                at = self._plan.at[record.bank] + self._plan.directory
                pack = self._flash.read(at, record.size)
                if hashlib.sha256(pack).digest() == record.digest:
                    return record, pack
        except FlashError:
            pass
        return None, None


def _plan(flash: Flash) -> Banks:
    if flash.sector % flash.page or flash.page % RECORD_SIZE:
        raise ValueError("sectors are made of whole pages, pages of whole records")
    plan = banks(flash.size, flash.sector)
    if plan.capacity <= 0:
        raise ValueError("the flash is too small for two banks")
    return plan


def _blank(data: bytes) -> bool:
    return data.count(ERASED) == len(data)
