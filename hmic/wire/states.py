"""The state machines of both ends as data. PROTOCOL.md's tables are made from these."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, TypeVar

strict = False
"""Whether a cause raises that no row of its table has in the present state, as in tests; on the road it
changes nothing."""


class Host(StrEnum):
    """Whether a host has a session."""

    GREETING = "greeting"
    TOGETHER = "together"


class Rate(StrEnum):
    """At which rate a host runs."""

    FIRST = "first"
    ASKING = "asking"
    HIGHER = "higher"


class Scene(StrEnum):
    """What a host has to show."""

    BLANK = "blank"
    FRESH = "fresh"
    KEPT = "kept"
    SHOWN = "shown"


class Values(StrEnum):
    """Whether a host's values follow on what the display said it holds."""

    FOLLOWING = "following"
    GOING_BACK = "going back"
    RESUMED = "resumed"


class Transfer(StrEnum):
    """How far a host is with a pack."""

    IDLE = "idle"
    WAITING = "waiting"
    COMPARING = "comparing"
    OFFERING = "offering"
    SENDING = "sending"
    FINISHING = "finishing"


class Display(StrEnum):
    """Whether a display has a session, and shows values in it."""

    ALONE = "alone"
    MET = "met"
    SHOWING = "showing"
    SILENT = "silent"


class Proof(StrEnum):
    """Whether what comes follows on what a display holds."""

    FOLLOWING = "following"
    ASKING = "asking"
    DOUBTING = "doubting"


class Cause(StrEnum):
    """What moves a state on."""

    ANSWER = "Answer to the present Greet"
    ALONE = "Alone"
    DISPLAY_SILENT = "nothing intact from the display for 1.25 s"

    FASTER = "session with a display that can do more"
    RATED = "Rated with the rate"
    NOT_RATED = "any other Rated, or no reply to three Rates"
    PARTED = "end of the session"

    OTHER_SCREEN = "another screen chosen"
    OTHER_LOOK = "another theme or brightness chosen"
    ANEW = "session begun, or display astray"
    SHOWN = "Show sent"
    OTHER_PACK = "Answer with another pack than before"

    WANT = "Want"
    RESUME_SENT = "Resume sent"
    BEGUN = "session or fresh scene begun"

    PUSH = "a pack to send"
    HOLDS = "session with a display that holds a pack not compared yet"
    HOLDS_NONE = "session with any other display"
    COMPARED = "all Hashes, or none for long"
    MISSING = "Need of some units"
    WHOLE = "Need of none"
    DIFFERS = "Result 2 for the first time"
    RESULT = "any other Result"
    IN_USE = "session with a display that uses the pack"
    LOOKED = "all known that a dry push is for"
    GIVEN_UP = "given up"

    GREET = "Greet of another host or session"
    SHOW = "Show"
    LIFE = "Pulse or value frame of the scene"
    HOST_SILENT = "no sign of life from the host for 1 s"
    REPACK = "another pack in use"

    ASTRAY = "what does not follow, or was no frame"
    UNPROVED = "0.2 s without Resume"
    RESUMED = "Resume that follows"
    RESET = "Greet, Show with `fresh` 1 or another pack"


S = TypeVar("S", bound=StrEnum)


@dataclass(frozen=True)
class Step(Generic[S]):
    """In each of ``states``, ``cause`` leads to ``after``; ``does`` says what happens on the way."""

    states: tuple[S, ...]
    cause: Cause
    after: S
    does: str


Table = tuple[Step[S], ...]

HOST: Table[Host] = (
    Step(
        (Host.GREETING,), Cause.ANSWER, Host.TOGETHER, "take the facts; value number 0; Show if there is one"
    ),
    Step((Host.TOGETHER,), Cause.ALONE, Host.GREETING, "next session; Greet at once"),
    Step((Host.TOGETHER,), Cause.DISPLAY_SILENT, Host.GREETING, "next session; Greet at once"),
)

RATE: Table[Rate] = (
    Step((Rate.FIRST,), Cause.FASTER, Rate.ASKING, "Rate each 0.25 s, and nothing else"),
    Step((Rate.ASKING,), Cause.RATED, Rate.HIGHER, "run at it"),
    Step((Rate.ASKING,), Cause.NOT_RATED, Rate.FIRST, "stay as it is"),
    Step(tuple(Rate), Cause.PARTED, Rate.FIRST, "back at the first rate"),
)

SCENE: Table[Scene] = (
    Step(tuple(Scene), Cause.OTHER_SCREEN, Scene.FRESH, "next scene; Show with `fresh` 1"),
    Step((Scene.FRESH,), Cause.OTHER_LOOK, Scene.FRESH, "next scene"),
    Step((Scene.KEPT, Scene.SHOWN), Cause.OTHER_LOOK, Scene.KEPT, "next scene; Show with `fresh` 0"),
    Step((Scene.BLANK,), Cause.ANEW, Scene.BLANK, "scene 0"),
    Step((Scene.FRESH, Scene.KEPT, Scene.SHOWN), Cause.ANEW, Scene.FRESH, "next scene; Show with `fresh` 1"),
    Step((Scene.FRESH, Scene.KEPT), Cause.SHOWN, Scene.SHOWN, "with `fresh` 1 every value next"),
    Step(tuple(Scene), Cause.OTHER_PACK, Scene.BLANK, "nothing to show until chosen"),
)

