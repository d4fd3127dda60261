"""Values from other programs, a line of JSON each; see PIPE.md beside this file."""

from __future__ import annotations

import json
import math
import os
import re
import select
import stat
import sys
import time
from collections import deque
from collections.abc import Mapping
from contextlib import suppress
from heapq import heappop, heappush
from pathlib import Path
from typing import Any

from hmic.diagnostics import DesignError, Finding, closest, error, warning
from hmic.model.design import SignalDefinition
from hmic.model.expressions import Doubt, Scalar, ValueKind
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.sources import LIMIT, rest
from hmic.runtime.vehicle_time import Arriving, VehicleTime

LONGEST_LINE = 256 * 1024
"""Bytes of a line that are read; a longer one is dropped whole."""
LONGEST_TEXT = 1000
"""Letters of a text that are kept."""
CHUNK = 64 * 1024
WAITING = 5000
"""Lines that wait for their times at most; no more is read meanwhile."""
AHEAD = 3600.0
"""Seconds that a line may be later than now, or than the line before it: more is a time of another clock."""

_ELEMENT = re.compile(r"(.+)\[([1-9][0-9]{0,3})\]")


class Lines:
    """Cuts bytes into lines, however they arrive."""

    def __init__(self) -> None:
        self.dropped = 0
        self._held = b""
        self._dropping = False

    def feed(self, data: bytes) -> list[bytes]:
        """The lines that are whole now, without their ends."""
        *lines, rest_of_line = (self._held + data).split(b"\n")
        if self._dropping and lines:
            lines = lines[1:]
            self._dropping = False
        if len(rest_of_line) > LONGEST_LINE or self._dropping:
            if not self._dropping:
                self.dropped += 1
            self._dropping, rest_of_line = True, b""
        self._held = rest_of_line
        return [line for line in lines if line.strip()]

    def rest(self) -> list[bytes]:
        """A last line without an end."""
        held, self._held = self._held, b""
        return [held] if held.strip() and not self._dropping else []


def read_line(
    line: bytes, signals: Mapping[str, SignalDefinition]
) -> tuple[float | None, list[Reading]] | str:
    """The time that a line says, if any, and its readings; a string says what is wrong with it."""
    try:
        said = json.loads(line)
    except (ValueError, RecursionError):
        return "it is no JSON"
    if not isinstance(said, dict):
        return 'it is no object, such as {"house.water": 45}'
    at = said.pop("t", None)
    # Compared before it is converted: a whole number of 400 digits is none that a float can hold.
    if at is not None and (isinstance(at, bool) or not isinstance(at, int | float) or not -1e12 < at < 1e12):
        return "its time 't' is no number of seconds"
    readings: list[Reading] = []
    for name, value in said.items():
        problem = _read(name, value, signals, readings)
        if problem is not None:
            return problem
    return (None if at is None else float(at)), readings


def _read(
    name: str, value: Any, signals: Mapping[str, SignalDefinition], readings: list[Reading]
) -> str | None:
    element = None
    found = _ELEMENT.fullmatch(name)
    if found is not None:
        name, element = found[1], int(found[2]) - 1
    definition = signals.get(name)
    if definition is None or definition.derived is not None:
        near = closest(name, signals)
        return f"there is no signal '{name}' to set" + (f"; did you mean '{near}'?" if near else "")
    if definition.count is None:
        if element is not None:
            return f"'{name}' is a single value"
        readings.append(Reading(name, None, _value(definition, value)))
        return None
    if element is not None:
        if element >= definition.count:
            return f"'{name}' has {definition.count} elements"
        readings.append(Reading(name, element, _value(definition, value)))
        return None
    if not isinstance(value, list) or len(value) > definition.count:
        return f"'{name}' is a list of at most {definition.count} values"
    padded = [*value, *[None] * (definition.count - len(value))]
    readings.extend(Reading(name, at, _value(definition, item)) for at, item in enumerate(padded))
    return None


