"""What is taken of frames and put into them, as data: all that the runtime knows of a DBC. ``from_dbc`` makes
it, a host file holds it, ``decoding`` and ``encoding`` work by it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from hmic.model.dbc_bits import Place
from hmic.model.design import MessageCheck
from hmic.model.units import Unit
from hmic.model.values import ValueKind

UnitChange = tuple[Unit, Unit]
"""From one unit to another."""


@dataclass(frozen=True)
class Scale:
    """``raw * factor + offset`` is the physical value. Both are whole numbers where the field is one and the
    DBC says so: then nothing is rounded."""

    factor: float = 1
    offset: float = 0

    @property
    def none(self) -> bool:
        """Whether it changes nothing."""
        return self.factor == 1 and self.offset == 0


@dataclass(frozen=True)
class Conversion:
    """From a field's raw value to its signal's, of a ``kind``. ``no_data``, to ``slack``, is the physical
    value of a sender that has none; ``silent`` raw values say the same, ``wrong`` ones that
    something is amiss. ``words`` are those of a word or text by raw value. ``standard`` are the bits of a
    field of J1939 that has no sign, else 0: some of its raw values are none by the standard, unless
    ``named``."""

    kind: ValueKind
    scale: Scale = Scale()
    no_data: float | None = None
    slack: float = 0.0
    silent: frozenset[int] = frozenset()
    wrong: frozenset[int] = frozenset()
    change: UnitChange | None = None
    words: Mapping[int, str] = field(default_factory=dict)
    standard: int = 0
    named: frozenset[int] = frozenset()


@dataclass(frozen=True)
class ReceivedField:
    """A field, ``source`` in the DBC, and the signal, or ``element`` of one, that it gives."""

    name: str
    element: int | None
    source: str
    place: Place | None
    conversion: Conversion


@dataclass(frozen=True)
class ReceivedMessage:
    """A message that signals come from, ``name`` as a person is told, on a bus of the vehicle. ``check`` says
    how it shows that its sender lives: its ``counter``, and its checksum in byte ``checksum``. Of a
    parameter group (``grouped``) only what comes from ``source``, for ``destination``, is meant, where these
    are said."""

    name: str
    bus: str
    identifier: int
    extended: bool
    fields: tuple[ReceivedField, ...]
    check: MessageCheck | None = None
    counter: Place | None = None
    checksum: int | None = None
    grouped: bool = False
    source: int | None = None
    destination: int | None = None


@dataclass(frozen=True)
class SentField:
    """A field of a message that is sent. ``low`` and ``high`` bound its physical value, None where nothing
    does, but for the raw values ``named``. ``start`` is the value that it has unless something sets it; where
    an output does, ``change`` and ``words`` lead from its value to the physical one."""

    name: str
    place: Place | None
    scale: Scale = Scale()
    low: float | None = None
    high: float | None = None
    named: frozenset[int] = frozenset()
    start: float | None = None
    change: UnitChange | None = None
    words: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class SentMessage:
    """A message of ``size`` bytes that asks for something, and the field of each output that it carries.
    ``check`` says how it shows that its sender lives: by the field of its counter, and its checksum in byte
    ``checksum``."""

    name: str
    bus: str
    identifier: int
    extended: bool
    size: int
    fields: tuple[SentField, ...]
    outputs: Mapping[str, str]
    check: MessageCheck | None = None
    checksum: int | None = None
