"""The vehicle: what is true in it, what its senders put on the bus, and what they make of requests.

``truth`` is what was put on the bus and when, in the units that the design declares. Frames are made and
read by cantools, units are converted by pint.
"""

from __future__ import annotations

import json
import math
import random
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import cantools
import pint
from crccheck.crc import Crc8SaeJ1850

from tests.world.design import Spec
from tests.world.plan import Event

ANSWERS = 0.08
"""Seconds after which the vehicle has done what it was asked."""
NAMES = {"km/h": "kilometer/hour", "°C": "degC", "°F": "degF", "K": "kelvin", "%": "percent", "lx": "lux",
         "V": "volt", "": "dimensionless", "km": "kilometer"}  # fmt: skip


@lru_cache
def units() -> Any:
    """pint's registry."""
    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    return registry


@lru_cache(maxsize=256)
def affine(given: str, wanted: str) -> tuple[float, float]:
    """Factor and offset from one unit to another, by pint."""
    if given == wanted:
        return 1.0, 0.0
    registry = units()
    zero, one = (registry.Quantity(value, NAMES[given]).to(NAMES[wanted]).magnitude for value in (0.0, 1.0))
    return one - zero, zero


@dataclass
class Told:
    """What was said of a signal: when, and the value; None where the sender said none that can be."""

    times: list[float] = field(default_factory=list)
    values: list[float | None] = field(default_factory=list)

    def say(self, at: float, value: float | None) -> None:
        """Said once more."""
        self.times.append(at)
        self.values.append(value)

    def between(self, start: float, end: float, before: bool = False) -> list[float | None]:
        """What was said in a time; with ``before`` also the last thing said before it."""
        first = bisect_right(self.times, start)
        return self.values[max(0, first - before) : bisect_right(self.times, end)]

    def backwards(self, at: float) -> Iterator[tuple[float, float | None]]:
        """What was said by a moment, and when, the latest first."""
        for place in range(bisect_right(self.times, at) - 1, -1, -1):
            yield self.times[place], self.values[place]

    def last(self, at: float) -> tuple[float, float | None] | None:
        """When something was last said by a moment, and what."""
        place = bisect_right(self.times, at) - 1
        return None if place < 0 else (self.times[place], self.values[place])


