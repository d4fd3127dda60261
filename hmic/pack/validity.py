"""What every drawing in a pack must hold, so that a display never looks outside its tables.

The same rules are checked when a pack is written and when one is read.
"""

from __future__ import annotations

from collections.abc import Iterator

from hmic.pack.records import (
    FIGURE_GLYPHS,
    LARGEST_PIXELS,
    LARGEST_SIDE,
    LONGEST_NAME,
    MOST_PLACES,
)
from hmic.paint.operations import (
    COLON,
    COMMA,
    DOUBT,
    FULL_STOP,
    LIVE,
    NO_CHANNEL,
    NO_MASK,
    Axis,
    Box,
    Drawing,
    Figures,
    Fill,
    Frame,
    Glyph,
    Ink,
    Operation,
    Reveal,
    Run,
    Stencil,
)

WORD = 0xFFFF
MOST_STEPS = WORD - LIVE + 1


def faults(drawing: Drawing) -> Iterator[str]:
    """Sentences that say what is wrong, none for a drawing that a display can draw."""
    yield from _table_faults(drawing)
    for number, theme in enumerate(drawing.themes):
        yield from _name_faults(f"theme {number}", theme.name)
        if not 0 <= theme.brightness <= 100:
            yield f"theme {number} has a brightness of {theme.brightness} percent"
        if len(theme.colours) != len(drawing.themes[0].colours):
            yield f"theme {number} has another number of colours than theme 0"
        if any(not 0 <= part <= 255 for colour in theme.colours for part in colour):
            yield f"theme {number} has a colour outside 0 to 255"
    for number, steps in enumerate(drawing.channels):
        if not 1 <= steps <= MOST_STEPS:
            yield f"channel {number} has {steps} steps; 1 to {MOST_STEPS} are possible"
    yield from _plane_faults(drawing)
    for number, figures in enumerate(drawing.figure_sets):
        where = f"figure set {number}"
        yield from _within(where, 0, WORD, figures.advance, figures.point_advance, figures.height)
        if len(figures.glyphs) != FIGURE_GLYPHS:
            yield f"{where} has {len(figures.glyphs)} glyphs; {FIGURE_GLYPHS} belong"
        yield from _glyph_faults(where, figures.glyphs, drawing)
    for number, screen in enumerate(drawing.screens):
        where = f"screen {number}"
        yield from _name_faults(where, screen.name)
        if len(set(screen.channels)) != len(screen.channels):
            yield f"{where} lists a channel twice"
        if any(not 0 <= channel < len(drawing.channels) for channel in screen.channels):
            yield f"{where} lists a channel that does not exist"
        counts = (len(screen.operations), len(screen.channels), len(screen.zones))
        yield from _within(where, 0, WORD, *counts)
        reach = frozenset(screen.channels)
        for place, operation in enumerate(screen.operations):
            for fault in _operation_faults(operation, drawing, reach):
                yield f"{where}, operation {place}: {fault}"
        for place, zone in enumerate(screen.zones):
            for fault in _box_faults(zone.box, drawing):
                yield f"{where}, zone {place}: {fault}"


def _table_faults(drawing: Drawing) -> Iterator[str]:
    for what, side in (("wide", drawing.width), ("high", drawing.height)):
        if not 1 <= side <= LARGEST_SIDE:
            yield f"the panel is {side} pixels {what}; 1 to {LARGEST_SIDE} are possible"
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
        ("figure sets", len(drawing.figure_sets)),
        ("screens", len(drawing.screens)),
    ):
        if count > WORD - 1:
            yield f"there are {count} {what}; {WORD - 1} are possible"
    if not 0 <= drawing.start < len(drawing.screens):
        yield f"the start screen {drawing.start} does not exist"
    for what, names in (
        ("screens", [screen.name for screen in drawing.screens]),
        ("themes", [theme.name for theme in drawing.themes]),
    ):
        if len(set(names)) != len(names):
            yield f"two {what} have the same name"


def _name_faults(where: str, name: str) -> Iterator[str]:
    try:
        size = len(name.encode())
    except UnicodeEncodeError:
        yield f"{where} has a name that is no Unicode text"
        return
    if not 1 <= size <= LONGEST_NAME:
        yield f"{where} has a name of {size} bytes; 1 to {LONGEST_NAME} are possible"
    if any(character < " " for character in name):
        yield f"{where} has a control character in its name"


def _plane_faults(drawing: Drawing) -> Iterator[str]:
    planes = [("mask", n, m.width, m.height, m.coverage, 15) for n, m in enumerate(drawing.masks)]
    planes += [("map", n, m.width, m.height, m.thresholds, 255) for n, m in enumerate(drawing.maps)]
    for what, number, width, height, values, most in planes:
        if not (0 <= width <= LARGEST_SIDE and 0 <= height <= LARGEST_SIDE):
            yield f"{what} {number} is {width} x {height} pixels; {LARGEST_SIDE} a side are possible"
        elif len(values) != width * height:
            yield f"{what} {number} has {len(values)} values for {width} x {height} pixels"
        elif values and max(values) > most:
            yield f"{what} {number} has a value above {most}"
    if sum(width * height for _, _, width, height, _, _ in planes) > LARGEST_PIXELS:
        yield f"masks and maps have more than {LARGEST_PIXELS} pixels in all"


