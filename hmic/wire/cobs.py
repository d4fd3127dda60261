"""Consistent overhead byte stuffing: any bytes, written without the byte 0.

Source: Cheshire and Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM ToN 7(2), 1999.
"""

from __future__ import annotations


def encoded_limit(length: int) -> int:
    """The most bytes that ``length`` bytes can become, without a delimiter."""
    return length + 1 + length // 254


def encode(data: bytes) -> bytes:
    """The stuffed form, without a delimiter. Empty data becomes one byte."""
    out = bytearray()
    pieces = data.split(b"\0")
    for place, piece in enumerate(pieces):
        last = place == len(pieces) - 1
        while len(piece) >= 254:
            out.append(0xFF)
            out += piece[:254]
            piece = piece[254:]
            if last and not piece:
                return bytes(out)
        out.append(len(piece) + 1)
        out += piece
    return bytes(out)


def decode(stuffed: bytes) -> bytes | None:
    """The bytes that ``stuffed`` stands for, or None when it is not a stuffed form."""
    if not stuffed or 0 in stuffed:
        return None
    out = bytearray()
    place, end = 0, len(stuffed)
    while place < end:
        code = stuffed[place]
        after = place + code
        if after > end:
            return None
        out += stuffed[place + 1 : after]
        place = after
        if code != 0xFF and place < end:
            out.append(0)
    return bytes(out)
