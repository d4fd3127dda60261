"""A serial port, or anything else that pyserial opens by URL."""

from __future__ import annotations

import contextlib
import errno
import select
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.diagnostics import DesignError, Finding, error
from hmic.link.any_link import LinkLost

if TYPE_CHECKING:
    import serial

READ_SIZE = 4096


class SerialPort:
    """An open port, 8 data bits, no parity, 1 stop bit. Make it with ``open_port``."""

    def __init__(self, port: serial.SerialBase, name: str) -> None:
        self._port = port
        self._name = name

    def read(self) -> bytes:
        """What has come in. Raises LinkLost when the port has vanished."""
        try:
            return bytes(self._port.read(READ_SIZE))
        except (OSError, TypeError) as reason:
            raise self._lost(reason) from None

    def write(self, data: bytes) -> int:
        """How many bytes the port took. Raises LinkLost when the port has vanished."""
        if not data:
            return 0
        try:
            descriptor = self.descriptor()
            # pyserial spins on a full port even when told not to wait.
            if descriptor is not None and not select.select([], [descriptor], [], 0)[1]:
                return 0
            return int(self._port.write(data) or 0)
        except (OSError, TypeError, ValueError) as reason:
            raise self._lost(reason) from None

    def close(self) -> None:
        """Closes the port."""
        with contextlib.suppress(OSError):
            self._port.close()

    def set_rate(self, baud: int) -> None:
        """Runs at another rate once all that was written has left. Raises LinkLost when the port cannot."""
        try:
            self._port.flush()
            self._port.baudrate = baud
        except (OSError, ValueError, AttributeError) as reason:
            raise self._lost(reason) from None

    def descriptor(self) -> int | None:
        """The port's file descriptor, None for URLs that have none."""
        try:
            return int(self._port.fileno())
        except (OSError, AttributeError, TypeError):
            return None

    def _lost(self, reason: Exception) -> LinkLost:
        # A TypeError is what pyserial gives for a port that was closed under it.
        self.close()
        return LinkLost(f"the port {self._name} is gone")


def open_port(name: str, baud: int) -> SerialPort:
    """Opens a port by its device name or pyserial URL, for this program alone.

    Raises DesignError: W640 no such port, W641 busy, W642 no permission, W643 anything else, such
    as a rate the port cannot do.
    """
    import serial

    try:
        if "://" in name:
            # Some kinds of URL take no write at all when they may not wait.
            port = serial.serial_for_url(name, baudrate=baud, timeout=0, write_timeout=1)
        else:
            port = serial.Serial(name, baudrate=baud, timeout=0, write_timeout=0, exclusive=True)
    except (OSError, ValueError) as reason:
        raise DesignError([_finding(name, baud, reason)]) from None
    return SerialPort(port, name)


def _finding(name: str, baud: int, reason: Exception) -> Finding:
    number = getattr(reason, "errno", None)
    if number == errno.ENOENT:
        return error("W640", f"there is no port {name}", remedy=_known_ports())
    if number in (errno.EBUSY, errno.EAGAIN):
        remedy = "end the other program, or choose another port"
        return error("W641", f"another program uses the port {name}", remedy=remedy)
    if number in (errno.EACCES, errno.EPERM):
        return error("W642", f"you may not use the port {name}", remedy=_permission(name))
    if isinstance(reason, ValueError) and "://" not in name:
        remedy = "choose a common rate such as 115200"
        return error("W643", f"the port {name} cannot run at {baud} Bd", remedy=remedy)
    if number in (errno.ENOTTY, errno.EINVAL, errno.EISDIR) or Path(name).exists():
        return error("W643", f"{name} is not a serial port", remedy=_known_ports())
    message = f"the port {name} cannot be opened"
    return error("W643", message, remedy=f"check the name and that the other end is there; {_known_ports()}")


def _known_ports() -> str:
    from serial.tools import list_ports

    names = sorted(str(port.device) for port in list_ports.comports())
    if not names:
        return "no serial port is plugged in; plug one in, or give the path a display printed"
    return f"ports here: {', '.join(names)}"


def _permission(name: str) -> str:
    try:
        group = Path(name).group()
    except (OSError, KeyError, NotImplementedError):
        return "ask the administrator of this computer for the right to use it"
    return f"join the group '{group}': sudo usermod -aG {group} $USER, then log in again"
