"""Where arrivals come from: a log replayed by an explicit clock, or a live CAN channel."""

from __future__ import annotations

import select
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Protocol

from hmic.diagnostics import DesignError, Finding, Severity, error, warning
from hmic.runtime.clock import Arriving, VehicleTime, host_seconds
from hmic.runtime.decoding import Arrival, Decoder, Frame
from hmic.runtime.obd import Asker
from hmic.runtime.replays import of_no_message
from hmic.sources.library import python_can

LIMIT = 500
"""Frames taken in one go, so that a flood never keeps the display waiting."""
REOPEN = 1.0
"""Seconds between two attempts to open a CAN channel again."""

SETTLED = 3.0
"""Seconds without a failure after which a channel that failed works again."""

SEND_WITHIN = 0.05
"""Seconds that a frame may wait for room to be sent."""

TURN = 0.005
"""Seconds that a wait for a frame may keep the display waiting."""


class Source(Protocol):
    """What the loop needs of a source. Times are host seconds."""

    frames: int

    @property
    def ended(self) -> bool:
        """Nothing more will come."""

    def due(self, now: float) -> list[Arrival]:
        """What has come by ``now``, at most ``LIMIT`` frames of it."""

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Returns after ``seconds``, or as soon as something has come, here or (where the source can
        wait on it) at the display's descriptor."""

    def descriptor(self) -> int | None:
        """What can be waited on for this source; None for one that must be looked at, or has a
        deadline."""

    @property
    def polled(self) -> bool:
        """It brings things unannounced and has no descriptor: it must be looked at."""

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
        self._from_bus = 0

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
            self._from_bus += 1
            readings = self._decoder.readings(frame)
            if readings:
                arrivals.append(Arrival(frame.at, readings, frame))
            arrivals += self._decoder.refused(frame.at)
        return arrivals

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Waits on the display; a log brings nothing early."""
        rest(seconds, [descriptor], self._sleep)

    def descriptor(self) -> int | None:
        """None: a log has deadlines."""
        return None

    polled = False

    @property
    def health(self) -> str:
        """``up`` or ``ended``, and what cannot be decoded."""
        return _with("ended" if self.ended else "up", self._decoder.health)

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
        if self.ended:
            findings += of_no_message(self._decoder, self._from_bus, self._log.name)
            self._from_bus = 0
        return findings

    def close(self) -> None:
        """Closes the log."""
        close = getattr(self._source, "close", None)
        if close is not None:
            close()


class LiveCan:
    """A CAN channel through python-can. Frames are timed by the bus's clock, mapped to the host's: what
    waited in a queue while the loop was held up is as old as it is, or, where the bus does not say, as it
    may be (``Arriving``).

    A channel that fails while running is closed and opened again every second; meanwhile nothing
    arrives, so its values turn stale. It is told when it goes down, and once when it is back.
    """

    def __init__(
        self,
        channel: str,
        interface: str,
        decoder: Decoder,
        vehicle_time: VehicleTime,
        clock: Callable[[], float] = host_seconds,
        asker: Asker | None = None,
    ) -> None:
        """``asker`` asks for values by OBD on this channel. Raises DesignError: R709."""
        self.frames = 0
        self.ended = False
        self._channel = channel
        self._interface = interface
        self._decoder = decoder
        self._vehicle_time = vehicle_time
        self._clock = clock
        self._asker = asker
        self._early: Any = None
        self._findings: list[Finding] = []
        self._retry = 0.0
        self._down = False
        self._opened = float("-inf")
        self._times = Arriving()
        self._bus: Any = self._open()

    def due(self, now: float) -> list[Arrival]:
        """The frames that have come."""
        self._vehicle_time.start(now)
        self._times.looked(now)
        if self._bus is None and not self.ended and now >= self._retry:
            self._reopen(now)
        arrivals: list[Arrival] = []
        for _ in range(LIMIT):
            message = self._early if self._early is not None else self._receive(0.0)
            self._early = None
            if message is None:
                self._times.emptied(now)
                break
            there = message.timestamp
            came = self._times.stamped(there, now) if there else self._times.plain(now)
            if message.is_remote_frame or message.is_error_frame:
                continue
            self.frames += 1
            self._back(now, True)
            at = self._vehicle_time.at(came)
            identifier, extended = message.arbitration_id, message.is_extended_id
            frame = Frame(at, identifier, extended, bytes(message.data), self._channel)
            readings = self._decoder.readings(frame)
            if readings:
                arrivals.append(Arrival(at, readings, frame))
            # From now on, not from the frame on: the other bus may have brought a later one in this turn.
            arrivals += self._decoder.refused(self._vehicle_time.at(now))
            if self._asker is not None and (answer := self._asker.take(frame, now)):
                arrivals.append(Arrival(at, answer))
        self._back(now, False)
        if self._asker is not None and self._bus is not None:
            for question in self._asker.outgoing(now):
                self.send(question)
        return arrivals

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Waits for a frame; at most ``TURN``, since few drivers let one wait on two things."""
        own = self.descriptor()
        if self._bus is None or own is not None:
            rest(seconds, [descriptor, own], time.sleep)
        elif self._early is None:
            self._early = self._receive(min(seconds, TURN))

    def send(self, frame: Frame) -> str | None:
        """Sends a frame; why it could not, or None."""
        if self._bus is None:
            return f"CAN channel '{self._channel}' is down"
        message = python_can().Message(
            arbitration_id=frame.identifier, is_extended_id=frame.extended, data=frame.data
        )
        try:
            self._bus.send(message, timeout=SEND_WITHIN)
        except Exception as fault:
            # As in _open: what a driver raises is its own affair.
            return " ".join(str(fault).split()) or type(fault).__name__
        return None

    def descriptor(self) -> int | None:
        """The socket of an interface that has one."""
        try:
            number = int(self._bus.fileno()) if self._bus is not None else -1
        except Exception:
            # Most interfaces have none, and say so by raising.
            return None
        return number if number >= 0 else None

    @property
    def polled(self) -> bool:
        """Whether the interface has no socket."""
        return self._bus is not None and self.descriptor() is None

    @property
    def health(self) -> str:
        """``up``, ``down``, or the state that the controller reports, and what cannot be decoded."""
        return _with(self._state(), self._decoder.health)

    def _state(self) -> str:
        if self._bus is None or self._down:
            return "down"
        try:
            state = self._bus.state.name.lower()
        except Exception:
            # Few interfaces know their controller's state.
            state = "active"
        if state != "active":
            return f"controller {state}"
        return "up" if self._asker is None or self._asker.answered else "up, nobody answers OBD"

    @property
    def name(self) -> str:
        """The channel."""
        return self._channel

    def next_deadline(self) -> float | None:
        """When to try the channel again, or to ask by OBD; a frame's time is not known ahead."""
        if self._bus is None:
            return self._retry
        return None if self._asker is None else self._asker.next_deadline()

    def take_findings(self) -> list[Finding]:
        """Failures of the channel, and what the messages' checks found, since the last call."""
        findings, self._findings = [*self._findings, *self._decoder.take_findings()], []
        return findings if self._asker is None else [*findings, *self._asker.take_findings()]

    def close(self) -> None:
        """Closes the channel for good."""
        self.ended = True
        self._shut()

    def _shut(self) -> None:
        bus, self._bus = self._bus, None
        if bus is not None:
            try:
                bus.shutdown()
            except Exception:
                # A driver that is gone cannot be closed properly; there is nothing left to do.
                return

    def _open(self) -> Any:
        try:
            return python_can().Bus(channel=self._channel, interface=self._interface)
        except Exception as fault:
            # Interfaces raise CanError, OSError, ImportError, ValueError and what their drivers raise.
            reason = " ".join(str(fault).split()) or type(fault).__name__
            message = f"CAN channel '{self._channel}' ({self._interface}) cannot be opened: {reason}"
            remedy = (
                "check that the interface is plugged in and up, and the names given to --can, --interface"
            )
            raise DesignError([error("R709", message, None, remedy)]) from fault

    def _back(self, now: float, heard: bool) -> None:
        """Tells that the channel works again: a frame has come, or it has not failed for a while. An
        interface that is down opens well, and fails as soon as it is read."""
        if self._down and self._bus is not None and (heard or now >= self._opened + SETTLED):
            self._down = False
            message = f"CAN channel '{self._channel}' works again"
            self._findings.append(Finding("R715", Severity.NOTE, message))

    def _reopen(self, now: float) -> None:
        self._opened = now
        try:
            self._bus = self._open()
            # Another adapter may have come, with a clock of its own.
            self._times = Arriving()
            self._times.looked(now)
        except DesignError:
            self._retry = now + REOPEN

    def _receive(self, seconds: float) -> Any:
        if self._bus is None:
            return None
        try:
            return self._bus.recv(max(0.0, seconds))
        except Exception as fault:
            # As in _open: what a driver raises when its device goes is its own affair.
            reason = " ".join(str(fault).split()) or type(fault).__name__
            message = f"CAN channel '{self._channel}' failed: {reason}"
            if not self._down:
                self._findings.append(warning("R710", message, None, "it is opened again every second"))
            self._down = True
            self._shut()
            self._retry = self._clock() + REOPEN
            return None


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
