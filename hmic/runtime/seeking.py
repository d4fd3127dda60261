"""A log or record as states of a run at any time, asked for in any order.

What came is read and decoded once, and kept in a temporary file as lines of JSON; every few seconds of it the
state is kept too, in memory. A moment is worked out from the state kept before it. Values worked out are
rounded as they are: what keeps figures from flickering on a live display is left out, and no finger rests on
the glass. What was seen is exact.
"""

from __future__ import annotations

import json
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from tempfile import SpooledTemporaryFile
from typing import TYPE_CHECKING, Any

from hmic.diagnostics import Finding
from hmic.model.builtin import CLOCK
from hmic.model.values import Doubt
from hmic.runtime.binding import BoundDesign
from hmic.runtime.decoding import Arrival, Decoder, Reading
from hmic.runtime.record_lines import Clock
from hmic.runtime.recording import Entry, Showing
from hmic.runtime.retrace import Moment, Onlooker
from hmic.sources.frame import Frame

if TYPE_CHECKING:
    from hmic.runtime.recording import RecordLog
    from hmic.runtime.replays import PlayedLogs

IN_MEMORY = 8 << 20
"""Bytes of what came that wait in memory; more goes to the disk."""
KEPT = 240
"""States at most; where there would be more, every other one goes."""
SPACING = 4.0
"""Seconds at least between two states kept."""


@dataclass
class _Place:
    """A state between two lines: all lines up to ``offset`` have been taken, the last came at ``came``."""

    offset: int
    came: float
    onlooker: Onlooker
    seen: Showing | None = None

    def copied(self) -> _Place:
        return replace(self, onlooker=self.onlooker.copied())