VALUES: Table[Values] = (
    Step(tuple(Values), Cause.WANT, Values.GOING_BACK, "back to the values of its number; Resume"),
    Step(
        (Values.GOING_BACK,),
        Cause.RESUME_SENT,
        Values.RESUMED,
        "not again for the same number while under way",
    ),
    Step(tuple(Values), Cause.BEGUN, Values.FOLLOWING, "every value from 0 on"),
)

_ASKED = (Transfer.OFFERING, Transfer.SENDING, Transfer.FINISHING)
_BUSY = (Transfer.WAITING, Transfer.COMPARING, *_ASKED)

TRANSFER: Table[Transfer] = (
    Step((Transfer.IDLE,), Cause.PUSH, Transfer.WAITING, "wait for a session"),
    Step(_BUSY, Cause.HOLDS, Transfer.COMPARING, "Compare until all Hashes are there"),
    Step(_BUSY, Cause.HOLDS_NONE, Transfer.OFFERING, "Offer, or Continue in a dry push"),
    Step(_BUSY, Cause.IN_USE, Transfer.IDLE, "end: activated if finishing, else unchanged"),
    Step((Transfer.COMPARING,), Cause.COMPARED, Transfer.OFFERING, "Offer, or Continue in a dry push"),
    Step(_ASKED, Cause.MISSING, Transfer.SENDING, "Block, Squeezed or Copy"),
    Step(_ASKED, Cause.WHOLE, Transfer.FINISHING, "Finish"),
    Step(_ASKED, Cause.DIFFERS, Transfer.OFFERING, "all anew, without Copy"),
    Step(_ASKED, Cause.RESULT, Transfer.IDLE, "end: as it says"),
    Step((Transfer.OFFERING,), Cause.LOOKED, Transfer.IDLE, "end: cancelled"),
    Step((Transfer.WAITING,), Cause.GIVEN_UP, Transfer.IDLE, "end: cancelled"),
    Step((Transfer.COMPARING, *_ASKED), Cause.GIVEN_UP, Transfer.IDLE, "Drop; end: cancelled"),
)

_MET = (Display.MET, Display.SHOWING, Display.SILENT)

DISPLAY: Table[Display] = (
    Step(tuple(Display), Cause.GREET, Display.MET, "Answer; value number 0; every value stale"),
    Step(_MET, Cause.SHOW, Display.SHOWING, "show the screen; Display Beat at once"),
    Step((Display.MET,), Cause.HOST_SILENT, Display.ALONE, "forget the session"),
    Step((Display.SHOWING,), Cause.LIFE, Display.SHOWING, "take the values"),
    Step((Display.SHOWING,), Cause.HOST_SILENT, Display.SILENT, "show every value as stale"),
    Step((Display.SILENT,), Cause.LIFE, Display.SHOWING, "take the values; show those held for true"),
    Step(tuple(Display), Cause.REPACK, Display.ALONE, "forget the session; new nonce"),
)

PROOF: Table[Proof] = (
    Step((Proof.FOLLOWING,), Cause.ASTRAY, Proof.ASKING, "Want at once and each 0.05 s"),
    Step((Proof.ASKING,), Cause.UNPROVED, Proof.DOUBTING, "show every value as stale"),
    Step((Proof.ASKING, Proof.DOUBTING), Cause.RESUMED, Proof.FOLLOWING, "show the values"),
    Step(tuple(Proof), Cause.RESET, Proof.FOLLOWING, "every value anew"),
)


class Machine(Generic[S]):
    """Stands in a state of a table, at first in that of its first row."""

    def __init__(self, table: Table[S]) -> None:
        self._table = table
        self.state = table[0].states[0]

    def move(self, cause: Cause) -> None:
        """Go where the cause leads."""
        self.state = after(self._table, self.state, cause)


def after(table: Table[S], state: S, cause: Cause) -> S:
    """The state that follows. A pair that the table does not have raises LookupError if ``strict``."""
    for step in table:
        if state in step.states and step.cause == cause:
            return step.after
    if strict:
        raise LookupError(f"{cause!r} has no row in {state!r}")
    return state


def pairs(table: Table[S]) -> Iterator[tuple[S, Cause]]:
    """Every state and cause that a table tells of."""
    return ((state, step.cause) for step in table for state in step.states)


def as_table(table: Table[S]) -> str:
    """The transitions as a Markdown table."""
    every = set(type(table[0].after))
    rows = [
        f"| {'any' if set(step.states) == every else ', '.join(step.states)} | {step.cause} | {step.after} "
        f"| {step.does} |"
        for step in table
    ]
    return "\n".join(["| in | on | to | doing |", "|---|---|---|---|", *rows])


def as_diagram(table: Table[S]) -> str:
    """The transitions drawn as text, one block a state."""
    lines: list[str] = []
    for state in dict.fromkeys(state for state, _ in pairs(table)):
        lines.append(f"[{state}]")
        lines += [f"   |--- {step.cause} ---> [{step.after}]" for step in table if state in step.states]
    return "\n".join(lines)
