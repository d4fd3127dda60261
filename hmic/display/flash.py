"""Flash memory as a display's store sees it: erase sets a sector's bits, a program only clears bits."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path
from typing import Protocol

from hmic.diagnostics import DesignError, error
from hmic.plain_files import open_to_write
from hmic.wire.banks import SECTOR

ERASED = 0xFF
PAGE = 256
DEFAULT_SIZE = 8 << 20


class FlashError(Exception):
    """An operation failed, as on worn or unplugged memory."""


class Flash(Protocol):
    """Sizes in bytes: the whole, what is erased at once, and what is programmed at most at once."""

    size: int
    sector: int
    page: int

    def read(self, offset: int, length: int) -> bytes:
        """Bytes from anywhere. Raises FlashError."""

    def erase(self, offset: int) -> None:
        """Sets every bit of the sector that starts at ``offset``. Raises FlashError."""

    def program(self, offset: int, data: bytes) -> None:
        """Clears the bits that are clear in ``data``, within one page. Raises FlashError."""

    def sync(self) -> None:
        """Returns once everything before it is safe from a loss of power. Raises FlashError."""


class MemoryFlash:
    """Flash that is gone with the program."""

    def __init__(self, size: int = DEFAULT_SIZE, sector: int = SECTOR, page: int = PAGE) -> None:
        self.size, self.sector, self.page = size, sector, page
        self.cells = bytearray(b"\xff") * size

    def read(self, offset: int, length: int) -> bytes:
        """Bytes from anywhere."""
        _check_range(self, offset, length)
        return bytes(self.cells[offset : offset + length])

    def erase(self, offset: int) -> None:
        """Sets every bit of a sector."""
        _check_sector(self, offset)
        self.cells[offset : offset + self.sector] = b"\xff" * self.sector

    def program(self, offset: int, data: bytes) -> None:
        """Clears bits within a page."""
        _check_page(self, offset, len(data))
        old = self.cells[offset : offset + len(data)]
        self.cells[offset : offset + len(data)] = _both(old, data)

    def sync(self) -> None:
        """Nothing to do."""


class FileFlash:
    """Flash in a file. The file holds every byte's complement, so that erased flash is a hole in it.

    Raises DesignError: W660 the file cannot be opened, W661 another display has it open, W662 it is
    another kind of file.
    """

    def __init__(self, path: Path, size: int = DEFAULT_SIZE) -> None:
        self.size, self.sector, self.page = size, SECTOR, PAGE
        remedy = "give a path that this user may write with --store"
        try:
            self._file = open_to_write(path, os.O_RDWR)
        except OSError as reason:
            message = f"the store {path} cannot be opened: {(reason.strerror or 'no reason given').lower()}"
            raise DesignError([error("W660", message, remedy=remedy)]) from None
        try:
            self._claim(path)
        except BaseException:
            os.close(self._file)
            raise

    def _claim(self, path: Path) -> None:
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            message = f"another display uses the store {path}"
            raise DesignError([error("W661", message, remedy="end it, or give another --store")]) from None
        try:
            found = os.fstat(self._file).st_size
            if found == 0:
                os.ftruncate(self._file, self.size)
        except OSError:
            message = f"the store {path} cannot be made"
            raise DesignError([error("W660", message, remedy="make room on the disk")]) from None
        if found not in (0, self.size):
            message = f"{path} has {found} bytes, a display's store {self.size}"
            remedy = "give the path of a new file, it will be made"
            raise DesignError([error("W662", message, remedy=remedy)])

    def read(self, offset: int, length: int) -> bytes:
        """Bytes from anywhere."""
        _check_range(self, offset, length)
        try:
            data = os.pread(self._file, length, offset)
        except OSError as reason:
            raise FlashError(str(reason)) from None
        return data.ljust(length, b"\0").translate(_COMPLEMENT)

    def erase(self, offset: int) -> None:
        """Sets every bit of a sector."""
        _check_sector(self, offset)
        self._put(offset, bytes(self.sector))

    def program(self, offset: int, data: bytes) -> None:
        """Clears bits within a page."""
        _check_page(self, offset, len(data))
        self._put(offset, _both(self.read(offset, len(data)), data).translate(_COMPLEMENT))

    def sync(self) -> None:
        """Waits for the disk."""
        try:
            os.fsync(self._file)
        except OSError as reason:
            raise FlashError(str(reason)) from None

    def close(self) -> None:
        """Lets go of the file."""
        os.close(self._file)

    def _put(self, offset: int, data: bytes) -> None:
        try:
            if os.pwrite(self._file, data, offset) != len(data):
                raise FlashError("the disk is full")
        except OSError as reason:
            raise FlashError(str(reason)) from None


_COMPLEMENT = bytes(255 - value for value in range(256))


def _both(old: bytes | bytearray, new: bytes) -> bytes:
    size = len(new)
    return (int.from_bytes(old, "big") & int.from_bytes(new, "big")).to_bytes(size, "big")


def _check_range(flash: Flash, offset: int, length: int) -> None:
    if offset < 0 or length < 0 or offset + length > flash.size:
        raise FlashError(f"{length} bytes at {offset} are outside the flash")


def _check_sector(flash: Flash, offset: int) -> None:
    _check_range(flash, offset, flash.sector)
    if offset % flash.sector:
        raise FlashError(f"no sector starts at {offset}")


def _check_page(flash: Flash, offset: int, length: int) -> None:
    _check_range(flash, offset, length)
    if offset // flash.page != (offset + max(length, 1) - 1) // flash.page:
        raise FlashError(f"{length} bytes at {offset} cross the end of a page")
