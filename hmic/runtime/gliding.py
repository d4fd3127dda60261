"""How a needle or a filling glides: the steps between two values, worked out on vehicle time."""

from __future__ import annotations

import math
from collections import deque
from copy import copy
from dataclasses import dataclass, field

from hmic.model.channels import LIVE, Channel

FRAME = 1 / 30
"""Seconds between two looks at what glides; they stand on multiples of it, so that nothing depends on when
somebody asked."""
STEADY = 0.75
"""Steps that the mean must be off what is shown while the value moves: noise of one step shows nothing."""


@dataclass
class Glide:
    """A channel that shows the mean of its value over the last ``within`` seconds.

    So a jump becomes an even motion that has ended by then, nothing beyond the values of that time is ever
    shown, and a new value never starts the time anew. Doubt shows at once, and after doubt the first value.
    On a closed scale of ``turn`` steps the short way is taken. ``past`` holds (since, step), steps counted on
    beyond the ends of a closed scale; ``due`` is the next look, None at rest.
    """

    number: int
    channel: Channel
    raw: int = 0
    past: deque[tuple[float, int]] = field(default_factory=deque)
    due: float | None = None
    _shown: int = 0

    @property
    def within(self) -> float:
        """The window: a look comes up to ``FRAME`` late."""
        return max(FRAME, self.channel.glide - FRAME)

    def copied(self) -> Glide:
        """Another that knows the same."""
        twin = copy(self)
        twin.past = self.past.copy()
        return twin

    def note(self, raw: int, at: float) -> int:
        """The value has another raw value from ``at`` on. Gives what is shown."""
        if raw < LIVE or self.raw < LIVE:
            self.raw = raw
            self._shown, self.due = raw - LIVE, None
            self.past = deque([(at, self._shown)] if raw >= LIVE else [])
            return raw
        self.raw = raw
        if (step := self._nearest(raw - LIVE)) != self.past[-1][1]:
            self.past.append((at, step))
            self.due = self.due or _after(at)
        return self._told()

    def look(self, at: float) -> int:
        """Time has come to ``at``. Gives what is shown."""
        start = at - self.within
        while len(self.past) > 1 and self.past[1][0] <= start + 1e-9:
            self.past.popleft()
        if len(self.past) == 1:
            self._shown, self.due = self.past[0][1], None
            return self.raw
        self.due = _after(at)
        ends = [*(since for since, _ in list(self.past)[1:]), at]
        total = sum(
            step * (end - max(since, start)) for (since, step), end in zip(self.past, ends, strict=True)
        )
        # What was shown before the oldest that is known held as long as is asked.
        total += self.past[0][1] * max(0.0, self.past[0][0] - start)
        mean = total / self.within
        if abs(mean - self._shown) > STEADY:
            self._shown = math.floor(mean + 0.5)
        return self._told()

    def _nearest(self, step: int) -> int:
        """A step of a closed scale, as many turns on as bring it nearest to the last."""
        turn, last = self.channel.turn, self.past[-1][1]
        return step + round((last - step) / turn) * turn if turn else step

    def _told(self) -> int:
        turn = self.channel.turn
        return LIVE + (self._shown % turn if turn else self._shown)


def _after(at: float) -> float:
    """The next multiple of ``FRAME``."""
    return (math.floor(at / FRAME + 1e-6) + 1) * FRAME
