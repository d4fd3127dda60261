"""A moment of a log or record, as commands take it: ``--replay LOG --at TIME``."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from hmic.cli.findings import show
from hmic.diagnostics import DesignError, error

if TYPE_CHECKING:
    from hmic.runtime.binding import BoundDesign
    from hmic.runtime.recording import RecordLog
    from hmic.runtime.replays import PlayedLogs
    from hmic.runtime.retrace import Moment
    from hmic.runtime.seeking import SeekableReplay


@dataclass(frozen=True)
class Part:
    """A part of a recording from ``begin`` (s) on: its moments, evenly spaced."""

    name: str
    begin: float
    moments: tuple[Moment, ...]


@dataclass(frozen=True)
class Replayed:
    """A moment, in seconds and as text, what was then, and what the times count from."""

    at: float
    text: str
    then: Moment
    zero: str


def replayed(bound: BoundDesign, given: Sequence[str], at: str, clock: str | None = None) -> Replayed:
    """The state of a run at a moment of logs or a record, as a run would have had it; what is wrong with
    them is told. ``clock`` counts where no time of day was recorded. Raises DesignError: U937, U938, and what
    opening them does."""
    from hmic.show.in_sight import clock_text

    minutes = None if clock is None else _minutes(clock)
    moment = None if at.startswith("@") else seconds(at)
    with _opened(bound, given, minutes) as (log, replay):
        moment = _stamped(at, log) if moment is None else moment
        then = replay.at(moment)
    _reaches(replay, log, moment, at)
    return Replayed(moment, clock_text(moment), then, _zero(log))


def played(
    bound: BoundDesign,
    given: Sequence[str],
    begin: str,
    end: str | None,
    *,
    clock: str | None,
    step: float,
    usual: float,
    most: float,
) -> Part:
    """The states of a run from ``begin`` to ``end``, or for ``usual`` seconds, or up to its own end, one each
    ``step`` seconds. The rest is as for ``replayed``; raises DesignError U945 too, for none or more than
    ``most`` seconds."""
    from hmic.show.in_sight import clock_text

    minutes = None if clock is None else _minutes(clock)
    times = [None if at is None or at.startswith("@") else seconds(at) for at in (begin, end)]
    with _opened(bound, given, minutes) as (log, replay):
        first = _stamped(begin, log) if times[0] is None else times[0]
        last = _stamped(end, log) if end is not None and times[1] is None else times[1]
        stop = first + usual if last is None else last
        if not 0 < stop - first <= most:
            message = f"from {begin} to {end} is no part that a page can hold"
            remedy = f"choose an end up to {most / 60:.0f} minutes after the begin"
            raise DesignError([error("U945", message, None, remedy)])
        moments: list[Moment] = []
        while (at := first + step * len(moments)) <= stop + step / 2:
            moment = replay.at(at)
            if at > replay.last:
                break
            moments.append(moment)
    _reaches(replay, log, first, begin)
    if last is not None:
        _reaches(replay, log, last, clock_text(last))
    return Part(log.name, first, tuple(moments))


@contextmanager
def _opened(
    bound: BoundDesign, given: Sequence[str], minutes: float | None
) -> Iterator[tuple[PlayedLogs | RecordLog, SeekableReplay]]:
    """What was recorded, to be looked at; at the end it is read whole and what is wrong with it told."""
    from hmic.runtime.seeking import seekable

    log, replay, findings = seekable(bound, given, minutes)
    with closing(replay):
        yield log, replay
        replay.read_out()
    show(findings(), {})


def _reaches(replay: SeekableReplay, log: PlayedLogs | RecordLog, moment: float, text: str) -> None:
    """Raises DesignError U937 for a moment after the end."""
    from hmic.show.in_sight import clock_text

    if moment > replay.last:
        message = f"'{log.name}' ends at {clock_text(replay.last)}, before {text}"
        raise DesignError([error("U937", message, None, f"choose a time up to {clock_text(replay.last)}")])


def seconds(text: str) -> float:
    """A moment: seconds, minutes:seconds or hours:minutes:seconds. Raises DesignError: U938."""
    parts = text.split(":")
    try:
        numbers = [float(part) for part in parts]
        whole = all(part.isdigit() for part in parts[:-1])
        if len(parts) > 3 or not whole or not 0 <= numbers[-1] < 1e12 or any(n >= 60 for n in numbers[1:]):
            raise ValueError
    except ValueError:
        message = f"'{text}' is no time"
        raise DesignError([error("U938", message, None, "write 95, 12:34 or 1:02:03.5")]) from None
    result = 0.0
    for number in numbers:
        result = result * 60 + number
    return result


def _stamped(text: str, log: PlayedLogs | RecordLog) -> float:
    """Seconds since a log's first frame of one of its own stamps, after an @. Raises DesignError: U938."""
    from hmic.sources.text import clock_seconds

    stamp = log.stamp
    if stamp is None:
        message = f"'{log.name}' has no stamps that '{text}' could be one of"
        raise DesignError([error("U938", message, None, "count from its start: 95, 12:34 or 1:02:03.5")])
    try:
        wanted = float(text[1:])
    except ValueError:
        try:
            wanted = clock_seconds(text[1:])
        except ValueError:
            wanted = math.nan
    if not 0 <= wanted - stamp < 1e12:
        message = f"'{text}' is no time from the first stamp of '{log.name}' on"
        raise DesignError([error("U938", message, None, f"that is @{_stamp_text(stamp)}")])
    return wanted - stamp


def _zero(log: PlayedLogs | RecordLog) -> str:
    """What the times of a replay count from."""
    from hmic.runtime.recording import RecordLog

    if isinstance(log, RecordLog):
        return "the start of the run"
    stamped = "" if log.stamp is None else f", which the log stamps {_stamp_text(log.stamp)}"
    return "the first frame" + stamped


def _stamp_text(stamp: float) -> str:
    """A stamp as it can be given back: a date where it can be one, of this century."""
    if 946_684_800 <= stamp < 4_102_444_800:
        return f"{datetime.fromtimestamp(stamp, UTC):%Y-%m-%dT%H:%M:%S.%f}"[:-3]
    return f"{stamp:.3f}"


def _minutes(text: str) -> float:
    from hmic.model.samples import time_of_day

    minutes = time_of_day(text)
    if minutes is None:
        raise DesignError([error("U938", f"'{text}' is no time of day", None, "write 10:24")])
    return minutes
