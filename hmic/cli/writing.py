"""What commands read and write by name, and what they say when they cannot."""

from __future__ import annotations

import io
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.diagnostics import DesignError, error
from hmic.plain_files import open_plain, read_plain, write_plain

if TYPE_CHECKING:
    from PIL.Image import Image

    from hmic.paint.operations import Drawing

_HEAD = 4
LARGEST = 64_000_000
"""Bytes; larger than any flash that a display's pack could go to."""


def write_result(path: Path, data: bytes) -> None:
    """Writes what a command makes. Raises ``DesignError`` U910 when it cannot, U912 when something of
    another kind stands there, told by its first bytes: a slip must not cost a design or a record."""
    head = b""
    with suppress(OSError), open_plain(path) as standing:
        head = standing.read(_HEAD)
    if head and head != data[:_HEAD]:
        remedy = "choose another name, or remove it first"
        message = f"{path} is something else; it is not replaced"
        raise DesignError([error("U912", message, None, remedy)])
    write_whole(path, data)


def write_picture(path: Path, picture: Image) -> None:
    """Writes a PNG, whole or not at all."""
    data = io.BytesIO()
    picture.save(data, "PNG")
    write_result(path, data.getvalue())


def write_whole(path: Path, data: bytes) -> None:
    """As ``write_plain``, with the folders on the way. Raises ``DesignError`` U910 when it cannot."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_plain(path, data)
    except OSError as failed:
        reason = failed.strerror or "it cannot be written"
        remedy = "choose a place you may write to"
        raise DesignError([error("U910", f"cannot write {path}: {reason}", None, remedy)]) from None


def read_pack(path: Path) -> tuple[bytes, Drawing]:
    """A screen pack, or that of a host file, and what it draws. Raises ``DesignError`` U911 when it cannot be
    read, or what the pack's reader finds."""
    from hmic.pack.reader import read
    from hmic.runtime import host_file

    data = read_whole(path, "the pack")
    if host_file.is_host(data):
        data = host_file.read(data, path.name).pack
    try:
        return data, read(data)
    except DesignError as raised:
        named = [replace(each, message=f"{path}: {each.message}") for each in raised.findings]
        raise DesignError(named) from None


def read_whole(path: Path, what: str) -> bytes:
    """Reads a plain file. Raises ``DesignError`` U911 when it cannot."""
    try:
        return read_plain(path, LARGEST)
    except OSError as failed:
        reason = failed.strerror or "it cannot be read"
        remedy = "check the name and the place"
        raise DesignError([error("U911", f"cannot read {what} {path}: {reason}", None, remedy)]) from None
