"""Sends a pack over a line: the loop around the host session."""

from __future__ import annotations

import os
import select
import time
from collections.abc import Callable
from dataclasses import dataclass

from hmic.diagnostics import DesignError, Finding, error
from hmic.link.shape import Link, LinkLost
from hmic.wire.events import Connected, DisplayFacts, Mismatched, Outcome, Progress, Transferred
from hmic.wire.host_session import HostSession

ANSWER_WITHIN = 4.0
STALLED_AFTER = 15.0
REOPEN = 0.5
LONGEST_WAIT = 0.1
POLL = 0.005


@dataclass(frozen=True)
class Pushed:
    """How a push went. ``resent`` counts block frames beyond the pack's own size in bytes sent."""

    outcome: Outcome
    seconds: float
    bytes_sent: int


def push(
    open_line: Callable[[], Link],
    pack: bytes,
    baud: int,
    fits: Callable[[DisplayFacts], Finding | None],
    on_progress: Callable[[Progress], None] | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Pushed:
    """Sends ``pack``, resuming after any break of the line, until the display has switched to it.

    ``fits`` may refuse the display that answered. Raises ``DesignError``: W650 no answer, W651 no
    progress, W652 the display refused or could not switch, W653 another protocol version, and what
    ``open_line`` and ``fits`` find.
    """
    session = HostSession(int.from_bytes(os.urandom(4), "little"), baud / 10)
    session.transfer(pack)
    line: Link | None = open_line()
    start = heard = clock()
    answered = False
    pending = b""
    sent = 0
    try:
        while True:
            now = clock()
            if line is None:
                line = _reopened(open_line)
            try:
                received = line.read() if line is not None else b""
                for event in session.receive(received, now):
                    match event:
                        case Connected(facts):
                            heard, answered = now, True
                            refusal = fits(facts)
                            if refusal is not None:
                                raise DesignError([refusal])
                        case Progress():
                            heard = now
                            if on_progress is not None:
                                on_progress(event)
                        case Mismatched(version):
                            raise DesignError([_version(version)])
                        case Transferred(outcome):
                            return _ended(outcome, clock() - start, sent)
                pending = pending or session.outgoing(now)
                if line is not None and pending:
                    taken = line.write(pending)
                    sent += taken
                    pending = pending[taken:]
            except LinkLost:
                if line is not None:
                    line.close()
                line, pending = None, b""
            if now - heard > (STALLED_AFTER if answered else ANSWER_WITHIN):
                raise DesignError([_stalled() if answered else _no_answer(baud)])
            _rest(line, session.next_deadline(), bool(pending), now)
    finally:
        if line is not None:
            line.close()


def _reopened(open_line: Callable[[], Link]) -> Link | None:
    try:
        return open_line()
    except (DesignError, LinkLost):
        return None


def _rest(line: Link | None, deadline: float | None, pending: bool, now: float) -> None:
    if line is None:
        time.sleep(REOPEN)
        return
    wait = LONGEST_WAIT if deadline is None else min(LONGEST_WAIT, max(0.0, deadline - now))
    descriptor = line.descriptor()
    if pending or descriptor is None:
        time.sleep(min(wait, POLL))
        return
    try:
        select.select([descriptor], [], [], wait)
    except (OSError, ValueError):
        time.sleep(POLL)


def _ended(outcome: Outcome, seconds: float, sent: int) -> Pushed:
    if outcome in (Outcome.ACTIVATED, Outcome.UNCHANGED):
        return Pushed(outcome, seconds, sent)
    reason = {
        Outcome.REFUSED: "the display cannot hold this pack",
        Outcome.DIFFERS: "what the display stored differs from what was sent",
        Outcome.NOT_ACTIVATED: "the display could not switch to the pack",
        Outcome.CANCELLED: "the transfer was given up",
    }[outcome]
    remedy = (
        "it goes on with the pack it had; compare `hmic inspect` with the display's memory, or push again"
    )
    raise DesignError([error("W652", reason, None, remedy)])


def _no_answer(baud: int) -> Finding:
    remedy = f"is the display powered, on this port, and set to {baud} Bd?"
    return error("W650", f"no display answers within {ANSWER_WITHIN:g} s", None, remedy)


def _stalled() -> Finding:
    remedy = "check the plug and push again: what has arrived is kept"
    return error("W651", f"the display has taken nothing for {STALLED_AFTER:g} s", None, remedy)


def _version(version: int) -> Finding:
    message = f"the display speaks version {version} of the protocol, this is another"
    return error("W653", message, None, "use the hmic that the display's program came with")
