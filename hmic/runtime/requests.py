"""What a touch asks of the vehicle: judged, encoded, and followed until the vehicle has answered.

Nothing is asked that the design does not declare as an output, that is out of its range, that comes
too soon after the last, or whose condition is not true beyond doubt.

A CAN message that carries several outputs is sent whole. Only the one that the finger asks for may differ
from what the vehicle reads: the others are sent as they read, so all of them must be known. While one of
them awaits its answer its reading is on the way to being another: sent as it reads, the message would take
the request back, and sent as asked, it would ask a second time without a finger. So nothing is sent until
the answer is there; unless the request may no longer be, when taking it back is right.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from hmic.model.design import Design, OutputDefinition
from hmic.model.expressions import Doubt, Lookup, Scalar, Typed, ValueKind
from hmic.runtime.refusals import Refusal, RequestRefused, unmet
from hmic.sources.frame import Frame

FOLLOW_WITHIN = 3.0
"""Seconds in which the vehicle's reading must follow a request (common practice, no source)."""

Encode = Callable[[str, Mapping[str, Scalar]], "bytes | str"]
"""The bytes of an output's message with the values of all its outputs, or why there are none."""


@dataclass(frozen=True)
class Target:
    """Where an output goes: its message's bus and identifier, and the outputs that it carries."""

    bus: str
    identifier: int
    extended: bool
    carries: tuple[str, ...]


@dataclass(frozen=True)
class RequestMade:
    """The vehicle is asked for ``value`` of the output ``name``, in its signal's unit. ``frame`` is the
    CAN frame that asks; without one the request goes to the pipe."""

    name: str
    value: Scalar
    frame: Frame | None = None


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
    guard: Typed | None


class Requests:
    """Judges requests and waits for their answers. Times are host seconds.

    ``allowed`` is whether this run may ask at all. ``targets`` and ``encode`` come from ``encoding``;
    without an entry an output goes to the pipe. ``count`` tells how many readings of a signal have come.
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
        self._undone: list[str] = []

    def judge(
        self, name: str, wanted: Scalar | Doubt | None, lookup: Lookup, now: float, guard: Typed | None = None
    ) -> RequestRefused | None:
        """What stands against asking for ``wanted`` now, if anything does. It is a Doubt when it would
        follow from a reading in doubt, None when that reading is at its end. ``guard`` is the condition
        of the control that asks."""
        why = self._against(name, wanted, lookup, now)
        return forbidden(name, guard, lookup) or (None if why is None else RequestRefused(name, *why))

    def ask(
        self, name: str, wanted: Scalar | Doubt | None, lookup: Lookup, now: float, guard: Typed | None = None
    ) -> RequestMade | RequestRefused:
        """The request with its frame, or what stands against it; ``wanted`` as for ``judge``."""
        refused = self.judge(name, wanted, lookup, now, guard)
        if refused is not None:
            return refused
        assert wanted is not None and not isinstance(wanted, Doubt)
        output = self._outputs[name]
        value = _carried(output, wanted, output.low, output.high)
        frame = None
        if output.message:
            encoded = self._encoded(name, value, lookup)
            if isinstance(encoded, RequestRefused):
                return encoded
            frame = encoded
        self._last[name] = now
        self._pending[name] = _Pending(value, now, self._count(name), guard)
        return RequestMade(name, value, frame)

    def give_up(self, name: str) -> None:
        """The request could not be sent."""
        self._pending.pop(name, None)

    def forget(self) -> None:
        """Nothing is awaited any more."""
        self._pending.clear()
        self._undone.clear()

    def tick(self, lookup: Lookup, now: float) -> list[RequestDone | RequestRefused]:
        """The answers that have come: the vehicle follows, or has not for too long."""
        answers: list[RequestDone | RequestRefused] = []
        answers += [RequestRefused(name, Refusal.UNDONE) for name in self._undone]
        self._undone.clear()
        for name, pending in list(self._pending.items()):
            fresh = self._count(name) > pending.count
            if fresh and self._follows(name, pending.value, lookup):
                answers.append(RequestDone(name, pending.value, now - pending.asked))
            elif now >= pending.asked + FOLLOW_WITHIN:
                answers.append(RequestRefused(name, Refusal.NOT_FOLLOWED))
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

    def _against(self, name: str, wanted: Scalar | Doubt | None, lookup: Lookup, now: float) -> _Why | None:
        if not self._allowed:
            return (Refusal.SENDS_NOTHING,)
        if isinstance(wanted, Doubt):
            return Refusal.READING_IN_DOUBT, (wanted,)
        if wanted is None:
            return (Refusal.AT_ITS_END,)
        output = self._outputs.get(name)
        if output is None:
            return (Refusal.NO_OUTPUT,)
        return (
            _unfit(output, wanted)
            or self._too_soon(output, now)
            or _forbidden(output.allowed, lookup, Refusal.OUTPUT_FORBIDS, Refusal.OUTPUT_IN_DOUBT)
            or (self._against_message(name, lookup, now) if output.message else None)
        )

    def _too_soon(self, output: OutputDefinition, now: float) -> _Why | None:
        if now < self._last.get(output.name, float("-inf")) + output.every / 1000:
            return Refusal.TOO_SOON, (f"{output.every / 1000:g}",)
        return None

    def _against_message(self, name: str, lookup: Lookup, now: float) -> _Why | None:
        """What the outputs that go in the same message have against sending it now."""
        target = self._targets.get(name)
        if target is None or self._encode is None:
            return (Refusal.NO_BUS,)
        for other in target.carries:
            if other == name:
                continue
            if self._awaited(other, lookup, now):
                return Refusal.BESIDE_AWAITED, (other,)
            reads = lookup(other)
            if isinstance(reads, Doubt | tuple):
                doubt = reads if isinstance(reads, Doubt) else Doubt.OUT_OF_RANGE
                return Refusal.BESIDE_IN_DOUBT, (other, doubt)
        return None

    def _awaited(self, name: str, lookup: Lookup, now: float) -> bool:
        """Whether an output's request is unanswered and could be made again as it stands."""
        pending = self._pending.get(name)
        if pending is None or now >= pending.asked + FOLLOW_WITHIN:
            return False
        conditions = (pending.guard, self._outputs[name].allowed)
        return all(each is None or each.evaluate(lookup) is True for each in conditions)

    def _encoded(self, name: str, value: Scalar, lookup: Lookup) -> Frame | RequestRefused:
        target, encode = self._targets[name], self._encode
        assert encode is not None
        others = [other for other in target.carries if other != name]
        values: dict[str, Scalar] = {name: value}
        for other in others:
            reads = lookup(other)
            assert not isinstance(reads, Doubt | tuple)
            signal = self._outputs[other].signal
            values[other] = _carried(self._outputs[other], reads, signal.low, signal.high)
        data = encode(name, values)
        if isinstance(data, str):
            return RequestRefused(name, Refusal.NOT_ENCODED, (data,))
        for other in others:
            if self._pending.pop(other, None) is not None:
                self._undone.append(other)
        return Frame(0.0, target.identifier, target.extended, data, bus=target.bus)


