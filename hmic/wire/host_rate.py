"""How a host agrees on a higher rate."""

from __future__ import annotations

from hmic.wire import messages, states
from hmic.wire.states import Cause, Machine

RATE_EVERY = 0.25
"""Seconds before a Rate without reply is sent again."""

RATE_TRIES = 3
"""Rates without reply, and sessions at a higher rate that broke, after which it is left alone."""


class Rate:
    """Asks for the highest rate that both ends can, in Bd; ``first`` is what both begin at."""

    def __init__(self, first: int, fastest: int) -> None:
        self._machine = Machine(states.RATE)
        self._first = first
        self._fastest = fastest
        self._wanted = 0
        self._tries = self._failures = 0
        self.due = 0.0

    @property
    def asking(self) -> bool:
        """Whether nothing else may be sent: what is under way would arrive at the wrong rate."""
        return self._machine.state == states.Rate.ASKING

    def begin(self, fastest: int, now: float) -> None:
        """A session begins with a display that can do so much."""
        self._wanted = min(self._fastest, fastest)
        if self._wanted > self._first and self._failures < RATE_TRIES:
            self._machine.move(Cause.FASTER)
            self._tries, self.due = 0, now

    def ask(self, now: float) -> messages.Rate | None:
        """A Rate when it is due."""
        if now < self.due:
            return None
        if self._tries >= RATE_TRIES:
            self._failures += 1
            self._machine.move(Cause.NOT_RATED)
            return None
        self._tries += 1
        self.due = now + RATE_EVERY
        return messages.Rate(self._wanted)

    def take(self, baud: int) -> bool:
        """Whether this reply sets another rate."""
        if not self.asking:
            return False
        agreed = baud == self._wanted
        self._machine.move(Cause.RATED if agreed else Cause.NOT_RATED)
        return agreed

    def part(self) -> bool:
        """The session is over; whether this sets the first rate again."""
        higher = self._machine.state == states.Rate.HIGHER
        self._machine.move(Cause.PARTED)
        self._failures += higher
        return higher
