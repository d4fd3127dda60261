"""How late messages of fixed priority can be on a line that finishes what it has begun.

Davis, Burns, Bril, Lukkien, "Controller Area Network (CAN) schedulability analysis: Refuted, revisited
and revised", Real-Time Systems 35:239-272, 2007, equations for the busy period and for every instance
within it. Times are whole numbers of one unit, so that nothing is lost to rounding.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

LIMIT = 100_000
"""Rounds of an iteration before it is taken not to end."""


class Message(NamedTuple):
    """It takes the line for ``length``, and comes at most once in each ``period``."""

    name: str
    length: int
    period: int


def response_time(
    messages: Sequence[Message], index: int, tick: int, blocking: int | None = None
) -> int | None:
    """The longest from the release of message ``index`` to its end, or None when there is no bound.

    ``messages`` stand in order of priority, the most urgent first; ``tick`` is the shortest step of
    the line (one bit). ``blocking`` is the longest that can be under way already; by default the
    longest message of lower priority.
    """
    own, higher = messages[index], messages[:index]
    block = max((m.length for m in messages[index + 1 :]), default=0) if blocking is None else blocking
    if sum(m.length / m.period for m in messages[: index + 1]) >= 1:
        return None
    busy = _settled(block, (*higher, own), 0, own.length)
    if busy is None:
        return None
    worst = 0
    for instance in range(-(-busy // own.period)):
        before = block + instance * own.length
        wait = _settled(before, higher, tick, before)
        if wait is None:
            return None
        worst = max(worst, wait - instance * own.period + own.length)
    return worst


def _demand(messages: Sequence[Message], time: int, tick: int) -> int:
    return sum(-(-(time + tick) // m.period) * m.length for m in messages)


def _settled(fixed: int, messages: Sequence[Message], tick: int, start: int) -> int | None:
    """The least time that holds ``fixed`` and all that comes meanwhile."""
    time = start
    for _ in range(LIMIT):
        after = fixed + _demand(messages, time, tick)
        if after == time:
            return time
        time = after
    return None
