"""From signals to raw channel values, for the screen in sight only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from hmic.language.syntax import Side
from hmic.model.actions import ZoneAction
from hmic.model.channels import LIVE, Channel, Places, Scaled, raw_value, signals_of
from hmic.model.design import Design
from hmic.model.expressions import Lookup, Typed
from hmic.model.touch_progress import PAGE_PREFIX
from hmic.runtime.history import History


@dataclass(frozen=True)
class BoundScreen:
    """One screen as the pack numbers it. ``channels`` are numbers in the design's channel list, by
    their position on this screen; ``zones`` are what its touch zones do, by zone number;
    ``swipes`` are (direction, screen). ``rises`` are the causes for which it comes up by itself.
    ``calm`` are the channels, by number, that only change figures, too fast to be read in passing;
    ``prompt`` those that are sent as soon as they change, beside the urgent ones; ``moving`` the steps by
    which each position moves at once when everything does, for the time between two updates."""

    name: str
    channels: tuple[int, ...]
    zones: tuple[ZoneAction, ...] = ()
    swipes: tuple[tuple[Side, str], ...] = ()
    rises: tuple[Typed, ...] = ()
    yields_when_acknowledged: bool = False
    calm: frozenset[int] = frozenset()
    prompt: frozenset[int] = frozenset()
    moving: tuple[int, ...] | None = None


@dataclass(frozen=True)
class BoundDesign:
    """A compiled design as the runtime needs it: channels and screens by number, and the identity
    (8 bytes) of the pack that was built from it. ``file`` is the host file that it was read from, if any."""

    design: Design
    channels: tuple[Channel, ...]
    screens: tuple[BoundScreen, ...]
    identity: bytes
    file: str = field(default="", compare=False)

    @property
    def start(self) -> int:
        """The number of the start screen."""
        names = [screen.name for screen in self.screens]
        return names.index(self.design.start) if self.design.start in names else 0

    @property
    def pages(self) -> frozenset[str]:
        """The built-in signals that hold the page in sight of each list."""
        names = (name for channel in self.channels for name in signals_of(channel))
        return frozenset(name for name in names if name.startswith(PAGE_PREFIX))


@dataclass(frozen=True)
class Steadying:
    """Keeps a number from flickering between two neighbouring steps.

    A scaled channel leaves its step at once when the value is ``1/2 + beyond`` steps off; when it is
    less far off, only after it has rounded elsewhere for ``settle`` seconds without a break. So
    noise of under a step never flickers, and a value at rest is rounded exactly after ``settle``.
    The urgent channels (0 and 1) are not steadied. (Both figures: common practice, no source.)
    """

    beyond: float = 0.5
    settle: float = 0.25


class ScreenValues:
    """Raw values of one screen's channels, brought up to date by the names that changed.

    Times are host seconds. Channels that show the past are taken from ``history``, where
    ``numbers`` gives each channel's number in the design. ``calm`` are numbers of channels that may wait,
    ``prompt`` of those that may not.
    """

    def __init__(
        self,
        channels: Iterable[Channel],
        steadying: Steadying | None,
        *,
        numbers: Sequence[int] = (),
        history: History | None = None,
        calm: frozenset[int] = frozenset(),
        prompt: frozenset[int] = frozenset(),
    ) -> None:
        self.channels = tuple(channels)
        self.raw = [0] * len(self.channels)
        self._steadying = steadying
        self._past = {} if history is None else history.raw
        self._places = {number: at for at, number in enumerate(numbers) if number in self._past}
        self._kept = {at: number for number, at in self._places.items()}
        self._off_since: dict[int, float] = {}
        self._dirty: set[int] = set(range(len(self.channels)))
        self._urgent = frozenset(at for at, channel in enumerate(self.channels) if channel.urgency <= 1)
        self._urgent |= {at for at, number in enumerate(numbers) if number in prompt}
        self._calm = frozenset(at for at, number in enumerate(numbers) if number in calm) - self._urgent
        self._readers: dict[str, list[int]] = {}
        self._uppers = _uppers(self.channels)
        # A number on two channels is one value: it is steadied whole, then told in its two parts.
        self._whole = tuple(
            replace(channel, steps=channel.steps.whole)
            if at in self._uppers and isinstance(channel.steps, Places)
            else channel
            for at, channel in enumerate(self.channels)
        )
        self._shown = list(self.raw)
        self._dirty -= set(self._uppers.values())
        for at, channel in enumerate(self.channels):
            if at not in self._kept and at in self._dirty:
                for name in sorted(signals_of(channel)):
                    self._readers.setdefault(name, []).append(at)

    @property
    def pairs(self) -> tuple[tuple[int, int], ...]:
        """Positions that tell one number together."""
        return tuple(sorted((min(pair), max(pair)) for pair in self._uppers.items()))

    def touch(self, names: Iterable[str]) -> None:
        """The named signals changed."""
        for name in names:
            self._dirty.update(self._readers.get(name, ()))

    def touch_past(self, numbers: Iterable[int]) -> None:
        """The channels of these numbers show something else of the past."""
        self._dirty.update(self._places[number] for number in numbers if number in self._places)

    @property
    def dirty(self) -> bool:
        """Whether some channel may be out of date."""
        return bool(self._dirty)

    def settles_at(self) -> float | None:
        """When the next channel that is held at its old step is due to leave it."""
        if not self._off_since or self._steadying is None:
            return None
        return min(self._off_since.values()) + self._steadying.settle

    def refresh_urgent(self, lookup: Lookup, now: float) -> bool:
        """Brings danger, caution and touches up to date; True when one of them changed."""
        return self._refresh(self._dirty & self._urgent, lookup, now)

    def refresh(self, lookup: Lookup, now: float, calm: bool = True) -> bool:
        """Brings every channel up to date, calm ones if asked; True when one of them changed."""
        due = set(self._dirty)
        if self._steadying is not None:
            settle = self._steadying.settle
            due.update(at for at, since in self._off_since.items() if since + settle <= now)
        return self._refresh(due if calm else due - self._calm, lookup, now)

    def _refresh(self, positions: set[int], lookup: Lookup, now: float) -> bool:
        changed = False
        for at in positions:
            if at in self._kept:
                raw = self._past[self._kept[at]]
                changed |= raw != self.raw[at]
                self.raw[at] = raw
                continue
            shown = self._steadied(at, raw_value(self._whole[at], lookup), lookup, now)
            changed |= shown != self._shown[at]
            self._tell(at, shown)
        self._dirty -= positions
        return changed

    def _tell(self, at: int, shown: int) -> None:
        self._shown[at] = self.raw[at] = shown
        if at in self._uppers:
            for place in (at, self._uppers[at]):
                self.raw[place] = _part(self.channels[place], shown)

    def _steadied(self, at: int, raw: int, lookup: Lookup, now: float) -> int:
        held = self._shown[at]
        steps = self._whole[at].steps
        if (
            self._steadying is None
            or at in self._urgent
            or not isinstance(steps, Scaled)
            or raw == held
            or raw < LIVE
            or held < LIVE
            or self._is_off(at, steps, held - LIVE, lookup)
        ):
            self._off_since.pop(at, None)
            return raw
        since = self._off_since.setdefault(at, now)
        if now >= since + self._steadying.settle:
            del self._off_since[at]
            return raw
        return held

    def _is_off(self, at: int, steps: Scaled, held: int, lookup: Lookup) -> bool:
        """Whether the value is too far from the held step to stay on it.

        Asked of the channel itself, with its scale moved: the value is within ``1/2 + beyond`` steps
        of ``held`` when it rounds to 1 on a scale of three steps of that width around it. The width is
        a millionth short, so that a value exactly a whole step away is off on either side.
        """
        assert self._steadying is not None
        width = steps.step * (1 + 2 * self._steadying.beyond) * (1 - 1e-6)
        around = Scaled(steps.low + held * steps.step - width, width, 3)
        return raw_value(replace(self._whole[at], steps=around), lookup) != LIVE + 1


def _part(channel: Channel, shown: int) -> int:
    """What one of a number's two channels tells of its raw value as a whole."""
    steps = channel.steps
    return LIVE + steps.step(shown - LIVE) if isinstance(steps, Places) and shown >= LIVE else shown


def _uppers(channels: Sequence[Channel]) -> dict[int, int]:
    """By the position of a number's last places that of what stands before them."""
    at = {channel: position for position, channel in enumerate(channels)}
    return {
        position: at[upper]
        for position, channel in enumerate(channels)
        if isinstance(channel.steps, Places)
        and not channel.steps.upper
        and (upper := replace(channel, steps=replace(channel.steps, upper=True))) in at
    }
