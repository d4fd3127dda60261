"""Paints every screen in every theme as PNG, exactly as a display would.

With no vehicle at hand the signals have plausible samples; --set changes them. With an error in the design
all else is painted: what has the error is left empty, hatched at its edge, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import io
import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.compiling import Compiled, Failed, compile_to_look
from hmic.cli.show import numbered, show
from hmic.cli.writing import write_result
from hmic.diagnostics import DesignError, Severity, did_you_mean, error, sorted_findings
from hmic.model.channels import Channel, FirstTrue, Scaled, raw_value
from hmic.model.expressions import Doubt, Value
from hmic.model.samples import doubtful_values, lookup, sample_values, set_value
from hmic.model.touch import IDLE, TOUCH_WORDS
from hmic.paint.operations import LIVE, STALE, Moment

if TYPE_CHECKING:
    from PIL.Image import Image

    Brush = Callable[[Moment], Image]

EPILOG = """\
examples:
  hmic preview layouts/dunlin --out pictures
  hmic preview layouts/dunlin --out pictures --screen drive --theme night
  hmic preview layouts/dunlin --out pictures --set pack.charge=12 --set vehicle.speed="80 km/h"
  hmic preview layouts/dunlin --out pictures --set vehicle.speed=stale --sheet
  hmic preview layouts/dunlin --out pictures --touch refused

