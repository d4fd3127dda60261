"""Functions of the past: typed here, remembered by the runtime.

An expression stays pure. A call such as ``smooth(pack.current, 5 s)`` becomes a ``Memory`` beside the
signals and reads as one more signal, named by its own text.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from hmic.language import syntax
from hmic.language.spelling import written
from hmic.language.syntax import Operator
from hmic.model import values
from hmic.model.arithmetic import aligned_with, times_bound
from hmic.model.terms import (
    Memory,
    MemoryKind,
    Typed,
    Typing,
    are_numbers,
    as_unit,
    constant_flag,
    is_amount,
    is_flag,
    is_number,
    said,
)
from hmic.model.units import Unit, difference, product, quotient, unit_of
from hmic.model.values import ValueKind

REMEMBERING: Mapping[str, str] = {
    "rate": "how fast a value changes, over a time: rate(motor.temperature, 30 s) in K/min",
    "average": "the mean over a time gone by: average(pack.power, 5 min)",
    "smooth": "a low-pass filter with its time constant: smooth(pack.current, 2 s)",
    "integral": "summed over time, kept when the power goes; a flag that turns on starts it again: "
    "integral(pack.power, trip.reset) in kWh",
    "hysteresis": "on from one limit, off from the other: hysteresis(motor.temperature, 110 °C, 100 °C)",
    "hold": "a flag that stays on for a time: hold(pack.fault, 2 s)",
    "debounce": "a flag or word, taken once it has been steady for a time: debounce(charge.plugged, 1 s)",
    "time_to": "the time to a value, at the rate of late: time_to(pack.charge, 80 %, 5 min) in min",
    "efficiency": "energy for distance, over a time: efficiency(pack.power, vehicle.speed, 5 min) in Wh/km",
}

_SECOND, _WATT, _KILOWATT, _SPEED, _ENERGY = map(unit_of, ("s", "W", "kW", "m/s", "J/m"))
_FIXED = "write a number with its unit"

LONGEST = 86400.0
"""Seconds that a time may have."""


def remembering(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    """A call of one of ``REMEMBERING`` typed; what it remembers is added to the scope."""
    usage = REMEMBERING[node.function]
    if typing.scope.memories is None:
        message = f"{node.function}() needs to remember, which a layout cannot"
        name = "some.name"
        remedy = f'give it a name in signals.yaml: `{name}: {{is: "{written(node)}"}}`'
        typing.fail("M280", message, node.span, remedy)
        return None
    pairs = zip(node.arguments, known, strict=True)
    lists = [said(place) for place, value in pairs if value.count is not None]
    if lists:
        message = f"{node.function}() takes single values; {lists[0]} is a list"
        typing.fail("M208", message, node.span, usage)
        return None
    least, most, function = _TYPINGS[node.function]
    if not least <= len(known) <= most:
        wanted = f"{least}" if least == most else f"{least} or {most}"
        typing.fail("M208", f"{node.function}() takes {wanted} values", node.span, usage)
        return None
    return function(node, known, typing)


def _seconds(place: syntax.Expression, value: Typed, typing: Typing) -> float | None:
    """A constant time in s."""
    converted = as_unit(value, _SECOND) if value.constant and value.kind == ValueKind.NUMBER else None
    if converted is None or not 0.01 <= converted.low <= LONGEST:
        message = f"{said(place)} is no fixed time from 10 ms to 24 h"
        typing.fail("M281", message, place.span, "write, say, `5 s`")
        return None
    return converted.low


def _remember(typing: Typing, memory: Memory, like: Typed) -> Typed:
    """The memory added to the scope, and ``like`` as what reads it."""
    assert typing.scope.memories is not None
    typing.scope.memories.setdefault(memory.name, memory)
    signals = like.signals | memory.input.signals | {memory.name}
    if memory.reset is not None:
        signals |= memory.reset.signals
    return replace(like, signals=signals, evaluate=values.remembered(memory.name))


def _over_time(
    kind: MemoryKind, place: syntax.Expression, value: Typed, seconds: float, typing: Typing
) -> Typed:
    """``rate``, ``average`` or ``smooth`` of a number, in its own unit (a rate: per second)."""
    memory = Memory(f"{kind}({written(place)}, {seconds:g} s)", kind, value, seconds=seconds)
    return _remember(typing, memory, value)


def _window(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    seconds = _seconds(node.arguments[-1], known[-1], typing)
    if not is_number(node.arguments[0], known[0], node.function, typing) or seconds is None:
        return None
    result = _over_time(MemoryKind(node.function), node.arguments[0], known[0], seconds, typing)
    return _as_rate(result, known[0], seconds) if node.function == "rate" else result


def _as_rate(result: Typed, value: Typed, seconds: float) -> Typed:
    assert value.unit is not None
    scale = float(value.unit.factor) if value.unit.offset else 1.0
    most = (value.high - value.low) / seconds * scale
    scaled = values.each(result.evaluate, values.scaled(scale))
    of = quotient(difference(value.unit), _SECOND)
    return replace(result, unit=of, low=-most, high=most, evaluate=scaled)


def _integral(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    value, place = known[0], node.arguments[0]
    if not is_number(place, value, "integral", typing) or not is_amount(place, value, "integral", typing):
        return None
    if len(known) == 2 and not is_flag(node.arguments[1], known[1], "integral", typing):
        return None
    assert value.unit is not None
    memory = Memory(written(node), MemoryKind.INTEGRAL, value, known[1] if len(known) == 2 else None)
    low = 0.0 if value.low >= 0 else -math.inf
    high = 0.0 if value.high <= 0 else math.inf
    return replace(
        _remember(typing, memory, value), unit=product(value.unit, _SECOND), low=low, high=high, words=()
    )


def _hysteresis(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    if not are_numbers(node, known, typing):
        return None
    limits = []
    for place, value in zip(node.arguments[1:], known[1:], strict=True):
        pair = syntax.Operation(Operator.BELOW, node.arguments[0], place, place.span)
        aligned = aligned_with(pair, known[0], value, typing)
        if aligned is not None and not aligned.constant:
            typing.fail("M281", f"{said(place)} is no fixed limit", place.span, _FIXED)
        elif aligned is not None:
            limits.append(aligned.low)
    if len(limits) != 2 or not all(value.constant for value in known[1:]):
        return None
    if limits[0] == limits[1]:
        message = "the two limits of a hysteresis are the same"
        typing.fail("M281", message, node.span, "let it go off some way below, or above, where it goes on")
        return None
    memory = Memory(written(node), MemoryKind.HYSTERESIS, known[0], on=limits[0], off=limits[1])
    return _remember(typing, memory, constant_flag(False))


def _delayed(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    seconds = _seconds(node.arguments[1], known[1], typing)
    word = node.function == "debounce" and known[0].kind == ValueKind.WORD
    if not word and not is_flag(node.arguments[0], known[0], node.function, typing):
        return None
    if seconds is None:
        return None
    memory = Memory(written(node), MemoryKind(node.function), known[0], seconds=seconds)
    return _remember(typing, memory, known[0])


def _time_to(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    numbers = are_numbers(node, known, typing)
    seconds = _seconds(node.arguments[2], known[2], typing) if numbers else None
    if seconds is None:
        return None
    pair = syntax.Operation(Operator.MINUS, node.arguments[1], node.arguments[0], node.arguments[1].span)
    target = aligned_with(pair, known[0], known[1], typing)
    if target is None:
        return None
    pace = _over_time(MemoryKind.RATE, node.arguments[0], known[0], seconds, typing)
    missing = values.pair(target.evaluate, known[0].evaluate, values.certain(values.calculated(values.minus)))
    left = values.pair(missing, pace.evaluate, values.certain(values.calculated(values.reached)))
    signals = pace.signals | target.signals
    return Typed(ValueKind.NUMBER, _SECOND, None, 0.0, math.inf, (), signals, left)


def _efficiency(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    seconds = _seconds(node.arguments[2], known[2], typing)
    parts = []
    asked = ((_WATT, "a power"), (_SPEED, "a speed"))
    for place, value, (of, what) in zip(node.arguments, known, asked, strict=False):
        converted = as_unit(value, of) if is_number(place, value, "efficiency", typing) else None
        if converted is None:
            usage = REMEMBERING["efficiency"]
            typing.fail("M208", f"efficiency() needs {what}; {said(place)} is none", place.span, usage)
        elif seconds is not None:
            averaged = as_unit(_over_time(MemoryKind.AVERAGE, place, value, seconds, typing), of)
            assert averaged is not None
            parts.append(averaged)
    if len(parts) != 2:
        return None
    power, speed = parts
    share = values.pair(power.evaluate, speed.evaluate, values.certain(values.for_distance))
    low = -math.inf if power.low < 0 else 0.0
    signals = power.signals | speed.signals
    return Typed(ValueKind.NUMBER, _ENERGY, None, low, math.inf, (), signals, share)


_Typing = Callable[[syntax.Call, Sequence[Typed], Typing], Typed | None]
_TYPINGS: Mapping[str, tuple[int, int, _Typing]] = {
    "rate": (2, 2, _window),
    "average": (2, 2, _window),
    "smooth": (2, 2, _window),
    "integral": (1, 2, _integral),
    "hysteresis": (3, 3, _hysteresis),
    "hold": (2, 2, _delayed),
    "debounce": (2, 2, _delayed),
    "time_to": (3, 3, _time_to),
    "efficiency": (3, 3, _efficiency),
}
"""How many values each takes at least and at most."""


def power(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    """``power(torque, speed)`` or ``power(voltage, current)`` in kW, whichever comes first."""
    usage = "power: of torque and turning speed, or of voltage and current: power(motor.torque, motor.speed)"
    units = [value.unit for value in known]
    fits = len(known) == 2 and all(value.kind == ValueKind.NUMBER for value in known)
    of: Unit | None = None
    if fits and units[0] is not None and units[1] is not None and not (units[0].offset or units[1].offset):
        of = product(units[0], units[1])
    if of is None or of.dimension != _KILOWATT.dimension:
        typing.fail("M208", "power() takes two values whose product is a power", node.span, usage)
        return None
    a, b = known
    ends = [times_bound(x, y) for x in (a.low, a.high) for y in (b.low, b.high)]
    times = values.pair(a.evaluate, b.evaluate, values.certain(values.calculated(values.times)))
    count = a.count if a.count is not None else b.count
    if a.count is not None and b.count is not None and a.count != b.count:
        typing.fail("M213", "power() is given lists of different lengths", node.span, usage)
        return None
    result = Typed(ValueKind.NUMBER, of, count, min(ends), max(ends), (), a.signals | b.signals, times)
    return as_unit(result, _KILOWATT)


def interpolate(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> Typed | None:
    """``interpolate(x, x1, y1, x2, y2, ...)``: straight lines between the points; out of range
    beyond the first and last."""
    usage = "interpolate: between points: interpolate(tank.voltage, 0.5 V, 0 %, 2.5 V, 60 %, 4.5 V, 100 %)"
    if len(known) < 5 or len(known) % 2 == 0:
        message = "interpolate() takes a value and at least two points, each of two numbers"
        typing.fail("M208", message, node.span, usage)
        return None
    value, places = known[0], node.arguments
    xs = _points(places[0], value, places[1::2], known[1::2], typing)
    ys = _points(places[2], known[2], places[2::2], known[2::2], typing)
    if xs is None or ys is None:
        return None
    if any(b <= a for a, b in pairwise(xs)):
        message = "the points of interpolate() do not rise"
        typing.fail("M281", message, node.span, "write them in rising order of the first number")
        return None

    return replace(
        known[2],
        count=value.count,
        low=min(ys),
        high=max(ys),
        signals=value.signals,
        evaluate=values.each(value.evaluate, values.between(tuple(xs), tuple(ys))),
    )


def _points(
    first: syntax.Expression,
    like: Typed,
    places: Sequence[syntax.Expression],
    given: Sequence[Typed],
    typing: Typing,
) -> list[float] | None:
    """Constants in the unit of ``like``."""
    found = []
    if not is_number(first, like, "interpolate", typing):
        return None
    for place, value in zip(places, given, strict=True):
        if not is_number(place, value, "interpolate", typing):
            continue
        pair = syntax.Operation(Operator.BELOW, first, place, place.span)
        aligned = aligned_with(pair, like, value, typing)
        if aligned is not None and not aligned.constant:
            typing.fail("M281", f"{said(place)} is no fixed number", place.span, _FIXED)
        elif aligned is not None:
            found.append(aligned.low)
    return found if len(found) == len(given) else None
