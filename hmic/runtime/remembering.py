"""What derived signals remember: filters, integrals, delays. No clock; times are vehicle seconds.

A machine is shown its input whenever that may have changed and at each moment it names as due.
Between two looks the input was what it was at the first, so what a machine knows depends on the
vehicle alone. While the input is in doubt the machine gives that doubt, and remembers nothing of
it: a filter starts anew, an integral goes on from where it was.
"""

from __future__ import annotations

import math
from collections import deque
from copy import copy

from hmic.model.terms import Memory, MemoryKind
from hmic.model.values import Doubt, Item, Value, finite

NEVER = math.inf
WINDOW_PARTS = 32
"""Parts of a window that averages and rates are counted in."""
SMOOTH_PARTS = 20
"""Looks in one time constant: 5 % of the way at most between two."""
FINEST = 0.02
"""Seconds at least between two looks that no arrival asks for."""
INTEGRAL_PERIOD = 0.2
"""Seconds between two looks of an integral whose input stands still."""
AT_REST = 1e-6
"""Part of the input's size at which a filter has arrived."""


class Machine:
    """One memory at work. ``value`` is what it gives, ``due`` when it wants to look again."""

    def __init__(self, memory: Memory) -> None:
        self.memory = memory
        self.value: Item = Doubt.UNSEEN
        self.due = NEVER
        self.sum = 0.0
        self._input: Item = Doubt.UNSEEN
        self._reset: Item = Doubt.UNSEEN
        self._at = -math.inf
        self._until = -math.inf
        self._period = max(memory.seconds / WINDOW_PARTS, FINEST)
        self._parts: deque[float] = deque(maxlen=max(1, round(memory.seconds / self._period)) + 1)
        self._part = 0.0
        self._part_at = -math.inf

    def copied(self) -> Machine:
        """Another that knows the same, and goes on by itself."""
        twin = copy(self)
        twin._parts = self._parts.copy()
        return twin

    def look(self, given: Value, reset: Value, at: float) -> bool:
        """Looks at the input and the reset as they are from ``at`` on; True when ``value`` changed."""
        before = self.value
        item: Item = Doubt.OUT_OF_RANGE if isinstance(given, tuple) else given
        _LOOKS[self.memory.kind](self, item, at)
        if self.memory.kind == MemoryKind.INTEGRAL:
            self._begin_again(Doubt.OUT_OF_RANGE if isinstance(reset, tuple) else reset)
        self._input, self._at = item, at
        return self.value != before or type(self.value) is not type(before)

    def forget(self) -> None:
        """Time leapt: what a window held no longer joins up."""
        self._parts.clear()
        self._part, self._part_at = 0.0, -math.inf

    def _begin_again(self, reset: Item) -> None:
        if reset is True and self._reset is False:
            self.sum = 0.0
            self.value = self.value if isinstance(self.value, Doubt) else 0.0
        if not isinstance(reset, Doubt):
            self._reset = reset

    def _integral(self, item: Item, at: float) -> None:
        if _certain(self._input):
            self.sum += float(self._input) * (at - self._at)
        if _certain(item):
            self.value = finite(self.sum)
            self.due = at + INTEGRAL_PERIOD if item else NEVER
        else:
            self.value, self.due = _doubt(item), NEVER

    def _smooth(self, item: Item, at: float) -> None:
        if not _certain(item):
            self.value, self.due = _doubt(item), NEVER
            return
        number = float(item)
        if not _certain(self._input) or not _certain(self.value):
            self.value, self.due = number, NEVER
            return
        was, goal = float(self.value), float(self._input)
        now = goal + (was - goal) * math.exp(-(at - self._at) / self.memory.seconds)
        if abs(now - number) <= AT_REST * max(abs(number), abs(was - number), 1e-9):
            now = number
        self.value = now
        rests = now == number
        self.due = NEVER if rests else at + max(self.memory.seconds / SMOOTH_PARTS, FINEST)

    def _window(self, item: Item, at: float) -> None:
        """``average`` and ``rate``: parts of equal length, each with its mean or its last value."""
        if not _certain(item):
            self.forget()
            self.value, self.due = _doubt(item), NEVER
            return
        if not _certain(self._input) or self._part_at == -math.inf:
            self.forget()
            self.value = Doubt.UNSEEN
            self._part_at = at
            if self.memory.kind == MemoryKind.RATE:
                self._parts.append(float(item))
        else:
            self._part += float(self._input) * (at - self._at)
        self.due = self._part_at + self._period
        if at < self.due:
            return
        rate = self.memory.kind == MemoryKind.RATE
        self._parts.append(float(item) if rate else self._part / (at - self._part_at))
        self._part, self._part_at = 0.0, at
        self.due = at + self._period
        most = self._parts.maxlen or 1
        if rate and len(self._parts) == most:
            self.value = finite((self._parts[-1] - self._parts[0]) / ((most - 1) * self._period))
        elif not rate and len(self._parts) >= most - 1:
            late = list(self._parts)[-(most - 1) :]
            self.value = finite(math.fsum(late) / len(late))

    def _hysteresis(self, item: Item, at: float) -> None:
        if not _certain(item):
            self.value = _doubt(item)
            return
        memory, number = self.memory, float(item)
        rising = memory.on > memory.off
        beyond = number >= memory.on if rising else number <= memory.on
        back = number <= memory.off if rising else number >= memory.off
        # ``sum`` keeps the state while the value shows a doubt.
        self.sum = 1.0 if beyond else 0.0 if back else self.sum
        self.value = self.sum == 1.0

    def _hold(self, item: Item, at: float) -> None:
        if self._input is True:
            self._until = at + self.memory.seconds
        if isinstance(item, Doubt) or item is True:
            self.value, self.due = item, NEVER
        else:
            self.value = at < self._until
            self.due = self._until if self.value else NEVER

    def _debounce(self, item: Item, at: float) -> None:
        if isinstance(item, Doubt) or isinstance(self.value, Doubt) or item == self.value:
            self.value, self.due = item, NEVER
        elif item != self._input or self.due == NEVER:
            self.due = at + self.memory.seconds
        elif at >= self.due:
            self.value, self.due = item, NEVER


_LOOKS = {
    "integral": Machine._integral,
    "smooth": Machine._smooth,
    "average": Machine._window,
    "rate": Machine._window,
    "hysteresis": Machine._hysteresis,
    "hold": Machine._hold,
    "debounce": Machine._debounce,
}


def _certain(item: Item) -> bool:
    return isinstance(item, int | float) and not isinstance(item, Doubt) and math.isfinite(item)


def _doubt(item: Item) -> Doubt:
    return item if isinstance(item, Doubt) else Doubt.OUT_OF_RANGE
