"""Two notions of time: a clock that never runs backwards, and the vehicle's time under a replay."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable

STILL = 0.3
"""Seconds without a look after which a source stood still; a loop that turns looks every 0.25 s."""
PROMPT = 0.05
"""Seconds within which a frame that seems to come as it is read may have been stamped then."""


def host_seconds() -> float:
    """Seconds of this host's steady clock. Where the system can tell, those of a suspended board count:
    its values grow old meanwhile."""
    suspended = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if suspended is None else time.clock_gettime(suspended)


class Steady:
    """Makes any clock monotonic: a jump backwards is taken as no time at all, and what follows
    counts on from there. Seconds in, seconds out."""

    def __init__(self) -> None:
        self._offset = 0.0
        self._last: float | None = None
        self._given = float("-inf")

    def __call__(self, now: float) -> float:
        """The steady time for a reading of the outer clock."""
        if self._last is not None and now < self._last:
            self._offset += self._last - now
        self._last = now
        # Adding the offset rounds; the comparison takes out the last place's unrest.
        self._given = max(self._given, now + self._offset)
        return self._given

    def outer(self, steady: float) -> float:
        """The outer clock's reading at which the steady time will be ``steady``."""
        return steady - self._offset


class Arriving:
    """When what is read came, in our time: never later than it can have come.

    It came after the moment at which nothing was left to read, and not later than now. While it is read
    without a pause, what has no time of its own came as it is read. After a standstill of more than ``STILL``
    it is as old as that may have made it: any of it may have waited since then.

    A time of another clock, such as a bus's, is mapped: its epoch is unknown, and it may be set or run
    differently, so the difference is the smallest that was seen, within what must be so. Some drivers
    stamp a frame as it is read. Where the first one after a standstill seems to come just then, its
    stamp proves nothing, and nor do those that follow it.
    """

    def __init__(self) -> None:
        self._difference: float | None = None
        self._emptied: float | None = None
        self._first = True
        self._doubted = False

    def looked(self, now: float) -> None:
        """Somebody begins to read; the first time, nothing is known of what was before."""
        if self._emptied is None:
            self._emptied = now

    def plain(self, now: float) -> float:
        """Our time of what has no time of its own and is read at ``now``."""
        return self._oldest(now) if self._stood(now) else now

    def stamped(self, there: float, now: float) -> float:
        """Our time of what came at the time ``there`` of the other clock and is read at ``now``."""
        oldest = self._oldest(now)
        least, most = oldest - there, now - there
        held = most if self._difference is None else self._difference
        self._difference = min(max(held, least), most)
        came = min(max(there + self._difference, oldest), now)
        if self._first:
            self._first = False
            self._doubted = self._stood(now) and came > now - PROMPT
        return oldest if self._doubted else came

    def emptied(self, now: float) -> None:
        """Nothing is left to read."""
        self._emptied = now
        self._first, self._doubted = True, False

    def _oldest(self, now: float) -> float:
        return now if self._emptied is None else min(now, self._emptied)

    def _stood(self, now: float) -> bool:
        return now - self._oldest(now) > STILL


class VehicleTime:
    """Maps the host's time to the vehicle's: ``rate`` vehicle seconds pass in one host second.

    ``rate`` 1 is a live vehicle or a replay at real speed. With None vehicle time moves only with
    what arrives, so a replay as fast as possible still lets values turn stale where the log has gaps.
    """

    def __init__(self, rate: float | None = 1.0) -> None:
        if rate is not None and not rate > 0:
            raise ValueError("rate must be above 0")
        self.rate = rate
        self._start: float | None = None
        self._latest = 0.0

    def start(self, now: float) -> None:
        """Vehicle time 0 is host time ``now``. A second call changes nothing."""
        if self._start is None:
            self._start = now

    def at(self, now: float) -> float:
        """Vehicle seconds at host time ``now``; 0 before the start."""
        if self.rate is None:
            return self._latest
        return 0.0 if self._start is None else max(0.0, (now - self._start) * self.rate)

    def note(self, at: float) -> None:
        """Something of vehicle time ``at`` has arrived."""
        self._latest = max(self._latest, at)

    def host(self, at: float) -> float | None:
        """The host time of vehicle time ``at``; None when no clock decides (``rate`` None)."""
        if self.rate is None or self._start is None:
            return None
        return self._start + at / self.rate


def earliest(moments: Iterable[float | None]) -> float | None:
    """The earliest of some moments, leaving out None and what never comes; None if none is left."""
    known = [moment for moment in moments if moment is not None and math.isfinite(moment)]
    return min(known, default=None)
