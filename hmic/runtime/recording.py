"""A record of a run: what came, and what was shown for it, so that any moment can be seen again.

Lines of JSON, each with its vehicle time ``t`` in seconds; described in RECORD.md beside this file.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from io import FileIO
from pathlib import Path
from typing import Any

from hmic.diagnostics import DesignError, Finding, error, warning
from hmic.model.values import Doubt, Item
from hmic.plain_files import is_plain, open_plain, open_to_write
from hmic.runtime.behind import Behind, to_disk
from hmic.runtime.decoding import Arrival, Frame
from hmic.runtime.holding import HeldByAnother, Hold
from hmic.runtime.record_lines import Clock as Clock
from hmic.runtime.record_lines import SpoiltLine, Times, moved, raw_values, what_came

SUFFIX = ".record"
VERSION = 1
LIMIT = 64 << 20
"""Bytes of a record after which the next begins; the one before is kept beside it."""
FLUSH = 1.0
"""Seconds between two writes to the disk: what a loss of power costs."""
BUFFER = 1 << 20
"""Bytes that wait for the disk at most."""
GRACE = 10.0
"""Seconds from the first arrival on that a record without a display waits in memory."""
RETRY = 10.0
"""Seconds between two attempts to write again after a failure."""


@dataclass(frozen=True)
class Showing:
    """From ``at`` on this was on the display: a screen and a theme by name, and the raw values of the
    screen's channels. ``up`` is whether the display was heard, ``pack`` the identity of its pack, in
    hexadecimal."""

    at: float
    screen: str
    theme: str
    raw: tuple[int, ...]
    up: bool
    pack: str


Entry = Frame | Arrival | Showing | Clock


class Recorder:
    """Writes a record. A disk that is full or gone ends nothing: the record goes on when it can.

    It is both a witness of the runtime and an attendant of the loop. It begins when a display shows
    something, or ``GRACE`` after the first arrival: runs that fail at once, again and again, leave the
    record of the last good one where it is.
    """

    def __init__(self, path: Path, design: str, identity: bytes, limit: int = LIMIT) -> None:
        """Raises DesignError: R750; R758 where another run writes it."""
        self._path = path
        self._head = {"record": VERSION, "design": design, "pack": identity.hex()}
        self._limit = limit
        self._findings: list[Finding] = []
        self._raw: tuple[int, ...] | None = None
        self._look: tuple[str, str] | None = None
        self._written = 0
        self._flushed = float("-inf")
        self._retry: float | None = None
        self._now = float("-inf")
        self._begun = False
        self._came = False
        self._begin_at: float | None = None
        self._file: FileIO | None = None
        self._buffer = bytearray()
        self._disk = Behind()
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._hold = Hold(path)
            new = not path.is_symlink() and not path.exists()
            FileIO(path, "a", opener=_opened).close()
            if new:
                path.unlink()
        except HeldByAnother:
            message = f"the record '{path}' is being written by another run"
            raise DesignError([error("R758", message, None, "end that run, or name another file")]) from None
        except (OSError, ValueError) as fault:
            reason = getattr(fault, "strerror", None) or str(fault)
            message = f"the record '{path}' cannot be written: {reason}"
            raise DesignError([error("R750", message, None, "choose a place you may write to")]) from fault

    def arrived(self, arrival: Arrival) -> None:
        """What a frame or line brought."""
        self._came = True
        frame = arrival.frame
        if frame is not None:
            digits = 8 if frame.extended else 3
            self._write({"t": arrival.at, "id": f"{frame.identifier:0{digits}X}", "data": frame.data.hex()})
        else:
            said = [[item.name, item.element, _plain(item.value)] for item in arrival.readings]
            self._write({"t": arrival.at, "set": said})

    def clock(self, at: float, minutes: float) -> None:
        """The time of day."""
        if not self._begun and not self._came:
            self._buffer.clear()
        self._write({"t": at, "clock": minutes})

    def link(self, at: float, up: bool) -> None:
        """The display is heard, or no longer."""
        self._came = True
        self._write({"t": at, "link": up})

    def showed(self, at: float, screen: str, theme: str, raw: Sequence[int]) -> None:
        """What the display was given."""
        self._begin_first()
        now = tuple(raw)
        if self._look != (screen, theme) or self._raw is None or len(self._raw) != len(now):
            self._write({"t": at, "screen": screen, "theme": theme, "raw": list(now)})
        else:
            pairs = enumerate(zip(self._raw, now, strict=True))
            changes = {str(place): new for place, (old, new) in pairs if old != new}
            if changes:
                self._write({"t": at, "moved": changes})
        self._look, self._raw = (screen, theme), now

    def turn(self, now: float) -> list[Finding]:
        """Brings what is written to the disk once a second; begins anew after a failure."""
        self._now = now
        if self._came and self._begin_at is None:
            self._begin_at = now + GRACE
        if self._begin_at is not None and now >= self._begin_at:
            self._begin_first()
        if self._retry is not None and now >= self._retry:
            try:
                self._begin()
                self._retry = None
            except OSError:
                file, self._file, self._retry = self._file, None, now + RETRY
                if file is not None:
                    file.close()
        elif self._file is not None and now >= self._flushed + FLUSH:
            self._flushed = now
            self._try(self._bring_to_disk)
            if self._written >= self._limit:
                self._try(self._turn_over)
        findings, self._findings = self._findings, []
        return findings

    def close(self) -> list[Finding]:
        """Ends the record. One that never began is written only where it displaces nothing."""
        if self._came and not any(map(_holds_something, (self._path, before(self._path)))):
            self._begin_first()
        self._disk.wait()
        self._try(self._end)
        self._disk.wait()
        self._hold.close()
        findings, self._findings = self._findings, []
        return findings

    def _begin_first(self) -> None:
        """Begins the record, once; what was noted before comes first in it."""
        if not self._begun and self._retry is None:
            early = bytes(self._buffer)
            self._try(self._begin)
            if self._file is not None:
                self._written += len(early)
                self._buffer += early

    def _begin(self) -> None:
        """Opens the file, at its end after a failure."""
        if not self._begun:
            for part in (self._path, before(self._path)):
                if _holds_something(part):
                    part.replace(part.with_name(part.name + ".old"))
                else:
                    part.unlink(missing_ok=True)
        again = self._begun and self._retry is not None
        # Unbuffered: after a failure nothing may be left that Python writes later.
        self._file = FileIO(self._path, "a" if again else "w", opener=_opened)
        self._begun = True
        self._written = self._file.seek(0, 2)
        # A line that a full disk cut ends here; the head says that something may be missing.
        self._buffer = bytearray(b"\n" if self._written else b"")
        self._raw = self._look = None
        self._write(self._head)
        self._flush()

    def _turn_over(self) -> None:
        self._end()
        self._path.replace(before(self._path))
        self._begin()

    def _bring_to_disk(self) -> None:
        """Writes at once, and lets the disk take its time for it."""
        assert self._file is not None
        fault = self._disk.take_fault()
        if fault is not None:
            raise fault
        self._sync(self._file)

    def _end(self) -> None:
        if self._file is not None:
            self._sync(self._file)
            self._file.close()
            self._file = None

    def _sync(self, file: FileIO) -> None:
        self._flush()
        if not self._disk.busy:
            self._disk.begin(to_disk(file.fileno()))

    def _flush(self) -> None:
        if self._file is None:
            return
        view = memoryview(bytes(self._buffer))
        while view:
            view = view[self._file.write(view) or 0 :]
        self._buffer.clear()

    def _write(self, entry: dict[str, Any]) -> None:
        if self._file is None and (self._begun or self._retry is not None):
            return
        # What is no letter at all becomes an escape that JSON knows.
        text = json.dumps(entry, ensure_ascii=False, separators=(",", ":"))
        data = text.encode("utf-8", "backslashreplace") + b"\n"
        self._written += len(data)
        self._buffer += data
        if len(self._buffer) > BUFFER:
            self._begin_first()
            self._try(self._flush)

    def _try(self, act: Callable[[], None]) -> None:
        try:
            act()
        except OSError as fault:
            message = f"the record '{self._path.name}' has a gap: {fault.strerror or fault}"
            remedy = "make room, or name another place; it goes on by itself"
            self._findings.append(warning("R751", message, None, remedy))
            self._retry = self._now + RETRY
            file, self._file = self._file, None
            self._buffer.clear()
            if file is not None:
                file.close()


def _opened(path: str, flags: int) -> int:
    return open_to_write(Path(path), flags)


def before(path: Path) -> Path:
    """Where the part of a record is kept that came before ``path``."""
    return path.with_name(path.name + ".1")


def _holds_something(path: Path) -> bool:
    """Whether a file holds more than a record's heads, the time of day and whether a display was heard."""
    try:
        with open_plain(path) as file:
            return any(line.strip() and not _is_empty(line) for line in file)
    except FileNotFoundError:
        return False


