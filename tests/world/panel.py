"""The display of a world, behind an interface that another implementation can offer too."""

from __future__ import annotations

import random
from typing import Any, Protocol

from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.paint.operations import Moment


class PowerCut(BaseException):
    """The supply is gone in the middle of a flash operation."""


class Player(Protocol):
    """A display as the world needs it. Times are seconds since the world began."""

    def receive(self, data: bytes, now: float) -> None:
        """Bytes from the host. May raise PowerCut."""

    def outgoing(self, now: float) -> bytes:
        """Bytes for the host."""

    def next_deadline(self) -> float | None:
        """When ``receive`` is to be called at the latest."""

    def press(self, x: int, y: int, now: float) -> bool:
        """A finger comes down; whether it will be told."""

    def release(self, x: int, y: int, now: float) -> bool:
        """It lifts; whether it will be told."""

    def shown(self, now: float) -> Moment:
        """Screen, theme and raw values in sight."""

    def picture(self, now: float) -> Any:
        """What is painted, as a Pillow image."""

    def identity(self) -> bytes | None:
        """Of the pack in use."""


class CutFlash(MemoryFlash):
    """Flash whose supply can fail at any operation: ``cut_in`` more of them are whole, the next is torn."""

    def __init__(self, size: int, seed: int) -> None:
        super().__init__(size)
        self.cut_in: int | None = None
        self._dice = random.Random(seed)

    def erase(self, offset: int) -> None:
        """Perhaps torn."""
        self._guarded(offset, self.sector, lambda: super(CutFlash, self).erase(offset))

    def program(self, offset: int, data: bytes) -> None:
        """Perhaps torn."""
        self._guarded(offset, len(data), lambda: super(CutFlash, self).program(offset, data))

    def _guarded(self, offset: int, length: int, act: Any) -> None:
        if self.cut_in is None or self.cut_in > 0:
            self.cut_in = None if self.cut_in is None else self.cut_in - 1
            act()
            return
        self.cut_in = None
        before = bytes(self.cells[offset : offset + length])
        act()
        after = self.cells[offset : offset + length]
        some = self._dice.randbytes(length)
        self.cells[offset : offset + length] = bytes(
            old & mask | new & ~mask & 255 for old, new, mask in zip(before, after, some, strict=True)
        )
        raise PowerCut


class SoftwarePlayer:
    """hmic's own software display."""

    def __init__(self, flash: CutFlash, glass: Glass, nonce: int) -> None:
        self.display = Display(flash, glass, nonce)

    def receive(self, data: bytes, now: float) -> None:
        """Bytes from the host."""
        self.display.receive(data, now)

    def outgoing(self, now: float) -> bytes:
        """Bytes for the host."""
        return self.display.outgoing(now)

    def next_deadline(self) -> float | None:
        """When something is due."""
        return self.display.next_deadline()

    def press(self, x: int, y: int, now: float) -> bool:
        """A finger comes down."""
        return self.display.press(x, y, now)

    def release(self, x: int, y: int, now: float) -> bool:
        """It lifts."""
        return self.display.release(x, y, now)

    def shown(self, now: float) -> Moment:
        """What is in sight."""
        return self.display.moment(now)

    def picture(self, now: float) -> Any:
        """The frame."""
        return self.display.image(now)

    def identity(self) -> bytes | None:
        """Of the pack in use."""
        return self.display.identity
