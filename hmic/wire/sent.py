"""The values a host has sent for the scene in sight: what goes next, what a display may still hold, and what
of that is no longer true."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from hmic.wire import updates
from hmic.wire.sizes import URGENT

KEPT = 512
"""Value frames to which a host can go back at most; those that a display has gone beyond are forgotten."""

LEAST_FILL = 8
"""Changes below which no Fill is tried."""

LATE_AFTER = 0.7
"""Seconds for which a value that has changed may go on looking live. Values are sent without a pause while
any is behind: with ``DOUBT_AFTER`` it is less than one second, the oldest a value may be and still look
live."""

RETURN_AFTER = 0.5
"""Seconds for which what changed behind the first positions may wait before the next frame goes back to it:
so what a slow line has no time for is always the end of the list, and the rest of it stays live."""

TELL_AGAIN = 0.1
"""Seconds before fewer values than were told are told to be late; more are told at once."""

MAKES_A_CLAIM = 2
"""The smallest raw value that says something of the vehicle: not 0 (never seen) or 1 (stale)."""


Pairs = Sequence[tuple[int, int]]
"""Pairs of positions, rising, each of which tells one number together."""


@dataclass(frozen=True)
class _Held:
    """What a display holds once a value frame has come: the values, how many at the end of the list it shows
    as stale, where that frame ended and where the next one looks. At ``at`` all were true but those
    ``behind``, since the times given."""

    values: tuple[int, ...]
    late: int = 0
    place: int = 0
    cursor: int = URGENT
    at: float = 0.0
    behind: Mapping[int, float] = field(default_factory=dict)


class SentValues:
    """Raw values by position as a display holds them once every frame has come. ``number`` is that of the
    last value frame; numbers are never used twice in a session, so one names a branch of what was sent.
    Both values of a pair go in one frame: two items always find room in it."""

    def __init__(self, count: int, number: int, pairs: Pairs = ()) -> None:
        self.number = number
        self._pairs = pairs
        self._crowded = False
        self._told_at = float("-inf")
        self._held = _Held((0,) * count, cursor=URGENT)
        self._target = self._held.values
        self._behind: Mapping[int, float] = {}
        self._kept = {number: self._held}

    @property
    def values(self) -> tuple[int, ...]:
        """What the display holds, by position."""
        return self._held.values

    @property
    def late(self) -> int:
        """How many positions at the end of the list it shows as stale."""
        return self._held.late

    @property
    def behind(self) -> Mapping[int, float]:
        """The positions whose value is no longer true, rising, each with the time since when."""
        return self._behind

    def aim(self, target: tuple[int, ...], now: float) -> None:
        """From ``now`` on these are the true values."""
        if target == self._target:
            return
        self._held = self._kept[self.number] = replace(self._held, at=now, behind=self._behind)
        self._find_behind(target, self._behind, now)

    def go_back(self, number: int) -> bool:
        """Go on from what a display held after value frame ``number``, with the next number. False when
        that is not known any more."""
        held = self._kept.get(number)
        if held is None:
            return False
        self._keep(held)
        self._find_behind(self._target, held.behind, held.at)
        return True

    def go_on(self) -> None:
        """The next number, of a frame that changes no value."""
        self._keep(replace(self._held, behind=self._behind))

    def forget_before(self, number: int) -> None:
        """A display holds ``number``; it will not ask for an earlier one."""
        if number in self._kept:
            self._kept = {at: held for at, held in self._kept.items() if at >= number}

    def misleads(self, now: float) -> bool:
        """Whether the display has to be told anew how many values are late."""
        late = self._late_by(now)
        return late > self.late or (late < self.late and now >= self.tell_at)

    @property
    def tell_at(self) -> float:
        """When fewer values may be told to be late."""
        return self._told_at + TELL_AGAIN

    def tell_late(self, now: float) -> int:
        """How many positions at the end of the list are late; taken for told with the present number."""
        self._told_at = now
        self._held = self._kept[self.number] = replace(self._held, late=self._late_by(now))
        return self.late

    def _late_by(self, now: float) -> int:
        late = (
            at
            for at, since in self._behind.items()
            if since <= now - LATE_AFTER and self.values[at] >= MAKES_A_CLAIM
        )
        return len(self.values) - next(late, len(self.values))

    def advance(self, limit: int, now: float) -> bytes:
        """The body of the next value frame, at most ``limit`` bytes (at least 16), on the way to what is
        true; some position must be behind.

        The first ``URGENT`` positions come first, then those from where the last frame ended, or all others
        anew if one before that place has waited for ``RETURN_AFTER``. Where the first left no room to the
        others, it is the others' turn in the next frame."""
        held, target = self._held, self._target
        first = [at for at in self._behind if at < URGENT]
        others = [at for at in self._behind if at >= URGENT]
        passed = [self._behind[at] for at in others if at < held.cursor]
        rest = others[len(passed) :]
        if not rest or min(passed, default=now) <= now - RETURN_AFTER:
            rest = others
        wanted = self._whole_pairs(rest if self._crowded and rest else first + rest)
        body, values, ended = self._frame(wanted, limit)
        parted = [pair for pair in self._pairs if self._parts(values, *pair)]
        if parted:
            before = [at for at in wanted if at < parted[0][0]]
            body, values, ended = self._frame(before or parted[0], limit)
        self._crowded = bool(rest) and ended <= URGENT
        cursor = ended if ended > URGENT else held.cursor
        self._behind = {at: since for at, since in self._behind.items() if values[at] != target[at]}
        self._keep(_Held(tuple(values), held.late, ended, cursor, now, self._behind))
        return body

    def _frame(self, wanted: Sequence[int], limit: int) -> tuple[bytes, Sequence[int], int]:
        """The body that brings most of these positions, which are behind, to what is true, the values after
        it and where it ends."""
        held, target = self._held, self._target
        body, values = updates.encode_changes(held.values, target, limit, wanted)
        ended = 1 + max(at for at in wanted if values[at] == target[at])
        end = wanted[-1] + 1
        if len(wanted) >= LEAST_FILL and 2 * len(wanted) >= end - wanted[0]:
            fill, filled = updates.encode_fill(held.values, target, wanted[0], end, held.place, limit=limit)
            told = sum(at < filled.place for at in wanted)
            came = sum(values[at] == target[at] for at in wanted)
            if (told, -len(fill)) > (came, -len(body)):
                return fill, filled.values, filled.place
        return body, values, ended

    def _whole_pairs(self, wanted: Sequence[int]) -> Sequence[int]:
        """With the other position of each pair, where it is behind too."""
        others = {at for pair in self._pairs if set(pair) & set(wanted) for at in pair if at in self._behind}
        return sorted({*wanted, *others}) if others else wanted

    def _parts(self, values: Sequence[int], one: int, other: int) -> bool:
        """Whether a frame brings one position of a pair and leaves the other behind."""
        both = one in self._behind and other in self._behind
        return both and (values[one] == self._target[one]) != (values[other] == self._target[other])

    def _find_behind(self, target: tuple[int, ...], before: Mapping[int, float], since: float) -> None:
        """What the values held are behind of: since then, but for those that were so before."""
        pairs = enumerate(zip(self.values, target, strict=True))
        self._behind = {at: before.get(at, since) for at, (old, new) in pairs if old != new}
        self._target = target

    def _keep(self, held: _Held) -> None:
        self.number += 1
        self._held = self._kept[self.number] = held
        if len(self._kept) > KEPT:
            del self._kept[next(iter(self._kept))]
