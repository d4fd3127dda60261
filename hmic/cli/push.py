"""Sends a screen pack to a display, and has it switch when the pack is whole and right.

The display keeps its old pack until then; a push that breaks off goes on where it was.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from hmic.cli.writing import read_whole
from hmic.diagnostics import Finding, error
from hmic.paint.operations import Drawing
from hmic.wire.events import DisplayFacts, Outcome, Progress

DEFAULT_BAUD = 115200


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("file", type=Path, help="the screen pack, from hmic build")
    parser.add_argument("--port", required=True, help="serial port, or a pyserial URL")
    parser.add_argument(
        "--baud", type=int, default=DEFAULT_BAUD, help="line rate in Bd (default %(default)s)"
    )


def run(arguments: argparse.Namespace) -> int:
    """Pushes with a progress line on a terminal; says how it went."""
    from hmic.link.push import push
    from hmic.link.serial_port import open_port
    from hmic.pack.reader import read

    pack = read_whole(arguments.file, "the pack")
    drawing = read(pack)
    line = _ProgressLine()
    pushed = push(
        lambda: open_port(arguments.port, arguments.baud),
        pack,
        arguments.baud,
        lambda facts: misfit(drawing, facts),
        line.show,
    )
    line.end()
    if pushed.outcome is Outcome.UNCHANGED:
        print("the display has this pack already; nothing was sent")
        return 0
    rate = len(pack) / max(pushed.seconds, 1e-6)
    share = 100 * rate * 10 / arguments.baud
    print(f"{len(pack)} bytes in {pushed.seconds:.1f} s, {rate:.0f} bytes/s ({share:.0f} % of the line)")
    return 0


def misfit(drawing: Drawing, facts: DisplayFacts) -> Finding | None:
    """Why a display is not one that the pack was built for (W654)."""
    has = (facts.width, facts.height, facts.depth)
    wants = (drawing.width, drawing.height, drawing.depth)
    if has == wants:
        return None
    message = (
        f"the pack is for a panel of {wants[0]} x {wants[1]} pixels, {wants[2]} bits; "
        f"the display has {has[0]} x {has[1]}, {has[2]} bits"
    )
    return error("W654", message, None, "set panel in design.yaml to the display's, and build again")


class _ProgressLine:
    """One line that is written over on a terminal, and nothing elsewhere."""

    def __init__(self) -> None:
        self._shown = False

    def show(self, progress: Progress) -> None:
        if sys.stderr.isatty():
            part = progress.done / max(1, progress.size)
            bar = "#" * round(part * 30)
            print(f"\r[{bar:<30}] {progress.done}/{progress.size} bytes", end="", file=sys.stderr, flush=True)
            self._shown = True

    def end(self) -> None:
        if self._shown:
            print(file=sys.stderr)
