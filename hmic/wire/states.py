"""The two state machines as data. PROTOCOL.md's tables and diagrams are made from these."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Host(StrEnum):
    """States of the host's end."""

    GREETING = "greeting"
    TOGETHER = "together"


class Display(StrEnum):
    """States of the display's end."""

    ALONE = "alone"
    MET = "met"
    SHOWING = "showing"
    SILENT = "silent"


class Cause(StrEnum):
    """What moves a state on."""

    ANSWER = "Answer to the present Greet"
    ALONE = "Alone"
    DISPLAY_SILENT = "nothing intact from the display for 1.25 s"
    GREET = "Greet of another host or session"
    SHOW = "Show"
    LIFE = "Pulse or value frame of the scene"
    HOST_SILENT = "no sign of life from the host for 1 s"
    REPACK = "another pack in use"


@dataclass(frozen=True)
class Step:
    """In ``state``, ``cause`` leads to ``after``; ``does`` says what happens on the way."""

    state: str
    cause: Cause
    after: str
    does: str


HOST = (
    Step(Host.GREETING, Cause.ANSWER, Host.TOGETHER, "take the facts; value number 0; Show if there is one"),
    Step(Host.TOGETHER, Cause.ALONE, Host.GREETING, "next session; Greet at once"),
    Step(Host.TOGETHER, Cause.DISPLAY_SILENT, Host.GREETING, "next session; Greet at once"),
)

DISPLAY = (
    Step(Display.ALONE, Cause.GREET, Display.MET, "Answer; value number 0; every value stale"),
    Step(Display.MET, Cause.GREET, Display.MET, "Answer; value number 0; every value stale"),
    Step(Display.MET, Cause.SHOW, Display.SHOWING, "show the screen; Display Beat at once"),
    Step(Display.MET, Cause.HOST_SILENT, Display.ALONE, "forget the session"),
    Step(Display.MET, Cause.REPACK, Display.ALONE, "forget the session; new nonce"),
    Step(Display.SHOWING, Cause.GREET, Display.MET, "Answer; value number 0; every value stale"),
    Step(Display.SHOWING, Cause.SHOW, Display.SHOWING, "show the screen; Display Beat at once"),
    Step(Display.SHOWING, Cause.LIFE, Display.SHOWING, "take the values"),
    Step(Display.SHOWING, Cause.HOST_SILENT, Display.SILENT, "show every value as stale"),
    Step(Display.SHOWING, Cause.REPACK, Display.ALONE, "forget the session; new nonce"),
    Step(Display.SILENT, Cause.GREET, Display.MET, "Answer; value number 0; every value stale"),
    Step(Display.SILENT, Cause.SHOW, Display.SHOWING, "show the screen; Display Beat at once"),
    Step(Display.SILENT, Cause.LIFE, Display.SHOWING, "take the values; show those held for true"),
    Step(Display.SILENT, Cause.REPACK, Display.ALONE, "forget the session; new nonce"),
)


def after(table: tuple[Step, ...], state: str, cause: Cause) -> str:
    """The state that follows; the same one where the table has no row."""
    return next((step.after for step in table if step.state == state and step.cause == cause), state)


def as_table(table: tuple[Step, ...]) -> str:
    """The transitions as a Markdown table."""
    rows = [f"| {step.state} | {step.cause} | {step.after} | {step.does} |" for step in table]
    return "\n".join(["| in | on | to | doing |", "|---|---|---|---|", *rows])


def as_diagram(table: tuple[Step, ...]) -> str:
    """The transitions drawn as text, one block a state."""
    lines: list[str] = []
    for state in dict.fromkeys(step.state for step in table):
        lines.append(f"[{state}]")
        lines += [f"   |--- {step.cause} ---> [{step.after}]" for step in table if step.state == state]
    return "\n".join(lines)
