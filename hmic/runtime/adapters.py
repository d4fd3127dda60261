"""How python-can's interfaces are opened, and what they differ in, by the sources of python-can 4.6."""

from __future__ import annotations

import select
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from hmic.sources.library import python_can

KEEP_NOTHING = frozenset({"robotell", "seeedstudio", "serial", "slcan", "socketcan"})
"""Interfaces that hold no frame back: what their descriptor does not announce is not there."""

Identity = tuple[int, bool]
"""A frame's identifier, and whether it is an extended one."""


@dataclass(frozen=True)
class Adapter:
    """A CAN channel as the command line names it."""

    channel: str
    interface: str

    def open(self) -> Any:
        """The python-can bus. It may take seconds. Interfaces raise CanError, OSError, ImportError,
        ValueError and what their drivers raise."""
        return python_can().Bus(channel=self.channel, interface=self.interface)

    def emptiness(self, bus: Any) -> Callable[[bool], bool]:
        """A function that says whether nothing was left to read in an open bus. It is told whether the
        read before found nothing.

        An interface's word for that is not enough where it may be about a line that is no frame, and not
        to be had where every read waits for one.
        """
        if self.interface not in KEEP_NOTHING:
            return lambda found_nothing: found_nothing
        try:
            descriptor = bus.fileno()
        except Exception:
            # Not on this system.
            return lambda found_nothing: found_nothing
        return lambda found_nothing: not select.select([descriptor], [], [], 0.0)[0]


def skip_line(bus: Any) -> None:
    """After a line that was no frame: ``slcan`` keeps a line that is no text, and would add all that
    follow to it."""
    flush = getattr(bus, "flush", None)
    if flush is not None:
        flush()


def reason(fault: BaseException) -> str:
    """What a driver raised, in one line."""
    return " ".join(str(fault).split()) or type(fault).__name__


def from_the_system(fault: BaseException) -> bool:
    """Whether the system refused something (OSError, by itself or as what caused another error): the device
    is gone, or the interface down. Anything else may be about what came."""
    seen: BaseException | None = fault
    while seen is not None:
        if isinstance(seen, OSError):
            return True
        seen = seen.__cause__
    return False
