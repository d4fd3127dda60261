"""How a host's values go on from what the display says it holds."""

from __future__ import annotations

from hmic.wire import messages, states, updates
from hmic.wire.sent import Pairs, SentValues
from hmic.wire.sizes import LEAST_ROOM, MAX_BODY
from hmic.wire.states import Cause, Machine

DISTURBED_AT_MOST = 1.0
"""Seconds through which a display may be brought back to one number before every value is sent anew: where
its Wants have to wait for the line, they tell of what it held long ago."""

CALM_AFTER = 0.5
"""Seconds without a Want after which the line was good again: a display asks each 0.05 s while it must."""

UNDER_WAY = 0.03
"""Seconds after a Resume has left the line in which a Want that does not know of it may have been sent
before it came; doubled when the display turns out to have taken an earlier one of two."""

UNDER_WAY_LIMIT = 0.5

Sealed = tuple[bytes, int]
"""A body and the seal of its frame."""


class HostValues:
    """The values of the scene in sight: what is true, what was sent, and where a Want brings it back to."""

    def __init__(self) -> None:
        self._machine = Machine(states.VALUES)
        self.sent = SentValues(0, 0)
        self.target: tuple[int, ...] | None = None
        self.pairs: Pairs = ()
        self._back_to = self._resumed_as = -1
        self._under_way = UNDER_WAY
        self._under_way_until = 0.0
        self._wanted_at = self._disturbed_since = float("-inf")
        self._room = MAX_BODY

    def begin(self, count: int, number: int, now: float) -> None:
        """So many values, all 0 at the display after value frame ``number``."""
        self._machine.move(Cause.BEGUN)
        self.sent = SentValues(count, number, self.pairs)
        self._back_to = self._resumed_as = -1
        if self.target is not None and count:
            self.sent.aim(self.target, now)

    @property
    def going_back(self) -> bool:
        """Whether a Resume was asked for."""
        return self._machine.state == states.Values.GOING_BACK

    def want(self, number: int, now: float) -> bool:
        """Go back to what the display holds; what has changed since then is sent as ever. False where it
        cannot, or has not helped for long."""
        if number == self._back_to and (self.going_back or now < self._under_way_until):
            return True
        if number != self._back_to or now > self._wanted_at + CALM_AFTER:
            self._disturbed_since = now
        self._wanted_at = now
        if now > self._disturbed_since + DISTURBED_AT_MOST or not self.sent.go_back(number):
            return False
        if self._back_to < number < self._resumed_as:
            self._under_way = min(2 * self._under_way, UNDER_WAY_LIMIT)
        self._machine.move(Cause.WANT)
        self._back_to, self._resumed_as = number, self.sent.number
        self._room = max(LEAST_ROOM, self._room * 3 // 4)
        return True

    def resume(self, session: int, scene: int, now: float) -> Sealed:
        """The Resume that was asked for, or one by itself that tells what is late."""
        if not self.going_back:
            self.sent.go_on()
        seal = self._seal(session, scene, self.sent.number)
        late = self.sent.tell_late(now)
        return messages.encode(messages.Resume(self.sent.number, late)), seal

    def resumed(self, left_at: float) -> None:
        """The Resume that was asked for has left the line by then."""
        self._machine.move(Cause.RESUME_SENT)
        self._under_way_until = left_at + self._under_way

    def value_frame(self, session: int, scene: int, room: int, now: float) -> Sealed:
        """The next Change or Fill, where ``room`` is the most that the line and the display take; some value
        must be behind."""
        seal = self._seal(session, scene, self.sent.number + 1)
        self._room = min(self._room + 2, room)
        return self.sent.advance(self._room, now), seal

    def pulse(self, session: int, scene: int) -> Sealed:
        """Says that nothing is behind."""
        return updates.PULSE, self._seal(session, scene, self.sent.number)

    def _seal(self, session: int, scene: int, number: int) -> int:
        return updates.value_seal(session, scene, number, self.sent.late, self.sent.values)
