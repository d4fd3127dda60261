"""How late values can come on a line, from the steps that they move.

What is taken for granted (common practice, no source): between two updates everything that has a scale moves
by a step or two (``STEPS``); at most once in three seconds all lamps and answers change, one widget
shows something else altogether, and one value jumps by its whole range; each second a frame is lost. All of
that at once is the worst case. A screen that comes up anew, and all sources falling silent together, are not
in it: such values come within the time that all of them take.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil
from typing import NamedTuple

from hmic.check.response import Message, response_time
from hmic.model.channels import LIVE, Channel, Places, scale_of
from hmic.wire.bounds import (
    HEARD,
    OFFER,
    PULSE,
    RESUME,
    SHARE,
    batch_seconds,
    block_seconds,
    frame_seconds,
    turn_seconds,
    value_bytes,
    value_frames,
)
from hmic.wire.sizes import BATCH, BLOCK_LEAD, CALM, LEAST_BODY, URGENT, VALUE_LEAD, value_room

STEPS, STEPS_PART = 2, 0.03
"""Steps that a value moves in one update when everything moves: so many, but no more than this part of its
range or 1 (common practice, no source)."""

HEARD_EVERY, MEND_EVERY, JUMP_EVERY = 0.1, 1.0, 3.0
"""Seconds between two touches, two lost frames, two jumps."""

UNTIL_MENDED = 0.03
"""Seconds from the end of a spoilt frame until the host knows: the way there and back, and a Want."""


@dataclass(frozen=True)
class Moves:
    """Steps by position of a screen's list: that everything ``moving`` moves by in one update; the whole
    ``range`` of each (0: no longer written, as the past of a chart); those that are sent at once; how many
    numbers are told by two positions."""

    moving: tuple[int, ...]
    ranges: tuple[int, ...]
    lamps: frozenset[int]
    prompt: frozenset[int]
    pairs: int = 0

    def size(self, steps: Sequence[int], room: int) -> int:
        """The most bytes of the value frames in which these steps, by position, are made."""
        return value_bytes(steps, room, self.pairs)

    def frames(self, steps: Sequence[int], room: int) -> int:
        """How many frames these are."""
        return value_frames(steps, room, self.pairs)[1]

    @cached_property
    def _widest(self) -> tuple[int, ...]:
        """The first of the places with the widest range, if there are any."""
        if not self.ranges:
            return ()
        return (max(range(len(self.ranges)), key=lambda at: (self.ranges[at], -at)),)

    def jump(self, places: Iterable[int]) -> tuple[int, ...]:
        """All moves, lamps change, these places show something else, and the widest value jumps."""
        whole = {*places, *self.lamps, *self._widest}
        return tuple(self.ranges[at] if at in whole else move for at, move in enumerate(self.moving))


class LineDelays(NamedTuple):
    """Seconds at most from a step given to the host's session to the end of the frame that brings it, None
    where there is no bound: of what is sent at once, of what else is among the first positions, of all
    others."""

    at_once: float | None
    first: float | None
    rest: float | None


def moves_of(
    channels: Sequence[Channel], past: Sequence[bool], traced: Sequence[bool], prompt: frozenset[int]
) -> Moves:
    """By position: ``past`` are columns of charts that time has left, ``traced`` those it writes."""
    ranges = tuple(
        0 if old else LIVE + channel.steps.count - 1 for channel, old in zip(channels, past, strict=True)
    )
    moving = tuple(
        _move(channel) if scale_of(channel) is not None and not old and not written else 0
        for channel, old, written in zip(channels, past, traced, strict=True)
    )
    lamps = frozenset(at for at, channel in enumerate(channels) if channel.urgency <= 1)
    pairs = sum(isinstance(channel.steps, Places) and channel.steps.upper for channel in channels)
    return Moves(moving, ranges, lamps, prompt, pairs)


def _move(channel: Channel) -> int:
    """In one update. What glides goes its whole range in its time, update by update."""
    most = channel.steps.count - 1
    if channel.glide:
        return min(most, max(STEPS, ceil(most * BATCH / channel.glide)))
    return min(STEPS, max(1, int(STEPS_PART * channel.steps.count)), most)


class Line(NamedTuple):
    """A line as the host has it: bytes a second, and the longest turn of a display over two wires."""

    rate: float
    turn: float = 0.0

    @property
    def room(self) -> int:
        """Body bytes of a value frame for any display."""
        return value_room(self.rate, LEAST_BODY)

    def batch(self, moving: Sequence[int]) -> float:
        """Seconds between two updates of what is not urgent."""
        return batch_seconds(moving, self.rate, self.room)

    def load(self, moving: Sequence[int]) -> float:
        """The part of the line that values take when everything moves."""
        return round(value_bytes(moving, self.room) / self.batch(moving) / self.rate, 9)

    def delays(self, moves: Moves, jumps: Sequence[Sequence[int]]) -> tuple[LineDelays, LineDelays]:
        """Without a push and with one, with every one of the ``jumps``, steps by position, as the one that
        happens."""
        own = max((moves.size(jump, self.room) for jump in jumps), default=0)
        if not moves.moving:
            return self._alike(own, moves, push=False), self._alike(own, moves, push=True)
        at_once = [at for at in (*moves.lamps, *moves.prompt) if at < URGENT]
        ends = max(at_once, default=0) + 1, URGENT
        firsts = max((jump[:URGENT] for jump in jumps), key=lambda jump: moves.size(jump, self.room))
        # Where the first positions fill a frame, every other one is for the rest.
        crowded = len(moves.moving) > URGENT and moves.frames(firsts, self.room) > 1
        waits = []
        for end, ahead in zip(ends, (moves.jump(at_once)[: ends[0]], firsts), strict=True):
            frames = max(1, moves.frames(ahead, self.room)) * (2 if crowded else 1)
            waits.append((frames * frame_seconds(self.rate) * self.rate, moves.moving[:end]))
        waits.append((own, moves.moving[:URGENT]))
        alone, pushed = (
            LineDelays(*(self._late(size, again, moves, push) for size, again in waits))
            for push in (False, True)
        )
        return alone, pushed

    def _alike(self, own: float, moves: Moves, push: bool) -> LineDelays:
        late = self._late(own, (), moves, push)
        return LineDelays(late, late, late)

    def _late(self, own: float, again: Sequence[int], moves: Moves, push: bool) -> float | None:
        """Waits for what is on the line, and for what is more urgent: replies to touches, the mend of a lost
        frame, and the first positions, which go before it again with each update."""
        bit = ceil(1e9 / self.rate / 10)

        def took(size: float) -> int:
            return ceil(size * 10 * bit)

        under_way = (VALUE_LEAD + 2 * frame_seconds(self.rate) + UNTIL_MENDED) * self.rate
        mend = RESUME + min(moves.size(moves.moving, self.room), under_way)
        first = moves.size(again, self.room)
        messages = [
            Message("replies to touches", took(HEARD), round(HEARD_EVERY * 1e9)),
            Message("mend", took(mend), round(MEND_EVERY * 1e9)),
            Message("first positions", took(first), round(self.batch(moves.moving) * 1e9)),
            Message("update", took(own), round(JUMP_EVERY * 1e9)),
        ]
        waits = VALUE_LEAD + frame_seconds(self.rate)
        if push:
            waits = max(waits, BLOCK_LEAD + block_seconds(self.rate)) + OFFER / self.rate
        found = response_time(
            messages, len(messages) - 1, bit, round(1e9 * (self.turn + waits)) + took(PULSE)
        )
        return None if found is None else found / 1e9


def line_of(baud: int, half_duplex: bool) -> Line:
    """The line of a panel at a rate in Bd."""
    rate = baud / 10
    return Line(rate * SHARE, turn_seconds(rate)) if half_duplex else Line(rate)


def calm_seconds(batch: float) -> float:
    """Seconds between two updates of what only changes figures: whole batches."""
    return batch * ceil((max(CALM, batch) - batch / 2) / batch)
