"""The fields of a description in the frames that came: ranges, states, sentinels, traces."""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

from hmic.model.dbc import means_no_number, means_no_value
from hmic.model.dbc_bits import Place
from hmic.model.j1939 import highest_measure
from hmic.survey.facts import FieldSeen, Sentinel, Turns

STATES = 32
"""Raw values of a field that are counted one by one; with more it is a number."""
TRACE = 240
"""Points of a trace at least, where there are as many."""
PRECISION = 1.001
"""Ratio of neighbouring gaps that count as one: a median is right within 0.1 %."""
APART = 0.02
"""Part of what the bits can carry by which a sentinel without a label lies apart from the values."""


class FieldStatistics:
    """One field, followed through the frames of its message."""

    def __init__(
        self,
        name: str,
        unit: str,
        place: Place,
        *,
        scale: float,
        offset: float,
        labels: dict[int, str],
        absent: float | None = None,
        grouped: bool = False,
    ) -> None:
        """``absent`` is a physical value that stands for none, besides those that the labels say; ``grouped``
        says that it is of a parameter group of J1939, where high raw values stand for none."""
        self.name, self.unit, self.place = name, unit, place
        self.scale, self.offset, self.labels = scale, offset, labels
        self.count = 0
        self.special: Counter[int] = Counter()
        self.states: Counter[int] | None = Counter()
        self.trace: list[tuple[float, float]] = []
        self._low: float | None = None
        self._high: float | None = None
        self._stride = 1
        self._kept = _kept(place, self.labels) if grouped else {}
        self._ends = () if self._kept else _ends(place)
        self._never = {
            raw for raw, label in labels.items() if means_no_value(label) or means_no_number(label)
        }
        if absent is not None and scale:
            self._never.add(round((absent - offset) / scale))

    def take(self, np: Any, times: Any, padded: Any, size: int) -> None:
        """Rows of bytes with 8 bytes of padding; ``size`` is their length without it."""
        if self.place.start + self.place.length > 8 * size:
            return
        if self.place.page is not None:
            there = _rows_with(np, self.place, padded, size)
            if not there.any():
                return
            times, padded = times[there], padded[there]
        raw = raw_values(np, self.place, padded)
        while len(self.trace) + len(raw) // self._stride > 2 * TRACE:
            self.trace, self._stride = self.trace[::2], self._stride * 2
        some = slice(-self.count % self._stride, None, self._stride)
        self.trace.extend(zip(times[some].tolist(), raw[some].tolist(), strict=True))
        self.count += len(raw)
        self._tally(np, raw)

    def _tally(self, np: Any, raw: Any) -> None:
        if self.states is not None and not self.place.real:
            values, counts = np.unique(raw, return_counts=True)
            if len(values) > STATES or len(self.states) > STATES:
                self.states = None
            else:
                for value, count in zip(values, counts, strict=True):
                    self.states[int(value)] += int(count)
        ordinary = np.isfinite(raw) if self.place.real else np.ones(len(raw), bool)
        stand_ins = [(value, raw == value) for value in self._never | set(self._ends)]
        stand_ins += [(low, (raw >= low) & (raw <= high)) for low, (high, _) in self._kept.items()]
        for value, is_it in stand_ins:
            is_it &= ordinary
            many = int(is_it.sum())
            if many:
                self.special[value] += many
                ordinary &= ~is_it
        if ordinary.any():
            rest = raw[ordinary]
            low, high = rest.min().item(), rest.max().item()
            self._low = low if self._low is None else min(self._low, low)
            self._high = high if self._high is None else max(self._high, high)

    def physical(self, raw: float) -> float:
        """The value that a raw one reads as."""
        return raw * self.scale + self.offset

    def seen(self) -> FieldSeen:
        """What was found of it."""
        sentinels, low, high = [], self._low, self._high
        for raw, count in sorted(self.special.items()):
            if raw in self._never or raw in self._kept or self._lies_apart(raw):
                label = self.labels.get(raw, "") or self._kept.get(raw, (0, ""))[1]
                sentinels.append(Sentinel(raw, self.physical(raw), label, count))
            else:
                low = raw if low is None else min(low, raw)
                high = raw if high is None else max(high, raw)
        never = {each.raw for each in sentinels}
        most = min(self._kept, default=math.inf)
        trace = tuple((at, self.physical(raw)) for at, raw in self.trace if raw not in never and raw < most)
        ends = sorted(self.physical(each) for each in (low, high) if each is not None)
        states = self.states if self.states is not None and (self.labels or len(self.states) <= 8) else {}
        few = tuple((raw, self.labels.get(raw, ""), count) for raw, count in sorted(states.items()))
        pages = "" if self.place.page is None else ", ".join(str(each) for each in sorted(self.place.page[1]))
        return FieldSeen(
            self.name,
            self.unit,
            self.count,
            ends[0] if ends else None,
            ends[-1] if ends else None,
            abs(self.scale),
            self.place.length,
            few,
            tuple(sentinels),
            trace,
            pages,
        )

    def _lies_apart(self, raw: int) -> bool:
        """Whether a value at the end of what the bits can carry lies apart from all others."""
        if raw in self.labels or self._low is None or self._high is None:
            return False
        apart = APART * (1 << self.place.length)
        return raw > self._high + apart if raw > self._high else raw < self._low - apart


