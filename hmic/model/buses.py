"""The CAN buses of a vehicle: `buses:` of design.yaml names them, and `drive/Message.Signal` is on one."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.diagnostics import DesignError, Span, did_you_mean, error
from hmic.model.asked import ASKED


def address(bus: str, what: str) -> str:
    """A message, or a field of one, with the bus that it is on; as a design writes it. A bus without a name
    is the only one."""
    return f"{bus}/{what}" if bus else what


def parted(written: str, buses: Sequence[str] | None, name: str, span: Span) -> tuple[str, str]:
    """The bus that ``written`` names, and what it names on it; ``buses`` are those with a name, and shared
    parts with a slash behind theirs, None where they are not known for an error. Where there is one bus, it
    need not be named. ``name`` is what has the source. Raises DesignError: M296."""
    bus, slash, rest = written.partition("/")
    asked = ASKED.fullmatch(rest) is not None
    if buses is None or bus + slash in buses:
        return (bus, rest) if slash else ("", written)
    buses = [each for each in buses if not each.endswith("/")]
    if not buses and not asked:
        # A message's own name may hold a slash.
        return "", written
    if slash and bus in buses:
        return bus, rest
    if slash:
        message = f"'{name}' names the bus '{bus}', which design.yaml does not have"
        remedy = did_you_mean(bus, buses, "buses") if buses else f"it names no buses: write '{rest}'"
        raise DesignError([error("M296", message, span, remedy)])
    if len(buses) == 1:
        return buses[0], written
    message = f"'{name}' does not say on which bus '{written}' is"
    remedy = "write " + " or ".join(f"'{address(each, written)}'" for each in buses[:3])
    raise DesignError([error("M296", message, span, remedy)])
