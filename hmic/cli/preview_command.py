"""Paints every screen in every theme as PNG, exactly as a display would; or in a browser, while you write.

With no vehicle at hand the signals have plausible samples; --set changes them. With --replay they are what a
recording had brought by the moment --at. With an error in the design all else is painted with samples, and
nothing of a recording: what has the error is left empty, hatched at its edge, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.designs import compile_or_stop, compile_to_look
from hmic.cli.findings import numbered, port_refused, show
from hmic.cli.writing import write_picture
from hmic.compile.compiling import Compiled, Failed
from hmic.diagnostics import DesignError, Severity, Shown, did_you_mean, error, sorted_findings
from hmic.model.samples import sample_values, set_value
from hmic.model.touch_progress import TOUCH_WORDS, TouchState
from hmic.paint.operations import Moment

if TYPE_CHECKING:
    from hmic.model.expressions import Value

EPILOG = """\
examples:
  hmic preview layouts/dunlin --live
  hmic preview layouts/dunlin --live --replay layouts/dunlin/logs/ten_minutes.blf
  hmic preview layouts/dunlin --out pictures
  hmic preview layouts/dunlin --out pictures --screen drive --theme night
  hmic preview layouts/dunlin --out pictures --set pack.charge=12 --set vehicle.speed="80 km/h"
  hmic preview layouts/dunlin --out pictures --set vehicle.speed=stale --sheet
  hmic preview layouts/dunlin --out pictures --touch refused
  hmic preview layouts/dunlin --out pictures --replay layouts/dunlin/logs/ten_minutes.blf --at 1:40

a signal can also be set to: unseen, stale, out (of range); the time by clock.time=10:24
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument("--out", type=Path, metavar="DIR", help="folder for the pictures")
    parser.add_argument(
        "--live", action="store_true", help="in a browser instead, and again with every file that is saved"
    )
    parser.add_argument(
        "--page-port", type=int, default=0, metavar="N", help="of the page; any free one if it is not said"
    )
    parser.add_argument("--screen", metavar="S", help="this screen only")
    parser.add_argument("--theme", metavar="T", help="this theme only")
    parser.add_argument("--language", metavar="L", help="in this language, by words/L.yaml of the design")
    parser.add_argument(
        "--set", action="append", default=[], metavar="signal=value", dest="settings", help="a signal's value"
    )
    parser.add_argument(
        "--replay",
        action="append",
        default=[],
        metavar="[BUS=]LOG[#CHANNEL]",
        help="values of a record, or of a log of frames, once a bus",
    )
    parser.add_argument("--at", metavar="TIME", help="the moment of it, such as 12:34; see hmic trace")
    parser.add_argument(
        "--sheet", action="store_true", help="also one contact sheet with the doubtful states"
    )
    parser.add_argument(
        "--pictograms", action="store_true", help="also all pictograms by name, the design's own first"
    )
    parser.add_argument(
        "--touch",
        choices=[word.value for word in TOUCH_WORDS],
        help="with every control as a touch in that state leaves it",
    )
    parser.add_argument(
        "--seen-at", choices=("night", "dusk", "day", "sun"), help="as it reaches the eye in that light"
    )
    parser.add_argument(
        "--vision", choices=("protan", "deutan", "tritan", "grey"), help="as such an eye sees the colours"
    )
    parser.add_argument("--findings", action="store_true", help="with numbered frames where findings are")


def run(arguments: argparse.Namespace) -> int:
    """Writes SCREEN-THEME.png for each, and contact-sheet.png if asked; 1 with an error in the design."""
    from hmic.show.screens import raw_values

    if arguments.live:
        return _live(arguments)
    if arguments.out is None:
        remedy = "add --out DIR, or --live to look in a browser"
        raise DesignError([error("U946", "it is not said where the pictures go", None, remedy)])
    _look_at_sources(arguments)
    if arguments.replay:
        return _replayed(arguments)
    result = compile_to_look(arguments.design, arguments.language)
    failed = isinstance(result, Failed)
    compiled = result.with_gaps if isinstance(result, Failed) else result
    assert compiled is not None
    drawing = compiled.arranged.drawing
    screens = _chosen([screen.name for screen in drawing.screens], arguments.screen, "screen")
    themes = _chosen([theme.name for theme in drawing.themes], arguments.theme, "theme")
    touch = arguments.touch or TouchState.IDLE
    given = dict(set_value(compiled.design, setting) for setting in arguments.settings)

    def values(screen: int) -> dict[str, Value]:
        return sample_values(compiled.design, drawing.screens[screen].name) | given

    raw = {screen: raw_values(compiled, values(screen), touch) for screen in screens}
    if not arguments.findings:
        weighty = {Severity.WARNING, Severity.ERROR}
        show([item for item in compiled.findings if item.severity in weighty], compiled.design.sources)
    _write(arguments, compiled, screens, themes, values, raw=raw.__getitem__)
    if arguments.pictograms:
        _write_pictograms(arguments, compiled, [drawing.themes[theme].name for theme in themes])
    if failed:
        _tell_gaps(compiled, screens)
    return 1 if failed else 0


