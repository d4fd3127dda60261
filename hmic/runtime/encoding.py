"""Requests to CAN frames, by the rules of the design's DBC."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from hmic.model.buses import address
from hmic.model.checksums import checksum
from hmic.model.design import Design, MessageCheck, OutputDefinition
from hmic.model.expressions import Scalar
from hmic.model.units import converter, convertible, unit
from hmic.runtime.decoding import open_database
from hmic.runtime.requests import Target

if TYPE_CHECKING:
    from cantools.database.can import Message
    from cantools.database.can.signal import Signal


class Encoder:
    """Encodes outputs. A field of their message that is no output is the counter or checksum that the
    design declares, else it has the start value that the DBC gives."""

    def __init__(self, design: Design, messages: Mapping[str, Message]) -> None:
        """``messages`` are those of the outputs, by address."""
        self._design = design
        self._messages = messages
        self._counters: dict[str, int] = {}
        self.targets: dict[str, Target] = {}
        for output in design.outputs.values():
            message = messages.get(_address(output)) if output.message else None
            if message is not None:
                carried = [
                    other.name for other in design.outputs.values() if _address(other) == _address(output)
                ]
                self.targets[output.name] = Target(
                    design.wire(output.bus), message.frame_id, message.is_extended_frame, tuple(carried)
                )

    def encode(self, name: str, values: Mapping[str, Scalar]) -> bytes | str:
        """The bytes of the message of output ``name``; ``values`` are those of all its outputs, in the
        units of their signals. A string says why there are none."""
        from cantools.database.errors import Error

        at = _address(self._design.outputs[name])
        message, check = self._messages[at], self._design.messages.get(at)
        fields = self._fixed(message, check, self._counters.get(at, -1))
        for other, value in values.items():
            output = self._design.outputs[other]
            signal = next(signal for signal in message.signals if signal.name == output.field)
            fields[signal.name] = _physical(output, signal, value)
        try:
            data = bytes(message.encode(fields, strict=True))
        except (Error, ValueError, KeyError, OverflowError, TypeError) as fault:
            return " ".join(str(fault).split())
        if check is not None and check.counter is not None:
            self._counters[at] = fields[check.counter]
        return _sealed(message, check, data)

    def _fixed(self, message: Message, check: MessageCheck | None, counted: int) -> dict[str, Any]:
        fields: dict[str, Any] = {}
        for signal in message.signals:
            if check is not None and signal.name == check.counter:
                count = counted + 1 & (1 << signal.length) - 1
                fields[signal.name] = count
            elif check is not None and signal.name == check.checksum:
                fields[signal.name] = 0
            else:
                fields[signal.name] = signal.initial
        return fields


def load_encoder(design: Design) -> Encoder | None:
    """The encoder of a design's outputs; None when none of them goes on the bus. Raises DesignError:
    R701, R705."""
    wanted = {_address(output) for output in design.outputs.values() if output.message}
    buses = {output.bus for output in design.outputs.values() if output.message} & design.descriptions.keys()
    if not buses:
        return None
    messages = {
        address(bus, message.name): message
        for bus in buses
        for message in open_database(design.descriptions[bus]).messages
    }
    return Encoder(design, {at: message for at, message in messages.items() if at in wanted})


def _address(output: OutputDefinition) -> str:
    return address(output.bus, output.message)


def _physical(output: OutputDefinition, signal: Signal, value: Scalar) -> float:
    """A value in the unit of its signal as the DBC's physical value."""
    scale, offset = float(signal.scale), float(signal.offset)
    if isinstance(value, bool):
        return (1 if value else 0) * scale + offset
    if isinstance(value, str):
        raw = next(raw for raw, word in output.signal.words.items() if word == value)
        return raw * scale + offset
    given = unit(signal.unit) if signal.unit else None
    declared = output.signal.unit
    if declared is None or given is None or not convertible(declared, given):
        return value
    return converter(declared, given)(value)


def _sealed(message: Message, check: MessageCheck | None, data: bytes) -> bytes:
    """With its checksum, where the design declares one."""
    if check is None or check.checksum is None:
        return data
    place = next(signal.start // 8 for signal in message.signals if signal.name == check.checksum)
    rest = data[:place] + data[place + 1 :]
    head = bytes([message.frame_id & 0xFF]) if check.with_identifier else b""
    return data[:place] + bytes([checksum(check.method, head + rest)]) + data[place + 1 :]
