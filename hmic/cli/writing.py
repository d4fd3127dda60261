"""Writing files so that a failure leaves the old file as it was."""

from __future__ import annotations

import os
from contextlib import suppress
from errno import EISDIR
from pathlib import Path
from shutil import copymode

from hmic.diagnostics import DesignError, error

_HEAD = 4


def write_result(path: Path, data: bytes) -> None:
    """Writes what a command makes. Raises ``DesignError`` U910 when it cannot, U912 when something of
    another kind stands there, told by its first bytes: a slip must not cost a design or a record."""
    head = b""
    with suppress(OSError):
        if path.is_file():
            with path.open("rb") as standing:
                head = standing.read(_HEAD)
    if head and head != data[:_HEAD]:
        remedy = "choose another name, or remove it first"
        message = f"{path} is something else; it is not replaced"
        raise DesignError([error("U912", message, None, remedy)])
    write_whole(path, data)


def write_whole(path: Path, data: bytes) -> None:
    """Writes beside the target, then renames; through links, and straight into what is no file. Raises
    ``DesignError`` U910 when it cannot."""
    beside: Path | None = None
    try:
        if path.is_dir() or not path.name:
            raise IsADirectoryError(EISDIR, "it is a folder")
        target = path.resolve()
        if target.exists() and not target.is_file():
            target.write_bytes(data)
            return
        beside = target.with_name(f".{target.name}.{os.getpid()}.part")
        target.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(data)
        if target.exists():
            copymode(target, beside)
        beside.replace(target)
    except (OSError, ValueError) as failed:
        if beside is not None:
            with suppress(OSError):
                beside.unlink(missing_ok=True)
        reason = getattr(failed, "strerror", None) or "it cannot be written"
        raise DesignError(
            [error("U910", f"cannot write {path}: {reason}", None, "choose a place you may write to")]
        ) from None


def read_whole(path: Path, what: str) -> bytes:
    """Reads a file. Raises ``DesignError`` U911 when it cannot."""
    try:
        return path.read_bytes()
    except OSError as failed:
        reason = failed.strerror or "it cannot be read"
        raise DesignError(
            [error("U911", f"cannot read {what} {path}: {reason}", None, "check the name and the place")]
        ) from None
