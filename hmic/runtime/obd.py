"""Values asked for by OBD-II (SAE J1979 service 01) over ISO 15765-2, on identifiers of 11 or 29 bits.

Formulas: tests/reference/07_obd2_mode01.csv, which names its sources; those marked there were
seen. The identifiers (11 bits: 0x7DF to all, answers 0x7E8 to 0x7EF; 29 bits: 0x18DB33F1 to all, answers
0x18DAF1xx) and the times are from memory of ISO 15765-4.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from hmic.diagnostics import DesignError, Finding, error, warning
from hmic.model.design import Design, SignalDefinition
from hmic.model.units import Unit, converter, convertible, unit
from hmic.model.values import Scalar
from hmic.runtime.decoding import Overhear, Reading
from hmic.runtime.iso_tp import Transport
from hmic.sources.frame import Frame

EVERYONE, EVERYONE_29 = 0x7DF, 0x18DB33F1
ANSWERS = range(0x7E8, 0x7F0)
ASK_OFFSET = 8
ANSWERS_29 = 0x18DAF100
"""Its low byte is the controller that answers, the one above the tester (0xF1); a question to one controller
has the two the other way round."""
HEARD = frozenset({*((each, False) for each in ANSWERS), *((ANSWERS_29 + each, True) for each in range(256))})
"""The frames that can be answers."""
SHOW_CURRENT, ANSWERED, REFUSED = 0x01, 0x41, 0x7F
PENDING = 0x78
"""The reason of a refusal that is none yet: the answer comes later."""
FIRST = 1
"""Kind of the first frame of a payload that takes several."""
WITHIN = 0.2
"""Seconds that an answer may take (P2 of ISO 15765-4 is 50 ms; a margin for gateways)."""
LONGER = 1.0
"""Seconds that an answer in several frames may take, once its first frame has come."""
PENDING_WITHIN = 5.0
"""Seconds that an answer may take after a controller has said that it comes later (P2* of ISO 15765-4)."""
MOST_PENDING = 6
"""Times that it may say so of one question."""
SILENT_AFTER = 5
"""Questions in a row without an answer after which a person is told."""
SILENT_PACE = 1.0
"""Seconds between two questions while nobody answers."""
MOST_FAILED = 10
SELDOM = 30.0
"""Seconds at most to which the time between two questions for a value grows that only this one lacks."""
REASONS: Mapping[int, str] = {
    0x10: "it does not say why",
    0x11: "it does not know service 01",
    0x12: "it does not have that parameter",
    0x13: "it does not understand the length of the question",
    0x21: "it is busy",
    0x22: "not as the vehicle is now",
    0x31: "it does not have that parameter",
    0x33: "it keeps it locked",
    0x7F: "not in the session that it is in",
}
"""What a refusal says (ISO 14229-1, from memory)."""


@dataclass(frozen=True)
class Parameter:
    """A parameter of service 01: bytes of its answer, unit, and value of those bytes."""

    length: int
    unit: str
    value: Callable[[bytes], float]


def _two(data: bytes) -> int:
    return data[0] << 8 | data[1]


PARAMETERS: Mapping[int, Parameter] = {
    0x04: Parameter(1, "%", lambda data: data[0] * 100 / 255),
    0x05: Parameter(1, "°C", lambda data: data[0] - 40),
    0x0C: Parameter(2, "rpm", lambda data: _two(data) / 4),
    0x0D: Parameter(1, "km/h", lambda data: data[0]),
    0x0F: Parameter(1, "°C", lambda data: data[0] - 40),
    0x10: Parameter(2, "g/s", lambda data: _two(data) / 100),
    0x11: Parameter(1, "%", lambda data: data[0] * 100 / 255),
    0x1F: Parameter(2, "s", lambda data: _two(data)),
    0x2F: Parameter(1, "%", lambda data: data[0] * 100 / 255),
    0x33: Parameter(1, "kPa", lambda data: data[0]),
    0x42: Parameter(2, "V", lambda data: _two(data) / 1000),
    0x46: Parameter(1, "°C", lambda data: data[0] - 40),
    0x5B: Parameter(1, "%", lambda data: data[0] * 100 / 255),
    0x5C: Parameter(1, "°C", lambda data: data[0] - 40),
}


def reader(definition: SignalDefinition) -> Callable[[float], float]:
    """From the unit of a signal's parameter to its own. Raises DesignError: R760, R761."""
    assert definition.obd is not None
    pid = definition.obd.pid
    parameter = PARAMETERS.get(pid)
    if parameter is None:
        known = ", ".join(f"{number:02X}" for number in PARAMETERS)
        message = f"'{definition.name}' asks for parameter {pid:02X}, whose form is not known here"
        raise DesignError([error("R760", message, definition.span, f"use one of {known}")])
    given, declared = unit(parameter.unit), definition.unit
    assert given is not None
    if declared is None or not convertible(given, declared):
        message = f"parameter {pid:02X} is in {parameter.unit}, '{definition.name}' is not"
        raise DesignError([error("R761", message, definition.span, f"write `unit: {parameter.unit}`")])
    return _change(given, declared)


