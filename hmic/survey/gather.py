"""Frames by identifier, in blocks for numpy, so that millions of them need little memory."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from hmic.sources.frame import Row
from hmic.survey.fields import FieldStatistics, TurnStatistics, add_gaps
from hmic.survey.guards import Guards

BLOCK = 4096
"""Frames of one identifier that are looked at together."""
WAITING = 200_000
"""Frames of all identifiers that wait at most."""
KEPT = 2048
"""Frames of one identifier that are kept whole, evenly over the time."""
MOST_IDENTIFIERS = 4096
"""Identifiers of which more than a count is kept; a bus has a few hundred."""
_BYTES = 64

Key = tuple[str, int, bool]


class Gathered:
    """What one identifier brought. ``explained`` are the fields of its description, ``turns`` its pages."""

    def __init__(
        self, key: Key, explained: Sequence[FieldStatistics] = (), turns: TurnStatistics | None = None
    ) -> None:
        self.key = key
        self.explained = explained
        self.turns = turns
        self.count = 0
        self.first = self.last = 0.0
        self.longest = 0.0
        self.gaps: Counter[int] = Counter()
        self.lengths: Counter[int] = Counter()
        self.guards = Guards(key[1])
        self.kept: list[tuple[float, bytes]] = []
        self.times: list[float] = []
        self.frames: list[bytes] = []
        self._stride = 1
        self._ones: Any = None
        self._zeros: Any = None
        self._before: float | None = None

    def cut(self) -> None:
        """What follows is of another recording: the gap to it is none."""
        self._before = None
        self.guards.cut()
        if self.turns is not None:
            self.turns.cut()

    def digest(self) -> None:
        """Takes in the frames that wait."""
        if not self.times:
            return
        import numpy as np

        times, frames = np.array(self.times), self.frames
        self._gaps(np, times)
        if self.count == 0:
            self.first = self.times[0]
        self.last = self.times[-1]
        self._keep(frames)
        sizes = [len(frame) for frame in frames]
        self.count += len(frames)
        if min(sizes) == max(sizes):
            self._same(np, times, frames, sizes[0])
        else:
            for size in sorted(set(sizes)):
                of_size = [at for at, each in enumerate(sizes) if each == size]
                self._same(np, times[of_size], [frames[at] for at in of_size], size)
        self.times, self.frames = [], []

    def moving(self) -> tuple[int, ...]:
        """Bits that were seen at both values, from the lowest of the first byte."""
        if self._ones is None:
            return ()
        both = [int(one) & int(zero) for one, zero in zip(self._ones, self._zeros, strict=True)]
        return tuple(8 * at + bit for at, byte in enumerate(both) for bit in range(8) if byte >> bit & 1)

    def _gaps(self, np: Any, times: Any) -> None:
        before = times[:1] if self._before is None else np.array([self._before])
        gaps = np.diff(np.concatenate([before, times]))
        gaps = gaps[1:] if self._before is None else gaps
        self._before = float(times[-1])
        if len(gaps):
            self.longest = max(self.longest, float(gaps.max()))
            add_gaps(np, gaps, self.gaps)

    def _keep(self, frames: Sequence[bytes]) -> None:
        while len(self.kept) + len(frames) // self._stride > KEPT:
            # Every second goes; those that stay are still evenly apart.
            self.kept, self._stride = self.kept[::2], self._stride * 2
        some = slice(-self.count % self._stride, None, self._stride)
        self.kept.extend(zip(self.times[some], frames[some], strict=True))

    def _same(self, np: Any, times: Any, frames: Sequence[bytes], size: int) -> None:
        """Frames of one length."""
        self.lengths[size] += len(frames)
        if not size:
            return
        data = np.frombuffer(b"".join(frames), np.uint8).reshape(len(frames), size)
        ones, zeros = np.bitwise_or.reduce(data), np.bitwise_or.reduce(~data)
        if self._ones is None:
            self._ones, self._zeros = np.zeros(_BYTES, np.uint8), np.zeros(_BYTES, np.uint8)
        self._ones[:size] |= ones
        self._zeros[:size] |= zeros
        self.guards.take(np, data)
        if self.explained:
            padded = np.zeros((len(frames), size + 8), np.uint8)
            padded[:, :size] = data
            for field in self.explained:
                field.take(np, times, padded, size)
            if self.turns is not None:
                self.turns.take(np, times, padded, size)


class Gathering:
    """All identifiers. ``begin`` makes what gathers one, with the fields that explain it."""

    def __init__(self, begin: Callable[[Key], Gathered]) -> None:
        self.of: dict[Key, Gathered] = {}
        self.frames = 0
        self._seconds: dict[str, float] = {}
        self.beyond = 0
        self._begin = begin

    @property
    def seconds(self) -> float:
        """How long was listened: recordings of one bus follow each other, buses lie side by side."""
        return max(self._seconds.values(), default=0.0)

    def take(self, rows: Iterable[Row], bus: str = "") -> None:
        """The frames of one recording, on ``bus`` where that has a name. Raises what reading them does."""
        of = self.of
        waiting, frames = 0, 0
        at = 0.0
        for before in of.values():
            before.cut()
        for at, identifier, extended, data, channel in rows:
            key = (bus or channel or "", identifier, extended)
            gathered = of.get(key)
            if gathered is None:
                if len(of) >= MOST_IDENTIFIERS:
                    self.beyond += 1
                    continue
                gathered = of[key] = self._begin(key)
            gathered.times.append(at)
            gathered.frames.append(data)
            frames += 1
            if len(gathered.times) >= BLOCK:
                waiting -= len(gathered.times)
                gathered.digest()
            waiting += 1
            if waiting >= WAITING:
                self.digest()
                waiting = 0
        self.digest()
        self.frames += frames
        self._seconds[bus] = self._seconds.get(bus, 0.0) + at

    def digest(self) -> None:
        """Takes in all frames that wait."""
        for gathered in self.of.values():
            gathered.digest()
