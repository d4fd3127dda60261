"""Sends a pack over a line: the loop around the host session."""

from __future__ import annotations

import os
import select
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from hmic.diagnostics import DesignError, Finding, error
from hmic.link.any_link import Link
from hmic.link.line import POLL, Line
from hmic.wire.events import (
    Connected,
    DisplayFacts,
    Mismatched,
    Outcome,
    Progress,
    RateChanged,
    Surveyed,
    TouchesLost,
    Transferred,
)
from hmic.wire.host_session import HostSession

ANSWER_WITHIN = 4.0
STALLED_AFTER = 15.0
LONGEST_WAIT = 0.1

USUAL_RATES = (115200, 9600, 19200, 38400, 57600, 230400, 460800, 921600, 1_000_000, 2_000_000, 3_000_000)
"""Rates at which a display that does not answer is looked for, in Bd."""

LOOK_FOR = 0.7
"""Seconds at each of them: two greetings and their answers at 9600 Bd."""


@dataclass(frozen=True)
class Pushed:
    """How a push went. ``survey`` is None when the display had the pack already. ``dry`` pushes end
    with ``Outcome.CANCELLED``. ``bytes_sent`` counts everything that left, ``baud`` the rate used,
    ``touches_lost`` presses and releases that the display had felt and no host has heard."""

    outcome: Outcome
    seconds: float
    bytes_sent: int
    baud: int
    survey: Surveyed | None
    touches_lost: int = 0


def push(
    open_line: Callable[[], Link],
    pack: bytes,
    baud: int,
    fits: Callable[[DisplayFacts], Finding | None],
    *,
    on_progress: Callable[[Progress], None] | None = None,
    clock: Callable[[], float] = time.monotonic,
    dry: bool = False,
    on_survey: Callable[[Surveyed], None] | None = None,
    answer_within: float = ANSWER_WITHIN,
    fastest: int = 0,
    share: float = 1.0,
) -> Pushed:
    """Sends ``pack``, resuming after any break of the line, until the display has switched to it.

    ``fits`` may refuse the display that answered. With ``fastest`` (Bd) a higher rate up to that is
    agreed on, if the display can; when it fails, ``baud`` is used again. ``dry`` only finds out what
    would be sent. ``share`` is the part of the line's time that the host has. Raises ``DesignError``:
    W650 no answer within ``answer_within`` seconds, W651 no progress, W652 the display refused or could
    not switch, W653 another protocol version, and what ``open_line`` and ``fits`` find.
    """
    session = HostSession(int.from_bytes(os.urandom(4), "little"), baud / 10 * share, fastest)
    session.transfer(pack, dry)
    line = Line(open_line)
    start = heard = clock()
    result = Pushed(Outcome.UNCHANGED, 0.0, 0, baud, None)
    answered = False
    try:
        while True:
            now = clock()
            for event in session.receive(line.read(now), now):
                match event:
                    case Connected(facts):
                        heard, answered = now, True
                        refusal = fits(facts)
                        if refusal is not None:
                            raise DesignError([refusal])
                    case TouchesLost(count):
                        result = replace(result, touches_lost=result.touches_lost + count)
                    case Progress():
                        heard = now
                        if on_progress is not None:
                            on_progress(event)
                    case RateChanged(rate):
                        heard = now
                        result = replace(result, baud=rate)
                        line.set_rate(rate, now)
                    case Surveyed():
                        heard = now
                        result = replace(result, survey=event)
                        if on_survey is not None:
                            on_survey(event)
                    case Mismatched(version):
                        raise DesignError([_version(version)])
                    case Transferred(outcome):
                        return _ended(replace(result, outcome=outcome, seconds=clock() - start), dry)
            taken = line.write(b"" if line.unsent else session.outgoing(now), now)
            result = replace(result, bytes_sent=result.bytes_sent + taken)
            if now - heard > (STALLED_AFTER if answered else answer_within):
                raise DesignError([_stalled() if answered else _no_answer(baud, answer_within)])
            _rest(line, session, now)
    finally:
        line.close()


def answering_rate(
    open_line: Callable[[int], Link], baud: int, clock: Callable[[], float] = time.monotonic
) -> int | None:
    """The usual rate at which a display answers a greeting, other than ``baud``; None if there is none.
    A rate that the port cannot do is left out."""
    for rate in USUAL_RATES:
        if rate == baud:
            continue
        try:
            line = Line(partial(open_line, rate))
        except DesignError:
            continue
        try:
            if _answers(line, rate, clock):
                return rate
        finally:
            line.close()
    return None


def _answers(line: Line, rate: int, clock: Callable[[], float]) -> bool:
    session = HostSession(int.from_bytes(os.urandom(4), "little"), rate / 10)
    begun = now = clock()
    while now < begun + LOOK_FOR:
        if any(isinstance(event, Connected | Mismatched) for event in session.receive(line.read(now), now)):
            return True
        line.write(session.outgoing(now), now)
        _rest(line, session, now)
        now = clock()
    return False


def _rest(line: Line, session: HostSession, now: float) -> None:
    moments = [now + LONGEST_WAIT, line.next_look(now), None if line.unsent else session.next_deadline()]
    wait = max(0.0, min(moment for moment in moments if moment is not None) - now)
    descriptor = line.descriptor()
    if descriptor is None:
        time.sleep(wait)
        return
    try:
        select.select([descriptor], [], [], wait)
    except (OSError, ValueError):
        time.sleep(POLL)


def _ended(pushed: Pushed, dry: bool) -> Pushed:
    if pushed.outcome in (Outcome.ACTIVATED, Outcome.UNCHANGED) or dry:
        return pushed
    reason = {
        Outcome.REFUSED: "the display cannot hold this pack",
        Outcome.DIFFERS: "what the display stored differs from what was sent",
        Outcome.NOT_ACTIVATED: "the display could not switch to the pack",
        Outcome.CANCELLED: "the transfer was given up",
    }[pushed.outcome]
    remedy = (
        "it goes on with the pack it had; compare `hmic inspect` with the display's memory, or push again"
    )
    raise DesignError([error("W652", reason, None, remedy)])


def _no_answer(baud: int, within: float) -> Finding:
    remedy = f"is the display powered, on this port, and set to {baud} Bd?"
    return error("W650", f"no display answers within {within:g} s", None, remedy)


def _stalled() -> Finding:
    remedy = "check the plug and push again: what has arrived is kept"
    return error("W651", f"the display has taken nothing for {STALLED_AFTER:g} s", None, remedy)


def _version(version: int) -> Finding:
    message = f"the display speaks version {version} of the protocol, this is another"
    return error("W653", message, None, "use the hmic that the display's program came with")
