"""Values with doubt, and the closures that compute with them. Each closure knows how it was made (``made``).

Every closure is total: whatever a lookup gives, it returns a value or a ``Doubt``. Where several
inputs are in doubt the result is in the gravest: never seen before stale before out of range. A
value that was never there says most about what to look for, and an implausible one at least came.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from enum import IntEnum, StrEnum
from operator import add, ge, gt, le, lt, mul, sub, truediv
from typing import Protocol

from hmic.model.made import Sort, maker, plain
from hmic.model.units import Unit, converter


class ValueKind(StrEnum):
    """What a signal or an expression is: what may be done with it."""

    NUMBER = "number"
    FLAG = "flag"
    WORD = "word"
    TEXT = "text"


class Doubt(IntEnum):
    """Why a value cannot be shown. The numbers are the raw values on the wire."""

    UNSEEN = 0
    STALE = 1
    OUT_OF_RANGE = 2


Scalar = float | bool | str
Item = Scalar | Doubt
Value = Scalar | tuple[Item, ...] | Doubt
Lookup = Callable[[str], Value]
Evaluate = Callable[[Lookup], Value]

# Decoding gives 0.1 * 1000 as 100.00000000000001; a range holds to this share of its width.
SLACK = 1e-9


class Evaluates(Protocol):
    """What ``lookup_over`` needs to know of a derived value."""

    @property
    def kind(self) -> str:
        """``number``, ``flag``, ``word`` or ``text``."""

    @property
    def low(self) -> float:
        """The least that a number can be."""

    @property
    def high(self) -> float:
        """The most."""

    @property
    def evaluate(self) -> Evaluate:
        """Its closure."""


@maker(Sort.VALUE, Scalar)
def constant(value: Scalar) -> Evaluate:
    """Always this value."""
    return lambda lookup: value


@maker(Sort.CHECK, float, float)
def number_check(low: float, high: float) -> Callable[[object], Item]:
    """A finite float within the range, else the doubt."""
    width = high - low
    slack = SLACK * width if math.isfinite(width) else 0.0
    least, most = low - slack, high + slack

    def check(value: object) -> Item:
        if isinstance(value, Doubt):
            return value
        if isinstance(value, bool) or not isinstance(value, int | float):
            return Doubt.OUT_OF_RANGE
        if not least <= value <= most:
            return Doubt.OUT_OF_RANGE
        try:
            result = float(value)
        except OverflowError:
            return Doubt.OUT_OF_RANGE
        return result if math.isfinite(result) else Doubt.OUT_OF_RANGE

    return check


@plain(Sort.CHECK)
def flag_check(value: object) -> Item:
    """A bool (0 and 1 count), else the doubt."""
    if isinstance(value, Doubt | bool):
        return value
    if isinstance(value, int | float) and value in (0, 1):
        return value == 1
    return Doubt.OUT_OF_RANGE


@maker(Sort.CHECK, tuple[str, ...])
def word_check(words: Sequence[str]) -> Callable[[object], Item]:
    """One of the words, else the doubt."""
    known = frozenset(words)

    def check(value: object) -> Item:
        if isinstance(value, Doubt):
            return value
        return value if isinstance(value, str) and value in known else Doubt.OUT_OF_RANGE

    return check


@plain(Sort.CHECK)
def text_check(value: object) -> Item:
    """A string, else the doubt."""
    return value if isinstance(value, Doubt | str) else Doubt.OUT_OF_RANGE


@maker(Sort.VALUE, str, int | None, Sort.CHECK)
def read(name: str, count: int | None, check: Callable[[object], Item]) -> Evaluate:
    """The signal's value from the lookup, checked. A name the lookup does not know (KeyError) and
    an array of the wrong length count as never seen."""
    # An array is checked once, not once for each channel that shows one of its elements.
    last: list[tuple[Item, ...]] = [(), ()]

    def scalar(lookup: Lookup) -> Value:
        try:
            return check(lookup(name))
        except KeyError:
            return Doubt.UNSEEN

    def array(lookup: Lookup) -> Value:
        try:
            value = lookup(name)
        except KeyError:
            return Doubt.UNSEEN
        if isinstance(value, Doubt):
            return value
        if not isinstance(value, tuple) or len(value) != count:
            return Doubt.UNSEEN
        if value is not last[0]:
            last[:] = [value, tuple(check(item) for item in value)]
        return last[1]

    return scalar if count is None else array


@maker(Sort.VALUE, str)
def remembered(name: str) -> Evaluate:
    """What is remembered by a name, as it is. A name that the lookup does not know was never seen."""

    def run(lookup: Lookup) -> Value:
        try:
            return lookup(name)
        except KeyError:
            return Doubt.UNSEEN

    return run


@maker(Sort.VALUE, Sort.VALUE, Sort.ONE)
def each(inner: Evaluate, function: Callable[[Scalar], Item]) -> Evaluate:
    """The function of the value, or of each element; doubts pass."""

    def one(item: Item) -> Item:
        return item if isinstance(item, Doubt) else function(item)

    def run(lookup: Lookup) -> Value:
        value = inner(lookup)
        return tuple(one(item) for item in value) if isinstance(value, tuple) else one(value)

    return run


@maker(Sort.VALUE, Sort.VALUE, Sort.VALUE, Sort.TWO)
def pair(left: Evaluate, right: Evaluate, function: Callable[[Item, Item], Item]) -> Evaluate:
    """The function of two values, element by element where one is an array. The function gets the
    doubts too."""

    def run(lookup: Lookup) -> Value:
        a, b = left(lookup), right(lookup)
        if isinstance(a, tuple):
            if isinstance(b, tuple):
                return tuple(map(function, a, b))
            return tuple(function(item, b) for item in a)
        if isinstance(b, tuple):
            return tuple(function(a, item) for item in b)
        return function(a, b)

    return run


@maker(Sort.TWO, Sort.SURE)
def certain(function: Callable[[Scalar, Scalar], Item]) -> Callable[[Item, Item], Item]:
    """A function for ``pair`` that is in doubt as soon as an input is."""

    def run(a: Item, b: Item) -> Item:
        if isinstance(a, Doubt):
            return min(a, b) if isinstance(b, Doubt) else a
        return b if isinstance(b, Doubt) else function(a, b)

    return run


@maker(Sort.SURE, Sort.SUM)
def calculated(function: Callable[[float, float], float]) -> Callable[[Scalar, Scalar], Item]:
    """Arithmetic on two numbers; what is no finite number is out of range."""

    def run(a: Scalar, b: Scalar) -> Item:
        if isinstance(a, str) or isinstance(b, str):
            return Doubt.OUT_OF_RANGE
        try:
            return finite(function(a, b))
        except (ZeroDivisionError, OverflowError):
            return Doubt.OUT_OF_RANGE

    return run


def finite(value: float) -> Item:
    """The number, or out of range when it is none."""
    return value if math.isfinite(value) else Doubt.OUT_OF_RANGE


@plain(Sort.ONE)
def opposite(item: Scalar) -> Item:
    """``not``."""
    return not item


@plain(Sort.ONE)
def negative(item: Scalar) -> Item:
    """The number below zero as far as it was above."""
    return Doubt.OUT_OF_RANGE if isinstance(item, str) else -float(item)


@plain(Sort.ONE)
def size(item: Scalar) -> Item:
    """The number without its sign."""
    return Doubt.OUT_OF_RANGE if isinstance(item, str) else abs(float(item))


@maker(Sort.ONE, Unit, Unit)
def converted(source: Unit, target: Unit) -> Callable[[Scalar], Item]:
    """A number of one unit in another."""
    convert = converter(source, target)
    return lambda item: Doubt.OUT_OF_RANGE if isinstance(item, str) else finite(convert(float(item)))


@maker(Sort.ONE, float)
def scaled(scale: float) -> Callable[[Scalar], Item]:
    """So many times as much."""
    return lambda item: Doubt.OUT_OF_RANGE if isinstance(item, str) else finite(float(item) * scale)


@maker(Sort.ONE, tuple[float, ...], tuple[float, ...])
def between(xs: Sequence[float], ys: Sequence[float]) -> Callable[[Scalar], Item]:
    """Straight lines between points; out of range beyond the first and the last. ``xs`` rise."""

    def run(item: Scalar) -> Item:
        if isinstance(item, str) or not xs[0] <= item <= xs[-1]:
            return Doubt.OUT_OF_RANGE
        at = next(number for number in range(1, len(xs)) if item <= xs[number])
        part = (item - xs[at - 1]) / (xs[at] - xs[at - 1])
        return finite(ys[at - 1] + part * (ys[at] - ys[at - 1]))

    return run


@maker(Sort.SURE, bool)
def same(wanted: bool) -> Callable[[Scalar, Scalar], Item]:
    """Whether two are alike, or that they are not."""
    return lambda a, b: (a == b) is wanted


@maker(Sort.SURE, str)
def compared(order: str) -> Callable[[Scalar, Scalar], Item]:
    """Whether the first number is ``<``, ``<=``, ``>`` or ``>=`` the second."""
    holds = ORDERS[order]

    def run(a: Scalar, b: Scalar) -> Item:
        if isinstance(a, str) or isinstance(b, str):
            return Doubt.OUT_OF_RANGE
        return holds(float(a), float(b))

    return run


ORDERS: Mapping[str, Callable[[float, float], bool]] = {"<": lt, "<=": le, ">": gt, ">=": ge}

plus = plain(Sort.SUM, "plus")(add)
minus = plain(Sort.SUM, "minus")(sub)
times = plain(Sort.SUM, "times")(mul)
over = plain(Sort.SUM, "over")(truediv)


@maker(Sort.SUM, float)
def moved(by: float) -> Callable[[float, float], float]:
    """The first number moved by so many times the second."""
    return lambda a, b: a + by * b


@plain(Sort.SUM)
def reached(missing: float, pace: float) -> float:
    """Seconds until what is missing is there; not a number when it moves away or stands still."""
    if missing == 0:
        return 0.0
    return missing / pace if missing * pace > 0 else math.nan


@plain(Sort.SURE)
def for_distance(power: Scalar, speed: Scalar) -> Item:
    """J/m; out of range below walking pace (1 km/h), where a distance means nothing."""
    if isinstance(power, str) or isinstance(speed, str) or abs(speed) < 1 / 3.6:
        return Doubt.OUT_OF_RANGE
    return finite(power / abs(speed))


least = plain(Sort.MANY, "least")(min)
most = plain(Sort.MANY, "most")(max)


@plain(Sort.MANY)
def width(numbers: Sequence[float]) -> float:
    """The largest less the smallest."""
    return max(numbers) - min(numbers)


@plain(Sort.MANY)
def how_many(numbers: Sequence[float]) -> float:
    """How many are true."""
    return float(sum(map(bool, numbers)))


@plain(Sort.MANY)
def place_of_least(numbers: Sequence[float]) -> float:
    """The place, from 1, of the smallest."""
    return float(numbers.index(min(numbers)) + 1)


@plain(Sort.MANY)
def place_of_most(numbers: Sequence[float]) -> float:
    """The place, from 1, of the largest."""
    return float(numbers.index(max(numbers)) + 1)


@plain(Sort.MANY)
def total(numbers: Sequence[float]) -> float:
    """The exactly rounded sum (the same in every Python), infinite on overflow."""
    try:
        return math.fsum(numbers)
    except (OverflowError, ValueError):
        return math.inf


@plain(Sort.MANY)
def mean(numbers: Sequence[float]) -> float:
    """The arithmetic mean of at least one number."""
    return total(numbers) / len(numbers)


def _all_true(a: Scalar, b: Scalar) -> Item:
    return bool(a) and bool(b)


def _any_true(a: Scalar, b: Scalar) -> Item:
    return bool(a) or bool(b)


_and, _or = certain(_all_true), certain(_any_true)


@plain(Sort.TWO)
def both(a: Item, b: Item) -> Item:
    """``and``: false as soon as one is surely false, whatever the other."""
    if a is False or b is False:
        return False
    return _and(a, b)


@plain(Sort.TWO)
def either(a: Item, b: Item) -> Item:
    """``or``: true as soon as one is surely true, whatever the other."""
    if a is True or b is True:
        return True
    return _or(a, b)


@maker(Sort.VALUE, [Sort.VALUE])
def gathered(inners: Sequence[Evaluate]) -> Evaluate:
    """Single values as one array."""

    def run(lookup: Lookup) -> Value:
        items: list[Item] = []
        for inner in inners:
            value = inner(lookup)
            items.append(Doubt.OUT_OF_RANGE if isinstance(value, tuple) else value)
        return tuple(items)

    return run


@maker(Sort.VALUE, Sort.VALUE, Sort.MANY)
def reduced(inner: Evaluate, function: Callable[[Sequence[float]], float]) -> Evaluate:
    """One number from an array; a doubtful element puts the whole in doubt."""

    def run(lookup: Lookup) -> Value:
        value = inner(lookup)
        if isinstance(value, Doubt):
            return value
        if not isinstance(value, tuple) or not value:
            return Doubt.OUT_OF_RANGE
        doubts = [item for item in value if isinstance(item, Doubt)]
        if doubts:
            return min(doubts)
        numbers = [item for item in value if isinstance(item, int | float)]
        return finite(function(numbers)) if len(numbers) == len(value) else Doubt.OUT_OF_RANGE

    return run


@maker(Sort.VALUE, Sort.VALUE, Sort.VALUE)
def element(array: Evaluate, index: Evaluate) -> Evaluate:
    """The element at a place that counts from 1."""

    def run(lookup: Lookup) -> Value:
        values, place = array(lookup), index(lookup)
        if isinstance(place, Doubt):
            return min(place, values) if isinstance(values, Doubt) else place
        if isinstance(values, Doubt):
            return values
        if not isinstance(values, tuple) or isinstance(place, tuple | str) or place != int(place):
            return Doubt.OUT_OF_RANGE
        return values[int(place) - 1] if 1 <= place <= len(values) else Doubt.OUT_OF_RANGE

    return run


def lookup_over(values: Mapping[str, Value], derived: Mapping[str, Evaluates]) -> Lookup:
    """A lookup over given values that works out derived signals when asked, each once, and holds numbers
    against their range. A given value wins over the derivation; a name that is neither was never seen."""
    known: dict[str, Value] = dict(values)

    def lookup(name: str) -> Value:
        if name not in known:
            known[name] = Doubt.UNSEEN
            if name in derived:
                known[name] = _held(derived[name], lookup)
        return known[name]

    return lookup


def _held(derived: Evaluates, lookup: Lookup) -> Value:
    value = derived.evaluate(lookup)
    if derived.kind != ValueKind.NUMBER:
        return value
    check = number_check(derived.low, derived.high)
    return tuple(check(item) for item in value) if isinstance(value, tuple) else check(value)
