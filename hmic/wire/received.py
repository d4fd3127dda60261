"""The values a display holds for the scene in sight."""

from __future__ import annotations

from hmic.wire import updates

STALE = 1


class ReceivedValues:
    """Raw values by position, as after value frame ``number``; ``place`` is where the last Change or Fill
    ended. The last ``late`` positions are no longer true."""

    def __init__(self, count: int, number: int) -> None:
        self.number = number
        self.values = [0] * count
        self.place = 0
        self.late = 0

    @property
    def count(self) -> int:
        """Positions."""
        return len(self.values)

    def seal(self, session: int, scene: int, number: int) -> int:
        """The seal of value frame ``number`` if it follows on these values."""
        return updates.value_seal(session, scene, number, self.late, self.values)

    def take(self, number: int, taken: updates.Taken) -> None:
        """Value frame ``number``, its seal proved, leads to these."""
        self.number, self.values, self.place = number, taken.values, taken.place

    def resume(self, number: int, late: int) -> None:
        """A Resume, its seal proved, of this number."""
        self.number, self.late = number, late

    def visible(self) -> tuple[int, ...]:
        """What may be shown while nothing is in doubt."""
        return (*self.values[: self.count - self.late], *(STALE,) * self.late)
