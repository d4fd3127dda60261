"""A run of a design without a vehicle: runtime, line and display as they are, in memory, over a log or values
that are set by hand. Hands can be laid on its glass, and faults on its parts. Nothing of it leaves: what a
touch asks of the vehicle is done by a stand-in, or by nobody.

No thread and no clock of its own: who has them calls ``Rehearsal.turn`` again and again.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled
from hmic.diagnostics import Finding
from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.link.memory import Faults, MemoryLine
from hmic.model.builtin import CLOCK
from hmic.model.design import SignalDefinition
from hmic.model.expressions import Value, ValueKind
from hmic.model.samples import sample_values
from hmic.model.values import Doubt
from hmic.runtime.binding import BoundDesign
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.from_dbc import load_encoder
from hmic.runtime.requests import RequestMade
from hmic.runtime.retrace import Onlooker
from hmic.runtime.run import Loop, Status
from hmic.runtime.runtime import Problem, Runtime, RuntimeEvent
from hmic.runtime.seeking import SeekableReplay, seekable
from hmic.runtime.telling import told
from hmic.runtime.vehicle_time import VehicleTime
from hmic.show.in_sight import clock_text
from hmic.show.live import values

NONCE = 0x5EED
TOLD = 30
"""What happened last, so many sayings."""
PART = 1.0
"""Seconds of a log that are read in one go."""
STEP = 0.1
"""Seconds of a log between two looks for a change."""
LOOKS = 600
"""Looks in one search, so that it never keeps the picture waiting: a minute of the log."""
CUT = Faults(loss=1.0)


class Pace(VehicleTime):
    """Vehicle time that can stand still, run at any speed and begin anywhere."""

    def __init__(self) -> None:
        super().__init__(1.0)
        self.speed = 0.0
        self._from, self._since = 0.0, 0.0

    def set(self, now: float, at: float, speed: float) -> None:
        """From ``now`` on it runs from ``at`` with ``speed``, 0 for not at all."""
        self._from, self._since, self.speed = at, now, speed

    def at(self, now: float) -> float:
        """Vehicle seconds at host time ``now``."""
        return self._from + max(0.0, now - self._since) * self.speed

    def host(self, at: float) -> float | None:
        """The host time of vehicle time ``at``; None while it stands."""
        return None if not self.speed else self._since + (at - self._from) / self.speed


class _InHand:
    """What a source of a rehearsal is beside what it brings: nobody waits on it, and nothing is wrong with
    it."""

    def __init__(self, name: str) -> None:
        self.frames = 0
        self.ended = False
        self.health, self.name = "up", name
        self.frozen = False

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Nobody waits on it."""

    def descriptor(self) -> int | None:
        """None: it has no file."""
        return None

    def next_deadline(self) -> float | None:
        """Whenever it is looked at."""
        return None

    def take_findings(self) -> list[Finding]:
        """It has none."""
        return []

    def close(self) -> None:
        """It ends."""
        self.ended = True


class ByHand(_InHand):
    """Values that are set, and those that a touch asked for: said again and again, as a vehicle does. With
    ``every`` signal, or only those that were set or asked for."""

    def __init__(self, compiled: Compiled, pace: Pace, every: bool) -> None:
        super().__init__("by hand")
        self._design, self._pace, self._every = compiled.design, pace, every
        self._samples = sample_values(compiled.design)
        self._set: dict[str, Value] = {}
        self._asked: dict[str, Value] = {}
        self._next: dict[str, float] = {}

    def set(self, settings: Mapping[str, str]) -> None:
        """As ``--set`` takes them. Raises ``DesignError``."""
        now = values(self._design, settings)
        for name in settings.keys() & now.keys():
            self._asked.pop(name, None)
        self._set = {name: now[name] for name in settings if name in now}
        self._next.clear()

    def follow(self, name: str, value: Value) -> None:
        """The vehicle does what it was asked for."""
        self._asked[name] = value
        self._next.pop(name, None)

    def holds(self, name: str) -> bool:
        """Whether a value is set here, whatever a log says."""
        return name in self._set or name in self._asked

    def begin_again(self) -> None:
        """Everything is said anew: time has jumped."""
        self._next.clear()

    def due(self, now: float) -> list[Arrival]:
        """What is to be said again by now."""
        if self.frozen:
            return []
        at = self._pace.at(now)
        readings: list[Reading] = []
        for name, definition in self._design.signals.items():
            if definition.derived is not None or not (self._every or self.holds(name)):
                continue
            if self._next.get(name, -math.inf) > at:
                continue
            self._next[name] = at + min((definition.stale_after or 1000) / 4000, 0.5)
            readings += _readings(definition, self._value(name))
        self.frames += bool(readings)
        return [Arrival(at, tuple(readings))] if readings else []

    def _value(self, name: str) -> Value | None:
        return self._asked.get(name, self._set.get(name, self._samples.get(name)))


