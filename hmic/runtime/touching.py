"""What a touch comes to: pressed, held, lifted; then allowed or refused, with the reason."""

from __future__ import annotations

from dataclasses import dataclass

from hmic.model.actions import (
    Acknowledge,
    Action,
    GoTo,
    SetOutput,
    StepOutput,
    ToggleOutput,
    ZoneAction,
)
from hmic.model.expressions import Doubt, Lookup, Scalar

CONFIRM_WITHIN = 5.0
"""Seconds in which the second touch must answer a question (common practice, no source)."""


@dataclass(frozen=True)
class RequestMade:
    """The vehicle is asked for ``value`` of the output ``name``, in its signal's unit."""

    name: str
    value: Scalar


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
    """A touch within the display: go to a screen, or acknowledge the one in sight."""

    action: GoTo | Acknowledge


Outcome = RequestMade | RequestRefused | ConfirmAsked | Granted


class Fingers:
    """Follows presses and releases on the zones of the screen in sight. Times are host seconds."""

    def __init__(self, outputs_allowed: bool) -> None:
        self._outputs_allowed = outputs_allowed
        self._pressed: tuple[int, int, float] | None = None
        self._asked: tuple[int, int, float] | None = None

    def press(self, screen: int, zone: int, now: float) -> None:
        """A finger came down on a zone; a question that another zone asked lapses."""
        self._pressed = (screen, zone, now)
        if self._asked is not None and self._asked[:2] != (screen, zone):
            self._asked = None

    def cancel(self) -> None:
        """The finger left the zone, another screen came up, or the link broke."""
        self._pressed = None

    def release(
        self, screen: int, zone: int, action: ZoneAction, lookup: Lookup, now: float
    ) -> Outcome | None:
        """The finger lifted over a zone. None when that zone was not the one pressed."""
        pressed, self._pressed = self._pressed, None
        if pressed is None or pressed[:2] != (screen, zone):
            return None
        name = _name(action.action)
        if now - pressed[2] < action.held_ms / 1000:
            return RequestRefused(name, f"must be held for {action.held_ms / 1000:g} s")
        if action.allowed is not None:
            allowed = action.allowed.evaluate(lookup)
            if isinstance(allowed, Doubt):
                return RequestRefused(name, f"whether it is allowed is not known: {describe(allowed)}")
            if allowed is not True:
                return RequestRefused(name, "not allowed now")
        outcome = self._outcome(action.action, lookup)
        if isinstance(outcome, RequestRefused):
            return outcome
        if action.confirm is not None and not self._confirmed(screen, zone, now):
            self._asked = (screen, zone, now)
            return ConfirmAsked(name, action.confirm)
        self._asked = None
        return outcome

    def _outcome(self, action: Action, lookup: Lookup) -> Granted | RequestMade | RequestRefused:
        if isinstance(action, GoTo | Acknowledge):
            return Granted(action)
        if not self._outputs_allowed:
            return RequestRefused(action.name, "this run sends nothing to the vehicle")
        value = _wanted(action, lookup)
        if isinstance(value, Doubt):
            return RequestRefused(action.name, f"what it reads now is not known: {describe(value)}")
        return RequestMade(action.name, value)

    def _confirmed(self, screen: int, zone: int, now: float) -> bool:
        asked = self._asked
        return asked is not None and asked[:2] == (screen, zone) and now - asked[2] <= CONFIRM_WITHIN


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
    return action.name


def _wanted(action: SetOutput | ToggleOutput | StepOutput, lookup: Lookup) -> Scalar | Doubt:
    if isinstance(action, SetOutput):
        return action.value
    value = lookup(action.name)
    if isinstance(value, Doubt):
        return value
    if isinstance(action, ToggleOutput):
        return not value if isinstance(value, bool) else Doubt.OUT_OF_RANGE
    if isinstance(value, float | int) and not isinstance(value, bool):
        return min(max(value + action.by, action.low), action.high)
    return Doubt.OUT_OF_RANGE
