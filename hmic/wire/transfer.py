"""Sending a pack: a window of blocks, each lost one sent again, resumed after any break. What the pack
in use holds already is copied from there; the rest is squeezed.

The line keeps the order of frames. So when the report of a later block (``serial``) comes without
an earlier one, that one is lost, and no time has to pass to know it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from hashlib import sha256

from hmic.wire.events import (
    Activated,
    DisplayEvent,
    DisplayFacts,
    HostEvent,
    Outcome,
    Progress,
    Stored,
    StoreDoor,
    Surveyed,
    Transferred,
)
from hmic.wire.likeness import MOST_HASHES, PIECE, hash_of, piece_count, sources
from hmic.wire.messages import (
    MAX_RUNS,
    Block,
    Compare,
    Copy,
    Drop,
    Finish,
    Hashes,
    Message,
    Need,
    Offer,
    Result,
    Squeezed,
)
from hmic.wire.sizes import BLOCK_HEAD, LEAST_BODY, OVERHEAD, UNIT
from hmic.wire.squeeze import MOST, squeeze, unsqueeze

SQUEEZED_UNITS = MOST // UNIT
"""Units in one Squeezed at most."""

COPY_UNITS = 64
"""Units in one Copy at most, 4 KiB: a sector of flash."""

COMPARE_EVERY = 0.25
"""Seconds, beside twice the time of the longest reply, before a Compare without reply is sent again."""

COMPARE_TRIES = 6
"""Compares in a row without reply before the host goes on without, at least."""

COMPARE_SHARE = 0.25
"""The part of the time of a whole push for which replies are asked for in vain before the host goes on
without: most pushes follow a small edit, and gain nearly all of it."""

LARGEST = 1 << 26
"""Bytes of the largest pack there is (pack/FORMAT.md)."""

CONTINUE_TRIES = 6
"""Times that a dry push asks what of the pack has arrived before, without an answer."""

COPIES_LOST = 6
"""Copies lost in a row before the host sends the content instead: its display may lack the source."""

FASTEST_SQUEEZED = 50_000.0
"""Bytes a second beyond which squeezing in Python takes longer than the line saves (measured: 1 MB/s
of squeezing, 1.3 times less to send; a half of one core is left for the rest)."""

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


@dataclass(frozen=True)
class _Flight:
    """Units under way: how many bytes of frame, and when they have left the line."""

    first: int
    count: int
    leaves: float
    size: int
    copied: bool


class Sender:
    """The host's part. ``rate`` in bytes a second; ``transfer`` is the number last used, 0..255.
    ``dry`` ends once it is known what would be sent."""

    def __init__(self, pack: bytes, transfer: int, rate: float, dry: bool = False) -> None:
        self.pack = pack
        self.digest = sha256(pack).digest()
        self.total = unit_count(len(pack))
        self.outcome: Outcome | None = None
        self._rate = rate
        self._dry = dry
        self.transfer = transfer
        self._differed = False
        self._failures = 0.0
        self._exposure = 4096.0
        self._sources: list[int | None] = [None] * self.total
        self._survey: Surveyed | None = None
        self._surveyed = False
        self._copies_lost = 0
        self._begin(1, 128)

    @property
    def identity(self) -> bytes:
        """The identity of the pack."""
        return self.digest[:8]

    def restart(self, facts: DisplayFacts) -> None:
        """Begin again, after the session was made anew, with a display of these facts."""
        self._begin(facts.window, facts.max_body)
        self._comparing = not self._surveyed
        if self._comparing and facts.identity is None:
            self._end_survey(0)
            # It may be asked again: the next session may be with the pack that was just sent.
            self._surveyed = False

    def _begin(self, window: int, max_body: int) -> None:
        self.transfer = (self.transfer + 1) & 0xFF
        self._units = bytearray(self.total)
        self._flights: dict[int, _Flight] = {}
        self._sent = self._reported = 0
        self._horizon = 0
        self._window = max(1, window)
        self._max_body = max_body
        self._comparing = False
        self._compares = self._continues = 0
        self._hashes: list[bytes] = []
        self._accepted = False
        self._ask_due = float("-inf")
        self._round_trip = 0.1
        self._patience = 1.0

    def pace(self, rate: float) -> None:
        """The line's rate is another now, in bytes a second."""
        self._rate = rate

    def ask(self, now: float) -> Message | None:
        """Offer or Finish when it is due."""
        if now < self._ask_due or self.outcome is not None:
            return None
        again = COMPARE_EVERY + 2 * (LEAST_BODY + OVERHEAD) / self._rate
        worth = COMPARE_SHARE * len(self.pack) / self._rate / again
        if self._comparing and self._compares >= max(COMPARE_TRIES, worth):
            self._end_survey(0)
        if self._comparing:
            self._ask_due = now + again
            self._compares += 1
            return Compare(self.transfer, len(self._hashes))
        if self._dry and self._continues >= CONTINUE_TRIES:
            self._end_dry()
            return None
        if not self._accepted:
            self._ask_due = now + OFFER_EVERY
            self._continues += 1
            return Offer(self.transfer, len(self.pack), self.digest, fresh=not self._dry)
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

    def take_survey(self) -> list[HostEvent]:
        """What will be sent, once it is known."""
        survey, self._survey = self._survey, None
        return [] if survey is None else [survey]

    def block(self, leaves: float, seconds: float) -> Block | Squeezed | Copy | None:
        """The next block, which will leave the line from ``leaves`` on and keep it no longer than
        ``seconds``, or than one unit does."""
        first = self._next_missing()
        if first is None:
            return None
        room = min(self._window - self._units.count(UNDER_WAY), self._horizon - first)
        serial = self._sent + 1 & 0xFF
        source = self._sources[first]
        message: Block | Squeezed | Copy
        if source is not None:
            count = self._alike(first, min(room, COPY_UNITS), True)
            message, size = Copy(self.transfer, serial, first, count, source), BLOCK_HEAD + 4
        else:
            message, count = self._content(
                first, self._alike(first, min(room, SQUEEZED_UNITS), False), serial, seconds
            )
            size = len(message.data) + BLOCK_HEAD
        self._units[first : first + count] = bytes((UNDER_WAY,)) * count
        self._sent += 1
        size += OVERHEAD
        self._flights[self._sent] = _Flight(
            first, count, leaves + size / self._rate, size, isinstance(message, Copy)
        )
        return message

    def take(self, message: Need | Result | Hashes, now: float) -> list[HostEvent]:
        """Learn from a report."""
        if message.transfer != self.transfer or self.outcome is not None:
            return []
        if isinstance(message, Hashes):
            self._take_hashes(message)
            return self.take_survey()
        if isinstance(message, Need):
            progress = self._take_need(message, now)
            return self._dry_ended() if self._dry else progress
        if self._dry:
            return self._dry_ended()
        if message.outcome is Outcome.DIFFERS and not self._differed:
            # What an earlier attempt left, or a copy, may be at fault: the display has discarded it
            # by now.
            self._differed = True
            self._sources = [None] * self.total
            self._begin(self._window, self._max_body)
            return []
        self.outcome = message.outcome
        return [Transferred(message.outcome)]

    def pass_time(self, now: float) -> None:
        """Give up waiting for blocks whose report should have come long ago."""
        late = [serial for serial, flight in self._flights.items() if now >= self._overdue(flight)]
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
        return min(map(self._overdue, self._flights.values()), default=float("inf"))

    def _overdue(self, flight: _Flight) -> float:
        """When neither the report of a block nor those of the two after it can still come."""
        after = 2 * flight.size / self._rate
        return flight.leaves + (1.5 * self._round_trip + 0.03 + after) * self._patience

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
            if arrived := self._arrived():
                self._survey = Surveyed(len(self.pack), self._reused(), None, arrived)
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

    def _settle(self, flight: _Flight, newest: bool, now: float) -> None:
        lost = self._units.find(UNDER_WAY, flight.first, flight.first + flight.count) >= 0
        self._failures = self._failures * 0.98 + lost
        self._exposure = self._exposure * 0.98 + flight.size
        if newest and now > flight.leaves:
            self._round_trip += (now - flight.leaves - self._round_trip) / 8
            self._patience = 1.0
        if flight.copied:
            self._copies_lost = self._copies_lost + 1 if lost else 0
            if self._copies_lost >= COPIES_LOST:
                self._sources = [None] * self.total
        self._lose(flight)

    def _lose(self, flight: _Flight) -> None:
        for unit in range(flight.first, flight.first + flight.count):
            if self._units[unit] == UNDER_WAY:
                self._units[unit] = MISSING

    def _take_hashes(self, hashes: Hashes) -> None:
        """Only what follows on the hashes known is taken; a lost reply is asked for again."""
        if not self._comparing or hashes.first != len(self._hashes):
            return
        pieces = piece_count(hashes.size)
        self._hashes += hashes.hashes
        self._compares = 0
        self._ask_due = float("-inf")
        if hashes.size > LARGEST or len(self._hashes) > pieces:
            self._hashes = []
            self._end_survey(0)
        elif len(self._hashes) == pieces or not hashes.hashes:
            self._end_survey(hashes.size if len(self._hashes) == pieces else 0)

    def _end_survey(self, size: int) -> None:
        self._comparing = False
        self._surveyed = True
        self._ask_due = float("-inf")
        if size:
            self._sources = sources(self.pack, size, self._hashes)
        if not self._dry:
            self._survey = Surveyed(len(self.pack), self._reused(), None)

    def _end_dry(self) -> None:
        """What the display holds, from both places, is known; what it has not said it does not hold."""
        self._survey = Surveyed(len(self.pack), self._reused(), self._travels(), self._arrived())
        self.outcome = Outcome.CANCELLED

    def _dry_ended(self) -> list[HostEvent]:
        self._end_dry()
        return [*self.take_survey(), Transferred(Outcome.CANCELLED)]

    def _reused(self) -> int:
        return self._bytes_of(unit for unit, source in enumerate(self._sources) if source is not None)

    def _arrived(self) -> int:
        """Bytes that the display holds and does not copy."""
        held = (unit for unit in range(self.total) if self._units[unit] == HELD)
        return self._bytes_of(unit for unit in held if self._sources[unit] is None)

    def _bytes_of(self, units: Iterable[int]) -> int:
        return sum(len(self.pack[unit * UNIT : (unit + 1) * UNIT]) for unit in units)

    def _travels(self) -> int:
        """Bytes of what is neither copied nor held, squeezed as far as it gets smaller."""
        total = first = 0
        while first < self.total:
            if self._sources[first] is not None or self._units[first] == HELD:
                first += 1
                continue
            count = self._alike(first, min(SQUEEZED_UNITS, self.total - first), False)
            data = self.pack[first * UNIT : (first + count) * UNIT]
            total += min(len(data), len(squeeze(data)))
            first += count
        return total

    def _alike(self, first: int, most: int, copied: bool) -> int:
        """Units from ``first`` on, at most so many, that are missing and to be sent in one way."""
        source = self._sources[first]
        count = 1
        while count < most and self._units[first + count] == MISSING:
            expected = source + count * UNIT if copied and source is not None else None
            if self._sources[first + count] != expected:
                break
            count += 1
        return count

    def _content(self, first: int, most: int, serial: int, seconds: float) -> tuple[Block | Squeezed, int]:
        """As many units as make a block of the hopeful length, squeezed if that gains."""
        limit = self._most_hopeful(seconds) * UNIT
        start = first * UNIT
        if self._rate <= FASTEST_SQUEEZED:
            count = most
            while True:
                data = self.pack[start : start + count * UNIT]
                packed = squeeze(data)
                if len(packed) <= limit or count == 1:
                    break
                count = max(1, min(count - 1, count * limit // len(packed)))
            if len(packed) < len(data) and len(packed) <= self._max_body - BLOCK_HEAD:
                return Squeezed(self.transfer, serial, first, count, packed), count
        count = min(most, limit // UNIT)
        return Block(self.transfer, serial, first, self.pack[start : start + count * UNIT]), count

    def _most_hopeful(self, seconds: float) -> int:
        """The units of data a block should have to bring most through in so many seconds: share of data
        times the chance that the whole frame arrives, exp(-losses a byte * length)."""
        losses = self._failures / self._exposure
        most = max(1, min(int(self._rate * seconds), self._max_body - BLOCK_HEAD) // UNIT)

        def yield_of(units: int) -> float:
            length = units * UNIT + OVERHEAD + BLOCK_HEAD
            return units * UNIT / length * math.exp(-losses * length)

        return max(range(1, most + 1), key=yield_of)


class Receiver:
    """The display's part. Every bound is checked before the store is called."""

    def __init__(self, store: StoreDoor, capacity: int) -> None:
        self._store = store
        self._capacity = capacity
        self._compare: Compare | None = None
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

    def take(
        self, message: Offer | Block | Squeezed | Copy | Finish | Drop | Compare, now: float
    ) -> list[DisplayEvent]:
        """Take a message of the host's part."""
        match message:
            case Offer():
                self._take_offer(message, now)
            case Block() | Squeezed() | Copy():
                self._take_block(message, now)
            case Compare():
                self._compare = message
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
        if self._compare is not None:
            due.append(self._hashes(self._compare))
            self._compare = None
        if self._result is not None and self._result_due:
            self._result_due = False
            due.append(self._result)
        if now >= self._report_due and self._offer is not None:
            self._report_due = float("inf")
            due.append(self._need(self._offer))
        return due

    def deadline(self) -> float:
        """When ``outgoing`` has something to say."""
        return float("-inf") if self._result_due or self._compare is not None else self._report_due

    def _take_offer(self, offer: Offer, now: float) -> None:
        taken = replace(offer, fresh=True)
        if taken == self._offer:
            self._report_due = now
            return
        self._offer = None
        fits = 0 < offer.size <= self._capacity
        if not offer.fresh:
            fits = fits and self._store.arriving(offer.size, offer.digest[:8])
        if not fits or not self._store.begin(offer.size, offer.digest[:8]):
            self._end(offer.transfer, Outcome.REFUSED)
            return
        self._result = None
        self._result_due = False
        self._offer = taken
        self._serial = 0
        total = unit_count(offer.size)
        bits = self._store.have()
        self._held = bytearray(
            1 if unit // 8 < len(bits) and bits[unit // 8] >> unit % 8 & 1 else 0 for unit in range(total)
        )
        self._base = 0
        self._report_due = now

    def _take_block(self, block: Block | Squeezed | Copy, now: float) -> None:
        offer = self._offer
        if offer is None or block.transfer != offer.transfer:
            return
        self._serial = block.serial
        self._report_due = min(self._report_due, now + REPORT_AFTER)
        start = block.unit * UNIT
        if isinstance(block, Block):
            length = len(block.data)
        else:
            most = SQUEEZED_UNITS if isinstance(block, Squeezed) else COPY_UNITS
            length = min(block.count * UNIT, offer.size - start) if 0 < block.count <= most else 0
        end = start + length
        if length <= 0 or end > offer.size or (length % UNIT and end != offer.size):
            return
        last = block.unit + unit_count(length)
        if self._held.find(0, block.unit, last) >= 0 and self._keep(block, start, length):
            self._held[block.unit : last] = b"\1" * (last - block.unit)
        if self._held.find(0, self._base) < 0:
            self._report_due = now

    def _keep(self, block: Block | Squeezed | Copy, start: int, length: int) -> bool:
        """Hand a block's content to the store; False when it has none."""
        match block:
            case Block():
                self._store.write(start, block.data)
            case Squeezed():
                data = unsqueeze(block.data, length)
                if data is None:
                    return False
                self._store.write(start, data)
            case Copy():
                if block.source + length > self._store.size_in_use():
                    return False
                for done in range(0, length, UNIT):
                    piece = min(UNIT, length - done)
                    self._store.write(start + done, self._store.read_in_use(block.source + done, piece))
        return True

    def _hashes(self, compare: Compare) -> Hashes:
        size = self._store.size_in_use()
        first = min(compare.first, piece_count(size))
        last = min(piece_count(size), first + MOST_HASHES)
        pieces = (
            self._store.read_in_use(at * PIECE, min(PIECE, size - at * PIECE)) for at in range(first, last)
        )
        return Hashes(compare.transfer, size, first, tuple(map(hash_of, pieces)))

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
