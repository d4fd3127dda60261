"""How a CAN adapter is said: ``slcan:/dev/ttyACM0@500000``, by the form that CHANNELS.md describes, and what
python-can's interfaces are told for it (by the sources of python-can 4.6)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.runtime.adapters import Adapter

FASTEST, FASTEST_DATA = 1_000_000, 8_000_000
"""Bits a second of classic CAN (ISO 11898-2), and of the data of CAN FD in the fastest transceivers."""


@dataclass(frozen=True)
class Kind:
    """A kind of adapter: an example of its device, and what python-can calls its settings. ``rate``: the bit
    rate, empty where it is set elsewhere; ``line``: the rate of a serial port; ``fd``: CAN FD and the rate of
    its data, empty where it has none. ``numbered``: its devices are numbers."""

    device: str
    rate: str = "bitrate"
    line: str = ""
    fd: tuple[str, str] = ("", "")
    numbered: bool = False


_FD = ("fd", "data_bitrate")
KINDS: Mapping[str, Kind] = {
    "canalystii": Kind("0", numbered=True),
    "cantact": Kind("0", numbered=True),
    "gs_usb": Kind("0", numbered=True),
    "ixxat": Kind("0", fd=_FD, numbered=True),
    "kvaser": Kind("0", fd=_FD, numbered=True),
    "neovi": Kind("1", fd=_FD, numbered=True),
    "nixnet": Kind("CAN1", fd=("fd", "fd_bitrate")),
    "pcan": Kind("PCAN_USBBUS1", fd=_FD),
    "robotell": Kind("/dev/ttyUSB0", line="ttyBaudrate"),
    "seeedstudio": Kind("/dev/ttyUSB0", line="baudrate"),
    "serial": Kind("/dev/ttyUSB0", rate="", line="baudrate"),
    "slcan": Kind("/dev/ttyACM0", line="tty_baudrate"),
    "socketcan": Kind("can0", rate="", fd=("fd", "")),
    "socketcand": Kind("192.168.4.1:29536/can0", rate=""),
    "systec": Kind("0", numbered=True),
    "udp_multicast": Kind("239.74.163.2:43113", rate=""),
    "vector": Kind("0", fd=_FD, numbered=True),
    "virtual": Kind("bench", rate=""),
}
_FORM = re.compile(r"(?P<device>.+?)(?:@(?P<rate>\d+)(?:/(?P<data>\d+))?)?(?P<options>(?:,[a-z]+(?:=\w*)?)*)")
_HOST = re.compile(r"(?P<host>\[[^\]]+\]|[^:/\[\]]+):(?P<port>\d{1,5})(?:/(?P<channel>.+))?")


def adapter_of(said: str, only_listen: bool, name: str = "") -> Adapter:
    """The adapter that ``said`` names, ``KIND:DEVICE[@RATE[/DATA RATE]][,OPTION...]``; without a kind it is
    an interface of the system (``can0``). ``name`` is how a person knows it. Raises DesignError: R770."""
    head, colon, rest = said.partition(":")
    kind, rest = (head, rest) if colon else ("socketcan", said)
    if kind not in KINDS:
        raise _unfit(said, f"no kind of adapter is called '{kind}'", did_you_mean(kind, KINDS, "kinds"))
    found = _FORM.fullmatch(rest)
    if found is None:
        raise _unfit(said, "it names no device", f"write {kind}:{KINDS[kind].device}")
    settings = _rates(said, kind, found)
    settings |= _options(said, kind, found["options"], settings)
    channel, place = _place(said, kind, found["device"])
    return Adapter(channel, kind, only_listen, tuple((settings | place).items()), name or said)


def _rates(said: str, kind: str, found: re.Match[str]) -> dict[str, Any]:
    of, device = KINDS[kind], found["device"]
    rate, data = (int(found[key]) if found[key] else None for key in ("rate", "data"))
    if rate is not None and not of.rate:
        elsewhere = "at its other end"
        if kind == "socketcan":
            elsewhere = f"by the system: sudo ip link set {device} type can bitrate {rate}"
        elif kind == "virtual":
            elsewhere = "nowhere: there is no line"
        remedy = f"leave it out; it is set {elsewhere}"
        raise _unfit(said, f"the bit rate of '{kind}' is not set from here", remedy)
    if rate is None and of.rate:
        remedy = f"write {kind}:{device}@500000 with the rate of the bus: at a wrong one nothing is heard"
        raise _unfit(said, "it does not say its bit rate", remedy)
    if data is not None and not of.fd[1]:
        raise _unfit(said, f"'{kind}' takes no rate of data", f"leave /{data} out")
    if not 1 <= (rate or 1) <= FASTEST or not 1 <= (data or 1) <= FASTEST_DATA or 0 in (rate, data):
        remedy = f"write bits a second, at most {FASTEST}, and after '/' at most {FASTEST_DATA} of data"
        raise _unfit(said, "no bus is as fast as that", remedy)
    settings: dict[str, Any] = {} if rate is None else {of.rate: rate}
    return settings if data is None else settings | {of.fd[0]: True, of.fd[1]: data}


def _options(said: str, kind: str, text: str, settings: Mapping[str, Any]) -> dict[str, Any]:
    of = KINDS[kind]
    result: dict[str, Any] = {}
    known = [*(["fd"] if of.fd[0] else []), *(["baud=115200"] if of.line else [])]
    for option in text.split(",")[1:]:
        key, _, value = option.partition("=")
        if option == "fd" and of.fd[0]:
            if of.fd[1] and of.fd[1] not in settings:
                raise _unfit(said, "CAN FD has two rates", f"write both: {kind}:{of.device}@500000/2000000")
            result[of.fd[0]] = True
        elif key == "baud" and of.line and value.isdecimal() and 0 < int(value) <= 10_000_000:
            result[of.line] = int(value)
        else:
            remedy = f"'{kind}' takes {' and '.join(known)}" if known else f"'{kind}' takes none"
            raise _unfit(said, f"'{option}' is no option of it", remedy)
    return result


def _place(said: str, kind: str, device: str) -> tuple[Any, dict[str, Any]]:
    """The channel, and the host and port of kinds that lie behind a network."""
    if KINDS[kind].numbered:
        if not device.isdecimal() or len(device) > 4:
            raise _unfit(said, f"the devices of '{kind}' are numbers", f"write {kind}:0 for the first")
        return int(device), {}
    if kind not in ("socketcand", "udp_multicast"):
        return device, {}
    found = _HOST.fullmatch(device)
    behind = kind == "socketcand"
    if found is None or (found["channel"] is not None) is not behind or int(found["port"]) > 65535:
        what = "a host, a port and a channel" if behind else "a group and a port"
        raise _unfit(said, f"'{kind}' needs {what}", f"write {kind}:{KINDS[kind].device}")
    host, port = found["host"].strip("[]"), int(found["port"])
    return (found["channel"], {"host": host, "port": port}) if behind else (host, {"port": port})


def _unfit(said: str, why: str, remedy: str) -> DesignError:
    return DesignError([error("R770", f"the CAN channel '{said}' cannot be used: {why}", None, remedy)])
