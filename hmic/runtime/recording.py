"""A record of a run: what came, and what was shown for it, so that any moment can be seen again.

Lines of JSON, each with its vehicle time ``t`` in seconds; described in RECORD.md beside this file.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from io import FileIO
from pathlib import Path
from typing import Any

from hmic.diagnostics import DesignError, Finding, error, warning
from hmic.model.values import Doubt, Item
from hmic.plain_files import is_plain, open_plain, open_to_write
from hmic.runtime.behind import Behind, to_disk
from hmic.runtime.decoding import Arrival
from hmic.runtime.holding import HeldByAnother, Hold
from hmic.runtime.record_lines import Clock, SpoiltLine, Times, moved, raw_values, what_came
from hmic.sources.frame import Frame

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


class State(Enum):
    """Where a recorder stands."""

    EARLY = "what came waits in memory, for a display or the end of its grace"
    WRITING = "what came is on the disk, but for the last second"
    BROKEN = "the disk refused; what comes is lost until it can be tried again"
    ENDED = "nothing is written any more"


class Recorder:
    """Writes a record. A disk that is full or gone ends nothing: the record goes on when it can.

    It is both a witness of the runtime and an attendant of the loop. It begins when a display shows
    something, or ``GRACE`` after the first arrival: runs that fail at once, again and again, leave the
    record of the last good one where it is.
    """

    def __init__(self, path: Path, design: str, identity: bytes, limit: int = LIMIT) -> None:
        """Raises DesignError: R750; R758 where another run writes it."""
        self._state = State.EARLY
        self._head = _line({"record": VERSION, "design": design, "pack": identity.hex()})
        self._pending = bytearray()
        self._hold = _held(path)
        self._parts = _Parts(path, limit)
        self._said = _Said()
        self._findings: list[Finding] = []
        self._came = False
        self._now = float("-inf")
        self._due = float("inf")

    def arrived(self, arrival: Arrival) -> None:
        """What a frame or line brought."""
        self._came = True
        frame = arrival.frame
        if frame is not None:
            digits = 8 if frame.extended else 3
            said = {"id": f"{frame.identifier:0{digits}X}", "data": frame.data.hex()}
            self._put({"t": arrival.at, **({"bus": frame.bus} if frame.bus else {}), **said})
        else:
            values = [[item.name, item.element, _plain(item.value)] for item in arrival.readings]
            self._put({"t": arrival.at, "set": values})

    def clock(self, at: float, minutes: float) -> None:
        """The time of day."""
        if self._state is State.EARLY and not self._came:
            self._pending.clear()
        self._put({"t": at, "clock": minutes})

    def link(self, at: float, up: bool) -> None:
        """The display is heard, or no longer."""
        self._came = True
        self._put({"t": at, "link": up})

    def showed(self, at: float, screen: str, theme: str, raw: Sequence[int]) -> None:
        """What the display was given."""
        if self._state is State.EARLY:
            self._begin()
        entry = self._said.news(screen, theme, tuple(raw))
        if entry is not None:
            self._put({"t": at, **entry})

    def turn(self, now: float) -> list[Finding]:
        """Brings what is written to the disk once a second; begins anew after a failure."""
        self._now = now
        if self._state is State.EARLY and self._came:
            self._due = min(self._due, now + GRACE)
        if now >= self._due:
            match self._state:
                case State.EARLY | State.BROKEN:
                    self._begin()
                case State.WRITING:
                    self._due = now + FLUSH
                    self._try(self._bring_to_disk)
        return self._take_findings()

    def close(self) -> list[Finding]:
        """Ends the record. One that never began is written only where it displaces nothing."""
        if self._state is State.EARLY and self._came and not self._parts.hold_something():
            self._begin()
        if self._state is State.WRITING:
            self._parts.wait()
            self._try(self._end)
        self._state = State.ENDED
        self._parts.wait()
        self._hold.close()
        return self._take_findings()

    def _begin(self) -> None:
        """Begins the record, or goes on after a failure; what was noted before comes first in it."""
        broken, early = self._state is State.BROKEN, bytes(self._pending)
        try:
            self._open()
        except OSError as fault:
            self._break(fault, told=broken)
        else:
            self._pending += early

    def _open(self) -> None:
        # A line that a full disk cut ends here; the head says that something may be missing.
        self._pending = bytearray(b"\n" if self._parts.open() else b"") + self._head
        self._said = _Said()
        self._parts.write(self._pending)
        self._pending.clear()
        self._state, self._due = State.WRITING, self._now + FLUSH

    def _bring_to_disk(self) -> None:
        self._flush()
        self._parts.sync()
        if self._parts.full:
            self._parts.turn_over()
            self._open()

    def _end(self) -> None:
        self._flush()
        self._parts.close()

    def _flush(self) -> None:
        self._parts.write(self._pending)
        self._pending.clear()

    def _put(self, entry: dict[str, Any]) -> None:
        if self._state in (State.BROKEN, State.ENDED):
            return
        self._pending += _line(entry)
        if len(self._pending) > BUFFER:
            if self._state is State.EARLY:
                self._begin()
            if self._state is State.WRITING:
                self._try(self._flush)

    def _try(self, act: Callable[[], None]) -> None:
        try:
            act()
        except OSError as fault:
            self._break(fault, told=False)

    def _break(self, fault: OSError, told: bool) -> None:
        if not told:
            message = f"the record '{self._parts.path.name}' has a gap: {fault.strerror or fault}"
            remedy = "make room, or name another place; it goes on by itself"
            self._findings.append(warning("R751", message, None, remedy))
        self._state, self._due = State.BROKEN, self._now + RETRY
        self._pending.clear()
        self._parts.drop()

    def _take_findings(self) -> list[Finding]:
        findings, self._findings = self._findings, []
        return findings


class _Said:
    """What the record says was shown last, so that only what moved is said next."""

    def __init__(self) -> None:
        self._look: tuple[str, str] | None = None
        self._raw: tuple[int, ...] = ()

    def news(self, screen: str, theme: str, raw: tuple[int, ...]) -> dict[str, Any] | None:
        """The entry for what is shown now, without its time; None where nothing has changed."""
        entry: dict[str, Any] | None
        if self._look != (screen, theme) or len(self._raw) != len(raw):
            entry = {"screen": screen, "theme": theme, "raw": list(raw)}
        else:
            pairs = enumerate(zip(self._raw, raw, strict=True))
            changes = {str(place): new for place, (old, new) in pairs if old != new}
            entry = {"moved": changes} if changes else None
        self._look, self._raw = (screen, theme), raw
        return entry


class _Parts:
    """The two files of a record: the part being written, and the one before. Every call may raise
    OSError; nothing waits for the disk but ``close`` and ``wait``."""

    def __init__(self, path: Path, limit: int) -> None:
        self.path = path
        self._limit = limit
        self._own = False
        self._file: FileIO | None = None
        self._written = 0
        self._disk = Behind()

    @property
    def full(self) -> bool:
        """Whether the next part is due."""
        return self._written >= self._limit

    def hold_something(self) -> bool:
        """Whether an earlier run left something that beginning would move aside."""
        return any(map(_holds_something, (self.path, before(self.path))))

    def open(self) -> int:
        """Opens the part at its end, the first time with what others left moved aside; its bytes."""
        if not self._own:
            for part in (self.path, before(self.path)):
                if _holds_something(part):
                    part.replace(part.with_name(part.name + ".old"))
                else:
                    part.unlink(missing_ok=True)
        # Unbuffered: after a failure nothing may be left that Python writes later.
        self._file = FileIO(self.path, "a", opener=_opened)
        self._own = True
        self._written = self._file.seek(0, 2)
        return self._written

    def write(self, data: bytes | bytearray) -> None:
        """Hands all of ``data`` to the system."""
        assert self._file is not None
        view = memoryview(bytes(data))
        while view:
            view = view[self._file.write(view) or 0 :]
        self._written += len(data)

    def sync(self) -> None:
        """Has the disk take what was written, in its own time; raises what the last time came to."""
        assert self._file is not None
        fault = self._disk.take_fault()
        if fault is not None:
            raise fault
        if not self._disk.busy:
            self._disk.begin(to_disk(self._file.fileno()))

    def turn_over(self) -> None:
        """Closes a full part and keeps it beside the next."""
        self.close()
        self.path.replace(before(self.path))

    def close(self) -> None:
        """Closes the part with the disk told to keep it."""
        assert self._file is not None
        if not self._disk.busy:
            self._disk.begin(to_disk(self._file.fileno()))
        self.drop()

    def drop(self) -> None:
        """Closes the file, whatever became of it."""
        file, self._file = self._file, None
        if file is not None:
            file.close()

    def wait(self) -> None:
        """Waits for the disk."""
        self._disk.wait()


def _held(path: Path) -> Hold:
    """The path, for this run alone, after a look whether it can be written."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        hold = Hold(path)
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
    return hold


def _line(entry: dict[str, Any]) -> bytes:
    # What is no letter at all becomes an escape that JSON knows.
    text = json.dumps(entry, ensure_ascii=False, separators=(",", ":"))
    return text.encode("utf-8", "backslashreplace") + b"\n"


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

    stamp: float | None = None
    """Its times count from the start of the run."""

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
