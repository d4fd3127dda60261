"""What can be played again: logs of frames or the record of a run, told by their content."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.diagnostics import DesignError, Finding, error, warning
from hmic.plain_files import open_plain
from hmic.runtime.decoding import Arrival
from hmic.runtime.recording import SUFFIX, Entry, RecordLog
from hmic.runtime.wiring import NONE, Wire, named, part_of, wires
from hmic.sources.frame import Frame
from hmic.sources.log import Log

if TYPE_CHECKING:
    from hmic.model.design import Design
    from hmic.runtime.sources import Frames

_RECORD = b'{"record":'
APART = 3600.0
"""Seconds between the first frames of two logs from which on they are of different drives or clocks."""


def open_replay(design: Design, given: Sequence[str]) -> PlayedLogs | RecordLog:
    """A record, or logs of which each brings a bus, as ``--replay`` says it: ``[BUS=]LOG[#CHANNEL]``. Raises
    DesignError: R701 to R704, R752, R763 to R767."""
    for text in given:
        path = Path(named(text)[1])
        if path.suffix == SUFFIX or _begins_as_record(path):
            if len(given) > 1:
                message = f"the record '{path.name}' holds all buses, and something is to be played beside it"
                raise DesignError([error("R767", message, None, "play it alone")])
            return RecordLog(path)
    return PlayedLogs(wires(design, given, "--replay"))


def _begins_as_record(path: Path) -> bool:
    try:
        with open_plain(path) as file:
            return file.read(len(_RECORD)) == _RECORD
    except (OSError, ValueError):
        # Opening it as a log says why.
        return False


class PlayedLogs:
    """The frames of logs with the bus that each is of, in the order of their times.

    Several are put together by their own stamps, where these can be of one clock; else they begin together,
    which is told (R769)."""

    def __init__(self, given: Sequence[Wire]) -> None:
        """Raises DesignError: R701 to R704, R765."""
        self._parts = _parts(given)
        self.name = " and ".join(part.log.name for part in self._parts) or NONE
        self._begin = _begin(self._parts)
        self._findings: list[Finding] = []
        if _apart(self._parts):
            message = f"the times of {self.name} are of different clocks or drives: they begin together"
            remedy = "play logs of one drive, written by one clock"
            self._findings.append(warning("R769", message, None, remedy))

    @property
    def stamp(self) -> float | None:
        """The stamp of the first frame in seconds, of logs that have times, and times of one clock."""
        if not self._parts or _apart(self._parts) or not all(part.log.timed for part in self._parts):
            return None
        return min(part.log.began for part in self._parts)

    @property
    def findings(self) -> Sequence[Finding]:
        """What was wrong with any of them so far, in the order in which it was found."""
        self._findings += [finding for part in self._parts for finding in part.take_findings()]
        return self._findings

    def __iter__(self) -> Iterator[Frame]:
        parts = [part.frames(begin) for part, begin in zip(self._parts, self._begin, strict=True)]
        return parts[0] if len(parts) == 1 else heapq.merge(*parts, key=lambda frame: frame.at)


class _Part:
    """A log and the bus that it brings: all of it, or each channel one."""

    def __init__(self, path: Path, buses: dict[str | None, str]) -> None:
        self.log = Log(path)
        self._buses = buses
        self._told = 0

    def frames(self, begin: float) -> Iterator[Frame]:
        """From ``begin`` on, in seconds. What is of no bus is left out."""
        whole = self._buses.get(None)
        channels = None if whole is not None else [each for each in self._buses if each is not None]
        for at, identifier, extended, data, channel in self.log.rows(channels):
            bus = self._buses[channel] if whole is None else whole
            yield Frame(begin + at, identifier, extended, data, channel, bus)

    def take_findings(self) -> list[Finding]:
        """What the log found since the last call."""
        new = self.log.findings[self._told :]
        self._told += len(new)
        return new


def _parts(given: Sequence[Wire]) -> list[_Part]:
    files: dict[Path, dict[str | None, str]] = {}
    for wire in given:
        path, channel = part_of(wire.what)
        buses = files.setdefault(path, {})
        if buses and (channel is None or None in buses or channel in buses):
            message = f"'{path.name}' is given twice to --replay"
            remedy = f"take a channel of it for each bus: --replay {wire.bus or 'BUS'}={path}#CHANNEL"
            raise DesignError([error("R765", message, None, remedy)])
        buses[channel] = wire.bus
    if len(files) > 1 and len(given) > len({wire.bus for wire in given}):
        message = f"{' and '.join(path.name for path in files)} are given for one bus"
        remedy = "name each bus in design.yaml (`buses:`), or play one log after the other"
        raise DesignError([error("R765", message, None, remedy)])
    return [_Part(path, buses) for path, buses in files.items()]


def _apart(parts: Sequence[_Part]) -> bool:
    began = [part.log.began for part in parts]
    return len(parts) > 1 and max(began) - min(began) > APART


def _begin(parts: Sequence[_Part]) -> list[float]:
    """When each of the logs begins, in seconds after the first."""
    if len(parts) < 2 or _apart(parts):
        return [0.0] * len(parts)
    first = min(part.log.began for part in parts)
    return [part.log.began - first for part in parts]


def entries_of(opened: PlayedLogs | RecordLog) -> Iterator[Entry]:
    """Everything that was recorded, in order: of logs their frames, of a record also what was shown."""
    return opened.entries() if isinstance(opened, RecordLog) else iter(opened)


class Repeated:
    """A log played again and again, a tenth of a second between its end and its start."""

    def __init__(self, opened: Callable[[], Frames]) -> None:
        """Raises what opening the log does."""
        self._opened = opened
        self._log = self._first = opened()
        self.name = self._log.name

    @property
    def findings(self) -> Sequence[Finding]:
        """Of the first round; the others find the same."""
        return self._first.findings

    def __iter__(self) -> Iterator[Frame | Arrival]:
        start = 0.0
        while True:
            last = 0.0
            for item in self._log:
                last = item.at
                yield item._replace(at=start + item.at)
            start += last + 0.1
            self._log = self._opened()
