"""The tables that the runtime works by, out of a design and its DBC."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from hmic.diagnostics import DesignError, Finding, did_you_mean, error
from hmic.model.buses import address
from hmic.model.dbc import SUFFIXES, means_no_number, means_no_value, read_database
from hmic.model.dbc_bits import Place, place_of
from hmic.model.dbc_mending import Unreadable
from hmic.model.design import Design, MessageCheck, OutputDefinition, SignalDefinition
from hmic.model.files import LARGEST
from hmic.model.j1939 import NOBODY, is_group, said_group, source_of
from hmic.model.units import Unit, convertible, unit
from hmic.model.values import ValueKind
from hmic.plain_files import read_plain
from hmic.runtime.decoding import Decoder, Overhear, decoder_of
from hmic.runtime.encoding import Encoder, encoder_of
from hmic.runtime.tables import (
    Conversion,
    ReceivedField,
    ReceivedMessage,
    Scale,
    SentField,
    SentMessage,
    UnitChange,
)

if TYPE_CHECKING:
    from cantools.database.can import Message
    from cantools.database.can.signal import Signal


def load_decoder(design: Design, overheard: Mapping[str, Overhear] | None = None) -> Decoder:
    """The decoder of a design's CAN signals. Raises DesignError: R701, R705 to R708."""
    return decoder_of(received(design), overheard)


def load_encoder(design: Design) -> Encoder | None:
    """The encoder of a design's outputs; None when none of them goes on the bus. Raises DesignError:
    R701, R705."""
    return encoder_of(sent(design))


def received(design: Design) -> tuple[ReceivedMessage, ...]:
    """The messages that a design's signals come from. Raises DesignError: R701, R705 to R708."""
    wanted: dict[str, list[SignalDefinition]] = {}
    for definition in design.signals.values():
        if definition.source is not None:
            wanted.setdefault(definition.source.bus, []).append(definition)
    findings: list[Finding] = []
    messages: list[ReceivedMessage] = []
    for bus, definitions in wanted.items():
        if bus not in design.descriptions:
            text = f"'{definitions[0].name}' comes from CAN, but there is no DBC"
            remedy = "add `dbc: FILE` to design.yaml"
            raise DesignError([error("R708", text, definitions[0].span, remedy)])
        messages += _of_bus(design, bus, definitions, open_database(design.descriptions[bus]), findings)
    if findings:
        raise DesignError(findings)
    return tuple(messages)


class _Meant(NamedTuple):
    """A message of a bus, and of a parameter group the sender and receiver that are meant."""

    identifier: int
    extended: bool
    source: int | None = None
    destination: int | None = None


class _Message(NamedTuple):
    """A message that signals come from, and what they take of it so far."""

    message: Message
    grouped: bool
    fields: list[ReceivedField]


def _of_bus(
    design: Design,
    bus: str,
    wanted: Iterable[SignalDefinition],
    database: Any,
    findings: list[Finding],
) -> list[ReceivedMessage]:
    """The messages of a bus that signals come from."""
    entries: dict[_Meant, _Message] = {}
    messages: dict[str, Message] = {message.name: message for message in database.messages}
    for definition in wanted:
        for element in [None] if definition.count is None else range(definition.count):
            found = _find(messages, definition, element)
            if isinstance(found, Finding):
                findings.append(found)
                break
            message, signal = found
            grouped = is_group(said_group(message, database), design.j1939.get(bus))
            entry = entries.setdefault(_meant(message, definition, grouped), _Message(message, grouped, []))
            place = place_of(signal, {each.name: each for each in message.signals})
            convert = conversion(definition, signal, grouped)
            entry.fields.append(ReceivedField(definition.name, element, signal.name, place, convert))
    return [_received(design, bus, meant, entry) for meant, entry in entries.items()]


def _received(design: Design, bus: str, meant: _Meant, entry: _Message) -> ReceivedMessage:
    name = address(bus, entry.message.name)
    check = design.messages.get(name)
    fields = {signal.name: signal for signal in entry.message.signals}
    counter: Place | None = None
    if check is not None and check.counter in fields:
        counter = place_of(fields[check.counter], fields)
    return ReceivedMessage(
        name,
        design.wire(bus),
        meant.identifier,
        meant.extended,
        tuple(entry.fields),
        check,
        counter,
        _checksum(check, fields),
        entry.grouped,
        meant.source,
        meant.destination,
    )


def _checksum(check: MessageCheck | None, fields: Mapping[str, Signal]) -> int | None:
    """The byte of a message that holds its checksum. A big-endian field starts at its highest bit, a
    little-endian one at its lowest; a whole byte lies in the same byte either way."""
    if check is None or check.checksum is None or check.checksum not in fields:
        return None
    return int(fields[check.checksum].start) // 8


