"""The runtime's core: what the vehicle says in, bytes for the display out. No I/O and no clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from hmic.diagnostics import Finding, error, warning
from hmic.language.syntax import Side
from hmic.link.half_duplex import SHARE
from hmic.model.actions import Acknowledge, GoTo, TurnPage, Within
from hmic.model.builtin import CLOCK
from hmic.model.design import Panel
from hmic.runtime.binding import BoundDesign, ScreenValues, Steadying
from hmic.runtime.decoding import Arrival
from hmic.runtime.encoding import Encoder
from hmic.runtime.refusals import Refusal, RequestRefused
from hmic.runtime.requests import RequestDone, RequestMade, Requests
from hmic.runtime.rising import Sight
from hmic.runtime.theming import Theming
from hmic.runtime.touching import SWIPE_MM, ConfirmAsked, Fingers, Granted, name_of
from hmic.runtime.vehicle import Vehicle
from hmic.runtime.vehicle_time import Steady, VehicleTime, earliest
from hmic.wire.bounds import batch_seconds
from hmic.wire.events import (
    Connected,
    Disconnected,
    DisplayFacts,
    Mismatched,
    Phase,
    Touched,
    TouchesLost,
)
from hmic.wire.host_session import HostSession
from hmic.wire.sizes import BATCH, CALM, LEAST_BODY, value_room

if TYPE_CHECKING:
    from hmic.runtime.retrace import Onlooker

STALLED = 0.5
"""Seconds without a turn of the loop, which turns four times a second at least, after which what has
come over the line may be that old."""

STEADYING = Steadying()


@dataclass(frozen=True)
class ScreenChanged:
    """Another screen is in sight."""

    name: str


@dataclass(frozen=True)
class LinkChanged:
    """The display answers, or no longer does."""

    up: bool


@dataclass(frozen=True)
class Problem:
    """Something a person should know."""

    finding: Finding


RuntimeEvent = (
    ScreenChanged | LinkChanged | Problem | RequestMade | RequestDone | RequestRefused | ConfirmAsked
)


class Witness(Protocol):
    """Sees what comes and what is shown for it, with vehicle times."""

    def arrived(self, arrival: Arrival) -> None: ...
    def clock(self, at: float, minutes: float) -> None: ...
    def link(self, at: float, up: bool) -> None: ...
    def showed(self, at: float, screen: str, theme: str, raw: Sequence[int]) -> None: ...


class Runtime:
    """Joins the signal table, the screen in sight and the session with the display.

    Every ``now`` is in seconds of one clock, which may jump. Feed arrivals, received bytes and
    ``tick`` at ``next_deadline``; take bytes with ``outgoing`` and what happened with
    ``take_events`` after each. ``vehicle_time`` says how the arrivals' times relate to ``now``;
    ``nonce`` (32 bits) is new at every start. ``theme`` is one chosen by hand, None for the design's
    choice.
    """

    def __init__(
        self,
        bound: BoundDesign,
        nonce: int,
        vehicle_time: VehicleTime | None = None,
        *,
        steadying: Steadying | None = STEADYING,
        outputs_allowed: bool = False,
        encoder: Encoder | None = None,
        witness: Witness | None = None,
        theme: int | None = None,
        baud: int | None = None,
    ) -> None:
        """``baud`` is the rate of the line in Bd where it is not the one that the design names."""
        self.bound = bound
        self.vehicle = Vehicle(bound.design, bound.channels)
        self.table = self.vehicle.table
        self.connected = False
        self.updates = 0
        self._witness = witness
        panel = bound.design.panel
        share = SHARE if panel.half_duplex else 1.0
        self._rate = (baud or panel.baud) / 10 * share
        self._batch = BATCH
        self._session = HostSession(nonce, self._rate)
        self._vehicle_time = vehicle_time or VehicleTime()
        self._steady = Steady()
        self._steadying = steadying
        self._theming = Theming(bound.design.choose, theme)
        self._matches = False
        self._sight = Sight(bound.screens, bound.start)
        self._rising_signals = self._sight.signals
        self._requests = Requests(
            bound.design,
            outputs_allowed,
            lambda name: self.table.freshness(name).count,
            encoder.targets if encoder is not None else None,
            encoder.encode if encoder is not None else None,
        )
        self._events: list[RuntimeEvent] = []
        self._shown = -1
        self._turned = float("inf")
        self._seen: frozenset[tuple[int, int]] = frozenset()
        # The finger that is down, and whether the screen that it met has given way since.
        self._pressed: Touched | None = None
        self._gave_way = False
        self._values = ScreenValues((), None)
        self._next_batch = self._next_calm = float("-inf")
        for name in bound.pages:
            self.table.keep(name, 0.0)
        self._fingers = self._bring_up(self._sight.screen)

    @property
    def screen(self) -> str:
        """The name of the screen in sight."""
        return self.bound.screens[self._shown].name

    def feed(self, arrival: Arrival, now: float) -> None:
        """Takes in what a frame brought."""
        now = self._steady(now)
        self._vehicle_time.start(now)
        self._vehicle_time.note(arrival.at)
        # Only as far as the arrival: what comes late in one go is still judged at its own times.
        # To the microsecond, so that a record gives the same times again.
        arrival = arrival._replace(at=round(min(arrival.at, self._vehicle_time.at(now)), 6))
        self.vehicle.feed(arrival)
        if self._witness is not None:
            self._witness.arrived(arrival)
        self._follow(now)

    def receive(self, data: bytes, now: float) -> None:
        """Takes in bytes of the display."""
        gap = now - self._turned
        blind = gap if gap > STALLED else 0.0
        now = self._move(now)
        for event in self._session.receive(data, now):
            if isinstance(event, Connected):
                self._meet(event.facts, now)
            elif isinstance(event, Disconnected):
                self._lose()
            elif isinstance(event, Mismatched):
                self._refuse_version(event.version)
            elif isinstance(event, TouchesLost):
                self._events.append(Problem(_touches_lost(event.count)))
            elif isinstance(event, Touched):
                self._feel(event, now, event.age + blind)
                self._follow(now)
        self._follow(now)

    def tick(self, now: float) -> None:
        """Lets time pass: what is too old turns stale, what waits is sent."""
        self._follow(self._move(now))

    def outgoing(self, now: float) -> bytes:
        """Bytes for the display."""
        return self._session.outgoing(self._move(now))

    def next_deadline(self) -> float | None:
        """The reading of the clock at which ``tick`` and ``outgoing`` have something to do."""
        changes = self.vehicle.next_due()
        settles = self._values.settles_at()
        due = earliest(
            (
                None if changes is None else self._vehicle_time.host(changes),
                self._next_batch if self._values.dirty else None,
                None if settles is None else max(settles, self._next_batch),
                self._fingers.next_deadline(),
                self._requests.next_deadline(),
                self._theming.next_deadline(),
                self._session.next_deadline(),
            )
        )
        return None if due is None else self._steady.outer(due)

    def take_events(self) -> list[RuntimeEvent]:
        """What happened since the last call, in order."""
        events, self._events = self._events, []
        return events

    def set_clock(self, minutes: float, now: float) -> None:
        """Minutes since midnight, for what shows the time of day."""
        now = self._move(now)
        self.table.keep(CLOCK, float(minutes))
        if self._witness is not None:
            self._witness.clock(self.table.now, float(minutes))
        self._follow(now)

    def choose_theme(self, theme: int | None, now: float) -> None:
        """Shows everything in another theme, by its number in the design; None for the one that the
        design chooses."""
        before = self._theming.theme
        self._theming.by_hand = theme
        if self._theming.theme != before:
            self._show(self._move(now))

    @property
    def theme(self) -> int:
        """The number of the theme shown."""
        return self._theming.theme

    def not_sent(self, name: str, reason: str, now: float) -> None:
        """A request that was made could not be sent."""
        now = self._move(now)
        self._requests.give_up(name)
        self._fingers.answer(name, False, now)
        self._events.append(RequestRefused(name, Refusal.NOT_SENT, (reason,)))
        self._follow(now)

    def go_to(self, name: str, now: float) -> bool:
        """Shows another screen; False if there is none of that name, or the one in sight came up by
        itself and must be acknowledged first."""
        names = [screen.name for screen in self.bound.screens]
        if name not in names or not self._sight.go_to(names.index(name), self.table.lookup):
            return False
        self._follow(self._move(now))
        return True

    def jump(self, onlooker: Onlooker, now: float) -> None:
        """Goes on from another state of the vehicle, as at another moment of a log. What is chosen by touch
        stays chosen; what was asked is awaited no more."""
        self._fingers.cancel()
        self._requests.forget()
        self.vehicle, self.table = onlooker.vehicle, onlooker.vehicle.table
        onlooker.sight.choose_as(self._sight)
        self._sight = onlooker.sight
        now = self._move(now)
        self._fingers = self._bring_up(self._sight.screen)
        self._theming.follow(self.table.lookup, now)
        self._show(now)
        self._follow(now)

    def _move(self, now: float) -> float:
        self._turned = now
        steady = self._steady(now)
        self.vehicle.pass_time(self._vehicle_time.at(steady))
        return steady

    def _follow(self, now: float) -> None:
        """Brings the screen in sight and its values up to date."""
        for answer in self._requests.tick(self.table.lookup, now):
            self._fingers.answer(answer.name, isinstance(answer, RequestDone), now)
            self._events.append(answer)
        self._fingers.tick(now)
        changed = self.vehicle.take_changed()
        if changed:
            self._values.touch(changed)
            if not self._rising_signals.isdisjoint(changed):
                self._sight.weigh(self.table.lookup)
        self._values.touch_past(self.vehicle.history.take_changed())
        theme_changed = self._theming.follow(self.table.lookup, now)
        if self._sight.screen != self._shown:
            self._fingers.cancel()
            self._fingers = self._bring_up(self._sight.screen)
            self._show(now)
            return
        if theme_changed:
            self._show(now)
        lookup = self.table.lookup
        urgent = self._values.refresh_urgent(lookup, now)
        settles = self._values.settles_at()
        waiting = self._values.dirty or (settles is not None and settles <= now)
        if urgent or (waiting and now >= self._next_batch):
            calm = now >= self._next_calm
            if self._values.refresh(lookup, now, calm) or urgent:
                self._send(now)
            self._next_batch = now + self._batch
            if calm:
                # A hair less, so that rounding does not put it off to one batch more.
                self._next_calm = now + max(CALM, self._batch) - self._batch / 2

    def _bring_up(self, number: int) -> Fingers:
        screen = self.bound.screens[number]
        channels = (self.bound.channels[at] for at in screen.channels)
        self._values = ScreenValues(
            channels,
            self._steadying,
            numbers=screen.channels,
            history=self.vehicle.history,
            calm=screen.calm,
            prompt=screen.prompt,
        )
        room = value_room(self._rate, LEAST_BODY)
        self._batch = BATCH if screen.moving is None else batch_seconds(screen.moving, self._rate, room)
        if self._shown >= 0:
            self._events.append(ScreenChanged(screen.name))
        self._gave_way = self._pressed is not None
        self._shown = number
        pitch = self.bound.design.panel.pitch
        return Fingers(screen.name, screen.zones, pitch, self._requests, self.table.keep)

    def _show(self, now: float) -> None:
        self._values.refresh(self.table.lookup, now)
        self._next_batch = now + self._batch
        self._next_calm = now + max(CALM, self._batch)
        if self._matches:
            theme = self.bound.design.themes[self.theme]
            values = self._values
            count, pairs = len(values.channels), values.pairs
            self._session.show(self._shown, self.theme, theme.brightness, count, pairs=pairs)
            self._send(now)

    def _send(self, now: float) -> None:
        if self._matches:
            self._session.update(self._values.raw, now)
            self.updates += 1
            if self._witness is not None:
                theme = self.bound.design.themes[self.theme].name
                self._witness.showed(self.table.now, self.screen, theme, self._values.raw)

    def _meet(self, facts: DisplayFacts, now: float) -> None:
        self.connected = True
        self._fingers.lose_sight()
        self._events.append(LinkChanged(True))
        if self._witness is not None:
            self._witness.link(self.table.now, True)
        problem = mismatch(self.bound, facts)
        self._matches = problem is None
        if problem is not None:
            self._events.append(Problem(problem))
        else:
            self._show(now)

    def _lose(self) -> None:
        if self.connected:
            self._events.append(LinkChanged(False))
            if self._witness is not None:
                self._witness.link(self.table.now, False)
        self.connected = self._matches = False
        self._pressed = None
        self._fingers.lose_sight()

    def _refuse_version(self, version: int) -> None:
        remedy = "use the hmic that the display's software came with, or bring the display up to date"
        message = f"the display speaks version {version} of the protocol, which this hmic does not"
        self._events.append(Problem(error("R723", message, None, remedy)))

    def _feel(self, touched: Touched, now: float, age: float) -> None:
        """``age`` is how old the touch can be at most."""
        if touched.phase is Phase.PRESS:
            self._pressed, self._gave_way = touched, False
        if touched.screen != self._shown:
            self._fingers.cancel()
            self._gave_way = True
        gave_way = self._gave_way
        if touched.phase is Phase.RELEASE:
            if gave_way:
                self._tell_missed(touched)
            self._pressed, self._gave_way = None, False
        if gave_way:
            return
        felt, earliest = now - touched.age, now - age
        place = (touched.zone, touched.x, touched.y)
        if touched.phase is Phase.PRESS:
            self._seen = self._sight.holding
            self._fingers.press(*place, felt, earliest)
        elif touched.phase is Phase.RELEASE:
            outcome = self._fingers.release(*place, self.table.lookup, now, earliest=earliest)
            if isinstance(outcome, Side):
                self._swipe(outcome)
            elif isinstance(outcome, Granted):
                self._grant(outcome.action)
            elif outcome is not None:
                self._events.append(outcome)

    def _tell_missed(self, lifted: Touched) -> None:
        """Tells of a touch of a screen that has given way, if it was one of a control, or a swipe."""
        pressed = self._pressed
        if pressed is None or not pressed.screen < len(self.bound.screens):
            return
        screen = self.bound.screens[pressed.screen]
        across = max(abs(lifted.x - pressed.x), abs(lifted.y - pressed.y))
        if across * self.bound.design.panel.pitch >= SWIPE_MM:
            self._events.append(RequestRefused("swipe", Refusal.GAVE_WAY, (screen.name,)))
        elif pressed.zone is not None and pressed.zone < len(screen.zones):
            name = name_of(screen.zones[pressed.zone].action)
            self._events.append(RequestRefused(name, Refusal.GAVE_WAY, (screen.name,)))

    def _swipe(self, direction: Side) -> None:
        """By the screen's own swipes, else along the design's order: left brings the next."""
        screen = self.bound.screens[self._shown]
        order = self.bound.design.order
        target = dict(screen.swipes).get(direction)
        if target is None and direction in (Side.LEFT, Side.RIGHT) and screen.name in order:
            place = order.index(screen.name) + (1 if direction == Side.LEFT else -1)
            target = order[place] if 0 <= place < len(order) else None
        if target is not None:
            self._grant(GoTo(target))

    def _acknowledge(self) -> Refusal | None:
        """Why the screen in sight does not give way, if it does not."""
        if not self._sight.acknowledge(self.table.lookup, self._seen):
            return Refusal.NOT_RISEN
        stays = self._sight.screen == self._shown and self._sight.causes
        return Refusal.CAME_SINCE if stays else None

    def _grant(self, action: Within) -> None:
        lookup = self.table.lookup
        if isinstance(action, TurnPage):
            page = lookup(action.pages)
            if isinstance(page, float):
                self.table.keep(action.pages, float(min(max(page + action.by, 0), action.last)))
            return
        if isinstance(action, Acknowledge):
            why = self._acknowledge()
            if why is not None:
                self._events.append(RequestRefused("acknowledge", why))
            return
        names = [screen.name for screen in self.bound.screens]
        if action.screen not in names:
            self._events.append(RequestRefused(action.screen, Refusal.NO_SCREEN))
        elif not self._sight.go_to(names.index(action.screen), lookup):
            self._events.append(RequestRefused(action.screen, Refusal.NOT_ACKNOWLEDGED))


_MADE = ", or run the host file of the design that the display shows"
_BUILT = ", with the PACK of hmic build DESIGN -o PACK"


def mismatch(bound: BoundDesign, facts: DisplayFacts) -> Finding | None:
    """Why a display cannot show the design as built: another panel (R722) or another pack (R721)."""
    problem = panel_mismatch(bound.design.panel, facts)
    if problem is None and facts.identity != bound.identity:
        held = "no pack" if facts.identity is None else f"pack {facts.identity.hex()}"
        return error(
            "R721",
            f"the display holds {held}; this design builds to pack {bound.identity.hex()}",
            None,
            f"run it with --push, or hmic push {bound.file or 'PACK'} --port PORT"
            + (_MADE if bound.file else _BUILT),
        )
    return problem


def panel_mismatch(panel: Panel, facts: DisplayFacts) -> Finding | None:
    """Why a display's panel is not the design's (R722)."""
    if (panel.width, panel.height) != (facts.width, facts.height):
        return error(
            "R722",
            f"the design is for a panel of {panel.width}x{panel.height} pixels, "
            f"the display has {facts.width}x{facts.height}",
            None,
            "set 'panel' in design.yaml to the display's size, then build and push again",
        )
    if panel.depth != facts.depth:
        return error(
            "R722",
            f"the design is for {panel.depth} bits a pixel, the display has {facts.depth}",
            None,
            "set 'depth' in design.yaml to the display's, then build and push again",
        )
    return None


def _touches_lost(count: int) -> Finding:
    """A press and its release count as two."""
    message = f"fingers that the display had felt are lost: {count} presses and releases that no run heard"
    return warning("R733", message, None, "touch again; they were meant for a run or a pack that is gone")