class TurnStatistics:
    """The pages of a multiplexed message, followed through its frames."""

    def __init__(self, selector: str, place: Place) -> None:
        self.selector, self.place = selector, place
        self._pages: Counter[int] = Counter()
        self._last: dict[int, float] = {}
        self._gaps: dict[int, Counter[int]] = {}

    def cut(self) -> None:
        """What follows is of another recording."""
        self._last = {}

    def take(self, np: Any, times: Any, padded: Any, size: int) -> None:
        """As of a field."""
        if self.place.start + self.place.length > 8 * size:
            return
        raw = raw_values(np, self.place, padded)
        for page in np.unique(raw).tolist():
            came = times[raw == page]
            self._pages[page] += len(came)
            before = [self._last[page]] if page in self._last else []
            add_gaps(np, np.diff(np.concatenate([before, came])), self._gaps.setdefault(page, Counter()))
            self._last[page] = float(came[-1])

    def seen(self) -> Turns | None:
        """The turns, if there are any."""
        if len(self._pages) < 2:
            return None
        longest = max(middle(gaps, 0.5) for gaps in self._gaps.values())
        return Turns(self.selector, tuple(sorted(self._pages.items())), longest)


def add_gaps(np: Any, gaps: Any, into: Counter[int]) -> None:
    """Counts gaps (s) in bins of equal ratio, ``PRECISION`` wide."""
    places = np.round(np.log(np.maximum(gaps, 1e-7)) / np.log(PRECISION)).astype(int)
    for place, count in zip(*np.unique(places, return_counts=True), strict=True):
        into[int(place)] += int(count)


def middle(gaps: Counter[int], part: float) -> float:
    """The gap (s) below which ``part`` of them lie; 0 without any."""
    wanted = part * sum(gaps.values())
    seen = 0
    for place in sorted(gaps):
        seen += gaps[place]
        if seen >= wanted:
            return float(PRECISION**place)
    return 0.0


def _rows_with(np: Any, place: Place, padded: Any, size: int) -> Any:
    """Which rows hold a field that comes by turns."""
    there = np.ones(len(padded), bool)
    while place.page is not None:
        selector, pages, _ = place.page
        if selector.start + selector.length > 8 * size:
            return np.zeros(len(padded), bool)
        there &= np.isin(raw_values(np, selector, padded), list(pages))
        place = selector
    return there


def _kept(place: Place, labels: dict[int, str]) -> dict[int, tuple[int, str]]:
    """Stretches of raw values that J1939 keeps for what is no measured value: the first, the last, and what
    they mean. Of a field of states a label says what a raw value is."""
    if place.signed or place.real or place.length < 2 or (labels and place.length < 8):
        return {}
    first, last = highest_measure(place.length) + 1, (1 << place.length) - 1
    absent = last if place.length < 8 else 0xFF << place.length - 8
    return {first: (absent - 1, "error (J1939)"), absent: (last, "not available (J1939)")}


def _ends(place: Place) -> tuple[int, ...]:
    """Raw values by which senders say that there is none: all bits set, or the ends of a signed field."""
    if place.real or place.length < 6:
        return ()
    if place.signed:
        return (1 << place.length - 1) - 1, -(1 << place.length - 1)
    return ((1 << place.length) - 1,)


def raw_values(np: Any, place: Place, padded: Any) -> Any:
    """The raw value of a field in every row; ``Place`` says what of it."""
    first = place.start // 8
    within = place.start % 8
    window = np.ascontiguousarray(padded[:, first : first + 8])
    whole = window.view(">u8" if place.big else "<u8")[:, 0].astype(np.uint64)
    shift = 64 - within - place.length if place.big else within
    if shift < 0:
        # A field of more than 57 bits that begins within a byte; nobody has one.
        return np.zeros(len(padded), np.int64)
    bits = whole >> np.uint64(shift)
    if place.length < 64:
        bits &= np.uint64((1 << place.length) - 1)
    if place.real:
        kinds = {16: (np.uint16, np.float16), 32: (np.uint32, np.float32), 64: (np.uint64, np.float64)}
        as_bits, as_real = kinds[place.length]
        return bits.astype(as_bits).view(as_real).astype(np.float64)
    if place.length == 64:
        return bits.astype(np.int64) if place.signed else bits.astype(np.float64)
    values = bits.astype(np.int64)
    if place.signed:
        values = np.where(values >> (place.length - 1) & 1, values - (1 << place.length), values)
    return values
