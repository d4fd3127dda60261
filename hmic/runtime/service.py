"""What a run does for a service manager and for its logs; see SERVICE.md beside this file."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable, Mapping
from pathlib import Path

from hmic.diagnostics import Finding
from hmic.plain_files import open_to_write

LOG_BYTES = 1 << 20
LOG_FILES = 5


class Watchdog:
    """Tells systemd that the run is ready, lives and ends (sd_notify(3): a datagram to the socket that
    ``NOTIFY_SOCKET`` names). An attendant of the loop: when the loop hangs, nothing is told."""

    def __init__(self, environment: Mapping[str, str]) -> None:
        self._address = environment.get("NOTIFY_SOCKET", "")
        try:
            # A notice every half of the time is what sd_watchdog_enabled(3) asks for.
            self._period = int(environment.get("WATCHDOG_USEC", "0")) / 2e6
        except ValueError:
            self._period = 0.0
        self._next: float | None = None
        if self._address.startswith("@"):
            self._address = "\0" + self._address[1:]

    def turn(self, now: float) -> list[Finding]:
        """READY at the first turn, WATCHDOG when it is due."""
        if self._next is None:
            self._tell("READY=1")
            self._next = now + self._period
        elif self._period > 0 and now >= self._next:
            self._tell("WATCHDOG=1")
            self._next = now + self._period
        return []

    def close(self) -> list[Finding]:
        """STOPPING."""
        self._tell("STOPPING=1")
        return []

    def _tell(self, state: str) -> None:
        if not self._address:
            return
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as line:
                line.setblocking(False)
                line.sendto(state.encode(), self._address)
        except OSError:
            # Nobody listens, or is busy: the next notice comes soon, and without any systemd acts.
            return


def open_log(path: Path, clock: Callable[[], str]) -> Callable[[str], None]:
    """Appends lines with the time before them; at 1 MB the file is set aside as ``.1``, up to ``.5``.

    Raises OSError where it cannot be begun. Later a log that cannot be written is given up line by line,
    never the run.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    os.close(open_to_write(path, os.O_WRONLY | os.O_APPEND, 0o644))

    def write(line: str) -> None:
        data = f"{clock()} {line}\n".encode("utf-8", "backslashreplace")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            if path.exists() and path.stat().st_size + len(data) > LOG_BYTES:
                for number in range(LOG_FILES - 1, 0, -1):
                    older = path.with_name(f"{path.name}.{number}")
                    if older.exists():
                        older.replace(path.with_name(f"{path.name}.{number + 1}"))
                path.replace(path.with_name(f"{path.name}.1"))
            descriptor = open_to_write(path, os.O_WRONLY | os.O_APPEND, 0o644)
            try:
                os.write(descriptor, data)
            finally:
                os.close(descriptor)
        except OSError:
            return

    return write
