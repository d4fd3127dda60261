"""Channels: the small integers that decide which pixels are lit, and how a value becomes one."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass

from hmic.model.expressions import Doubt, Typed, Value

LIVE = 3


@dataclass(frozen=True)
class Scaled:
    """Step ``round((value - low) / step)``, kept within 0 and ``count - 1``; halves round up."""

    low: float
    step: float
    count: int


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
    """For lamps: 0 when none of the conditions holds, else 1 + the place of the first true one.
    A condition in doubt puts the whole channel in doubt unless an earlier one is true."""

    conditions: tuple[Typed, ...]

    @property
    def count(self) -> int:
        """Live steps."""
        return len(self.conditions) + 1


Steps = Scaled | Bands | Listed | FirstTrue


@dataclass(frozen=True)
class Channel:
    """What feeds a channel. ``element`` picks from an array (from 0); ``centred`` subtracts the
    mean of the array first (difference from mean). ``urgency`` 0 is the most urgent."""

    value: Typed | None
    steps: Steps
    element: int | None = None
    centred: bool = False
    urgency: int = 2


def raw_value(channel: Channel, lookup) -> int:  # type: ignore[no-untyped-def]
    """The raw wire value of a channel now."""
    raise NotImplementedError
