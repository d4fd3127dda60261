"""What every drawing in a pack must hold, so that a display never looks outside its tables.

The same rules are checked when a pack is written and when one is read; ``names_alike`` only at writing.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, islice

from hmic.diagnostics import Finding, error
from hmic.pack.operation_faults import WORD, box_faults, glyph_faults, operation_faults, within
from hmic.pack.records import (
    FIGURE_GLYPHS,
    FURTHEST_CORNER,
    LARGEST_PIXELS,
    LARGEST_SIDE,
    LARGEST_STEPS,
    LEAST_CORNERS,
    LONGEST_NAME,
    MOST_CORNERS,
)
from hmic.paint.operations import (
    DOUBT,
    DOUBT_MARKS,
    Drawing,
    Letters,
    LetterSet,
    Operation,
    Outline,
    ScreenDrawing,
    Theme,
    Trace,
)
from hmic.paint.outlines import is_convex

# A drawing with many faults has one cause more often than many.
MOST_FINDINGS = 20
SMALLER = "use smaller texts, shapes and pictures"


def faults(drawing: Drawing) -> Iterator[str]:
    """Sentences that say what is wrong, none for a drawing that a display can draw."""
    yield from _table_faults(drawing)
    for number, theme in enumerate(drawing.themes):
        yield from _theme_faults(f"theme {number}", theme, drawing)
    for number, steps in enumerate(drawing.channels):
        if not 1 <= steps <= LARGEST_STEPS:
            yield f"channel {number} has {steps} steps; 1 to {LARGEST_STEPS} are possible"
    yield from _plane_faults(drawing)
    for number, figures in enumerate(drawing.figure_sets):
        where = f"figure set {number}"
        yield from within(where, 0, WORD, figures.advance, figures.point_advance, figures.height)
        if len(figures.glyphs) != FIGURE_GLYPHS:
            yield f"{where} has {len(figures.glyphs)} glyphs; {FIGURE_GLYPHS} belong"
        yield from glyph_faults(where, figures.glyphs, drawing)
    for number, letter_set in enumerate(drawing.letter_sets):
        yield from _letter_set_faults(f"letter set {number}", letter_set, drawing)
    for number, outline in enumerate(drawing.outlines):
        yield from _outline_faults(f"outline {number}", outline)
    for number, screen in enumerate(drawing.screens):
        yield from _screen_faults(f"screen {number}", screen, drawing)


def refusals(drawing: Drawing) -> list[Finding]:
    """Why there is no pack of a drawing: P506 where it has more pixels of letters, shapes and pictures
    than the format allows, P505 where no display could draw it."""
    values = plane_values(drawing)
    if values > LARGEST_PIXELS:
        message = f"letters, shapes and pictures have {values} pixels in all; {LARGEST_PIXELS} are possible"
        return [error("P506", message, remedy=SMALLER)]
    found = chain(names_alike(drawing), faults(drawing))
    return [error("P505", f"the drawing cannot be packed: {fault}") for fault in islice(found, MOST_FINDINGS)]


def names_alike(drawing: Drawing) -> Iterator[str]:
    """A sentence where a person could not tell screens or themes apart. No display goes by names."""
    for what, names in (
        ("screens", [screen.name for screen in drawing.screens]),
        ("themes", [theme.name for theme in drawing.themes]),
    ):
        if len(set(names)) != len(names):
            yield f"two {what} have the same name"


def _table_faults(drawing: Drawing) -> Iterator[str]:
    for what, pixels in (("wide", drawing.width), ("high", drawing.height)):
        if not 1 <= pixels <= LARGEST_SIDE:
            yield f"the panel is {pixels} pixels {what}; 1 to {LARGEST_SIDE} are possible"
    if drawing.depth not in (16, 24):
        yield f"the depth is {drawing.depth} bits; 16 and 24 are possible"
    if not 1 <= len(drawing.themes) <= 255:
        yield f"there are {len(drawing.themes)} themes; 1 to 255 are possible"
    elif not DOUBT < len(drawing.themes[0].colours) <= WORD:
        yield f"there are {len(drawing.themes[0].colours)} colours; 2 to {WORD} are possible"
    for what, count in (
        ("channels", len(drawing.channels)),
        ("masks", len(drawing.masks)),
        ("maps", len(drawing.maps)),
        ("pictures", len(drawing.pictures)),
        ("figure sets", len(drawing.figure_sets)),
        ("letter sets", len(drawing.letter_sets)),
        ("outlines", len(drawing.outlines)),
        ("screens", len(drawing.screens)),
    ):
        if count > WORD - 1:
            yield f"there are {count} {what}; {WORD - 1} are possible"
    if not 0 <= drawing.start < len(drawing.screens):
        yield f"the start screen {drawing.start} does not exist"
    if not 0 <= drawing.first_theme < len(drawing.themes):
        yield f"the first theme {drawing.first_theme} does not exist"


def _theme_faults(where: str, theme: Theme, drawing: Drawing) -> Iterator[str]:
    yield from _name_faults(where, theme.name)
    if not 0 <= theme.brightness <= 100:
        yield f"{where} has a brightness of {theme.brightness} percent"
    if len(theme.colours) != len(drawing.themes[0].colours):
        yield f"{where} has another number of colours than theme 0"
    if any(not 0 <= part <= 255 for colour in theme.colours for part in colour):
        yield f"{where} has a colour outside 0 to 255"


def _screen_faults(where: str, screen: ScreenDrawing, drawing: Drawing) -> Iterator[str]:
    yield from _name_faults(where, screen.name)
    if len(set(screen.channels)) != len(screen.channels):
        yield f"{where} lists a channel twice"
    if any(not 0 <= channel < len(drawing.channels) for channel in screen.channels):
        yield f"{where} lists a channel that does not exist"
    counts = (len(screen.operations), len(screen.channels), len(screen.zones))
    yield from within(where, 0, WORD, *counts)
    rows = sum(_row(operation) for operation in screen.operations)
    if rows > WORD:
        yield f"{where} has {rows} columns and letters in all; {WORD} are possible"
    reach = frozenset(screen.channels)
    for place, operation in enumerate(screen.operations):
        for fault in operation_faults(operation, drawing, reach):
            yield f"{where}, operation {place}: {fault}"
    for place, zone in enumerate(screen.zones):
        for fault in box_faults(zone.box, drawing):
            yield f"{where}, zone {place}: {fault}"


def _row(operation: Operation) -> int:
    """How many channels feed the columns or letters."""
    match operation:
        case Trace(columns=count) | Letters(count=count):
            return count
        case _:
            return 0


def _name_faults(where: str, name: str) -> Iterator[str]:
    try:
        size = len(name.encode())
    except UnicodeEncodeError:
        yield f"{where} has a name that is no Unicode text"
        return
    if not 1 <= size <= LONGEST_NAME:
        yield f"{where} has a name of {size} bytes; 1 to {LONGEST_NAME} are possible"
    if any(character < " " or "\x7f" <= character <= "\x9f" for character in name):
        yield f"{where} has a control character in its name"


def _plane_faults(drawing: Drawing) -> Iterator[str]:
    planes = [("mask", n, m.width, m.height, m.coverage, 15, 1) for n, m in enumerate(drawing.masks)]
    planes += [("map", n, m.width, m.height, m.thresholds, 255, 1) for n, m in enumerate(drawing.maps)]
    for number, picture in enumerate(drawing.pictures):
        size = (picture.width, picture.height)
        planes.append(("picture", number, *size, picture.pixels, 255, 2))
        if picture.coverage:
            planes.append(("coverage of picture", number, *size, picture.coverage, 15, 1))
    for what, number, width, height, values, most, each in planes:
        if not (0 <= width <= LARGEST_SIDE and 0 <= height <= LARGEST_SIDE):
            yield f"{what} {number} is {width} x {height} pixels; {LARGEST_SIDE} a side are possible"
        elif len(values) != each * width * height:
            yield f"{what} {number} has {len(values)} values for {width} x {height} pixels"
        elif most < 255 and values.translate(None, bytes(range(most + 1))):
            yield f"{what} {number} has a value above {most}"
    if plane_values(drawing) > LARGEST_PIXELS:
        yield f"masks, maps and pictures have more than {LARGEST_PIXELS} values in all"


def plane_values(drawing: Drawing) -> int:
    """Values of all masks, maps and pictures: one a pixel, two of a picture and one of its coverage."""
    masks = sum(mask.width * mask.height for mask in drawing.masks)
    maps = sum(each.width * each.height for each in drawing.maps)
    return (
        masks
        + maps
        + sum((3 if picture.coverage else 2) * picture.width * picture.height for picture in drawing.pictures)
    )


def _letter_set_faults(where: str, letter_set: LetterSet, drawing: Drawing) -> Iterator[str]:
    letters = (*letter_set.letters, *letter_set.marks)
    yield from within(where, 0, WORD, letter_set.height, *(letter.advance for letter in letters))
    if len(letter_set.letters) > LARGEST_STEPS - 1:
        yield f"{where} has {len(letter_set.letters)} letters; {LARGEST_STEPS - 1} are possible"
    if len(letter_set.marks) != DOUBT_MARKS:
        yield f"{where} has {len(letter_set.marks)} marks; {DOUBT_MARKS} belong"
    yield from glyph_faults(where, tuple(letter.glyph for letter in letters), drawing)


def _outline_faults(where: str, outline: Outline) -> Iterator[str]:
    yield from within(f"{where}, corners of each,", LEAST_CORNERS, MOST_CORNERS, outline.points_each)
    if len(outline.polygons) > WORD:
        yield f"{where} has {len(outline.polygons)} polygons; {WORD} are possible"
    for number, polygon in enumerate(outline.polygons):
        if len(polygon) != outline.points_each:
            yield f"{where} has {len(polygon)} corners in polygon {number}, not {outline.points_each}"
        elif any(not 0 <= part <= FURTHEST_CORNER for corner in polygon for part in corner):
            yield f"{where} has a corner outside 0 to {FURTHEST_CORNER} in polygon {number}"
        elif len(polygon) <= MOST_CORNERS and not is_convex(polygon):
            yield f"{where}: polygon {number} is not convex and clockwise"
