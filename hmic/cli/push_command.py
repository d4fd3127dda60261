"""Sends a screen pack to a display, and has it switch when the pack is whole and right.

The display keeps its old pack until then; a push that breaks off goes on where it was. What the
display has already, in its old pack or from a push that broke off, is not sent.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.writing import read_pack
from hmic.diagnostics import DesignError, Finding, error
from hmic.foreign_text import drawn_on
from hmic.paint.operations import Drawing
from hmic.wire.events import DisplayFacts, Outcome, Progress, Surveyed

if TYPE_CHECKING:
    from rich.progress import Progress as Bar
    from rich.progress import TaskID

    from hmic.link.any_link import Link
    from hmic.link.push import Pushed

DEFAULT_BAUD = 115200

EPILOG = """\
examples:
  hmic push mycar.pack --port /dev/ttyUSB0
  hmic push mycar.pack --port /dev/ttyUSB0 --dry-run
  hmic push mycar.pack --port socket://van.local:7000
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("file", type=Path, help="the screen pack of hmic build, or a host file of hmic bind")
    parser.add_argument("--port", required=True, help="serial port, or a pyserial URL")
    parser.add_argument(
        "--baud", type=int, help=f"line rate in Bd (default: the pack's, or {DEFAULT_BAUD})"
    )
    parser.add_argument(
        "--fastest", type=int, default=0, metavar="BD", help="agree on a higher rate for the push, if it can"
    )
    parser.add_argument("--half-duplex", action="store_true", help="two wires for both ways, as RS-485")
    parser.add_argument("--dry-run", action="store_true", help="only say what would be sent")
    parser.add_argument("--yes", action="store_true", help="do not ask before a pack for another panel")


def run(arguments: argparse.Namespace) -> int:
    """Pushes with a progress bar on a terminal; says how it went."""
    from hmic.link.half_duplex import SHARE, HalfDuplexHost
    from hmic.link.push import answering_rate, push
    from hmic.link.serial_port import open_port

    if arguments.baud is not None:
        _usual(arguments.baud)
    pack, drawing = read_pack(arguments.file)
    port, baud = arguments.port, _usual(arguments.baud or drawing.baud or DEFAULT_BAUD)
    told = _Told(arguments.dry_run)
    asked = _Asked(drawing, arguments.yes)

    def opened(rate: int) -> Link:
        line = open_port(port, rate)
        return HalfDuplexHost(line, rate) if arguments.half_duplex else line

    def at(rate: int) -> Pushed:
        try:
            return push(
                lambda: opened(rate),
                pack,
                rate,
                asked.fits,
                on_progress=told.progress,
                dry=arguments.dry_run,
                on_survey=told.survey,
                fastest=0 if arguments.half_duplex else arguments.fastest,
                share=SHARE if arguments.half_duplex else 1.0,
            )
        finally:
            told.end()

    try:
        pushed = at(baud)
    except DesignError as failure:
        if failure.findings[0].code != "W650":
            raise
        print(f"nothing answers at {baud} Bd; looking at other rates", file=sys.stderr)
        found = answering_rate(opened, baud)
        if found is None:
            raise
        print(f"the display answers at {found} Bd", file=sys.stderr)
        pushed = at(found)
    print(summed_up(pushed, len(pack)))
    if pushed.touches_lost:
        lost = f"{pushed.touches_lost} presses and releases that no run has heard"
        print(f"the display had felt fingers before: {lost} are lost", file=sys.stderr)
    return 0