def _live(arguments: argparse.Namespace) -> int:
    """Serves the page until it is interrupted."""
    import asyncio

    from hmic.show.serving import Live

    if not (arguments.design / "design.yaml").is_file():
        compile_to_look(arguments.design, arguments.language)

    async def serve() -> None:
        live = Live(arguments.design, arguments.language, arguments.replay)
        try:
            await live.begin(arguments.page_port)
        except (OSError, OverflowError) as failed:
            raise port_refused(arguments.page_port, failed) from None
        print(f"{live.address}\n  open it in a browser on this computer; Ctrl-C ends it", flush=True)
        await live.watch()

    asyncio.run(serve())
    return 0


def _look_at_sources(arguments: argparse.Namespace) -> None:
    """Raises ``DesignError`` U930 or U944 where it is not said once where the values are from."""
    if bool(arguments.replay) != bool(arguments.at):
        given, lacking = ("--replay", "--at TIME") if arguments.replay else ("--at", "--replay LOG")
        message = f"{given} is given without {lacking}"
        raise DesignError([error("U944", message, None, f"add {lacking}")])
    if arguments.replay and (arguments.settings or arguments.touch):
        other = "--set" if arguments.settings else "--touch"
        message = f"values are to come from a recording and from {other}"
        raise DesignError([error("U930", message, None, "give one of them")])


def _replayed(arguments: argparse.Namespace) -> int:
    """The same of a moment of a recording, through all that a run does with it."""
    from hmic.cli.moments import replayed
    from hmic.compile.bind import bind
    from hmic.show.in_sight import found

    try:
        compiled = compile_or_stop(arguments.design, arguments.language)
    except Shown:
        said = "no picture of a recording while there are errors; without --replay the rest is painted"
        print(said, file=sys.stderr)
        raise
    drawing = compiled.arranged.drawing
    screens = _chosen([screen.name for screen in drawing.screens], arguments.screen, "screen")
    themes = _chosen([theme.name for theme in drawing.themes], arguments.theme, "theme")
    bound = bind(compiled)
    moment = replayed(bound, arguments.replay, arguments.at)
    seen = {screen: found(bound, moment.then, screen) for screen in screens}

    def samples(screen: int) -> dict[str, Value]:
        return sample_values(compiled.design, drawing.screens[screen].name)

    _write(arguments, compiled, screens, themes, samples, raw=lambda screen: seen[screen].raw)
    print(f"at {moment.text}, where 0:00 is {moment.zero}")
    for source in dict.fromkeys(each.source for each in seen.values()):
        names = [drawing.screens[screen].name for screen, each in seen.items() if each.source == source]
        print(f"  {source}: {', '.join(names)}")
    return 0


def _write(
    arguments: argparse.Namespace,
    compiled: Compiled,
    screens: list[int],
    themes: list[int],
    values: Callable[[int], dict[str, Value]],
    *,
    raw: Callable[[int], tuple[int, ...]],
) -> None:
    """``raw`` gives the values that a screen is shown with, ``values`` what faults are added to there."""
    from hmic.show.contact_sheet import contact_sheet
    from hmic.show.screens import brush, finisher

    drawing = compiled.arranged.drawing
    paint = brush(compiled)
    findings = sorted_findings(compiled.findings) if arguments.findings else []
    if arguments.findings:
        print(numbered(findings))
    finish = finisher(compiled, framed=findings, vision=arguments.vision, condition=arguments.seen_at)
    for theme in themes:
        for screen in screens:
            name = f"{drawing.screens[screen].name}-{drawing.themes[theme].name}.png"
            picture = paint(Moment(screen, theme, raw(screen)))
            write_picture(arguments.out / name, finish(picture, screen, theme))
            print(arguments.out / name)
    if arguments.sheet:
        sheet = contact_sheet(compiled, paint, screens, themes, values, live=raw)
        write_picture(arguments.out / "contact-sheet.png", sheet)
        print(arguments.out / "contact-sheet.png")


def _write_pictograms(arguments: argparse.Namespace, compiled: Compiled, themes: list[str]) -> None:
    from hmic.show.pictogram_sheet import pictogram_sheet

    for theme, picture in pictogram_sheet(compiled.design):
        if theme in themes:
            write_picture(arguments.out / f"pictograms-{theme}.png", picture)
            print(arguments.out / f"pictograms-{theme}.png")


def _tell_gaps(compiled: Compiled, screens: list[int]) -> None:
    """Says which places are left empty, so that nobody takes the pictures for the whole design."""
    from hmic.check.finding_places import left_empty

    told = []
    for number in screens:
        screen = compiled.arranged.screens[number]
        if count := len(left_empty(compiled.findings, screen)):
            told.append(f"{count} on '{screen.name}'")
    where = f"places left empty, hatched at the edge: {', '.join(told)}; " if told else ""
    print(f"{where}nothing is built or shown until the errors are corrected", file=sys.stderr)


def _chosen(names: list[str], wanted: str | None, kind: str) -> list[int]:
    if wanted is None:
        return list(range(len(names)))
    if wanted in names:
        return [names.index(wanted)]
    remedy = did_you_mean(wanted, names, f"{kind}s")
    raise DesignError([error("U920", f"the design has no {kind} '{wanted}'", None, remedy)])
