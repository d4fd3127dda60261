"""Makes the picture that the driver saw at a moment: of a record, exactly what was on the display; of a log
of frames, or for another screen, what it would have shown then.

A log of frames holds no touches. The screen in sight then is the start screen, or the one that came up by
itself (`comes up when`) for what the log had brought; the output says which, and why.
"""

from __future__ import annotations

import argparse
import math
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.designs import compile_or_stop
from hmic.cli.findings import show
from hmic.cli.writing import write_picture
from hmic.compile.bind import bind
from hmic.diagnostics import DesignError, did_you_mean, error

if TYPE_CHECKING:
    from hmic.runtime.recording import RecordLog
    from hmic.runtime.replays import PlayedLogs

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
    from hmic.runtime.decoding import load_decoder
    from hmic.runtime.obd import overhearing
    from hmic.runtime.replays import entries_of, open_replay
    from hmic.runtime.seeking import SeekableReplay
    from hmic.show.in_sight import clock_text, found, why

    at = None if arguments.at.startswith("@") else seconds(arguments.at)
    clock = None if arguments.clock is None else _minutes(arguments.clock)
    compiled = compile_or_stop(arguments.design)
    bound = bind(compiled)
    names = [screen.name for screen in bound.screens]
    themes = [theme.name for theme in bound.design.themes]
    wanted = None if arguments.screen is None else _place(arguments.screen, names, "screen")
    dressed = None if arguments.theme is None else _place(arguments.theme, themes, "theme")
    log = open_replay(bound.design, arguments.replay)
    decoder = load_decoder(bound.design, overhearing(bound.design))
    at = _stamped(arguments.at, log) if at is None else at
    with closing(SeekableReplay(bound, entries_of(log), decoder, clock)) as replay:
        then = replay.at(at)
        replay.read_out()
    show([*log.findings, *decoder.take_findings(), *decoder.unmet(log.name)], {})
    if at > replay.last:
        message = f"'{log.name}' ends at {clock_text(replay.last)}, before {arguments.at}"
        raise DesignError([error("U937", message, None, f"choose a time up to {clock_text(replay.last)}")])
    seen = found(bound, then, wanted)
    theme = seen.theme if dressed is None else dressed
    source = seen.source + (", but for its theme" if seen.exact and theme != seen.theme else "")
    shown = Painted(seen.screen, theme, seen.raw)
    write_picture(arguments.out, Painter(compiled.arranged.drawing).paint(shown))
    what = f"screen '{names[seen.screen]}', theme '{themes[theme]}'"
    print(f"{arguments.out}: {what}, at {clock_text(at)}, {source}")
    print(f"  0:00 is {_zero(log)}")
    if not seen.recorded:
        print(why(compiled, names, then.sightings))
    return 0


def seconds(text: str) -> float:
    """A moment: seconds, minutes:seconds or hours:minutes:seconds. Raises DesignError: U938."""
    parts = text.split(":")
    try:
        numbers = [float(part) for part in parts]
        whole = all(part.isdigit() for part in parts[:-1])
        if len(parts) > 3 or not whole or not 0 <= numbers[-1] < 1e12 or any(n >= 60 for n in numbers[1:]):
            raise ValueError
    except ValueError:
        message = f"'{text}' is no time"
        raise DesignError([error("U938", message, None, "write 95, 12:34 or 1:02:03.5")]) from None
    result = 0.0
    for number in numbers:
        result = result * 60 + number
    return result


def _stamped(text: str, log: PlayedLogs | RecordLog) -> float:
    """Seconds since a log's first frame of one of its own stamps, after an @. Raises DesignError: U938."""
    from hmic.sources.text import clock_seconds

    stamp = log.stamp
    if stamp is None:
        message = f"'{log.name}' has no stamps that '{text}' could be one of"
        raise DesignError([error("U938", message, None, "count from its start: 95, 12:34 or 1:02:03.5")])
    try:
        wanted = float(text[1:])
    except ValueError:
        try:
            wanted = clock_seconds(text[1:])
        except ValueError:
            wanted = math.nan
    if not 0 <= wanted - stamp < 1e12:
        message = f"'{text}' is no time from the first stamp of '{log.name}' on"
        raise DesignError([error("U938", message, None, f"that is @{_stamp_text(stamp)}")])
    return wanted - stamp


def _zero(log: PlayedLogs | RecordLog) -> str:
    """What the times of a replay count from."""
    from hmic.runtime.recording import RecordLog

    if isinstance(log, RecordLog):
        return "the start of the run"
    stamped = "" if log.stamp is None else f", which the log stamps {_stamp_text(log.stamp)}"
    return "the first frame" + stamped


def _stamp_text(stamp: float) -> str:
    """A stamp as it can be given back: a date where it can be one, of this century."""
    if 946_684_800 <= stamp < 4_102_444_800:
        return f"{datetime.fromtimestamp(stamp, UTC):%Y-%m-%dT%H:%M:%S.%f}"[:-3]
    return f"{stamp:.3f}"


def _minutes(text: str) -> float:
    from hmic.model.samples import time_of_day

    minutes = time_of_day(text)
    if minutes is None:
        raise DesignError([error("U938", f"'{text}' is no time of day", None, "write 10:24")])
    return minutes


def _place(wanted: str, names: list[str], kind: str) -> int:
    if wanted not in names:
        remedy = did_you_mean(wanted, names, f"{kind}s")
        raise DesignError([error("U920", f"the design has no {kind} '{wanted}'", None, remedy)])
    return names.index(wanted)
