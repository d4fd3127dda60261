"""Pushes under the knife: power fails at one flash operation, and the display is started again.

Shared by the test, which takes every few operations, and ``python -m tests.bench cuts``, which takes all.
"""

from __future__ import annotations

import contextlib
import random
from collections import Counter
from collections.abc import Callable

from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.pack.records import identity
from hmic.pack.writer import write
from hmic.paint.operations import Box, Drawing, Fill, Ink, ScreenDrawing, Theme
from hmic.wire.events import Outcome, Surveyed, Transferred
from hmic.wire.host_session import HostSession
from tests.tools.changed import replace

SECTOR, PAGE = 512, 128
SIZE = SECTOR * 48
STEP = 0.01
WAYS = ("before", "after", "torn", "flipped")
PUSHES = ("full", "difference", "switch", "next sector")
RECORDS = SECTOR // 64


class PowerCut(BaseException):
    """The supply is gone."""


class CutFlash(MemoryFlash):
    """Flash whose supply fails at operation ``cut_at`` (from 0).

    ``before`` and ``after`` it; ``torn``: each bit of it still as before or already as after;
    ``flipped``: torn, and some of its bits read as anything once the supply is back.
    """

    def __init__(self, cells: bytes = b"", cut_at: int = -1, way: str = "before", seed: int = 0) -> None:
        super().__init__(SIZE, SECTOR, PAGE)
        self.cells[: len(cells)] = cells
        self.cut_at, self.way = cut_at, way
        self.count = 0
        self._dice = random.Random(seed)

    def erase(self, offset: int) -> None:
        self._guarded(offset, self.sector, lambda: super(CutFlash, self).erase(offset))

    def program(self, offset: int, data: bytes) -> None:
        self._guarded(offset, len(data), lambda: super(CutFlash, self).program(offset, data))

    def _guarded(self, offset: int, length: int, act: Callable[[], None]) -> None:
        cut = self.count == self.cut_at
        self.count += 1
        if cut and self.way == "before":
            raise PowerCut
        before = bytes(self.cells[offset : offset + length])
        act()
        if not cut:
            return
        if self.way in ("torn", "flipped"):
            after = self.cells[offset : offset + length]
            some = self._dice.randbytes(length)
            torn = bytearray(b & s | a & ~s & 255 for b, a, s in zip(before, after, some, strict=True))
            for _ in range(self._dice.randrange(1, 9) if self.way == "flipped" else 0):
                torn[self._dice.randrange(length)] ^= 1 << self._dice.randrange(8)
            self.cells[offset : offset + length] = torn
        raise PowerCut


def drawing(seed: int, screens: int = 3) -> Drawing:
    """A drawing of some kilobytes; ``seed`` decides one colour only."""
    dice = random.Random(1)
    theme = Theme("day", tuple((dice.randrange(256), n, seed) for n in range(60)), 80)
    made = tuple(
        ScreenDrawing(
            f"screen{number}",
            tuple(
                Fill(
                    Box(dice.randrange(30), dice.randrange(10), 1 + dice.randrange(9), 2),
                    Ink(dice.randrange(60)),
                )
                for _ in range(40)
            ),
            (),
            (),
        )
        for number in range(screens)
    )
    return Drawing(40, 20, 24, (theme,), (), (), (), (5,), made, 0)


OLD = write(drawing(0))
EDITED = write(drawing(7))
OTHER = write(replace(drawing(3, 2), start=1))


def started(flash: CutFlash, nonce: int) -> Display:
    """A display at power-up."""
    return Display(flash, Glass(40, 20, 24), nonce)


def held(cells: bytes) -> bytes | None:
    """The identity of the pack that a display comes up with."""
    return started(CutFlash(cells), 5).identity


def pushed(flash: CutFlash, pack: bytes, nonce: int = 99) -> tuple[Outcome, int]:
    """A whole push over both sessions; how it ended and what was copied from the old pack."""
    display = started(flash, nonce)
    host = HostSession(7, 1e6)
    host.transfer(pack)
    now, reused = 0.0, 0
    for _ in range(2000):
        now += STEP
        display.receive(host.outgoing(now), now)
        for event in host.receive(display.outgoing(now), now):
            if isinstance(event, Surveyed):
                reused = event.reused
            if isinstance(event, Transferred):
                return event.outcome, reused
    raise AssertionError("the push never ended")


def prepared(push: str) -> tuple[bytes, bytes]:
    """The flash before a push, and the pack to push: ``full`` into a display with another pack whose
    spare bank is dirty, ``difference`` after an edit, ``switch`` with all but the end done before, ``next
    sector`` the same when the record no longer fits where the others are."""
    flash = CutFlash()
    assert pushed(flash, OTHER)[0] is Outcome.ACTIVATED
    assert pushed(flash, EDITED if push == "full" else OTHER)[0] in (Outcome.ACTIVATED, Outcome.UNCHANGED)
    assert pushed(flash, OLD)[0] is Outcome.ACTIVATED
    if push == "next sector":
        for _ in range(RECORDS // 2 - 1):
            assert pushed(flash, OTHER)[0] is pushed(flash, OLD)[0] is Outcome.ACTIVATED
    pack = OTHER if push == "full" else EDITED
    if push in ("switch", "next sector"):
        trial = CutFlash(bytes(flash.cells))
        assert pushed(trial, pack)[0] is Outcome.ACTIVATED
        flash = CutFlash(bytes(flash.cells), trial.count - 3, "before")
        with contextlib.suppress(PowerCut):
            pushed(flash, pack)
    return bytes(flash.cells), pack


def cut_everywhere(push: str, way: str, stride: int = 1, seed: int = 0) -> Counter[str]:
    """Cuts a push at every ``stride``-th flash operation. Each time the display must come up with the
    whole old or the whole new pack, and a push begun then must succeed. What was counted."""
    cells, pack = prepared(push)
    old, new = held(cells), identity(pack)
    counts: Counter[str] = Counter()
    cut_at = seed % stride
    while True:
        flash = CutFlash(cells, cut_at, way, seed * 100_000 + cut_at)
        try:
            outcome, _ = pushed(flash, pack)
        except PowerCut:
            pass
        else:
            assert outcome in (Outcome.ACTIVATED, Outcome.UNCHANGED)
            counts["operations"] = flash.count
            return counts
        counts["cuts"] += 1
        after = bytes(flash.cells)
        found = held(after)
        assert found in (old, new), (push, way, cut_at)
        counts["came up new" if found == new else "came up old"] += 1
        again = CutFlash(after)
        outcome, _ = pushed(again, pack, 100)
        assert outcome in (Outcome.ACTIVATED, Outcome.UNCHANGED), (push, way, cut_at, outcome)
        assert held(bytes(again.cells)) == new
        counts["pushes after"] += 1
        cut_at += stride
