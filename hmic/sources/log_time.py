"""The time of a log: seconds since its first frame, from stamps that may be anything."""

from __future__ import annotations

BACK = 1.0
"""Seconds by which stamps of a log may step back before that is a jump: interfaces written side by side
cross by milliseconds, a clock that is set by more (common practice, no source)."""
AHEAD = 60.0
"""Seconds without a frame in a log that are played; a longer step is a jump (common practice, no source)."""
OFFSETS = 8
"""Settings of a log's clocks that are remembered."""


class LogTime:
    """Seconds since the first frame of a log, which never run back, from stamps that may.

    A small step back is held; it is made up by what follows. A large one, and one far ahead, are jumps:
    somebody set a clock, or logs were joined. They count as no time. Channels that are stamped by clocks
    of their own, or set one after the other, jump once each: every channel's setting is remembered, and
    those before it.
    """

    def __init__(self) -> None:
        self.jumps = 0
        self._latest = 0.0
        self._offsets: list[float] = []
        self._of: dict[str | None, float] = {}

    def __call__(self, stamp: float, channel: str | None = None) -> tuple[float, float]:
        """The time of a frame, and by how many seconds its stamp jumps (0 for none)."""
        own = self._of.get(channel)
        # Nearly every frame: its channel's clock goes on. What follows gives the same, slower.
        if own is not None and -BACK <= (ahead := stamp + own - self._latest) <= BACK:
            if ahead > 0:
                self._latest = stamp + own
            return self._latest, 0.0
        if not self._offsets:
            self._offsets = [-stamp]
        own = self._offsets[-1] if own is None else own
        held = next((each for each in (own, *reversed(self._offsets)) if self._near(stamp + each)), own)
        ahead = stamp + held - self._latest
        jump = 0.0 if -BACK <= ahead <= AHEAD else ahead
        if jump:
            self.jumps += 1
            held -= jump
            self._offsets = [*self._offsets[1 - OFFSETS :], held]
        self._of[channel] = held
        self._latest = max(self._latest, stamp + held)
        return self._latest, jump

    def _near(self, at: float) -> bool:
        return -BACK <= at - self._latest <= BACK
