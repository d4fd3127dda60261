"""Is a display: plays a screen pack on a pseudo terminal or a serial port, from bytes alone.

Prints the serial endpoint to give to `hmic push` and `hmic run`. Ctrl-C ends it.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from hmic.cli.push import DEFAULT_BAUD
from hmic.cli.writing import read_whole

FASTEST = 3_000_000
"""Bd; a port that cannot goes back to the rate it began with."""

EPILOG = """\
examples:
  hmic display dunlin.pack
  hmic display --store flash.bin              an empty display; push a pack to it
  hmic display dunlin.pack --picture now.png  `kill -USR1 PID` writes what it shows
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("file", type=Path, nargs="?", help="a screen pack to start with")
    parser.add_argument("--port", help="serve on this serial port instead of a pseudo terminal")
    parser.add_argument(
        "--baud", type=int, default=DEFAULT_BAUD, help="line rate in Bd (default %(default)s)"
    )
    parser.add_argument("--half-duplex", action="store_true", help="two wires for both ways, as RS-485")
    parser.add_argument("--store", type=Path, metavar="FILE", help="keep packs in this file, as flash would")
    parser.add_argument("--picture", type=Path, metavar="PNG", help="where SIGUSR1 writes the frame")


def run(arguments: argparse.Namespace) -> int:
    """Serves until Ctrl-C."""
    import os

    from hmic.display.serve import Server, open_display
    from hmic.link.half_duplex import HalfDuplexDisplay
    from hmic.link.pseudo_terminal import PseudoTerminal
    from hmic.link.serial_port import open_port
    from hmic.link.shape import Link

    pack = read_whole(arguments.file, "the pack") if arguments.file else None
    # Over two wires the display never has the last word at the old rate.
    fastest = FASTEST if arguments.port and not arguments.half_duplex else 0
    display = open_display(pack, arguments.store, fastest=fastest)

    def connect() -> Link:
        link: Link
        if arguments.port:
            link = open_port(arguments.port, arguments.baud)
        else:
            link = terminal = PseudoTerminal()
            _say(f"port {terminal.path}")
        return HalfDuplexDisplay(link, arguments.baud) if arguments.half_duplex else link

    glass = display.glass
    _say(f"display {glass.width} x {glass.height}, {glass.depth} bits a pixel, process {os.getpid()}")
    Server(display, connect, _say, arguments.picture, arguments.baud).run()
    return 0


def _say(sentence: str) -> None:
    print(sentence, flush=True)
