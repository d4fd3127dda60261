"""The display's end of the line. No I/O and no clock: bytes and time in, bytes and events out."""

from __future__ import annotations

from dataclasses import replace

from hmic.wire import frames, messages, states, updates
from hmic.wire.crc import START
from hmic.wire.display_touches import Touches
from hmic.wire.display_transfer import Receiver
from hmic.wire.events import DisplayEvent, DisplayFacts, Phase, Shown, Silent, StoreDoor, Values
from hmic.wire.received import STALE, ReceivedValues
from hmic.wire.sizes import LEAST_BODY, MAX_BODY
from hmic.wire.states import Cause, Display, Machine, Proof

BEAT_EVERY = 0.25
"""Seconds between two beats: four are lost before either end calls the other silent."""

HOST_SILENT_AFTER = 1.0
"""Seconds. A value must not look live when it may be older than this; common practice, no source."""

ASK_EVERY = 0.05
"""Seconds before a Want that brought nothing is sent again."""

DOUBT_AFTER = 0.2
"""Seconds that values which what came does not follow on are shown without a proof: at 9600 Bd a Want, what
waits for the line before its Resume, and that take about 0.1 s."""

BROKEN_OFF = 0.03
"""Seconds after which a frame that does not go on has been spoilt: its end is lost. Those who write a frame
write it without a pause; a USB adapter may pause for 16 ms."""

PACK_KINDS = (messages.Kind.BLOCK, messages.Kind.SQUEEZED, messages.Kind.COPY)
"""Frames whose loss the transfer notices."""

VALUE_KINDS = (messages.Kind.FILL, messages.Kind.RESUME)

MAX_NUMBER = 0xFFFFFFFF


