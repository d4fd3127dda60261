"""The host's part of a transfer: what to ask and to send, resumed after any break. What the pack in use holds
already is copied from there; the rest is squeezed."""

from __future__ import annotations

from hmic.wire import states
from hmic.wire.content import Content
from hmic.wire.events import DisplayFacts, HostEvent, Outcome, Progress, Surveyed, Transferred
from hmic.wire.likeness import piece_count
from hmic.wire.messages import (
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
from hmic.wire.sent_units import Flight, Units
from hmic.wire.sizes import BLOCK_HEAD, LEAST_BODY, OVERHEAD, UNIT
from hmic.wire.states import Cause, Machine

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

FASTEST_SQUEEZED = 50_000.0
"""Bytes a second beyond which squeezing in Python takes longer than the line saves (measured: 1 MB/s
of squeezing, 1.3 times less to send; a half of one core is left for the rest)."""

OFFER_EVERY = 0.3
"""Seconds before an Offer without reply is sent again."""

FINISH_EVERY = 0.5
"""Seconds before a Finish without reply is sent again."""

ASKED = (states.Transfer.OFFERING, states.Transfer.SENDING, states.Transfer.FINISHING)


class Transfer:
    """One pack after the other; it alone tells what becomes of each. ``rate`` in bytes a second."""

    def __init__(self, rate: float) -> None:
        self._machine = Machine(states.TRANSFER)
        self.rate = rate
        self._number = -1
        self._events: list[HostEvent] = []
        self._farewell: Drop | None = None
        self._start(b"", False)

    def _start(self, pack: bytes, dry: bool) -> None:
        self._content = Content(pack)
        self._dry = dry
        self._surveyed = self._differed = False
        self._window, self._max_body = 1, LEAST_BODY
        self._renew()

    def _renew(self) -> None:
        """From here on it has another number, and nothing is known of the display."""
        self._number = (self._number + 1) & 0xFF
        self._units = Units(self._content.total, self._window)
        self._hashes: list[bytes] = []
        self._ask_at_once()

    def _ask_at_once(self) -> None:
        self._tries = 0
        self._ask_due = float("-inf")

    def _move(self, cause: Cause) -> None:
        before = self._machine.state
        self._machine.move(cause)
        if self._machine.state != before:
            self._ask_at_once()

    def begin(self, pack: bytes, dry: bool) -> None:
        """Send this pack once ``meet`` is called; another one is given up, which nobody needs to be told."""
        self._give_up()
        self._start(pack, dry)
        self._move(Cause.PUSH)

    def cancel(self) -> None:
        """Give up what is being sent, if anything is."""
        if self._give_up():
            self._events.append(Transferred(Outcome.CANCELLED))

    def _give_up(self) -> bool:
        if self._machine.state == states.Transfer.IDLE:
            return False
        if self._machine.state != states.Transfer.WAITING:
            self._farewell = Drop(self._number)
        self._move(Cause.GIVEN_UP)
        return True

    def _end(self, cause: Cause, outcome: Outcome) -> None:
        self._move(cause)
        self._events.append(Transferred(outcome))

    def take_events(self) -> list[HostEvent]:
        """What has come of it since the last call."""
        events, self._events = self._events, []
        return events

    def meet(self, facts: DisplayFacts) -> None:
        """A session stands with this display."""
        if self._machine.state == states.Transfer.IDLE:
            return
        if self._content.digest[:8] == facts.identity:
            finishing = self._machine.state == states.Transfer.FINISHING
            self._end(Cause.IN_USE, Outcome.ACTIVATED if finishing else Outcome.UNCHANGED)
            return
        self._window, self._max_body = facts.window, facts.max_body
        self._renew()
        if self._surveyed or facts.identity is None:
            # It is compared yet if the next session is with the pack that was just sent.
            self._move(Cause.HOLDS_NONE)
            if not self._surveyed:
                self._tell_survey()
        else:
            self._move(Cause.HOLDS)

    def part(self) -> None:
        """The session is over."""
        self._farewell = None

    def ask(self, now: float) -> Message | None:
        """The next question that is due, or that a transfer was given up."""
        if self._farewell is not None:
            farewell, self._farewell = self._farewell, None
            return farewell
        if now < self._ask_due:
            return None
        if self._machine.state == states.Transfer.COMPARING and self._tries >= self._most_compares():
            self._end_survey(0)
        self._tries += 1
        match self._machine.state:
            case states.Transfer.COMPARING:
                self._ask_due = now + self._compare_every()
                return Compare(self._number, len(self._hashes))
            case states.Transfer.OFFERING if self._dry and self._tries > CONTINUE_TRIES:
                self._end_dry()
            case states.Transfer.OFFERING:
                self._ask_due = now + OFFER_EVERY
                content = self._content
                return Offer(self._number, len(content.pack), content.digest, fresh=not self._dry)
            case states.Transfer.FINISHING:
                self._ask_due = now + FINISH_EVERY
                return Finish(self._number)
        return None

    def _compare_every(self) -> float:
        return COMPARE_EVERY + 2 * (LEAST_BODY + OVERHEAD) / self.rate

    def _most_compares(self) -> float:
        whole = len(self._content.pack) / self.rate
        return max(COMPARE_TRIES, COMPARE_SHARE * whole / self._compare_every())

    def ready(self) -> bool:
        """Whether a block could be sent now."""
        return self._machine.state == states.Transfer.SENDING and self._units.next_missing() is not None

    def block(self, leaves: float, seconds: float) -> Block | Squeezed | Copy:
        """The next block, which will leave the line from ``leaves`` on and keep it no longer than
        ``seconds``, or than one unit does. One must be ``ready``."""
        first = self._units.next_missing()
        assert first is not None
        longest = min(int(self.rate * seconds), self._max_body - BLOCK_HEAD)
        message = self._content.block(
            self._number,
            self._units.serial,
            self._units.room(first),
            longest,
            self.rate <= FASTEST_SQUEEZED,
        )
        copied = isinstance(message, Copy)
        data = b"" if isinstance(message, Copy) else message.data
        count = -(-len(data) // UNIT) if isinstance(message, Block) else message.count
        size = OVERHEAD + BLOCK_HEAD + (4 if copied else len(data))
        taken = size / self.rate
        self._units.leave(Flight(first, count, copied, size, taken, leaves + taken))
        return message

    def take(self, message: Need | Result | Hashes, now: float) -> None:
        """Learn from a report."""
        if message.transfer != self._number:
            return
        if isinstance(message, Hashes):
            if self._machine.state == states.Transfer.COMPARING:
                self._take_hashes(message)
        elif self._machine.state not in ASKED:
            return
        elif isinstance(message, Need):
            self._take_need(message, now)
        elif self._dry:
            self._end_dry()
        elif message.outcome is Outcome.DIFFERS and not self._differed:
            # What an earlier attempt left, or a copy, may be at fault: the display has discarded it
            # by now.
            self._differed = True
            self._content.send_all()
            self._move(Cause.DIFFERS)
            self._renew()
        else:
            self._end(Cause.RESULT, message.outcome)

    def pass_time(self, now: float) -> None:
        """Give up waiting for blocks whose report should have come long ago."""
        self._units.pass_time(now)

    def deadline(self) -> float:
        """When ``ask`` or ``pass_time`` has something to do."""
        match self._machine.state:
            case states.Transfer.IDLE | states.Transfer.WAITING:
                return float("inf")
            case states.Transfer.SENDING:
                return self._units.deadline()
            case _:
                return self._ask_due

    def _take_need(self, need: Need, now: float) -> None:
        content, units = self._content, self._units
        before = units.held()
        settled = units.report(need, now)
        if settled is None:
            return
        for each in settled:
            content.learn(each)
        if self._dry:
            self._end_dry()
            return
        if self._machine.state == states.Transfer.OFFERING and (arrived := content.arrived(units)):
            self._tell_survey(arrived)
        held = units.held()
        self._move(Cause.WHOLE if held == units.total else Cause.MISSING)
        if held != before:
            size = len(content.pack)
            self._events.append(Progress(min(held * UNIT, size), size))

    def _take_hashes(self, hashes: Hashes) -> None:
        """Only what follows on the hashes known is taken; a lost reply is asked for again."""
        if hashes.first != len(self._hashes):
            return
        pieces = piece_count(hashes.size)
        self._hashes += hashes.hashes
        self._ask_at_once()
        if hashes.size > LARGEST or len(self._hashes) > pieces:
            self._end_survey(0)
        elif len(self._hashes) == pieces or not hashes.hashes:
            self._end_survey(hashes.size if len(self._hashes) == pieces else 0)

    def _end_survey(self, size: int) -> None:
        self._surveyed = True
        if size:
            self._content.copy_from(size, self._hashes)
        self._move(Cause.COMPARED)
        self._tell_survey()

    def _tell_survey(self, arrived: int = 0) -> None:
        """What will be sent; in a dry push it is known in the end."""
        if not self._dry:
            self._events.append(Surveyed(len(self._content.pack), self._content.reused(), None, arrived))

    def _end_dry(self) -> None:
        """What the display holds, from both places, is known; what it has not said it does not hold."""
        content, units = self._content, self._units
        travels, arrived = content.travels(units), content.arrived(units)
        self._events.append(Surveyed(len(content.pack), content.reused(), travels, arrived))
        self._end(Cause.LOOKED, Outcome.CANCELLED)
