"""Asks controllers for a design's values: OBD-II service 01 (SAE J1979) and service 22 of ISO 14229, over
ISO 15765-2, on identifiers of 11 or 29 bits.

The times are from memory of ISO 15765-4.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hmic.diagnostics import Finding, warning
from hmic.model.asked import Controller
from hmic.model.design import SignalDefinition
from hmic.runtime.answering import HEARD, Question, Reader, read, wanted
from hmic.runtime.decoding import Reading
from hmic.runtime.iso_tp import Transport
from hmic.runtime.rarely import Rarely
from hmic.runtime.wanted import Identity
from hmic.sources.frame import Frame

EVERYONE, EVERYONE_29 = 0x7DF, 0x18DB33F1
ASK_OFFSET = 8
REFUSED = 0x7F
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
    0x11: "it does not know service {service:02X}",
    0x13: "it does not understand the length of the question",
    0x14: "the answer would be too long",
    0x21: "it is busy",
    0x22: "not as the vehicle is now",
    0x33: "it keeps it locked",
    0x7F: "not in the session that it is in",
}
"""What a refusal says (ISO 14229-1, from memory)."""
LACKS = frozenset({0x12, 0x31})
"""Reasons that say that it does not have what was asked for."""


@dataclass
class _Due:
    """A question that is asked every so many seconds, next at ``due``; ``failed`` counts the times in a row
    that it brought nothing though somebody was there. ``by`` is who answered it."""

    every: float
    due: float = float("-inf")
    failed: int = 0
    told: bool = False
    by: Identity | None = None


@dataclass
class _Listening:
    """What is known of a controller, or of all: questions in a row that it was silent to, and until when it
    is not asked again."""

    silent: int = 0
    rest: float = float("-inf")


@dataclass
class _Asked:
    """The question that is under way, and what has come to it."""

    question: Question
    until: float
    extended: bool = False
    pending: int = 0
    refused: tuple[str, int] | None = None


class Asker:
    """Asks for a design's values in turn, one at a time, of all controllers or of the one that is named.
    Times are host seconds.

    Until somebody answers, questions to all go in turn by identifiers of 11 and of 29 bits: a vehicle has one
    of the two. A controller may put an answer off, and may refuse it, which is no silence.
    """

    def __init__(self, signals: Mapping[str, SignalDefinition], bus: str | None = None) -> None:
        """For those of a bus, or for all. Raises DesignError: R760, R761."""
        self._wanted = wanted(signals, bus)
        self._questions: dict[Question, _Due] = {}
        for definition in signals.values():
            asked = definition.asked
            if asked is not None and (question := Question.of(asked)) in self._wanted:
                due = self._questions.setdefault(question, _Due(asked.every / 1000))
                due.every = min(due.every, asked.every / 1000)
        self._targets = {each.controller: _Listening() for each in self._questions}
        self._asked: _Asked | None = None
        self._wide = self._met = False
        self._transports: dict[Identity, Transport] = {}
        self._short: dict[Question, Rarely] = {}
        self._findings: list[Finding] = []

    @property
    def wants(self) -> bool:
        """Whether the design asks for anything."""
        return bool(self._wanted)

    @property
    def heard(self) -> frozenset[Identity]:
        """The frames that can be of answers."""
        named = frozenset(each.answers for each in self._targets if each is not None)
        return named | HEARD if None in self._targets else named

    @property
    def answered(self) -> bool:
        """Whether answers come from all that are asked."""
        return not self.silence

    @property
    def silence(self) -> str:
        """Who does not answer, for a person; nothing when all do."""
        silent = [each for each, state in self._targets.items() if state.silent >= SILENT_AFTER]
        if not silent:
            return ""
        if len(silent) == len(self._targets):
            return "nobody answers OBD"
        return ", ".join("nobody" if each is None else each.name for each in silent) + " does not answer OBD"

    def outgoing(self, now: float) -> list[Frame]:
        """Frames to send: the next question, and what the transport asks for."""
        frames = [
            _frame(now, self._back(identity), data)
            for identity, transport in self._transports.items()
            for data in transport.outgoing(now)
        ]
        if self._asked is not None and now >= self._asked.until:
            self._give_up(self._asked, now)
        if self._asked is None:
            ready = [(self._ready(question), question.payload, question) for question in self._questions]
            at, _, question = min(ready, key=lambda each: each[:2], default=(now + 1, b"", None))
            if question is not None and at <= now:
                frames += self._ask(question, now)
        return frames

    def _ready(self, question: Question) -> float:
        """When it may be asked."""
        return max(self._questions[question].due, self._targets[question.controller].rest)

    def _back(self, identity: Identity) -> Identity:
        """The frames to the controller that answers by some."""
        for controller in self._targets:
            if controller is not None and controller.answers == identity:
                return controller.asks
        identifier, extended = identity
        return (0x18DA00F1 | (identifier & 0xFF) << 8 if extended else identifier - ASK_OFFSET), extended

    def _ask(self, question: Question, now: float) -> list[Frame]:
        self._asked = _Asked(question, now + WITHIN)
        due = self._questions[question]
        due.due = now + max(due.every, min(SELDOM, due.every * 2**due.failed))
        transport = Transport()
        transport.send(question.payload, now)
        to = (EVERYONE_29 if self._wide else EVERYONE), self._wide
        if question.controller is not None:
            to = question.controller.asks
        return [_frame(now, to, data) for data in transport.outgoing(now)]

    def _give_up(self, asked: _Asked, now: float) -> None:
        """The time for an answer is over."""
        self._asked = None
        question = asked.question
        due, target = self._questions[question], self._targets[question.controller]
        due.by = None
        if asked.refused is not None or asked.pending:
            target.silent = 0
            self._met = self._met or question.controller is None
            self._lacks(asked)
            return
        if target.silent == 0:
            # Others are answered: this vehicle may lack it, which is met with silence too.
            due.failed = min(due.failed + 1, MOST_FAILED)
        target.silent += 1
        if target.silent >= SILENT_AFTER:
            target.rest = now + SILENT_PACE
            # Nobody is there: when somebody is again, nothing is held against any question.
            for each, other in self._questions.items():
                if each.controller == question.controller:
                    other.failed, other.due = 0, min(other.due, now + other.every)
        if question.controller is None:
            self._met = self._met and target.silent < SILENT_AFTER
            self._wide = self._wide if self._met else not self._wide
        if target.silent == SILENT_AFTER:
            self._findings.append(_silent(question.controller))

    def _lacks(self, asked: _Asked) -> None:
        """A question that brought nothing though somebody was there; told once until it brings something."""
        question = asked.question
        due = self._questions[question]
        due.failed = min(due.failed + 1, MOST_FAILED)
        if due.told:
            return
        due.told = True
        for_what = f"{question.text} for {_names(self._wanted[question])}"
        if asked.refused is not None:
            who, why = asked.refused
            reason = REASONS.get(why, f"its reason has the number {why:02X}").format(service=question.service)
            if why in LACKS:
                reason = f"it does not have that {question.text.partition(' ')[0]}"
            message = f"controller {who} refuses {for_what}: {reason}"
            remedy = "it is asked for ever more seldom; ask for one that this vehicle has"
        else:
            message = f"the answer to {for_what} was put off and never came"
            remedy = "it is asked for ever more seldom; see whether the vehicle is on"
        self._findings.append(warning("R771", message, None, remedy))

    def take(self, frame: Frame, now: float) -> tuple[Reading, ...]:
        """The readings that a frame of the bus completes."""
        identity, asked = (frame.identifier, frame.extended), self._asked
        if asked is None or not asked.question.may_come_from(identity):
            return ()
        payload = self._transports.setdefault(identity, Transport()).receive(frame.data, now)
        if payload is None:
            # The first frame of a long answer counts, once: it is on its way. A controller that babbles
            # other frames for ever must not put off the next question.
            if frame.data and frame.data[0] >> 4 == FIRST and not asked.extended:
                asked.until, asked.extended = max(asked.until, now + LONGER), True
            return ()
        question = asked.question
        if payload[:2] == bytes([REFUSED, question.service]) and len(payload) >= 3:
            self._refuse(asked, identity, payload[2], now)
            return ()
        due = self._questions[question]
        # Several controllers may have what is asked of all: while the one answers that did, it is the one.
        if not payload.startswith(question.answer) or due.by not in (None, identity):
            return ()
        readings, lacking = read(self._wanted[question], payload[len(question.answer) :])
        if lacking is not None:
            self._too_short(question, lacking, payload)
        self._asked, self._targets[question.controller].silent = None, 0
        if question.controller is None:
            self._wide, self._met = frame.extended, True
        due.by, due.failed, due.told = identity, 0, False
        return readings

    def _refuse(self, asked: _Asked, identity: Identity, why: int, now: float) -> None:
        """A controller says no, or not yet; where all were asked, another may have the answer."""
        if why == PENDING:
            if asked.pending < MOST_PENDING:
                asked.until = now + PENDING_WITHIN
            asked.pending += 1
            return
        controller = asked.question.controller
        asked.refused = f"{identity[0]:X}" if controller is None else f"'{controller.name}'", why
        if controller is not None:
            # Nobody else was asked.
            asked.until = now

    def _too_short(self, question: Question, reader: Reader, payload: bytes) -> None:
        told = self._short.setdefault(question, Rarely())
        if told.due(told.total + 1):
            there = len(payload) - len(question.answer)
            message = f"the answer to {question.text} has {there} bytes, '{reader.name}' takes {reader.needs}"
            remedy = "it turns stale; hold its formula against what the controller sends"
            self._findings.append(warning("R775", message, None, remedy))

    def next_deadline(self) -> float | None:
        """When there is something to send or to give up."""
        if not self._questions:
            return None
        times = [time for each in self._transports.values() if (time := each.next_deadline()) is not None]
        due = min(self._ready(question) for question in self._questions)
        times.append(self._asked.until if self._asked is not None else due)
        return min(times)

    def take_findings(self) -> list[Finding]:
        """What a person should know since the last call."""
        findings, self._findings = self._findings, []
        return findings


def _frame(now: float, identity: Identity, data: bytes) -> Frame:
    return Frame(now, identity[0], identity[1], data)


def _names(readers: Sequence[Reader]) -> str:
    return " and ".join(f"'{name}'" for name in dict.fromkeys(reader.name for reader in readers))


def _silent(controller: Controller | None) -> Finding:
    remedy = "check the wiring and that the vehicle is awake; it is asked on"
    message = "nobody answers OBD requests, by identifiers of 11 or of 29 bits"
    if controller is not None:
        message = f"controller '{controller.name}' does not answer what is asked by 0x{controller.request:X}"
        remedy = "check its identifiers, the wiring and that the vehicle is awake; it is asked on"
    return warning("R762", message, None, remedy)