def _within(where: str, low: int, high: int, *values: int) -> Iterator[str]:
    for value in values:
        if not low <= value <= high:
            yield f"{where} has a number {value}; {low} to {high} are possible"


def _box_faults(box: Box, drawing: Drawing) -> Iterator[str]:
    inside = (
        min(box.left, box.top, box.width, box.height) >= 0
        and box.left + box.width <= drawing.width
        and box.top + box.height <= drawing.height
    )
    if not inside:
        yield (
            f"the box {box.width} x {box.height} at {box.left}, {box.top} "
            f"leaves the panel of {drawing.width} x {drawing.height}"
        )


def _glyph_faults(where: str, glyphs: tuple[Glyph, ...], drawing: Drawing) -> Iterator[str]:
    for glyph in glyphs:
        if not 0 <= glyph.mask < len(drawing.masks):
            yield f"{where} has a glyph with mask {glyph.mask}, which does not exist"
        if not (-32768 <= glyph.left <= 32767 and -32768 <= glyph.top <= 32767):
            yield f"{where} has a glyph at {glyph.left}, {glyph.top}; 16 bits with sign are possible"


def _ink_faults(ink: Ink, drawing: Drawing, reach: frozenset[int]) -> Iterator[str]:
    steps = 1
    if ink.tint != NO_CHANNEL:
        yield from _reach_faults(ink.tint, reach)
        if 0 <= ink.tint < len(drawing.channels):
            steps = drawing.channels[ink.tint]
    colours = len(drawing.themes[0].colours) if drawing.themes else 0
    if ink.first < 0 or ink.first + steps > colours:
        yield f"it paints with colours {ink.first} to {ink.first + steps - 1} of {colours}"


def _reach_faults(channel: int, reach: frozenset[int]) -> Iterator[str]:
    if channel not in reach:
        yield f"it needs channel {channel}, which its screen does not list"


def _mask_faults(mask: int, drawing: Drawing) -> Iterator[str]:
    if not 0 <= mask < len(drawing.masks):
        yield f"mask {mask} does not exist"


def _operation_faults(operation: Operation, drawing: Drawing, reach: frozenset[int]) -> Iterator[str]:
    yield from _box_faults(operation.box, drawing)
    yield from _ink_faults(operation.ink, drawing, reach)
    when = operation.when
    if when is not None:
        yield from _reach_faults(when.channel, reach)
        if not 0 <= when.low <= when.high <= WORD:
            yield f"it is shown from raw value {when.low} to {when.high}"
    match operation:
        case Fill():
            pass
        case Stencil(mask=mask) | Frame(corner=mask):
            yield from _mask_faults(mask, drawing)
        case Run(glyphs=glyphs):
            yield from _within("it", 0, WORD, len(glyphs))
            yield from _glyph_faults("it", glyphs, drawing)
        case Figures():
            yield from _figures_faults(operation, drawing, reach)
        case Reveal():
            yield from _reveal_faults(operation, drawing, reach)


def _figures_faults(operation: Figures, drawing: Drawing, reach: frozenset[int]) -> Iterator[str]:
    yield from _reach_faults(operation.channel, reach)
    if not 0 <= operation.figure_set < len(drawing.figure_sets):
        yield f"figure set {operation.figure_set} does not exist"
    if not 1 <= operation.places <= MOST_PLACES:
        yield f"it has {operation.places} places; 1 to {MOST_PLACES} are possible"
    yield from _within("it", 0, MOST_PLACES, operation.least, operation.point_after)
    if operation.point not in (0, FULL_STOP, COMMA, COLON):
        yield f"its point {operation.point} is none of 0, {FULL_STOP}, {COMMA}, {COLON}"
    steps = drawing.channels[operation.channel] if 0 <= operation.channel < len(drawing.channels) else 1
    for number in (operation.offset, operation.scale, operation.offset + operation.scale * (steps - 1)):
        if not -(1 << 31) <= number < 1 << 31:
            yield f"the number {number} does not fit 32 bits"


def _reveal_faults(operation: Reveal, drawing: Drawing, reach: frozenset[int]) -> Iterator[str]:
    yield from _reach_faults(operation.channel, reach)
    yield from _within("it", 0, WORD, operation.zero, operation.gain)
    yield from _within("its edge", 1, WORD, operation.edge)
    if operation.mask != NO_MASK:
        yield from _mask_faults(operation.mask, drawing)
    if operation.map != NO_MASK and not 0 <= operation.map < len(drawing.maps):
        yield f"map {operation.map} does not exist"
    if operation.axis == Axis.MAPPED and operation.map == NO_MASK:
        yield "its axis is mapped, but it has no map"
