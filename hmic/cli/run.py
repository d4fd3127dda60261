"""Shows a vehicle's signals on a display: live from a CAN channel, or from a recorded log.

A value that stops arriving is shown as stale. Nothing is ever sent to the vehicle's bus.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.binding import bind
from hmic.cli.compiling import compile_or_stop
from hmic.diagnostics import DesignError, as_text, error

if TYPE_CHECKING:
    from hmic.model.design import Design
    from hmic.runtime.clock import VehicleTime
    from hmic.runtime.run import Status, Summary
    from hmic.runtime.runtime import RuntimeEvent
    from hmic.runtime.sources import Source

EPILOG = """\
examples:
  hmic run layouts/dunlin --port /dev/ttyUSB0 --can can0
  hmic run layouts/dunlin --port /dev/pts/3 --replay layouts/dunlin/logs/ten_minutes.blf --speed 10
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument("--port", required=True, help="the display's serial port, or a pyserial URL")
    parser.add_argument("--baud", type=int, help="line rate in Bd (default: the design's)")
    parser.add_argument(
        "--replay", type=Path, metavar="LOG", help="play a log (.log, .asc, .blf, .csv, .trc)"
    )
    parser.add_argument("--speed", type=_speed, default=1.0, metavar="N", help="play the log N times as fast")
    parser.add_argument("--can", metavar="CHANNEL", help="listen on a CAN channel, such as can0")
    parser.add_argument("--interface", default="socketcan", help="python-can interface (default %(default)s)")
    parser.add_argument("--theme", metavar="T", help="the theme to show (default: as themes.yaml chooses)")


def run(arguments: argparse.Namespace) -> int:
    """Runs until the log ends or Ctrl-C; 1 if something was found wrong on the way."""
    from hmic.link.serial_port import open_port
    from hmic.runtime.clock import VehicleTime
    from hmic.runtime.run import local_minutes
    from hmic.runtime.run import run as run_loop
    from hmic.runtime.runtime import Runtime

    if arguments.replay and arguments.can:
        raise DesignError([error("U930", "--replay and --can exclude each other", None, "give one of them")])
    compiled = compile_or_stop(arguments.design)
    bound = bind(compiled)
    names = [theme.name for theme in compiled.design.themes]
    theme = _theme(arguments.theme, names)
    vehicle_time = VehicleTime(arguments.speed)
    sources = open_sources(compiled.design, arguments, vehicle_time)
    runtime = Runtime(bound, int.from_bytes(os.urandom(4), "little"), vehicle_time, theme=theme)
    baud = arguments.baud or compiled.design.panel.baud
    line = StatusLine()
    summary = run_loop(
        runtime,
        lambda: open_port(arguments.port, baud),
        sources,
        on_event=line.event,
        on_status=line.status,
        await_display=arguments.replay is not None,
        time_of_day=local_minutes,
    )
    line.end()
    print(summed_up(summary))
    return 1 if any(finding.severity.value == "error" for finding in summary.findings) else 0


def open_sources(design: Design, arguments: argparse.Namespace, vehicle_time: VehicleTime) -> list[Source]:
    """The sources that the command line names; none shows a dashboard of unseen values."""
    from hmic.runtime.decoding import load_decoder
    from hmic.runtime.logs import Log
    from hmic.runtime.sources import LiveCan, Replay

    if arguments.replay:
        return [Replay(Log(arguments.replay), load_decoder(design), vehicle_time)]
    if arguments.can:
        return [LiveCan(arguments.can, arguments.interface, load_decoder(design), vehicle_time)]
    return []


def summed_up(summary: Summary) -> str:
    """What a run did, in one line."""
    return f"{summary.frames} frames in, {summary.updates} updates and {summary.bytes_out} bytes out"


class StatusLine:
    """Rates on one line of a terminal; events above it."""

    def __init__(self, write: Callable[[str], object] = sys.stderr.write) -> None:
        self._write = write
        self._open = False

    def status(self, status: Status) -> None:
        """Once a second."""
        if not sys.stderr.isatty():
            return
        text = (
            f"\r{status.screen:<12} {status.frames:6.0f} frames/s in {status.updates:5.0f} updates/s "
            f"{status.bytes_out:6.0f} bytes/s out  display {status.link:<8} {status.stale} stale "
        )
        self._write(text)
        sys.stderr.flush()
        self._open = True

    def event(self, event: RuntimeEvent) -> None:
        """Something to tell at once."""
        from hmic.runtime.runtime import LinkChanged, Problem, ScreenChanged

        if isinstance(event, Problem):
            text = as_text([event.finding], {})
        elif isinstance(event, LinkChanged):
            text = "display connected" if event.up else "display lost; waiting for it"
        elif isinstance(event, ScreenChanged):
            return
        else:
            text = str(event)
        self.end()
        self._write(text + "\n")

    def end(self) -> None:
        """Leaves the status line."""
        if self._open:
            self._write("\n")
            self._open = False


def _speed(text: str) -> float:
    value = float(text)
    if not 0 < value <= 1e6:
        raise argparse.ArgumentTypeError("must be above 0")
    return value


def _theme(wanted: str | None, names: list[str]) -> int | None:
    from hmic.diagnostics import did_you_mean

    if wanted is None:
        return None
    if wanted not in names:
        remedy = did_you_mean(wanted, names, "themes")
        raise DesignError([error("U920", f"the design has no theme '{wanted}'", None, remedy)])
    return names.index(wanted)
