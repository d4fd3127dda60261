"""Files that a person named, opened without waiting, read whole and written whole.

A pipe waits for its other end, a device may do anything when it is opened, a link leads where somebody
else may have pointed it. So only plain files are read, to a limit, and nothing is written through a link.
Every fault is an ``OSError`` whose ``strerror`` says in words what it is.
"""

from __future__ import annotations

import errno
import os
import stat
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

_NOW = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0) | getattr(os, "O_CLOEXEC", 0)
_AS_IT_IS = getattr(os, "O_BINARY", 0)
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)

_KINDS = {
    stat.S_IFDIR: "it is a folder",
    stat.S_IFIFO: "it is a pipe, not a file",
    stat.S_IFSOCK: "it is a socket, not a file",
    stat.S_IFCHR: "it is a device, not a file",
    stat.S_IFBLK: "it is a device, not a file",
    stat.S_IFLNK: "it is a link; name the file itself",
}


def open_plain(path: Path) -> BinaryIO:
    """A plain file, open for reading; a link to one will do. Raises OSError."""
    # Looked at before it is opened, since opening can do something to a device; and again afterwards,
    # since something else may stand there by then.
    _check(_facts(path, follow=True).st_mode)
    file = os.open(path, os.O_RDONLY | _NOW | _AS_IT_IS)
    try:
        _check(os.fstat(file).st_mode)
        return os.fdopen(file, "rb")
    except BaseException:
        os.close(file)
        raise


def is_plain(path: Path) -> bool:
    """Whether a plain file, or a link to one, stands there."""
    with suppress(OSError):
        return stat.S_ISREG(_facts(path, follow=True).st_mode)
    return False


def read_plain(path: Path, most: int) -> bytes:
    """What a plain file holds. Raises OSError, also where it is larger than ``most`` bytes."""
    with open_plain(path) as file:
        data = file.read(most + 1)
    if len(data) > most:
        raise OSError(errno.EFBIG, f"it is larger than {most} bytes")
    return data


def open_to_write(path: Path, flags: int, mode: int = 0o666) -> int:
    """A plain file, open for writing by more ``flags`` of ``os.open``; made where there is none. Raises
    OSError."""
    with suppress(FileNotFoundError):
        _check(_facts(path, follow=False).st_mode)
    try:
        file = os.open(path, flags | os.O_CREAT | _NOW | _AS_IT_IS | _NO_LINK, mode)
    except OSError as fault:
        if fault.errno == errno.ELOOP:
            raise OSError(fault.errno, _KINDS[stat.S_IFLNK]) from None
        raise
    try:
        _check(os.fstat(file).st_mode)
    except BaseException:
        os.close(file)
        raise
    return file


def write_plain(path: Path, data: bytes) -> None:
    """Writes a file beside its place, then puts it there: the old one or the new one stands, whole, with
    the rights that stood. What is no file, such as ``/dev/stdout``, is written into. Raises OSError."""
    kind = _kind_there(path)
    if kind in (stat.S_IFDIR, stat.S_IFBLK, stat.S_IFSOCK):
        raise OSError(errno.EINVAL, _KINDS[kind])
    if kind in (stat.S_IFCHR, stat.S_IFIFO):
        _pour(path, data)
        return
    if kind == stat.S_IFLNK:
        raise OSError(errno.ELOOP, _KINDS[kind])
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    rights = stat.S_IMODE(path.lstat().st_mode) if kind is not None else None
    with suppress(FileNotFoundError):
        # Left by a process of this number that was killed, or a trap.
        beside.unlink()
    try:
        file_number = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _AS_IT_IS | _NO_LINK, 0o666)
        with os.fdopen(file_number, "wb") as file:
            if rights is not None and hasattr(os, "fchmod"):
                os.fchmod(file_number, rights)
            file.write(data)
        beside.replace(path)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise


def _pour(path: Path, data: bytes) -> None:
    """Writes into what is no file, where somebody reads it."""
    try:
        target = os.open(path, os.O_WRONLY | _NOW | _AS_IT_IS)
    except OSError as fault:
        if fault.errno == errno.ENXIO:
            raise OSError(fault.errno, "nobody reads from this pipe") from None
        raise
    with os.fdopen(target, "wb") as file:
        if hasattr(os, "set_blocking"):
            os.set_blocking(target, True)
        file.write(data)


def _kind_there(path: Path) -> int | None:
    """The kind of what stands there: of a link's target where that is no file, so that ``/dev/stdout``
    is what it stands for."""
    with suppress(FileNotFoundError):
        kind = stat.S_IFMT(_facts(path, follow=False).st_mode)
        if kind == stat.S_IFLNK:
            with suppress(OSError):
                target = stat.S_IFMT(path.stat().st_mode)
                return target if target in (stat.S_IFCHR, stat.S_IFIFO) else kind
        return kind
    return None


def _facts(path: Path, follow: bool) -> os.stat_result:
    try:
        return path.stat() if follow else path.lstat()
    except ValueError:
        # A NUL, or a letter that no file's name can hold here.
        raise OSError(errno.EINVAL, "no file can have this name") from None


def _check(mode: int) -> None:
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, _KINDS.get(stat.S_IFMT(mode), "it is no plain file"))
