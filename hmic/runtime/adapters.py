"""How python-can's interfaces are opened, and what they differ in, by the sources of python-can 4.6."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from hmic.diagnostics import Finding, Severity
from hmic.model.j1939 import identifier_mask
from hmic.runtime.read_ahead import ReadAhead
from hmic.runtime.wanted import Wanted
from hmic.sources.library import python_can

PORTS: Mapping[str, str] = {
    "robotell": "serialPortOrig",
    "seeedstudio": "ser",
    "serial": "_ser",
    "slcan": "serialPortOrig",
}
"""Where the buses of serial adapters have their pyserial port. They hold no frame back: what does not wait in
the port is not there."""

LISTEN_ONLY: Mapping[str, tuple[str, Any]] = {
    "cantact": ("monitor", True),
    "kvaser": ("driver_mode", False),
    "nixnet": ("listen_only", True),
    "pcan": ("state", "PASSIVE"),
    "seeedstudio": ("operation_mode", "silent"),
    "slcan": ("listen_only", True),
    "systec": ("state", "PASSIVE"),
    "vector": ("listen_only", True),
}
"""The argument by which an interface is told only to listen: its controller then sends nothing at all, not
even the bit by which a frame is acknowledged, or the flag of an error, with which a controller at a wrong bit
rate destroys what others say (ISO 11898-1, bus monitoring mode). ``state`` is one of ``can.BusState``."""

NO_BUS = frozenset({"udp_multicast", "virtual"})
"""Interfaces without a controller."""

KERNEL_FILTERS = 512
"""Filters that a socket of Linux takes (CAN_RAW_FILTER_MAX)."""

STANDARD, EXTENDED = 0x7FF, 0x1FFF_FFFF
"""All bits of an identifier."""

@dataclass(frozen=True)
class Adapter:
    """A CAN channel of python-can with further ``settings`` of its interface; ``said`` is how a person knows
    it. With ``only_listen`` it is asked to send nothing at all."""

    channel: Any
    interface: str
    only_listen: bool = False
    settings: tuple[tuple[str, Any], ...] = ()
    said: str = ""

    @property
    def name(self) -> str:
        """How it is called to a person."""
        return self.said or str(self.channel)

    def open(self, wanted: Wanted) -> Any:
        """The python-can bus; it may hand over frames that are not ``wanted``. It may take seconds.
        Interfaces raise CanError, OSError, ImportError, ValueError and what their drivers raise."""
        given = {**self._settings(), **self._filters(wanted), **self._silence()}
        bus = python_can().Bus(channel=self.channel, interface=self.interface, **given)
        port = getattr(bus, PORTS["slcan"], None)
        if self.interface == "slcan" and port is not None:
            setattr(bus, PORTS["slcan"], ReadAhead(port))
        return bus

    def _settings(self) -> dict[str, Any]:
        given = dict(self.settings)
        if self.interface != "pcan" or not given.pop("fd", False):
            return given
        # It takes the two rates of CAN FD as timings of its 80 MHz clock; the sample points are common
        # practice, no source.
        timing = python_can().BitTimingFd.from_sample_point(
            f_clock=80_000_000,
            nom_bitrate=given.pop("bitrate"),
            nom_sample_point=80.0,
            data_bitrate=given.pop("data_bitrate"),
            data_sample_point=80.0,
        )
        return {**given, "timing": timing}

    def _filters(self, wanted: Wanted) -> dict[str, Any]:
        # Elsewhere python-can goes through the list itself for each frame (40 identifiers cost 10 us), and
        # says that nothing came when it was an unwanted one.
        if self.interface != "socketcan" or not 0 < len(wanted) <= KERNEL_FILTERS:
            return {}
        filters = [
            {"can_id": number, "can_mask": EXTENDED if extended else STANDARD, "extended": extended}
            for number, extended in sorted(wanted.identifiers)
        ]
        filters += [
            {"can_id": group << 8, "can_mask": identifier_mask(group), "extended": True}
            for group in sorted(wanted.groups)
        ]
        return {"can_filters": filters}

    def _silence(self) -> dict[str, Any]:
        if not self.only_listen or self.interface not in LISTEN_ONLY:
            return {}
        name, value = LISTEN_ONLY[self.interface]
        return {name: python_can().BusState[value] if name == "state" else value}

    def notes(self) -> list[Finding]:
        """What a person should know before it is opened."""
        if not self.only_listen or self.interface in LISTEN_ONLY or self.interface in NO_BUS:
            return []
        message = (
            f"CAN channel '{self.name}' ({self.interface}) cannot be told from here only to listen: at a "
            "wrong bit rate it would disturb the bus"
        )
        remedy = "set the adapter to listen only by its own means, and be sure of the bit rate"
        if self.interface == "socketcan":
            link = f"sudo ip link set {self.channel}"
            remedy = f"unless it is so already: {link} down; {link} type can listen-only on; {link} up"
        return [Finding("R726", Severity.NOTE, message, remedy=remedy)]

    def controller(self, bus: Any) -> str:
        """What its controller says: ``active`` when all is well."""
        try:
            state = str(bus.state.name).lower()
        except Exception:
            # Few interfaces know their controller's state.
            return "active"
        told_to = self.only_listen and LISTEN_ONLY.get(self.interface, ("", ""))[0] == "state"
        return "active" if told_to and state == "passive" else state

    def emptiness(self, bus: Any) -> Callable[[bool], bool]:
        """A function that says whether nothing was left to read in an open bus. It is told whether the
        read before found nothing.

        An interface's word for that is not enough where it may be about a line that is no frame, and not
        to be had where every read waits for one.
        """
        port = getattr(bus, PORTS.get(self.interface, ""), None)
        if port is None:
            return lambda found_nothing: found_nothing
        return lambda found_nothing: not port.in_waiting


def skip_line(bus: Any) -> None:
    """After a line that was no frame: ``slcan`` keeps one that is no text, and would add all that follow to
    it."""
    flush = getattr(bus, "flush", None)
    if flush is not None:
        flush()
