"""What a touch comes to: pressed, held, lifted; then allowed or refused, with the reason."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from hmic.model.actions import (
    Acknowledge,
    Action,
    GoTo,
    SetOutput,
    SetToRow,
    SlideOutput,
    StepOutput,
    ToggleOutput,
    TurnPage,
    ZoneAction,
)
from hmic.model.expressions import Doubt, Lookup, Scalar
from hmic.model.touch import ASKED, FAILED, IDLE, PRESSED, REFUSED, SENT, touch_signal
from hmic.runtime.decoding import Frame

NOT_ALLOWED = "not allowed now"
"""The reason of a refusal by the condition that the control itself gives."""

CONFIRM_WITHIN = 5.0
"""Seconds in which the second touch must answer a question (common practice, no source)."""
READ_WITHIN = 0.5
"""Seconds after a question, or a turned page, before which a finger cannot have read it: the line, the
painting and the eye take so long at least (common practice, no source)."""
FOLLOW_WITHIN = 3.0
"""Seconds in which the vehicle's reading must follow a request (common practice, no source)."""
SHOW_REFUSED = 1.0
"""Seconds for which a refusal is shown (common practice, no source)."""
SWIPE_MM = 15.0
"""Millimetres that a finger travels in a swipe, mostly along one axis (common practice, no source)."""


@dataclass(frozen=True)
class RequestMade:
    """The vehicle is asked for ``value`` of the output ``name``, in its signal's unit. ``frame`` is the
    CAN frame that asks; without one the request goes to the pipe."""

    name: str
    value: Scalar
    frame: Frame | None = None


@dataclass(frozen=True)
class RequestRefused:
    """A touch came to nothing. ``name`` is the output or screen it asked for."""

    name: str
    reason: str


@dataclass(frozen=True)
class ConfirmAsked:
    """A touch needs a second one on the same zone; ``question`` is what it answers."""

    name: str
    question: str


@dataclass(frozen=True)
class Granted:
    """A touch within the display: go to a screen, acknowledge the one in sight, turn a list's page."""

    action: GoTo | Acknowledge | TurnPage


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

    state: str
    until: float
    name: str = ""
    since: float = 0.0


