"""What was on the display at a moment of a run, and what any screen would have shown then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from hmic.model.builtin import CLOCK
from hmic.model.touch_progress import IDLE, touch_signal
from hmic.model.values import Doubt
from hmic.runtime.binding import BoundDesign
from hmic.runtime.decoding import Arrival, Decoder, Frame
from hmic.runtime.recording import Clock, Entry, Showing
from hmic.runtime.rising import Sight
from hmic.runtime.theming import Theming
from hmic.runtime.vehicle import Vehicle


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
    theme and ``sightings`` the screens by turns, the last one in sight, worked out from what had come.
    ``last`` is the time of the last entry of all, ``frames`` how many of them are frames."""

    at: float
    seen: Showing | None
    raw: tuple[int, ...]
    theme: int
    sightings: tuple[Sighting, ...]
    last: float
    frames: int


class _Onlooker:
    """Follows a vehicle as a runtime would that nobody touches."""

    def __init__(self, bound: BoundDesign) -> None:
        self.vehicle = Vehicle(bound.design, bound.channels)
        self.theming = Theming(bound.design.choose)
        self._sight = Sight(bound.screens, bound.start)
        self.sightings = [Sighting(0.0, bound.start, ())]
        # Only what is remembered brings up a screen by time alone: a value that turns stale never does.
        self._by_time = bool(bound.design.memories and self._sight.signals)
        keep = self.vehicle.table.keep
        for screen in bound.screens:
            for zone in range(len(screen.zones)):
                keep(touch_signal(screen.name, zone), IDLE)
        for name in bound.pages:
            keep(name, 0.0)

    def take(self, entry: Entry, decoder: Decoder) -> None:
        """What an entry of a log or record says of the vehicle."""
        self.pass_time(entry.at)
        if isinstance(entry, Clock):
            self.vehicle.table.keep(CLOCK, entry.minutes)
        elif isinstance(entry, Arrival):
            self.vehicle.feed(entry)
        elif isinstance(entry, Frame):
            readings = decoder.readings(entry)
            if readings:
                self.vehicle.feed(Arrival(entry.at, readings))
            for arrival in decoder.refused(entry.at):
                self.vehicle.feed(arrival)
        self._look(entry.at)

    def pass_time(self, until: float) -> None:
        """Time passes, with a look wherever something may have changed by it."""
        table = self.vehicle.table
        while self._by_time:
            due = table.next_due()
            if due is None or not table.now < due < until:
                break
            self.vehicle.pass_time(due)
            self._look(due)
        self.vehicle.pass_time(until)
        self._look(until)

    def _look(self, now: float) -> None:
        table = self.vehicle.table
        changed = self.vehicle.take_changed()
        if not self._sight.signals.isdisjoint(changed):
            self._sight.weigh(table.lookup)
            if self._sight.screen != self.sightings[-1].screen:
                self.sightings.append(Sighting(now, self._sight.screen, self._sight.causes))
        self.theming.follow(table.lookup, now)


def moment(
    bound: BoundDesign, entries: Iterable[Entry], decoder: Decoder, at: float, clock: float | None = None
) -> Moment:
    """The state at ``at`` (s). ``clock`` (minutes) counts where no time of day was recorded.

    Values worked out are rounded as they are: what keeps figures from flickering on a live display is
    left out, and no finger rests on the glass. What was seen is exact. What comes later is read too, so
    that log and decoder know what was wrong with all of it.
    """
    onlooker = _Onlooker(bound)
    if clock is not None:
        onlooker.vehicle.table.keep(CLOCK, clock)
    seen: Showing | None = None
    last, frames = 0.0, 0
    for entry in entries:
        last = entry.at
        frames += isinstance(entry, Frame)
        if entry.at > at:
            if isinstance(entry, Frame):
                decoder.readings(entry)
        elif isinstance(entry, Showing):
            seen = entry
        else:
            onlooker.take(entry, decoder)
    onlooker.pass_time(at)
    sightings = tuple(onlooker.sightings)
    return Moment(at, seen, onlooker.vehicle.raw(), onlooker.theming.theme, sightings, last, frames)


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
