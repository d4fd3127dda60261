"""CAN frames to readings of the design's signals, by the rules of its DBC."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hmic.diagnostics import DesignError, Finding, did_you_mean, error
from hmic.model.dbc import NO_VALUE_LABELS, SUFFIXES, load_database
from hmic.model.design import Design, SignalDefinition
from hmic.model.expressions import Doubt, Scalar
from hmic.model.files import LARGEST
from hmic.model.units import converter, convertible, unit
from hmic.plain_files import read_plain
from hmic.runtime.guarding import Guard, load_guards

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
class Frame:
    """A CAN data frame. ``at`` in seconds; ``channel`` is the bus that it came from, as far as known."""

    at: float
    identifier: int
    extended: bool
    data: bytes
    channel: str | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Arrival:
    """What one frame or line brought, at vehicle time ``at`` in seconds. ``frame`` is the frame, where
    it was one."""

    at: float
    readings: tuple[Reading, ...]
    frame: Frame | None = None


@dataclass(frozen=True, slots=True)
class _Field:
    name: str
    element: int | None
    convert: Callable[[Any], Scalar | Doubt]


class Decoder:
    """Decodes the frames that the design's signals come from; others give no readings, nor do those
    whose counter stands still or whose checksum is wrong."""

    def __init__(
        self,
        messages: Mapping[tuple[int, bool], tuple[Message, Mapping[str, Sequence[_Field]]]],
        guards: Mapping[tuple[int, bool], Guard] | None = None,
    ) -> None:
        self._messages = messages
        self._guards = guards or {}
        self.known = 0
        self.undecoded = 0

    def take_findings(self) -> list[Finding]:
        """What the guards found since the last call."""
        return [finding for guard in self._guards.values() for finding in guard.take_findings()]

    def readings(self, frame: Frame) -> tuple[Reading, ...]:
        """The readings of a frame, in the order of the design's signals; empty if it concerns none
        of them or does not fit its message. ``known`` and ``undecoded`` count both kinds."""
        from cantools.database.errors import DecodeError

        entry = self._messages.get((frame.identifier, frame.extended))
        if entry is None:
            return ()
        message, fields = entry
        self.known += 1
        try:
            raw = message.decode(frame.data, decode_choices=False, scaling=False, allow_truncated=True)
        except (DecodeError, ValueError, KeyError):
            self.undecoded += 1
            return ()
        if not isinstance(raw, dict):
            self.undecoded += 1
            return ()
        guard = self._guards.get((frame.identifier, frame.extended))
        if guard is not None and not guard.passes(frame.identifier, frame.data, raw):
            return ()
        return tuple(
            Reading(field.name, field.element, field.convert(raw[signal]))
            for signal, of_signal in fields.items()
            if signal in raw
            for field in of_signal
        )


def load_decoder(design: Design) -> Decoder:
    """The decoder of a design's CAN signals. Raises DesignError: R701, R705 to R708."""
    wanted = [item for item in design.signals.values() if item.source is not None]
    if not wanted:
        return Decoder({})
    if design.dbc is None:
        remedy = "add 'dbc: FILE' to design.yaml"
        raise DesignError(
            [error("R708", f"'{wanted[0].name}' comes from CAN, but there is no DBC", wanted[0].span, remedy)]
        )
    database = open_database(design.dbc)
    findings: list[Finding] = []
    entries: dict[tuple[int, bool], tuple[Message, dict[str, list[_Field]]]] = {}
    for definition in wanted:
        for element in [None] if definition.count is None else range(definition.count):
            found = _find(database, definition, element)
            if isinstance(found, Finding):
                findings.append(found)
                break
            message, signal = found
            _, fields = entries.setdefault((message.frame_id, message.is_extended_frame), (message, {}))
            converter = _converter(definition, signal)
            fields.setdefault(signal.name, []).append(_Field(definition.name, element, converter))
    if findings:
        raise DesignError(findings)
    return Decoder(entries, load_guards(design, database))


def open_database(path: Path) -> Any:
    """The cantools database of the design's message file. Raises DesignError: R701, R705."""
    name = path.name
    if path.suffix.lower() not in SUFFIXES:
        remedy = f"name a file that ends in one of {', '.join(SUFFIXES)}"
        raise DesignError([error("R705", f"'{name}' does not end in .dbc", None, remedy)])
    try:
        return load_database(read_plain(path, LARGEST), name)
    except OSError as fault:
        reason = fault.strerror or "it cannot be read"
        message = f"the DBC '{name}' cannot be opened: {reason}"
        raise DesignError([error("R701", message, None, "check 'dbc' in design.yaml")]) from fault
    except Exception as fault:
        # The parser lets errors of many kinds through (its own, textparser's, codecs', ValueError).
        reason = " ".join(str(fault).split()) or type(fault).__name__
        message = f"the DBC '{name}' cannot be understood: {reason}"
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
        return value if change is None else change(value)

    def flag(raw: Any) -> Scalar | Doubt:
        if absent(raw):
            return Doubt.UNSEEN
        return raw == 1 if raw in (0, 1) else Doubt.OUT_OF_RANGE

    def word(raw: Any) -> Scalar | Doubt:
        if absent(raw):
            return Doubt.UNSEEN
        return words.get(raw, Doubt.UNSEEN if raw in silent else Doubt.OUT_OF_RANGE)

    silent = {raw for raw, label in labels.items() if label.strip().lower() in NO_VALUE_LABELS}
    if definition.kind == "number":
        change = _unit_change(definition, signal.unit)
        return number
    if definition.kind == "flag":
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
