"""Instructions that the player takes on an emulated Cortex-M4, zig cc -Os. Each counts as one, whatever its
cycles.

Run from the repository's folder: python -m tests.bench player
"""

from __future__ import annotations

import hashlib
import random
import subprocess

from hmic.pack.reader import read
from hmic.pack.writer import write
from hmic.paint.operations import (
    LIVE,
    Axis,
    Box,
    Drawing,
    Figures,
    Fill,
    Image565,
    Ink,
    Mask,
    Operation,
    Picture,
    Pointer,
    Reveal,
    ScreenDrawing,
    Slide,
    Stencil,
    Theme,
    ThresholdMap,
)
from hmic.wire import frames, messages
from hmic.wire.events import HostEvent, Transferred
from hmic.wire.host_session import HostSession
from hmic.wire.sizes import MAX_BODY, UNIT
from hmic.wire.squeeze import squeeze
from tests.tools.changed import replace
from tests.tools.designs import example_pack
from tests.tools.player_board import Board, built_image

CORE = "cortex_m4"
TURN = 0.01
SIDE = 200


class Counted:
    """A board and a host on one made-up clock; ``turn`` gives the instructions of the line's side and of
    painting."""

    def __init__(self, data: bytes) -> None:
        self.drawing = read(data)
        image = built_image(CORE, self.drawing)
        listed = subprocess.run(["nm", "-S", str(image)], capture_output=True, text=True, check=True).stdout
        symbols = [line.split() for line in listed.splitlines()]
        places = {words[-1]: int(words[0], 16) for words in symbols}
        self.sizes = {words[3]: (words[2], int(words[1], 16)) for words in symbols if len(words) == 4}
        self._memory_end = max(
            places[name] + size for name, (kind, size) in self.sizes.items() if kind in "bB"
        )
        self.board = Board(image, CORE, self.drawing)
        self.now = 1.0
        self.board.clock = lambda: int(self.now * 1000)
        self.events: list[HostEvent] = []
        self.host = HostSession(5, 100000.0)
        self.board.count(places["hmic_display_paint"] & ~1)

    def turn(self, more: bytes = b"") -> tuple[int, int]:
        """One turn of the display, which also hears ``more``."""
        board = self.board
        self.now += TURN
        board.incoming += self.host.outgoing(self.now) + more
        board.blocks.clear()
        board.marked.clear()
        board.turn()
        self.events = self.host.receive(bytes(board.outgoing), self.now)
        board.outgoing.clear()
        line = board.executed(board.marked)
        return line, board.executed(board.blocks) - line

    def rest(self, turns: int = 60) -> None:
        for _ in range(turns):
            self.turn()

    def pushed(self, data: bytes) -> float:
        """Instructions for each KiB of a push, without the turn that ends it."""
        self.rest()
        self.host.transfer(data)
        spent: list[int] = []
        while not any(isinstance(event, Transferred) for event in self.events):
            spent.append(self.turn()[0])
        self.rest()
        return (sum(spent) - max(spent)) / len(data) * 1024

    def stack(self) -> int:
        """Bytes of stack that were ever written to."""
        unused = self.board.memory_from(self._memory_end)
        return len(unused.lstrip(b"\xa5"))

    def squeezed(self, content: bytes, units: int) -> int:
        """Instructions for one Squeezed of so many units, beyond those of a turn without."""
        seal = self.host._greeting.seal
        assert seal is not None

        def framed(message: messages.Message) -> bytes:
            return frames.encode(messages.encode(message), seal)

        self.turn(framed(messages.Offer(9, len(content), hashlib.sha256(content).digest())))
        self.rest(2)
        idle = min(self.turn()[0] for _ in range(4))
        block = messages.Squeezed(9, 1, units, 0, squeeze(content[: units * UNIT]))
        return self.turn(framed(block))[0] - idle

    def shown(self, number: int, raw: list[int]) -> int:
        """Instructions of painting a whole screen anew with these values of its list: as the theme changes,
        for as it comes up its values are still to come."""
        for theme in (0, 1):
            self.host.show(number, theme, 80, len(raw))
            self.host.update(raw, self.now)
            painted = max(self.turn()[1] for _ in range(60))
        return painted


def screen_numbered(drawing: Drawing, name: str) -> int:
    return next(at for at, screen in enumerate(drawing.screens) if screen.name == name)


