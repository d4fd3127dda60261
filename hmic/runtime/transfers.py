"""Messages of more than 8 bytes by the transport protocol of SAE J1939-21, only overheard: nothing is sent.

A sender announces one to all, or asks one receiver and sends as that clears. Its numbers and times are from
memory of J1939-21, and held against the package `can-j1939` in the tests.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from hmic.model.j1939 import TO_ALL, TO_ALL_FROM, destination_of, group_of, source_of
from hmic.sources.frame import Frame

CONNECTION, DATA = 0xEC00, 0xEB00
"""The groups of the protocol itself."""
GROUPS = frozenset({CONNECTION, DATA})
SHORTEST, LONGEST = 9, 1785
"""Bytes of a message."""
BETWEEN = 0.75
"""Seconds at most between two packets to all (T1)."""
ANSWERED = 1.25
"""Seconds at most between two frames of a transfer to one (T2, T3)."""
MOST = 64
"""Transfers at a time; the oldest gives way."""
_ASK, _CLEAR, _DONE, _TO_ALL, _ABORT = 16, 17, 19, 32, 255
_EACH = 7


@dataclass
class _Transfer:
    """One under way: what has come of its ``size`` bytes, the number of the packet that comes next."""

    group: int
    size: int
    until: float
    data: bytearray
    next: int = 1


class Transfers:
    """Those of one bus. ``broken`` counts by group and sender what was begun and did not come whole."""

    def __init__(self, wanted: Callable[[int, int], bool]) -> None:
        """``wanted`` tells by group and sender which are put together."""
        self.broken: dict[tuple[int, int], int] = {}
        self._wanted = wanted
        self._open: dict[tuple[int, int], _Transfer] = {}

    def take(self, frame: Frame) -> Frame | None:
        """Takes a frame of ``GROUPS``; a frame with all the bytes of its message, if that completes one."""
        source, destination = source_of(frame.identifier), destination_of(frame.identifier)
        if len(frame.data) != 8 or destination is None:
            return None
        if group_of(frame.identifier) == DATA:
            return self._packet(frame, (source, destination))
        kind, group = frame.data[0], int.from_bytes(frame.data[5:8], "little") & 0x3FFFF
        if kind in (_ASK, _TO_ALL):
            if (kind == _TO_ALL) is (destination == TO_ALL):
                self._begin(frame, (source, destination), group)
        elif kind in (_CLEAR, _DONE, _ABORT):
            # The receiver speaks, but for an end, which either may make.
            ends = [(destination, source), *([(source, destination)] if kind == _ABORT else [])]
            for way in ends:
                transfer = self._open.get(way)
                if transfer is not None and transfer.group == group:
                    self._answer(way, transfer, frame)
        return None

    def _begin(self, frame: Frame, way: tuple[int, int], group: int) -> None:
        self._break(way)
        size, packets = int.from_bytes(frame.data[1:3], "little"), frame.data[3]
        if not SHORTEST <= size <= LONGEST or packets != -(-size // _EACH) or not self._wanted(group, way[0]):
            return
        if len(self._open) >= MOST:
            self._break(min(self._open, key=lambda each: self._open[each].until))
        self._open[way] = _Transfer(group, size, frame.at + _patience(way), bytearray())

    def _answer(self, way: tuple[int, int], transfer: _Transfer, frame: Frame) -> None:
        if frame.data[0] != _CLEAR:
            # What is whole is no longer here: the receiver is ahead of us, or gives up.
            self._break(way)
            return
        transfer.until = frame.at + ANSWERED
        number = frame.data[2]
        # The receiver may want packets again, none that it skips; with no packets cleared it only waits.
        if frame.data[1] and 1 <= number <= transfer.next:
            transfer.next = number
            del transfer.data[(number - 1) * _EACH :]

    def _packet(self, frame: Frame, way: tuple[int, int]) -> Frame | None:
        transfer = self._open.get(way)
        if transfer is None:
            return None
        if frame.data[0] != transfer.next or frame.at > transfer.until:
            self._break(way)
            return None
        transfer.data += frame.data[1:]
        transfer.next += 1
        transfer.until = frame.at + _patience(way)
        if len(transfer.data) < transfer.size:
            return None
        del self._open[way]
        return _whole(frame, way, transfer)

    def _break(self, way: tuple[int, int]) -> None:
        transfer = self._open.pop(way, None)
        if transfer is not None:
            key = transfer.group, way[0]
            self.broken[key] = self.broken.get(key, 0) + 1


def _patience(way: tuple[int, int]) -> float:
    return BETWEEN if way[1] == TO_ALL else ANSWERED


def _whole(last: Frame, way: tuple[int, int], transfer: _Transfer) -> Frame:
    """The message as one frame, under the identifier that it would have in one."""
    source, destination = way
    identifier = (last.identifier & 0x1C000000) | transfer.group << 8 | source
    if transfer.group >> 8 & 0xFF < TO_ALL_FROM:
        identifier |= destination << 8
    data = bytes(transfer.data[: transfer.size])
    return Frame(last.at, identifier, True, data, last.channel, last.bus)
