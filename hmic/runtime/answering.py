"""Values out of the answers of controllers that are asked: OBD-II service 01 (SAE J1979), and service 22 of
ISO 14229, whose identifiers a design declares with their formula.

The identifiers of frames (11 bits: 0x7DF to all, answers 0x7E8 to 0x7EF; 29 bits: 0x18DB33F1 to all, answers
0x18DAF1xx) are from memory of ISO 15765-4.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from hmic.diagnostics import DesignError, Finding, error
from hmic.model.asked import BY_IDENTIFIER, CURRENT, AskedSource, Controller
from hmic.model.design import Design, SignalDefinition
from hmic.model.units import converter, convertible, unit
from hmic.model.values import Doubt, Scalar, ValueKind
from hmic.runtime.decoding import Overhear, Reading
from hmic.runtime.iso_tp import Transport
from hmic.runtime.parameters import PARAMETERS
from hmic.runtime.wanted import Identity
from hmic.sources.frame import Frame

ANSWERS = range(0x7E8, 0x7F0)
ANSWERS_29 = 0x18DAF100
"""Its low byte is the controller that answers, the one above the tester (0xF1); a question to one controller
has the two the other way round."""
HEARD = frozenset({*((each, False) for each in ANSWERS), *((ANSWERS_29 + each, True) for each in range(256))})
"""The frames that can be answers to a question to all."""
GIVEN = 0x40
"""What an answer adds to the service that it answers."""


class Question(NamedTuple):
    """What is asked: of all controllers, or of one."""

    controller: Controller | None
    service: int
    number: int

    @staticmethod
    def of(asked: AskedSource) -> Question:
        """What a signal is asked for by."""
        return Question(asked.controller, asked.service, asked.number)

    @property
    def payload(self) -> bytes:
        """The bytes of the question."""
        return bytes([self.service]) + self._name

    @property
    def answer(self) -> bytes:
        """The bytes that begin an answer to it."""
        return bytes([self.service + GIVEN]) + self._name

    @property
    def _name(self) -> bytes:
        return self.number.to_bytes(2 if self.service == BY_IDENTIFIER else 1, "big")

    @property
    def text(self) -> str:
        """It, for a person."""
        if self.service == BY_IDENTIFIER:
            return f"identifier {self.number:04X}"
        return f"parameter {self.number:02X}"

    def may_come_from(self, identity: Identity) -> bool:
        """Whether a frame may be of an answer to it."""
        return identity in HEARD if self.controller is None else identity == self.controller.answers


@dataclass(frozen=True)
class Reader:
    """A signal, or an element of one, out of the bytes behind what an answer begins with; it takes ``needs``
    of them."""

    name: str
    element: int | None
    needs: int
    convert: Callable[[bytes], Scalar | Doubt]


Wanted = Mapping[Question, Sequence[Reader]]
"""What is read out of the answer to each question."""


def wanted(signals: Mapping[str, SignalDefinition], bus: str | None = None) -> Wanted:
    """Of the signals of a bus, or of all. Raises DesignError: R760, R761."""
    found: dict[Question, list[Reader]] = {}
    findings: list[Finding] = []
    for definition in signals.values():
        asked = definition.asked
        if asked is None or bus not in (None, asked.bus):
            continue
        try:
            found.setdefault(Question.of(asked), []).extend(_readers(definition))
        except DesignError as refused:
            findings += refused.findings
    if findings:
        raise DesignError(findings)
    return found


def _readers(definition: SignalDefinition) -> Iterable[Reader]:
    asked = definition.asked
    assert asked is not None
    if asked.formula is None:
        return [_parameter(definition, asked.number)]
    convert = _said(definition)
    return [
        Reader(
            definition.name, None if definition.count is None else element, needs, _computed(value, convert)
        )
        for element, (value, needs) in enumerate(zip(asked.formula.values, asked.formula.needs, strict=True))
    ]


def _parameter(definition: SignalDefinition, number: int) -> Reader:
    """A parameter of service 01, from its unit to that of the signal. Raises DesignError: R760, R761."""
    parameter = PARAMETERS.get(number)
    if parameter is None:
        known = ", ".join(f"{each:02X}" for each in PARAMETERS)
        message = f"'{definition.name}' asks for parameter {number:02X}, whose form is not known here"
        remedy = f'use one of {known}, or say its formula: `value: "256 * A + B"`'
        raise DesignError([error("R760", message, definition.span, remedy)])
    given, declared = unit(parameter.unit), definition.unit
    assert given is not None
    if declared is None or not convertible(given, declared):
        message = f"parameter {number:02X} is in {parameter.unit}, '{definition.name}' is not"
        raise DesignError([error("R761", message, definition.span, f"write `unit: {parameter.unit}`")])
    change, value = converter(given, declared), parameter.value
    return Reader(definition.name, None, parameter.length, lambda data: change(float(value(data))))


def _computed(
    value: Callable[[bytes], float], convert: Callable[[float], Scalar | Doubt]
) -> Callable[[bytes], Scalar | Doubt]:
    def computed(data: bytes) -> Scalar | Doubt:
        try:
            number = float(value(data))
        except (ArithmeticError, ValueError):
            return Doubt.OUT_OF_RANGE
        return convert(number) if math.isfinite(number) else Doubt.OUT_OF_RANGE

    return computed


def _said(definition: SignalDefinition) -> Callable[[float], Scalar | Doubt]:
    """From what a formula gives to what the signal says."""
    no_data, words = definition.no_data, definition.words

    def said(number: float) -> Scalar | Doubt:
        if no_data is not None and math.isclose(number, no_data, rel_tol=1e-9, abs_tol=1e-9):
            return Doubt.UNSEEN
        if definition.kind == ValueKind.FLAG:
            return number == 1 if number in (0, 1) else Doubt.OUT_OF_RANGE
        if definition.kind == ValueKind.WORD:
            return words.get(int(number), Doubt.OUT_OF_RANGE) if number == int(number) else Doubt.OUT_OF_RANGE
        return number

    return said


def read(readers: Sequence[Reader], data: bytes) -> tuple[tuple[Reading, ...], Reader | None]:
    """The readings in the bytes of an answer, and the first reader for which they are too few."""
    readings: list[Reading] = []
    lacking = None
    for reader in readers:
        if len(data) >= reader.needs:
            readings.append(Reading(reader.name, reader.element, reader.convert(data)))
        elif lacking is None:
            lacking = reader
    return tuple(readings), lacking


class Overheard:
    """Values out of answers that somebody else asked for, as in a recording of a bus with a tester on it."""

    def __init__(self, wanted: Wanted) -> None:
        self._wanted = wanted
        self._transports: dict[Identity, Transport] = {}
        self._first: dict[Question, Identity] = {}

    def take(self, frame: Frame) -> tuple[Reading, ...]:
        """The readings that a frame of the bus completes."""
        identity = frame.identifier, frame.extended
        questions = [each for each in self._wanted if each.may_come_from(identity)]
        if not questions:
            return ()
        transport = self._transports.setdefault(identity, Transport())
        payload = transport.receive(frame.data, frame.at)
        # The tester said when to go on; we only listened.
        transport.outgoing(frame.at)
        if payload is None:
            return ()
        # Several controllers may have what is asked of all: the first that answers is the one that counts.
        mine = [each for each in questions if self._first.get(each, identity) == identity]
        readings: list[Reading] = []
        for question, data in _parts(payload, mine):
            self._first[question] = identity
            readings += read(self._wanted[question], data)[0]
        return tuple(readings)


def _parts(payload: bytes, questions: Sequence[Question]) -> Iterable[tuple[Question, bytes]]:
    """What an answer holds for each of some questions. One of service 01 may hold several parameters; what
    follows one of unknown length is left out."""
    if payload[:1] != bytes([CURRENT + GIVEN]):
        return [(each, payload[len(each.answer) :]) for each in questions if payload.startswith(each.answer)]
    found: list[tuple[Question, bytes]] = []
    at = 1
    while at < len(payload):
        number, rest = payload[at], payload[at + 1 :]
        parameter = PARAMETERS.get(number)
        data = rest if parameter is None else rest[: parameter.length]
        found += [(each, data) for each in questions if (each.service, each.number) == (CURRENT, number)]
        if parameter is None:
            break
        at += 1 + parameter.length
    return found


def overhearing(design: Design) -> dict[str, Overhear]:
    """What takes the answers in a recording of each bus that the design asks on. Raises DesignError: R760,
    R761."""
    buses = {each.asked.bus for each in design.signals.values() if each.asked is not None}
    return {bus: Overheard(wanted(design.signals, bus)).take for bus in buses}
