"""What was on the display at a moment of a run, and what any screen would have shown then."""

from __future__ import annotations

from collections.abc import Iterable

from hmic.model.builtin import CLOCK
from hmic.model.touch import IDLE, touch_signal
from hmic.model.values import Doubt
from hmic.records import dataclass
from hmic.runtime.binding import BoundDesign
from hmic.runtime.decoding import Arrival, Decoder, Frame
from hmic.runtime.recording import Clock, Entry, Showing
from hmic.runtime.theming import Theming
from hmic.runtime.vehicle import Vehicle


@dataclass(frozen=True)
class Moment:
    """A moment of a run at vehicle time ``at``. ``seen`` is what the display had, None where that was
    not recorded; ``raw`` the raw value of every channel of the design and ``theme`` the number of the
    theme, worked out from what had come. ``last`` is the time of the last entry that was looked at."""

    at: float
    seen: Showing | None
    raw: tuple[int, ...]
    theme: int
    last: float


def moment(
    bound: BoundDesign, entries: Iterable[Entry], decoder: Decoder, at: float, clock: float | None = None
) -> Moment:
    """The state at ``at`` (s). ``clock`` (minutes) counts where no time of day was recorded.

    Values worked out are rounded as they are: what keeps figures from flickering on a live display is
    left out, and no finger rests on the glass. What was seen is exact.
    """
    vehicle = Vehicle(bound.design, bound.channels)
    theming = Theming(bound.design.choose)
    if clock is not None:
        vehicle.table.keep(CLOCK, clock)
    for screen in bound.screens:
        for zone in range(len(screen.zones)):
            vehicle.table.keep(touch_signal(screen.name, zone), IDLE)
    seen: Showing | None = None
    last = 0.0
    for entry in entries:
        last = entry.at
        if entry.at > at:
            break
        if isinstance(entry, Showing):
            seen = entry
        elif isinstance(entry, Clock):
            vehicle.pass_time(entry.at)
            vehicle.table.keep(CLOCK, entry.minutes)
        elif isinstance(entry, Arrival):
            vehicle.feed(entry)
            vehicle.take_changed()
        elif isinstance(entry, Frame):
            readings = decoder.readings(entry)
            if readings:
                vehicle.feed(Arrival(entry.at, readings))
                vehicle.take_changed()
        theming.follow(vehicle.table.lookup, entry.at)
    vehicle.pass_time(at)
    theming.follow(vehicle.table.lookup, at)
    return Moment(at, seen, vehicle.raw(), theming.theme, last)


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
