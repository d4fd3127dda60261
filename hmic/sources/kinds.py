"""What a log is, told by its content, and its reader. A file packed by gzip is looked into."""

from __future__ import annotations

import gzip
import io
import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, Protocol, cast

from hmic.diagnostics import DesignError, error
from hmic.plain_files import open_plain
from hmic.sources import blf
from hmic.sources.blf import BlfLog
from hmic.sources.frame import Row
from hmic.sources.library import MdfLog, SqliteLog
from hmic.sources.table import TableRefused, table_log
from hmic.sources.text import TextLog, text_log

HEAD = 256 << 10
"""Bytes of a text that tell what it is."""
LINES = 2000
"""Lines of it that are looked at."""
LONGEST = 4096
"""Letters of a line; a frame of 64 bytes has far fewer."""
READABLE = (
    "readable logs: candump in both forms, ASC, BLF, TRC, CRTD, tables whose header names time, id and"
    " data, MF4, the .db and .csv of python-can; each also packed by gzip"
)
_OTHERS = {
    b"PK\x03\x04": ("it is a zip archive", "unpack it first"),
    b"\xd4\xc3\xb2\xa1": ("it is a capture of a network", "convert it to a candump log"),
    b"\x0a\x0d\x0d\x0a": ("it is a capture of a network", "convert it to a candump log"),
    b"%PDF": ("it is a document", READABLE),
}


class Reader(Protocol):
    """A log that is opened. ``form`` is its kind in words, ``open_points`` what it leaves open; ``bad``
    counts its lines or frames that cannot be read, ``first_bad`` says which is the first, and why."""

    @property
    def form(self) -> str: ...
    @property
    def open_points(self) -> tuple[str, ...]: ...
    @property
    def bad(self) -> int: ...
    @property
    def first_bad(self) -> str: ...

    def rows(self) -> Iterator[Row]:
        """The data frames in the order written. Raises what reading raises."""


class Lines:
    """A log of lines. ``cut`` is the stamp of a last line without an end, which is left out."""

    def __init__(self, file: BinaryIO, encoding: str, log: TextLog) -> None:
        self.form = log.form
        self.open_points = log.open_points
        self.bad = 0
        self.first_bad = ""
        self.cut: float | None = None
        self._file = file
        self._encoding = encoding
        self._parse = log.parse

    def rows(self) -> Iterator[Row]:
        """Raises OSError and what unpacking raises."""
        text = io.TextIOWrapper(self._file, self._encoding, "replace")
        parse, read = self._parse, text.readline
        number = 0
        while line := read(LONGEST):
            number += 1
            try:
                row = parse(line)
            except (ValueError, IndexError) as fault:
                self._spoilt(number, fault)
                continue
            if row is None:
                continue
            if line[-1] != "\n":
                if len(line) >= LONGEST:
                    self._spoilt(number, ValueError("it is too long"))
                    continue
                self.cut = row[0]
                return
            yield row

    def _spoilt(self, number: int, fault: Exception) -> None:
        self.bad += 1
        if not self.first_bad:
            reason = str(fault) if isinstance(fault, ValueError) else "it lacks a part"
            self.first_bad = f"line {number}: {reason}"


def open_log(path: Path) -> tuple[Reader, BinaryIO]:
    """A log's reader and its open file. Raises DesignError R701 to R703, OSError and what unpacking a
    spoilt file raises."""
    file = open_plain(path)
    try:
        size: int | None = os.fstat(file.fileno()).st_size
        if file.read(2) == b"\x1f\x8b":
            file.seek(0)
            file, size = cast(BinaryIO, gzip.GzipFile(fileobj=file)), None
        file.seek(0)
        head = _head(file)
        file.seek(0)
        return _reader(path, file, size, head), file
    except BaseException:
        file.close()
        raise


def _head(file: BinaryIO) -> bytes:
    """The first bytes, as far as they can be had: what is cut behind them shows when it is read."""
    head = bytearray()
    with suppress(EOFError):
        while len(head) < HEAD and (piece := file.read(min(8192, HEAD - len(head)))):
            head += piece
    return bytes(head)


def _reader(path: Path, file: BinaryIO, size: int | None, head: bytes) -> Reader:
    name = path.name
    if not head:
        raise DesignError([error("R703", f"'{name}' is empty", None, "record again, or choose another log")])
    if head.startswith(blf.MAGIC):
        return BlfLog(file, size)
    if head.startswith(b"SQLite format 3\0"):
        return SqliteLog(path)
    if head.startswith((b"MDF     ", b"UnFinMF ")):
        return MdfLog(path)
    for magic, (what, remedy) in _OTHERS.items():
        if head.startswith(magic):
            raise _refused(name, what, remedy)
    encoding = "utf-16" if head.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    text = head.decode(encoding, "replace")
    # The last line may be cut by the end of what was looked at.
    lines = [line[:LONGEST] for line in text.splitlines()[:LINES]]
    try:
        log = table_log(lines) or text_log(lines)
    except TableRefused as fault:
        raise _refused(name, str(fault), fault.remedy) from None
    if log is None:
        what = "none of its first lines is a frame in a form that is known here"
        raise _refused(name, "it is no text" if text.count("\ufffd") > len(text) // 50 else what, READABLE)
    return Lines(file, encoding, log)


def _refused(name: str, what: str, remedy: str) -> DesignError:
    return DesignError([error("R702", f"'{name}' is no log that can be read: {what}", None, remedy)])
