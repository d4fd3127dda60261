"""What a touch comes to: pressed, held, lifted; then allowed or refused, with the reason."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from hmic.language.syntax import Side
from hmic.model.actions import (
    Acknowledge,
    Action,
    Asking,
    GoTo,
    SetOutput,
    SetToRow,
    SlideOutput,
    ToggleOutput,
    TurnPage,
    Within,
    ZoneAction,
)
from hmic.model.expressions import Doubt, Lookup, Scalar
from hmic.model.touch_progress import HOLD_STEPS, TouchState, hold_signal, touch_signal
from hmic.runtime.refusals import Refusal, RequestRefused
from hmic.runtime.requests import RequestMade, Requests, forbidden

LATE = 1.0
"""Seconds after which a touch asks for nothing any more: what the finger meant may have passed
(common practice, no source)."""
CONFIRM_WITHIN = 5.0
"""Seconds in which the second touch must answer a question (common practice, no source)."""
READ_WITHIN = 0.5
"""Seconds after a question, or a turned page, before which a finger cannot have read it: the line, the
painting and the eye take so long at least (common practice, no source)."""
SHOW_REFUSED = 1.0
"""Seconds for which a refusal is shown (common practice, no source)."""
SWIPE_MM = 15.0
"""Millimetres that a finger travels in a swipe, mostly along one axis (common practice, no source)."""


@dataclass(frozen=True)
class ConfirmAsked:
    """A touch needs a second one on the same zone; ``question`` is what it answers."""

    name: str
    question: str


@dataclass(frozen=True)
class Granted:
    """A touch within the display: go to a screen, acknowledge the one in sight, turn a list's page."""

    action: Within


Outcome = RequestMade | RequestRefused | ConfirmAsked | Granted


@dataclass(frozen=True)
class _Press:
    zone: int | None
    x: int
    y: int
    at: float
    earliest: float


@dataclass(frozen=True)
class _Shown:
    """A zone's state until ``until``, or until the request for ``name`` is answered. ``since`` is when
    a question was first asked."""

    state: TouchState
    until: float
    name: str = ""
    since: float = 0.0


@dataclass
class _Hold:
    """A finger on a zone that must be held for ``seconds``, down since ``at``; ``told`` is the last step."""

    zone: int
    at: float
    seconds: float
    told: int = 0

    def reached(self, now: float) -> int:
        """The step that the hold has come to."""
        return min(HOLD_STEPS, math.floor((now - self.at) / self.seconds * HOLD_STEPS + 1e-6))

    @property
    def due(self) -> float:
        """When the next step is reached."""
        return self.at + (self.told + 1) * self.seconds / HOLD_STEPS


