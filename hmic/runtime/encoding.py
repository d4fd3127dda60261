"""Requests to CAN frames, by tables that were made of a DBC."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from hmic.model.checksums import checksum
from hmic.model.dbc_bits import Place, bits_of
from hmic.model.expressions import Scalar
from hmic.model.units import converter
from hmic.runtime.requests import Target
from hmic.runtime.tables import Scale, SentField, SentMessage

_SLACK = 1e-6
"""Part of a field's step by which a value may lie beyond its end: it is rounded to the step anyhow."""


class _Impossible(Exception):
    """Why a value cannot be put into its field."""


class Encoder:
    """Encodes outputs. A field of their message that is no output is the counter or checksum that the
    design declares, else it has the start value that the DBC gives."""

    def __init__(self, messages: Sequence[SentMessage]) -> None:
        self._messages = {output: message for message in messages for output in message.outputs}
        self._counted: dict[str, int] = {}
        self.targets = {
            output: Target(message.bus, message.identifier, message.extended, tuple(message.outputs))
            for output, message in self._messages.items()
        }

    def encode(self, name: str, values: Mapping[str, Scalar]) -> bytes | str:
        """The bytes of the message of output ``name``; ``values`` are those of all its outputs, in the
        units of their signals. A string says why there are none."""
        message = self._messages[name]
        fields = {field.name: field for field in message.fields}
        given: dict[str, float] = {}
        count = self._counted.get(message.name, -1)
        try:
            for output, value in values.items():
                field = fields[message.outputs[output]]
                given[field.name] = _physical(field, value)
            if message.check is not None and message.check.counter is not None:
                count = _next(fields[message.check.counter], count)
                given[message.check.counter] = count
            if message.check is not None and message.check.checksum is not None:
                given[message.check.checksum] = 0
            data = _filled(message, given)
        except _Impossible as why:
            return str(why)
        self._counted[message.name] = count
        return _sealed(message, data)


def encoder_of(messages: Sequence[SentMessage]) -> Encoder | None:
    """The encoder of a design's outputs; None when none of them goes on the bus."""
    return Encoder(messages) if messages else None


def _next(field: SentField, count: int) -> int:
    """What a counter says after ``count``: it begins again at 0 behind the highest that it may say."""
    highest = (1 << field.place.length) - 1 if field.place is not None else 0
    if field.high is not None:
        highest = min(highest, max(0, math.floor(field.high)))
    return 0 if count >= highest else count + 1


def _filled(message: SentMessage, given: Mapping[str, float]) -> bytes:
    size = message.size
    little = big = 0
    for field in message.fields:
        value = given.get(field.name, field.start)
        if value is None:
            raise _Impossible(f"nothing sets '{field.name}' of '{message.name}'")
        place = field.place
        behind = -1 if place is None else 8 * size - place.start - place.length
        if place is None or behind < 0:
            raise _Impossible(f"'{field.name}' lies beyond the {size} bytes of '{message.name}'")
        bits = _bits(field, place, value, message.name)
        big |= bits << behind if place.big else 0
        little |= 0 if place.big else bits << place.start
    return (big | int.from_bytes(little.to_bytes(size, "little"), "big")).to_bytes(size, "big")


def _bits(field: SentField, place: Place, value: float, message: str) -> int:
    """A physical value as a field's bits."""
    raw = _raw(field.scale, place, value) if math.isfinite(value) else value
    low, high, slack = field.low, field.high, _SLACK * abs(field.scale.factor)
    beyond = (low is not None and value < low - slack) or (high is not None and value > high + slack)
    bits = None if beyond and raw not in field.named else bits_of(place, raw)
    if bits is None:
        raise _Impossible(f"'{field.name}' of '{message}' cannot be {value:g}")
    return bits


def _raw(scale: Scale, place: Place, value: float) -> int | float:
    """The raw value nearest to a physical one; the division of whole numbers is exact, so that a float that
    cannot hold them rounds only once."""
    if scale.none:
        raw = value
    elif not place.real and isinstance(scale.factor, int) and isinstance(scale.offset, int):
        whole, rest = divmod(value - scale.offset, scale.factor)
        raw = (value - scale.offset) / scale.factor if rest else whole
    else:
        raw = (value - scale.offset) / scale.factor
    return raw if place.real or not math.isfinite(raw) else round(raw)


def _physical(field: SentField, value: Scalar) -> float:
    """A value of the output's signal as the physical value of its field."""
    factor, offset = field.scale.factor, field.scale.offset
    if isinstance(value, bool):
        return (1 if value else 0) * factor + offset
    if isinstance(value, str):
        if value not in field.words:
            raise _Impossible(f"'{field.name}' has no word '{value}'")
        return field.words[value] * factor + offset
    return value if field.change is None else converter(*field.change)(value)


def _sealed(message: SentMessage, data: bytes) -> bytes:
    """With its checksum, where the design declares one."""
    check, place = message.check, message.checksum
    if check is None or check.checksum is None or place is None:
        return data
    rest = data[:place] + data[place + 1 :]
    head = bytes([message.identifier & 0xFF]) if check.with_identifier else b""
    return data[:place] + bytes([checksum(check.method, head + rest)]) + data[place + 1 :]