a signal can also be set to: unseen, stale, out (of range); the time by clock.time=10:24
"""

# How the contact sheet shows a screen beside its samples: with faults, then in each doubt.
DOUBTS = (("stale", Doubt.STALE), ("never seen", Doubt.UNSEEN), ("out of range", Doubt.OUT_OF_RANGE))
SHEET_SCALE, LEAST_FRAME = 3, 200
"""Its frames are a third of the panel's size, but no narrower than this unless the panel is."""
MARGIN, HEAD = 12, 24
"""Pixels between frames, and of a line of titles."""
TITLE = (255, 255, 255)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the pictures")
    parser.add_argument("--screen", metavar="S", help="this screen only")
    parser.add_argument("--theme", metavar="T", help="this theme only")
    parser.add_argument("--language", metavar="L", help="in this language, by words/L.yaml of the design")
    parser.add_argument(
        "--set", action="append", default=[], metavar="signal=value", dest="settings", help="a signal's value"
    )
    parser.add_argument(
        "--sheet", action="store_true", help="also one contact sheet with the doubtful states"
    )
    parser.add_argument(
        "--touch", choices=TOUCH_WORDS, help="with every control as a touch in that state leaves it"
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
    result = compile_to_look(arguments.design, arguments.language)
    failed = isinstance(result, Failed)
    compiled = result.with_gaps if isinstance(result, Failed) else result
    assert compiled is not None
    drawing = compiled.arranged.drawing
    screens = _chosen([screen.name for screen in drawing.screens], arguments.screen, "screen")
    themes = _chosen([theme.name for theme in drawing.themes], arguments.theme, "theme")
    values = sample_values(compiled.design)
    values.update(set_value(compiled.design, setting) for setting in arguments.settings)
    if not arguments.findings:
        weighty = {Severity.WARNING, Severity.ERROR}
        show([item for item in compiled.findings if item.severity in weighty], compiled.design.sources)
    _write(arguments, compiled, screens, themes, values)
    if failed:
        _tell_gaps(compiled, screens)
    return 1 if failed else 0


def _write(
    arguments: argparse.Namespace,
    compiled: Compiled,
    screens: list[int],
    themes: list[int],
    values: dict[str, Value],
) -> None:
    drawing = compiled.arranged.drawing
    paint = _brush(compiled)
    raw = raw_values(compiled, values, arguments.touch or IDLE)
    finish = _finisher(arguments, compiled)
    for theme in themes:
        for screen in screens:
            name = f"{drawing.screens[screen].name}-{drawing.themes[theme].name}.png"
            picture = paint(Moment(screen, theme, raw))
            write_picture(arguments.out / name, finish(picture, screen, theme))
            print(arguments.out / name)
    if arguments.sheet:
        sheet = contact_sheet(compiled, paint, screens, themes, values)
        write_picture(arguments.out / "contact-sheet.png", sheet)
        print(arguments.out / "contact-sheet.png")


def _brush(compiled: Compiled) -> Brush:
    """What paints a moment; where an error left a place empty, that is seen."""
    from hmic.check.places import left_empty
    from hmic.paint.frame import Painter

    painter = Painter(compiled.arranged.drawing)
    themes = compiled.design.themes
    empty = [left_empty(compiled.findings, screen) for screen in compiled.arranged.screens]

    def paint(moment: Moment) -> Image:
        picture = painter.paint(moment)
        gaps = empty[moment.screen]
        if not gaps:
            return picture
        from hmic.cli.marking import with_gaps

        roles = themes[moment.theme].roles
        return with_gaps(picture, gaps, roles["ground"], roles["stale"])

    return paint


def _tell_gaps(compiled: Compiled, screens: list[int]) -> None:
    """Says which places are left empty, so that nobody takes the pictures for the whole design."""
    from hmic.check.places import left_empty

    told = []
    for number in screens:
        screen = compiled.arranged.screens[number]
        if count := len(left_empty(compiled.findings, screen)):
            told.append(f"{count} on '{screen.name}'")
    where = f"places left empty, hatched at the edge: {', '.join(told)}; " if told else ""
    print(f"{where}nothing is built or shown until the errors are corrected", file=sys.stderr)


def _finisher(arguments: argparse.Namespace, compiled: Compiled) -> Callable[[Image, int, int], Image]:
    """What ``--findings``, ``--vision`` and ``--seen-at`` make of a painted screen, in that order."""
    if arguments.findings:
        from hmic.check.places import places
        from hmic.cli.marking import lettering, marked

        findings = sorted_findings(compiled.findings)
        print(numbered(findings))
    if arguments.vision or arguments.seen_at:
        from hmic.check.eye import as_seen, seen_at
        from hmic.check.light import light
        from hmic.check.limits import Limits

        limits = Limits(compiled.design)

    def finish(picture: Image, screen: int, theme: int) -> Image:
        if arguments.findings:
            facts = compiled.arranged.screens[screen]
            picture = marked(picture, places(findings, facts), lettering(compiled.design))
        if arguments.vision:
            picture = as_seen(picture, arguments.vision)
        if arguments.seen_at:
            lit = light(compiled.design.themes[theme], arguments.seen_at, limits)
            picture = seen_at(picture, lit, limits)
        return picture

    return finish


def raw_values(compiled: Compiled, values: dict[str, Value], touch: str = IDLE) -> tuple[int, ...]:
    """The raw value of every channel for these signal values, every touch in one state."""
    find = lookup(compiled.design, values, touch)
    return tuple(_raw(channel, raw_value(channel, find)) for channel in compiled.arranged.channels)


def _raw(channel: Channel, now: int) -> int:
    """A chart has no past here: it gets a wave that ends at the value now, with a gap."""
    kept = channel.kept
    if kept is None or now < LIVE:
        return now
    # Another wave for each trace, so that they can be told apart.
    phase = channel.steps.low % 7 if isinstance(channel.steps, Scaled) else 0.0
    age = (kept.slots - 1 - kept.slot) / kept.slots
    if 0.40 < age < 0.43:
        return STALE
    count = channel.steps.count
    wave = math.sin(age * (7 + phase)) * math.cos(age * 5) + age * math.sin(age * (25 + 2 * phase)) / 3
    return LIVE + min(max(round(now - LIVE + wave * count / 4), 0), count - 1)


def write_picture(path: Path, picture: Image) -> None:
    """Writes a PNG, whole or not at all."""
    data = io.BytesIO()
    picture.save(data, "PNG")
    write_result(path, data.getvalue())


def fault_values(compiled: Compiled, values: dict[str, Value]) -> dict[str, Value]:
    """The values with every flag on, and a number at an end of its range where that lights what has a
    state and none yet."""
    signals = compiled.design.signals
    flags = [name for name, each in signals.items() if each.kind == "flag" and each.count is None]
    faulty: dict[str, Value] = values | dict.fromkeys(flags, True)
    for channel in compiled.arranged.channels:
        steps = channel.steps
        if not isinstance(steps, FirstTrue):
            continue
        find = lookup(compiled.design, faulty)
        if any(condition.evaluate(find) is True for condition in steps.conditions):
            continue
        read = sorted({name for condition in steps.conditions for name in condition.signals} & values.keys())
        numbers = [signals[name] for name in read if name in signals and signals[name].kind == "number"]
        ends = [(of.name, end) for of in numbers if of.count is None for end in (of.high, of.low)]
        for name, end in ends:
            tried = faulty | {name: end}
            if any(
                condition.evaluate(lookup(compiled.design, tried)) is True for condition in steps.conditions
            ):
                faulty = tried
                break
    return faulty


def contact_sheet(
    compiled: Compiled, paint: Brush, screens: list[int], themes: list[int], values: dict[str, Value]
) -> Image:
    """Every screen as a row below its name: a column for each theme with samples, then in the first theme
    faults and the doubtful states."""
    from PIL import Image, ImageDraw, ImageFont

    from hmic.cli.marking import lettering

    drawing = compiled.arranged.drawing
    columns: list[tuple[str, int, tuple[int, ...]]] = []
    live = raw_values(compiled, values)
    columns.extend((drawing.themes[theme].name, theme, live) for theme in themes)
    columns.append(("faults", themes[0], raw_values(compiled, fault_values(compiled, values))))
    for title, doubt in DOUBTS:
        columns.append((title, themes[0], raw_values(compiled, doubtful_values(compiled.design, doubt))))
    scale = max(1, min(SHEET_SCALE, drawing.width // LEAST_FRAME))
    width, height = drawing.width // scale, drawing.height // scale
    across, down = width + MARGIN, HEAD + height + MARGIN
    wide = MARGIN + across * len(columns)
    sheet = Image.new("RGB", (wide, HEAD + down * len(screens)), (96, 96, 96))
    pen = ImageDraw.Draw(sheet)
    font = ImageFont.truetype(str(lettering(compiled.design)), 13)

    def write(text: str, left: int, top: int, room: int) -> None:
        pen.text((left, top + 4), _cut(text, lambda part: pen.textlength(part, font) <= room), TITLE, font)

    for column, (text, _, _) in enumerate(columns):
        write(text, MARGIN + column * across, 0, width)
    for row, screen in enumerate(screens):
        top = HEAD + row * down
        write(drawing.screens[screen].name, MARGIN, top, wide - 2 * MARGIN)
        for column, (_, theme, raw) in enumerate(columns):
            picture = paint(Moment(screen, theme, raw))
            shown = picture.resize((width, height), Image.Resampling.BOX)
            sheet.paste(shown, (MARGIN + column * across, top + HEAD))
    return sheet


def _cut(text: str, fits: Callable[[str], bool]) -> str:
    """A title, or as much of it as fits, with an ellipsis."""
    if fits(text):
        return text
    ends = (text[:end].rstrip() + "..." for end in range(len(text) - 1, 0, -1))
    return next((part for part in ends if fits(part)), "")


def _chosen(names: list[str], wanted: str | None, kind: str) -> list[int]:
    if wanted is None:
        return list(range(len(names)))
    if wanted in names:
        return [names.index(wanted)]
    remedy = did_you_mean(wanted, names, f"{kind}s")
    raise DesignError([error("U920", f"the design has no {kind} '{wanted}'", None, remedy)])
