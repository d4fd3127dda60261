"""Parameter groups of J1939: which of the design's messages a frame is, or is a part of, whoever sends it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import chain

from hmic.diagnostics import Finding, warning
from hmic.model.j1939 import destination_of, group_of, source_of
from hmic.runtime import transfers
from hmic.runtime.rarely import Rarely
from hmic.runtime.transfers import Transfers
from hmic.runtime.watched import Watched
from hmic.sources.frame import Frame

OTHERS = 100
"""Frames of a group by others than the sender that is meant, after which that is told."""


class Grouped:
    """The messages of a design that come as parameter groups, by bus and group."""

    def __init__(self, messages: Mapping[tuple[str, int], Sequence[Watched]]) -> None:
        self._messages = messages
        self._transfers = {bus: Transfers(self._wants(bus)) for bus in {bus for bus, _ in messages}}
        self._told: dict[tuple[str, int, int], Rarely] = {}
        self._others: dict[int, int] = {}
        self._findings: list[Finding] = []

    def __iter__(self) -> Iterator[tuple[str, Watched]]:
        """Every message, with its bus."""
        return chain.from_iterable(((bus, each) for each in of) for (bus, _), of in self._messages.items())

    def on(self, bus: str) -> bool:
        """Whether any come on a bus."""
        return bus in self._transfers

    def of(self, bus: str) -> frozenset[int]:
        """The groups that are wanted of a bus, with those that bring them in pieces."""
        groups = frozenset(group for of, group in self._messages if of == bus)
        return groups | transfers.GROUPS if groups else groups

    def take(self, frame: Frame) -> tuple[Frame | None, list[Watched]]:
        """The frame, or the one that it completes (None: it is a part of one), and the messages it is of."""
        whole: Frame | None = frame
        if group_of(frame.identifier) in transfers.GROUPS:
            whole = self._transfers[frame.bus].take(frame)
        return whole, [] if whole is None else self._meant(whole)

    def take_findings(self) -> list[Finding]:
        """What a person should know since the last call."""
        findings, self._findings = self._findings, []
        for bus, of_bus in self._transfers.items():
            for (group, source), count in of_bus.broken.items():
                told = self._told.setdefault((bus, group, source), Rarely())
                if count > told.total and told.due(count):
                    findings.append(_broken(self._messages[bus, group][0].name, source, count))
        return findings

    def _wants(self, bus: str) -> Callable[[int, int], bool]:
        def wanted(group: int, source: int) -> bool:
            return any(each.source in (None, source) for each in self._messages.get((bus, group), ()))

        return wanted

    def _meant(self, frame: Frame) -> list[Watched]:
        """The messages of its group that are meant to come from its sender."""
        source, destination = source_of(frame.identifier), destination_of(frame.identifier)
        meant = []
        for message in self._messages.get((frame.bus, group_of(frame.identifier)), ()):
            if message.source in (None, source) and message.destination in (None, destination):
                meant.append(message)
            elif not message.senders and message.source not in (None, source):
                self._by_another(message, source)
        return meant

    def _by_another(self, message: Watched, source: int) -> None:
        """While nothing has come from the sender that is meant."""
        count = self._others[id(message)] = self._others.get(id(message), 0) + 1
        if count == OTHERS:
            text = f"'{message.name}' comes from address 0x{source:02X}, and not from 0x{message.source:02X}"
            remedy = f"write `source address: 0x{source:02X}` if that is the sender which you mean"
            self._findings.append(warning("R773", text, None, remedy))


def sender_of(frame: Frame) -> str:
    """Who sends a frame, and to whom, as a person is told."""
    destination = destination_of(frame.identifier)
    to = "" if destination is None else f" to 0x{destination:02X}"
    return f"0x{source_of(frame.identifier):02X}{to}"


def _broken(name: str, source: int, count: int) -> Finding:
    times = "did not come whole" if count == 1 else f"did not come whole {count} times"
    text = f"the long message '{name}' of address 0x{source:02X} {times}"
    remedy = "its values turn stale meanwhile; is the bus overloaded, or does the adapter lose frames?"
    return warning("R774", text, None, remedy)
