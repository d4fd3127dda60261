"""CAN frames to readings of the design's signals, by the rules of its DBC."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from hmic.diagnostics import Finding, warning
from hmic.model.dbc_bits import Lack, of_bits, raw_value
from hmic.model.expressions import Doubt, Scalar
from hmic.model.j1939 import group_of
from hmic.runtime.grouped import Grouped, sender_of
from hmic.runtime.tables import ReceivedMessage
from hmic.runtime.taking import MOST_KNOWN, Lacking, Page, Taking, taking_of
from hmic.runtime.wanted import Wanted
from hmic.runtime.watched import Field, Watched, watched
from hmic.sources.frame import Frame


class Reading(NamedTuple):
    """One value of a signal, in its declared unit. ``element`` counts from 0 in an array. A sender
    that says "not available" gives ``Doubt.UNSEEN``, a raw value without meaning
    ``Doubt.OUT_OF_RANGE``."""

    name: str
    element: int | None
    value: Scalar | Doubt


class Arrival(NamedTuple):
    """What one frame or line brought, at vehicle time ``at`` in seconds. ``frame`` is the frame, where
    it was one."""

    at: float
    readings: tuple[Reading, ...]
    frame: Frame | None = None


Key = tuple[str, int, bool]
"""A message on the line: its bus, its identifier, and whether that is an extended one."""


Overhear = Callable[[Frame], "tuple[Reading, ...]"]
"""What a frame of no message of the design brings all the same."""


class Decoder:
    """Decodes the frames that the design's signals come from, each by the description of its bus; others
    give no readings, nor do those whose counter stands still or whose checksum is wrong, nor those of a
    message that has come by two channels, or of a parameter group that has come from two senders: nothing
    says which of them is the one that is meant.

    Every field is taken by itself, so that one that cannot be decoded costs itself alone."""

    def __init__(
        self,
        messages: Mapping[Key, Watched],
        overheard: Mapping[str, Overhear] | None = None,
        grouped: Grouped | None = None,
    ) -> None:
        """``overheard`` takes, by bus, values out of the answers to somebody else's questions."""
        self._messages = messages
        self._overheard = overheard or {}
        self._grouped = Grouped({}) if grouped is None else grouped
        self._known: set[str] = set()
        self._unknown: dict[str, int] = {}
        self._findings: list[Finding] = []
        self._refused: list[Reading] = []

    def wanted(self, bus: str = "") -> Wanted:
        """The frames of a bus that concern the design."""
        identifiers = frozenset((number, extended) for of, number, extended in self._messages if of == bus)
        return Wanted(identifiers, self._grouped.of(bus))

    @property
    def undecoded(self) -> int:
        """Frames that lacked a value which they should have brought."""
        return sum(message.undecoded for _, message in self._all())

    def _all(self) -> list[tuple[str, Watched]]:
        """Every message, with its bus."""
        return [*((key[0], message) for key, message in self._messages.items()), *self._grouped]

    def health(self, bus: str | None = None) -> str:
        """What cannot be used, by message, of a bus or of all; nothing when all is well."""
        told = [message.trouble for of, message in self._all() if bus in (None, of) and message.trouble]
        return ", ".join(told[:3]) + (f" and {len(told) - 3} more" if len(told) > 3 else "")

    def take_findings(self) -> list[Finding]:
        """What a person should know of since the last call."""
        findings, self._findings = [*self._findings, *self._grouped.take_findings()], []
        for _, message in self._all():
            if message.guard is not None:
                findings += message.guard.take_findings()
        return findings

    def refused(self, at: float) -> tuple[Arrival, ...]:
        """Since the last call a message has come by a second channel or from a second sender: its values, in
        doubt from ``at`` on, whichever of the two they came by so far."""
        readings, self._refused = tuple(self._refused), []
        return (Arrival(at, readings),) if readings else ()

    def readings(self, frame: Frame) -> tuple[Reading, ...]:
        """The readings of a frame, in the order of the design's signals; empty if it concerns none
        of them or may not be used."""
        return self.decoded(frame)[0]

    def decoded(self, frame: Frame) -> tuple[tuple[Reading, ...], Frame]:
        """The readings of a frame, and the frame that holds them all: the one given, or what it completes."""
        bus = frame.bus
        message = self._messages.get((bus, frame.identifier, frame.extended))
        if message is not None:
            if bus not in self._known:
                self._known.add(bus)
            return self._of_message(message, frame), frame
        if frame.extended and self._grouped.on(bus):
            whole, messages = self._grouped.take(frame)
            if whole is None:
                return (), frame
            if messages:
                self._known.add(bus)
                return tuple(each for one in messages for each in self._of_message(one, whole)), whole
        overhear = self._overheard.get(bus)
        if overhear is not None and (answers := overhear(frame)):
            self._known.add(bus)
            return answers, frame
        self._unknown[bus] = self._unknown.get(bus, 0) + 1
        return (), frame

    def _of_message(self, message: Watched, frame: Frame) -> tuple[Reading, ...]:
        usual = len(message.channels) == 1 and frame.channel in message.channels
        if not usual and not self._by_one_channel(message, frame):
            return ()
        if message.grouped and not self._by_one_sender(message, frame):
            return ()
        data = frame.data
        if message.guard is not None:
            counter = raw_value(message.counter, data)
            now = None if isinstance(counter, Lack) else counter
            if not message.guard.passes(frame.identifier, data, now):
                return ()
        size = len(data)
        taking = message.takings.get(size, _NOT_YET)
        if taking is _NOT_YET:
            taking = message.takings[size] = taking_of(message.fields, size)
        readings, lacking = _singly(message, data) if taking is None else _taken(taking, data)
        if lacking is not None:
            self._undecoded(message, frame, *lacking)
        return readings

    def unmet(self, name: str) -> list[Finding]:
        """The buses of which no frame so far was of a message of the design, of the log ``name``."""
        return [
            warning(
                "R711",
                f"none of the {count} frames of '{name}'{f' on {bus}' if bus else ''} is of a message of the "
                "design",
                None,
                "check that the log and the DBC belong together",
            )
            for bus, count in self._unknown.items()
            if bus not in self._known
        ]

    def _by_one_channel(self, message: Watched, frame: Frame) -> bool:
        return self._one(message, message.channels, frame.channel, _two_channels)

    def _by_one_sender(self, message: Watched, frame: Frame) -> bool:
        return self._one(message, message.senders, sender_of(frame), _two_senders)

    def _one(
        self, message: Watched, ways: set[str], way: str | None, told: Callable[[Watched], Finding]
    ) -> bool:
        """Whether a message has come by one way alone; the second puts all that it brings in doubt."""
        if way is not None and way not in ways and len(ways) < 2:
            ways.add(way)
            if len(ways) > 1:
                self._findings.append(told(message))
                self._refused += [Reading(each.name, each.element, Doubt.STALE) for each in message.fields]
        return len(ways) < 2

    def _undecoded(self, message: Watched, frame: Frame, field: Field, lack: Lack) -> None:
        message.undecoded += 1
        count = message.undecoded
        # The first, then ever more rarely: a sender that is wrong is wrong in every frame.
        if count not in (1, 10, 100, 1000) and count % 10_000:
            return
        frames = "a frame" if count == 1 else f"{count} frames"
        said = f"{lack.value}; the last: {len(frame.data)} bytes"
        text = f"{frames} of '{message.name}' without '{field.source}' ({said})"
        remedy = f"'{field.name}' turns stale; hold the DBC's lines of this message against its sender"
        self._findings.append(warning("R718", text, None, remedy))


