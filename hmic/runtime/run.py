"""The loop around the core: a line to the display, sources, and the real clock."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from hmic.diagnostics import Finding, Severity, warning
from hmic.link.any_link import Link
from hmic.link.line import Line
from hmic.runtime.requests import RequestMade
from hmic.runtime.runtime import LinkChanged, Problem, Runtime, RuntimeEvent
from hmic.runtime.sources import Source, rest
from hmic.runtime.vehicle_time import Steady, host_seconds

SHORTEST = 0.0005
"""Seconds at least between two turns that only the core asks for."""
IDLE = 0.25
"""Seconds at most between two turns."""
SILENT = 5.0
"""Seconds without an answer from any display after which a person is told."""
KEPT = 20
"""Findings of a code that a run keeps; of more it keeps the count."""
LINGER = 0.3
"""Seconds that the loop goes on after the sources' end, so that the last values are on the line."""


@dataclass(frozen=True)
class Status:
    """The last second: frames in, updates and bytes out, each a second. ``link`` is ``no port``,
    ``silent`` or ``up``; ``stale`` counts values that are too old."""

    frames: float
    updates: float
    bytes_out: float
    link: str
    screen: str
    stale: int


@dataclass(frozen=True)
class Summary:
    """A whole run: totals, what was found on the way (of each code the first ``KEPT``; ``counts`` has how
    many there were), and whether a display ever ``answered``."""

    frames: int
    updates: int
    bytes_out: int
    findings: tuple[Finding, ...]
    counts: Mapping[str, int] = field(default_factory=dict)
    answered: bool = True


class Attendant(Protocol):
    """Something that a run does beside its work: keep, record, tell. Times are host seconds; it may
    look at the clock as it is told, never wait."""

    def turn(self, now: float) -> list[Finding]:
        """Called in every turn of the loop, four times a second at least; what a person should know."""

    def close(self) -> list[Finding]:
        """The run ends."""


