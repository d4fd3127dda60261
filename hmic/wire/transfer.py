"""Sending a pack: a window of blocks, each lost one sent again, resumed after any break.

The line keeps the order of frames. So when the report of a later block (``serial``) comes without
an earlier one, that one is lost, and no time has to pass to know it.
"""

from __future__ import annotations

import math
from hashlib import sha256

from hmic.wire import frames
from hmic.wire.events import (
    UNIT,
    Activated,
    DisplayEvent,
    HostEvent,
    Outcome,
    Progress,
    Stored,
    StoreDoor,
    Transferred,
)
from hmic.wire.messages import MAX_RUNS, Block, Drop, Finish, Message, Need, Offer, Result

BLOCK_HEAD = 7
"""Most bytes of a Block before its data for packs below 2 GiB: kind, transfer, serial, unit."""

BLOCK_SECONDS = 0.04
"""A block keeps the line no longer than this, or than one unit does, so that updates can pass."""

OFFER_EVERY = 0.3
"""Seconds before an Offer without reply is sent again."""

FINISH_EVERY = 0.5
"""Seconds before a Finish without reply is sent again."""

REPORT_AFTER = 0.02
"""Seconds a display gathers blocks before it reports them."""

SERIALS = 120
"""Blocks under way at most: fewer than half of the 256 serials."""

MISSING, UNDER_WAY, HELD = 0, 1, 2


