"""The display's end of the line. No I/O and no clock: bytes and time in, bytes and events out."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace

from hmic.wire import frames, messages, updates
from hmic.wire.crc import START
from hmic.wire.events import DisplayEvent, DisplayFacts, Phase, Shown, Silent, StoreDoor, Values
from hmic.wire.received import STALE, ReceivedValues
from hmic.wire.sizes import LEAST_BODY, MAX_BODY
from hmic.wire.states import DISPLAY, Cause, Display, after
from hmic.wire.transfer import Receiver

BEAT_EVERY = 0.25
"""Seconds between two beats: four are lost before either end calls the other silent."""

HOST_SILENT_AFTER = 1.0
"""Seconds. A value must not look live when it may be older than this; common practice, no source."""

ASK_EVERY = 0.2
"""Seconds before a Want that brought nothing is sent again: a refresh of 100 values and its way
at 9600 Bd take about 0.15 s."""

TOUCH_AGAIN = 0.15
"""Seconds before a touch that was not heard is sent again."""

TOUCH_QUEUE = 32
"""Touches kept until the host has heard them."""


@dataclass
class _Felt:
    touch: messages.Touch
    at: float
    sent: bool = False


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
        self._touch_host: int | None = None
        self._begin_alone()

    def _begin_alone(self) -> None:
        self._state: str = Display.ALONE
        self._host: int | None = None
        self._session = 0
        self._seal: int | None = None
        self._scene = 0
        self._show: messages.Show | None = None
        self._held = ReceivedValues(0, 0, True)
        self._told: tuple[int, ...] | None = None
        self._touches: deque[_Felt] = deque()
        self._next_touch = 0
        self._touch_due = float("inf")
        self._answer_due = False
        self._wants_show = False
        self._asked_at = float("-inf")
        self._heard_at = 0.0
        self._beat_due = float("-inf")
        self._suspect = False
        self._last_change: frames.Frame | None = None
        self._receiver = Receiver(self._store, self.facts.pack_capacity, self.facts.max_body)

    @property
    def state(self) -> str:
        """A state of PROTOCOL.md's display table."""
        return self._state

    @property
    def dropped(self) -> int:
        """Frames that came damaged, or were of another session or scene."""
        return self._decoder.dropped

    def receive(self, data: bytes, now: float) -> list[DisplayEvent]:
        """Take bytes from the line and let time pass to ``now``; what came of it, in order."""
        events: list[DisplayEvent] = []
        for frame in self._decoder.receive(data):
            self._take(frame, now, events)
        if self._state in (Display.MET, Display.SHOWING) and now >= self._heard_at + HOST_SILENT_AFTER:
            if self._state == Display.SHOWING:
                events.append(Silent())
            self._move(Cause.HOST_SILENT)
        self._tell(events)
        return events

    def touch(self, zone: int | None, phase: Phase, x: int, y: int, now: float) -> bool:
        """Queue a touch. False, and nothing queued, when no host listens or the queue is full."""
        if self._state != Display.SHOWING or self._show is None:
            return False
        felt = _Felt(messages.Touch(self._next_touch, self._show.screen, zone, phase, x, y, 0), now)
        last = self._touches[-1] if self._touches else None
        if phase is Phase.SLIDE and last is not None and not last.sent and last.touch.phase is Phase.SLIDE:
            self._touches[-1] = replace(felt, touch=replace(felt.touch, number=last.touch.number))
            return True
        if len(self._touches) >= TOUCH_QUEUE:
            return False
        self._touches.append(felt)
        self._next_touch += 1
        return True

    def repack(self, facts: DisplayFacts) -> None:
        """Go on with another pack: the session is forgotten and the host greets anew. The nonce is
        counted up from the present one, whatever ``facts`` say."""
        parting = b"".join(self._frame(message) for message in self._receiver.last_word())
        facts = replace(facts, nonce=self.facts.nonce)
        self._move(Cause.REPACK)
        self.facts = _checked(facts)
        self._renew_nonce()
        self._parting += parting
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
            self._send_touches(now, out)
            self._ask(now, out)
            for message in self._receiver.outgoing(now):
                out += self._frame(message)
        if now >= self._beat_due:
            self._beat_due = now + BEAT_EVERY
            if self._seal is not None:
                dropped = self._decoder.dropped & 0xFFFF
                out += self._frame(messages.DisplayBeat(self._scene, self._held.number, dropped))
            if self._state in (Display.ALONE, Display.SILENT):
                out += frames.encode(messages.encode(messages.Alone()))
        return bytes(out)

    def next_deadline(self) -> float | None:
        """When ``receive`` and ``outgoing`` must be called next at the latest."""
        replies = self._answer_due or self._parting or self._other_version
        if replies or (self._seal is not None and self._unsent()):
            return self._heard_at
        times = [self._beat_due]
        if self._state in (Display.MET, Display.SHOWING):
            times.append(self._heard_at + HOST_SILENT_AFTER)
        if self._seal is not None:
            times += [self._receiver.deadline(), self._touch_due]
            if self._question() is not None:
                times.append(self._asked_at + ASK_EVERY)
        return min(times)

    def _move(self, cause: Cause) -> None:
        self._state = after(DISPLAY, self._state, cause)
        if self._state == Display.ALONE:
            self._seal = None
            self._host = None
        if self._state in (Display.ALONE, Display.SILENT) and self._agreed:
            self._agreed = self._new_rate = 0

    def _tell(self, events: list[DisplayEvent]) -> None:
        if self._show is None:
            return
        believed = self._state == Display.SHOWING
        visible = self._held.visible() if believed else (STALE,) * self._held.count
        if visible != self._told:
            self._told = visible
            events.append(Values(visible))

    def _take(self, frame: frames.Frame, now: float, events: list[DisplayEvent]) -> None:
        if frame.kind == messages.Kind.TURN and frame.intact():
            return  # For the link.
        if frame.kind >= updates.CHANGE:
            self._take_changes(frame, now)
            return
        seal = START if frame.kind == messages.Kind.GREET else self._seal
        if seal is None or not frame.intact(seal):
            self._decoder.dropped += 1
            return
        match messages.decode(frame.body):
            case messages.Greet() as greet:
                self._take_greet(greet, now)
            case messages.Show() as show:
                self._take_show(show, now, events)
            case messages.Refresh(scene, number, first, values):
                if self._in_scene(scene) and number > self._held.number:
                    if self._held.refresh(number, first, values):
                        self._suspect = False
                        self._live(now)
                    else:
                        self._decoder.dropped += 1
            case messages.HostBeat():
                if self._state == Display.MET:
                    self._heard_at = now
            case messages.Rate(baud):
                self._take_rate(baud, now)
            case messages.Heard(number):
                while self._touches and self._touches[0].touch.number < number:
                    self._touches.popleft()
                if not self._touches:
                    self._touch_due = float("inf")
            case messages.Offer() | messages.Finish() | messages.Drop() | messages.Compare() as message:
                events.extend(self._receiver.take(message, now))
            case messages.Block() | messages.Squeezed() | messages.Copy() as message:
                events.extend(self._receiver.take(message, now))
            case _:
                self._decoder.dropped += 1

    def _live(self, now: float) -> None:
        self._heard_at = now
        self._move(Cause.LIFE)

    def _in_scene(self, scene: int) -> bool:
        self._wants_show = self._wants_show or scene != self._scene
        return self._show is not None and scene == self._scene

    def _take_changes(self, frame: frames.Frame, now: float) -> None:
        """A change frame that does not fit the values held puts them in doubt: what it brought, or one
        before it, is lost. A pulse brings nothing, so one of them only makes the display ask."""
        if self._seal is None or not self._scene:
            self._decoder.dropped += 1
            return
        if frame == self._last_change or not self._held.believed:
            return
        pulse = frame.body == updates.PULSE
        number = self._held.number + (0 if pulse else 1)
        intact = number <= 0xFFFFFFFF and frame.intact(self._held.seal(self._seal, self._scene, number))
        items = updates.decode_changes(frame.body, self._held.count) if intact else None
        if items is None:
            self._decoder.dropped += 1
            if self._suspect or not pulse:
                self._held.doubt()
            self._suspect = pulse
            return
        self._suspect = False
        if not pulse:
            self._held.change(items)
            self._last_change = frame
        self._live(now)

    def _take_greet(self, greet: messages.Greet, now: float) -> None:
        if greet.version != messages.VERSION:
            self._other_version = greet
            return
        self._answer_due = True
        if self._seal is not None and (greet.host, greet.session) == (self._host, self._session):
            return
        if greet.host != self._touch_host:
            self._touches.clear()
            self._next_touch = 0
            if self._touch_host is not None:
                # A host that comes back must see that its count of touches is void.
                self._renew_nonce()
        self._touch_host = greet.host
        self._host, self._session = greet.host, greet.session
        self._seal = updates.session_seal(greet.host, self.facts.nonce, greet.session)
        self._scene = 0
        self._held = ReceivedValues(self._held.count, 0, True)
        self._wants_show = False
        self._heard_at = now
        self._receiver.forget_serials()
        self._move(Cause.GREET)

    def _take_show(self, show: messages.Show, now: float, events: list[DisplayEvent]) -> None:
        if show.screen >= self.facts.screen_count or show.count > self.facts.channel_capacity:
            self._decoder.dropped += 1
            return
        if show.scene < self._scene or (show.scene == self._scene and show.number < self._held.number):
            return
        before = self._show
        if show.fresh:
            self._held = ReceivedValues(show.count, show.number, False)
        else:
            same = before is not None and (before.screen, before.count) == (show.screen, show.count)
            follows = show.scene - self._scene in (0, 1) and show.number == self._held.number
            if not (same and follows and self._scene):
                self._held = ReceivedValues(show.count, show.number, True)
        self._show, self._scene, self._wants_show, self._suspect = show, show.scene, False, False
        self._beat_due = now
        self._heard_at = now
        self._move(Cause.SHOW)
        shown = Shown(show.screen, show.theme, show.brightness, show.count)
        if before is None or _look(before) != _look(show):
            events.append(shown)
            self._told = None
        self._tell(events)

    def _take_rate(self, baud: int, now: float) -> None:
        """The reply leaves at the present rate, the last thing to do so."""
        if not 0 < baud <= self.facts.fastest:
            self._parting += self._frame(messages.Rated(0))
            return
        self._parting += self._frame(messages.Rated(baud))
        self._heard_at = now
        self._rate_after = baud

    def _question(self) -> messages.Want | None:
        if self._wants_show:
            return messages.Want(self._scene, 0, 0)
        if not self._scene:
            return None
        doubtful = (0, self._held.count) if self._suspect else self._held.doubtful()
        return None if doubtful is None else messages.Want(self._scene, *doubtful)

    def _ask(self, now: float, out: bytearray) -> None:
        question = self._question()
        if question is not None and now >= self._asked_at + ASK_EVERY:
            self._asked_at = now
            out += self._frame(question)

    def _send_touches(self, now: float, out: bytearray) -> None:
        again = now >= self._touch_due
        for felt in self._touches:
            if again or not felt.sent:
                age = min(255, max(0, round((now - felt.at) * 100)))
                out += self._frame(replace(felt.touch, age=age))
                felt.sent = True
        if self._touches and (again or self._touch_due == float("inf")):
            self._touch_due = now + TOUCH_AGAIN

    def _unsent(self) -> bool:
        return any(not felt.sent for felt in self._touches)

    def _frame(self, message: messages.Message) -> bytes:
        return b"" if self._seal is None else frames.encode(messages.encode(message), self._seal)

    def _answer(self, host: int, session: int) -> bytes:
        return frames.encode(messages.encode(messages.Answer(messages.VERSION, host, session, self.facts)))


def _look(show: messages.Show) -> tuple[int, int, int, int]:
    return show.screen, show.theme, show.brightness, show.count


def _checked(facts: DisplayFacts) -> DisplayFacts:
    if not LEAST_BODY <= facts.max_body <= MAX_BODY or facts.window < 1:
        raise ValueError(f"max_body {facts.max_body} or window {facts.window} is outside the protocol")
    if facts.identity is not None and len(facts.identity) != 8:
        raise ValueError("an identity has eight bytes")
    return facts
