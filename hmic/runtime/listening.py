"""A CAN channel, opened and read in a thread of its own: whatever its driver does, the loop never waits.

Drivers of python-can sleep while they open, wait at every read whatever they are told, and hang when their
device goes. So the loop only takes what came (``take``), and closing waits for no driver.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from enum import Enum
from threading import Thread
from typing import Any

from hmic.diagnostics import DesignError, Finding, Severity, error, warning
from hmic.runtime.adapters import Adapter, skip_line
from hmic.runtime.behind import Behind
from hmic.runtime.driver_faults import from_the_system, reason, trouble
from hmic.runtime.inbox import Inbox
from hmic.runtime.rarely import Rarely
from hmic.runtime.vehicle_time import Arriving, host_seconds
from hmic.runtime.wanted import Wanted

PATIENCE = 0.05
"""Seconds that a read is told to wait for a frame."""
OPEN_WITHIN = 3.0
"""Seconds that the start of a run waits for a channel to open; ``slcan`` takes 2."""
REOPEN = 1.0
"""Seconds between two attempts to open a channel again."""
SETTLED = 3.0
"""Seconds without a failure after which a channel that failed works again."""
IN_A_ROW = 20
"""Reads that fail without a frame among them before the channel counts as gone."""
SLICE = 0.05
"""Seconds of rest between two looks at whether the run has ended."""
IMPATIENT = 0.005
"""Seconds between two reads of a driver that does not wait as it is told to."""
LOOK_EVERY = 1.0
"""Seconds between two looks at the controller, and at whether anything comes."""
HANGS = 1.0
"""Seconds after which a driver that has not come back from a read is said to hang."""
QUIET = 5.0
"""Seconds without a frame since the channel was opened after which that is told."""
SEND_WITHIN = 0.05
"""Seconds that a driver may wait for room to send."""
GIVE_UP = 0.2
"""Seconds after which a driver that still does not return from sending is left alone."""
CLOSE_WITHIN = 1.0
"""Seconds that the end of a run waits for a driver."""


class State(Enum):
    """What a channel is at: first opened, up, down until it is tried again, or opened anew but not proven:
    an interface that is down opens well, and fails as soon as it is read."""

    OPENING = "opening"
    UP = "up"
    DOWN = "down"
    ON_TRIAL = "on trial"
    CLOSED = "closed"


class Listener:
    """Opens a channel, reads it, and opens it again a second after it has failed.

    A frame that cannot be read costs itself alone. The channel is gone when the system says so, or when
    ``IN_A_ROW`` reads fail without a frame among them.

    Made and used by the loop; ``step`` is the thread's work, and tests may do it instead of ``start``.
    """

    def __init__(
        self, adapter: Adapter, wanted: Wanted, clock: Callable[[], float] = host_seconds
    ) -> None:
        """``wanted`` are the frames that are handed on; the others are only counted, in ``frames``."""
        self.state = State.OPENING
        self.frames = 0
        self.controller = "active"
        self._adapter = adapter
        self._wanted = wanted
        self._clock = clock
        self._inbox: Inbox[tuple[float, Any]] = Inbox()
        self._lost = Rarely()
        self._bad = Rarely()
        self._told: deque[Finding] = deque(adapter.notes())
        self._refused: DesignError | None = None
        self._thread: Thread | None = None
        self._ending = False
        self._bus: Any = None
        self._sending = Behind()
        # The thread's own.
        self._times = Arriving()
        self._emptied: Callable[[bool], bool] = bool
        self._patience = 0.0
        self._stepped = clock()
        self._opened = 0.0
        self._retry = float("-inf")
        self._next_look = 0.0
        self._quiet_told = False
        self._failures = 0
        self._spoiled: list[str] = []

    # For the loop

    def start(self) -> None:
        """From now on a thread does the work."""
        # A driver that hangs must not keep the process from ending.
        self._thread = Thread(target=self._run, name=f"can {self._adapter.channel}", daemon=True)
        self._thread.start()

    def await_open(self, until: float) -> None:
        """Waits until the channel is open, or the clock says ``until``. Raises DesignError: R709, when it
        cannot be opened."""
        while self.state is State.OPENING and self._clock() < until:
            time.sleep(0.01)
        if self._refused is not None:
            raise self._refused
        if self.state is State.OPENING:
            message = f"{self._name} has not opened within {OPEN_WITHIN:g} s"
            remedy = "its values show as stale until it has; check the adapter if that does not come"
            self._told.append(warning("R724", message, None, remedy))

    def take(self, most: int) -> list[tuple[float, Any]]:
        """Frames with the host's time at which they came, in the order in which they did."""
        return self._inbox.take(most)

    @property
    def open(self) -> bool:
        """Whether it can be read and sent on, as far as known."""
        return self._bus is not None

    @property
    def idle(self) -> bool:
        """Whether the read before found nothing."""
        return self._bus is None or self._patience > 0.0

    @property
    def waiting(self) -> bool:
        """Whether there are frames to take."""
        return len(self._inbox) > 0

    def descriptor(self) -> int | None:
        """What can be waited on for frames."""
        return self._inbox.descriptor()

    @property
    def hangs(self) -> bool:
        """Whether the driver has not come back for long."""
        return self._clock() - self._stepped > HANGS

    def take_findings(self) -> list[Finding]:
        """What a person should know since the last call."""
        told = [self._told.popleft() for _ in range(len(self._told))]
        lost = self._inbox.lost
        if self._lost.due(lost):
            message = f"{lost} frames of {self._name} were left out: more came than could be used"
            remedy = "the newest count; give the computer less to do beside, or the bus fewer frames"
            told.append(warning("R725", message, None, remedy))
        return told

    def send(self, message: Any) -> str | None:
        """Sends a python-can message; why it could not be sent, or None."""
        bus, sending = self._bus, self._sending
        if bus is None:
            return f"{self._name} is down"
        if sending.busy:
            return f"{self._name} has not taken the frame before"
        failed: list[str] = []

        def work() -> None:
            try:
                bus.send(message, timeout=SEND_WITHIN)
            except Exception as fault:
                # What a driver raises is its own affair.
                failed.append(reason(fault))

        sending.begin(work)
        sending.wait(GIVE_UP)
        if sending.busy:
            return f"{self._name} does not take it"
        return failed[0] if failed else None

    def close(self) -> None:
        """Lets go of the channel; a driver that hangs is left behind."""
        self._ending = True
        if self._thread is None:
            self._end()
        else:
            self._thread.join(CLOSE_WITHIN)
        self._inbox.close()

    # The thread's work

    def _run(self) -> None:
        while not self._ending:
            seconds = self.step()
            if seconds > 0.0:
                time.sleep(min(seconds, SLICE))
        self._end()

    def step(self) -> float:
        """Opens the channel, or reads it once; the seconds after which there is something to do again."""
        now = self._stepped = self._clock()
        if self._bus is not None:
            return self._read(self._bus, now)
        if now < self._retry:
            return self._retry - now
        self._open(now)
        return 0.0

    @property
    def _name(self) -> str:
        return f"CAN channel '{self._adapter.name}'"

    def _open(self, begun: float) -> None:
        try:
            bus = self._adapter.open(self._wanted)
            self._emptied = self._adapter.emptiness(bus)
        except Exception as fault:
            self._refuse(fault)
            return
        self._times = Arriving()
        # What waits in it may have come since.
        self._times.looked(begun)
        self._sending = Behind()
        self._opened = self._next_look = self._clock()
        self._failures, self._patience = 0, 0.0
        self._spoiled.clear()
        self._bus = bus
        self.state = State.UP if self.state is State.OPENING else State.ON_TRIAL

    def _refuse(self, fault: Exception) -> None:
        if self.state is State.OPENING:
            why, remedy = trouble(self._adapter, fault)
            message = f"{self._name} ({self._adapter.interface}) cannot be opened: {why}"
            self._refused = DesignError([error("R709", message, None, remedy)])
            self._told.append(warning("R710", message, None, remedy))
        self.state = State.DOWN
        self._retry = self._clock() + REOPEN

    def _read(self, bus: Any, begun: float) -> float:
        """``begun`` is when nothing had been read yet that this read may find."""
        patience = self._patience
        try:
            message = bus.recv(patience)
            now = self._clock()
            if message is not None:
                self._hear(message, now)
            if self._emptied(message is None):
                # The process may stand still at any place: so not later than it was so.
                self._times.emptied(begun if message is None else now)
        except Exception as fault:
            # What a driver raises when its device goes, or hands over, is its own affair.
            self._fail(bus, fault)
            return 0.0
        self._patience = PATIENCE if message is None else 0.0
        if self._spoiled:
            self._tell_spoiled()
        self._look(bus, now)
        idle = message is None and patience > 0.0 and now - begun < patience / 2
        return IMPATIENT if idle else 0.0

    def _hear(self, message: Any, now: float) -> None:
        there = message.timestamp
        came = self._times.stamped(there, now) if there else self._times.plain(now)
        if message.is_remote_frame or message.is_error_frame:
            return
        if message.dlc != len(message.data):
            raise ValueError(f"a frame says {message.dlc} bytes and has {len(message.data)}")
        self.frames += 1
        self._failures = 0
        self._works_again()
        if (message.arbitration_id, message.is_extended_id) in self._wanted:
            self._inbox.put((came, message))

    def _look(self, bus: Any, now: float) -> None:
        """Now and then: whether a channel has proven itself, and what its controller says."""
        if now >= self._opened + SETTLED and not self._failures:
            self._works_again()
        if now < self._next_look:
            return
        self._next_look = now + LOOK_EVERY
        self.controller = self._adapter.controller(bus)
        if not self.frames and now >= self._opened + QUIET and not self._quiet_told:
            self._quiet_told = True
            message = f"{self._name} has brought nothing for {QUIET:g} s"
            remedy = (
                "check that the vehicle is awake, the wiring and the bit rate; without --allow-outputs "
                "nothing is acknowledged, so from a single controller on a bench no frame gets through"
            )
            self._told.append(Finding("R727", Severity.NOTE, message, remedy=remedy))

    def _works_again(self) -> None:
        if self.state is State.ON_TRIAL:
            self.state = State.UP
            self._told.append(Finding("R715", Severity.NOTE, f"{self._name} works again"))

    def _fail(self, bus: Any, fault: Exception) -> None:
        """A read has raised: a frame was spoiled, or the channel is gone, as shows by what follows."""
        self._failures += 1
        if self._failures < IN_A_ROW and not from_the_system(fault):
            self._patience = 0.0
            self._spoiled.append(reason(fault))
            try:
                skip_line(bus)
                return
            except Exception as gone:
                fault = gone
        self._lose(fault)

    def _tell_spoiled(self) -> None:
        """Frames could not be read, and the channel is still there."""
        if self._bad.due(self._bad.total + len(self._spoiled)):
            frames = "a frame" if self._bad.total == 1 else f"{self._bad.total} frames"
            message = f"{frames} of {self._name} could not be read: {self._spoiled[-1]}"
            remedy = "each costs itself alone; check the adapter's cable and its rate if there are many"
            self._told.append(warning("R720", message, None, remedy))
        self._spoiled.clear()

    def _lose(self, fault: Exception) -> None:
        if self.state is State.UP:
            message = f"{self._name} failed: {reason(fault)}"
            self._told.append(warning("R710", message, None, "it is opened again every second"))
        self.state = State.DOWN
        self._shut()
        self._retry = self._clock() + REOPEN

    def _shut(self) -> None:
        bus, self._bus = self._bus, None
        if bus is not None:
            try:
                bus.shutdown()
            except Exception:
                # A driver that is gone cannot be closed properly; there is nothing left to do.
                return

    def _end(self) -> None:
        self._shut()
        self.state = State.CLOSED