_NOT_YET = Taking(Page((), None))
"""Of a length that did not come before."""


def _taken(taking: Taking, data: bytes) -> tuple[tuple[Reading, ...], Lacking | None]:
    """What a frame brings. A value that came before is what it was then: most of them are."""
    little = int.from_bytes(data, "little")
    big = int.from_bytes(data, "big") if taking.big else 0
    page = taking.always
    selector = taking.selector
    if selector is not None:
        chosen = (big if selector.big else little) >> selector.shift & selector.mask
        page = taking.pages.get(chosen, taking.others)
    readings: list[Reading] = []
    for field, highest_first, shift, mask, known in page.taken:
        bits = (big if highest_first else little) >> shift & mask
        reading = known.get(bits)
        if reading is None:
            assert field.place is not None
            if len(known) >= MOST_KNOWN:
                known.clear()
            value = field.convert(of_bits(field.place, bits))
            reading = known[bits] = Reading(field.name, field.element, value)
        readings.append(reading)
    return tuple(readings), page.lacking


def _singly(message: Watched, data: bytes) -> tuple[tuple[Reading, ...], Lacking | None]:
    """The same of a message whose fields are selected in more than one way, field by field."""
    readings: list[Reading] = []
    lacking: Lacking | None = None
    for field in message.fields:
        raw = raw_value(field.place, data)
        if not isinstance(raw, Lack):
            readings.append(Reading(field.name, field.element, field.convert(raw)))
        elif raw is not Lack.OTHER_PAGE and lacking is None:
            lacking = field, raw
    return tuple(readings), lacking


def _two_channels(message: Watched) -> Finding:
    ways = " and ".join(f"'{channel}'" for channel in sorted(message.channels))
    text = f"message '{message.name}' comes from {ways}: its values are not used"
    remedy = (
        "name the buses in design.yaml (`buses:`), or give the right one only: a single --can, "
        f"or --replay 'LOG#{min(message.channels)}'"
    )
    return warning("R717", text, None, remedy)


def _two_senders(message: Watched) -> Finding:
    ways = " and from ".join(sorted(message.senders))
    text = f"message '{message.name}' comes from address {ways}: its values are not used"
    first = min(message.senders)[:4]
    remedy = f"say beside `from` in signals.yaml which one is meant: `source address: {first}`"
    if message.source is not None:
        remedy = "say beside `from` in signals.yaml which one is meant: `destination address: 0x..`"
    return warning("R772", text, None, remedy)


def decoder_of(
    messages: Iterable[ReceivedMessage], overheard: Mapping[str, Overhear] | None = None
) -> Decoder:
    """The decoder of messages by their tables."""
    entries: dict[Key, Watched] = {}
    groups: dict[tuple[str, int], list[Watched]] = {}
    for message in messages:
        if message.grouped:
            groups.setdefault((message.bus, group_of(message.identifier)), []).append(watched(message))
        else:
            entries[message.bus, message.identifier, message.extended] = watched(message)
    return Decoder(entries, overheard, Grouped(groups))