class Fingers:
    """Follows one screen's touches. Times are host seconds, places pixels. What is told late may have
    happened any time since the line was last read: ``earliest`` is when at the earliest.

    ``keep`` takes the name and word of each zone's state (hmic.model.touch) when it changes.
    """

    def __init__(
        self,
        screen: str,
        zones: tuple[ZoneAction, ...],
        pitch: float,
        outputs_allowed: bool,
        keep: Callable[[str, str], None],
    ) -> None:
        self._screen = screen
        self._zones = zones
        self._swipe = SWIPE_MM / pitch
        self._outputs_allowed = outputs_allowed
        self._keep = keep
        self._pressed: _Press | None = None
        self._shown: dict[int, _Shown] = {}
        self._turned_at = float("-inf")
        for zone in range(len(zones)):
            keep(touch_signal(screen, zone), IDLE)

    def press(self, zone: int | None, x: int, y: int, now: float, earliest: float | None = None) -> None:
        """A finger came down; a question that another zone asked lapses."""
        self.cancel()
        for other, shown in list(self._shown.items()):
            if other != zone and shown.state == ASKED:
                self._show(other, None)
        if zone is not None and not 0 <= zone < len(self._zones):
            zone = None
        self._pressed = _Press(zone, x, y, now, now if earliest is None else earliest)
        if zone is not None and self._state(zone) == IDLE:
            self._show(zone, _Shown(PRESSED, float("inf")))

    def cancel(self) -> None:
        """The finger's way was lost: another screen came up, or the link broke."""
        pressed, self._pressed = self._pressed, None
        if pressed is not None and pressed.zone is not None and self._state(pressed.zone) == PRESSED:
            self._show(pressed.zone, None)

    def release(
        self, zone: int | None, x: int, y: int, lookup: Lookup, now: float, earliest: float | None = None
    ) -> Outcome | str | None:
        """The finger lifted: what that comes to, or the direction of a swipe, or None when it lifted
        outside the zone that it had pressed."""
        pressed = self._pressed
        self.cancel()
        if pressed is None:
            return None
        slides = pressed.zone is not None and isinstance(self._zones[pressed.zone].action, SlideOutput)
        swiped = self._swiped(x - pressed.x, y - pressed.y)
        if swiped is not None and not slides:
            return swiped
        if zone is None or zone != pressed.zone:
            return None
        held = (now if earliest is None else earliest) - pressed.at
        outcome = self._judge(zone, (x, y), held, pressed.earliest, lookup)
        if isinstance(outcome, RequestRefused):
            state = REFUSED if outcome.reason == NOT_ALLOWED else FAILED
            self._show(zone, _Shown(state, now + SHOW_REFUSED))
        elif isinstance(outcome, ConfirmAsked):
            asked = self._shown.get(zone)
            since = asked.since if asked is not None and asked.state == ASKED else now
            self._show(zone, _Shown(ASKED, now + CONFIRM_WITHIN, since=since))
        elif isinstance(outcome, RequestMade):
            self._show(zone, _Shown(SENT, float("inf"), outcome.name))
        else:
            self._show(zone, None)
            if isinstance(outcome.action, TurnPage):
                self._turned_at = now
        return outcome

    def tick(self, now: float) -> None:
        """Ends what has been shown long enough."""
        for zone, shown in list(self._shown.items()):
            if now >= shown.until:
                self._show(zone, None)

    def answer(self, name: str, done: bool, now: float) -> None:
        """The request for an output was followed, or came to nothing."""
        for zone, shown in list(self._shown.items()):
            if shown.state == SENT and shown.name == name:
                self._show(zone, None if done else _Shown(FAILED, now + SHOW_REFUSED))

    def next_deadline(self) -> float | None:
        """When ``tick`` next has something to end."""
        ends = [shown.until for shown in self._shown.values() if shown.until < float("inf")]
        return min(ends, default=None)

    def _judge(self, zone: int, at: tuple[int, int], held: float, pressed: float, lookup: Lookup) -> Outcome:
        action = self._zones[zone]
        name = _name(action.action)
        if held < action.held_ms / 1000:
            return RequestRefused(name, f"must be held for {action.held_ms / 1000:g} s")
        if action.allowed is not None:
            allowed = action.allowed.evaluate(lookup)
            if isinstance(allowed, Doubt):
                return RequestRefused(name, f"whether it is allowed is not known: {describe(allowed)}")
            if allowed is not True:
                return RequestRefused(name, NOT_ALLOWED)
        if isinstance(action.action, SetToRow) and pressed < self._turned_at + READ_WITHIN:
            return RequestRefused(name, "the list had just turned")
        outcome = self._outcome(action.action, at, lookup)
        shown = self._shown.get(zone)
        answers = shown is not None and shown.state == ASKED and pressed >= shown.since + READ_WITHIN
        asks = action.confirm is not None and not answers
        if asks and not isinstance(outcome, RequestRefused):
            return ConfirmAsked(name, action.confirm or "")
        return outcome

    def _outcome(
        self, action: Action, at: tuple[int, int], lookup: Lookup
    ) -> Granted | RequestMade | RequestRefused:
        if isinstance(action, GoTo | Acknowledge | TurnPage):
            return Granted(action)
        if not self._outputs_allowed:
            return RequestRefused(action.name, "this run sends nothing to the vehicle")
        value = _wanted(action, at, lookup)
        if isinstance(value, Doubt):
            return RequestRefused(action.name, f"what it reads now is not known: {describe(value)}")
        if value is None:
            return RequestRefused(action.name, "it is at its end already")
        return RequestMade(action.name, value)

    def _swiped(self, across: int, down: int) -> str | None:
        if max(abs(across), abs(down)) < self._swipe:
            return None
        if abs(across) >= 2 * abs(down):
            return "right" if across > 0 else "left"
        if abs(down) >= 2 * abs(across):
            return "down" if down > 0 else "up"
        return None

    def _state(self, zone: int) -> str:
        shown = self._shown.get(zone)
        return IDLE if shown is None else shown.state

    def _show(self, zone: int, shown: _Shown | None) -> None:
        if shown is None:
            self._shown.pop(zone, None)
        else:
            self._shown[zone] = shown
        self._keep(touch_signal(self._screen, zone), self._state(zone))


def describe(doubt: Doubt) -> str:
    """A doubt in words."""
    return {
        Doubt.UNSEEN: "no value has come yet",
        Doubt.STALE: "the last value is too old",
        Doubt.OUT_OF_RANGE: "the value is out of its range",
    }[doubt]


def _name(action: Action) -> str:
    if isinstance(action, GoTo):
        return action.screen
    if isinstance(action, Acknowledge):
        return "acknowledge"
    if isinstance(action, TurnPage):
        return "page"
    return action.name


Asking = SetOutput | ToggleOutput | StepOutput | SlideOutput | SetToRow


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
