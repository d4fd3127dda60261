"""The host's end of the line. No I/O and no clock: bytes and time in, bytes and events out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hmic.wire import frames, messages, updates
from hmic.wire.crc import START
from hmic.wire.events import (
    Connected,
    Disconnected,
    DisplayFacts,
    HostEvent,
    Mismatched,
    Outcome,
    RateChanged,
    Touched,
    TouchesLost,
    Transferred,
)
from hmic.wire.sent import SentValues
from hmic.wire.sizes import (
    BARE_BLOCK_SECONDS,
    BLOCK_LEAD,
    BLOCK_SECONDS,
    LEAST_ROOM,
    MAX_BODY,
    MAX_RAW,
    VALUE_LEAD,
    value_room,
)
from hmic.wire.states import HOST, Cause, Host, after
from hmic.wire.transfer import Sender

GREET_EVERY = 0.25
"""Seconds between greetings without answer."""

LIFE_EVERY = 0.3
"""Seconds after which the host gives a sign of life if it sent no value: three in the second after
which a display calls it silent."""

DISTURBED_AT_MOST = 1.0
"""Seconds through which a display may be brought back to one number before every value is sent anew: where
its Wants have to wait for the line, they tell of what it held long ago."""

CALM_AFTER = 0.5
"""Seconds without a Want after which the line was good again: a display asks each 0.05 s while it must."""

DISPLAY_SILENT_AFTER = 1.25
"""Seconds: five beats of the display."""

RATE_EVERY = 0.25
"""Seconds before a Rate without reply is sent again."""

RATE_TRIES = 3
"""Rates without reply, and sessions at a higher rate that broke, after which it is left alone."""

UNDER_WAY = 0.03
"""Seconds after a Resume has left the line in which a Want that does not know of it may have been sent
before it came; doubled when the display turns out to have taken an earlier one of two."""

UNDER_WAY_LIMIT = 0.5

SHOW_AGAIN = 0.3
"""Seconds a display may go on telling of another scene before Show is sent again."""


@dataclass(frozen=True)
class Statistics:
    """Counted since the start. ``resumed`` tells how often the host went back to what the display held,
    ``dropped`` frames from the display that were no good."""

    frames: int = 0
    bytes: int = 0
    value_frames: int = 0
    resumed: int = 0
    block_frames: int = 0
    dropped: int = 0
    display_dropped: int = 0


@dataclass(frozen=True)
class _Look:
    screen: int
    theme: int
    brightness: int
    count: int


class HostSession:
    """Greets, shows, updates and transfers. Times are seconds of any steady clock.

    ``nonce`` (32 bits) is new at every start of the host; ``rate`` is the line's bytes a second
    (baud / 10 for 8N1). Call ``receive`` (with b"" if there is nothing) and ``outgoing`` whenever
    bytes come, after ``show``/``update``/``transfer``, and at ``next_deadline``. Bytes that
    ``outgoing`` gives are for the line at once; it gives no more than the line can take soon.
    ``fastest`` (Bd) is the highest rate to agree on with a display that can; 0 to keep to ``rate``.
    """

    def __init__(self, nonce: int, rate: float = 11520.0, fastest: int = 0) -> None:
        self._nonce = nonce
        self._rate = self._base_rate = rate
        self._fastest = fastest
        self._rate_tries = 0
        self._rate_failures = 0
        self._rate_due = float("inf")
        self._decoder = frames.FrameDecoder()
        self._state: str = Host.GREETING
        self._session = 1
        self._greet_due = float("-inf")
        self._told_version: int | None = None
        self._facts: DisplayFacts | None = None
        self._seal = START
        self._heard_at = 0.0
        self._look: _Look | None = None
        self._scene = 0
        self._show_due = False
        self._fresh = True
        self._shown_at = 0.0
        self._wanted_at = self._disturbed_since = float("-inf")
        self._target: tuple[int, ...] | None = None
        self._sent = SentValues(0, 0)
        self._resume_due = False
        self._gone_back_to = self._resumed_as = -1
        self._under_way = UNDER_WAY
        self._under_way_until = 0.0
        self._room = MAX_BODY
        self._touch_next = 0
        self._heard_due = False
        self._life_at = float("-inf")
        self._free_at = 0.0
        self._sender: Sender | None = None
        self._transfer = 0
        self._cancelled = False
        self._farewell: messages.Message | None = None
        self._counts = dict.fromkeys(
            ("frames", "bytes", "value_frames", "resumed", "block_frames", "display_dropped"), 0
        )

    @property
    def state(self) -> str:
        """A state of PROTOCOL.md's host table."""
        return self._state

    @property
    def facts(self) -> DisplayFacts | None:
        """The display's last answer, None before the first."""
        return self._facts

    @property
    def statistics(self) -> Statistics:
        """What was sent so far."""
        return Statistics(dropped=self._decoder.dropped, **self._counts)

    def show(self, screen: int, theme: int, brightness: int, channel_count: int) -> None:
        """Choose what is in sight; ``brightness`` 0..100. Another screen needs an ``update`` next.

        May be called before a session stands. The choice outlives a broken line, but not a
        display that comes back with another pack.
        """
        if not 0 <= brightness <= messages.BRIGHTNESS_LIMIT:
            raise ValueError(f"brightness {brightness} is outside 0..{messages.BRIGHTNESS_LIMIT}")
        if not 0 <= channel_count <= 0xFFFF:
            raise ValueError(f"{channel_count} channels are outside 0..65535")
        look = _Look(screen, theme, brightness, channel_count)
        before, self._look = self._look, look
        if before == look:
            return
        if before is None or (before.screen, before.count) != (look.screen, look.count):
            self._target = None
            self._fresh = True
        self._scene += 1
        self._show_due = True

    def update(self, raw: Sequence[int], now: float) -> None:
        """The raw values (0..65535) of the whole list of the screen in sight, as they are now.

        ValueError when there is no screen in sight or its list has another length.
        """
        if self._look is None or len(raw) != self._look.count:
            wanted = "no screen is shown" if self._look is None else f"the screen has {self._look.count}"
            raise ValueError(f"{len(raw)} values given, but {wanted}")
        if raw and not 0 <= min(raw) <= max(raw) <= MAX_RAW:
            raise ValueError(f"a raw value is outside 0..{MAX_RAW}")
        self._target = tuple(raw)
        if not self._fresh:
            self._sent.aim(self._target, now)

    def transfer(self, pack: bytes, dry: bool = False) -> None:
        """Send a pack and have it activated, now or when the session stands; ends another transfer.
        ``dry``: only find out what would be sent (``Surveyed``), then end as cancelled."""
        self._drop_transfer()
        self._sender = Sender(pack, self._transfer, self._rate, dry)
        if self._facts is not None:
            self._sender.restart(self._facts)
        self._transfer = self._sender.transfer

    def cancel_transfer(self) -> None:
        """Give the transfer up, if there is one. The display keeps what it has, to resume."""
        self._cancelled = self._drop_transfer()

    def _drop_transfer(self) -> bool:
        if self._sender is None:
            return False
        self._farewell = self._sender.farewell()
        self._transfer = self._sender.transfer
        self._sender = None
        return True

    def receive(self, data: bytes, now: float) -> list[HostEvent]:
        """Take bytes from the line and let time pass to ``now``; what came of it, in order."""
        events: list[HostEvent] = []
        if self._cancelled:
            self._cancelled = False
            events.append(Transferred(Outcome.CANCELLED))
        for frame in self._decoder.receive(data):
            self._take(frame, now, events)
        if self._state == Host.TOGETHER and now >= self._heard_at + DISPLAY_SILENT_AFTER:
            self._part(Cause.DISPLAY_SILENT, events)
        if self._state == Host.TOGETHER and self._sender is not None:
            self._sender.pass_time(now)
            if self._facts is not None and self._sender.identity == self._facts.identity:
                self._end_transfer(Outcome.UNCHANGED, events)
        if self._state == Host.TOGETHER and self._sender is not None:
            events.extend(self._sender.take_survey())
            if self._sender.outcome is not None:
                self._end_transfer(self._sender.outcome, events)
        return events

    def outgoing(self, now: float) -> bytes:
        """Bytes for the line, most urgent first."""
        out = bytearray()
        self._free_at = max(self._free_at, now)
        if self._state == Host.GREETING:
            if now >= self._greet_due:
                self._greet_due = now + GREET_EVERY
                greet = messages.Greet(messages.VERSION, self._nonce, self._session)
                out += b"\0"
                self._put(out, messages.encode(greet), START)
            return bytes(out)
        if self._rate_due < float("inf"):
            # Nothing else until it is settled: what is under way would arrive at the wrong rate.
            if now >= self._rate_due:
                self._ask_rate(out, now)
            return bytes(out)
        if self._heard_due:
            self._heard_due = False
            self._send(out, messages.Heard(self._touch_next))
        if self._show_due and self._look is not None:
            self._send_show(out, self._look, now)
        if self._resume_due or (not self._show_due and self._sent.misleads(now)):
            self._send_resume(out, now)
            self._life_at = now
        while self._values_wait() and self._free_at - now <= VALUE_LEAD:
            self._send_values(out, now)
            self._life_at = now
        if now >= self._life_at + LIFE_EVERY:
            self._send_life(out)
            self._life_at = now
        self._send_transfer(out, now)
        return bytes(out)

    def next_deadline(self) -> float | None:
        """When ``receive`` and ``outgoing`` must be called next at the latest."""
        if self._state == Host.GREETING:
            return self._greet_due
        times = [self._heard_at + DISPLAY_SILENT_AFTER, min(self._life_at + LIFE_EVERY, self._rate_due)]
        if self._heard_due or self._show_due or self._resume_due or self._farewell is not None:
            times.append(self._life_at)
        if self._values_wait():
            times.append(self._free_at - VALUE_LEAD)
        elif self._sent.late:
            times.append(self._sent.tell_at)
        if self._sender is not None:
            times.append(self._sender.deadline())
            if self._sender.ready():
                times.append(self._free_at - BLOCK_LEAD)
        return min(times)

    def _take(self, frame: frames.Frame, now: float, events: list[HostEvent]) -> None:
        if frame.kind == messages.Kind.OVER and frame.intact():
            return  # For the link.
        open_kind = frame.kind in (messages.Kind.ANSWER, messages.Kind.ALONE)
        known = open_kind or self._state == Host.TOGETHER
        if not known or not frame.intact(START if open_kind else self._seal):
            self._decoder.dropped += 1
            return
        match messages.decode(frame.body):
            case messages.Answer() as answer:
                self._take_answer(answer, now, events)
            case messages.Alone():
                if self._state == Host.TOGETHER:
                    self._part(Cause.ALONE, events)
                return
            case messages.DisplayBeat(scene, number, dropped):
                self._counts["display_dropped"] = dropped
                self._take_beat(scene, number, now)
            case messages.Want(scene, number):
                self._take_want(scene, number, now)
            case messages.Touch() as touch:
                self._take_touch(touch, events)
            case messages.Rated(baud):
                self._take_rated(baud, events)
            case messages.Need() | messages.Result() | messages.Hashes() as report:
                if self._sender is not None:
                    events.extend(self._sender.take(report, now))
                    self._transfer = self._sender.transfer
                    if self._sender.outcome is not None:
                        self._sender = None
            case _:
                self._decoder.dropped += 1
                return
        self._heard_at = now

    def _take_answer(self, answer: messages.Answer, now: float, events: list[HostEvent]) -> None:
        mine = (answer.host, answer.session) == (self._nonce, self._session)
        if not mine or self._state != Host.GREETING:
            return
        facts = answer.facts
        if facts is None:
            if answer.version != self._told_version:
                self._told_version = answer.version
                events.append(Mismatched(answer.version))
            return
        before, self._facts = self._facts, facts
        self._state = after(HOST, self._state, Cause.ANSWER)
        self._seal = updates.session_seal(self._nonce, facts.nonce, self._session)
        if before is None or before.nonce != facts.nonce:
            self._touch_next = 0
        if before is not None and before.identity != facts.identity:
            self._look = self._target = None
        self._begin_values(0, 0)
        self._heard_due = False
        self._life_at = now
        if self._look is None:
            self._scene, self._show_due = 0, False
        else:
            self._show_anew()
        events.append(Connected(facts))
        if answer.lost:
            events.append(TouchesLost(answer.lost))
        baud = round(self._base_rate * 10)
        wanted = min(self._fastest, facts.fastest) > baud and self._rate_failures < RATE_TRIES
        self._rate_due, self._rate_tries = (now if wanted else float("inf")), 0
        if self._sender is not None:
            if self._sender.identity == facts.identity:
                self._end_transfer(Outcome.ACTIVATED if self._sender.finishing else Outcome.UNCHANGED, events)
            else:
                self._sender.restart(facts)

    def _end_transfer(self, outcome: Outcome, events: list[HostEvent]) -> None:
        if self._sender is not None:
            self._transfer = self._sender.transfer
            self._sender = None
        events.append(Transferred(outcome))

    def _part(self, cause: Cause, events: list[HostEvent]) -> None:
        self._state = after(HOST, self._state, cause)
        self._session = (self._session + 1) & 0xFFFF
        self._greet_due = float("-inf")
        self._farewell = None
        self._rate_due = float("inf")
        events.append(Disconnected())
        if self._rate != self._base_rate:
            self._rate_failures += 1
            self._rate = self._base_rate
            events.append(RateChanged(round(self._rate * 10)))

    def _ask_rate(self, out: bytearray, now: float) -> None:
        if self._rate_tries >= RATE_TRIES or self._facts is None:
            self._rate_due = float("inf")
            self._rate_failures += 1
            return
        self._rate_tries += 1
        self._rate_due = now + RATE_EVERY
        self._send(out, messages.Rate(min(self._fastest, self._facts.fastest)))

    def _take_rated(self, baud: int, events: list[HostEvent]) -> None:
        if self._rate_due == float("inf"):
            return
        self._rate_due = float("inf")
        if baud:
            self._rate = baud / 10
            events.append(RateChanged(baud))
            if self._sender is not None:
                self._sender.pace(self._rate)

    def _show_anew(self) -> None:
        if self._look is not None:
            self._scene += 1
            self._show_due = self._fresh = True

    def _begin_values(self, count: int, number: int) -> None:
        self._sent = SentValues(count, number)
        self._resume_due, self._gone_back_to, self._resumed_as = False, -1, -1

    def _take_beat(self, scene: int, number: int, now: float) -> None:
        if scene == self._scene:
            self._sent.forget_before(number)
        elif now >= self._shown_at + SHOW_AGAIN:
            self._show_anew()

    def _take_want(self, scene: int, number: int, now: float) -> None:
        """Goes back to what the display holds; what has changed since then is sent as ever."""
        again = scene == self._scene and number == self._gone_back_to
        if again and (self._resume_due or now < self._under_way_until):
            return
        if now > self._wanted_at + CALM_AFTER or number != self._gone_back_to:
            self._disturbed_since = now
        self._wanted_at = now
        if scene == self._scene and now > self._disturbed_since + DISTURBED_AT_MOST:
            self._disturbed_since = now
            self._show_anew()
            return
        if scene != self._scene or not self._sent.go_back(number):
            if now >= self._shown_at + SHOW_AGAIN:
                self._show_anew()
            return
        if self._gone_back_to < number < self._resumed_as:
            self._under_way = min(2 * self._under_way, UNDER_WAY_LIMIT)
        self._resume_due, self._gone_back_to, self._resumed_as = True, number, self._sent.number
        self._room = max(LEAST_ROOM, self._room * 3 // 4)

    def _take_touch(self, touch: messages.Touch, events: list[HostEvent]) -> None:
        self._heard_due = True
        if touch.number == self._touch_next:
            self._touch_next += 1
            events.append(Touched(touch.screen, touch.zone, touch.phase, touch.x, touch.y, touch.age / 100))

    def _send_show(self, out: bytearray, look: _Look, now: float) -> None:
        number = self._sent.number
        self._send(
            out,
            messages.Show(
                self._scene, number, self._fresh, look.screen, look.theme, look.brightness, look.count
            ),
        )
        if self._fresh:
            self._begin_values(look.count, number)
            if self._target is not None:
                self._sent.aim(self._target, now)
        self._show_due = self._fresh = False
        self._shown_at = self._life_at = now

    def _values_wait(self) -> bool:
        return not self._show_due and bool(self._sent.behind)

    def _send_values(self, out: bytearray, now: float) -> None:
        if self._facts is None:
            return
        seal = self._value_seal(self._sent.number + 1)
        self._room = min(self._room + 2, value_room(self._rate, self._facts.max_body))
        self._put(out, self._sent.advance(self._room, now), seal)
        self._counts["value_frames"] += 1

    def _send_resume(self, out: bytearray, now: float) -> None:
        """Asked for, it is preceded by 00, to end what a spoilt frame may have left at the display."""
        asked, self._resume_due = self._resume_due, False
        if asked:
            out += b"\0"
            self._free_at += 1 / self._rate
        else:
            self._sent.go_on()
        seal = self._value_seal(self._sent.number)
        late = self._sent.tell_late(now)
        self._put(out, messages.encode(messages.Resume(self._sent.number, late)), seal)
        if asked:
            self._under_way_until = self._free_at + self._under_way
            self._counts["resumed"] += 1

    def _value_seal(self, number: int) -> int:
        return updates.value_seal(self._seal, self._scene, number, self._sent.late, self._sent.values)

    def _send_life(self, out: bytearray) -> None:
        if self._look is None:
            self._send(out, messages.HostBeat())
        else:
            self._put(out, updates.PULSE, self._value_seal(self._sent.number))

    def _send_transfer(self, out: bytearray, now: float) -> None:
        if self._farewell is not None:
            self._send(out, self._farewell)
            self._farewell = None
        sender = self._sender
        if sender is None:
            return
        asking = sender.ask(now)
        if asking is not None:
            self._send(out, asking)
        bare = self._look is None
        longest = BARE_BLOCK_SECONDS if bare else BLOCK_SECONDS
        while sender.ready() and self._free_at - now <= BLOCK_LEAD:
            block = sender.block(self._free_at, longest)
            if block is None:
                return
            body = messages.encode(block)
            if bare and self._free_at + len(body) / self._rate > self._life_at + LIFE_EVERY:
                # After the block it would be late.
                self._send_life(out)
                self._life_at = now
            self._put(out, body, self._seal)
            self._counts["block_frames"] += 1

    def _send(self, out: bytearray, message: messages.Message) -> None:
        self._put(out, messages.encode(message), self._seal)

    def _put(self, out: bytearray, body: bytes, seal: int) -> None:
        frame = frames.encode(body, seal)
        out += frame
        self._free_at += len(frame) / self._rate
        self._counts["frames"] += 1
        self._counts["bytes"] += len(frame)
