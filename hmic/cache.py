"""Results kept in the user's cache folder under the hash of what they follow from.

A cache can only save time: one that is missing, unwritable or spoilt counts as empty, and so does one that
anybody else could write. Each kind of result has a fixed number of files of a fixed largest size, chosen by
the hash, so that nothing needs to be trimmed. A file begins with the hash of what its result follows from
and the hash of the result: one that is half written, or another's, is no result. So it is written in place.
"""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

HASH = sha256().digest_size


@dataclass(frozen=True)
class Kind:
    """A kind of result, kept in at most ``files`` files of at most ``largest`` bytes. The ``version``
    changes with the form of the results."""

    name: str
    files: int
    largest: int
    version: int = 1


def kept(kind: Kind, content: bytes) -> Any:
    """What was kept of this kind for this content, or None."""
    data = kept_bytes(kind, content)
    try:
        return json.loads(data) if data is not None else None
    except (ValueError, RecursionError):
        return None


def keep(kind: Kind, content: bytes, result: Any) -> None:
    """Keep a JSON value."""
    keep_bytes(kind, content, json.dumps(result).encode())


def kept_bytes(kind: Kind, content: bytes) -> bytes | None:
    """Bytes kept of this kind for this content, or None."""
    key = _key(kind, content)
    data = b""
    with suppress(OSError), _file(kind, key, os.O_RDONLY) as file:
        while len(data) <= kind.largest and (piece := os.read(file, kind.largest + 1)):
            data += piece
    head, result = data[: 2 * HASH], data[2 * HASH :]
    return result if head == key + sha256(result).digest() else None


def keep_bytes(kind: Kind, content: bytes, result: bytes) -> None:
    """Keep bytes, in place of what stood in the same file; nothing when there are too many."""
    key = _key(kind, content)
    data = memoryview(key + sha256(result).digest() + result)
    if len(data) > kind.largest:
        return
    with suppress(OSError), _file(kind, key, os.O_WRONLY | os.O_CREAT) as file:
        os.ftruncate(file, 0)
        while data:
            data = data[os.write(file, data) :]


def _key(kind: Kind, content: bytes) -> bytes:
    return sha256(f"{kind.name} {kind.version}\0".encode() + content).digest()


@contextmanager
def _file(kind: Kind, key: bytes, flags: int) -> Iterator[int]:
    """The file of a result, open. Raises OSError where it is not a plain file of ours."""
    number = int.from_bytes(key, "big") % kind.files
    with _folder() as folder:
        file = os.open(f"{kind.name}-{number}", flags | _SAFE, 0o600, dir_fd=folder)
        try:
            facts = os.fstat(file)
            # A second name would be in a folder that we have not looked at.
            if not stat.S_ISREG(facts.st_mode) or facts.st_uid != os.geteuid() or facts.st_nlink != 1:
                raise PermissionError(f"{kind.name}-{number} is no file of ours")
            yield file
        finally:
            os.close(file)


# Neither waiting for the other end of a pipe nor led elsewhere by a link.
_SAFE = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)


@contextmanager
def _folder() -> Iterator[int]:
    """hmic's folder in the user's cache folder, open; made where there is none. Raises OSError where it
    cannot be had, or not be known to be ours alone."""
    if os.open not in os.supports_dir_fd or not hasattr(os, "geteuid"):
        raise OSError("who else may write there cannot be told on this system")
    path = _base().resolve() / "hmic"
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    for above in path.parents:
        _look(above.stat(), above, sticky_is_safe=True)
    with suppress(FileExistsError):
        path.mkdir(mode=0o700)
    folder = os.open(path, os.O_RDONLY | os.O_DIRECTORY | _SAFE)
    try:
        _look(os.fstat(folder), path, sticky_is_safe=False)
        yield folder
    finally:
        os.close(folder)


def _base() -> Path:
    """Raises OSError where there is none. A relative ``XDG_CACHE_HOME`` does not count, as its
    specification has it."""
    named = Path(os.environ.get("XDG_CACHE_HOME") or "")
    try:
        return named if named.is_absolute() else Path.home() / ".cache"
    except RuntimeError as problem:
        raise OSError(str(problem)) from None


def _look(facts: os.stat_result, path: Path, sticky_is_safe: bool) -> None:
    """Raises PermissionError where anybody else may exchange what the folder holds. Its owner may; the
    system's administrator may everywhere. In a sticky folder, such as /tmp, one's own is one's own."""
    ours = facts.st_uid == os.geteuid() or (sticky_is_safe and facts.st_uid == 0)
    shared = facts.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
    if not ours or (shared and not (sticky_is_safe and facts.st_mode & stat.S_ISVTX)):
        raise PermissionError(f"others may write in {path}")
