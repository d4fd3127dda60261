"""What a finished touch asks for, and under which conditions it may."""

from __future__ import annotations

from dataclasses import dataclass

from hmic.model.expressions import Typed


@dataclass(frozen=True)
class GoTo:
    """Show another screen."""

    screen: str


@dataclass(frozen=True)
class SetOutput:
    """Ask the vehicle for a value, in the unit of the output's signal."""

    name: str
    value: float | bool | str


@dataclass(frozen=True)
class ToggleOutput:
    """Ask for the opposite of what a flag reads now; refused while that reading is in doubt."""

    name: str


@dataclass(frozen=True)
class StepOutput:
    """Ask for the present reading plus ``by``, kept within ``low`` and ``high``, all in the unit of
    the output's signal; refused while the reading is in doubt."""

    name: str
    by: float
    low: float
    high: float


@dataclass(frozen=True)
class Acknowledge:
    """The screen that came up by itself has been read and may give way."""


Action = GoTo | SetOutput | ToggleOutput | StepOutput | Acknowledge


@dataclass(frozen=True)
class ZoneAction:
    """What a touch zone does. ``allowed`` must be true, without doubt, when the finger lifts;
    ``held_ms`` is how long the finger must rest on the zone; ``confirm`` is a question to which a
    second touch of the same zone is the answer."""

    action: Action
    allowed: Typed | None = None
    held_ms: int = 0
    confirm: str | None = None
