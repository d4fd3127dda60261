"""A bench without a vehicle: every signal of a design, moving plausibly within its range.

It knows nothing of vehicles. A number swings slowly inside its range, a word steps on, a flag is on now
and then, but one that brings up a screen by itself stays off. Each by its name and the time
alone, so that two runs are alike. What a touch asks for is done at once, as an obliging vehicle would.
"""

from __future__ import annotations

import math
import time
import zlib
from collections.abc import Iterable, Mapping

from hmic.diagnostics import Finding
from hmic.model.design import SignalDefinition
from hmic.model.expressions import Scalar, ValueKind
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.sources import LIMIT, rest
from hmic.runtime.vehicle_time import VehicleTime

PERIODS = (0.05, 1.0)
"""Seconds between two values of a signal: at least, at most; else a quarter of its stale time."""
SWING = (20.0, 90.0)
"""Seconds of a number's slow swing: shortest, longest."""
PART = 0.45
"""Part of half the range that a number swings over."""
WORD_TIME = 15.0
FLAG_EVERY, FLAG_ON = 120.0, 6.0


class Simulator:
    """A source of made values. ``quiet`` flags stay off."""

    def __init__(
        self,
        signals: Mapping[str, SignalDefinition],
        vehicle_time: VehicleTime,
        quiet: Iterable[str] = (),
        least: float = PERIODS[0],
    ) -> None:
        self.frames = 0
        self.ended = False
        self.health = "up"
        self.name = "simulator"
        self._vehicle_time = vehicle_time
        self._quiet = frozenset(quiet)
        self._asked: dict[str, Scalar] = {}
        self._groups: dict[float, list[SignalDefinition]] = {}
        for definition in signals.values():
            if definition.derived is None:
                stale = definition.stale_after / 1000 or 4 * PERIODS[1]
                period = max(least, min(max(stale / 4, PERIODS[0]), PERIODS[1]))
                self._groups.setdefault(period, []).append(definition)
        self._counts = dict.fromkeys(self._groups, 0)

    def due(self, now: float) -> list[Arrival]:
        """What is due by ``now``, in order of time."""
        self._vehicle_time.start(now)
        until = self._vehicle_time.at(now)
        arrivals: list[Arrival] = []
        while len(arrivals) < LIMIT:
            period = min(self._groups, key=lambda each: (self._counts[each] * each, each), default=None)
            if period is None or self._counts[period] * period > until:
                break
            at = self._counts[period] * period
            self._counts[period] += 1
            self.frames += 1
            readings = [item for definition in self._groups[period] for item in self._values(definition, at)]
            arrivals.append(Arrival(at, tuple(readings)))
        return arrivals

    def ask(self, name: str, value: Scalar) -> None:
        """From now on the signal has this value."""
        self._asked[name] = value

    def _values(self, definition: SignalDefinition, at: float) -> list[Reading]:
        name = definition.name
        if name in self._asked:
            return [Reading(name, None, self._asked[name])]
        if definition.count is None:
            return [Reading(name, None, _value(definition, at, 0, name in self._quiet))]
        return [
            Reading(name, place, _value(definition, at, place, name in self._quiet))
            for place in range(definition.count)
        ]

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Waits on the display."""
        rest(seconds, [descriptor], time.sleep)

    def descriptor(self) -> int | None:
        """None: it has deadlines."""
        return None

    def next_deadline(self) -> float | None:
        """When the next values are due."""
        times = [count * period for period, count in self._counts.items()]
        return self._vehicle_time.host(min(times)) if times else None

    def take_findings(self) -> list[Finding]:
        """It has none."""
        return []

    def close(self) -> None:
        """It ends."""
        self.ended = True


def _value(definition: SignalDefinition, at: float, place: int, quiet: bool) -> Scalar:
    seed = zlib.crc32(definition.name.encode())
    share = seed / (1 << 32)
    if definition.kind == ValueKind.NUMBER:
        middle, half = (definition.low + definition.high) / 2, (definition.high - definition.low) / 2
        period = SWING[0] + share * (SWING[1] - SWING[0])
        # The elements of a list lie close together, as cells and sensors do.
        scatter = 0.03 * math.sin(place * 2.4 + seed % 7)
        return middle + PART * half * (math.sin(2 * math.pi * (at / period + share)) + scatter)
    if definition.kind == ValueKind.FLAG:
        return not quiet and (at + share * FLAG_EVERY) % FLAG_EVERY < FLAG_ON
    if definition.kind == ValueKind.WORD:
        words = tuple(dict.fromkeys(definition.words.values()))
        return words[int(at / WORD_TIME + share * len(words)) % len(words)] if words else ""
    word = definition.name.rpartition(".")[2].replace("_", " ").capitalize()
    return word if definition.count is None else f"{word} {place + 1}"