_Why = tuple[Refusal] | tuple[Refusal, tuple[str | Doubt, ...]]


def forbidden(name: str, guard: Typed | None, lookup: Lookup) -> RequestRefused | None:
    """What the condition of a control has against a touch of it."""
    why = _forbidden(guard, lookup, Refusal.CONTROL_FORBIDS, Refusal.CONTROL_IN_DOUBT)
    return None if why is None else RequestRefused(name, *why)


def _forbidden(condition: Typed | None, lookup: Lookup, false: Refusal, unknown: Refusal) -> _Why | None:
    details = None if condition is None else unmet(condition, lookup)
    if details is None:
        return None
    return (unknown if isinstance(details[-1], Doubt) else false), details


def _carried(output: OutputDefinition, value: Scalar, low: float, high: float) -> Scalar:
    """The nearest value to one in a range that the output's field can carry without leaving it."""
    if output.steps is None or isinstance(value, bool | str):
        return value
    nearest = output.steps.nearest(value, low, high)
    return value if nearest is None else nearest


def _unfit(output: OutputDefinition, value: Scalar) -> _Why | None:
    """Why a value is none that the output takes."""
    signal = output.signal
    if signal.kind == ValueKind.NUMBER:
        if isinstance(value, bool | str) or not output.low <= value <= output.high:
            unit = signal.unit.spelling if signal.unit is not None else ""
            return Refusal.OUT_OF_RANGE, (f"{output.low:g} to {output.high:g} {unit}".rstrip(),)
    elif signal.kind == ValueKind.FLAG:
        if not isinstance(value, bool):
            return (Refusal.NO_FLAG,)
    elif not isinstance(value, str) or (signal.words and value not in signal.words.values()):
        return (Refusal.OTHER_WORD,)
    return None
