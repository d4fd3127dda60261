"""The lines of a record, read with doubt: a file may have been cut, damaged or written by another hand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from hmic.model.values import Doubt, Item
from hmic.runtime.decoding import Arrival, Reading
from hmic.sources.frame import Frame

LEAP = 86400.0
"""Seconds after which a time that no second line confirms is taken for damaged."""
HIGHEST_RAW = 0xFFFF
HIGHEST_IDENTIFIER = 0x1FFFFFFF
DAY = 1440.0


class SpoiltLine(Exception):
    """A line that says nothing that could be used."""


@dataclass(frozen=True)
class Clock:
    """The time of day in minutes, from ``at`` on."""

    at: float
    minutes: float


class Times:
    """The times of a record, which rise but for what came late. One that leaps ahead by more than a day
    counts when the next line says so too: a single damaged one must not hold up all that follows."""

    def __init__(self) -> None:
        self._last = 0.0
        self._leapt: float | None = None

    def take(self, said: Any) -> float:
        """The time of the next line. Raises SpoiltLine."""
        at = number(said)
        if at < 0:
            raise SpoiltLine
        if at > self._last + LEAP and (self._leapt is None or not 0 <= at - self._leapt <= LEAP):
            self._leapt = at
            raise SpoiltLine
        self._leapt = None
        self._last = max(self._last, at)
        return at


def number(said: Any) -> float:
    """A finite number. Raises SpoiltLine."""
    # Compared before it is converted: a whole number of 400 digits is none that a float can hold.
    if isinstance(said, bool) or not isinstance(said, int | float) or not -1e300 < said < 1e300:
        raise SpoiltLine
    return float(said)


def raw_values(said: Any) -> tuple[int, ...]:
    """The raw values of a screen. Raises SpoiltLine."""
    if not isinstance(said, list):
        raise SpoiltLine
    return tuple(_whole(item, HIGHEST_RAW) for item in said)


def moved(raw: tuple[int, ...], changes: Any) -> tuple[int, ...]:
    """Raw values with what changed in them. Raises SpoiltLine."""
    values = list(raw)
    if not isinstance(changes, dict):
        raise SpoiltLine
    for place, new in changes.items():
        if not (place.isascii() and place.isdigit() and len(place) < 6 and int(place) < len(values)):
            raise SpoiltLine
        values[int(place)] = _whole(new, HIGHEST_RAW)
    return tuple(values)


def what_came(at: float, line: Mapping[str, Any]) -> Frame | Arrival | Clock:
    """What a line says that came. Raises SpoiltLine."""
    if "clock" in line:
        minutes = number(line["clock"])
        if not 0 <= minutes <= DAY:
            raise SpoiltLine
        return Clock(at, minutes)
    if "id" in line:
        return _frame(at, line["id"], line.get("data"), line.get("bus", ""))
    said = line.get("set")
    if not isinstance(said, list):
        raise SpoiltLine
    return Arrival(at, tuple(_reading(item) for item in said))


def _frame(at: float, identifier: Any, data: Any, bus: Any) -> Frame:
    if not isinstance(identifier, str) or not isinstance(data, str) or not isinstance(bus, str):
        raise SpoiltLine
    try:
        found = Frame(at, int(identifier, 16), len(identifier) > 3, bytes.fromhex(data), bus=bus)
    except ValueError as fault:
        raise SpoiltLine from fault
    if not 0 <= found.identifier <= HIGHEST_IDENTIFIER:
        raise SpoiltLine
    return found


def _reading(item: Any) -> Reading:
    if not isinstance(item, list) or len(item) != 3 or not isinstance(item[0], str):
        raise SpoiltLine
    name, element, value = item
    return Reading(name, None if element is None else _whole(element, HIGHEST_RAW), _value(value))


def _value(said: Any) -> Item:
    if isinstance(said, str):
        return said.encode("utf-8", "replace").decode()
    if isinstance(said, bool):
        return said
    if not isinstance(said, dict):
        return float(said) if isinstance(said, float) and math.isfinite(said) else number(said)
    doubt = said.get("doubt")
    if not isinstance(doubt, str) or doubt.upper() not in Doubt.__members__:
        raise SpoiltLine
    return Doubt[doubt.upper()]


def _whole(said: Any, most: int) -> int:
    if isinstance(said, bool) or not isinstance(said, int) or not 0 <= said <= most:
        raise SpoiltLine
    return said