Readers = Mapping[int, Sequence[tuple[str, Callable[[float], float]]]]
"""The signals of each parameter, with the way to their unit."""


def readers(signals: Mapping[str, SignalDefinition], bus: str | None = None) -> Readers:
    """Of the signals of a bus, or of all. Raises DesignError: R760, R761."""
    found: dict[int, list[tuple[str, Callable[[float], float]]]] = {}
    findings: list[Finding] = []
    for definition in signals.values():
        if definition.obd is None or bus not in (None, definition.obd.bus):
            continue
        try:
            found.setdefault(definition.obd.pid, []).append((definition.name, reader(definition)))
        except DesignError as refused:
            findings += refused.findings
    if findings:
        raise DesignError(findings)
    return found


def answered(payload: bytes, wanted: Readers) -> tuple[Reading, ...]:
    """The readings of an answer of service 01, which may hold several parameters; what follows one of unknown
    length is left out."""
    readings: list[Reading] = []
    at = 1
    while payload[:1] == bytes([ANSWERED]) and at < len(payload):
        pid = payload[at]
        parameter = PARAMETERS.get(pid)
        if parameter is None or len(payload) < at + 1 + parameter.length:
            break
        value = parameter.value(payload[at + 1 : at + 1 + parameter.length])
        readings += [Reading(name, None, change(value)) for name, change in wanted.get(pid, ())]
        at += 1 + parameter.length
    return tuple(readings)


class Overheard:
    """Values out of answers that somebody else asked for, as in a recording of a bus with a tester on it."""

    def __init__(self, wanted: Readers) -> None:
        self._wanted = wanted
        self._transports: dict[int, Transport] = {}

    def take(self, frame: Frame) -> tuple[Reading, ...]:
        """The readings that a frame of the bus completes."""
        if not self._wanted or (frame.identifier, frame.extended) not in HEARD:
            return ()
        transport = self._transports.setdefault(frame.identifier, Transport())
        payload = transport.receive(frame.data, frame.at)
        # The tester said when to go on; we only listened.
        transport.outgoing(frame.at)
        return () if payload is None else answered(payload, self._wanted)


def overhearing(design: Design) -> dict[str, Overhear]:
    """What takes the answers in a recording of each bus that the design asks on. Raises DesignError: R760,
    R761."""
    buses = {each.obd.bus for each in design.signals.values() if each.obd is not None}
    return {bus: Overheard(readers(design.signals, bus)).take for bus in buses}


@dataclass
class _Question:
    """A parameter that is asked for every so many seconds, next at ``due``; ``failed`` counts the times in a
    row that it brought nothing though somebody was there."""

    every: float
    due: float = float("-inf")
    failed: int = 0
    told: bool = False


