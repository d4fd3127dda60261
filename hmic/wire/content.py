"""What the units of a pack travel as: copied from the pack in use, squeezed, or as they are."""

from __future__ import annotations

import math
from collections.abc import Iterable
from hashlib import sha256

from hmic.wire.likeness import sources
from hmic.wire.messages import Block, Copy, Squeezed
from hmic.wire.sent_units import Settled, Units
from hmic.wire.sizes import BLOCK_HEAD, OVERHEAD, UNIT, unit_count
from hmic.wire.squeeze import MOST, squeeze

SQUEEZED_UNITS = MOST // UNIT
"""Units in one Squeezed at most."""

COPY_UNITS = 64
"""Units in one Copy at most, 4 KiB: a sector of flash."""

COPIES_LOST = 6
"""Copies lost in a row before the host sends the content instead: its display may lack the source."""


class Content:
    """A pack to send, and how often its blocks got lost."""

    def __init__(self, pack: bytes) -> None:
        self.pack = pack
        self.digest = sha256(pack).digest()
        self.total = unit_count(len(pack))
        self._sources: list[int | None] = [None] * self.total
        self._copies_lost = 0
        self._failures = 0.0
        self._exposure = 4096.0

    def copy_from(self, size: int, hashes: list[bytes]) -> None:
        """The pack in use has these hashes."""
        self._sources = sources(self.pack, size, hashes)

    def send_all(self) -> None:
        """Copy nothing."""
        self._sources = [None] * self.total

    def learn(self, settled: Settled) -> None:
        """A block came or was lost."""
        self._failures = self._failures * 0.98 + settled.lost
        self._exposure = self._exposure * 0.98 + settled.flight.size
        if settled.flight.copied:
            self._copies_lost = self._copies_lost + 1 if settled.lost else 0
            if self._copies_lost >= COPIES_LOST:
                self.send_all()

    def block(
        self, transfer: int, serial: int, run: range, longest: int, squeezed: bool
    ) -> Block | Squeezed | Copy:
        """The units of ``run``, or as many of its first as make a block of the hopeful length, with at most
        ``longest`` bytes of data."""
        first, source = run.start, self._sources[run.start]
        if source is not None:
            return Copy(transfer, serial, first, self._alike(run[:COPY_UNITS]), source)
        start = first * UNIT
        limit = self._most_hopeful(longest) * UNIT
        most = self._alike(run[:SQUEEZED_UNITS])
        if squeezed:
            count = most
            while True:
                data = self.pack[start : start + count * UNIT]
                packed = squeeze(data)
                if len(packed) <= limit or count == 1:
                    break
                count = max(1, min(count - 1, count * limit // len(packed)))
            if len(packed) < len(data):
                return Squeezed(transfer, serial, first, count, packed)
        count = min(most, limit // UNIT)
        return Block(transfer, serial, first, self.pack[start : start + count * UNIT])

    def reused(self) -> int:
        """Bytes that are copied."""
        return self._bytes_of(unit for unit, source in enumerate(self._sources) if source is not None)

    def arrived(self, units: Units) -> int:
        """Bytes that the display holds and does not copy."""
        return self._bytes_of(
            unit for unit, source in enumerate(self._sources) if source is None and units.holds(unit)
        )

    def travels(self, units: Units) -> int:
        """Bytes of what is neither copied nor held, squeezed as far as it gets smaller."""
        total = first = 0
        while first < self.total:
            run = units.run(first, SQUEEZED_UNITS)
            if self._sources[first] is not None or not run:
                first += 1
                continue
            count = self._alike(run)
            data = self.pack[first * UNIT : (first + count) * UNIT]
            total += min(len(data), len(squeeze(data)))
            first += count
        return total

    def _bytes_of(self, units: Iterable[int]) -> int:
        return sum(len(self.pack[unit * UNIT : (unit + 1) * UNIT]) for unit in units)

    def _alike(self, run: range) -> int:
        """How many of the first units of a run are to be sent in one way."""
        source = self._sources[run.start]
        for unit in run:
            expected = None if source is None else source + (unit - run.start) * UNIT
            if self._sources[unit] != expected:
                return unit - run.start
        return len(run)

    def _most_hopeful(self, longest: int) -> int:
        """The units of data a block should have to bring most through: share of data times the chance that
        the whole frame arrives, exp(-losses a byte * length)."""
        losses = self._failures / self._exposure

        def yield_of(units: int) -> float:
            length = units * UNIT + OVERHEAD + BLOCK_HEAD
            return units * UNIT / length * math.exp(-losses * length)

        return max(range(1, max(1, longest // UNIT) + 1), key=yield_of)
