"""Makes the picture that the driver saw at a moment: of a record, exactly what was on the display; of a log
of frames, or for another screen, what it would have shown then.

A log of frames holds no touches. The screen in sight then is the start screen, or the one that came up by
itself (`comes up when`) for what the log had brought; the output says which, and why.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from hmic.cli.designs import compile_or_stop
from hmic.cli.moments import replayed
from hmic.cli.writing import write_picture
from hmic.compile.bind import bind
from hmic.diagnostics import DesignError, did_you_mean, error

EPILOG = """\
examples:
  hmic trace layouts/dunlin --replay van.record --at 12:34 --out then.png
  hmic trace layouts/dunlin --replay van.record --at 1:02:03.5 --screen cells --out cells.png
  hmic trace layouts/dunlin --replay layouts/dunlin/logs/ten_minutes.blf --at 1:40 --out drive.png

A time counts from the start of the run, of a log from its first frame: seconds, minutes:seconds or
hours:minutes:seconds. With @ before it, it is one of the log's own stamps: @1700000012.5,
@2026-11-29T10:12:30 or @10:12:30, as the log has them.
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument(
        "--replay",
        action="append",
        required=True,
        metavar="[BUS=]LOG[#CHANNEL]",
        help="a record, or a log of frames, once a bus",
    )
    parser.add_argument("--at", required=True, metavar="TIME", help="the moment, such as 12:34")
    parser.add_argument("--screen", metavar="S", help="this screen, not the one in sight then")
    parser.add_argument("--theme", metavar="T", help="another theme")
    parser.add_argument("--clock", metavar="HH:MM", help="the time of day, where none was recorded")
    parser.add_argument("--out", type=Path, required=True, metavar="PNG", help="the picture to write")


def run(arguments: argparse.Namespace) -> int:
    """Writes the picture and says where its values are from, and why this screen."""
    from hmic.paint.operations import Moment as Painted
    from hmic.paint.painter import Painter
    from hmic.show.in_sight import found, why

    compiled = compile_or_stop(arguments.design)
    bound = bind(compiled)
    names = [screen.name for screen in bound.screens]
    themes = [theme.name for theme in bound.design.themes]
    wanted = None if arguments.screen is None else _place(arguments.screen, names, "screen")
    dressed = None if arguments.theme is None else _place(arguments.theme, themes, "theme")
    moment = replayed(bound, arguments.replay, arguments.at, arguments.clock)
    seen = found(bound, moment.then, wanted)
    theme = seen.theme if dressed is None else dressed
    source = seen.source + (", but for its theme" if seen.exact and theme != seen.theme else "")
    shown = Painted(seen.screen, theme, seen.raw)
    write_picture(arguments.out, Painter(compiled.arranged.drawing).paint(shown))
    what = f"screen '{names[seen.screen]}', theme '{themes[theme]}'"
    print(f"{arguments.out}: {what}, at {moment.text}, {source}")
    print(f"  0:00 is {moment.zero}")
    if not seen.recorded:
        print(why(compiled, names, moment.then.sightings))
    return 0


def _place(wanted: str, names: list[str], kind: str) -> int:
    if wanted not in names:
        remedy = did_you_mean(wanted, names, f"{kind}s")
        raise DesignError([error("U920", f"the design has no {kind} '{wanted}'", None, remedy)])
    return names.index(wanted)
