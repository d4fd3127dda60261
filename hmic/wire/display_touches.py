"""Touches on their way to the host: numbered, told again until it has heard them."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace

from hmic.wire.events import Phase
from hmic.wire.messages import Touch

TOUCH_AGAIN = 0.15
"""Seconds before a touch that was not heard is sent again."""

TOUCH_QUEUE = 32
"""Touches kept until the host has heard them."""


@dataclass
class _Felt:
    touch: Touch
    at: float
    sent: bool = False


class Touches:
    """``lost`` counts those that no host has heard of, ``again_at`` is when the unheard are told again."""

    def __init__(self) -> None:
        self.lost = 0
        self.again_at = float("inf")
        self._host: int | None = None
        self._queue: deque[_Felt] = deque()
        self._next = 0

    def __len__(self) -> int:
        return len(self._queue)

    @property
    def unsent(self) -> bool:
        """Whether one has not been told at all."""
        return any(not felt.sent for felt in self._queue)

    def belong_to(self, host: int) -> bool:
        """A host greets; whether those numbered so far were for another one."""
        before, self._host = self._host, host
        if before == host:
            return False
        self.give_up()
        return before is not None

    def give_up(self) -> None:
        """Numbering begins anew; what no host has heard is lost, which the next one is told."""
        self.lost += len(self._queue)
        self._queue.clear()
        self._next = 0
        self.again_at = float("inf")

    def add(self, touch: Touch, now: float) -> bool:
        """One more, numbered here; False if the queue is full. Of slides that wait the last counts."""
        last = self._queue[-1] if self._queue else None
        if touch.phase is Phase.SLIDE and last and not last.sent and last.touch.phase is Phase.SLIDE:
            self._queue[-1] = _Felt(replace(touch, number=last.touch.number), now)
            return True
        if len(self._queue) >= TOUCH_QUEUE:
            return False
        self._queue.append(_Felt(replace(touch, number=self._next), now))
        self._next += 1
        return True

    def heard(self, number: int) -> None:
        """The host has all below this number."""
        while self._queue and self._queue[0].touch.number < number:
            self._queue.popleft()
        if not self._queue:
            self.again_at = float("inf")

    def due(self, now: float) -> Iterator[Touch]:
        """Those to tell now, with their age."""
        again = now >= self.again_at
        for felt in self._queue:
            if again or not felt.sent:
                felt.sent = True
                yield replace(felt.touch, age=min(255, max(0, round((now - felt.at) * 100))))
        if self._queue and (again or self.again_at == float("inf")):
            self.again_at = now + TOUCH_AGAIN
