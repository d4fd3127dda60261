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


@dataclass(frozen=True)
class SlideOutput:
    """Ask for the value under the finger: ``low`` at panel pixel ``start`` along the axis, ``high``
    at ``start + length``, rounded to whole ``step`` from ``low``, in the unit of the output's signal.
    ``upright`` counts from the bottom up."""

    name: str
    low: float
    high: float
    step: float
    start: int
    length: int
    upright: bool


@dataclass(frozen=True)
class SetToRow:
    """Ask for the number of the element that stands in row ``row`` (from 0) of a list: 1 for the
    first element of all. ``pages`` is the built-in signal of the page in sight, ``rows`` a page."""

    name: str
    pages: str
    rows: int
    row: int


@dataclass(frozen=True)
class TurnPage:
    """Turn the page of a list by ``by``, kept within 0 and ``last``."""

    pages: str
    by: int
    last: int


Within = GoTo | Acknowledge | TurnPage
"""What stays within the display."""

Asking = SetOutput | ToggleOutput | StepOutput | SlideOutput | SetToRow
"""What asks the vehicle for something, through the output ``name``."""

Action = Within | Asking


@dataclass(frozen=True)
class ZoneAction:
    """What a touch zone does. ``allowed`` must be true, without doubt, when the finger lifts;
    ``held_ms`` is how long the finger must rest on the zone; ``confirm`` is a question to which a
    second touch of the same zone is the answer."""

    action: Action
    allowed: Typed | None = None
    held_ms: int = 0
    confirm: str | None = None