class SeekableReplay:
    """The states of a run. One at a time: it is not for two threads.

    An entry counts from when it came on: a reading that came late, with an earlier time, changes nothing of
    what was there before it.
    """

    def __init__(
        self, bound: BoundDesign, entries: Iterable[Entry], decoder: Decoder, clock: float | None = None
    ) -> None:
        """``clock`` (minutes) counts where no time of day was recorded."""
        self.frames = 0
        """Frames read so far."""
        self.last = 0.0
        """The time of the last entry read so far (s)."""
        self._entries = iter(entries)
        self._decoder = decoder
        self._useful: set[str] = set()
        self._lines = SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115
        self._written = 0
        self._signals: list[tuple[str, int | None]] = []
        self._numbers: dict[tuple[str, int | None], int] = {}
        onlooker = Onlooker(bound)
        if clock is not None:
            onlooker.vehicle.table.keep(CLOCK, clock)
        self._spacing = SPACING
        self._kept = [_Place(0, float("-inf"), onlooker)]
        self._near = self._kept[0].copied()

    def close(self) -> None:
        """Gives the temporary file back."""
        self._lines.close()

    def at(self, time: float) -> Moment:
        """The state at ``time`` (s, from 0), with all that had come until then."""
        onlooker = self._reached(time)
        return Moment(
            time, self._near.seen, onlooker.vehicle.raw(), onlooker.theming.theme, onlooker.sightings
        )

    def state(self, time: float) -> tuple[Onlooker, int]:
        """A state at ``time`` to go on from, and the place from which ``onward`` does."""
        return self._reached(time), self._near.offset

    def onward(self, place: int, time: float) -> tuple[list[Arrival | Clock], int]:
        """What came from a place until ``time``, and the place that is reached."""
        self.read_until(time)
        self._lines.seek(place)
        found: list[Arrival | Clock] = []
        while place < self._written:
            line = self._lines.readline()
            came, at, said = json.loads(line)
            if came > time:
                break
            place += len(line)
            entry = self._entry(at, said)
            if not isinstance(entry, Showing):
                found.append(entry)
        return found, place

    def _reached(self, time: float) -> Onlooker:
        self.read_until(time)
        kept = self._kept[bisect_right(self._kept, time, key=lambda place: place.came) - 1]
        if self._near.came > time or self._near.offset < kept.offset:
            self._near = kept.copied()
        self._follow(self._near, time)
        # A look must not change what is worked out later: after a long silence averages begin anew.
        onlooker = self._near.onlooker.copied()
        onlooker.pass_time(time)
        return onlooker

    def read_out(self) -> None:
        """Reads what is left without keeping it, so that its source knows what was wrong with all of it:
        after that no later time can be asked for. It is decoded only while nothing of its bus was of the
        design."""
        for entry in self._entries:
            self._count(entry)
            if isinstance(entry, Frame) and entry.bus not in self._useful and self._decoder.readings(entry):
                self._useful.add(entry.bus)

    def _count(self, entry: Entry) -> None:
        self.last = max(self.last, entry.at)
        self.frames += isinstance(entry, Frame)

    def read_until(self, time: float) -> bool:
        """Reads and decodes entries until one comes after ``time``; whether there may be more."""
        while self.last <= time:
            entry = next(self._entries, None)
            if entry is None:
                return False
            self._count(entry)
            for said in self._said(entry):
                self._lines.seek(self._written)
                self._written += self._lines.write(json.dumps([self.last, entry.at, said]).encode() + b"\n")
        return True

    def _said(self, entry: Entry) -> Iterator[Any]:
        """What an entry says, as JSON."""
        match entry:
            case Clock():
                yield {"clock": entry.minutes}
            case Showing():
                yield {"seen": [entry.screen, entry.theme, entry.raw, entry.up, entry.pack]}
            case Arrival():
                yield {"set": self._plain(entry.readings)}
            case Frame():
                if readings := self._decoder.readings(entry):
                    self._useful.add(entry.bus)
                    yield {"set": self._plain(readings)}
                for arrival in self._decoder.refused(entry.at):
                    yield {"set": self._plain(arrival.readings)}

    def _plain(self, readings: Iterable[Reading]) -> list[Any]:
        """Each reading as the number of its signal or element and the value, or the doubt in a list."""
        said: list[Any] = []
        for reading in readings:
            key = reading.name, reading.element
            if key not in self._numbers:
                self._numbers[key] = len(self._signals)
                self._signals.append(key)
            value = reading.value
            said += self._numbers[key], [value] if isinstance(value, Doubt) else value
        return said

    def _follow(self, place: _Place, time: float) -> None:
        """Takes the lines from ``place`` on that came until ``time``."""
        self._lines.seek(place.offset)
        while place.offset < self._written:
            line = self._lines.readline()
            came, at, said = json.loads(line)
            if came > time:
                break
            self._take(place, at, said)
            place.offset += len(line)
            place.came = came
            self._keep(place)

    def _take(self, place: _Place, at: float, said: dict[str, Any]) -> None:
        entry = self._entry(at, said)
        if isinstance(entry, Showing):
            place.seen = entry
        else:
            place.onlooker.take(entry)

    def _entry(self, at: float, said: dict[str, Any]) -> Arrival | Clock | Showing:
        """What ``_said`` wrote."""
        if "seen" in said:
            screen, theme, raw, up, pack = said["seen"]
            return Showing(at, screen, theme, tuple(raw), up, pack)
        if "clock" in said:
            return Clock(at, said["clock"])
        numbers, values = said["set"][::2], said["set"][1::2]
        readings = []
        for number, value in zip(numbers, values, strict=True):
            name, element = self._signals[number]
            readings.append(Reading(name, element, Doubt(value[0]) if isinstance(value, list) else value))
        return Arrival(at, tuple(readings))

    def _keep(self, place: _Place) -> None:
        """Keeps a copy of the state where none is near."""
        latest = self._kept[-1]
        if place.offset > latest.offset and place.came >= latest.came + self._spacing:
            self._kept.append(place.copied())
            if len(self._kept) > KEPT:
                self._kept, self._spacing = self._kept[::2], 2 * self._spacing


def seekable(
    bound: BoundDesign, given: Sequence[str], clock: float | None = None
) -> tuple[PlayedLogs | RecordLog, SeekableReplay, Callable[[], list[Finding]]]:
    """What ``--replay`` names, as states at any time, and what is wrong with it: all, once it has been read
    to its end. Raises ``DesignError`` as opening it does."""
    from hmic.runtime.answering import overhearing
    from hmic.runtime.from_dbc import load_decoder
    from hmic.runtime.replays import entries_of, open_replay

    log = open_replay(bound.design, given)
    decoder = load_decoder(bound.design, overhearing(bound.design))

    def findings() -> list[Finding]:
        return [*log.findings, *decoder.take_findings(), *decoder.unmet(log.name)]

    return log, SeekableReplay(bound, entries_of(log), decoder, clock), findings
