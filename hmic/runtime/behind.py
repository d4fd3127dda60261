"""Work that may take long, done in a thread behind the loop: a disk that takes seconds for one write (a worn
memory card does), or a CAN driver that does not return from sending, must not hold up the display."""

from __future__ import annotations

import os
from collections.abc import Callable
from threading import Thread

AT_END = 10.0
"""Seconds that the end of a run waits for the disk."""


class Behind:
    """Does one piece of work at a time; what fails with an OSError is told by ``take_fault``."""

    def __init__(self) -> None:
        self._thread: Thread | None = None
        self._fault: OSError | None = None

    @property
    def busy(self) -> bool:
        """Whether the piece before is still at work."""
        return self._thread is not None and self._thread.is_alive()

    def begin(self, work: Callable[[], None]) -> None:
        """Begins a piece of work; only when not ``busy``."""

        def run() -> None:
            try:
                work()
            except OSError as fault:
                self._fault = fault

        self._thread = Thread(target=run, name="behind", daemon=True)
        try:
            self._thread.start()
        except RuntimeError:
            # No thread is to be had; it is done here.
            self._thread = None
            run()

    def take_fault(self) -> OSError | None:
        """Why the last piece failed, once; None while it is at work."""
        if self.busy:
            return None
        fault, self._fault = self._fault, None
        return fault

    def wait(self, seconds: float = AT_END) -> None:
        """Waits for the piece at work, but not for ever."""
        if self._thread is not None:
            self._thread.join(seconds)


def to_disk(descriptor: int) -> Callable[[], None]:
    """The work that brings what was written to a file onto its disk, even if the file is closed
    meanwhile. Raises OSError."""
    own = os.dup(descriptor)

    def work() -> None:
        try:
            os.fsync(own)
        finally:
            os.close(own)

    return work
