"""The values a host has sent for the scene in sight: what goes next, and what a display may still hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hmic.wire import updates
from hmic.wire.sizes import URGENT

KEPT = 512
"""Value frames to which a host can go back at most; those that a display has gone beyond are forgotten."""

LEAST_FILL = 8
"""Changes below which no Fill is tried."""


@dataclass(frozen=True)
class _Held:
    """What a display holds once a value frame has come, where that ended, and where the next one looks."""

    values: tuple[int, ...]
    place: int
    cursor: int


class SentValues:
    """Raw values by position as a display holds them once every frame has come. ``number`` is that of the
    last value frame; numbers are never used twice in a session, so one names a branch of what was sent."""

    def __init__(self, count: int, number: int) -> None:
        self.number = number
        self.values = (0,) * count
        self._place = 0
        self._cursor = min(URGENT, count)
        self._crowded = False
        self._kept = {number: _Held(self.values, self._place, self._cursor)}

    def go_back(self, number: int) -> bool:
        """Go on from what a display held after value frame ``number``, with the next number. False when
        that is not known any more."""
        held = self._kept.get(number)
        if held is None:
            return False
        self.number += 1
        self._keep(held.values, held.place, held.cursor)
        return True

    def forget_before(self, number: int) -> None:
        """A display holds ``number``; it will not ask for an earlier one."""
        if number in self._kept:
            self._kept = {at: held for at, held in self._kept.items() if at >= number}

    def advance(self, target: Sequence[int], limit: int) -> bytes:
        """The body of the next value frame, at most ``limit`` bytes (at least 16), on the way to
        ``target``; there must be a difference.

        The first ``URGENT`` positions come first, then those from where the last frame ended; where the
        first left no room to the others, it is the others' turn in the next frame."""
        changed = [at for at, (old, new) in enumerate(zip(self.values, target, strict=True)) if old != new]
        first = [at for at in changed if at < URGENT]
        rest = [at for at in changed if at >= max(URGENT, self._cursor)] or changed[len(first) :]
        wanted = rest if self._crowded and rest else first + rest
        body, values = updates.encode_changes(self.values, target, limit, wanted)
        ended = 1 + max(at for at in wanted if values[at] == target[at])
        end = wanted[-1] + 1
        if len(wanted) >= LEAST_FILL and 2 * len(wanted) >= end - wanted[0]:
            fill, filled = updates.encode_fill(self.values, target, wanted[0], end, self._place, limit)
            told = sum(at < filled.place for at in wanted)
            came = sum(values[at] == target[at] for at in wanted)
            if (told, -len(fill)) > (came, -len(body)):
                body, values, ended = fill, filled.values, filled.place
        self._crowded = bool(rest) and ended <= URGENT
        self.number += 1
        self._keep(tuple(values), ended, ended if ended > URGENT else self._cursor)
        return body

    def _keep(self, values: tuple[int, ...], place: int, cursor: int) -> None:
        self.values, self._place, self._cursor = values, place, cursor
        self._kept[self.number] = _Held(values, place, cursor)
        if len(self._kept) > KEPT:
            del self._kept[next(iter(self._kept))]