def _readings(definition: SignalDefinition, value: Value | None) -> list[Reading]:
    """What is said of a signal; nothing of what is to be unseen or stale."""
    if not isinstance(value, tuple):
        return [] if value is None or _silent(value) else [Reading(definition.name, None, value)]
    return [Reading(definition.name, at, each) for at, each in enumerate(value) if not _silent(each)]


def _silent(value: object) -> bool:
    return value is Doubt.UNSEEN or value is Doubt.STALE


class Played(_InHand):
    """A log that is played from any moment."""

    def __init__(self, replay: SeekableReplay, pace: Pace, by_hand: ByHand) -> None:
        super().__init__("log")
        self.place = 0
        self._replay, self._pace, self._by_hand = replay, pace, by_hand
        self.clock: list[float] = []

    def due(self, now: float) -> list[Arrival]:
        """What came since, of what is not set by hand."""
        found, self.place = self._replay.onward(self.place, self._pace.at(now))
        arrivals: list[Arrival] = []
        for entry in found:
            if not isinstance(entry, Arrival):
                self.clock.append(entry.minutes)
                continue
            readings = tuple(each for each in entry.readings if not self._by_hand.holds(each.name))
            if readings and not self.frozen:
                self.frames += 1
                arrivals.append(entry._replace(readings=readings))
        return arrivals


@dataclass(frozen=True)
class Change:
    """What changed at ``at`` (s) of a log, in words."""

    at: float
    what: str


Findings = Callable[[], Sequence[Finding]]
"""What is wrong with a log, once it has been read."""


def opened(compiled: Compiled, given: Sequence[str], now: float) -> Rehearsal:
    """Over what was recorded, as ``--replay`` takes it; without any, of values by hand. Raises DesignError as
    opening it does."""
    bound = bind(compiled)
    if not given:
        return Rehearsal(compiled, bound, None, now)
    _, replay, findings = seekable(bound, given, minutes_of(compiled))
    return Rehearsal(compiled, bound, replay, now, findings)


def minutes_of(compiled: Compiled) -> float:
    """The time of day in pictures of samples."""
    sample = sample_values(compiled.design).get(CLOCK)
    return float(sample) if isinstance(sample, float | int) else 0.0


