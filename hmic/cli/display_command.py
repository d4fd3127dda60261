"""Is a display: plays a screen pack on a pseudo terminal or a serial port, from bytes alone.

Prints the serial endpoint to give to `hmic push` and `hmic run`. Ctrl-C ends it.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.findings import show
from hmic.cli.push_command import DEFAULT_BAUD
from hmic.cli.writing import read_pack
from hmic.diagnostics import DesignError, error
from hmic.pack.records import LARGEST_SIDE

if TYPE_CHECKING:
    from hmic.display.display import Glass
    from hmic.display.serve import Server

NARROWEST = 16
"""Pixels: the shortest side that a design's panel can have."""
FASTEST = 3_000_000
"""Bd; a port that cannot goes back to the rate it began with."""

EPILOG = """\
examples:
  hmic display dunlin.pack
  hmic display --store flash.bin --panel 800x480x16   an empty display; push a pack to it
  hmic display --store flash.bin              the display with the pack that was pushed to it
  hmic display dunlin.pack --picture now.png  `kill -USR1 PID` writes what it shows
  hmic display dunlin.pack --page             looked at and touched in a browser; prints its address
  hmic display dunlin.pack --hands            touch it by lines on standard input

With --hands each line is one deed of a hand, in pixels from the top left. `hmic run` must be connected:
  tap 120 300          a short touch; answers a question, presses "Understood", goes to a screen
  hold 120 300 2 s     a finger that rests for a time
  slide 10 10 400 10   from one place to another: a swipe, or a slider's handle
  turn left            one click of a knob; turn right
  controls             where the controls of the screen in sight are
  picture now.png      writes what is shown
  wait 1 s             before the next line; # begins a comment
A line that cannot be followed is told, and the next is read. After the last the display goes on.
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("file", type=Path, nargs="?", help="a screen pack to start with")
    parser.add_argument(
        "--panel",
        metavar="WxHxD",
        help="width and height in pixels and bits a pixel, as 800x480x16; without it those of the pack, "
        "given or in the store",
    )
    parser.add_argument("--port", help="serve on this serial port instead of a pseudo terminal")
    parser.add_argument(
        "--baud", type=int, help=f"line rate in Bd (default: the pack's, or {DEFAULT_BAUD})"
    )
    parser.add_argument("--half-duplex", action="store_true", help="two wires for both ways, as RS-485")
    parser.add_argument("--store", type=Path, metavar="FILE", help="keep packs in this file, as flash would")
    parser.add_argument("--picture", type=Path, metavar="PNG", help="where SIGUSR1 writes the frame")
    parser.add_argument(
        "--page", action="store_true", help="also in a browser on this computer, to look at and touch"
    )
    parser.add_argument(
        "--page-port", type=int, default=0, metavar="N", help="of the page; any free one if it is not said"
    )
    parser.add_argument(
        "--hands", action="store_true", help="follow touches on standard input, a line each (below)"
    )


def run(arguments: argparse.Namespace) -> int:
    """Serves until Ctrl-C."""
    import os

    from hmic.display.serve import Server, open_display
    from hmic.link.any_link import Link
    from hmic.link.half_duplex import HalfDuplexDisplay
    from hmic.link.pseudo_terminal import PseudoTerminal
    from hmic.link.serial_port import open_port

    glass = None if arguments.panel is None else _glass(arguments.panel)
    pack, drawing = read_pack(arguments.file) if arguments.file else (None, None)
    baud = arguments.baud or (drawing.baud if drawing else 0) or DEFAULT_BAUD
    # Over two wires the display never has the last word at the old rate.
    fastest = FASTEST if arguments.port and not arguments.half_duplex else 0
    display = open_display(pack, arguments.store, glass, fastest, drawing)

    def connect() -> Link:
        link: Link
        if arguments.port:
            link = open_port(arguments.port, baud)
        else:
            link = terminal = PseudoTerminal()
            _say(f"port {terminal.path}")
        return HalfDuplexDisplay(link, baud) if arguments.half_duplex else link

    glass = display.glass
    _say(f"display {glass.width} x {glass.height}, {glass.depth} bits a pixel, process {os.getpid()}")
    server = Server(display, connect, _say, arguments.picture, baud)
    if arguments.page:
        _serve_page(server, arguments.page_port)
    if arguments.hands:
        _give_hands(server)
    server.run()
    return 0


def _glass(text: str) -> Glass:
    """The panel that ``--panel`` says."""
    from hmic.display.display import Glass

    found = re.fullmatch(r"(\d{1,4})x(\d{1,4})x(16|24)", text.lower())
    if found is None or not all(NARROWEST <= int(side) <= LARGEST_SIDE for side in found.groups()[:2]):
        message = f"'{text}' is no panel: {NARROWEST} to {LARGEST_SIDE} pixels a side, 16 or 24 bits a pixel"
        raise DesignError([error("U921", message, None, "write it like --panel 800x480x16")])
    width, height, depth = map(int, found.groups())
    return Glass(width, height, depth)


def _serve_page(server: Server, port: int) -> None:
    """Raises ``DesignError`` U947 where the port is taken."""
    from hmic.cli.findings import port_refused
    from hmic.show.glass import start

    try:
        address = start(server, port)
    except (OSError, OverflowError) as failed:
        raise port_refused(port, failed) from None
    _say(f"page {address}")


def _give_hands(server: Server) -> None:
    """Follows standard input beside the loop; its end is not the display's."""
    import threading

    from hmic.display.hands import Hands, lines_of

    hands = Hands(server, _say, lambda finding: show([finding], {}))

    def follow() -> None:
        # Closed at the start, its number may be another file's by now.
        if sys.stdin is not None:
            hands.follow(lines_of(sys.stdin.fileno()))
        _say("no more lines on standard input; the display goes on")

    # Once the display is there.
    server.ask(lambda display, now: threading.Thread(target=follow, daemon=True).start())


def _say(sentence: str) -> None:
    print(sentence, flush=True)
