"""The values a display holds for the scene in sight, and which of them it may believe."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.wire.sizes import MAX_RAW
from hmic.wire.updates import Items, change_seal

STALE = 1


class ReceivedValues:
    """Raw values by position. A value in doubt is never told: ``visible`` gives stale for it."""

    def __init__(self, count: int, number: int, doubtful: bool) -> None:
        self.number = number
        self._values = [0] * count
        self._true = [not doubtful] * count

    @property
    def count(self) -> int:
        """Positions."""
        return len(self._values)

    @property
    def believed(self) -> bool:
        """Whether every value is."""
        return all(self._true)

    def visible(self) -> tuple[int, ...]:
        """What may be shown while the host is heard."""
        return tuple(v if true else STALE for v, true in zip(self._values, self._true, strict=True))

    def doubtful(self) -> tuple[int, int] | None:
        """The range (first, end) that holds every position in doubt; None when all are believed."""
        if self.believed:
            return None
        return self._true.index(False), self.count - self._true[::-1].index(False)

    def doubt(self) -> None:
        """Believe nothing."""
        self._true = [False] * self.count

    def seal(self, session: int, scene: int, number: int) -> int:
        """The seal of change frame ``number`` if it follows on these values."""
        return change_seal(session, scene, number, self._values)

    def change(self, items: Items) -> None:
        """Take the next change frame, its seal proved. Every value is in doubt if one leaves its range."""
        self.number += 1
        for position, difference in items:
            value = self._values[position] + difference
            if not 0 <= value <= MAX_RAW:
                self.doubt()
                return
            self._values[position] = value

    def refresh(self, number: int, first: int, values: Sequence[int]) -> bool:
        """Take absolute values; False, and nothing taken, when they lie outside the list. One that
        does not follow puts every other value in doubt."""
        if first + len(values) > self.count or any(value > MAX_RAW for value in values):
            return False
        if number != self.number + 1:
            self.doubt()
        self.number = number
        self._values[first : first + len(values)] = values
        self._true[first : first + len(values)] = [True] * len(values)
        return True
