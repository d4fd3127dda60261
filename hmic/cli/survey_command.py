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
from hmic.cli.writing import write_result
from hmic.diagnostics import DesignError, error
from hmic.foreign_text import drawn_on, encodable

if TYPE_CHECKING:
    from hmic.sources.log import Log
    from hmic.survey.survey import Recording

EPILOG = """\
examples:
  hmic survey --log drive.blf --dbc car.dbc
  hmic survey --log drive.log.gz --dbc motor.dbc --dbc charger.dbc --page drive.html
  hmic survey --can can0 --seconds 60 --dbc car.dbc --json
"""
NARROWEST = 120
"""Columns of a table that goes nowhere in particular."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument(
        "--dbc", type=Path, action="append", default=[], metavar="FILE", help="a description; may be repeated"
    )
    parser.add_argument(
        "--log", type=Path, action="append", default=[], metavar="LOG", help="a recording; may be repeated"
    )
    parser.add_argument("--can", metavar="CHANNEL", help="listen on a CAN channel; nothing is sent")
    parser.add_argument("--interface", default="socketcan", help="python-can interface (default %(default)s)")
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
    descriptions = Descriptions(arguments.dbc)
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
    from hmic.runtime.adapters import Adapter
    from hmic.runtime.overhear import overhear
    from hmic.sources.log import Log

    logs = [Log(path) for path in arguments.log]
    recordings: list[Recording] = [(log.name, log.rows(), "", log.timed) for log in logs]
    if arguments.can:
        adapter = Adapter(arguments.can, arguments.interface, only_listen=True)
        show(adapter.notes(), {})
        recordings.append((arguments.can, overhear(adapter, arguments.seconds), "", True))
    return logs, recordings
