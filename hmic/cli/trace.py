"""Makes the picture that the driver saw at a moment: of a record, exactly what was on the display; of a log
of frames, or for another screen, what it would have shown then.

A log of frames holds no touches. The screen in sight then is the start screen, or the one that came up by
itself (`comes up when`) for what the log had brought; the output says which, and why.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.binding import bind
from hmic.cli.compiling import Compiled, compile_or_stop
from hmic.cli.preview import write_picture
from hmic.cli.show import show
from hmic.diagnostics import DesignError, did_you_mean, error

if TYPE_CHECKING:
    from hmic.runtime.binding import BoundDesign
    from hmic.runtime.retrace import Moment, Sighting

EPILOG = """\
examples:
  hmic trace layouts/dunlin --replay van.record --at 12:34 --out then.png
  hmic trace layouts/dunlin --replay van.record --at 1:02:03.5 --screen cells --out cells.png
  hmic trace layouts/dunlin --replay layouts/dunlin/logs/ten_minutes.blf --at 1:40 --out drive.png

A time counts from the start of the run: seconds, minutes:seconds or hours:minutes:seconds.
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument(
        "--replay", type=Path, required=True, metavar="LOG", help="a record, or a log of frames"
    )
    parser.add_argument("--at", required=True, metavar="TIME", help="the moment, such as 12:34")
    parser.add_argument("--screen", metavar="S", help="this screen, not the one in sight then")
    parser.add_argument("--theme", metavar="T", help="another theme")
    parser.add_argument("--clock", metavar="HH:MM", help="the time of day, where none was recorded")
    parser.add_argument("--out", type=Path, required=True, metavar="PNG", help="the picture to write")


def run(arguments: argparse.Namespace) -> int:
    """Writes the picture and says where its values are from, and why this screen."""
    from hmic.paint.frame import Painter
    from hmic.paint.operations import Moment as Painted
    from hmic.runtime.decoding import load_decoder
    from hmic.runtime.replays import entries_of, of_no_message, open_replay
    from hmic.runtime.retrace import moment

    at = seconds(arguments.at)
    clock = None if arguments.clock is None else _minutes(arguments.clock)
    compiled = compile_or_stop(arguments.design)
    bound = bind(compiled)
    names = [screen.name for screen in bound.screens]
    themes = [theme.name for theme in bound.design.themes]
    wanted = None if arguments.screen is None else _place(arguments.screen, names, "screen")
    dressed = None if arguments.theme is None else _place(arguments.theme, themes, "theme")
    log, decoder = open_replay(arguments.replay), load_decoder(bound.design)
    then = moment(bound, entries_of(log), decoder, at, clock)
    show([*log.findings, *decoder.take_findings(), *of_no_message(decoder, then.frames, log.name)], {})
    if at > then.last:
        message = f"'{arguments.replay.name}' ends at {_clock(then.last)}, before {arguments.at}"
        raise DesignError([error("U937", message, None, f"choose a time up to {_clock(then.last)}")])
    found = _found(bound, then, wanted)
    theme = found.theme if dressed is None else dressed
    source = found.source + (", but for its theme" if found.exact and theme != found.theme else "")
    shown = Painted(found.screen, theme, found.raw)
    write_picture(arguments.out, Painter(compiled.arranged.drawing).paint(shown))
    print(
        f"{arguments.out}: screen '{names[found.screen]}', theme '{themes[theme]}', at {_clock(at)}, {source}"
    )
    if not found.recorded:
        print(why(compiled, names, then.sightings))
    return 0


@dataclass(frozen=True)
class _Found:
    """What to paint and where it is from: ``exact`` as the display had it, ``recorded`` where the
    screen in sight at least is known."""

    screen: int
    theme: int
    raw: tuple[int, ...]
    source: str
    exact: bool
    recorded: bool


def _found(bound: BoundDesign, then: Moment, wanted: int | None) -> _Found:
    """What the display had, or what follows from what had come."""
    from hmic.runtime.retrace import as_seen

    names = [screen.name for screen in bound.screens]
    seen = None if then.seen is None else as_seen(bound, then.seen)
    if seen is not None and wanted in (None, seen[0]):
        return _Found(*seen, "as the display had it", True, True)
    source = "worked out from what had come"
    if then.seen is not None and seen is None:
        source += f"; the display had pack {then.seen.pack}, the design builds to another now"
    recorded = then.seen is not None and then.seen.screen in names
    if then.seen is not None and recorded:
        in_sight = names.index(then.seen.screen)
    else:
        in_sight = then.sightings[-1].screen
    screen = in_sight if wanted is None else wanted
    return _Found(screen, seen[1] if seen is not None else then.theme, then.raw, source, False, recorded)


def why(compiled: Compiled, names: Sequence[str], sightings: Sequence[Sighting]) -> str:
    """Which screen was in sight by a log without touches, why, and what such a log cannot know."""
    now = sightings[-1]
    name = f"'{names[now.screen]}'"
    if now.causes:
        known = f"{name}, which came up by itself at {_clock(now.at)}{_causes(compiled, names, now)}"
        stays = compiled.arranged.screens[now.screen].yields_when_acknowledged
        doubt = "somebody may have acknowledged it by then" if stays else "somebody may have gone to another"
    elif len(sightings) > 1:
        before = sightings[-2]
        span = f"from {_clock(before.at)} to {_clock(now.at)}{_causes(compiled, names, before)}"
        known = f"{name}, the start screen, again: '{names[before.screen]}' was {span}"
        doubt = "somebody may have chosen another"
    else:
        known = f"{name}, the start screen: none had come up by itself"
        doubt = "somebody may have chosen another"
    return f"  in sight: {known}\n  not known: this log holds no touches; {doubt}, and --screen shows it"


def _causes(compiled: Compiled, names: Sequence[str], sighting: Sighting) -> str:
    from hmic.arrange.compose import alternatives
    from hmic.language.written import written

    rises = compiled.design.screens[names[sighting.screen]].rises
    if rises is None:
        return ""
    causes = [written(cause) for cause in alternatives(rises)]
    return ", for `" + "` and `".join(causes[number] for number in sighting.causes) + "`"


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


def _minutes(text: str) -> float:
    from hmic.model.samples import time_of_day

    minutes = time_of_day(text)
    if minutes is None:
        raise DesignError([error("U938", f"'{text}' is no time of day", None, "write 10:24")])
    return minutes


def _clock(at: float) -> str:
    minutes, rest = divmod(at, 60)
    return f"{minutes:.0f}:{rest:05.2f}"


def _place(wanted: str, names: list[str], kind: str) -> int:
    if wanted not in names:
        remedy = did_you_mean(wanted, names, f"{kind}s")
        raise DesignError([error("U920", f"the design has no {kind} '{wanted}'", None, remedy)])
    return names.index(wanted)
