"""Frames: a body of 1 to ``MAX_BODY`` bytes and its CRC, stuffed, ended by the byte 0.

A CRC starts from a *seal*: the CRC of what both ends must agree on already (see PROTOCOL.md), so
a frame of another session fails its check without a byte spent on saying so.
"""

from __future__ import annotations

from dataclasses import dataclass

from hmic.wire import cobs
from hmic.wire.crc import START, crc16
from hmic.wire.sizes import MAX_BODY, MAX_STUFFED


@dataclass(frozen=True)
class Frame:
    """A well stuffed frame whose CRC has yet to be compared (``intact``)."""

    body: bytes
    check: int

    @property
    def kind(self) -> int:
        """The first byte of the body."""
        return self.body[0]

    def intact(self, seal: int = START) -> bool:
        """Whether the CRC is that of the body under ``seal``."""
        return crc16(self.body, seal) == self.check


def encode(body: bytes, seal: int = START) -> bytes:
    """The bytes for the line, delimiter included. ValueError when the body's length is not allowed."""
    if not 1 <= len(body) <= MAX_BODY:
        raise ValueError(f"a body of {len(body)} bytes is outside 1..{MAX_BODY}")
    return cobs.encode_reduced(body + crc16(body, seal).to_bytes(2, "little")) + b"\0"


EMPTY = Frame(b"", START)


class FrameDecoder:
    """Cuts a byte stream into frames. Holds at most ``MAX_STUFFED`` bytes.

    ``dropped`` counts stretches between delimiters that were no frame; a session adds those whose
    CRC failed. Empty stretches are nothing at all.
    """

    def __init__(self) -> None:
        self.dropped = 0
        self._held = bytearray()
        self._skipping = False

    @property
    def waiting(self) -> bool:
        """Whether a frame has begun and not ended."""
        return bool(self._held) or self._skipping

    def receive(self, data: bytes) -> list[Frame]:
        """The frames that ``data`` completes, however the stream was cut."""
        return [frame for frame in self.stretches(data) if frame is not None]

    def stretches(self, data: bytes) -> list[Frame | None]:
        """The same, with None for each stretch that was no frame."""
        *ended, rest = data.split(b"\0")
        found = [frame for piece in ended if (frame := self._end(piece)) is not EMPTY]
        self._hold(rest)
        return found

    def _hold(self, piece: bytes) -> None:
        if self._skipping or len(self._held) + len(piece) > MAX_STUFFED:
            self._skipping = True
            self._held.clear()
        else:
            self._held += piece

    def _end(self, piece: bytes) -> Frame | None:
        """The frame that ends; ``EMPTY`` where there was nothing, None where there was no frame."""
        self._hold(piece)
        stuffed, skipped = bytes(self._held), self._skipping
        self._held.clear()
        self._skipping = False
        if not stuffed and not skipped:
            return EMPTY
        whole = cobs.decode_reduced(stuffed)
        if whole is None or not 3 <= len(whole) <= MAX_BODY + 2:
            self.dropped += 1
            return None
        return Frame(whole[:-2], int.from_bytes(whole[-2:], "little"))
