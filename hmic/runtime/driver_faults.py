"""What a CAN driver raises, in words that a person can act on."""

from __future__ import annotations

import errno
import socket
from collections.abc import Iterator, Mapping

from hmic.runtime.adapters import Adapter

PACKAGES: Mapping[str, str] = {
    "canalystii": "python-can[canalystii]",
    "cantact": "python-can[cantact]",
    "gs_usb": "python-can[gs-usb]",
    "neovi": "python-can[neovi]",
    "nixnet": "python-can[nixnet]",
    "udp_multicast": "python-can[multicast]",
}
"""What brings the interfaces that need a package; others need the driver of the adapter's maker."""

_CHECK = "check that the adapter is plugged in and up, and how it is given to --can"
_GONE = "there is no such device", "plug it in; `ip link` and `ls /dev/tty*` list what is there"
_FOREIGN = "this user may not open it", "`ls -l` on it names its group; join it and log in again"
_FAR = "that host cannot be reached", "check the network and the address"
_SAID: Mapping[int, tuple[str, str]] = {
    errno.ENODEV: _GONE,
    errno.ENOENT: _GONE,
    errno.ENXIO: _GONE,
    errno.EACCES: _FOREIGN,
    errno.EPERM: _FOREIGN,
    errno.EBUSY: ("another program holds it", "end that program; a terminal or a modem manager may be one"),
    errno.ENETDOWN: ("it is down", "sudo ip link set CHANNEL up type can bitrate 500000, the bus's rate"),
    errno.EIO: ("it no longer answers", "plug it in again, and look at its cable"),
    errno.ECONNREFUSED: ("nobody answers at that host and port", "start the server there, and see its port"),
    errno.EHOSTUNREACH: _FAR,
    errno.ENETUNREACH: _FAR,
    errno.ETIMEDOUT: _FAR,
    errno.ENOBUFS: ("it has no room: nobody on the bus takes frames", "check the wiring and the bit rate"),
}
"""What the system says, in our words, and what to do."""


def reason(fault: BaseException) -> str:
    """What a driver raised, in one line of our words; where there are none the driver is quoted."""
    known = _known(fault)
    if known is not None:
        return known[0]
    text = " ".join(str(fault).split())
    return f"its driver says '{text}'" if text else f"its driver fails ({type(fault).__name__})"


def trouble(adapter: Adapter, fault: BaseException) -> tuple[str, str]:
    """Why an adapter cannot be opened, and what to do."""
    kind = adapter.interface
    if any(isinstance(each, ImportError | NotImplementedError) for each in _causes(fault)):
        what = f"what drives adapters of the kind '{kind}' is not installed"
        if kind in PACKAGES:
            return what, f"pip install '{PACKAGES[kind]}'"
        return what, "install the driver that the adapter's maker has for this system"
    known = _known(fault)
    if known is None:
        return reason(fault), _CHECK
    return known[0], known[1].replace("CHANNEL", str(adapter.channel))


def _known(fault: BaseException) -> tuple[str, str] | None:
    for each in _causes(fault):
        number = getattr(each, "errno", None) or getattr(each, "error_code", None)
        if isinstance(number, int) and number in _SAID:
            return _SAID[number]
        if isinstance(each, socket.gaierror):
            return "that host is not known", "check the address"
    return None


def _causes(fault: BaseException) -> Iterator[BaseException]:
    seen: BaseException | None = fault
    while seen is not None:
        yield seen
        seen = seen.__cause__


def from_the_system(fault: BaseException) -> bool:
    """Whether the system refused something (OSError, by itself or as what caused another error): the device
    is gone, or the interface down. Anything else may be about what came."""
    return any(isinstance(each, OSError) for each in _causes(fault))
