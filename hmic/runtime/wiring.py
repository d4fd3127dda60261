"""What brings which bus of a design: `--can drive=can1`, `--replay drive=trip.blf#can1`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.model.design import Design

NONE = "none"
"""In place of what brings a bus: it is not connected this time."""
_BUS = re.compile(r"([a-z][a-z0-9_]*)=(.+)", re.DOTALL)


@dataclass(frozen=True)
class Wire:
    """``what`` (a channel, or a log and what is taken of it) brings ``bus``; a design that names no bus has
    one without a name."""

    bus: str
    what: str


def wires(design: Design, given: Sequence[str], option: str) -> list[Wire]:
    """The wires that were given to an option of the command, in that order. Each bus that the design takes
    something from has one, or is said to have none. Raises DesignError: R763 to R766."""
    found = told_apart(design.wired, given, option)
    lacking = sorted(_used(design) - {wire.bus for wire in found})
    if lacking:
        sort = "CHANNEL" if option == "--can" else "LOG"
        message = f"nothing is given for the bus {' and '.join(repr(bus) for bus in lacking)}"
        remedy = f"add {option} {lacking[0]}={sort}, or {option} {lacking[0]}={NONE} where it is not there"
        raise DesignError([error("R766", message, None, remedy)])
    return [wire for wire in found if wire.what != NONE]


def told_apart(buses: Sequence[str], given: Sequence[str], option: str) -> list[Wire]:
    """The wires that were given, of buses by name; where there is one bus, it need not be named and may have
    several. Raises DesignError: R763 to R765."""
    names = [bus for bus in buses if bus]
    found = [_wire(names, text, option) for text in given]
    _each_once(found, option)
    return found


def named(text: str) -> tuple[str, str]:
    """The bus that ``BUS=WHAT`` names, or nothing, and what it is; a file's whole name counts as one."""
    said = _BUS.fullmatch(text)
    return ("", text) if said is None or _is_there(text) else (said[1], said[2])


def part_of(what: str) -> tuple[Path, str | None]:
    """A log, and the channel that is taken of it: ``trip.blf#can1``. A file's whole name counts as one."""
    path, mark, channel = what.rpartition("#")
    return (Path(what), None) if not mark or not channel or _is_there(what) else (Path(path), channel)


def _wire(names: Sequence[str], text: str, option: str) -> Wire:
    bus, what = named(text)
    if bus and bus not in names:
        message = f"{option} names the bus '{bus}', which design.yaml does not have"
        remedy = did_you_mean(bus, names, "buses")
        if not names:
            remedy = f"it names no buses: write {option} {what}, or `buses:` in design.yaml"
        raise DesignError([error("R763", message, None, remedy)])
    if not bus and len(names) > 1:
        message = f"{option} {text} does not say which bus it is"
        remedy = "write " + " or ".join(f"{option} {bus}={text}" for bus in names[:3])
        raise DesignError([error("R764", message, None, remedy)])
    return Wire(bus or (names[0] if names else ""), what)


def _is_there(text: str) -> bool:
    """Whether a file is called so."""
    try:
        return Path(text).exists()
    except (OSError, ValueError):
        return False


def _each_once(found: Sequence[Wire], option: str) -> None:
    buses = [wire.bus for wire in found]
    whats = [wire.what for wire in found if wire.what != NONE]
    for wire in found:
        several = len(set(buses)) > 1 and buses.count(wire.bus) > 1
        if several or whats.count(wire.what) > 1:
            what = f"the bus '{wire.bus}'" if several else f"'{wire.what}'"
            remedy = f"give {option} once for each bus, each with a source of its own"
            raise DesignError([error("R765", f"{what} is given twice to {option}", None, remedy)])


def _used(design: Design) -> set[str]:
    """The buses by name that signals come from or outputs go to."""
    signals = design.signals.values()
    used = {design.wire(each.source.bus) for each in signals if each.source is not None}
    used |= {each.asked.bus for each in signals if each.asked is not None}
    used |= {design.wire(each.bus) for each in design.outputs.values()}
    # A bus without a name is the only one, and need not be there: values may come from the pipe alone.
    return used - {""} if len(design.wired) > 1 else set()