class Fingers:
    """Follows one screen's touches. Times are host seconds, places pixels. What is told late may have
    happened any time since the line was last read: ``earliest`` is when at the earliest.

    ``requests`` judges what a finger asks for, before anything of it is shown or told.
    ``keep`` takes the name and word of each zone's state (hmic.model.touch_progress) when it changes, and how
    far a zone that must be held has come.
    """

    def __init__(
        self,
        screen: str,
        zones: tuple[ZoneAction, ...],
        pitch: float,
        requests: Requests,
        keep: Callable[[str, str | float], None],
    ) -> None:
        self._screen = screen
        self._zones = zones
        self._swipe = SWIPE_MM / pitch
        self._requests = requests
        self._keep = keep
        self._pressed: _Press | None = None
        self._shown: dict[int, _Shown] = {}
        self._turned_at = float("-inf")
        self._hold: _Hold | None = None
        for zone, action in enumerate(zones):
            keep(touch_signal(screen, zone), TouchState.IDLE)
            if action.held_ms:
                keep(hold_signal(screen, zone), 0.0)

    def press(self, zone: int | None, x: int, y: int, now: float, earliest: float | None = None) -> None:
        """A finger came down; a question that another zone asked lapses."""
        self.cancel()
        self._forget_questions(but=zone)
        if zone is not None and not 0 <= zone < len(self._zones):
            zone = None
        self._pressed = _Press(zone, x, y, now, now if earliest is None else earliest)
        if zone is not None and self._state(zone) == TouchState.IDLE:
            self._show(zone, _Shown(TouchState.PRESSED, float("inf")))
            if self._zones[zone].held_ms:
                self._hold = _Hold(zone, now, self._zones[zone].held_ms / 1000)

    def cancel(self) -> None:
        """The finger's way was lost."""
        pressed, self._pressed = self._pressed, None
        hold, self._hold = self._hold, None
        if hold is not None:
            self._keep(hold_signal(self._screen, hold.zone), 0.0)
        zone = None if pressed is None else pressed.zone
        if zone is not None and self._state(zone) == TouchState.PRESSED:
            self._show(zone, None)

    def lose_sight(self) -> None:
        """The display is gone, or has begun anew: whoever looks at it then does not answer what was asked
        before."""
        self.cancel()
        self._forget_questions()

    def release(
        self, zone: int | None, x: int, y: int, lookup: Lookup, now: float, *, earliest: float | None = None
    ) -> Outcome | Side | None:
        """The finger lifted: what that comes to, or the direction of a swipe, or None when it lifted
        outside the zone that it had pressed, or so long ago that it shows or asks for nothing."""
        self.tick(now)
        pressed = self._pressed
        self.cancel()
        if pressed is None:
            return None
        earliest = now if earliest is None else earliest
        slides = pressed.zone is not None and isinstance(self._zones[pressed.zone].action, SlideOutput)
        swiped = self._swiped(x - pressed.x, y - pressed.y)
        if swiped is not None and not slides:
            return None if now - earliest > LATE else swiped
        if zone is None or zone != pressed.zone:
            return None
        outcome = self._judge(zone, (x, y), pressed, lookup, now=now, earliest=earliest)
        self._conclude(zone, outcome, now)
        return outcome

    def _forget_questions(self, but: int | None = None) -> None:
        for zone, shown in list(self._shown.items()):
            if zone != but and shown.state == TouchState.ASKED:
                self._show(zone, None)

    def _conclude(self, zone: int, outcome: Outcome | None, now: float) -> None:
        """Shows on the zone what a touch came to."""
        if isinstance(outcome, RequestRefused):
            state = TouchState.REFUSED if outcome.why is Refusal.CONTROL_FORBIDS else TouchState.FAILED
            self._show(zone, _Shown(state, now + SHOW_REFUSED))
        elif isinstance(outcome, ConfirmAsked):
            since = self._shown[zone].since if self._state(zone) == TouchState.ASKED else now
            self._show(zone, _Shown(TouchState.ASKED, now + CONFIRM_WITHIN, since=since))
        elif isinstance(outcome, RequestMade):
            self._show(zone, _Shown(TouchState.SENT, float("inf"), outcome.name))
        else:
            self._show(zone, None)
            if isinstance(outcome, Granted) and isinstance(outcome.action, TurnPage):
                self._turned_at = now

    def tick(self, now: float) -> None:
        """Ends what has been shown long enough; tells how far a hold has come."""
        hold = self._hold
        if hold is not None and hold.told < HOLD_STEPS and now >= hold.due:
            hold.told = hold.reached(now)
            self._keep(hold_signal(self._screen, hold.zone), hold.told / HOLD_STEPS)
        for zone, shown in list(self._shown.items()):
            if now >= shown.until:
                self._show(zone, None)

    def answer(self, name: str, done: bool, now: float) -> None:
        """The request for an output was followed, or came to nothing."""
        for zone, shown in list(self._shown.items()):
            if shown.state == TouchState.SENT and shown.name == name:
                self._show(zone, None if done else _Shown(TouchState.FAILED, now + SHOW_REFUSED))

    def next_deadline(self) -> float | None:
        """When ``tick`` next has something to end."""
        ends = [shown.until for shown in self._shown.values() if shown.until < float("inf")]
        if self._hold is not None and self._hold.told < HOLD_STEPS:
            ends.append(self._hold.due)
        return min(ends, default=None)

    def _judge(
        self, zone: int, at: tuple[int, int], pressed: _Press, lookup: Lookup, *, now: float, earliest: float
    ) -> Outcome | None:
        control = self._zones[zone]
        action, name = control.action, name_of(control.action)
        late = now - earliest
        if late > LATE and isinstance(action, Within):
            return None
        asked = self._shown[zone] if self._state(zone) == TouchState.ASKED else None
        # The question itself came of a touch that was held; its answer need not be.
        if asked is None and control.held_ms and earliest - pressed.at < control.held_ms / 1000:
            return RequestRefused(name, Refusal.HELD_TOO_SHORT, (f"{control.held_ms / 1000:g}",))
        if late > LATE:
            return RequestRefused(name, Refusal.LATE, (f"{late:.1f}",))
        if isinstance(action, SetToRow) and pressed.earliest < self._turned_at + READ_WITHIN:
            return RequestRefused(name, Refusal.LIST_TURNED)
        answers = asked is not None and pressed.earliest >= asked.since + READ_WITHIN
        question = None if answers else control.confirm
        if isinstance(action, Within):
            refused = forbidden(name, control.allowed, lookup)
            return refused or (Granted(action) if question is None else ConfirmAsked(name, question))
        wanted = _wanted(action, at, lookup)
        if question is None:
            return self._requests.ask(name, wanted, lookup, now, control.allowed)
        refused = self._requests.judge(name, wanted, lookup, now, control.allowed)
        return refused or ConfirmAsked(name, question)

    def _swiped(self, across: int, down: int) -> Side | None:
        if max(abs(across), abs(down)) < self._swipe:
            return None
        if abs(across) >= 2 * abs(down):
            return Side.RIGHT if across > 0 else Side.LEFT
        if abs(down) >= 2 * abs(across):
            return Side.DOWN if down > 0 else Side.UP
        return None

    def _state(self, zone: int) -> TouchState:
        shown = self._shown.get(zone)
        return TouchState.IDLE if shown is None else shown.state

    def _show(self, zone: int, shown: _Shown | None) -> None:
        if shown is None:
            self._shown.pop(zone, None)
        else:
            self._shown[zone] = shown
        self._keep(touch_signal(self._screen, zone), self._state(zone))


