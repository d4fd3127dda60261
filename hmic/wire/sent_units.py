"""The units of a pack that is sent: a window of blocks, each lost one sent again.

The line keeps the order of frames. So when the report of a later block (``serial``) comes without
an earlier one, that one is lost, and no time has to pass to know it.
"""

from __future__ import annotations

from dataclasses import dataclass

from hmic.wire.messages import Need

SERIALS = 120
"""Blocks under way at most: fewer than half of the 256 serials."""

MISSING, UNDER_WAY, HELD = 0, 1, 2


@dataclass(frozen=True)
class Flight:
    """A block under way: its units, bytes of frame and seconds on the line, and when it has left it."""

    first: int
    count: int
    copied: bool
    size: int
    seconds: float
    leaves: float


@dataclass(frozen=True)
class Settled:
    """What became of a block."""

    flight: Flight
    lost: bool


class Units:
    """What a display holds of ``total`` units, and what is under way to it; at most ``window`` units are."""

    def __init__(self, total: int, window: int = 1) -> None:
        self.total = total
        self._units = bytearray(total)
        self._flights: dict[int, Flight] = {}
        self._sent = self._reported = 0
        self._horizon = 0
        self._window = max(1, window)
        self._round_trip = 0.1
        self._patience = 1.0

    @property
    def serial(self) -> int:
        """That of the next block."""
        return self._sent + 1 & 0xFF

    def held(self) -> int:
        """How many units the display holds."""
        return self._units.count(HELD)

    def holds(self, unit: int) -> bool:
        """Whether it holds this one."""
        return self._units[unit] == HELD

    def next_missing(self) -> int | None:
        """The first unit that may be sent now."""
        if len(self._flights) >= SERIALS or self._units.count(UNDER_WAY) >= self._window:
            return None
        first = self._units.find(MISSING, 0, self._horizon)
        return None if first < 0 else first

    def room(self, first: int) -> range:
        """The units from ``first`` on, which is missing, that may be sent in one block."""
        return self.run(first, min(self._window - self._units.count(UNDER_WAY), self._horizon - first))

    def run(self, first: int, most: int) -> range:
        """The units from ``first`` on that are missing, at most so many."""
        found = self._units[first : first + most]
        return range(first, first + len(found) - len(found.lstrip(bytes((MISSING,)))))

    def leave(self, flight: Flight) -> None:
        """A block goes."""
        self._units[flight.first : flight.first + flight.count] = bytes((UNDER_WAY,)) * flight.count
        self._sent += 1
        self._flights[self._sent] = flight

    def report(self, need: Need, now: float) -> list[Settled] | None:
        """What the display holds, and what became of which blocks; None if there is no such unit or block."""
        ahead = (need.serial - self._reported) & 0xFF
        if self._reported + ahead > self._sent or need.base > self.total:
            return None
        place = need.base
        self._units[:place] = bytes((HELD,)) * place
        for turn, run in enumerate(need.runs):
            end = min(place + run, self.total)
            if turn % 2:
                self._units[place:end] = bytes((HELD,)) * (end - place)
            else:
                self._forget(place, end)
            place = end
        if not need.cut:
            self._forget(place, self.total)
        self._horizon = max(self._horizon, place if need.cut else self.total)
        self._reported += ahead
        settled = [serial for serial in self._flights if serial <= self._reported]
        return [self._settle(self._flights.pop(at), at == self._reported, now) for at in settled]

    def _forget(self, first: int, end: int) -> None:
        """A report is newer than all before it: what it misses is not held, whatever they said."""
        self._units[first:end] = self._units[first:end].replace(bytes((HELD,)), bytes((MISSING,)))

    def _settle(self, flight: Flight, newest: bool, now: float) -> Settled:
        if newest and now > flight.leaves:
            self._round_trip += (now - flight.leaves - self._round_trip) / 8
            self._patience = 1.0
        return Settled(flight, self._lose(flight))

    def _lose(self, flight: Flight) -> bool:
        """What of it has not been reported is missing; whether that is any."""
        end = flight.first + flight.count
        lost = self._units.find(UNDER_WAY, flight.first, end) >= 0
        self._units[flight.first : end] = self._units[flight.first : end].replace(
            bytes((UNDER_WAY,)), bytes((MISSING,))
        )
        return lost

    def pass_time(self, now: float) -> None:
        """Give up waiting for blocks whose report should have come long ago."""
        late = [serial for serial, flight in self._flights.items() if now >= self._overdue(flight)]
        for serial in late:
            self._lose(self._flights.pop(serial))
        if late:
            self._patience = min(self._patience * 2, 8.0)

    def deadline(self) -> float:
        """When ``pass_time`` has something to do."""
        return min(map(self._overdue, self._flights.values()), default=float("inf"))

    def _overdue(self, flight: Flight) -> float:
        """When neither the report of a block nor those of the two after it can still come."""
        return flight.leaves + (1.5 * self._round_trip + 0.03 + 2 * flight.seconds) * self._patience