class Loop:
    """One run. ``turn`` does what is due and says how long nothing more is, in seconds."""

    def __init__(
        self,
        runtime: Runtime,
        open_line: Callable[[], Link],
        sources: Sequence[Source],
        on_event: Callable[[RuntimeEvent], None] | None = None,
        on_status: Callable[[Status], None] | None = None,
        *,
        await_display: bool = False,
        time_of_day: Callable[[], float] | None = None,
        send: Callable[[RequestMade], str | None] | None = None,
        attendants: Sequence[Attendant] = (),
    ) -> None:
        """Opens the line; raises what ``open_line`` raises. See ``run``."""
        self.runtime = runtime
        self.ended = False
        self._sources = tuple(sources)
        self._on_event = on_event
        self._on_status = on_status
        self._held = await_display
        self._time_of_day = time_of_day
        self._send = send
        self._attendants = tuple(attendants)
        self._minute: float | None = None
        self._line = Line(open_line)
        self._bytes_out = 0
        self._findings: list[Finding] = []
        self._counts: dict[str, int] = {}
        self._answered = False
        self._silent_at: float | None = None
        self._end_at: float | None = None
        self._told_at: float | None = None
        self._told = (0, 0, 0)

    def turn(self, now: float) -> float:
        """One turn at ``now``; ``ended`` is true when there is nothing left to do."""
        if not self._held:
            self._take_in(now)
        self._keep_time(now)
        self._exchange(now)
        self._hand_on(now)
        self._tell(now)
        self._miss(now)
        for attendant in self._attendants:
            for finding in attendant.turn(now):
                self._report(Problem(finding))
        self._look_for_end(now)
        return max(0.0, self._next_turn(now) - now)

    def wait(self, seconds: float) -> None:
        """Waits for ``seconds``, or until something has come from the display or a source."""
        descriptor = self._line.descriptor()
        if len(self._sources) == 1 and not self._held:
            self._sources[0].wait(seconds, descriptor)
            return
        descriptors = [descriptor]
        if not self._held:
            descriptors += [source.descriptor() for source in self._sources]
        rest(seconds, descriptors, time.sleep)

    def summary(self) -> Summary:
        """The totals so far."""
        frames = sum(source.frames for source in self._sources)
        found = tuple(self._findings), dict(self._counts)
        return Summary(frames, self.runtime.updates, self._bytes_out, *found, self._answered)

    def close(self) -> None:
        """Lets go of the line and the sources."""
        self._line.close()
        for source in self._sources:
            source.close()
        for attendant in self._attendants:
            for finding in attendant.close():
                self._report(Problem(finding))

    def _next_turn(self, now: float) -> float:
        times = [now + IDLE] if self._end_at is None else [now + IDLE, self._end_at]
        look = self._line.next_look(now)
        if look is not None:
            times.append(look)
        deadline = self.runtime.next_deadline()
        if deadline is not None and self._line.is_open and not self._line.unsent:
            times.append(max(deadline, now + SHORTEST))
        if not self._held:
            times += [due for source in self._sources if (due := source.next_deadline()) is not None]
        return min(times)

    def _take_in(self, now: float) -> None:
        arrivals = [arrival for source in self._sources for arrival in source.due(now)]
        # What one source held back is not later than what another brings now.
        for arrival in sorted(arrivals, key=lambda each: each.at) if len(self._sources) > 1 else arrivals:
            self.runtime.feed(arrival, now)
        for source in self._sources:
            for finding in source.take_findings():
                self._report(Problem(finding))

    def _keep_time(self, now: float) -> None:
        if self._time_of_day is None:
            return
        minute = self._time_of_day() // 1
        if minute != self._minute:
            self._minute = minute
            self.runtime.set_clock(minute, now)

    def _exchange(self, now: float) -> None:
        self.runtime.receive(self._line.read(now), now)
        # While the port is away the session goes on, its timers too; what it says is lost.
        self._bytes_out += self._line.write(b"" if self._line.unsent else self.runtime.outgoing(now), now)
        loss = self._line.take_loss()
        if loss is not None:
            message = f"the port vanished: {loss}"
            remedy = "plug it in again; the run goes on by itself"
            self._report(Problem(warning("R731", message, None, remedy)))

    def _hand_on(self, now: float) -> None:
        events = deque(self.runtime.take_events())
        while events:
            event = events.popleft()
            if isinstance(event, RequestMade):
                reason = "there is nothing to send it to" if self._send is None else self._send(event)
                if reason is not None:
                    # Nobody is told that it was asked for: it was not.
                    self.runtime.not_sent(event.name, reason, now)
                    events.extend(self.runtime.take_events())
                    continue
            self._report(event)
            if isinstance(event, LinkChanged) and event.up:
                self._held, self._answered = False, True
            if isinstance(event, Problem) and event.finding.severity is Severity.ERROR:
                # A display that cannot show this design needs a push, over this very port.
                self.ended = True

    def _miss(self, now: float) -> None:
        """Tells once that no display has answered yet, on whatever the run is told to."""
        if self._silent_at is None:
            self._silent_at = now + SILENT
        if now >= self._silent_at and not self._answered:
            self._silent_at = float("inf")
            message = f"no display has answered for {SILENT:g} s"
            remedy = "check that it has power, that --port is its line, and the rate; it is asked on"
            self._report(Problem(warning("R732", message, None, remedy)))

    def _report(self, event: RuntimeEvent) -> None:
        if isinstance(event, Problem):
            code = event.finding.code
            self._counts[code] = self._counts.get(code, 0) + 1
            if self._counts[code] <= KEPT:
                self._findings.append(event.finding)
        if self._on_event is not None:
            self._on_event(event)

    def _tell(self, now: float) -> None:
        if self._told_at is None:
            self._told_at = now
        passed = now - self._told_at
        if passed < 1.0:
            return
        total = self.summary()
        totals = (total.frames, total.updates, total.bytes_out)
        frames, updates, sent = ((new - old) / passed for new, old in zip(totals, self._told, strict=True))
        self._told_at, self._told = now, totals
        if self._on_status is not None:
            link = "no port" if not self._line.is_open else "up" if self.runtime.connected else "silent"
            stale = self.runtime.table.stale_count()
            self._on_status(Status(frames, updates, sent, link, self.runtime.screen, stale))

    def _look_for_end(self, now: float) -> None:
        if not self._sources or not all(source.ended for source in self._sources):
            return
        if self._end_at is None:
            self._end_at = now + LINGER
        elif now >= self._end_at:
            self.ended = True


def run(
    runtime: Runtime,
    open_line: Callable[[], Link],
    sources: Sequence[Source],
    *,
    on_event: Callable[[RuntimeEvent], None] | None = None,
    on_status: Callable[[Status], None] | None = None,
    await_display: bool = False,
    clock: Callable[[], float] = host_seconds,
    time_of_day: Callable[[], float] | None = None,
    send: Callable[[RequestMade], str | None] | None = None,
    attendants: Sequence[Attendant] = (),
    asked_to_end: Callable[[], bool] = lambda: False,
) -> Summary:
    """Runs until the sources end, the display turns out to be the wrong one, or it is asked to end.

    ``open_line`` opens the port, and again whenever it vanished; what it raises at first comes
    through. The first source does the waiting. ``on_status`` is called once a second. With
    ``await_display`` a replay starts when the display first answers. ``time_of_day`` gives minutes
    since midnight (``local_minutes``, or what a demonstration pretends). ``send`` takes a request to
    the vehicle and says why it could not. ``attendants`` are called in every turn; so is ``asked_to_end``.
    """
    loop = Loop(
        runtime,
        open_line,
        sources,
        on_event,
        on_status,
        await_display=await_display,
        time_of_day=time_of_day,
        send=send,
        attendants=attendants,
    )
    steady = Steady()
    try:
        while not loop.ended and not asked_to_end():
            seconds = loop.turn(steady(clock()))
            if not loop.ended and not asked_to_end() and seconds > 0.0:
                loop.wait(seconds)
    except KeyboardInterrupt:
        # The ordinary way to end a run.
        pass
    finally:
        loop.close()
    return loop.summary()


def local_minutes() -> float:
    """Minutes since midnight by this host's clock and time zone."""
    local = time.localtime()
    return local.tm_hour * 60 + local.tm_min + local.tm_sec / 60
