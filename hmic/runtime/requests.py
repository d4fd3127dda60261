"""What a touch asks of the vehicle: judged, encoded, and followed until the vehicle has answered.

Nothing is asked that the design does not declare as an output, that is out of its range, that comes
too soon after the last, or whose condition is not true beyond doubt. A CAN message that carries several
outputs is sent whole, so what the others read must be known too.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from hmic.model.design import Design, OutputDefinition
from hmic.model.expressions import Doubt, Lookup, Scalar
from hmic.runtime.decoding import Frame
from hmic.runtime.touching import FOLLOW_WITHIN, NOT_ALLOWED, RequestMade, RequestRefused, describe

Encode = Callable[[str, Mapping[str, Scalar]], "bytes | str"]
"""The bytes of an output's message with the values of all its outputs, or why there are none."""


@dataclass(frozen=True)
class Target:
    """Where an output goes on the bus: its message's identifier, and the outputs that it carries."""

    identifier: int
    extended: bool
    carries: tuple[str, ...]


@dataclass(frozen=True)
class RequestDone:
    """The vehicle reads ``value`` of the output ``name`` now, ``seconds`` after it was asked for."""

    name: str
    value: Scalar
    seconds: float


@dataclass(frozen=True)
class _Pending:
    value: Scalar
    asked: float
    count: int


class Requests:
    """Judges requests and waits for their answers. Times are host seconds.

    ``targets`` and ``encode`` come from ``encoding``; without an entry an output goes to the pipe.
    ``count`` tells how many readings of a signal have come.
    """

    def __init__(
        self,
        design: Design,
        allowed: bool,
        count: Callable[[str], int],
        targets: Mapping[str, Target] | None = None,
        encode: Encode | None = None,
    ) -> None:
        self._outputs = design.outputs
        self._allowed = allowed
        self._count = count
        self._targets = targets or {}
        self._encode = encode
        self._last: dict[str, float] = {}
        self._pending: dict[str, _Pending] = {}

    def ask(self, name: str, value: Scalar, lookup: Lookup, now: float) -> RequestMade | RequestRefused:
        """The request with its frame, or the reason against it."""
        reason = self._reason(name, value, lookup, now)
        if reason is not None:
            return RequestRefused(name, reason)
        frame = None
        if self._outputs[name].message:
            encoded = self._encoded(name, value, lookup)
            if isinstance(encoded, str):
                return RequestRefused(name, encoded)
            frame = encoded
        self._last[name] = now
        self._pending[name] = _Pending(value, now, self._count(name))
        return RequestMade(name, value, frame)

    def give_up(self, name: str) -> None:
        """The request could not be sent."""
        self._pending.pop(name, None)

    def tick(self, lookup: Lookup, now: float) -> list[RequestDone | RequestRefused]:
        """The answers that have come: the vehicle follows, or has not for too long."""
        answers: list[RequestDone | RequestRefused] = []
        for name, pending in list(self._pending.items()):
            fresh = self._count(name) > pending.count
            if fresh and self._follows(name, pending.value, lookup):
                answers.append(RequestDone(name, pending.value, now - pending.asked))
            elif now >= pending.asked + FOLLOW_WITHIN:
                answers.append(RequestRefused(name, "the vehicle did not follow"))
            else:
                continue
            del self._pending[name]
        return answers

    def next_deadline(self) -> float | None:
        """When a request has waited too long."""
        return min((pending.asked + FOLLOW_WITHIN for pending in self._pending.values()), default=None)

    def _follows(self, name: str, value: Scalar, lookup: Lookup) -> bool:
        reads = lookup(name)
        if isinstance(reads, Doubt | tuple | str | bool) or isinstance(value, str | bool):
            return reads == value and type(reads) is type(value)
        signal = self._outputs[name].signal
        slack = max((signal.resolution or 0.0) / 2, 1e-6 * max(abs(signal.low), abs(signal.high)))
        return abs(reads - value) <= slack

    def _reason(self, name: str, value: Scalar, lookup: Lookup, now: float) -> str | None:
        if not self._allowed:
            return "this run sends nothing to the vehicle"
        output = self._outputs.get(name)
        if output is None:
            return "the design declares no such output"
        unfit = _unfit(output, value)
        if unfit is not None:
            return unfit
        if now < self._last.get(name, float("-inf")) + output.every / 1000:
            return f"it was asked for less than {output.every / 1000:g} s ago"
        if output.allowed is not None:
            holds = output.allowed.evaluate(lookup)
            if isinstance(holds, Doubt):
                return f"whether it is allowed is not known: {describe(holds)}"
            if holds is not True:
                return NOT_ALLOWED
        return None

    def _encoded(self, name: str, value: Scalar, lookup: Lookup) -> Frame | str:
        target = self._targets.get(name)
        if target is None or self._encode is None:
            return "there is no bus to send it on"
        values: dict[str, Scalar] = {}
        for other in target.carries:
            # What was asked for a moment ago counts before what still reads otherwise.
            reads = self._pending[other].value if other in self._pending else lookup(other)
            if other == name:
                reads = value
            if isinstance(reads, Doubt):
                return f"'{other}' goes in the same message, and of it {describe(reads)}"
            if isinstance(reads, tuple):
                return f"'{other}' goes in the same message, and is a list"
            values[other] = reads
        data = self._encode(name, values)
        return data if isinstance(data, str) else Frame(0.0, target.identifier, target.extended, data)


def _unfit(output: OutputDefinition, value: Scalar) -> str | None:
    """Why a value is none that the output takes."""
    signal = output.signal
    if signal.kind == "number":
        if isinstance(value, bool | str) or not output.low <= value <= output.high:
            unit = signal.unit.spelling if signal.unit is not None else ""
            return f"it takes {output.low:g} to {output.high:g} {unit}".rstrip()
    elif signal.kind == "flag":
        if not isinstance(value, bool):
            return "it is on or off"
    elif not isinstance(value, str) or (signal.words and value not in signal.words.values()):
        return "it takes another word"
    return None