def _is_empty(line: bytes) -> bool:
    try:
        said = json.loads(line)
    except (ValueError, RecursionError):
        return False
    return isinstance(said, dict) and not said.keys().isdisjoint(("record", "clock", "link"))


class RecordLog:
    """A record as a log: frames and arrivals in order; ``entries`` gives what was shown too.

    A line that cannot be read is left out (R753); the part before, if there is one, comes first.
    """

    def __init__(self, path: Path) -> None:
        """Raises DesignError: R752 when there is no record."""
        self.name = path.name
        self.findings: list[Finding] = []
        self._paths = [part for part in (before(path), path) if part == path or is_plain(part)]
        try:
            first = next(iter(self._lines()), None)
        except OSError as fault:
            message = f"'{path.name}' cannot be opened: {fault.strerror or fault}"
            raise DesignError([error("R701", message, None, "check the path")]) from fault
        if not isinstance(first, dict) or "record" not in first:
            message = f"'{path.name}' is no record of a run"
            remedy = "name a file that `hmic run --record` wrote, or a log of frames"
            raise DesignError([error("R752", message, None, remedy)])
        self.findings.clear()

    def __iter__(self) -> Iterator[Frame | Arrival]:
        for entry in self.entries():
            if isinstance(entry, Frame | Arrival):
                yield entry

    def entries(self) -> Iterator[Entry]:
        """Everything, in the order in which it came."""
        showing: Showing | None = None
        up, pack = True, ""
        times = Times()
        for line in self._lines():
            if "record" in line:
                pack = str(line.get("pack", ""))
                continue
            try:
                at = times.take(line.get("t"))
                if "link" in line:
                    up = line["link"] is True
                    entry: Entry | None = showing and replace(showing, at=at, up=up)
                elif "screen" in line:
                    screen, theme = str(line["screen"]), str(line.get("theme"))
                    entry = Showing(at, screen, theme, raw_values(line.get("raw")), up, pack)
                elif "moved" in line:
                    entry = showing and replace(showing, at=at, raw=moved(showing.raw, line["moved"]))
                else:
                    entry = what_came(at, line)
            except SpoiltLine:
                self._damaged()
                continue
            if isinstance(entry, Showing):
                showing = entry
            if entry is not None:
                yield entry

    def _lines(self) -> Iterator[dict[str, Any]]:
        for path in self._paths:
            with open_plain(path) as file:
                for line in file:
                    if not line.strip():
                        continue
                    try:
                        said = json.loads(line)
                    except (ValueError, RecursionError):
                        said = None
                    if isinstance(said, dict):
                        yield said
                    else:
                        self._damaged()

    def _damaged(self) -> None:
        if not self.findings:
            message = f"'{self.name}' has lines that cannot be read"
            remedy = "they were left out; a loss of power or a full disk cuts one"
            self.findings.append(warning("R753", message, None, remedy))


def _plain(value: Item) -> Any:
    return {"doubt": value.name.lower()} if isinstance(value, Doubt) else value
