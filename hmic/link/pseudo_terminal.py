"""The display's end of a pseudo terminal: a serial line between two programs of one computer."""

from __future__ import annotations

import os

from hmic.diagnostics import DesignError, error
from hmic.link.any_link import LinkLost

READ_SIZE = 65536


class PseudoTerminal:
    """An open pseudo terminal. ``path`` is what the other program opens as its port.

    The other program may come, go and come again. What nobody reads is dropped, oldest first, as
    on a wire. Raises DesignError (W644) where the system has no pseudo terminals.
    """

    def __init__(self) -> None:
        try:
            import tty

            self._own, self._other = os.openpty()
            tty.setraw(self._other)
            self.path = os.ttyname(self._other)
        except (OSError, ImportError, AttributeError):
            message = "this system gives no pseudo terminal"
            raise DesignError([error("W644", message, remedy="use a serial port with --port")]) from None
        os.set_blocking(self._own, False)
        self._open = True

    def read(self) -> bytes:
        """What the other program has written."""
        self._check()
        try:
            return os.read(self._own, READ_SIZE)
        except BlockingIOError:
            return b""
        except OSError:
            raise LinkLost("the pseudo terminal is gone") from None

    def write(self, data: bytes) -> int:
        """Takes bytes for the other program; at most what the terminal's buffer holds."""
        import termios

        self._check()
        if not data:
            return 0
        for again in (True, False):
            try:
                return os.write(self._own, data)
            except BlockingIOError:
                if again:
                    # Nobody reads: drop what waits, so that a newcomer does not get old bytes.
                    termios.tcflush(self._other, termios.TCIFLUSH)
            except OSError:
                raise LinkLost("the pseudo terminal is gone") from None
        return 0

    def close(self) -> None:
        """Closes both ends."""
        if self._open:
            self._open = False
            os.close(self._own)
            # Held open until now: without it the line would hang up whenever the other end closes.
            os.close(self._other)

    def set_rate(self, baud: int) -> None:
        """Nothing: it has no rate."""

    def descriptor(self) -> int | None:
        """The descriptor to wait on."""
        return self._own if self._open else None

    def _check(self) -> None:
        if not self._open:
            raise LinkLost("the pseudo terminal was closed")
