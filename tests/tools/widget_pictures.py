"""The pictures of the language reference, made from its own sentences:
``python -m tests.tools.widget_pictures`` writes them."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from PIL import Image

from hmic.arrange.compose import arrange
from hmic.compile.compiling import Compiled
from hmic.language.parser import parse
from hmic.language.syntax import Screen
from hmic.model.design import Design
from hmic.model.load import load
from hmic.model.samples import sample_values
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from hmic.show.pictogram_sheet import pictogram_sheet
from hmic.show.screens import raw_values
from tests.tools.changed import replace

ROOT = Path(__file__).parents[2]
REFERENCE = ROOT / "hmic" / "language" / "LANGUAGE.md"
FOLDER = REFERENCE.parent / "pictures"
# Size of each picture in mm.
SIZES = {
    "label": (34, 12), "reading": (44, 20), "words": (26, 24), "clock": (26, 26), "bar": (64, 24),
    "level": (27, 40), "dial": (44, 46), "lamp": (16, 16), "symbol": (20, 20), "cells": (70, 34),
    "chart": (110, 44), "list": (70, 38), "picture": (44, 24), "shape": (34, 16), "button": (34, 16),
    "screens": (110, 16), "switch": (46, 24), "choice": (78, 26), "stepper": (64, 18), "slider": (64, 18),
}  # fmt: skip


def sentences() -> dict[str, str]:
    """Kind -> the sentence of the reference that its picture shows."""
    text = REFERENCE.read_text(encoding="utf-8")
    found = dict(re.findall(r"^\| `(\w+)` \|[^|]*\| `([^`]+)` \| !\[", text, re.MULTILINE))
    chart = re.search(r"in chart    (chart over .*?)```", text, re.DOTALL)
    assert chart is not None
    return found | {"chart": chart.group(1).rstrip()}


@cache
def dunlin() -> Design:
    """The example design, whose signals and themes the sentences use."""
    design, _ = load(ROOT / "layouts" / "dunlin")
    assert design is not None
    return design


def painted(kind: str, sentence: str) -> Image.Image:
    """The sentence alone on a piece of the example's panel, by day."""
    text = one_screen(sentence)
    if kind == "screens":
        # The first of the row is the one in sight.
        text = text.replace('screen only "Only"', 'screen drive "Drive"')
    return paint(alone(text, SIZES[kind]))


def one_screen(sentence: str) -> str:
    """A layout with nothing but a sentence."""
    return f'screen only "Only"\n    plan\n        place\n    margin 2 mm\n    in place    {sentence}\n'


def paint(compiled: Compiled, **values: float | bool | str) -> Image.Image:
    """The screen ``only`` with plausible values, and some of its own."""
    given = sample_values(compiled.design) | {"media.title": 2.0, "charge.power": 6.0} | values
    drawing = compiled.arranged.drawing
    day = [theme.name for theme in drawing.themes].index("day")
    return Painter(drawing).paint(Moment(0, day, raw_values(compiled, given)))


def alone(text: str, millimetres: tuple[int, int]) -> Compiled:
    """A layout of one screen on a piece of the example's panel."""
    panel = dunlin().panel
    width, height = (round(panel.pixels_from_mm(side)) for side in millimetres)
    layout, findings = parse(text, "LANGUAGE.md")
    assert not findings, findings
    small = replace(
        panel, width=width, height=height, width_mm=width * panel.pitch, height_mm=height * panel.pitch
    )
    start = layout.screens[0].name
    others = ("drive", "cells", "charging") if "screens drive" in text else ()
    others = (*others, "drive") if "goes to drive" in text else others
    screens = {name: empty_screen(name) for name in others} | {start: layout.screens[0]}
    first = {start: screens.pop(start)}
    design = replace(dunlin(), panel=small, screens=first | screens, start=start)
    arranged, found = arrange(design)
    assert arranged is not None, found
    return Compiled(design, arranged, tuple(found))


def sheet() -> Image.Image:
    """Every pictogram with its name, by day."""
    return dict(pictogram_sheet(dunlin()))["day"]


BLOCKS = {
    "map": ("schematic", (66, 46)),
    "van": ("freely", (112, 52)),
    "parked": ("parked", (110, 42)),
    "drawn": ("drawn", (150, 30)),
}
"""The area that a block of the reference fills -> the name and the size in mm of its picture."""


def block(area: str) -> Image.Image:
    """The block of the reference that fills an area."""
    text = REFERENCE.read_text(encoding="utf-8")
    found = re.search(rf"^in {area} (\w+\n.*?)```", text, re.DOTALL | re.MULTILINE)
    assert found is not None
    body = "".join(f"    {line}\n" for line in f"in {area} {found.group(1)}".splitlines())
    head = f'screen only "Only"\n    plan\n        {area}\n    margin 1 mm\n'
    return paint(alone(head + body, BLOCKS[area][1]))


SCREENS = {"grouped": (104, 62)}
"""A screen of the reference -> the size in mm of its picture."""


def screen(name: str) -> Image.Image:
    """A whole screen of the reference."""
    text = REFERENCE.read_text(encoding="utf-8")
    found = re.search(rf"```layout\nscreen {name} (.*?)```", text, re.DOTALL)
    assert found is not None
    return paint(alone("screen only " + found.group(1), SCREENS[name]))


def readings() -> Image.Image:
    """The reference's example of texts side by side."""
    text = REFERENCE.read_text(encoding="utf-8")
    lines = text.split("## Where text stands\n")[1].split("```layout\n")[1].split("```")[0].splitlines()
    areas = " ".join(line.split()[1] for line in lines)
    body = "".join(f"    {line}\n" for line in lines)
    return paint(alone(f'screen only "Only"\n    plan\n        {areas}\n    margin 2 mm\n{body}', (150, 24)))


def empty_screen(name: str = "drive") -> Screen:
    """For a button to go to."""
    layout, _ = parse(f'screen {name} "{name.capitalize()}"\n    plan\n        .\n', "LANGUAGE.md")
    return layout.screens[0]


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for kind, sentence in sentences().items():
        painted(kind, sentence).save(FOLDER / f"{kind}.png", optimize=True)
    for area, (name, _) in BLOCKS.items():
        block(area).save(FOLDER / f"{name}.png", optimize=True)
    for name in SCREENS:
        screen(name).save(FOLDER / f"{name}.png", optimize=True)
    readings().save(FOLDER / "readings.png", optimize=True)
    sheet().save(FOLDER / "pictograms.png", optimize=True)


if __name__ == "__main__":
    main()
