"""What was on the display at a moment of a run, and what any screen would have shown then."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

from hmic.model.builtin import CLOCK
from hmic.model.design import BySignal
from hmic.model.touch_progress import TouchState, hold_signal, touch_signal
from hmic.model.values import Doubt
from hmic.runtime.binding import BoundDesign
from hmic.runtime.decoding import Arrival
from hmic.runtime.record_lines import Clock
from hmic.runtime.recording import Showing
from hmic.runtime.rising import Sight
from hmic.runtime.theming import Theming
from hmic.runtime.vehicle import Vehicle
from hmic.runtime.vehicle_time import earliest

SIGHTINGS = 16
"""Turns of the screens that are kept."""


@dataclass(frozen=True)
class Sighting:
    """From ``at`` on this screen was in sight, by its number, if nobody touched the display. ``causes``
    are the numbers of what brought it up, none for the start screen."""

    at: float
    screen: int
    causes: tuple[int, ...]


@dataclass(frozen=True)
class Moment:
    """A moment of a run at vehicle time ``at``. ``seen`` is what the display had, None where that was
    not recorded; ``raw`` the raw value of every channel of the design, ``theme`` the number of the
    theme and ``sightings`` the latest screens by turns, the last one in sight, worked out from what had
    come."""

    at: float
    seen: Showing | None
    raw: tuple[int, ...]
    theme: int
    sightings: tuple[Sighting, ...]


class Onlooker:
    """Follows a vehicle as a runtime would that nobody touches."""

    def __init__(self, bound: BoundDesign) -> None:
        self.vehicle = Vehicle(bound.design, bound.channels)
        self.theming = Theming(bound.design.choose)
        self.sight = Sight(bound.screens, bound.start)
        self.sightings: tuple[Sighting, ...] = (Sighting(0.0, bound.start, ()),)
        # Only what is remembered brings up a screen by time alone: a value that turns stale never does. But a
        # theme that goes by it counts from then.
        remembers = bool(bound.design.memories and self.sight.signals)
        self._by_time = remembers or isinstance(bound.design.choose, BySignal)
        keep = self.vehicle.table.keep
        for screen in bound.screens:
            for zone, action in enumerate(screen.zones):
                keep(touch_signal(screen.name, zone), TouchState.IDLE)
                if action.held_ms:
                    keep(hold_signal(screen.name, zone), 0.0)
        for name in bound.pages:
            keep(name, 0.0)

    def copied(self) -> Onlooker:
        """Another that knows the same, and goes on by itself."""
        twin = copy(self)
        twin.vehicle, twin.sight = self.vehicle.copied(), self.sight.copied()
        twin.theming = copy(self.theming)
        return twin

    def take(self, entry: Arrival | Clock) -> None:
        """What came of the vehicle."""
        self.pass_time(entry.at)
        if isinstance(entry, Clock):
            self.vehicle.table.keep(CLOCK, entry.minutes)
        else:
            self.vehicle.feed(entry)
        self._look(self.vehicle.table.now)

    def pass_time(self, until: float) -> None:
        """Time passes, with a look wherever something may have changed by it."""
        table = self.vehicle.table
        while (due := self._next_look()) is not None and table.now < due < until:
            self.vehicle.pass_time(due)
            self._look(due)
        self.vehicle.pass_time(until)
        self._look(table.now)

    def _next_look(self) -> float | None:
        by_time = self.vehicle.table.next_due() if self._by_time else None
        return earliest((by_time, self.theming.next_deadline()))

    def _look(self, now: float) -> None:
        table = self.vehicle.table
        changed = self.vehicle.take_changed()
        if not self.sight.signals.isdisjoint(changed):
            self.sight.weigh(table.lookup)
            if self.sight.screen != self.sightings[-1].screen:
                sighting = Sighting(now, self.sight.screen, self.sight.causes)
                self.sightings = (*self.sightings[-SIGHTINGS + 1 :], sighting)
        self.theming.follow(table.lookup, now)


def as_seen(bound: BoundDesign, seen: Showing) -> tuple[int, int, tuple[int, ...]] | None:
    """Screen and theme by number and the raw value of every channel, as the display had them; None
    when it had another pack than the design builds to now. A display that hears nothing shows all as
    stale."""
    names = [screen.name for screen in bound.screens]
    themes = [theme.name for theme in bound.design.themes]
    if seen.pack != bound.identity.hex() or seen.screen not in names or seen.theme not in themes:
        return None
    number = names.index(seen.screen)
    channels = bound.screens[number].channels
    if len(channels) != len(seen.raw):
        return None
    raw = [0] * len(bound.channels)
    for channel, value in zip(channels, seen.raw, strict=True):
        raw[channel] = value if seen.up else int(Doubt.STALE)
    return number, themes.index(seen.theme), tuple(raw)
