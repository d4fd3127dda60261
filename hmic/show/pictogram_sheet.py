"""All pictograms that a design can show, each with its name, as its panel paints them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from hmic.arrange.compose import arrange_with_gaps
from hmic.arrange.known_pictograms import Pictograms
from hmic.language.parser import parse
from hmic.model.design import Design
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter

if TYPE_CHECKING:
    from PIL.Image import Image

COLUMNS = 7
WIDE_MM, HIGH_MM = 28, 24


def pictogram_sheet(design: Design) -> list[tuple[str, Image]]:
    """A picture by each theme, by the theme's name; the design's own stand first."""
    own = Pictograms(design)
    names = [name for name in own.names if name not in own.wrong]
    rows = [names[at : at + COLUMNS] for at in range(0, len(names), COLUMNS)]
    lines = ['screen sheet "Pictograms"', "    plan"]
    lines += [f"        {' '.join([*row, *['.'] * (COLUMNS - len(row))])}" for row in rows]
    lines.append("    margin 2 mm")
    for name in names:
        lines += [f"    in {name}", f"        symbol {name}, sized 9 mm"]
        lines.append(f'        label "{name}", text 12 arcmin')
    layout, findings = parse("\n".join(lines) + "\n", "sheet.layout")
    assert not findings, findings
    panel = design.panel
    wide, high = (round(panel.pixels_from_mm(side)) for side in (COLUMNS * WIDE_MM, len(rows) * HIGH_MM))
    sheet = replace(
        panel, width=wide, height=high, width_mm=wide * panel.pitch, height_mm=high * panel.pitch
    )
    screens = {"sheet": layout.screens[0]}
    # A name that is too long leaves its place empty.
    arranged, _ = arrange_with_gaps(replace(design, panel=sheet, screens=screens, start="sheet", parts={}))
    painter = Painter(arranged.drawing)
    return [
        (theme.name, painter.paint(Moment(0, number, ())))
        for number, theme in enumerate(arranged.drawing.themes)
    ]
