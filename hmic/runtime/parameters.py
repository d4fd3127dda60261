"""The parameters of OBD-II service 01 (SAE J1979) whose form is known.

Formulas: tests/reference/07_obd2_mode01.csv, which names its sources; those marked there were seen.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Parameter:
    """A parameter of service 01: bytes of its answer, unit, and value of those bytes."""

    length: int
    unit: str
    value: Callable[[bytes], float]


def _two(data: bytes) -> int:
    return data[0] << 8 | data[1]


PARAMETERS: Mapping[int, Parameter] = {
    0x04: Parameter(1, "%", lambda data: data[0] * 100 / 255),
    0x05: Parameter(1, "°C", lambda data: data[0] - 40),
    0x0C: Parameter(2, "rpm", lambda data: _two(data) / 4),
    0x0D: Parameter(1, "km/h", lambda data: data[0]),
    0x0F: Parameter(1, "°C", lambda data: data[0] - 40),
    0x10: Parameter(2, "g/s", lambda data: _two(data) / 100),
    0x11: Parameter(1, "%", lambda data: data[0] * 100 / 255),
    0x1F: Parameter(2, "s", lambda data: _two(data)),
    0x2F: Parameter(1, "%", lambda data: data[0] * 100 / 255),
    0x33: Parameter(1, "kPa", lambda data: data[0]),
    0x42: Parameter(2, "V", lambda data: _two(data) / 1000),
    0x46: Parameter(1, "°C", lambda data: data[0] - 40),
    0x5B: Parameter(1, "%", lambda data: data[0] * 100 / 255),
    0x5C: Parameter(1, "°C", lambda data: data[0] - 40),
}
