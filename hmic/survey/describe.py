"""Which description explains an identifier: exactly, or by its parameter group where the bus is J1939."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hmic.diagnostics import DesignError, Finding, error
from hmic.model.buses import address
from hmic.model.dbc import left_out, read_database
from hmic.model.dbc_bits import place_of
from hmic.model.dbc_mending import Unreadable
from hmic.model.files import LARGEST
from hmic.model.j1939 import NOBODY, group_of, is_group, said_group, source_of
from hmic.plain_files import read_plain
from hmic.survey.fields import FieldStatistics, TurnStatistics
from hmic.survey.gather import Gathered, Key


@dataclass(frozen=True)
class Described:
    """A message of a description: cantools' own, the file's name, and the bus that it describes, empty for
    any. It is a parameter group of J1939 (``grouped``) as the description says (``said``), or as its
    identifier shows, which no sender can have. ``wire`` is the bus that it is on, where that is another: of a
    shared part."""

    message: Any
    file: str
    bus: str = ""
    said: bool | None = None
    wire: str = ""

    @property
    def grouped(self) -> bool:
        """Whether it is told by its group."""
        by_itself = self.message.is_extended_frame and source_of(self.message.frame_id) in NOBODY
        return is_group(self.said, True if by_itself else None)


class Descriptions:
    """Descriptions in the order given; the first that explains an identifier counts."""

    def __init__(
        self,
        paths: Sequence[Path],
        buses: Sequence[str] = (),
        *,
        absent: Mapping[str, float] | None = None,
        on: Mapping[str, str] | None = None,
        j1939: Mapping[str, bool] | None = None,
    ) -> None:
        """``buses`` are those that the files describe, in their order; one that is empty or lacks stands for
        any. Of a design ``absent`` are values that stand for none, by field as it names it, ``on`` the buses
        that its shared parts are on, and ``j1939`` what it says of the messages of buses. Raises DesignError:
        R701, M263, M218."""
        self._on, self._j1939 = on or {}, j1939 or {}
        self.files: list[str] = []
        self._absent = absent or {}
        self.findings: list[Finding] = []
        self.messages: list[Described] = []
        self._exact: dict[tuple[str, int, bool], Described] = {}
        self._groups: dict[tuple[str, int], Described] = {}
        for at, path in enumerate(paths):
            self._read(path, buses[at] if at < len(buses) else "")

    def _read(self, path: Path, bus: str) -> None:
        name = path.name
        try:
            database, slips = read_database(read_plain(path, LARGEST), name)
        except OSError as fault:
            message = f"'{name}' cannot be opened: {fault.strerror or fault}"
            raise DesignError([error("R701", message, None, "check the path")]) from fault
        except Unreadable as fault:
            place = "" if fault.line is None else f" in line {fault.line}"
            message = f"'{name}' cannot be read{place}: {fault.reason}"
            raise DesignError([error("M263", message, None, "export the file again")]) from fault
        if name not in self.files:
            self.files.append(name)
            self.findings += left_out(slips, name)
        for message in getattr(database, "messages", ()):
            said, wire = said_group(message, database), self._on.get(bus, bus)
            if said is not False and bus in self._j1939:
                said = self._j1939[bus]
            described = Described(message, name, bus, said, wire)
            self.messages.append(described)
            self._exact.setdefault((wire, message.frame_id, message.is_extended_frame), described)
            if message.is_extended_frame:
                self._groups.setdefault((wire, group_of(message.frame_id)), described)

    def unsaid(self) -> list[str]:
        """The buses of which no description says that they speak J1939, though their identifiers show it."""
        return list(dict.fromkeys(each.bus for each in self.messages if each.grouped and each.said is None))

    def of(self, identifier: int, extended: bool, j1939: bool = True, bus: str = "") -> Described | None:
        """What explains an identifier on a bus. With ``j1939`` one of 29 bits may have another priority or
        source than the description gives."""
        found = self._of(bus, identifier, extended, j1939)
        return self._of("", identifier, extended, j1939) if found is None and bus else found

    def _of(self, bus: str, identifier: int, extended: bool, j1939: bool) -> Described | None:
        exact = self._exact.get((bus, identifier, extended))
        if exact is not None or not (extended and j1939):
            return exact
        found = self._groups.get((bus, group_of(identifier)))
        # Groups that everybody may fill as he likes explain nothing.
        return None if found is None or group_of(identifier) in (61184, 60160, 60416) else found

    def begin(self, key: Key) -> Gathered:
        """What gathers an identifier, with the fields that explain it."""
        described = self.of(key[1], key[2], bus=key[0])
        if described is None:
            return Gathered(key)
        signals = described.message.signals
        fields = {signal.name: signal for signal in signals}
        statistics, turns = [], None
        for signal in signals:
            place = place_of(signal, fields)
            if place is None or place.length > 64:
                continue
            labels = {int(raw): str(label) for raw, label in (signal.choices or {}).items()}
            scale, offset = float(signal.scale), float(signal.offset)
            field = address(described.bus, f"{described.message.name}.{signal.name}")
            absent = self._absent.get(field)
            statistics.append(
                FieldStatistics(
                    signal.name,
                    signal.unit or "",
                    place,
                    scale=scale,
                    offset=offset,
                    labels=labels,
                    grouped=described.grouped,
                    absent=absent,
                )
            )
            if signal.is_multiplexer and place.page is None and turns is None:
                turns = TurnStatistics(signal.name, place)
        return Gathered(key, statistics, turns)