def conversion(definition: SignalDefinition, signal: Signal, grouped: bool) -> Conversion:
    """From a field's raw value to its signal's; ``grouped``: it is of a parameter group of J1939, where some
    raw values are none by the standard. A sign is nothing that the standard knows, so a field that has one
    may be what it says."""
    labels = {int(raw): str(label) for raw, label in (signal.choices or {}).items()}
    silent = frozenset(raw for raw, label in labels.items() if means_no_value(label))
    number = definition.kind == ValueKind.NUMBER
    words = dict(definition.words) or {raw: label for raw, label in labels.items() if raw not in silent}
    by_standard = grouped and not signal.is_signed and not signal.is_float
    named = set(definition.words)
    if definition.kind == ValueKind.TEXT:
        named = {raw for raw, label in labels.items() if not means_no_value(label)}
    return Conversion(
        definition.kind,
        _scale(signal),
        definition.no_data,
        abs(float(signal.scale)) / 2 if not signal.is_float else 0.0,
        silent,
        frozenset(raw for raw, label in labels.items() if means_no_number(label)),
        _unit_change(signal.unit, definition.unit) if number else None,
        words if definition.kind in (ValueKind.WORD, ValueKind.TEXT) else {},
        int(signal.length) if by_standard else 0,
        frozenset(named) if by_standard else frozenset(),
    )


def _scale(signal: Signal) -> Scale:
    factor, offset = signal.scale, signal.offset
    if not signal.is_float and float(factor).is_integer() and float(offset).is_integer():
        return Scale(int(factor), int(offset))
    return Scale(factor, offset)


def _unit_change(written: str | None, declared: Unit | None) -> UnitChange | None:
    """From the DBC's unit to the declared one; None where there is nothing to change, or no way to
    (the model has told of that)."""
    given = unit(written) if written else None
    if declared is None or given is None or given == declared or not convertible(given, declared):
        return None
    return given, declared


def sent(design: Design) -> tuple[SentMessage, ...]:
    """The messages by which outputs are asked for. Raises DesignError: R701, R705."""
    carried: dict[str, list[OutputDefinition]] = {}
    for output in design.outputs.values():
        if output.message and output.bus in design.descriptions:
            carried.setdefault(address(output.bus, output.message), []).append(output)
    databases: dict[str, dict[str, Message]] = {}
    found: list[SentMessage] = []
    for name, outputs in carried.items():
        bus = outputs[0].bus
        if bus not in databases:
            messages = open_database(design.descriptions[bus]).messages
            databases[bus] = {message.name: message for message in messages}
        message = databases[bus].get(outputs[0].message)
        if message is not None:
            found.append(_sent(design, name, message, outputs))
    return tuple(found)


def _sent(design: Design, name: str, message: Message, outputs: list[OutputDefinition]) -> SentMessage:
    check = design.messages.get(name)
    fields = {signal.name: signal for signal in message.signals}
    by_field = {output.field: output for output in outputs}
    return SentMessage(
        name,
        design.wire(outputs[0].bus),
        message.frame_id,
        message.is_extended_frame,
        message.length,
        tuple(_sent_field(signal, fields, by_field.get(signal.name)) for signal in message.signals),
        {output.name: output.field for output in outputs},
        check,
        _checksum(check, fields),
    )


def _sent_field(signal: Signal, fields: Mapping[str, Signal], output: OutputDefinition | None) -> SentField:
    change = None
    words: dict[str, int] = {}
    if output is not None:
        given = unit(signal.unit) if signal.unit else None
        declared = output.signal.unit
        if declared is not None and given is not None and convertible(declared, given):
            change = declared, given
        for raw, word in output.signal.words.items():
            words.setdefault(word, raw)
    scale, start = _scale(signal), signal.raw_initial
    return SentField(
        signal.name,
        place_of(signal, fields),
        scale,
        signal.minimum,
        signal.maximum,
        frozenset(int(raw) for raw in signal.choices or ()),
        None if start is None else start * scale.factor + scale.offset,
        change,
        words,
    )


def _meant(message: Message, definition: SignalDefinition, grouped: bool) -> _Meant:
    """Of a group the sender that the signal names, else the one of the identifier, where that names one."""
    number, source = message.frame_id, definition.source
    if not grouped or source is None:
        return _Meant(number, message.is_extended_frame)
    said = source_of(number) if source_of(number) not in NOBODY else None
    return _Meant(number, True, said if source.address is None else source.address, source.destination)


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
    messages: Mapping[str, Message], definition: SignalDefinition, element: int | None
) -> tuple[Message, Signal] | Finding:
    source = definition.source
    assert source is not None
    number = "" if element is None else str(element + 1)
    message_name = source.message.replace("{n}", number)
    signal_name = source.signal.replace("{n}", number)
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
