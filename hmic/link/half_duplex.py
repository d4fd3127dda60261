"""Two wires for both directions (RS-485): the ends take turns. Wraps the link of either end.

The host speaks, then gives the turn; the display speaks for a while, or not at all, and says that it is
over. What it has not said waits for the next turn. See PROTOCOL.md, section 1.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from hmic.link.any_link import Link
from hmic.wire.bounds import SHARE, TURN_REPLY, turn_seconds
from hmic.wire.cobs import decode_reduced
from hmic.wire.frames import FrameDecoder, encode
from hmic.wire.messages import Kind, Over, Turn
from hmic.wire.messages import encode as body_of

TURN_EVERY, CALM_TURN_EVERY = 0.03, 0.1
"""Seconds at most between two turns of the display: while it has much to say, and else. A first touch may
wait for so long; what asks for a lost frame has the turn that follows the next frame."""

CALM_AFTER = 0.5
"""Seconds since it said anything but that it lives."""

_LIFE = (Kind.OVER, Kind.DISPLAY_BEAT, Kind.ALONE)

BURST = 0.05
"""Seconds of bytes that the host sends before it gives the turn: one block of a push and more."""

LEAST_BURST = 160
"""Bytes of a burst at least: a block of a push and some values."""

HOW_IT_STANDS = (Kind.WANT, Kind.DISPLAY_BEAT, Kind.ALONE, Kind.NEED)
"""What a later frame of the same kind makes old: of what waits for a turn only the newest of each is said."""

_TURN = b"\0" + encode(body_of(Turn()))
_OVER = encode(body_of(Over()))


__all__ = ["SHARE", "HalfDuplexDisplay", "HalfDuplexHost"]


class _End:
    """What both ends are: a link at a rate, frames that come, bytes on their way and bytes that wait."""

    def __init__(self, link: Link, baud: int) -> None:
        self._link = link
        self._rate = baud / 10
        self._decoder = FrameDecoder()
        self._out = b""
        self._waiting = b""

    def close(self) -> None:
        """Lets go of the line."""
        self._link.close()

    def set_rate(self, baud: int) -> None:
        """Another rate from now on."""
        self._rate = baud / 10
        self._link.set_rate(baud)


class HalfDuplexHost(_End):
    """The host's end. It has nothing to wait on but time, so its loop looks in often."""

    def __init__(self, link: Link, baud: int, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__(link, baud)
        self._clock = clock
        self._listens_until = self._turn_due = self._calm_from = float("-inf")

    def read(self) -> bytes:
        """What the display has said."""
        data = self._link.read()
        for frame in self._decoder.receive(data):
            if frame.kind == Kind.OVER and frame.intact():
                self._listens_until = float("-inf")
            if frame.kind not in _LIFE:
                self._calm_from = self._clock() + CALM_AFTER
                self._turn_due = min(self._turn_due, self._clock() + TURN_EVERY)
        self._speak()
        return data

    def write(self, data: bytes) -> int:
        """Takes what fits into the next burst."""
        taken = data[: max(0, max(LEAST_BURST, int(BURST * self._rate)) - len(self._waiting))]
        self._waiting += taken
        self._speak()
        return len(taken)

    def descriptor(self) -> int | None:
        """None: the turns are a matter of time."""
        return None

    def _speak(self) -> None:
        now = self._clock()
        if not self._out:
            if now < self._listens_until or not (self._waiting or now >= self._turn_due):
                return
            self._out, self._waiting = self._waiting + _TURN, b""
            leaves = now + len(self._out) / self._rate
            self._listens_until = leaves + turn_seconds(self._rate)
            self._turn_due = leaves + (CALM_TURN_EVERY if now >= self._calm_from else TURN_EVERY)
        self._out = self._out[self._link.write(self._out) :]


class HalfDuplexDisplay(_End):
    """The display's end: silent until it has the turn."""

    def read(self) -> bytes:
        """What the host has said."""
        data = self._link.read()
        for frame in self._decoder.receive(data):
            if frame.kind == Kind.TURN and frame.intact():
                self._reply()
        if self._out:
            self._out = self._out[self._link.write(self._out) :]
        return data

    def write(self, data: bytes) -> int:
        """Keeps it for the next turn; at most 4096 bytes, then it takes no more."""
        taken = data[: max(0, 4096 - len(self._waiting))]
        self._waiting = _without_old(self._waiting + taken)
        return len(taken)

    def descriptor(self) -> int | None:
        """The descriptor to wait on."""
        return self._link.descriptor()

    def _reply(self) -> None:
        """Whole frames, as many as the turn has time for, at least one."""
        most = max(1, int(TURN_REPLY * self._rate))
        end = self._waiting.rfind(b"\0", 0, most) + 1 or self._waiting.find(b"\0") + 1
        self._out += self._waiting[:end] + _OVER
        self._waiting = self._waiting[end:]


def _without_old(waiting: bytes) -> bytes:
    """What is left of frames, the last of which may be cut, when later ones have made some of them old."""
    *pieces, rest = waiting.split(b"\0")
    kept: list[bytes] = []
    newer: set[int] = set()
    for piece in reversed(pieces):
        kind = (decode_reduced(piece) or b"\0")[0]
        if kind not in newer:
            kept.insert(0, piece + b"\0")
        if kind in HOW_IT_STANDS:
            newer.add(kind)
    return b"".join(kept) + rest
