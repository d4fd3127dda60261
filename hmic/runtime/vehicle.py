"""All that is known of the vehicle: its signals now, and the past that charts, peaks and what glides show."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy

from hmic.model.channels import Channel, raw_value
from hmic.model.design import Design
from hmic.runtime.decoding import Arrival
from hmic.runtime.history import History
from hmic.runtime.state import SignalTable
from hmic.runtime.vehicle_time import earliest


class Vehicle:
    """The signal table and the history, moved together. Times are vehicle seconds.

    What it knows at a moment depends on the arrivals up to it alone, not on how often it was asked.
    """

    def __init__(self, design: Design, channels: Sequence[Channel]) -> None:
        self.table = SignalTable(design.signals, design.memories.values())
        self.history = History(channels)
        self._channels = channels
        self._changed: set[str] = set()
        self._passed = float("-inf")
        if self.history.follows:
            self.table.on_moment = self._note

    def copied(self) -> Vehicle:
        """Another that knows the same, and goes on by itself."""
        twin = copy(self)
        twin.table, twin.history = self.table.copied(), self.history.copied()
        twin._changed = self._changed.copy()
        if twin.history.follows:
            twin.table.on_moment = twin._note
        return twin

    def feed(self, arrival: Arrival) -> None:
        """Time moves to the arrival, where it is not there yet; then what it brings counts."""
        self.pass_time(arrival.at)
        self.table.feed(arrival)
        if self.table.on_moment is not None:
            self._note()

    def pass_time(self, until: float) -> None:
        """Moves time on, stopping where the past takes a sample. Time that has passed already does not
        pass again, however often it is said."""
        if until <= self._passed:
            return
        self._passed = until
        self.history.skip(until)
        while (due := self.history.next_due()) is not None and due <= until:
            self.table.advance(due)
            self.history.pass_time(self.table.lookup, due)
        self.table.advance(until)

    def next_due(self) -> float | None:
        """When something changes by time alone."""
        return earliest((self.table.next_due(), self.history.next_due()))

    def take_changed(self) -> set[str]:
        """Names whose value may have changed since the last call; peaks and what glides have followed
        them."""
        self._note()
        changed, self._changed = self._changed, set()
        return changed

    def _note(self) -> None:
        """Peaks and what glides follow what has changed, at the moment at which it did."""
        changed = self.table.take_changed()
        if changed:
            self.history.note(changed, self.table.lookup, self.table.now)
            self._changed |= changed

    def raw(self) -> tuple[int, ...]:
        """The raw value of every channel of the design, now."""
        self.take_changed()
        past, lookup = self.history.raw, self.table.lookup
        return tuple(
            past[number] if number in past else raw_value(channel, lookup)
            for number, channel in enumerate(self._channels)
        )
