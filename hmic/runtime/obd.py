"""Values asked for by OBD-II (SAE J1979 service 01) over ISO 15765-2 on 11-bit identifiers.

Formulas: tests/reference/07_obd2_mode01.csv, which names its sources; those marked there were
seen, the identifiers (request 0x7DF to all, answers 0x7E8 to 0x7EF) and the waiting time are from
memory of ISO 15765-4.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from hmic.diagnostics import DesignError, Finding, error, warning
from hmic.model.design import SignalDefinition
from hmic.model.units import Unit, converter, convertible, unit
from hmic.model.values import Scalar
from hmic.runtime.decoding import Reading
from hmic.runtime.iso_tp import Transport
from hmic.sources.frame import Frame

EVERYONE = 0x7DF
ANSWERS = range(0x7E8, 0x7F0)
ASK_OFFSET = 8
SHOW_CURRENT, ANSWERED = 0x01, 0x41
FIRST = 1
"""Kind of the first frame of a payload that takes several."""
WITHIN = 0.2
"""Seconds that an answer may take (P2 of ISO 15765-4 is 50 ms; a margin for gateways)."""
LONGER = 1.0
"""Seconds that an answer in several frames may take, once its first frame has come."""
SILENT_AFTER = 5
"""Requests in a row without an answer after which a person is told."""


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


class Asker:
    """Asks for a design's values in turn, one at a time. Times are host seconds."""

    def __init__(self, signals: Mapping[str, SignalDefinition]) -> None:
        """Raises DesignError: R760, R761."""
        self._wanted: dict[int, list[tuple[str, Callable[[float], float]]]] = {}
        self._every: dict[int, float] = {}
        findings = [
            finding
            for definition in signals.values()
            if definition.obd is not None and (finding := self._want(definition)) is not None
        ]
        if findings:
            raise DesignError(findings)
        self._due = dict.fromkeys(self._every, float("-inf"))
        self._asked: int | None = None
        self._until = 0.0
        self._extended = False
        self._silent = 0
        self._transports: dict[int, Transport] = {}
        self._findings: list[Finding] = []

    @property
    def wants(self) -> bool:
        """Whether the design asks for anything."""
        return bool(self._wanted)

    @property
    def answered(self) -> bool:
        """Whether answers come."""
        return self._silent < SILENT_AFTER

    def _want(self, definition: SignalDefinition) -> Finding | None:
        assert definition.obd is not None
        pid = definition.obd.pid
        parameter = PARAMETERS.get(pid)
        if parameter is None:
            known = ", ".join(f"{number:02X}" for number in PARAMETERS)
            message = f"'{definition.name}' asks for parameter {pid:02X}, whose form is not known here"
            return error("R760", message, definition.span, f"use one of {known}")
        given, declared = unit(parameter.unit), definition.unit
        assert given is not None
        if declared is None or not convertible(given, declared):
            message = f"parameter {pid:02X} is in {parameter.unit}, '{definition.name}' is not"
            return error("R761", message, definition.span, f"write `unit: {parameter.unit}`")
        self._wanted.setdefault(pid, []).append((definition.name, _change(given, declared)))
        every = definition.obd.every / 1000
        self._every[pid] = min(every, self._every.get(pid, every))
        return None

    def outgoing(self, now: float) -> list[Frame]:
        """Frames to send: the next question, and what the transport asks for."""
        frames = [
            Frame(now, answer - ASK_OFFSET, False, data)
            for answer, transport in self._transports.items()
            for data in transport.outgoing(now)
        ]
        if self._asked is not None and now >= self._until:
            self._asked = None
            self._silent += 1
            if self._silent == SILENT_AFTER:
                remedy = "check the wiring and that the vehicle is awake; it is asked on"
                self._findings.append(warning("R762", "nobody answers OBD requests", None, remedy))
        if self._asked is None:
            pid = min(self._due, key=lambda number: (self._due[number], number), default=None)
            if pid is not None and self._due[pid] <= now:
                self._asked, self._until, self._extended = pid, now + WITHIN, False
                self._due[pid] = now + self._every[pid]
                question = Transport()
                question.send(bytes([SHOW_CURRENT, pid]), now)
                frames += [Frame(now, EVERYONE, False, data) for data in question.outgoing(now)]
        return frames

    def take(self, frame: Frame, now: float) -> tuple[Reading, ...]:
        """The readings that a frame of the bus completes."""
        if frame.extended or frame.identifier not in ANSWERS or self._asked is None:
            return ()
        transport = self._transports.setdefault(frame.identifier, Transport())
        payload = transport.receive(frame.data, now)
        if payload is None:
            # The first frame of a long answer counts, once: it is on its way. A controller that babbles
            # other frames for ever must not put off the next question.
            if frame.data and frame.data[0] >> 4 == FIRST and not self._extended:
                self._until, self._extended = now + LONGER, True
            return ()
        pid = self._asked
        parameter = PARAMETERS[pid]
        if payload[:2] != bytes([ANSWERED, pid]) or len(payload) < 2 + parameter.length:
            return ()
        self._asked, self._silent = None, 0
        value = parameter.value(payload[2 : 2 + parameter.length])
        return tuple(Reading(name, None, change(value)) for name, change in self._wanted[pid])

    def next_deadline(self) -> float | None:
        """When there is something to send or to give up."""
        if not self._wanted:
            return None
        times = [time for each in self._transports.values() if (time := each.next_deadline()) is not None]
        times.append(self._until if self._asked is not None else min(self._due.values()))
        return min(times)

    def take_findings(self) -> list[Finding]:
        """What a person should know since the last call."""
        findings, self._findings = self._findings, []
        return findings


def _change(given: Unit, declared: Unit) -> Callable[[Scalar], float]:
    convert = converter(given, declared)
    return lambda value: convert(float(value))
