"""Writes a design as one page that any browser opens from a file, offline: every screen in every theme, as
the display paints it, to swipe and touch through; a minute of a recording to play; what the checks found.

For a friend, a build log, or whoever inspects the vehicle.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from hmic.cli.designs import compile_or_stop
from hmic.cli.writing import write_result
from hmic.diagnostics import DesignError, error

EPILOG = """\
examples:
  hmic share layouts/dunlin -o dunlin.html
  hmic share layouts/dunlin -o dunlin.html --replay layouts/dunlin/logs/ten_minutes.blf --from 2:00 --to 3:00

Times are as for hmic trace. Without --to it is a minute, or up to the recording's end.
"""
USUAL, LONGEST = 60.0, 600.0
"""Seconds of a recording, where its end is not said, and at most."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="HTML", help="the page to write")
    parser.add_argument("--language", metavar="L", help="in this language, by words/L.yaml of the design")
    parser.add_argument(
        "--replay",
        action="append",
        default=[],
        metavar="[BUS=]LOG[#CHANNEL]",
        help="a record, or a log of frames, once a bus",
    )
    parser.add_argument("--from", dest="begin", metavar="TIME", help="where its part begins, such as 2:00")
    parser.add_argument("--to", dest="end", metavar="TIME", help="where it ends")
    parser.add_argument("--clock", metavar="HH:MM", help="the time of day, where none was recorded")


def run(arguments: argparse.Namespace) -> int:
    """Writes the page and says how large it is and what it holds."""
    from hmic.cli.moments import played
    from hmic.compile.bind import bind
    from hmic.show.share import STEP, Recording, page

    if not arguments.replay and (arguments.begin or arguments.end or arguments.clock):
        message = "a part of a recording is given without the recording"
        raise DesignError([error("U944", message, None, "add --replay LOG")])
    compiled = compile_or_stop(arguments.design, arguments.language)
    recording = None
    if arguments.replay:
        begin = arguments.begin or "0:00"
        part = played(
            bind(compiled),
            arguments.replay,
            begin,
            arguments.end,
            clock=arguments.clock,
            step=STEP,
            usual=USUAL,
            most=LONGEST,
        )
        recording = Recording(part.name, part.begin, part.moments)
    data = page(compiled, recording).encode()
    write_result(arguments.output, data)
    names = [screen.name for screen in compiled.arranged.screens]
    print(f"{arguments.output}: {len(data) / 1000:.0f} kB, screens {', '.join(names)}")
    if recording is not None:
        print(f"  {len(recording.moments) * STEP:.1f} s of {recording.name}")
    return 0
