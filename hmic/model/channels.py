"""Channels: the small integers that decide which pixels are lit, and how a value becomes one."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from hmic.model.expressions import Doubt, Lookup, Typed, Value
from hmic.model.values import Item, finite, mean

LIVE = 3

LOWER_PLACES = 4
LOWER = 10_000
"""Steps of the lower of two channels that show one number."""

MOST_STEPS = 0xFFF0
"""Steps that one channel can tell."""

_HALF = 0.5 + 1e-7

# What must never be hidden behind less; a role that is none of these says that all is well, or nothing.
_GRAVITY = {"danger": 3, "caution": 2, "notice": 1}


def gravity(role: str) -> int:
    """How grave it is what a colour role tells of: the higher counts where two would show."""
    return _GRAVITY.get(role, 0)


@dataclass(frozen=True)
class Scaled:
    """Step ``round((value - low) / step)``, kept within 0 and ``count - 1``; halves round up, see
    ``nearest``."""

    low: float
    step: float
    count: int


@dataclass(frozen=True)
class Places:
    """A part of a scale that has more steps than one channel can tell: the step's last four decimal places,
    or with ``upper`` what stands before them. ``whole.low`` is 0, so that these are the figures shown."""

    whole: Scaled
    upper: bool

    @property
    def count(self) -> int:
        """Live steps."""
        return (self.whole.count - 1) // LOWER + 1 if self.upper else LOWER

    def step(self, whole: int) -> int:
        """This part of a step of the whole scale."""
        return whole // LOWER if self.upper else whole % LOWER


@dataclass(frozen=True)
class Bands:
    """The number of ``limits`` (ascending) that the value has reached, through ``order``: the
    band between two limits shows entry ``order[band]``."""

    limits: tuple[float, ...]
    order: tuple[int, ...]
    count: int


@dataclass(frozen=True)
class Listed:
    """The place of a word or flag in ``values``."""

    values: tuple[str | bool, ...]

    @property
    def count(self) -> int:
        """Live steps."""
        return len(self.values)


@dataclass(frozen=True)
class FirstTrue:
    """For lamps: 0 when none of the conditions holds, else 1 + the place of the one that counts: the
    highest in ``ranks``, of equal ones the first. Without ``ranks`` each is above all after it.
    A condition in doubt puts the whole channel in doubt unless one as high or higher is true."""

    conditions: tuple[Typed, ...]
    ranks: tuple[int, ...] = ()

    @property
    def count(self) -> int:
        """Live steps."""
        return len(self.conditions) + 1


@dataclass(frozen=True)
class Lettering:
    """How a text is spelt: step 0 is its end, step k the letter ``letters[k - 1]``.

    A text longer than ``width`` (the sum of its letters' ``advances``) or than ``most`` letters is
    cut and ends with an ellipsis, the last of ``letters``. Letters not in the set show as the one
    before the last.
    """

    letters: str
    advances: tuple[int, ...]
    width: int
    most: int


@dataclass(frozen=True)
class Spelt:
    """The letter at a place of a text."""

    lettering: Lettering
    place: int

    @property
    def count(self) -> int:
        """Live steps."""
        return len(self.lettering.letters) + 1


@dataclass(frozen=True)
class RingHead:
    """The newest slot of a ring of samples: ``floor(t / period) % slots`` at time ``t`` in s."""

    slots: int
    period: float

    @property
    def count(self) -> int:
        """Live steps."""
        return self.slots


Steps = Scaled | Places | Bands | Listed | FirstTrue | Spelt | RingHead


@dataclass(frozen=True)
class Kept:
    """A channel that shows an earlier value: slot ``slot`` of a ring of ``slots`` samples, one
    every ``period`` seconds. A slot not yet reached was never seen."""

    slots: int
    period: float
    slot: int


@dataclass(frozen=True)
class Channel:
    """What feeds a channel. ``element`` picks from an array (from 0); ``centred`` subtracts the
    mean of the array first (difference from mean). ``urgency`` 0 is the most urgent. ``kept`` is
    for the history of charts, which the runtime keeps: ``raw_value`` gives the value now. So it does where
    the runtime shows the highest of the last ``peak`` seconds, or glides to the value within ``glide``
    seconds, the short way on a closed scale of ``turn`` steps."""

    value: Typed | None
    steps: Steps
    element: int | None = None
    centred: bool = False
    urgency: int = 2
    kept: Kept | None = None
    peak: float = 0.0
    glide: float = 0.0
    turn: int = 0


def signals_of(channel: Channel) -> frozenset[str]:
    """Every signal that a channel reads."""
    names: frozenset[str] = channel.value.signals if channel.value is not None else frozenset()
    if isinstance(channel.steps, FirstTrue):
        return names.union(*(condition.signals for condition in channel.steps.conditions))
    return names


def scale_of(channel: Channel) -> Scaled | None:
    """The scale on which a channel moves from step to step, None where it goes from state to state."""
    steps = channel.steps
    if isinstance(steps, Places):
        return None if steps.upper else steps.whole
    return steps if isinstance(steps, Scaled) else None


def raw_value(channel: Channel, lookup: Lookup) -> int:
    """The raw wire value of a channel now: 0 never seen, 1 stale, 2 out of range, else
    ``LIVE + step`` with the step in 0..count-1. Total: it raises for no lookup's values.

    A number beyond the scale shows the scale's end; a word that is not listed, or a value of
    another kind than the steps take, is out of range. With ``centred`` the mean needs every
    element, so one doubtful element puts all in doubt.
    """
    steps = channel.steps
    if isinstance(steps, FirstTrue):
        return _first_true(steps, lookup)
    if isinstance(steps, RingHead):
        return LIVE + steps.slots - 1
    if channel.value is None:
        return int(Doubt.UNSEEN)
    item = _picked(channel, channel.value.evaluate(lookup))
    if isinstance(item, Doubt):
        return int(item)
    if isinstance(steps, Spelt):
        return LIVE + spelling(str(item), steps.lettering)[steps.place]
    if isinstance(steps, Listed):
        return LIVE + steps.values.index(item) if item in steps.values else int(Doubt.OUT_OF_RANGE)
    if isinstance(item, str) or not math.isfinite(item):
        return int(Doubt.OUT_OF_RANGE)
    if isinstance(steps, Scaled):
        return LIVE + _scaled(steps, item)
    if isinstance(steps, Places):
        return LIVE + steps.step(_scaled(steps.whole, item))
    band = bisect_right(steps.limits, item)
    return LIVE + steps.order[band] if band < len(steps.order) else int(Doubt.OUT_OF_RANGE)


@lru_cache(maxsize=512)
def spelling(text: str, steps: Lettering) -> tuple[int, ...]:
    """The steps of all ``most`` places of a text."""
    known = {letter: number for number, letter in enumerate(steps.letters)}
    unknown, ellipsis = len(steps.letters) - 2, len(steps.letters) - 1
    letters = [known.get(letter, unknown) for letter in text]
    width = sum(steps.advances[letter] for letter in letters)
    if width > steps.width or len(letters) > steps.most:
        room = steps.width - steps.advances[ellipsis]
        kept: list[int] = []
        for letter in letters[: steps.most - 1]:
            room -= steps.advances[letter]
            if room < 0:
                break
            kept.append(letter)
        letters = [*kept, ellipsis]
    return tuple(letter + 1 for letter in letters) + (0,) * (steps.most - len(letters))


def _scaled(steps: Scaled, number: float) -> int:
    top = steps.count - 1
    if steps.step == 0 or top <= 0:
        return 0
    place = (number - steps.low) / steps.step
    if not place > 0:
        return 0
    return top if place >= top else nearest(place)


def nearest(number: float) -> int:
    """The nearest whole number, of two as near the upper one. What a float cannot hold to the last bit
    (0.05 is 0.5 steps of 0.1 on one scale, 0.49999999 on another) must not decide: what is no more than
    1e-7 short of a half is one. That is above the error of values up to 1e8 steps from zero, and below
    any half that a person writes."""
    return math.floor(number + _HALF)


def _first_true(steps: FirstTrue, lookup: Lookup) -> int:
    ranks = steps.ranks or range(0, -len(steps.conditions), -1)
    held: tuple[int, int] | None = None
    doubts: list[tuple[int, Doubt]] = []
    for place, (condition, rank) in enumerate(zip(steps.conditions, ranks, strict=True)):
        value = condition.evaluate(lookup)
        if value is True:
            held = (rank, place) if held is None or rank > held[0] else held
        elif isinstance(value, Doubt):
            doubts.append((rank, value))
        elif not isinstance(value, bool):
            doubts.append((rank, Doubt.OUT_OF_RANGE))
    grave = [doubt for rank, doubt in doubts if held is None or rank > held[0]]
    if grave:
        return int(min(grave))
    return LIVE + (0 if held is None else 1 + held[1])


def _picked(channel: Channel, value: Value) -> Item:
    if not isinstance(value, tuple):
        return value
    index = channel.element
    if index is None or not 0 <= index < len(value):
        return Doubt.UNSEEN
    item = value[index]
    if not channel.centred:
        return item
    if isinstance(item, Doubt):
        return item
    middle = _middle(value)
    if isinstance(middle, Doubt):
        return middle
    return Doubt.OUT_OF_RANGE if isinstance(item, str) else finite(item - middle)


def _middle(value: tuple[Item, ...]) -> float | Doubt:
    """The mean of an array, or its gravest doubt; worked out once for all that show its elements."""
    if _latest[0] is not value:
        doubts = [other for other in value if isinstance(other, Doubt)]
        numbers = [other for other in value if isinstance(other, int | float)]
        if doubts:
            _latest[:] = [value, min(doubts)]
        else:
            _latest[:] = [value, mean(numbers) if len(numbers) == len(value) else Doubt.OUT_OF_RANGE]
    middle: float | Doubt = _latest[1]
    return middle


# The array that was asked about last, kept alive so that it is known by identity, and its mean.
_latest: list[Any] = [(), Doubt.UNSEEN]