def summed_up(pushed: Pushed, size: int) -> str:
    """How a push went, in a sentence or two."""
    if pushed.outcome is Outcome.UNCHANGED:
        return "the display has this pack already; nothing was sent"
    survey = pushed.survey
    reused = survey.reused if survey is not None else 0
    arrived = survey.arrived if survey is not None else 0
    held = [f"{reused} in its old pack"] if reused else []
    held += [f"{arrived} from a push that broke off"] if arrived else []
    there = " and ".join(held)
    if pushed.outcome is Outcome.CANCELLED:
        rest = size - reused - arrived
        travels = survey.travels if survey is not None and survey.travels is not None else rest
        return (
            f"of {size} bytes the display has {there or 'none'}; {rest} would be sent, squeezed to "
            f"{travels}, in about {_seconds(travels, pushed.baud)}; nothing was changed"
        )
    had = f" it had {there};" if held else ""
    return (
        f"the display has the new pack after {pushed.seconds:.1f} s: of {size} bytes{had} "
        f"{pushed.bytes_sent} went over the line; all of them as they are would take "
        f"{_seconds(size, pushed.baud)}"
    )


def _usual(baud: int) -> int:
    """The rate, if lines have it. Raises ``DesignError`` U931."""
    from hmic.link.push import USUAL_RATES

    if not min(USUAL_RATES) <= baud <= max(USUAL_RATES):
        remedy = "common rates are 9600, 115200, 921600 and 3000000"
        message = f"a line rate of {baud} Bd is outside {min(USUAL_RATES)}..{max(USUAL_RATES)}"
        raise DesignError([error("U931", message, None, remedy)])
    return baud


def _seconds(size: int, baud: int) -> str:
    """The time that so many bytes take on the line, of ten bits each."""
    return f"{size * 10 / baud:.1f} s at {baud} Bd"


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


class _Asked:
    """Whether the pack may go to the display that answers. Asked once."""

    def __init__(self, drawing: Drawing, yes: bool) -> None:
        self._drawing = drawing
        self._allowed = yes

    def fits(self, facts: DisplayFacts) -> Finding | None:
        finding = misfit(self._drawing, facts)
        if finding is None or self._allowed:
            return None
        if sys.stdin.isatty() and sys.stderr.isatty():
            print(f"{finding.message}.\nSend it all the same? [y/N] ", end="", file=sys.stderr, flush=True)
            self._allowed = sys.stdin.readline().strip().lower() in ("y", "yes")
        return None if self._allowed else finding


class _Told:
    """A progress bar on a terminal, with rich if it is there, and nothing elsewhere."""

    def __init__(self, dry: bool) -> None:
        self._bar: Bar | None = None
        self._task: TaskID | None = None
        self._plain = False
        self._reused = 0
        self._wanted = sys.stderr.isatty() and not dry

    def survey(self, survey: Surveyed) -> None:
        """What will be sent is known."""
        self._reused = survey.reused

    def progress(self, progress: Progress) -> None:
        """The display has stored more."""
        if not self._wanted:
            return
        if self._bar is None and not self._plain:
            self._open(progress)
        if self._bar is not None and self._task is not None:
            self._bar.update(self._task, completed=progress.done)
        elif self._plain:
            part = progress.done / max(1, progress.size)
            text = f"\r[{'#' * round(part * 30):<30}] {progress.done}/{progress.size} bytes"
            print(text, end="", file=drawn_on(sys.stderr), flush=True)

    def end(self) -> None:
        """Leaves the line."""
        if self._bar is not None:
            self._bar.stop()
            self._bar = None
        elif self._plain:
            print(file=sys.stderr)
        self._plain = False

    def _open(self, progress: Progress) -> None:
        try:
            from rich.console import Console
            from rich.progress import BarColumn, DownloadColumn, TimeRemainingColumn, TransferSpeedColumn
            from rich.progress import Progress as Bar
        except ImportError:
            self._plain = True
            return
        kept = f"{self._reused} bytes not sent" if self._reused else ""
        columns = (
            BarColumn(),
            DownloadColumn(),
            TransferSpeedColumn(),
            TimeRemainingColumn(),
            "{task.description}",
        )
        self._bar = Bar(*columns, console=Console(file=drawn_on(sys.stderr)))
        self._bar.start()
        self._task = self._bar.add_task(kept, total=progress.size, completed=progress.done)