def half(drawing: Drawing, number: int) -> list[int]:
    """Every value of a screen in the middle of its steps."""
    return [LIVE + drawing.channels[channel] // 2 for channel in drawing.screens[number].channels]


def rows(name: str, reading: str, needle: str) -> list[str]:
    """The rows of one example: readings of one of its screens, needles and slides of another."""
    data = example_pack(name)
    counted = Counted(data)
    push = counted.pushed(data)
    drawing, said = counted.drawing, []
    line: list[int] = []
    for title, screen_name, kinds in (
        ("a reading", reading, Figures),
        ("a needle or slide", needle, Pointer | Slide),
    ):
        number = screen_numbered(drawing, screen_name)
        raw = half(drawing, number)
        full = counted.shown(number, raw)
        if kinds is Figures:
            pixels = drawing.width * drawing.height
            said.append(f"| {name} {screen_name}: a whole frame | {full} | {full / pixels:.1f} a pixel |")
        spent = []
        screen = drawing.screens[number]
        for channel in sorted({one.channel for one in screen.operations if isinstance(one, kinds)}):
            if drawing.channels[channel] < 3:
                continue
            raw[screen.channels.index(channel)] += 1
            counted.host.update(raw, counted.now)
            turns = [counted.turn() for _ in range(12)]
            line.append(max(turns)[0])
            spent.append(max(painted for _, painted in turns))
        middle = sorted(spent)[len(spent) // 2]
        said.append(f"| {title} by one step, median | {middle} | {100 * middle / full:.1f} % of a frame |")
    said.append(f"| a value frame taken, with all else of its turn | {sorted(line)[len(line) // 2]} | |")
    content = data[len(data) // 2 // 1024 * 1024 :]
    units = units_that_fit(content)
    spent_on_it = counted.squeezed(content, units) * 1024 // (units * UNIT)
    said.append(f"| Squeezed, for 1 KiB | {spent_on_it} | {units * UNIT} bytes in one |")
    said.append(f"| a push: 1 KiB of pack | {push:.0f} | without the checks at its end |")
    said.append(f"| bytes of stack met in all this, the port's too | {counted.stack()} | |")
    return said


def units_that_fit(content: bytes) -> int:
    """Units from the start of a content that one Squeezed takes."""
    counts = range(1, 17)
    return max(count for count in counts if len(squeeze(content[: count * UNIT])) <= MAX_BODY - 16)


def disc() -> Mask:
    """A disc with a soft edge, and a soft ring within: runs of each kind."""

    def level(x: int, y: int) -> int:
        distance = ((2 * x + 1 - SIDE) ** 2 + (2 * y + 1 - SIDE) ** 2) ** 0.5 / 2
        return max(0, min(15, round((SIDE / 2 - distance) * 4), round(abs(distance - SIDE / 3) * 4)))

    return Mask(SIDE, SIDE, bytes(level(x, y) for y in range(SIDE) for x in range(SIDE)))


def kinds_drawing() -> Drawing:
    """An empty screen, then one for each kind, with the figures of an example: roost's largest."""
    roost = read(example_pack("roost"))
    box, dice = Box(10, 10, SIDE, SIDE), random.Random(1)
    number = max(range(len(roost.figure_sets)), key=lambda at: roost.figure_sets[at].height)
    cells = roost.figure_sets[number]
    sky = bytes(value for y in range(SIDE) for x in range(SIDE) for value in (x // 4 & 31, y // 2 & 248))
    noise = bytes(dice.randrange(256) for _ in range(2 * SIDE * SIDE))
    ramp = ThresholdMap(SIDE, SIDE, bytes(min(254, x + y // 8) for y in range(SIDE) for x in range(SIDE)))
    shape, ink = len(roost.masks), Ink(2)
    colours = ((0, 0, 0), (90, 90, 90), (240, 240, 240))
    digits = Figures(
        Box(10, 10, 4 * cells.advance, cells.height), 0, number, 4720, 1, 1, 4, 0, 0, False, False, ink
    )
    kinds: dict[str, Operation] = {
        "fill": Fill(box, ink),
        "mask": Stencil(box, shape, ink),
        "reveal, straight, masked": Reveal(box, 0, Axis.RIGHTWARD, 0, shape, ink),
        "reveal, mapped, masked": Reveal(box, 0, Axis.MAPPED, 0, shape, ink, 0, 1, 16),
        "figures": digits,
        "picture, even": Picture(box, 0),
        "picture, noise": Picture(box, 1),
    }
    screens = [ScreenDrawing("empty", (), (0,), ())]
    screens += [ScreenDrawing(name, (one,), (0,), ()) for name, one in kinds.items()]
    return replace(
        roost,
        themes=tuple(Theme(name, colours, 80) for name in ("one", "other")),
        masks=(*roost.masks, disc()),
        maps=(ramp,),
        pictures=(Image565(SIDE, SIDE, sky), Image565(SIDE, SIDE, noise)),
        channels=(SIDE,),
        screens=tuple(screens),
        start=0,
    )


def by_kind() -> list[str]:
    """Instructions a pixel of the operation's box, beyond those of a screen without it."""
    drawing = kinds_drawing()
    data = write(drawing)
    counted = Counted(data)
    counted.pushed(data)
    raw, said = [LIVE + SIDE - 10], []
    empty = counted.shown(0, raw)
    said.append(f"| ground | {empty / drawing.width / drawing.height:.1f} |")
    for number, screen in enumerate(drawing.screens[1:], 1):
        box = screen.operations[0].box
        spent = counted.shown(number, raw) - empty
        said.append(f"| {screen.name} | {spent / box.width / box.height:.1f} |")
    return said


def instructions() -> None:
    """Prints the tables."""
    print("\n| instructions on Cortex-M4 | | |\n|---|---|---|")
    for name, reading, needle in (("roost", "battery", "sun"), ("dunlin", "drive", "motor")):
        print("\n".join(rows(name, reading, needle)), flush=True)
    print("\n| kind, 16 bits a pixel | instructions a pixel |\n|---|---|")
    print("\n".join(by_kind()), flush=True)
