"""CRC-16/IBM-3740: polynomial 0x1021, start 0xFFFF, most significant bit first, nothing inverted.

Source of the parameters: Greg Cook, Catalogue of parametrised CRC algorithms (check value 0x29B1).
"""

from __future__ import annotations

from binascii import crc_hqx

START = 0xFFFF


def crc16(data: bytes, state: int = START) -> int:
    """The CRC of ``data``, going on from ``state`` (itself a CRC), 0..0xFFFF.

    ``crc_hqx`` is the table-driven form of this polynomial that Python carries in C.
    """
    return crc_hqx(data, state)