class Rehearsal:
    """``bound`` is the compiled design as a run has it, ``replay`` the log, None for values by hand alone,
    ``findings`` what is wrong with it. Times are seconds of one steady clock. Not for two threads."""

    def __init__(
        self,
        compiled: Compiled,
        bound: BoundDesign,
        replay: SeekableReplay | None,
        now: float,
        findings: Findings = lambda: (),
    ) -> None:
        self.compiled = compiled
        self.replay = replay
        self.whole = replay is None
        """Whether all of the log has been read."""
        self._findings = findings
        self.follows = True
        """Whether the stand-in for the vehicle does what a touch asks for."""
        self.status: Status | None = None
        self._bound = bound
        self._pace = Pace()
        self._pace.set(now, 0.0, 0.0 if replay else 1.0)
        self._hands = ByHand(compiled, self._pace, every=replay is None)
        self._log = None if replay is None else Played(replay, self._pace, self._hands)
        rate = compiled.design.panel.baud / 10
        self._wire = MemoryLine(Faults(rate=rate), Faults(rate=rate))
        self._plain = Faults(rate=rate)
        self._cut = False
        self._flash = MemoryFlash()
        self._starts = 0
        self._display: Display | None = self._started(install=True)
        self._told: deque[tuple[int, str]] = deque(maxlen=TOLD)
        self._count = 0
        self._runtime = Runtime(
            self._bound, NONCE, self._pace, outputs_allowed=True, encoder=load_encoder(compiled.design)
        )
        self._runtime.set_clock(minutes_of(compiled), now)
        self._loop = Loop(
            self._runtime,
            lambda: self._wire.near,
            [self._hands] if self._log is None else [self._hands, self._log],
            self._note,
            self._keep_status,
            send=self._ask,
        )

    def turn(self, now: float) -> None:
        """All that is due by ``now``."""
        self._wire.advance(now)
        if self._pace.speed and self._at_end(now):
            self._pace.set(now, self._pace.at(now), 0.0)
        self._loop.turn(now)
        if self._log is not None:
            for minutes in self._log.clock:
                self._runtime.set_clock(minutes, now)
            self._log.clock.clear()
        if self._display is not None:
            self._display.receive(self._wire.far.read(), now)
            self._wire.far.write(self._display.outgoing(now))
        else:
            self._wire.far.read()

    def read_on(self) -> None:
        """Reads a further part of the log, until ``whole``."""
        if self.replay is not None and not self.whole:
            self.whole = not self.replay.read_until(self.replay.last + PART)
            if self.whole:
                for finding in self._findings():
                    self._note(Problem(finding))

    def play(self, speed: float, now: float) -> None:
        """Goes on with a speed, 0 for a pause."""
        at = self._pace.at(now)
        if speed and self._at_end(now):
            self.seek(0.0, now)
            at = 0.0
        self._pace.set(now, at, speed)

    def seek(self, at: float, now: float) -> None:
        """Another moment of the log, through the states that are kept of it."""
        if self.replay is None or self._log is None:
            return
        onlooker, self._log.place = self.replay.state(max(0.0, at))
        self._pace.set(now, max(0.0, at), self._pace.speed)
        self._hands.begin_again()
        self._runtime.jump(onlooker, now)

    def next_change(self, now: float) -> Change | None:
        """From now on in the log: another screen or theme, a state or word that changes, a value that falls
        into doubt or out of it. Goes there, and stands."""
        if self.replay is None:
            return None
        at = self._pace.at(now)
        before = self._look(self.replay.state(at)[0])
        for _ in range(LOOKS):
            at += STEP
            if at > self.replay.last and not self.replay.read_until(at):
                changed = ["the end of the log"]
                break
            after = self._look(self.replay.state(at)[0])
            changed = [name for name in after if after[name] != before.get(name)]
            if changed:
                break
        else:
            changed = [f"nothing until {clock_text(at)}"]
        at = min(at, self.replay.last)
        self._pace.set(now, at, 0.0)
        self.seek(at, now)
        return Change(at, ", ".join(changed[:3]) + (" and more" if len(changed) > 3 else ""))

    def set(self, settings: Mapping[str, str]) -> None:
        """Values by hand, as ``--set`` takes them. Raises ``DesignError``."""
        self._hands.set(settings)

    def go(self, screen: int, now: float) -> None:
        """Another screen, as somebody at the wheel would choose it."""
        if 0 <= screen < len(self._bound.screens):
            self._runtime.go_to(self._bound.screens[screen].name, now)

    def choose_theme(self, theme: int | None, now: float) -> None:
        """A theme by hand, None for the design's choice."""
        if theme is None or 0 <= theme < len(self.compiled.design.themes):
            self._runtime.choose_theme(theme, now)

    def press(self, x: int, y: int, now: float) -> None:
        """A finger comes down on the glass."""
        if self._display is not None:
            self._display.press(x, y, now)

    def release(self, x: int, y: int, now: float) -> None:
        """It lifts."""
        if self._display is not None:
            self._display.release(x, y, now)

    def pull(self, cut: bool) -> None:
        """The line is pulled, or plugged in again: what is put on it is lost."""
        self._cut = cut
        fault = CUT if cut else self._plain
        self._wire.disturb(fault, fault)

    def power(self, on: bool) -> None:
        """The display loses its power, or has it again; its flash keeps what it holds."""
        if on and self._display is None:
            self._display = self._started()
        elif not on:
            self._display = None

    def close(self) -> None:
        """Gives back what it holds."""
        self._loop.close()
        if self.replay is not None:
            self.replay.close()

    def freeze(self, frozen: bool) -> None:
        """The sources say nothing any more."""
        for source in (self._hands, self._log):
            if source is not None:
                source.frozen = frozen

    def seen(self, now: float) -> dict[str, object]:
        """What the glass shows, and how all of it does, as JSON."""
        told: dict[str, object] = {
            "powered": self._display is not None,
            "cut": self._cut,
            "frozen": self._hands.frozen,
            "follows": self.follows,
            "at": round(self._pace.at(now), 2),
            "end": None if self.replay is None else round(self.replay.last, 2),
            "whole": self.whole,
            "speed": self._pace.speed,
            "link": "up" if self._runtime.connected else "silent",
            "told": list(self._told),
        }
        if self.status is not None:
            share = 100 * self.status.bytes_out * 10 / self.compiled.design.panel.baud
            told |= {"bytes": round(self.status.bytes_out), "percent": round(share, 1)}
        return told | (shown_by(self._display, now) if self._display is not None else {})

    def _at_end(self, now: float) -> bool:
        return self.replay is not None and self.whole and self._pace.at(now) >= self.replay.last

    def _started(self, install: bool = False) -> Display:
        drawing, pack = self.compiled.arranged.drawing, self.compiled.pack
        glass = Glass(drawing.width, drawing.height, drawing.depth)
        self._starts += 1
        display = Display(self._flash, glass, NONCE + self._starts, 0, (pack, drawing))
        if install:
            display.install(pack, drawing)
        return display

    def _ask(self, request: RequestMade) -> str | None:
        if self.follows:
            self._hands.follow(request.name, request.value)
        return None

    def _note(self, event: RuntimeEvent) -> None:
        text = told(event)
        if text is not None:
            self._count += 1
            self._told.append((self._count, text))

    def _keep_status(self, status: Status) -> None:
        self.status = status

    def _look(self, onlooker: Onlooker) -> dict[str, object]:
        """What is compared between two moments, by the name of what it is."""
        names = [screen.name for screen in self._bound.screens]
        sight = onlooker.sightings[-1]
        themes = self.compiled.design.themes
        found: dict[str, object] = {
            "another screen": names[sight.screen],
            "another theme": themes[onlooker.theming.theme].name,
        }
        lookup = onlooker.vehicle.table.lookup
        for name, definition in self.compiled.design.signals.items():
            value = lookup(name)
            if definition.kind is ValueKind.NUMBER:
                value = _doubts(value)
            found[name] = value
        return found


def _doubts(value: Value) -> Value:
    """Of numbers only which are in doubt."""
    if isinstance(value, tuple):
        return tuple(each if isinstance(each, Doubt) else 0.0 for each in value)
    return value if isinstance(value, Doubt) else 0.0


def shown_by(display: Display, now: float) -> dict[str, object]:
    """What a display shows, in numbers, as JSON."""
    moment = display.moment(now)
    where = {"screen": moment.screen, "theme": moment.theme, "brightness": display.brightness}
    return where | {"raw": list(moment.raw)}
