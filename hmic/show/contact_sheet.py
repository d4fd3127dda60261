"""Every screen beside its doubtful states, in one picture."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PIL import Image, ImageDraw, ImageFont

from hmic.compile.compiling import Compiled
from hmic.model.expressions import Doubt, Value
from hmic.model.samples import doubtful_values
from hmic.paint.operations import Moment
from hmic.show.marking import lettering
from hmic.show.screens import Brush, fault_values, raw_values

# How the contact sheet shows a screen beside its samples: with faults, then in each doubt.
DOUBTS = (("stale", Doubt.STALE), ("never seen", Doubt.UNSEEN), ("out of range", Doubt.OUT_OF_RANGE))
SHEET_SCALE, LEAST_FRAME = 3, 200
"""Its frames are a third of the panel's size, but no narrower than this unless the panel is."""
MARGIN, HEAD = 12, 24
"""Pixels between frames, and of a line of titles."""
TITLE = (255, 255, 255)


def contact_sheet(
    compiled: Compiled,
    paint: Brush,
    screens: list[int],
    themes: list[int],
    values: Callable[[int], dict[str, Value]],
    *,
    live: Callable[[int], tuple[int, ...]],
) -> Image.Image:
    """Every screen as a row below its name: a column for each theme with its ``live`` raw values, then in the
    first theme ``values`` with faults, and the doubtful states."""
    drawing = compiled.arranged.drawing
    columns: list[tuple[str, int, Callable[[int], tuple[int, ...]]]] = [
        (drawing.themes[theme].name, theme, live) for theme in themes
    ]

    def faulty(screen: int) -> tuple[int, ...]:
        return raw_values(compiled, fault_values(compiled, values(screen)))

    columns.append(("faults", themes[0], faulty))
    for title, doubt in DOUBTS:
        doubtful = raw_values(compiled, doubtful_values(compiled.design, doubt))
        columns.append((title, themes[0], partial(lambda raw, _: raw, doubtful)))
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
            picture = paint(Moment(screen, theme, raw(screen)))
            shown = picture.resize((width, height), Image.Resampling.BOX)
            sheet.paste(shown, (MARGIN + column * across, top + HEAD))
    return sheet


def _cut(text: str, fits: Callable[[str], bool]) -> str:
    """A title, or as much of it as fits, with an ellipsis."""
    if fits(text):
        return text
    ends = (text[:end].rstrip() + "..." for end in range(len(text) - 1, 0, -1))
    return next((part for part in ends if fits(part)), "")
