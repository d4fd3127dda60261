"""CAN frames to readings of the design's signals, by the rules of its DBC."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from dataclasses import field as dataclass_field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hmic.diagnostics import DesignError, Finding, did_you_mean, error, warning
from hmic.model.buses import address
from hmic.model.dbc import SUFFIXES, means_no_number, means_no_value, read_database
from hmic.model.dbc_bits import Lack, Place, place_of, raw_value
from hmic.model.dbc_mending import Unreadable
from hmic.model.design import Design, SignalDefinition
from hmic.model.expressions import Doubt, Scalar, ValueKind
from hmic.model.files import LARGEST
from hmic.model.units import converter, convertible, unit
from hmic.plain_files import read_plain
from hmic.runtime.guarding import Guard, load_guards
from hmic.sources.frame import Frame

if TYPE_CHECKING:
    from cantools.database.can import Message
    from cantools.database.can.signal import Signal


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of a signal, in its declared unit. ``element`` counts from 0 in an array. A sender
    that says "not available" gives ``Doubt.UNSEEN``, a raw value without meaning
    ``Doubt.OUT_OF_RANGE``."""

    name: str
    element: int | None
    value: Scalar | Doubt


@dataclass(frozen=True, slots=True)
class Arrival:
    """What one frame or line brought, at vehicle time ``at`` in seconds. ``frame`` is the frame, where
    it was one."""

    at: float
    readings: tuple[Reading, ...]
    frame: Frame | None = None


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
    from; ``undecoded``: how many lacked something that they should have brought."""

    name: str
    fields: list[Field]
    guard: Guard | None = None
    counter: Place | None = None
    channels: set[str] = dataclass_field(default_factory=set)
    undecoded: int = 0


Key = tuple[str, int, bool]
"""A message on the line: its bus, its identifier, and whether that is an extended one."""


Overhear = Callable[[Frame], "tuple[Reading, ...]"]
"""What a frame of no message of the design brings all the same."""


class Decoder:
    """Decodes the frames that the design's signals come from, each by the description of its bus; others
    give no readings, nor do those whose counter stands still or whose checksum is wrong, nor those of a
    message that has come by two channels: nothing says which of them is the bus that is meant.

    Every field is taken by itself, so that one that cannot be decoded costs itself alone."""

    def __init__(
        self, messages: Mapping[Key, Watched], overheard: Mapping[str, Overhear] | None = None
    ) -> None:
        """``overheard`` takes, by bus, values out of the answers to somebody else's questions."""
        self._messages = messages
        self._overheard = overheard or {}
        self._known: dict[str, int] = {}
        self._unknown: dict[str, int] = {}
        self._findings: list[Finding] = []
        self._refused: list[Reading] = []

    def wanted(self, bus: str = "") -> frozenset[tuple[int, bool]]:
        """The frames of a bus that concern the design: identifier, and whether it is an extended one."""
        return frozenset((identifier, extended) for of, identifier, extended in self._messages if of == bus)

    @property
    def undecoded(self) -> int:
        """Frames that lacked a value which they should have brought."""
        return sum(message.undecoded for message in self._messages.values())

    def health(self, bus: str | None = None) -> str:
        """What cannot be used, by message, of a bus or of all; nothing when all is well."""
        told = [
            f"{message.name} from two channels"
            if len(message.channels) > 1
            else f"{message.undecoded} of {message.name} undecoded"
            for key, message in self._messages.items()
            if (message.undecoded or len(message.channels) > 1) and bus in (None, key[0])
        ]
        return ", ".join(told[:3]) + (f" and {len(told) - 3} more" if len(told) > 3 else "")

    def take_findings(self) -> list[Finding]:
        """What a person should know of since the last call."""
        findings, self._findings = self._findings, []
        for message in self._messages.values():
            if message.guard is not None:
                findings += message.guard.take_findings()
        return findings

    def refused(self, at: float) -> tuple[Arrival, ...]:
        """Since the last call a message has come by a second channel: its values, in doubt from ``at`` on,
        whichever of the two they came by so far."""
        readings, self._refused = tuple(self._refused), []
        return (Arrival(at, readings),) if readings else ()

    def readings(self, frame: Frame) -> tuple[Reading, ...]:
        """The readings of a frame, in the order of the design's signals; empty if it concerns none
        of them or may not be used."""
        bus = frame.bus
        message = self._messages.get((bus, frame.identifier, frame.extended))
        if message is None:
            overhear = self._overheard.get(bus)
            if overhear is not None and (answers := overhear(frame)):
                self._known[bus] = self._known.get(bus, 0) + 1
                return answers
            self._unknown[bus] = self._unknown.get(bus, 0) + 1
            return ()
        self._known[bus] = self._known.get(bus, 0) + 1
        if not self._by_one_channel(message, frame):
            return ()
        guard = message.guard
        if guard is not None:
            counter = raw_value(message.counter, frame.data)
            if not guard.passes(frame.identifier, frame.data, None if isinstance(counter, Lack) else counter):
                return ()
        readings: list[Reading] = []
        lacking: tuple[Field, Lack] | None = None
        for field in message.fields:
            raw = raw_value(field.place, frame.data)
            if not isinstance(raw, Lack):
                readings.append(Reading(field.name, field.element, field.convert(raw)))
            elif raw is not Lack.OTHER_PAGE and lacking is None:
                lacking = field, raw
        if lacking is not None:
            self._undecoded(message, frame, *lacking)
        return tuple(readings)

    def unmet(self, name: str) -> list[Finding]:
        """The buses of which no frame so far was of a message of the design, of the log ``name``."""
        return [
            warning(
                "R711",
                f"none of the {count} frames of '{name}'{f' on {bus}' if bus else ''} is of a message of the "
                "design",
                None,
                "check that the log and the DBC belong together",
            )
            for bus, count in self._unknown.items()
            if bus not in self._known
        ]

    def _by_one_channel(self, message: Watched, frame: Frame) -> bool:
        if frame.channel is None or (frame.channel in message.channels and len(message.channels) == 1):
            return len(message.channels) < 2
        if len(message.channels) < 2:
            message.channels.add(frame.channel)
            if len(message.channels) > 1:
                ways = " and ".join(f"'{channel}'" for channel in sorted(message.channels))
                text = f"message '{message.name}' comes from {ways}: its values are not used"
                remedy = (
                    "name the buses in design.yaml (`buses:`), or give the right one only: a single --can, "
                    f"or --replay 'LOG#{min(message.channels)}'"
                )
                self._findings.append(warning("R717", text, None, remedy))
                self._refused += [Reading(each.name, each.element, Doubt.STALE) for each in message.fields]
        return len(message.channels) < 2

    def _undecoded(self, message: Watched, frame: Frame, field: Field, lack: Lack) -> None:
        message.undecoded += 1
        count = message.undecoded
        # The first, then ever more rarely: a sender that is wrong is wrong in every frame.
        if count not in (1, 10, 100, 1000) and count % 10_000:
            return
        frames = "a frame" if count == 1 else f"{count} frames"
        said = f"{lack.value}; the last: {len(frame.data)} bytes"
        text = f"{frames} of '{message.name}' without '{field.source}' ({said})"
        remedy = f"'{field.name}' turns stale; hold the DBC's lines of this message against its sender"
        self._findings.append(warning("R718", text, None, remedy))