def name_of(action: Action) -> str:
    """What a touch asks for, in a word: an output, a screen."""
    if isinstance(action, GoTo):
        return action.screen
    if isinstance(action, Acknowledge):
        return "acknowledge"
    if isinstance(action, TurnPage):
        return "page"
    return action.name


def _wanted(action: Asking, at: tuple[int, int], lookup: Lookup) -> Scalar | Doubt | None:
    """The value asked for; None when a step would not lead where it points."""
    if isinstance(action, SetOutput):
        return action.value
    if isinstance(action, SlideOutput):
        return _slid(action, at)
    value = lookup(action.pages if isinstance(action, SetToRow) else action.name)
    if isinstance(value, Doubt):
        return value
    if isinstance(action, ToggleOutput):
        return not value if isinstance(value, bool) else Doubt.OUT_OF_RANGE
    if not isinstance(value, float | int) or isinstance(value, bool):
        return Doubt.OUT_OF_RANGE
    if isinstance(action, SetToRow):
        return float(value * action.rows + action.row + 1)
    wanted = min(max(value + action.by, action.low), action.high)
    # Of a reading beyond the ends, "less" must not ask for more.
    return wanted if (wanted - value) * action.by > 0 else None


def _slid(action: SlideOutput, at: tuple[int, int]) -> float:
    along = (at[1] if action.upright else at[0]) - action.start
    part = min(max(along / max(1, action.length), 0.0), 1.0)
    if action.upright:
        part = 1.0 - part
    steps = math.floor(part * (action.high - action.low) / action.step + 0.5) if action.step > 0 else 0
    return min(action.low + steps * action.step, action.high)
