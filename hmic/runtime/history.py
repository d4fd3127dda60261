"""What charts, peak marks and gliding needles need of the past, kept on vehicle time whatever screen is in
sight."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, field, replace

from hmic.model.channels import LIVE, Channel, RingHead, raw_value, signals_of
from hmic.model.expressions import Lookup
from hmic.runtime.gliding import Glide
from hmic.runtime.vehicle_time import earliest


@dataclass
class _Trace:
    """One recorder: what it samples, and the channel number of each slot."""

    sampled: Channel
    slots: dict[int, int] = field(default_factory=dict)


@dataclass
class _Ring:
    """All that is sampled at the same moments. ``newest`` counts samples since vehicle time 0."""

    slots: int
    period: float
    heads: list[int] = field(default_factory=list)
    traces: dict[Channel, _Trace] = field(default_factory=dict)
    newest: int = 0

    @property
    def due(self) -> float:
        return (self.newest + 1) * self.period


@dataclass
class _Peak:
    """The highest steps of late: ``past`` holds (step, until), steps falling and times rising."""

    number: int
    channel: Channel
    held: float
    now: int = 0
    past: deque[tuple[int, float]] = field(default_factory=deque)


class History:
    """The raw values of the channels that show the past: slots of charts, heads, held peaks, what glides.

    A slot is sampled at its first moment, ``slot * period`` seconds of vehicle time on; a slot that
    was not reached yet is never seen, and doubt is kept as the doubt that it was. A peak is the
    highest step of the last ``peak`` seconds; while the value is in doubt it shows that doubt. What glides
    is told by ``Glide``.
    """

    def __init__(self, channels: Sequence[Channel]) -> None:
        self._rings: dict[tuple[int, float], _Ring] = {}
        self._peaks: list[_Peak] = []
        self._readers: dict[str, list[_Peak]] = {}
        self._glides: list[Glide] = []
        self._gliding: dict[str, list[Glide]] = {}
        self._changed: set[int] = set()
        # What ``next_due`` gave, until something may have moved it: it is asked for with every frame.
        self._due: float | None = None
        self.raw: dict[int, int] = {}
        for number, channel in enumerate(channels):
            if channel.kept is not None:
                self._keep(number, channel)
            elif isinstance(channel.steps, RingHead):
                self._ring(channel.steps.slots, channel.steps.period).heads.append(number)
                self.raw[number] = LIVE
            elif channel.peak > 0 and channel.value is not None:
                self._hold(number, channel)
            elif channel.glide > 0 and channel.value is not None:
                self._glides.append(Glide(number, channel))
                self.raw[number] = 0
        self._gliding = _by_name(self._glides)

    def copied(self) -> History:
        """Another that knows the same, and goes on by itself."""
        twin = copy(self)
        twin._rings = {key: copy(ring) for key, ring in self._rings.items()}
        twin._peaks = [replace(peak, past=peak.past.copy()) for peak in self._peaks]
        by_number = {peak.number: peak for peak in twin._peaks}
        twin._readers = {
            name: [by_number[peak.number] for peak in peaks] for name, peaks in self._readers.items()
        }
        twin._glides = [glide.copied() for glide in self._glides]
        twin._gliding = _by_name(twin._glides)
        twin._changed, twin.raw = self._changed.copy(), self.raw.copy()
        return twin

    @property
    def follows(self) -> bool:
        """Whether it must be told of each change at its own moment."""
        return bool(self._peaks or self._glides)

    def next_due(self) -> float | None:
        """The vehicle time of the next sample, at which a held peak falls or something glides on; None
        without any."""
        if self._due is None:
            falls = (peak.past[0][1] for peak in self._peaks if peak.past)
            glides = (glide.due for glide in self._glides)
            self._due = earliest((*(ring.due for ring in self._rings.values()), *falls, *glides)) or math.inf
        return None if self._due == math.inf else self._due

    def skip(self, at: float) -> None:
        """Leaves out samples that would be overwritten before ``at``, as after a long sleep."""
        for ring in self._rings.values():
            reached = math.floor(at / ring.period)
            if reached - ring.newest > ring.slots:
                self._due = None
                ring.newest = reached - ring.slots

    def pass_time(self, lookup: Lookup, at: float) -> None:
        """Samples what is due at vehicle time ``at``; ``lookup`` gives the values of that moment."""
        self._due = None
        for ring in self._rings.values():
            if at >= ring.due:
                ring.newest += 1
                self._sample(ring, lookup)
        for peak in self._peaks:
            if peak.past and peak.past[0][1] <= at:
                self._settle(peak, at)
        for glide in self._glides:
            if glide.due is not None and glide.due <= at:
                self._set(glide.number, glide.look(at))

    def note(self, names: Iterable[str], lookup: Lookup, at: float) -> None:
        """The named signals changed at vehicle time ``at``."""
        concerned = {
            peak.number: peak for name in names if name in self._readers for peak in self._readers[name]
        }
        for peak in concerned.values():
            step = raw_value(peak.channel, lookup)
            while peak.past and peak.past[-1][0] <= peak.now:
                peak.past.pop()
            if peak.now >= LIVE:
                peak.past.append((peak.now, at + peak.held))
            peak.now = step
            self._settle(peak, at)
            self._due = None
        gliding = {glide.number: glide for name in names for glide in self._gliding.get(name, ())}
        for glide in gliding.values():
            self._set(glide.number, glide.note(raw_value(glide.channel, lookup), at))
            self._due = None

    def take_changed(self) -> set[int]:
        """Numbers of the channels that changed since the last call."""
        changed, self._changed = self._changed, set()
        return changed

    def _ring(self, slots: int, period: float) -> _Ring:
        return self._rings.setdefault((slots, period), _Ring(slots, period))

    def _keep(self, number: int, channel: Channel) -> None:
        assert channel.kept is not None
        ring = self._ring(channel.kept.slots, channel.kept.period)
        sampled = replace(channel, kept=None)
        trace = ring.traces.setdefault(sampled, _Trace(sampled))
        trace.slots[channel.kept.slot] = number
        self.raw[number] = 0

    def _hold(self, number: int, channel: Channel) -> None:
        assert channel.value is not None
        peak = _Peak(number, replace(channel, peak=0.0), channel.peak)
        self._peaks.append(peak)
        self.raw[number] = 0
        for name in channel.value.signals:
            self._readers.setdefault(name, []).append(peak)

    def _sample(self, ring: _Ring, lookup: Lookup) -> None:
        slot = ring.newest % ring.slots
        for number in ring.heads:
            self._set(number, LIVE + slot)
        for trace in ring.traces.values():
            number = trace.slots.get(slot, -1)
            if number >= 0:
                self._set(number, raw_value(trace.sampled, lookup))

    def _settle(self, peak: _Peak, at: float) -> None:
        while peak.past and (peak.past[0][1] <= at or peak.past[0][0] <= peak.now):
            peak.past.popleft()
        shown = max(peak.now, peak.past[0][0]) if peak.now >= LIVE and peak.past else peak.now
        self._set(peak.number, shown)

    def _set(self, number: int, raw: int) -> None:
        if self.raw[number] != raw:
            self.raw[number] = raw
            self._changed.add(number)


def _by_name(glides: Iterable[Glide]) -> dict[str, list[Glide]]:
    """What glides by the names of the signals that it reads."""
    found: dict[str, list[Glide]] = {}
    for glide in glides:
        for name in sorted(signals_of(glide.channel)):
            found.setdefault(name, []).append(glide)
    return found