def load_decoder(design: Design, overheard: Mapping[str, Overhear] | None = None) -> Decoder:
    """The decoder of a design's CAN signals. Raises DesignError: R701, R705 to R708."""
    wanted: dict[str, list[SignalDefinition]] = {}
    for definition in design.signals.values():
        if definition.source is not None:
            wanted.setdefault(definition.source.bus, []).append(definition)
    findings: list[Finding] = []
    entries: dict[Key, Watched] = {}
    for bus, definitions in wanted.items():
        if bus not in design.buses:
            text = f"'{definitions[0].name}' comes from CAN, but there is no DBC"
            remedy = "add `dbc: FILE` to design.yaml"
            raise DesignError([error("R708", text, definitions[0].span, remedy)])
        database = open_database(design.buses[bus])
        entries |= _watched(bus, definitions, database, findings)
        for key, (guard, counter) in load_guards(design, bus, database).items():
            if key in entries:
                entries[key].guard, entries[key].counter = guard, counter
    if findings:
        raise DesignError(findings)
    return Decoder(entries, overheard)


def _watched(
    bus: str, wanted: Iterable[SignalDefinition], database: Any, findings: list[Finding]
) -> dict[Key, Watched]:
    """The messages of a bus that signals come from."""
    entries: dict[Key, Watched] = {}
    for definition in wanted:
        for element in [None] if definition.count is None else range(definition.count):
            found = _find(database, definition, element)
            if isinstance(found, Finding):
                findings.append(found)
                break
            message, signal = found
            key = bus, message.frame_id, message.is_extended_frame
            watched = entries.setdefault(key, Watched(address(bus, message.name), []))
            place = place_of(signal, {each.name: each for each in message.signals})
            convert = _converter(definition, signal)
            watched.fields.append(Field(definition.name, element, signal.name, place, convert))
    return entries


def open_database(path: Path) -> Any:
    """The cantools database of the design's message file. Raises DesignError: M218, R701, R705."""
    name = path.name
    if path.suffix.lower() not in SUFFIXES:
        remedy = f"name a file that ends in one of {', '.join(SUFFIXES)}"
        raise DesignError([error("R705", f"'{name}' does not end in .dbc", None, remedy)])
    try:
        return read_database(read_plain(path, LARGEST), name)[0]
    except OSError as fault:
        reason = fault.strerror or "it cannot be read"
        message = f"the DBC '{name}' cannot be opened: {reason}"
        raise DesignError([error("R701", message, None, "check 'dbc' in design.yaml")]) from fault
    except Unreadable as fault:
        place = "" if fault.line is None else f" in line {fault.line}"
        message = f"the DBC '{name}' cannot be understood{place}: {fault.reason}"
        raise DesignError([error("R705", message, None, "export the file again")]) from fault


def _find(
    database: Any, definition: SignalDefinition, element: int | None
) -> tuple[Message, Signal] | Finding:
    source = definition.source
    assert source is not None
    number = "" if element is None else str(element + 1)
    message_name = source.message.replace("{n}", number)
    signal_name = source.signal.replace("{n}", number)
    messages: dict[str, Message] = {message.name: message for message in database.messages}
    message = messages.get(message_name)
    if message is None:
        return error(
            "R706",
            f"'{definition.name}' comes from message '{message_name}', which the DBC does not have",
            definition.span,
            did_you_mean(message_name, messages, "messages"),
        )
    signals: dict[str, Signal] = {signal.name: signal for signal in message.signals}
    signal = signals.get(signal_name)
    if signal is None:
        return error(
            "R707",
            f"'{definition.name}' comes from signal '{signal_name}', which message '{message_name}' of the "
            "DBC does not have",
            definition.span,
            did_you_mean(signal_name, signals, "signals"),
        )
    return message, signal


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