class Asker:
    """Asks for a design's values in turn, one at a time, of all controllers. Times are host seconds.

    Until somebody answers, the questions go in turn by identifiers of 11 and of 29 bits: a vehicle has one of
    the two. A controller may put an answer off, and may refuse it, which is no silence.
    """

    def __init__(self, signals: Mapping[str, SignalDefinition], bus: str | None = None) -> None:
        """For those of a bus, or for all. Raises DesignError: R760, R761."""
        self._wanted = readers(signals, bus)
        self._questions: dict[int, _Question] = {}
        for definition in signals.values():
            if definition.obd is not None and definition.obd.pid in self._wanted:
                every = definition.obd.every / 1000
                question = self._questions.setdefault(definition.obd.pid, _Question(every))
                question.every = min(question.every, every)
        self._asked: int | None = None
        self._until = 0.0
        self._extended = False
        self._pending = 0
        self._refused: tuple[str, int] | None = None
        self._wide = self._met = False
        self._silent = 0
        self._rest = float("-inf")
        self._transports: dict[tuple[int, bool], Transport] = {}
        self._findings: list[Finding] = []

    @property
    def wants(self) -> bool:
        """Whether the design asks for anything."""
        return bool(self._wanted)

    @property
    def answered(self) -> bool:
        """Whether answers come."""
        return self._silent < SILENT_AFTER

    def outgoing(self, now: float) -> list[Frame]:
        """Frames to send: the next question, and what the transport asks for."""
        frames = [
            Frame(now, _asks(identifier, wide), wide, data)
            for (identifier, wide), transport in self._transports.items()
            for data in transport.outgoing(now)
        ]
        if self._asked is not None and now >= self._until:
            self._give_up(self._asked, now)
        if self._asked is None and now >= self._rest:
            pid = min(self._questions, key=lambda number: (self._questions[number].due, number), default=None)
            if pid is not None and self._questions[pid].due <= now:
                frames += self._ask(pid, now)
        return frames

    def _ask(self, pid: int, now: float) -> list[Frame]:
        self._asked, self._until, self._extended = pid, now + WITHIN, False
        self._pending, self._refused = 0, None
        asked = self._questions[pid]
        asked.due = now + max(asked.every, min(SELDOM, asked.every * 2**asked.failed))
        question = Transport()
        question.send(bytes([SHOW_CURRENT, pid]), now)
        everyone = EVERYONE_29 if self._wide else EVERYONE
        return [Frame(now, everyone, self._wide, data) for data in question.outgoing(now)]

    def _give_up(self, pid: int, now: float) -> None:
        """The time for an answer is over."""
        self._asked = None
        if self._refused is not None or self._pending:
            self._silent, self._met = 0, True
            self._lacks(pid)
            return
        if self._silent == 0:
            # Others are answered: this vehicle may lack it, which is met with silence too.
            self._questions[pid].failed = min(self._questions[pid].failed + 1, MOST_FAILED)
        self._silent += 1
        if self._silent >= SILENT_AFTER:
            self._rest, self._met = now + SILENT_PACE, False
            # Nobody is there: when somebody is again, nothing is held against any question.
            for each in self._questions.values():
                each.failed, each.due = 0, min(each.due, now + each.every)
        if not self._met:
            self._wide = not self._wide
        if self._silent == SILENT_AFTER:
            remedy = "check the wiring and that the vehicle is awake; it is asked on"
            message = "nobody answers OBD requests, by identifiers of 11 or of 29 bits"
            self._findings.append(warning("R762", message, None, remedy))

    def _lacks(self, pid: int) -> None:
        """A question that brought nothing though somebody was there; told once until it brings something."""
        question = self._questions[pid]
        question.failed = min(question.failed + 1, MOST_FAILED)
        if question.told:
            return
        question.told = True
        names = " and ".join(f"'{name}'" for name, _ in self._wanted[pid])
        if self._refused is not None:
            who, why = self._refused
            reason = REASONS.get(why, f"its reason has the number {why:02X}")
            message = f"controller {who} refuses parameter {pid:02X} for {names}: {reason}"
            remedy = "it is asked for ever more seldom; ask for one that this vehicle has"
        else:
            message = f"the answer to parameter {pid:02X} for {names} was put off and never came"
            remedy = "it is asked for ever more seldom; see whether the vehicle is on"
        self._findings.append(warning("R771", message, None, remedy))

    def take(self, frame: Frame, now: float) -> tuple[Reading, ...]:
        """The readings that a frame of the bus completes."""
        key = frame.identifier, frame.extended
        if key not in HEARD or self._asked is None:
            return ()
        payload = self._transports.setdefault(key, Transport()).receive(frame.data, now)
        if payload is None:
            # The first frame of a long answer counts, once: it is on its way. A controller that babbles
            # other frames for ever must not put off the next question.
            if frame.data and frame.data[0] >> 4 == FIRST and not self._extended:
                self._until, self._extended = max(self._until, now + LONGER), True
            return ()
        if payload[:2] == bytes([REFUSED, SHOW_CURRENT]) and len(payload) >= 3:
            self._refuse(frame, payload[2], now)
            return ()
        pid = self._asked
        if payload[:2] != bytes([ANSWERED, pid]):
            return ()
        readings = answered(payload[: 2 + PARAMETERS[pid].length], self._wanted)
        if readings:
            self._asked, self._silent = None, 0
            self._wide, self._met = frame.extended, True
            self._questions[pid].failed, self._questions[pid].told = 0, False
        return readings

    def _refuse(self, frame: Frame, why: int, now: float) -> None:
        """A controller says no, or not yet; another may have the answer all the same."""
        if why == PENDING:
            if self._pending < MOST_PENDING:
                self._until = now + PENDING_WITHIN
            self._pending += 1
        else:
            self._refused = f"{frame.identifier:X}", why

    def next_deadline(self) -> float | None:
        """When there is something to send or to give up."""
        if not self._questions:
            return None
        times = [time for each in self._transports.values() if (time := each.next_deadline()) is not None]
        due = max(self._rest, min(question.due for question in self._questions.values()))
        times.append(self._until if self._asked is not None else due)
        return min(times)

    def take_findings(self) -> list[Finding]:
        """What a person should know since the last call."""
        findings, self._findings = self._findings, []
        return findings


def _asks(identifier: int, wide: bool) -> int:
    """The identifier of questions to the controller that answers by ``identifier``."""
    return 0x18DA00F1 | (identifier & 0xFF) << 8 if wide else identifier - ASK_OFFSET


def _change(given: Unit, declared: Unit) -> Callable[[Scalar], float]:
    convert = converter(given, declared)
    return lambda value: convert(float(value))
