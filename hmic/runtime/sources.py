"""Where arrivals come from: a log replayed by an explicit clock, or a live CAN channel."""

from __future__ import annotations

import select
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from hmic.diagnostics import Finding
from hmic.runtime.adapters import Adapter
from hmic.runtime.decoding import Arrival, Decoder
from hmic.runtime.listening import Listener, State
from hmic.runtime.obd import Asker
from hmic.runtime.vehicle_time import VehicleTime, host_seconds
from hmic.sources.frame import Frame
from hmic.sources.library import python_can

LIMIT = 500
"""Frames taken in one go, so that a flood never keeps the display waiting."""
TURN = 0.005
"""Seconds of a wait when what was to be waited on has gone."""


class Source(Protocol):
    """What the loop needs of a source. Times are host seconds."""

    @property
    def frames(self) -> int:
        """Frames and lines so far."""

    @property
    def ended(self) -> bool:
        """Nothing more will come."""

    def due(self, now: float) -> list[Arrival]:
        """What has come by ``now``, at most ``LIMIT`` frames of it."""

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Returns after ``seconds``, or as soon as something has come, here or (where the source can
        wait on it) at the display's descriptor."""

    def descriptor(self) -> int | None:
        """What can be waited on for this source; None for one that has a deadline, or brings no more."""

    @property
    def health(self) -> str:
        """How it does, in a word or two: ``up``, ``no answer``, ``ended`` ..."""

    @property
    def name(self) -> str:
        """What it is, for a person."""

    def next_deadline(self) -> float | None:
        """When ``due`` next has something, as far as that is known."""

    def take_findings(self) -> list[Finding]:
        """What went wrong since the last call."""

    def close(self) -> None:
        """Lets go of files and channels."""


class Frames(Protocol):
    """A log: its frames in order, and afterwards what was wrong with it."""

    @property
    def name(self) -> str:
        """The file's name."""

    @property
    def findings(self) -> Sequence[Finding]:
        """What could not be read so far; complete when the frames are at their end."""

    def __iter__(self) -> Iterator[Frame | Arrival]: ...