def unit_count(size: int) -> int:
    """Units of a pack of ``size`` bytes."""
    return -(-size // UNIT)


class Sender:
    """The host's part. ``rate`` in bytes a second; ``transfer`` is the number last used, 0..255."""

    def __init__(self, pack: bytes, transfer: int, rate: float) -> None:
        self.pack = pack
        self.digest = sha256(pack).digest()
        self.total = unit_count(len(pack))
        self.outcome: Outcome | None = None
        self._rate = rate
        self.transfer = transfer
        self._differed = False
        self._failures = 0.0
        self._exposure = 4096.0
        self.restart(1, 128)

    @property
    def identity(self) -> bytes:
        """The identity of the pack."""
        return self.digest[:8]

    def restart(self, window: int, max_body: int) -> None:
        """Offer again, after the session was made anew, to a display with these limits."""
        self.transfer = (self.transfer + 1) & 0xFF
        self._units = bytearray(self.total)
        self._flights: dict[int, tuple[int, int, float]] = {}
        self._sent = self._reported = 0
        self._horizon = 0
        self._window = max(1, window)
        by_time = int(self._rate * BLOCK_SECONDS) // UNIT
        self._most = max(1, min(by_time, (max_body - BLOCK_HEAD) // UNIT))
        self._accepted = False
        self._ask_due = float("-inf")
        self._round_trip = 0.1
        self._patience = 1.0

    def ask(self, now: float) -> Message | None:
        """Offer or Finish when it is due."""
        if now < self._ask_due or self.outcome is not None:
            return None
        if not self._accepted:
            self._ask_due = now + OFFER_EVERY
            return Offer(self.transfer, len(self.pack), self.digest)
        if self.finishing:
            self._ask_due = now + FINISH_EVERY
            return Finish(self.transfer)
        return None

    @property
    def finishing(self) -> bool:
        """Whether the display holds every unit."""
        return self._units.count(HELD) == self.total

    def farewell(self) -> Message:
        """The message that gives the transfer up."""
        return Drop(self.transfer)

    def ready(self) -> bool:
        """Whether a block could be sent now."""
        return self.outcome is None and self._accepted and self._next_missing() is not None

    def block(self, leaves: float) -> Block | None:
        """The next block, which will have left the line at ``leaves``."""
        first = self._next_missing()
        if first is None:
            return None
        room = min(self._most_hopeful(), self._window - self._units.count(UNDER_WAY), self._horizon - first)
        length = 1
        while length < room and self._units[first + length] == MISSING:
            length += 1
        self._units[first : first + length] = bytes((UNDER_WAY,)) * length
        self._sent += 1
        self._flights[self._sent] = (first, length, leaves)
        data = self.pack[first * UNIT : (first + length) * UNIT]
        return Block(self.transfer, self._sent & 0xFF, first, data)

    def take(self, message: Need | Result, now: float) -> list[HostEvent]:
        """Learn from a report."""
        if message.transfer != self.transfer or self.outcome is not None:
            return []
        if isinstance(message, Need):
            return self._take_need(message, now)
        if message.outcome is Outcome.DIFFERS and not self._differed:
            # What an earlier attempt left may be at fault: the display has discarded it by now.
            self._differed = True
            self.restart(self._window, self._most * UNIT + BLOCK_HEAD)
            return []
        self.outcome = message.outcome
        return [Transferred(message.outcome)]

    def pass_time(self, now: float) -> None:
        """Give up waiting for blocks whose report should have come long ago."""
        late = [serial for serial, flight in self._flights.items() if now >= flight[2] + self._wait()]
        for serial in late:
            self._lose(self._flights.pop(serial))
        if late:
            self._patience = min(self._patience * 2, 8.0)

    def deadline(self) -> float:
        """When ``ask`` or ``pass_time`` has something to do."""
        if self.outcome is not None:
            return float("inf")
        if not self._accepted or self.finishing:
            return self._ask_due
        return min((flight[2] + self._wait() for flight in self._flights.values()), default=float("inf"))

    def _wait(self) -> float:
        return (1.5 * self._round_trip + 0.03) * self._patience

    def _next_missing(self) -> int | None:
        if len(self._flights) >= SERIALS or self._units.count(UNDER_WAY) >= self._window:
            return None
        first = self._units.find(MISSING, 0, self._horizon)
        return None if first < 0 else first

    def _take_need(self, need: Need, now: float) -> list[HostEvent]:
        ahead = (need.serial - self._reported) & 0xFF
        if self._reported + ahead > self._sent or need.base > self.total:
            return []
        before = self._units.count(HELD)
        place = need.base
        self._units[:place] = bytes((HELD,)) * place
        for turn, run in enumerate(need.runs):
            end = min(place + run, self.total)
            if turn % 2:
                self._units[place:end] = bytes((HELD,)) * (end - place)
            else:
                self._forget(place, end)
            place = end
        if not need.cut:
            self._forget(place, self.total)
        self._horizon = max(self._horizon, place if need.cut else self.total)
        if not self._accepted:
            self._accepted = True
            self._ask_due = float("-inf")
        self._reported += ahead
        for serial in [serial for serial in self._flights if serial <= self._reported]:
            self._settle(self._flights.pop(serial), serial == self._reported, now)
        done = self._units.count(HELD)
        if done == before:
            return []
        return [Progress(min(done * UNIT, len(self.pack)), len(self.pack))]

    def _forget(self, first: int, end: int) -> None:
        """A report is newer than all before it: what it misses is not held, whatever they said."""
        self._units[first:end] = self._units[first:end].replace(bytes((HELD,)), bytes((MISSING,)))

    def _settle(self, flight: tuple[int, int, float], newest: bool, now: float) -> None:
        first, length, leaves = flight
        lost = self._units.find(UNDER_WAY, first, first + length) >= 0
        self._failures = self._failures * 0.98 + lost
        self._exposure = self._exposure * 0.98 + length * UNIT + frames.OVERHEAD + BLOCK_HEAD
        if newest and now > leaves:
            self._round_trip += (now - leaves - self._round_trip) / 8
            self._patience = 1.0
        self._lose(flight)

    def _lose(self, flight: tuple[int, int, float]) -> None:
        first, length, _ = flight
        for unit in range(first, first + length):
            if self._units[unit] == UNDER_WAY:
                self._units[unit] = MISSING

    def _most_hopeful(self) -> int:
        """The units a block should have to bring most through: share of data times the chance that
        the whole frame arrives, exp(-losses a byte * length)."""
        losses = self._failures / self._exposure

        def yield_of(units: int) -> float:
            length = units * UNIT + frames.OVERHEAD + BLOCK_HEAD
            return units * UNIT / length * math.exp(-losses * length)

        return max(range(1, self._most + 1), key=yield_of)


class Receiver:
    """The display's part. Every bound is checked before the store is called."""

    def __init__(self, store: StoreDoor, capacity: int) -> None:
        self._store = store
        self._capacity = capacity
        self._offer: Offer | None = None
        self._held = bytearray()
        self._base = 0
        self._serial = 0
        self._report_due = float("inf")
        self._result: Result | None = None
        self._result_due = False

    def forget_serials(self) -> None:
        """A new session begins: the host will offer anew. What is in the store stays."""
        self._offer = None
        self._report_due = float("inf")
        self._result_due = False

    def last_word(self) -> list[Message]:
        """A result not yet sent, for a session about to be forgotten."""
        return [self._result] if self._result is not None and self._result_due else []

    def take(self, message: Offer | Block | Finish | Drop, now: float) -> list[DisplayEvent]:
        """Take a message of the host's part."""
        match message:
            case Offer():
                self._take_offer(message, now)
            case Block():
                self._take_block(message, now)
            case Finish(transfer):
                return self._take_finish(transfer, now)
            case Drop(transfer):
                if self._offer is not None and self._offer.transfer == transfer:
                    self._offer = None
                    self._report_due = float("inf")
        return []

    def outgoing(self, now: float) -> list[Message]:
        """Reports that are due."""
        due: list[Message] = []
        if self._result is not None and self._result_due:
            self._result_due = False
            due.append(self._result)
        if now >= self._report_due and self._offer is not None:
            self._report_due = float("inf")
            due.append(self._need(self._offer))
        return due

    def deadline(self) -> float:
        """When ``outgoing`` has something to say."""
        return float("-inf") if self._result_due else self._report_due

    def _take_offer(self, offer: Offer, now: float) -> None:
        if offer == self._offer:
            self._report_due = now
            return
        self._offer = None
        fits = 0 < offer.size <= self._capacity
        if not fits or not self._store.begin(offer.size, offer.digest[:8]):
            self._end(offer.transfer, Outcome.REFUSED)
            return
        self._result = None
        self._result_due = False
        self._offer = offer
        self._serial = 0
        total = unit_count(offer.size)
        bits = self._store.have()
        self._held = bytearray(
            1 if unit // 8 < len(bits) and bits[unit // 8] >> unit % 8 & 1 else 0 for unit in range(total)
        )
        self._base = 0
        self._report_due = now

    def _take_block(self, block: Block, now: float) -> None:
        offer = self._offer
        if offer is None or block.transfer != offer.transfer:
            return
        start, end = block.unit * UNIT, block.unit * UNIT + len(block.data)
        whole = len(block.data) % UNIT == 0 or end == offer.size
        if end > offer.size or not whole:
            return
        self._serial = block.serial
        last = block.unit + unit_count(len(block.data))
        if self._held.find(0, block.unit, last) >= 0:
            self._store.write(start, block.data)
            self._held[block.unit : last] = b"\1" * (last - block.unit)
        complete = self._held.find(0, self._base) < 0
        self._report_due = now if complete else min(self._report_due, now + REPORT_AFTER)

    def _take_finish(self, transfer: int, now: float) -> list[DisplayEvent]:
        offer = self._offer
        if offer is None or offer.transfer != transfer:
            self._result_due = self._result is not None and self._result.transfer == transfer
            return []
        if self._held.find(0) >= 0:
            self._report_due = now
            return []
        self._offer = None
        self._report_due = float("inf")
        if self._store.hash() != offer.digest:
            self._store.begin(offer.size, bytes(8))
            self._end(transfer, Outcome.DIFFERS)
            return []
        identity = offer.digest[:8]
        if not self._store.activate():
            self._end(transfer, Outcome.NOT_ACTIVATED)
            return [Stored(identity)]
        self._end(transfer, Outcome.ACTIVATED)
        return [Stored(identity), Activated(identity)]

    def _end(self, transfer: int, outcome: Outcome) -> None:
        self._result = Result(transfer, outcome)
        self._result_due = True

    def _need(self, offer: Offer) -> Need:
        total = len(self._held)
        first = self._held.find(0, self._base)
        self._base = total if first < 0 else first
        runs: list[int] = []
        place, wanted = self._base, 1
        while place < total and len(runs) < MAX_RUNS:
            end = self._held.find(wanted, place)
            if end < 0:
                if wanted == 0:
                    runs.append(total - place)
                    place = total
                break
            runs.append(end - place)
            place, wanted = end, 1 - wanted
        cut = len(runs) == MAX_RUNS and place < total
        return Need(offer.transfer, self._serial, cut, self._base, tuple(runs))
