"""The host's end of the line. No I/O and no clock: bytes and time in, bytes and events out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from hmic.wire import frames, messages
from hmic.wire.crc import START
from hmic.wire.events import (
    Connected,
    Disconnected,
    DisplayFacts,
    HostEvent,
    RateChanged,
    Shown,
    Touched,
    TouchesLost,
)
from hmic.wire.host_greeting import Greeting
from hmic.wire.host_rate import Rate
from hmic.wire.host_scene import Scene
from hmic.wire.host_transfer import Transfer
from hmic.wire.host_values import HostValues, Sealed
from hmic.wire.outbox import Outbox, Statistics
from hmic.wire.sent import Pairs
from hmic.wire.sizes import BARE_BLOCK_SECONDS, BLOCK_LEAD, BLOCK_SECONDS, MAX_RAW, VALUE_LEAD, value_room
from hmic.wire.states import Cause, Host

LIFE_EVERY = 0.3
"""Seconds after which the host gives a sign of life if it sent no value: three in the second after
which a display calls it silent."""


class HostSession:
    """Greets, shows, updates and transfers. Times are seconds of any steady clock.

    ``nonce`` (32 bits) is new at every start of the host; ``rate`` is the line's bytes a second
    (baud / 10 for 8N1). Call ``receive`` (with b"" if there is nothing) and ``outgoing`` whenever
    bytes come, after ``show``/``update``/``transfer``, and at ``next_deadline``. Bytes that
    ``outgoing`` gives are for the line at once; it gives no more than the line can take soon.
    ``fastest`` (Bd) is the highest rate to agree on with a display that can; 0 to keep to ``rate``.
    """

    def __init__(self, nonce: int, rate: float = 11520.0, fastest: int = 0) -> None:
        self._decoder = frames.FrameDecoder()
        self._line = Outbox(rate)
        self._first_rate = rate
        self._greeting = Greeting(nonce)
        self._rate = Rate(round(rate * 10), fastest)
        self._scene = Scene()
        self._values = HostValues()
        self._transfer = Transfer(rate)
        self._touch_next = 0
        self._heard_due = False
        self._life_at = float("-inf")

    @property
    def state(self) -> Host:
        """A state of PROTOCOL.md's host table."""
        return self._greeting.state

    @property
    def facts(self) -> DisplayFacts | None:
        """The display's last answer, None before the first."""
        return self._greeting.facts

    @property
    def statistics(self) -> Statistics:
        """What was sent so far."""
        return replace(self._line.counts, dropped=self._decoder.dropped)

    def show(
        self, screen: int, theme: int, brightness: int, channel_count: int, *, pairs: Pairs = ()
    ) -> None:
        """Choose what is in sight; ``brightness`` 0..100. Another screen needs an ``update`` next. The values
        at both positions of each of the ``pairs`` are always sent together.

        May be called before a session stands. The choice outlives a broken line, but not a
        display that comes back with another pack.
        """
        if not 0 <= brightness <= messages.BRIGHTNESS_LIMIT:
            raise ValueError(f"brightness {brightness} is outside 0..{messages.BRIGHTNESS_LIMIT}")
        if not 0 <= channel_count <= 0xFFFF:
            raise ValueError(f"{channel_count} channels are outside 0..65535")
        if self._scene.choose(Shown(screen, theme, brightness, channel_count)):
            self._values.target, self._values.pairs = None, pairs

    def update(self, raw: Sequence[int], now: float) -> None:
        """The raw values (0..65535) of the whole list of the screen in sight, as they are now.

        ValueError when there is no screen in sight or its list has another length.
        """
        look = self._scene.look
        if look is None or len(raw) != look.channel_count:
            wanted = "no screen is shown" if look is None else f"the screen has {look.channel_count}"
            raise ValueError(f"{len(raw)} values given, but {wanted}")
        if raw and not 0 <= min(raw) <= max(raw) <= MAX_RAW:
            raise ValueError(f"a raw value is outside 0..{MAX_RAW}")
        self._values.target = tuple(raw)
        if not self._scene.fresh:
            self._values.sent.aim(self._values.target, now)

    def transfer(self, pack: bytes, dry: bool = False) -> None:
        """Send a pack and have it activated, now or when the session stands; ends another transfer.
        ``dry``: only find out what would be sent (``Surveyed``), then end as cancelled."""
        self._transfer.begin(pack, dry)
        if self._greeting.together and self.facts is not None:
            self._transfer.meet(self.facts)

    def cancel_transfer(self) -> None:
        """Give the transfer up, if there is one. The display keeps what it has, to resume."""
        self._transfer.cancel()

    def receive(self, data: bytes, now: float) -> list[HostEvent]:
        """Take bytes from the line and let time pass to ``now``; what came of it, in order."""
        events: list[HostEvent] = self._transfer.take_events()
        for frame in self._decoder.receive(data):
            self._take(frame, now, events)
            events += self._transfer.take_events()
        if self._greeting.silent(now):
            self._part(Cause.DISPLAY_SILENT, events)
        if self._greeting.together:
            self._transfer.pass_time(now)
        return events

    def outgoing(self, now: float) -> bytes:
        """Bytes for the line, most urgent first."""
        line = self._line
        line.begin(now)
        if not self._greeting.together:
            greet = self._greeting.greet(now)
            if greet is not None:
                line.end_broken()
                line.put(messages.encode(greet), START)
        elif self._rate.asking:
            rate = self._rate.ask(now)
            if rate is not None:
                self._send(rate)
        else:
            self._send_all(now)
        return line.take()

    def next_deadline(self) -> float | None:
        """When ``receive`` and ``outgoing`` must be called next at the latest."""
        times = [self._greeting.deadline()]
        if not self._greeting.together:
            return times[0]
        if self._rate.asking:
            return min(*times, self._rate.due)
        times.append(self._life_at + LIFE_EVERY)
        if self._heard_due or self._scene.due or self._values.going_back:
            times.append(self._life_at)
        if self._values_wait():
            times.append(self._line.free_at - VALUE_LEAD)
        elif self._values.sent.late:
            times.append(self._values.sent.tell_at)
        times.append(self._transfer.deadline())
        if self._transfer.ready():
            times.append(self._line.free_at - BLOCK_LEAD)
        return min(times)

    def _take(self, frame: frames.Frame, now: float, events: list[HostEvent]) -> None:
        if frame.kind == messages.Kind.OVER and frame.intact():
            return  # For the link.
        open_kind = frame.kind in (messages.Kind.ANSWER, messages.Kind.ALONE)
        known = open_kind or self._greeting.together
        if not known or not frame.intact(START if open_kind else self._greeting.seal):
            self._decoder.dropped += 1
            return
        match messages.decode(frame.body):
            case messages.Answer() as answer:
                self._take_answer(answer, now, events)
            case messages.Alone():
                if self._greeting.together:
                    self._part(Cause.ALONE, events)
                return
            case messages.DisplayBeat(scene, number, dropped):
                self._line.counts.display_dropped = dropped
                if scene == self._scene.number:
                    self._values.sent.forget_before(number)
                else:
                    self._scene.astray(now)
            case messages.Want(scene, number):
                if scene != self._scene.number or not self._values.want(number, now):
                    self._scene.astray(now)
            case messages.Touch() as touch:
                self._take_touch(touch, events)
            case messages.Rated(baud):
                if self._rate.take(baud):
                    self._set_rate(baud / 10, events)
            case messages.Need() | messages.Result() | messages.Hashes() as report:
                self._transfer.take(report, now)
            case _:
                self._decoder.dropped += 1
                return
        self._greeting.heard_at = now

    def _take_answer(self, answer: messages.Answer, now: float, events: list[HostEvent]) -> None:
        before, event = self.facts, self._greeting.take(answer)
        if event is not None:
            events.append(event)
        if not isinstance(event, Connected):
            return
        facts = event.facts
        if before is None or before.nonce != facts.nonce:
            self._touch_next = 0
        if before is not None and before.identity != facts.identity:
            self._scene.forget()
            self._values.target = None
        self._values.begin(0, 0, now)
        self._scene.anew()
        self._heard_due = False
        self._life_at = now
        if answer.lost:
            events.append(TouchesLost(answer.lost))
        self._rate.begin(facts.fastest, now)
        self._transfer.meet(facts)

    def _part(self, cause: Cause, events: list[HostEvent]) -> None:
        self._greeting.part(cause)
        self._transfer.part()
        events.append(Disconnected())
        if self._rate.part():
            self._set_rate(self._first_rate, events)

    def _set_rate(self, rate: float, events: list[HostEvent]) -> None:
        self._line.rate = rate
        self._transfer.rate = rate
        events.append(RateChanged(round(rate * 10)))

    def _take_touch(self, touch: messages.Touch, events: list[HostEvent]) -> None:
        self._heard_due = True
        if touch.number == self._touch_next:
            self._touch_next += 1
            events.append(Touched(touch.screen, touch.zone, touch.phase, touch.x, touch.y, touch.age / 100))

    def _send_all(self, now: float) -> None:
        line, scene, values = self._line, self._scene, self._values
        session = self._greeting.seal
        if self._heard_due:
            self._heard_due = False
            self._send(messages.Heard(self._touch_next))
        if scene.due:
            self._send_show(now)
        asked = values.going_back
        if asked or values.sent.misleads(now):
            if asked:
                line.end_broken()
            self._send_proof(values.resume(session, scene.number, now), now)
            if asked:
                values.resumed(line.free_at)
                line.counts.resumed += 1
        while self._values_wait() and line.waits() <= VALUE_LEAD:
            self._send_proof(values.value_frame(session, scene.number, self._value_room(), now), now)
            line.counts.value_frames += 1
        if now >= self._life_at + LIFE_EVERY:
            self._send_life(now)
        self._send_transfer(now)

    def _send_show(self, now: float) -> None:
        look, values, fresh = self._scene.look, self._values, self._scene.fresh
        if look is None:
            return
        self._send(self._scene.show(look, values.sent.number, now))
        if fresh:
            values.begin(look.channel_count, values.sent.number, now)
        self._life_at = now

    def _values_wait(self) -> bool:
        return not self._scene.due and bool(self._values.sent.behind)

    def _value_room(self) -> int:
        return value_room(self._line.rate, self.facts.max_body if self.facts is not None else 0)

    def _send_life(self, now: float) -> None:
        if self._scene.look is None:
            self._send(messages.HostBeat())
            self._life_at = now
        else:
            self._send_proof(self._values.pulse(self._greeting.seal, self._scene.number), now)

    def _send_transfer(self, now: float) -> None:
        line, transfer = self._line, self._transfer
        while (question := transfer.ask(now)) is not None:
            self._send(question)
        bare = self._scene.look is None
        longest = BARE_BLOCK_SECONDS if bare else BLOCK_SECONDS
        while transfer.ready() and line.waits() <= BLOCK_LEAD:
            body = messages.encode(transfer.block(line.free_at, longest))
            if bare and line.free_at + len(body) / line.rate > self._life_at + LIFE_EVERY:
                # After the block it would be late.
                self._send_life(now)
            line.put(body, self._greeting.seal)
            line.counts.block_frames += 1

    def _send_proof(self, proof: Sealed, now: float) -> None:
        """What is sealed with the values is a sign of life."""
        body, seal = proof
        self._line.put(body, seal)
        self._life_at = now

    def _send(self, message: messages.Message) -> None:
        self._line.put(messages.encode(message), self._greeting.seal)
