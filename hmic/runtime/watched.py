"""What is watched of a message of the DBC, and its raw values to values of the design's signals."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from hmic.model.dbc import means_no_number, means_no_value
from hmic.model.dbc_bits import Place
from hmic.model.design import SignalDefinition
from hmic.model.j1939 import NoMeasure, no_measure
from hmic.model.units import converter, convertible, unit
from hmic.model.values import Doubt, Scalar, ValueKind
from hmic.runtime.guarding import Guard

if TYPE_CHECKING:
    from cantools.database.can.signal import Signal


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


def conversion(
    definition: SignalDefinition, signal: Signal, grouped: bool
) -> Callable[[Any], Scalar | Doubt]:
    """From a field's raw value to its signal's; ``grouped``: it is of a parameter group of J1939, where some
    raw values are none by the standard. A sign is nothing that the standard knows, so a field that has one
    may be what it says."""
    convert = _converter(definition, signal)
    if not grouped or signal.is_signed or signal.is_float:
        return convert
    length, named = int(signal.length), set(definition.words)
    if definition.kind == ValueKind.TEXT:
        named = {int(raw) for raw, label in (signal.choices or {}).items() if not means_no_value(str(label))}

    def by_the_standard(raw: Any) -> Scalar | Doubt:
        why = None if raw in named else no_measure(raw, length)
        if why is NoMeasure.ABSENT:
            return Doubt.UNSEEN
        value = convert(raw)
        return value if why is None or isinstance(value, Doubt) else Doubt.OUT_OF_RANGE

    return by_the_standard


def _converter(definition: SignalDefinition, signal: Signal) -> Callable[[Any], Scalar | Doubt]:
    scale = signal.conversion.raw_to_scaled
    labels = {int(raw): str(label) for raw, label in (signal.choices or {}).items()}
    no_data = definition.no_data
    slack = abs(float(signal.scale)) / 2 if not signal.is_float else 0.0

    def physical(raw: Any) -> float:
        return float(scale(raw, decode_choices=False))  # type: ignore[arg-type]

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

    silent = {raw for raw, label in labels.items() if means_no_value(label)}
    wrong = {raw for raw, label in labels.items() if means_no_number(label)}
    if definition.kind == ValueKind.NUMBER:
        change = _unit_change(definition, signal.unit)
        return number
    if definition.kind == ValueKind.FLAG:
        return flag
    words = dict(definition.words) or {raw: label for raw, label in labels.items() if raw not in silent}
    return word


def _unit_change(definition: SignalDefinition, written: str | None) -> Callable[[float], float] | None:
    """From the DBC's unit to the declared one; None where there is nothing to change, or no way to
    (the model has told of that)."""
    given = unit(written) if written else None
    if definition.unit is None or given is None or given == definition.unit:
        return None
    return converter(given, definition.unit) if convertible(given, definition.unit) else None
