"""Identifiers that two descriptions of one bus have: its own and that of a shared part, or of two parts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from hmic.diagnostics import Finding, Severity, Span
from hmic.model.buses import address
from hmic.model.dbc import EXTENDED
from hmic.model.dbc_check import BusFacts
from hmic.model.signals_file import SignalsFile


def check_identifiers(
    described: Sequence[BusFacts], on: Mapping[str, str], read: SignalsFile
) -> Iterator[Finding]:
    """A frame has one meaning: an error where the design takes it in both, a warning where one of the two is
    only described. ``on`` maps shared parts to their buses."""
    taken = _taken(read)
    first: dict[tuple[str, int], tuple[BusFacts, str]] = {}
    for bus in described:
        for message, fields in bus.facts.items():
            frames = {field.frame for field in fields.values() if field.lost is None}
            for frame in frames:
                other = first.setdefault((on.get(bus.name, bus.name), frame), (bus, message))
                if other[0] is not bus:
                    yield from _told(frame, other, (bus, message), taken)


def _taken(read: SignalsFile) -> dict[str, Span]:
    """The first place of the design that takes something of a message, by address."""
    taken: dict[str, Span] = {}
    for signal in read.signals.values():
        if signal.source is not None:
            taken.setdefault(address(signal.source.bus, signal.source.message), signal.span)
    for output in read.outputs.values():
        if output.message:
            taken.setdefault(address(output.bus, output.message), output.span)
    return taken


def _told(
    frame: int, one: tuple[BusFacts, str], other: tuple[BusFacts, str], taken: Mapping[str, Span]
) -> Iterator[Finding]:
    spans = [taken[at] for at in (address(bus.name, name) for bus, name in (one, other)) if at in taken]
    if not spans:
        return
    number = f"{frame & ~EXTENDED:08X}" if frame & EXTENDED else f"{frame:03X}"
    said = [f"'{address(bus.name, name)}' by '{bus.file}'" for bus, name in (one, other)]
    text = f"identifier {number} is {said[0]}, and {said[1]}"
    remedy = "take the one out of its DBC that is not in this vehicle: no identifier can have two senders"
    both = len(spans) == 2
    if not both:
        text += "; the design takes only one of them"
    severity = Severity.ERROR if both else Severity.WARNING
    yield Finding("M306", severity, text, spans[0], remedy, also=tuple(spans[1:]))
