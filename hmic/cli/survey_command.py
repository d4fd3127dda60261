"""Says what a bus or recording holds, and which description explains it: each identifier with its period, the
bits that move, counters and checksums that fit, the fields with their ranges, states and values for "not
available", and in identifiers that nothing explains the stretches that move like a known value.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.findings import show
from hmic.cli.recordings import open_recordings
from hmic.cli.writing import write_result
from hmic.diagnostics import DesignError, error
from hmic.foreign_text import drawn_on, encodable
from hmic.runtime.wiring import Wire, named

if TYPE_CHECKING:
    from hmic.sources.log import Log
    from hmic.survey.survey import Recording

EPILOG = """\
examples:
  hmic survey --log drive.blf --dbc car.dbc
  hmic survey --log drive.log.gz --dbc motor.dbc --dbc charger.dbc --page drive.html
  hmic survey --dbc car=donor.dbc --log car=trip.blf#1
  hmic survey --can can0 --seconds 60 --dbc car.dbc --json
"""
NARROWEST = 120
"""Columns of a table that goes nowhere in particular."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument(
        "--dbc", action="append", default=[], metavar="[BUS=]FILE", help="a description; may be repeated"
    )
    parser.add_argument(
        "--log",
        action="append",
        default=[],
        metavar="[BUS=]LOG[#CHANNEL]",
        help="a recording; may be repeated",
    )
    parser.add_argument(
        "--can",
        metavar="[BUS=]CHANNEL",
        help="listen on a CAN channel, such as can0 or slcan:/dev/ttyACM0@500000; nothing is sent",
    )
    parser.add_argument(
        "--seconds", type=float, default=30.0, metavar="N", help="listen for so long (default %(default)g)"
    )
    parser.add_argument("--json", action="store_true", help="every fact as JSON on standard output")
    parser.add_argument("--page", type=Path, metavar="HTML", help="write a page with a trace of each field")


def run(arguments: argparse.Namespace) -> int:
    """Prints the table or JSON, and writes the page."""
    from hmic.survey.describe import Descriptions
    from hmic.survey.page import as_page
    from hmic.survey.survey import survey
    from hmic.survey.terminal_table import as_table
    from hmic.survey.wording import plain

    if not arguments.log and not arguments.can:
        remedy = "give --log LOG, or --can CHANNEL --seconds N"
        raise DesignError([error("U939", "there is nothing to survey", None, remedy)])
    described = [named(text) for text in arguments.dbc]
    descriptions = Descriptions([Path(path) for _, path in described], [bus for bus, _ in described])
    logs, recordings = _recordings(arguments)
    found = survey(recordings, descriptions)
    findings = [*descriptions.findings, *(finding for log in logs for finding in log.findings)]
    show(findings, {})
    if arguments.page:
        write_result(arguments.page, as_page(found).encode())
    if arguments.json:
        print(json.dumps(plain(found), indent=1, ensure_ascii=False))
        return 0
    columns = shutil.get_terminal_size((NARROWEST, 50)).columns if sys.stdout.isatty() else NARROWEST
    text = as_table(found, columns)
    terminal = drawn_on(sys.stdout) if sys.stdout.isatty() else sys.stdout
    print(encodable(text, terminal), end="", file=terminal)
    return 0


def _recordings(arguments: argparse.Namespace) -> tuple[list[Log], list[Recording]]:
    from hmic.runtime.adapter_form import adapter_of
    from hmic.runtime.overhear import overhear

    logs, recordings = open_recordings([Wire(*named(text)) for text in arguments.log])
    if arguments.can:
        bus, channel = named(arguments.can)
        adapter = adapter_of(channel, only_listen=True)
        show(adapter.notes(), {})
        recordings.append((channel, overhear(adapter, arguments.seconds), bus, True))
    return logs, recordings
