"""The check bytes by which a message shows that it came whole.

A CRC of 8 bits is told by its polynomial, its start value, whether bits are taken the lowest first
(reflected, in and out) and what is added by exclusive or at the end, as the catalogue of parametrised CRC
algorithms lists them (reveng.sourceforge.io; held against the package `crccheck` in the tests). Beside
them: the sum and the exclusive or of the bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache, reduce
from operator import xor


@dataclass(frozen=True)
class Crc8:
    """A CRC of 8 bits. All numbers are bytes; ``polynomial`` without its highest term, written the highest
    power first also where bits are ``reflected``."""

    polynomial: int
    start: int = 0
    reflected: bool = False
    final: int = 0


Plain = StrEnum("Plain", "SUM XOR")
Method = Crc8 | Plain

NAMED: dict[str, Method] = {
    "CRC-8/SAE-J1850": Crc8(0x1D, 0xFF, False, 0xFF),
    "CRC-8/AUTOSAR": Crc8(0x2F, 0xFF, False, 0xFF),
    "CRC-8/SMBUS": Crc8(0x07),
    "CRC-8/MAXIM-DOW": Crc8(0x31, 0x00, True, 0x00),
    "CRC-8/GSM-A": Crc8(0x1D),
    "CRC-8/OPENSAFETY": Crc8(0x2F),
    "sum": Plain.SUM,
    "xor": Plain.XOR,
}
"""Methods that have a name, the first for want of another."""


def method_text(method: Method) -> str:
    """How a method is told in signals.yaml: `method: sum`, `crc: {polynomial: 0x9B}`."""
    for name, each in NAMED.items():
        if each == method:
            return f"method: {name}"
    assert isinstance(method, Crc8)
    parts = [f"polynomial: 0x{method.polynomial:02X}"]
    parts += [f"start: 0x{method.start:02X}"] if method.start else []
    parts += ["reflected: true"] if method.reflected else []
    parts += [f"final: 0x{method.final:02X}"] if method.final else []
    return f"crc: {{{', '.join(parts)}}}"


def checksum(method: Method, data: bytes) -> int:
    """The byte that guards ``data``."""
    return checksum_by(method)(data)


@lru_cache(maxsize=64)
def checksum_by(method: Method) -> Callable[[bytes], int]:
    """What works out the byte that guards others by a method."""
    if method == Plain.SUM:
        return lambda data: sum(data) & 0xFF
    if method == Plain.XOR:
        return lambda data: reduce(xor, data, 0)
    assert isinstance(method, Crc8)
    table, final = crc_table(method.polynomial, method.reflected), method.final
    # In a reflected CRC the start value stands reflected too.
    start = reflected_byte(method.start) if method.reflected else method.start

    def crc(data: bytes) -> int:
        value = start
        for byte in data:
            value = table[value ^ byte]
        return value ^ final

    return crc


@lru_cache(maxsize=64)
def crc_table(polynomial: int, reflected: bool) -> tuple[int, ...]:
    """What a CRC turns each byte into."""
    table = []
    for value in range(256):
        if reflected:
            value = reflected_byte(value)
        for _ in range(8):
            value = (value << 1) ^ polynomial if value & 0x80 else value << 1
        table.append(reflected_byte(value & 0xFF) if reflected else value & 0xFF)
    return tuple(table)


def reflected_byte(byte: int) -> int:
    return int(f"{byte:08b}"[::-1], 2)
