"""The one shape of all links: bytes in, bytes out, never waiting."""

from __future__ import annotations

from typing import Protocol


class LinkLost(Exception):
    """The other end, or the port itself, is gone. ``reason`` is a sentence for a person."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class Link(Protocol):
    """A line of bytes. No call waits; all raise LinkLost once the line is gone."""

    def read(self) -> bytes:
        """What has come in since the last call, perhaps nothing."""

    def write(self, data: bytes) -> int:
        """Takes as many bytes as the line can hold now and says how many."""

    def close(self) -> None:
        """Lets go of the line. May be called again."""

    def set_rate(self, baud: int) -> None:
        """Runs at another rate once all that was written has left."""

    def descriptor(self) -> int | None:
        """A file descriptor to wait on for input, None where there is none."""