class DisplaySession:
    """Answers, shows, feels and stores. Times are seconds of any steady clock.

    Call ``receive`` (with b"" if there is nothing) and ``outgoing`` whenever bytes come, after
    ``touch`` and ``repack``, and at ``next_deadline``. Once what ``outgoing`` gave is on the line, ask
    ``take_rate`` whether the port has to run at another rate from now on.
    """

    def __init__(self, facts: DisplayFacts, store: StoreDoor) -> None:
        self.facts = _checked(facts)
        self._store = store
        self._decoder = frames.FrameDecoder()
        self._parting = b""
        self._other_version: messages.Greet | None = None
        self._agreed = 0
        self._new_rate: int | None = None
        self._rate_after = 0
        self._touches = Touches()
        self._machine = Machine(states.DISPLAY)
        self._proof = Machine(states.PROOF)
        self._begin_alone()

    def _begin_alone(self) -> None:
        self._host: int | None = None
        self._session = 0
        self._seal: int | None = None
        self._scene = 0
        self._shown: Shown | None = None
        self._held = ReceivedValues(0, 0)
        self._told: tuple[int, ...] | None = None
        self._touches.give_up()
        self._answer_due = False
        self._asking_since = self._asked_at = float("-inf")
        self._fed_at = float("-inf")
        self._heard_at = 0.0
        self._beat_due = float("-inf")
        self._last_taken: frames.Frame | None = None
        self._receiver = Receiver(self._store, self.facts.pack_capacity)

    @property
    def state(self) -> Display:
        """A state of PROTOCOL.md's display table."""
        return self._machine.state

    @property
    def asking(self) -> bool:
        """Whether what the display holds is not known to be right."""
        return self._proof.state != Proof.FOLLOWING

    @property
    def dropped(self) -> int:
        """Frames that came damaged, or were of another session or scene."""
        return self._decoder.dropped

    def receive(self, data: bytes, now: float) -> list[DisplayEvent]:
        """Take bytes from the line and let time pass to ``now``; what came of it, in order."""
        events: list[DisplayEvent] = []
        for frame in self._decoder.stretches(data):
            if frame is None:
                self._ask(now)
            else:
                self._take(frame, now, events)
        if data:
            self._fed_at = now
        elif self._decoder.waiting and now >= self._fed_at + BROKEN_OFF:
            self._ask(now)
        if self.state in (Display.MET, Display.SHOWING) and now >= self._heard_at + HOST_SILENT_AFTER:
            if self.state == Display.SHOWING:
                events.append(Silent())
            self._move(Cause.HOST_SILENT)
        self._tell(now, events)
        return events

    def touch(self, zone: int | None, phase: Phase, x: int, y: int, now: float) -> bool:
        """Queue a touch. False, and nothing queued, when no host listens or the queue is full."""
        if self.state != Display.SHOWING or self._shown is None:
            return False
        return self._touches.add(messages.Touch(0, self._shown.screen, zone, phase, x, y, 0), now)

    def repack(self, facts: DisplayFacts) -> None:
        """Go on with another pack: the session is forgotten and the host greets anew. The nonce is
        counted up from the present one, whatever ``facts`` say."""
        parting = b"".join(self._frame(message) for message in self._receiver.last_word())
        facts = replace(facts, nonce=self.facts.nonce)
        self._move(Cause.REPACK)
        self.facts = _checked(facts)
        self._renew_nonce()
        self._parting += parting
        self._proof.move(Cause.RESET)
        self._begin_alone()

    def _renew_nonce(self) -> None:
        self.facts = replace(self.facts, nonce=(self.facts.nonce + 1) & 0xFFFFFFFF)

    def take_rate(self) -> int | None:
        """The rate in Bd to set, 0 for the one the display starts with; None for no change."""
        rate, self._new_rate = self._new_rate, None
        return rate

    def outgoing(self, now: float) -> bytes:
        """Bytes for the line, most urgent first."""
        out = bytearray(self._parting)
        self._parting = b""
        if self._other_version is not None:
            out += self._answer(self._other_version.host, self._other_version.session)
            self._other_version = None
        if self._rate_after:
            self._agreed = self._new_rate = self._rate_after
            self._rate_after = 0
            return bytes(out)
        if self._answer_due and self._host is not None:
            self._answer_due = False
            out += self._answer(self._host, self._session)
        if self._seal is not None:
            for touch in self._touches.due(now):
                out += self._frame(touch)
            if self.asking and now >= self._asked_at + ASK_EVERY:
                self._asked_at = now
                out += self._frame(messages.Want(self._scene, self._held.number))
            for message in self._receiver.outgoing(now):
                out += self._frame(message)
        if now >= self._beat_due:
            self._beat_due = now + BEAT_EVERY
            if self._seal is not None:
                dropped = self._decoder.dropped & 0xFFFF
                out += self._frame(messages.DisplayBeat(self._scene, self._held.number, dropped))
            if self.state in (Display.ALONE, Display.SILENT):
                out += frames.encode(messages.encode(messages.Alone()))
        return bytes(out)

    def next_deadline(self) -> float | None:
        """When ``receive`` and ``outgoing`` must be called next at the latest."""
        replies = self._answer_due or self._parting or self._other_version
        if replies or (self._seal is not None and self._touches.unsent):
            return self._heard_at
        times = [self._beat_due]
        if self.state in (Display.MET, Display.SHOWING):
            times.append(self._heard_at + HOST_SILENT_AFTER)
        if self._seal is not None:
            times += [self._receiver.deadline(), self._touches.again_at]
            if self.asking:
                times.append(self._asked_at + ASK_EVERY)
                if self._proof.state == Proof.ASKING:
                    times.append(self._asking_since + DOUBT_AFTER)
            elif self._scene and self._decoder.waiting:
                times.append(self._fed_at + BROKEN_OFF)
        return min(times)

    def _move(self, cause: Cause) -> None:
        self._machine.move(cause)
        if self.state == Display.ALONE:
            self._seal = self._host = None
            self._answer_due = False
        if self.state in (Display.ALONE, Display.SILENT) and self._agreed:
            self._agreed = self._new_rate = 0

    def _tell(self, now: float, events: list[DisplayEvent]) -> None:
        if self._shown is None:
            return
        if self._proof.state == Proof.ASKING and now >= self._asking_since + DOUBT_AFTER:
            self._proof.move(Cause.UNPROVED)
        live = self.state == Display.SHOWING and self._proof.state != Proof.DOUBTING
        visible = self._held.visible() if live else (STALE,) * self._held.count
        if visible != self._told:
            self._told = visible
            events.append(Values(visible))

    def _take(self, frame: frames.Frame, now: float, events: list[DisplayEvent]) -> None:
        if frame.kind == messages.Kind.TURN and frame.intact():
            return  # For the link.
        if frame.kind >= updates.CHANGE or frame.kind in VALUE_KINDS:
            self._take_values(frame, now)
            return
        seal = START if frame.kind == messages.Kind.GREET else self._seal
        if seal is None or not frame.intact(seal):
            self._decoder.dropped += 1
            if frame.kind not in PACK_KINDS:
                self._ask(now)
            return
        if frame.kind != messages.Kind.GREET:
            # Sealed with this session: the host has its Answer, and what that says of lost touches.
            self._touches.lost = 0
        match messages.decode(frame.body):
            case messages.Greet() as greet:
                self._take_greet(greet, now)
            case messages.Show() as show:
                self._take_show(show, now, events)
            case messages.HostBeat():
                if self.state == Display.MET:
                    self._heard_at = now
            case messages.Rate(baud):
                self._take_rate(baud, now)
            case messages.Heard(number):
                self._touches.heard(number)
            case messages.Offer() | messages.Finish() | messages.Drop() | messages.Compare() as message:
                events.extend(self._receiver.take(message, now))
            case messages.Block() | messages.Squeezed() | messages.Copy() as message:
                events.extend(self._receiver.take(message, now))
            case _:
                self._decoder.dropped += 1

    def _live(self, now: float) -> None:
        self._heard_at = now
        self._move(Cause.LIFE)

    def _ask(self, now: float) -> None:
        """Something came that was no good, or does not follow: a value frame may be lost."""
        if self._scene and not self.asking:
            self._proof.move(Cause.ASTRAY)
            self._asking_since, self._asked_at = now, float("-inf")

    def _take_values(self, frame: frames.Frame, now: float) -> None:
        """Takes a value frame or Pulse that its seal proves to follow on what is held. Once the display
        has asked, only a Resume does: the host goes on from where the display said it was."""
        if self._seal is None or not self._scene:
            self._decoder.dropped += 1
            return
        resume = frame.kind == messages.Kind.RESUME
        if frame == self._last_taken or (self.asking and not resume):
            return
        if not (self._takes_resume(frame) if resume else self._takes_change(frame)):
            self._decoder.dropped += 1
            self._ask(now)
            return
        if self.asking:
            self._proof.move(Cause.RESUMED)
        if frame.body != updates.PULSE:
            self._last_taken = frame
        self._live(now)

    def _takes_resume(self, frame: frames.Frame) -> bool:
        told, held = messages.decode(frame.body), self._held
        if not isinstance(told, messages.Resume) or told.number <= held.number or told.late > held.count:
            return False
        follows = self._follows(frame, told.number)
        if follows:
            held.resume(told.number, told.late)
        return follows

    def _takes_change(self, frame: frames.Frame) -> bool:
        held = self._held
        number = held.number + (frame.body != updates.PULSE)
        if number > MAX_NUMBER or not self._follows(frame, number):
            return False
        taken = updates.taken(frame.body, held.values, held.place)
        if taken is not None:
            held.take(number, taken)
        return taken is not None

    def _follows(self, frame: frames.Frame, number: int) -> bool:
        """Whether the seal proves that a frame of this number follows on what is held."""
        return self._seal is not None and frame.intact(self._held.seal(self._seal, self._scene, number))

    def _take_greet(self, greet: messages.Greet, now: float) -> None:
        if greet.version != messages.VERSION:
            self._other_version = greet
            return
        self._answer_due = True
        if self._seal is not None and (greet.host, greet.session) == (self._host, self._session):
            return
        if self._touches.belong_to(greet.host):
            # A host that comes back must see that its count of touches is void.
            self._renew_nonce()
        self._host, self._session = greet.host, greet.session
        self._seal = updates.session_seal(greet.host, self.facts.nonce, greet.session)
        self._scene = 0
        self._held = ReceivedValues(self._held.count, 0)
        self._proof.move(Cause.RESET)
        self._heard_at = now
        self._receiver.forget_serials()
        self._move(Cause.GREET)

    def _take_show(self, show: messages.Show, now: float, events: list[DisplayEvent]) -> None:
        if show.screen >= self.facts.screen_count or show.count > self.facts.channel_capacity:
            self._decoder.dropped += 1
            return
        if show.scene < self._scene or (show.scene == self._scene and show.number < self._held.number):
            return
        shown, before = Shown(show.screen, show.theme, show.brightness, show.count), self._shown
        follows = before is not None and before.same_screen(shown) and 0 < self._scene >= show.scene - 1
        if show.fresh:
            self._held = ReceivedValues(show.count, show.number)
            self._proof.move(Cause.RESET)
        elif not follows:
            self._ask(now)
            return
        self._shown, self._scene = shown, show.scene
        if show.number != self._held.number:
            self._ask(now)
        self._beat_due = now
        self._heard_at = now
        self._move(Cause.SHOW)
        if before != shown:
            events.append(shown)
            self._told = None
        self._tell(now, events)

    def _take_rate(self, baud: int, now: float) -> None:
        """The reply leaves at the present rate, the last thing to do so."""
        if not 0 < baud <= self.facts.fastest:
            self._parting += self._frame(messages.Rated(0))
            return
        self._parting += self._frame(messages.Rated(baud))
        self._heard_at = now
        self._rate_after = baud

    def _frame(self, message: messages.Message) -> bytes:
        return b"" if self._seal is None else frames.encode(messages.encode(message), self._seal)

    def _answer(self, host: int, session: int) -> bytes:
        answer = messages.Answer(messages.VERSION, host, session, self.facts, self._touches.lost)
        return frames.encode(messages.encode(answer))


def _checked(facts: DisplayFacts) -> DisplayFacts:
    if not LEAST_BODY <= facts.max_body <= MAX_BODY or facts.window < 1:
        raise ValueError(f"max_body {facts.max_body} or window {facts.window} is outside the protocol")
    if facts.identity is not None and len(facts.identity) != 8:
        raise ValueError("an identity has eight bytes")
    return facts