class Vehicle:
    """One vehicle with two buses, of which hmic's design describes the first. ``struck`` counts by kind what
    events changed."""

    def __init__(self, spec: Spec, events: list[Event], struck: Counter[str]) -> None:
        self.spec = spec
        self._struck = struck
        self._events = events
        self.database = cantools.database.load_string(spec.truth_dbc, "dbc")
        self.truth: dict[str, Told] = {}
        self.asked: dict[str, float] = {"oven.set": 500.0, "house.fan": 50.0, "house.lights": 0.0}
        self._to_do: list[tuple[float, str, float]] = []
        self._next = {sender.message: 0.1 + 0.003 * at for at, sender in enumerate(spec.senders)}
        self._count = {sender.message: 0 for sender in spec.senders}
        self._page = 0
        self._last: dict[str, bytes] = {}
        self._pipe_next = 0.2
        self._flooded = 0.0
        self.night = False

    def next_due(self) -> float:
        """When something is sent next."""
        times = [*self._next.values(), self._pipe_next, *(at for at, _, _ in self._to_do)]
        return min(times)

    def turn(self, now: float, put: Callable[[int, bytes], None], say: Callable[[bytes], None]) -> None:
        """Sends what is due."""
        for at, name, value in [each for each in self._to_do if each[0] <= now]:
            self._to_do.remove((at, name, value))
            self.asked[name] = value
        for sender in self.spec.senders:
            while self._next[sender.message] <= now:
                self._next[sender.message] += sender.period
                self._send(sender.message, now, put)
        flood = self._during("flood", now)
        if flood is not None:
            since = max(self._flooded, flood.at)
            self._flooded = now
            for at in range(int((now - flood.at) * flood["rate"]) - int((since - flood.at) * flood["rate"])):
                self._struck["flood"] += 1
                put(0x400 + at % 64, bytes(8))
        if self._pipe_next <= now:
            self._pipe_next += 0.3
            if self._during("pipe stops", now) is not None:
                self._struck["pipe stops"] += 1
            else:
                value = round(self._moved(17, 5.0, 95.0, now), 1)
                say(json.dumps({"tank.level": value}).encode() + b"\n")
                self._told("tank.level").say(now, value)

    def take(self, data: bytes, identifier: int, now: float) -> None:
        """A frame that hmic has sent: done a little later."""
        if identifier != self.database.get_message_by_name("Request").frame_id:
            return
        if self._during("vehicle deaf", now) is not None:
            self._struck["vehicle deaf"] += 1
            return
        asked = self.database.decode_message(identifier, data)
        for name, key in (("oven.set", "Set"), ("house.fan", "Fan"), ("house.lights", "Lights")):
            self._to_do.append((now + ANSWERS, name, float(asked[key])))

    def speed(self, now: float) -> float:
        """km/h: exactly 0 when it stands."""
        drive = self._during("drive", now)
        return 0.0 if drive is None else 35.0 + 20.0 * math.sin(now * 0.9)

    def distance(self, until: float) -> float:
        """km that it has driven since the world began."""
        return sum(
            self.speed(at / 100) / 360_000 for at in range(int(until * 100))
        )

    def _told(self, name: str) -> Told:
        return self.truth.setdefault(name, Told())

    def _during(self, kind: str, now: float, message: str = "") -> Event | None:
        for each in self._events:
            if each.kind == kind and each.at <= now < each.ends:
                senders = self.spec.senders
                if not message or senders[each["message"] % len(senders)].message == message:
                    return each
        return None

    def _moved(self, key: int, low: float, high: float, now: float) -> float:
        pace = 3.0 + key % 5
        return (low + high) / 2 + (high - low) / 2 * math.sin(now / pace * 2 * math.pi + key)

    def _value(self, name: str, low: float, high: float, flag: bool, now: float) -> float:
        if name == "vehicle.speed":
            return self.speed(now)
        if name == "vehicle.light":
            other = self._during("other light", now)
            if other is not None:
                self._struck["other light"] += 1
            return float(other["lux"]) if other is not None else 2.0 if self.night else 20000.0
        if name in self.asked:
            return self.asked[name]
        if flag:
            return float(now % 5.0 < 1.0)
        return self._moved(sum(name.encode()), low, high, now)

    def _send(self, name: str, now: float, put: Callable[[int, bytes], None]) -> None:
        message = self.database.get_message_by_name(name)
        stopped = self._during("sender stops", now, name) or self._during("sender restarts", now, name)
        if stopped is not None:
            self._struck[stopped.kind] += 1
            self._count[name] = 0
            return
        if self._during("sender repeats", now, name) is not None and name in self._last:
            self._struck["sender repeats"] += 1
            put(message.frame_id, self._last[name])
            if not self._counted(name):
                self._note(name, self._last[name], now, False)
            return
        lies = self._during("sender lies", now, name) is not None
        self._struck["sender lies"] += lies
        if name == "Speed" and self.speed(now) > 0.0:
            self._struck["drive"] += 1
        data = self._made(name, message, now, lies)
        put(message.frame_id, data)
        self._last[name] = data
        self._note(name, data, now, lies)

    def _counted(self, name: str) -> bool:
        return any(each.counted for each in self.spec.senders if each.message == name)

    def _made(self, name: str, message: Any, now: float, lies: bool) -> bytes:
        values: dict[str, float] = {}
        unknown = 0
        sender = next(each for each in self.spec.senders if each.message == name)
        page = None
        if sender.pages:
            page = sender.pages[self._page % len(sender.pages)]
            self._page += 1
            known = max(field.page or 0 for field in self.spec.fields if field.message == name)
            unknown = max(0, page - known)
            values["Page"] = page - unknown
        for each in self.spec.fields:
            if each.message == name and each.page in (None, values.get("Page")):
                values[each.name] = self._value(each.signal, each.low, each.high, each.flag, now)
                if lies and not each.flag:
                    # What the message can say and the signal can never have.
                    signal = message.get_signal_by_name(each.name)
                    values[each.name] = (signal.scale * ((1 << signal.length) - 1)) + signal.offset
        if name == "Speed":
            self._count[name] += 1
            values["Counter"] = self._count[name] % 16
            values["Checksum"] = 0
        data = bytearray(message.encode(values, strict=False))
        if name == "Speed":
            data[7] = Crc8SaeJ1850.calc(bytes(data[:7]))
        if unknown:
            data[0] += unknown
        return bytes(data)

    def _note(self, name: str, data: bytes, now: float, lies: bool) -> None:
        message = self.database.get_message_by_name(name)
        fields = [each for each in self.spec.fields if each.message == name]
        if message.is_multiplexed():
            known = max(each.page or 0 for each in fields)
            page = data[0]
            read = message.decode(bytes([min(page, known)]) + data[1:])
            fields = [each for each in fields if each.page in (None, page)]
        else:
            read = message.decode(data)
        for each in fields:
            base = each.signal.split("[")[0]
            declared = self.spec.declared[base]
            factor, offset = affine(each.unit, declared.unit) if not each.flag else (1.0, 0.0)
            value: float | None = float(read[each.name]) * factor + offset
            if not each.flag and (value is None or not declared.low - 1e-9 <= value <= declared.high + 1e-9):
                value = None
            self._told(each.signal).say(now, value)


def foreign(now: float, count: int) -> tuple[int, bytes]:
    """A frame of the second bus: the same identifier as Speed, and another speed."""
    raw = int((100.0 + 10 * math.sin(now)) * 100)
    data = raw.to_bytes(2, "little") + bytes(4) + bytes([count % 16])
    return 256, data + bytes([Crc8SaeJ1850.calc(data)])


def garbage(seed: int) -> bytes:
    """Lines that a broken feeder might write."""
    dice = random.Random(seed)
    lines = (
        *(b"{\n", b"[1, 2]\n", b"\xff\xfe\n", b'{"no.such": 1}\n'),
        *(b'{"tank.level": "x"}\n', b'{"tank.level": 1e999}\n', b'{"t": -5, "tank.level": null}\n'),
    )
    return dice.choice(lines)
