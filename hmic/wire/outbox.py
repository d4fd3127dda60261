"""Frames on their way to the line: when it will be free, and what was sent."""

from __future__ import annotations

from dataclasses import dataclass

from hmic.wire import frames


@dataclass
class Statistics:
    """Counted since the start. ``resumed`` tells how often the host went back to what the display held,
    ``dropped`` frames from the display that were no good, ``display_dropped`` what it tells of its own."""

    frames: int = 0
    bytes: int = 0
    value_frames: int = 0
    resumed: int = 0
    block_frames: int = 0
    dropped: int = 0
    display_dropped: int = 0


class Outbox:
    """``rate`` in bytes a second. Times are of the call of ``begin`` before."""

    def __init__(self, rate: float) -> None:
        self.rate = rate
        self.counts = Statistics()
        self.free_at = 0.0
        self._now = 0.0
        self._bytes = bytearray()

    def begin(self, now: float) -> None:
        """Gather anew."""
        self._now = now
        self.free_at = max(self.free_at, now)

    def put(self, body: bytes, seal: int) -> None:
        """One more frame."""
        frame = frames.encode(body, seal)
        self._bytes += frame
        self.free_at += len(frame) / self.rate
        self.counts.frames += 1
        self.counts.bytes += len(frame)

    def end_broken(self) -> None:
        """A 00, to end what a broken line or a spoilt frame may have left at the other end."""
        self._bytes += b"\0"
        self.free_at += 1 / self.rate

    def waits(self) -> float:
        """Seconds of bytes that are not on the line yet."""
        return self.free_at - self._now

    def take(self) -> bytes:
        """What was gathered."""
        out = bytes(self._bytes)
        self._bytes.clear()
        return out
