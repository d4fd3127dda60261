"""Consistent overhead byte stuffing: any bytes, written without the byte 0.

Source: Cheshire and Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM ToN 7(2), 1999. The reduced
form, which mostly saves its byte, is that of the cobs-python project (from memory).
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


def encode_reduced(data: bytes) -> bytes:
    """The stuffed form, its last code byte replaced by the last byte of data if that is not smaller."""
    stuffed = bytearray(encode(data))
    code, place = _last_code(stuffed)
    if code > 1 and place + code == len(stuffed) and stuffed[-1] >= code:
        stuffed[place] = stuffed.pop()
    return bytes(stuffed)


def decode_reduced(stuffed: bytes) -> bytes | None:
    """The bytes that ``stuffed`` stands for, reduced or not; None when it is empty or holds a 0."""
    if not stuffed or 0 in stuffed:
        return None
    code, place = _last_code(stuffed)
    if place + code <= len(stuffed):
        return decode(stuffed)
    return decode(
        stuffed[:place] + bytes((len(stuffed) - place + 1,)) + stuffed[place + 1 :] + bytes((code,))
    )


def _last_code(stuffed: bytes | bytearray) -> tuple[int, int]:
    """The last code byte and its place."""
    place = 0
    while place + stuffed[place] < len(stuffed):
        place += stuffed[place]
    return stuffed[place], place
