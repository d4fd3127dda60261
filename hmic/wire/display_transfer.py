"""The display's part of a transfer: blocks into the store, reports back."""

from __future__ import annotations

from dataclasses import replace

from hmic.wire.content import COPY_UNITS, SQUEEZED_UNITS
from hmic.wire.events import Activated, DisplayEvent, Outcome, Stored, StoreDoor
from hmic.wire.likeness import MOST_HASHES, PIECE, hash_of, piece_count
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
from hmic.wire.sizes import UNIT, unit_count
from hmic.wire.squeeze import unsqueeze

REPORT_AFTER = 0.02
"""Seconds a display gathers blocks before it reports them."""


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
