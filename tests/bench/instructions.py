"""Instructions that the player takes on an emulated Cortex-M4, zig cc -Os. Each counts as one, whatever its
cycles.

Run from the repository's folder: python -m tests.bench player
"""

from __future__ import annotations

import subprocess

from hmic.pack.reader import read
from hmic.paint.operations import LIVE, Figures, Pointer, Slide
from hmic.wire.events import HostEvent, Transferred
from hmic.wire.host_session import HostSession
from tests.tools.designs import example_pack
from tests.tools.player_board import Board, built_image

CORE = "cortex_m4"
TURN = 0.01


class Counted:
    """A board and a host on one made-up clock; ``turn`` gives the instructions of the line's side and of
    painting."""

    def __init__(self, data: bytes) -> None:
        self.drawing = read(data)
        image = built_image(CORE, self.drawing)
        listed = subprocess.run(["nm", str(image)], capture_output=True, text=True, check=True).stdout
        places = {line.split()[-1]: int(line.split()[0], 16) for line in listed.splitlines()}
        self.board = Board(image, CORE, self.drawing)
        self.now = 1.0
        self.board.clock = lambda: int(self.now * 1000)
        self.events: list[HostEvent] = []
        self.host = HostSession(5, 100000.0)
        self.board.count(places["hmic_display_paint"] & ~1)

    def turn(self) -> tuple[int, int]:
        board = self.board
        self.now += TURN
        board.incoming += self.host.outgoing(self.now)
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
        return (sum(spent) - max(spent)) / len(data) * 1024


def rows(name: str, screen_name: str) -> list[str]:
    data = example_pack(name)
    counted = Counted(data)
    push = counted.pushed(data)
    drawing = counted.drawing
    number = next(at for at, screen in enumerate(drawing.screens) if screen.name == screen_name)
    screen = drawing.screens[number]
    # From another screen to this one: a whole frame.
    other = (number + 1) % len(drawing.screens)
    counted.host.show(other, 0, 80, len(drawing.screens[other].channels))
    counted.rest(150)
    raw = [LIVE + drawing.channels[channel] // 2 for channel in screen.channels]
    counted.host.show(number, 0, 80, len(screen.channels))
    counted.host.update(raw, counted.now)
    full = max(counted.turn()[1] for _ in range(150))
    pixels = drawing.width * drawing.height
    said = [f"| {name} {screen_name}: a whole frame | {full} | {full / pixels:.2f} a pixel |"]
    line: list[int] = []
    looks = (("a reading changed by one step", Figures), ("a needle by one step", Pointer | Slide))
    for title, kinds in looks:
        spent = []
        for channel in sorted({one.channel for one in screen.operations if isinstance(one, kinds)}):
            at = screen.channels.index(channel)
            if drawing.channels[channel] < 3:
                continue
            raw[at] += 1
            counted.host.update(raw, counted.now)
            turns = [counted.turn() for _ in range(12)]
            line.append(max(turns)[0])
            spent.append(max(painted for _, painted in turns))
        if spent:
            middle = sorted(spent)[len(spent) // 2]
            said.append(f"| {title}, median | {middle} | {100 * middle / full:.2f} % of a frame |")
    if line:
        said.append(f"| a value frame taken, with all else of its turn | {sorted(line)[len(line) // 2]} | |")
    said.append(f"| a push: 1 KiB of pack | {push:.0f} | without the checks at its end |")
    return said


def instructions() -> None:
    """Prints the table."""
    print("\n| instructions on Cortex-M4 | | |\n|---|---|---|")
    for name, screen in (("roost", "battery"), ("dunlin", "drive")):
        print("\n".join(rows(name, screen)), flush=True)
