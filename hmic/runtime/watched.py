"""What is watched of a message that signals come from, and its raw values to values of signals."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from hmic.model.dbc_bits import Place
from hmic.model.j1939 import NoMeasure, no_measure
from hmic.model.units import converter
from hmic.model.values import Doubt, Scalar, ValueKind
from hmic.runtime.guarding import Guard
from hmic.runtime.tables import Conversion, ReceivedMessage


@dataclass(frozen=True, slots=True)
class Field:
    """A field of a message and the signal, or element of one, that it gives. ``source`` is its name in
    the DBC."""

    name: str
    element: int | None
    source: str
    place: Place | None
    convert: Callable[[Any], Scalar | Doubt]


@dataclass(slots=True)
class Watched:
    """A message that signals come from, and what its frames were like. ``channels``: where they come
    from; ``undecoded``: how many lacked something that they should have brought.

    Of a parameter group (``grouped``) only what comes from ``source``, for ``destination``, is meant, where
    these are said; ``senders`` are those that it came from, as a person is told. ``takings`` is how its
    fields are taken of frames of a length (``taking``)."""

    name: str
    fields: list[Field]
    guard: Guard | None = None
    counter: Place | None = None
    channels: set[str] = field(default_factory=set)
    undecoded: int = 0
    grouped: bool = False
    source: int | None = None
    destination: int | None = None
    senders: set[str] = field(default_factory=set)
    takings: dict[int, Any] = field(default_factory=dict)

    @property
    def trouble(self) -> str:
        """Why it cannot be used, or that some of its frames could not; nothing when all is well."""
        if len(self.channels) > 1:
            return f"{self.name} from two channels"
        if len(self.senders) > 1:
            return f"{self.name} from two senders"
        return f"{self.undecoded} of {self.name} undecoded" if self.undecoded else ""


def watched(message: ReceivedMessage) -> Watched:
    """A message by its table, of which no frame has come."""
    fields = [
        Field(each.name, each.element, each.source, each.place, converting(each.conversion))
        for each in message.fields
    ]
    guard = None if message.check is None else Guard(message.check, message.checksum)
    return Watched(
        message.name,
        fields,
        guard,
        message.counter,
        grouped=message.grouped,
        source=message.source,
        destination=message.destination,
    )


def converting(conversion: Conversion) -> Callable[[Any], Scalar | Doubt]:
    """From a field's raw value to its signal's."""
    convert = _converter(conversion)
    bits, named = conversion.standard, conversion.named
    if not bits:
        return convert

    def by_the_standard(raw: Any) -> Scalar | Doubt:
        why = None if raw in named else no_measure(raw, bits)
        if why is NoMeasure.ABSENT:
            return Doubt.UNSEEN
        value = convert(raw)
        return value if why is None or isinstance(value, Doubt) else Doubt.OUT_OF_RANGE

    return by_the_standard


def _converter(conversion: Conversion) -> Callable[[Any], Scalar | Doubt]:
    physical = _physical(conversion)
    no_data, slack, words = conversion.no_data, conversion.slack, conversion.words
    silent, wrong = conversion.silent, conversion.wrong
    change = None if conversion.change is None else converter(*conversion.change)

    def absent(raw: Any) -> bool:
        return no_data is not None and abs(physical(raw) - no_data) <= slack

    def number(raw: Any) -> Scalar | Doubt:
        value = physical(raw)
        if no_data is not None and abs(value - no_data) <= slack:
            return Doubt.UNSEEN
        if raw in silent or math.isnan(value):
            return Doubt.UNSEEN
        if raw in wrong:
            return Doubt.OUT_OF_RANGE
        return value if change is None else change(value)

    def flag(raw: Any) -> Scalar | Doubt:
        if absent(raw):
            return Doubt.UNSEEN
        return raw == 1 if raw in (0, 1) else Doubt.OUT_OF_RANGE

    def word(raw: Any) -> Scalar | Doubt:
        if absent(raw):
            return Doubt.UNSEEN
        return words.get(raw, Doubt.UNSEEN if raw in silent else Doubt.OUT_OF_RANGE)

    if conversion.kind == ValueKind.NUMBER:
        return number
    return flag if conversion.kind == ValueKind.FLAG else word


def _physical(conversion: Conversion) -> Callable[[Any], float]:
    if conversion.scale.none:
        return float
    factor, offset = conversion.scale.factor, conversion.scale.offset
    return lambda raw: float(raw * factor + offset)
