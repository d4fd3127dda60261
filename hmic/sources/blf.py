"""BLF logs: objects of many kinds in compressed containers.

No specification is public; what is used here was seen in the files of the public reader `vector_blf`, and
is held against python-can in the tests. All numbers are little-endian:

- the file begins with ``LOGG``, the size of its header (u32), eight bytes about the writer, the size of
  the file (u64), its size uncompressed (u64), the number of its objects (u32);
- an object begins with ``LOBJ``, the size of its header (u16), the header's version (u16), its size with
  that header (u32), its kind (u32). Up to three bytes of padding follow it;
- kind 10 is a container: method (u16; 0 as is, 2 zlib), 6 bytes, uncompressed size (u32), 4 bytes, then
  objects, the last of which may go on in the next container;
- in other objects flags (u32; bit 0: times count 10 µs, else ns) follow, and 4 bytes on the time (u64).
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from typing import BinaryIO

from hmic.sources.frame import EXTENDED, STANDARD, BrokenOff, Row

MAGIC = b"LOGG"
LARGEST = 64 << 20
"""Bytes of one container, packed or not; a file that says more is spoilt."""
_FILE = struct.Struct("<4sI8xQQI")
_OBJECT = struct.Struct("<4sHHII")
_CONTAINER = struct.Struct("<H6xI4x")
_STAMP = struct.Struct("<I4xQ")
_CLASSIC = struct.Struct("<HBBI")
_FD = struct.Struct("<HBBI6xB5x")
_FD_64 = struct.Struct("<BxBxI4xI24x")
_CONTAINER_KIND = 10
_CLASSIC_KINDS = frozenset((1, 86))
_FD_KIND = 100
_FD_64_KIND = 101
_REMOTE = 0x80
_REMOTE_64 = 0x10


class BlfLog:
    """The data frames of a BLF file. ``bad`` counts objects that are no frame though they say so."""

    form = "BLF"
    open_points: tuple[str, ...] = ()

    def __init__(self, file: BinaryIO, size: int | None) -> None:
        """``size`` is that of the file, None where it is packed."""
        self.bad = 0
        self.first_bad = ""
        self._file = file
        self._size = size

    def rows(self) -> Iterator[Row]:
        """Raises BrokenOff, OSError and what unpacking raises."""
        head = self._file.read(_FILE.size)
        if len(head) < _FILE.size:
            raise BrokenOff("its header is cut")
        _, header, said_size, _, said_objects = _FILE.unpack(head)
        self._file.read(max(0, min(header, LARGEST) - _FILE.size))
        objects = 0
        rest = b""
        try:
            for block in self._blocks():
                rest, rows, count = self._objects(rest + block)
                objects += count
                yield from rows
        except BrokenOff as fault:
            raise BrokenOff(f"{fault}{_told(said_size, self._size, said_objects, objects)}") from None
        if self._size is not None and said_size > self._size:
            told = _told(said_size, self._size, said_objects, objects)
            raise BrokenOff(f"its end is missing{told}")

    def _blocks(self) -> Iterator[bytes]:
        """The unpacked contents of the containers, and objects outside of one."""
        while True:
            head = self._file.read(_OBJECT.size)
            if not head:
                return
            if len(head) < _OBJECT.size:
                if head.strip(b"\0"):
                    raise BrokenOff("an object is cut")
                return
            mark, _, _, size, kind = _OBJECT.unpack(head)
            if mark != b"LOBJ" or not _OBJECT.size <= size <= LARGEST:
                raise BrokenOff("what stands there is no object")
            body = self._file.read(size - _OBJECT.size)
            self._file.read(size % 4)
            if kind != _CONTAINER_KIND:
                if len(body) < size - _OBJECT.size:
                    raise BrokenOff("an object is cut")
                yield head + body + bytes(size % 4)
                continue
            yield _unpacked(body)
            if len(body) < size - _OBJECT.size:
                raise BrokenOff("a container is cut")

    def _objects(self, data: bytes) -> tuple[bytes, list[Row], int]:
        """The frames of the whole objects in ``data``, what is left of it, and how many objects."""
        rows: list[Row] = []
        count = at = 0
        unpack = _OBJECT.unpack_from
        end = len(data) - _OBJECT.size
        while at <= end:
            mark, header, _, size, kind = unpack(data, at)
            if mark != b"LOBJ":
                found = data.find(b"LOBJ", at, at + 8)
                if found < 0:
                    raise BrokenOff("what stands there is no object")
                at = found
                continue
            if not _OBJECT.size <= size <= LARGEST:
                raise BrokenOff("an object says a size that cannot be")
            if at + size > len(data):
                break
            count += 1
            try:
                row = _row(data, at, header, size, kind)
                if row is not None:
                    rows.append(row)
            except (struct.error, ValueError) as fault:
                self.bad += 1
                self.first_bad = self.first_bad or f"object {count}: {fault}"
            at += size + size % 4
        return data[at:], rows, count


def _told(said_size: int, size: int | None, said_objects: int, objects: int) -> str:
    """What the header promised."""
    if size is None or said_size <= size:
        return f"; it says {said_objects} objects, {objects} could be read" if said_objects > objects else ""
    return f"; it says {said_size} bytes and {said_objects} objects, there are {size} and {objects}"


def _unpacked(body: bytes) -> bytes:
    """The contents of a container; of one that is cut, what there is."""
    if len(body) < _CONTAINER.size:
        raise BrokenOff("a container is cut")
    method, size = _CONTAINER.unpack_from(body)
    packed = body[_CONTAINER.size :]
    if method == 0:
        return packed
    if method != 2:
        raise BrokenOff(f"a container is packed by method {method}, which is not known here")
    return zlib.decompressobj().decompress(packed, min(size, LARGEST) or LARGEST)


def _row(data: bytes, at: int, header: int, size: int, kind: int) -> Row | None:
    """The frame of an object, None for one of another kind or a remote frame."""
    body = at + header
    if kind in _CLASSIC_KINDS:
        channel, flags, length, identifier = _CLASSIC.unpack_from(data, body)
        if flags & _REMOTE:
            return None
        first, length, room = body + _CLASSIC.size, min(length, 8), 8
    elif kind == _FD_KIND:
        channel, flags, _, identifier, length = _FD.unpack_from(data, body)
        if flags & _REMOTE:
            return None
        first, room = body + _FD.size, 64
    elif kind == _FD_64_KIND:
        channel, length, identifier, flags = _FD_64.unpack_from(data, body)
        if flags & _REMOTE_64:
            return None
        # Some writers say more bytes than they write; what was not written is not made up.
        first, room = body + _FD_64.size, 64
        length = min(length, at + size - first)
    else:
        return None
    if length > room or first + length > at + size:
        raise ValueError(f"it says {length} bytes and has fewer")
    stamp_flags, stamp = _STAMP.unpack_from(data, at + _OBJECT.size)
    extended = bool(identifier & 0x80000000)
    identifier &= 0x7FFFFFFF
    if identifier > (EXTENDED if extended else STANDARD):
        raise ValueError("no identifier is as high")
    seconds = stamp * (1e-5 if stamp_flags == 1 else 1e-9)
    return seconds, identifier, extended, data[first : first + length], str(channel)
