"""What happens often is told the first time, and then ever more rarely: its sum says as much."""

from __future__ import annotations


class Rarely:
    """A count that is told at 1, and then each time that it is ten times as much."""

    def __init__(self) -> None:
        self.total = 0
        self._next = 1

    def due(self, total: int) -> bool:
        """The sum so far; whether to tell of it."""
        self.total = total
        if total < self._next:
            return False
        self._next = total * 10
        return True