class Replay:
    """A log, played by the clock that it is given: vehicle time is the log's time."""

    def __init__(
        self,
        log: Frames,
        decoder: Decoder,
        vehicle_time: VehicleTime,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.frames = 0
        self._log = log
        self._source: Iterator[Frame | Arrival] = iter(log)
        self._decoder = decoder
        self._vehicle_time = vehicle_time
        self._sleep = sleep
        self._next = next(self._source, None)
        self._told = 0
        self._met_told = False

    @property
    def ended(self) -> bool:
        """Every frame has been given."""
        return self._next is None

    def due(self, now: float) -> list[Arrival]:
        """What the log holds up to ``now``; frames without a reading are counted, not given."""
        self._vehicle_time.start(now)
        fast = self._vehicle_time.rate is None
        until = self._vehicle_time.at(now)
        arrivals: list[Arrival] = []
        for _ in range(LIMIT):
            frame = self._next
            if frame is None or (not fast and frame.at > until):
                break
            self.frames += 1
            self._next = next(self._source, None)
            if isinstance(frame, Arrival):
                arrivals.append(frame)
                continue
            readings, whole = self._decoder.decoded(frame)
            if readings:
                arrivals.append(Arrival(frame.at, readings, whole))
            arrivals += self._decoder.refused(frame.at)
        return arrivals

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Waits on the display; a log brings nothing early."""
        rest(seconds, [descriptor], self._sleep)

    def descriptor(self) -> int | None:
        """None: a log has deadlines."""
        return None

    @property
    def health(self) -> str:
        """``up`` or ``ended``, and what cannot be decoded."""
        return _with("ended" if self.ended else "up", self._decoder.health())

    @property
    def name(self) -> str:
        """The log's name."""
        return self._log.name

    def next_deadline(self) -> float | None:
        """When the next frame is due."""
        if self._next is None:
            return None
        host = self._vehicle_time.host(self._next.at)
        return float("-inf") if host is None else host

    def take_findings(self) -> list[Finding]:
        """What the messages' checks found, and what is wrong with the log; at the end whether anything
        concerned the design."""
        new = self._log.findings[self._told :]
        self._told += len(new)
        findings = [*self._decoder.take_findings(), *new]
        if self.ended and not self._met_told:
            self._met_told = True
            findings += self._decoder.unmet(self._log.name)
        return findings

    def close(self) -> None:
        """Closes the log."""
        close = getattr(self._source, "close", None)
        if close is not None:
            close()


class LiveCan:
    """A CAN channel. A thread opens and reads it (``Listener``), so it never keeps the display waiting;
    frames carry the time at which they came.

    A channel that fails while running is opened again every second; meanwhile nothing arrives, so its values
    turn stale. It is told when it goes down, and once when it is back.
    """

    def __init__(
        self,
        adapter: Adapter,
        decoder: Decoder,
        vehicle_time: VehicleTime,
        clock: Callable[[], float] = host_seconds,
        asker: Asker | None = None,
        *,
        bus: str = "",
    ) -> None:
        """``bus`` is the bus of the design that the channel is on; ``asker`` asks for values by OBD on it.
        Nothing is opened before ``start``."""
        self.ended = False
        self.bus = bus
        self.name = adapter.name
        wanted = decoder.wanted(bus)
        if asker is not None:
            wanted = wanted.also(asker.heard)
        self.listener = Listener(adapter, wanted, clock)
        self._decoder = decoder
        self._vehicle_time = vehicle_time
        self._asker = asker
        self._channel = adapter.name

    @property
    def frames(self) -> int:
        """Frames heard."""
        return self.listener.frames

    def start(self) -> None:
        """Begins to open it, and to listen."""
        self.listener.start()

    def await_open(self, until: float) -> None:
        """Waits until it is open, or the clock says ``until``. Raises DesignError: R709."""
        self.listener.await_open(until)

    def due(self, now: float) -> list[Arrival]:
        """The frames that have come."""
        self._vehicle_time.start(now)
        arrivals: list[Arrival] = []
        for came, message in self.listener.take(LIMIT):
            at = self._vehicle_time.at(min(came, now))
            identifier, extended = message.arbitration_id, message.is_extended_id
            frame = Frame(at, identifier, extended, bytes(message.data), self._channel, self.bus)
            readings, whole = self._decoder.decoded(frame)
            if readings:
                arrivals.append(Arrival(at, readings, whole))
            # From now on, not from the frame on: the other bus may have brought a later one in this turn.
            arrivals += self._decoder.refused(self._vehicle_time.at(now))
            if self._asker is not None and (answer := self._asker.take(frame, now)):
                arrivals.append(Arrival(at, answer))
        if self._asker is not None and self.listener.open:
            for question in self._asker.outgoing(now):
                self.send(question)
        return arrivals

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Waits for a frame or the display."""
        rest(seconds, [descriptor, self.descriptor()], time.sleep)

    def send(self, frame: Frame) -> str | None:
        """Sends a frame; why it could not, or None."""
        message = python_can().Message(
            arbitration_id=frame.identifier, is_extended_id=frame.extended, data=frame.data
        )
        return self.listener.send(message)

    def descriptor(self) -> int | None:
        """Readable while frames wait."""
        return self.listener.descriptor()

    @property
    def health(self) -> str:
        """``up``, ``opening``, ``down``, what is wrong with its driver or controller, and what cannot be
        decoded."""
        return _with(self._state(), self._decoder.health(self.bus))

    def _state(self) -> str:
        if self.listener.state is not State.UP:
            return "opening" if self.listener.state is State.OPENING else "down"
        if self.listener.hangs:
            return "its driver hangs"
        if self.listener.controller != "active":
            return f"controller {self.listener.controller}"
        silence = "" if self._asker is None else self._asker.silence
        return f"up, {silence}" if silence else "up"

    def next_deadline(self) -> float | None:
        """When to ask by OBD; at once while frames wait."""
        if self.listener.waiting:
            return float("-inf")
        return None if self._asker is None else self._asker.next_deadline()

    def take_findings(self) -> list[Finding]:
        """What the channel and the messages' checks found since the last call."""
        findings = [*self.listener.take_findings(), *self._decoder.take_findings()]
        return findings if self._asker is None else [*findings, *self._asker.take_findings()]

    def close(self) -> None:
        """Closes the channel for good."""
        self.ended = True
        self.listener.close()


def _with(state: str, trouble: str) -> str:
    return f"{state} ({trouble})" if trouble else state


def rest(seconds: float, descriptors: Sequence[int | None], sleep: Callable[[float], None]) -> None:
    """Waits for ``seconds``, or until one of the descriptors has something to read."""
    known = [descriptor for descriptor in descriptors if descriptor is not None]
    if not known:
        sleep(seconds)
        return
    try:
        select.select(known, [], [], seconds)
    except (OSError, ValueError):
        # A port went while we waited; the next read says so.
        sleep(min(seconds, TURN))
