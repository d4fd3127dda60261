"""The values a display holds for the scene in sight, and which of them it may believe."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.wire import messages
from hmic.wire.updates import MAX_RAW, Changes, rotation_share, rotation_start

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

    def visible(self) -> tuple[int, ...]:
        """What may be shown while the host is heard."""
        return tuple(v if true else STALE for v, true in zip(self._values, self._true, strict=True))

    def doubtful(self) -> tuple[int, int] | None:
        """The range (first, end) that holds every position in doubt; None when all are believed."""
        if all(self._true):
            return None
        return self._true.index(False), self.count - self._true[::-1].index(False)

    def doubt(self) -> None:
        """Believe nothing."""
        self._true = [False] * self.count

    def change(self, number: int, changes: Changes) -> None:
        """Take change frame ``number``; one that does not follow puts every value in doubt first."""
        self._follow(number)
        for position, difference in changes.items:
            if self._true[position]:
                self._values[position] += difference
                if not 0 <= self._values[position] <= MAX_RAW:
                    self.doubt()
        start = rotation_start(number, self.count)
        places = [(start + turn) % self.count for turn in range(rotation_share(self.count))]
        self._assert_absolutes(places, changes.absolutes)

    def refresh(self, number: int, first: int, values: Sequence[int]) -> bool:
        """Take absolute values; False, and nothing taken, when they lie outside the list."""
        if first + len(values) > self.count or any(value > MAX_RAW for value in values):
            return False
        self._follow(number)
        for place, value in enumerate(values, first):
            self._values[place] = value
            self._true[place] = True
        return True

    def compare(self, number: int, digest: int) -> None:
        """Take a beat: a later number means lost frames, another digest means a wrong value."""
        if number > self.number:
            self.number = number
            self.doubt()
        elif all(self._true) and messages.digest(self._values) != digest:
            self.doubt()

    def _follow(self, number: int) -> None:
        if number != self.number + 1:
            self.doubt()
        self.number = number

    def _assert_absolutes(self, places: Sequence[int], absolutes: Sequence[int]) -> None:
        pairs = list(zip(places, absolutes, strict=True))
        if any(self._true[place] and self._values[place] != value for place, value in pairs):
            self.doubt()
        for place, value in pairs:
            self._values[place] = value
            self._true[place] = True