def _value(definition: SignalDefinition, value: Any) -> Scalar | Doubt:
    if value is None:
        return Doubt.UNSEEN
    if definition.kind == ValueKind.NUMBER:
        fits = isinstance(value, int | float) and not isinstance(value, bool)
        if not fits or abs(value) > 1e300 or not math.isfinite(value):
            return Doubt.OUT_OF_RANGE
        return float(value)
    if definition.kind == ValueKind.FLAG:
        return value if isinstance(value, bool) else Doubt.OUT_OF_RANGE
    if not isinstance(value, str):
        return Doubt.OUT_OF_RANGE
    if definition.kind == ValueKind.WORD and value not in definition.words.values():
        return Doubt.OUT_OF_RANGE
    return printable(value[:LONGEST_TEXT])


def printable(text: str) -> str:
    """A text with a space for what is no letter, such as an end of line or half of a pair (a lone
    surrogate, which JSON can say and no file can hold)."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


class Pipe:
    """Lines from a file, a named pipe or standard input (``-``).

    A line with a time waits for it (vehicle seconds); one without counts as it comes, or, where the loop
    stood still, as old as that may have made it. A named pipe
    whose writer goes stays open for the next; a file is read to its end, once.
    """

    def __init__(self, path: str, signals: Mapping[str, SignalDefinition], vehicle_time: VehicleTime) -> None:
        """Raises DesignError: R741."""
        self.frames = 0
        self.ended = False
        self.bad = 0
        self.name = "standard input" if path == "-" else Path(path).name
        self._path = path
        self._signals = signals
        self._vehicle_time = vehicle_time
        self._lines = Lines()
        # With the vehicle's time at which they came.
        self._come: deque[tuple[float, list[Reading]]] = deque()
        # By time, and as they came where that is the same.
        self._waiting: list[tuple[float, int, list[Reading]]] = []
        self._latest = float("-inf")
        self._findings: list[Finding] = []
        self._finished = False
        self._times = Arriving()
        self._descriptor = self._open()
        # A plain file lies ready: none of it has waited.
        self._waits = not stat.S_ISREG(os.fstat(self._descriptor).st_mode)

    def _open(self) -> int:
        try:
            if self._path == "-":
                if sys.stdin is None:
                    # Closed at the start; what has number 0 by now is another file.
                    raise OSError("it is closed")
                return _standard_input()
            mode = Path(self._path).stat().st_mode
            if stat.S_ISDIR(mode):
                raise OSError("it is a folder")
            # A named pipe opened for writing too never ends when its writer goes.
            flags = os.O_RDWR if stat.S_ISFIFO(mode) else os.O_RDONLY
            return os.open(self._path, flags | os.O_NONBLOCK)
        except (OSError, ValueError) as fault:
            where = self.name if self._path == "-" else f"the pipe '{self._path}'"
            message = f"{where} cannot be opened: {getattr(fault, 'strerror', None) or fault}"
            remedy = "make it with mkfifo, or name a file of lines, or - for standard input"
            raise DesignError([error("R741", message, None, remedy)]) from fault

    def due(self, now: float) -> list[Arrival]:
        """What the lines say up to ``now``."""
        self._vehicle_time.start(now)
        self._times.looked(now)
        at = self._vehicle_time.at(now)
        self._take_in(now)
        until = at if self._vehicle_time.rate is not None else float("inf")
        arrivals: list[Arrival] = []
        while self._waiting and self._waiting[0][0] <= until and len(arrivals) < LIMIT:
            said, _, readings = heappop(self._waiting)
            arrivals.append(Arrival(said, tuple(readings)))
        while self._come and len(arrivals) < LIMIT:
            came, readings = self._come.popleft()
            arrivals.append(Arrival(came, tuple(readings)))
        self.ended = self._finished and not self._waiting and not self._come
        return arrivals

    @property
    def _full(self) -> bool:
        return len(self._come) > LIMIT or len(self._waiting) > WAITING

    def _take_in(self, now: float) -> None:
        if self._finished or self._full:
            return
        try:
            # Looked at first, not set to return at once: that would be so for whoever shares the file,
            # standard input with the terminal that standard output writes to.
            if not select.select([self._descriptor], [], [], 0.0)[0]:
                self._times.emptied(now)
                return
            data = os.read(self._descriptor, CHUNK)
        except BlockingIOError:
            self._times.emptied(now)
            return
        except OSError as fault:
            self._finish(f"'{self.name}' failed: {fault.strerror or fault}")
            return
        dropped = self._lines.dropped
        lines = self._lines.feed(data) if data else self._lines.rest()
        if self._lines.dropped > dropped:
            self._complain(f"it is longer than {LONGEST_LINE // 1024} KB", data)
        if not data:
            self._finish(None)
        for line in lines:
            self.frames += 1
            said = read_line(line, self._signals)
            if isinstance(said, str):
                self._complain(said, line)
            else:
                self._sort_in(*said, line, now)
        if len(data) < CHUNK:
            self._times.emptied(now)

    def _sort_in(self, said: float | None, readings: list[Reading], line: bytes, now: float) -> None:
        at = self._vehicle_time.at(now)
        if said is None:
            came = self._times.plain(now) if self._waits else now
            self._come.append((self._vehicle_time.at(came), readings))
        elif said > max(at, self._latest) + AHEAD:
            self._complain(f"its time 't' is more than {AHEAD / 3600:g} h ahead of the run's", line)
        else:
            said = max(0.0, said)
            self._latest = max(self._latest, said)
            heappush(self._waiting, (said, self.frames, readings))

    def _finish(self, problem: str | None) -> None:
        self._finished = True
        if problem is not None:
            self._findings.append(warning("R742", problem, None, "start the program that feeds it again"))

    def _complain(self, problem: str, line: bytes) -> None:
        self.bad += 1
        # The first, and then ever more rarely: a feeder that is wrong is wrong in every line.
        if self.bad & (self.bad - 1) == 0:
            shown = line[:60].decode("utf-8", "replace")
            times = "" if self.bad == 1 else f" ({self.bad} lines so far)"
            message = printable(f"a line of '{self.name}' is left out{times}: {problem}: {shown}")
            self._findings.append(warning("R740", message, None, "see hmic/runtime/PIPE.md for its form"))

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Waits for a line or the display."""
        rest(seconds, [descriptor, self.descriptor()], time.sleep)

    def descriptor(self) -> int | None:
        """The pipe's, while more may come; a plain file is always ready and read as it goes."""
        return None if self._finished or self._full else self._descriptor

    @property
    def health(self) -> str:
        """``up``, ``ended``, and how many lines could not be used."""
        state = "ended" if self._finished else "up"
        return state if not self.bad else f"{state}, {self.bad} bad lines"

    def next_deadline(self) -> float | None:
        """When the next line with a time is due."""
        if self._come:
            return float("-inf")
        if not self._waiting:
            return None
        host = self._vehicle_time.host(self._waiting[0][0])
        return float("-inf") if host is None else host

    def take_findings(self) -> list[Finding]:
        """What could not be read since the last call."""
        findings, self._findings = self._findings, []
        return findings

    def close(self) -> None:
        """Closes the pipe."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1
        self._finished = True


def _standard_input() -> int:
    """Standard input, opened for ourselves where that can be, so that a read never waits: another program may
    take what was there when we looked. Raises OSError."""
    mode = os.fstat(0).st_mode
    if stat.S_ISFIFO(mode) or stat.S_ISCHR(mode):
        with suppress(OSError):
            return os.open("/dev/fd/0", os.O_RDONLY | os.O_NONBLOCK | os.O_NOCTTY)
    return os.dup(0)


class PipeOut:
    """Requests to another program, a line of JSON each: ``{"ask": "media.title", "value": 3}``."""

    def __init__(self, path: str) -> None:
        self._path = path

    def send(self, name: str, value: Scalar) -> str | None:
        """Writes one request; why it could not be written, or None."""
        line = json.dumps({"ask": name, "value": value}, ensure_ascii=False) + "\n"
        if self._path == "-":
            try:
                os.write(1, line.encode())
            except OSError as fault:
                return f"standard output: {fault.strerror or fault}"
            return None
        try:
            # Without a reader a named pipe refuses to open: nobody would do what was asked.
            flags = os.O_WRONLY | os.O_NONBLOCK | os.O_APPEND | os.O_CREAT
            descriptor = os.open(self._path, flags, 0o644)
        except OSError as fault:
            return f"nobody reads '{self._path}': {fault.strerror or fault}"
        try:
            written = os.write(descriptor, line.encode())
        except OSError as fault:
            return f"'{self._path}': {fault.strerror or fault}"
        finally:
            os.close(descriptor)
        return None if written == len(line.encode()) else f"'{self._path}' is full"
