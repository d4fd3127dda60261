"""The pixel rules of PIXELS.md a second time: pixel by pixel, plain integers, no image library.

Shares only the data classes with the painter; the hatches are written out here as the document
prints them.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from hmic.paint.operations import (
    Axis,
    Box,
    Drawing,
    Figures,
    Fill,
    Flow,
    Frame,
    Letters,
    Moment,
    Operation,
    Picture,
    Pointer,
    Reveal,
    Run,
    Slide,
    Stencil,
    Trace,
)

Colour = tuple[int, int, int]

TILES = [
    ["AFA00000", "FFF00000", "AFA00000", "00000000", "0000AFA0", "0000FFF0", "0000AFA0", "00000000"],
    ["FF700007", "F700007F", "700007FF", "00007FF7", "0007FF70", "007FF700", "07FF7000", "7FF70000"],
    ["F8000008", "8F80008F", "08F808F8", "008F8F80", "0008F800", "008F8F80", "08F808F8", "8F80008F"],
]


def paint(drawing: Drawing, moment: Moment) -> list[list[tuple[int, int, int]]]:
    """Rows of (red, green, blue)."""
    palette = drawing.themes[moment.theme].colours
    if drawing.depth == 16:
        palette = tuple((r // 8, g // 4, b // 8) for r, g, b in palette)
    raw = [r if r < 3 + n else 2 for r, n in zip(moment.raw, drawing.channels, strict=True)]
    rows = [[palette[0]] * drawing.width for _ in range(drawing.height)]
    for operation in drawing.screens[moment.screen].operations:
        when = operation.when
        if when and not (when.low <= raw[when.channel] <= when.high):
            continue
        state = state_of(operation, raw)
        dark = moment.clock % 2**32 % 1000 >= 500
        if dark and isinstance(operation, Stencil) and operation.flash and state == 3:
            continue
        box = operation.box
        for layer, colour in coats(drawing, operation, raw, state, moment.clock, palette):
            for (x, y), level in layer.items():
                inside = 0 <= x < drawing.width and 0 <= y < drawing.height
                if inside and 0 <= x - box.left < box.width and 0 <= y - box.top < box.height:
                    ink = colour if isinstance(colour, tuple) else colour[x, y]
                    rows[y][x] = blend(rows[y][x], ink, level)
    if drawing.depth == 16:
        rows = [[(wide(r, 5), wide(g, 6), wide(b, 5)) for r, g, b in row] for row in rows]
    return rows


def divide(t: int) -> int:
    t += 128
    return (t + (t >> 8)) >> 8


def blend(under: tuple[int, int, int], ink: tuple[int, int, int], level: int) -> tuple[int, int, int]:
    r, g, b = (divide(u * (255 - level) + i * level) for u, i in zip(under, ink, strict=True))
    return r, g, b


def wide(value: int, bits: int) -> int:
    return (value << (8 - bits)) | (value >> (2 * bits - 8))


Layer = dict[tuple[int, int], int]
Coat = tuple[Layer, Colour | dict[tuple[int, int], Colour]]


def state_of(operation: Operation, raw: list[int]) -> int:
    if isinstance(operation, Picture):
        return 3
    state = 3 if operation.ink.tint == 0xFFFF else min(3, raw[operation.ink.tint])
    for kinds, name in (
        ((Figures, Reveal, Slide, Pointer, Flow), "channel"),
        ((Trace,), "head"),
        ((Letters,), "first"),
    ):
        if isinstance(operation, kinds) and raw[getattr(operation, name)] < 3:
            state = raw[getattr(operation, name)]
    return state


def coats(
    drawing: Drawing,
    operation: Operation,
    raw: list[int],
    state: int,
    clock: int,
    palette: tuple[Colour, ...],
) -> list[Coat]:
    """Layers with their colours."""
    if isinstance(operation, Picture):
        return [picture(drawing, operation)]
    doubt = palette[1]
    if state < 3:
        ink = doubt
    else:
        tint = operation.ink.tint
        ink = palette[operation.ink.first + (raw[tint] - 3 if tint != 0xFFFF else 0)]
    if isinstance(operation, Slide | Pointer | Flow) and state < 3:
        return []
    if isinstance(operation, Letters):
        return letters(drawing, operation, raw, state, ink, doubt)
    if isinstance(operation, Trace) and state == 3:
        return trace(operation, raw, ink, doubt)
    if isinstance(operation, Flow):
        return [(flow(operation, raw[operation.channel] - 3, clock % 2**32), ink)]
    if isinstance(operation, Pointer):
        return [(pointer(drawing, operation, raw[operation.channel] - 3), ink)]
    if isinstance(operation, Slide):
        return [(slide(drawing, operation, raw[operation.channel] - 3), ink)]
    return [(layer, ink) for layer in layers(drawing, operation, raw, state)]


def slide(drawing: Drawing, operation: Slide, step: int) -> Layer:
    box, mask = operation.box, drawing.masks[operation.mask]
    across, down = {
        Axis.RIGHTWARD: (step, 0),
        Axis.LEFTWARD: (box.width - step - mask.width, 0),
        Axis.DOWNWARD: (0, step),
        Axis.UPWARD: (0, box.height - step - mask.height),
    }[operation.axis]
    return masked(drawing, operation.mask, box.left + across, box.top + down)


def pointer(drawing: Drawing, operation: Pointer, step: int) -> Layer:
    box = operation.box
    corners = drawing.outlines[operation.outline].polygons[step]

    def counts(x: int, y: int) -> bool:
        for number, (ax, ay) in enumerate(corners):
            bx, by = corners[(number + 1) % len(corners)]
            if (bx - ax) * (y - ay) - (by - ay) * (x - ax) < 0:
                return False
        return True

    layer: Layer = {}
    for y in range(box.height):
        for x in range(box.width):
            count = sum(counts(16 * x + 4 * i + 2, 16 * y + 4 * j + 2) for i in range(4) for j in range(4))
            layer[box.left + x, box.top + y] = 17 * ((count * 15 + 8) // 16)
    return layer


def trace(operation: Trace, raw: list[int], ink: Colour, doubt: Colour) -> list[Coat]:
    box, thick = operation.box, operation.thickness
    wide_ = box.width // operation.columns
    line: Layer = {}
    gaps: Layer = {}

    def value(i: int) -> int:
        return raw[operation.first + (raw[operation.head] - 3 + 1 + i) % operation.columns]

    def height(i: int) -> int:
        rise = ceil(Fraction(16 * (box.height - thick) * 65536, max(1, operation.levels - 1)))
        return floor(Fraction((value(i) - 3) * rise, 65536))

    for y in range(box.height):
        q = box.height - 1 - y
        for x in range(wide_ * operation.columns):
            i, r = divmod(x, wide_)
            spot = box.left + x, box.top + y
            if value(i) < 3:
                gaps[spot] = hatch(value(i), *spot) if q < 8 else 0
                continue
            g = height(i - 1) if i > 0 and value(i - 1) >= 3 else height(i)
            w = (thick - 1) // 2
            r0, r1 = max(0, r - w), min(wide_, r + 1 + w)
            slope = ceil(Fraction(32768 * (height(i) - g), wide_))
            a = g + floor(Fraction(slope * r0, 32768))
            b = g + floor(Fraction(slope * r1, 32768))
            d = abs(b - a)
            e = max(16 * thick - d, 8 * thick)
            foot = min(a, b) + 8 * thick - e // 2
            line_rows = range(foot, foot + d + e)
            within = range(max(16 * q, line_rows.start), min(16 * q + 16, line_rows.stop))
            line[spot] = (len(within) * 255 + 8) // 16
    return [(line, ink), (gaps, doubt)]


def flow(operation: Flow, step: int, clock: int) -> Layer:
    # In fractions of a second and without shortening the clock, as a person would say it.
    moved = clock * step * operation.pace // 1000
    return {
        (x, y): 255
        if (along(operation.box, operation.axis, x, y) + operation.offset - moved) % operation.pitch
        < operation.mark
        else 0
        for x, y in spots(operation.box)
    }


def picture(drawing: Drawing, operation: Picture) -> Coat:
    held = drawing.pictures[operation.picture]
    layer: Layer = {}
    colours: dict[tuple[int, int], Colour] = {}
    for y in range(held.height):
        for x in range(held.width):
            at = y * held.width + x
            word = held.pixels[2 * at] + 256 * held.pixels[2 * at + 1]
            r, g, b = word // 2048, word // 32 % 64, word % 32
            spot = operation.box.left + x, operation.box.top + y
            deep = drawing.depth == 24
            colours[spot] = (wide(r, 5), wide(g, 6), wide(b, 5)) if deep else (r, g, b)
            layer[spot] = 17 * held.coverage[at] if held.coverage else 255
    return layer, colours


def letters(
    drawing: Drawing, operation: Letters, raw: list[int], state: int, ink: Colour, doubt: Colour
) -> list[Coat]:
    held, box = drawing.letter_sets[operation.letter_set], operation.box
    pen = 0
    made: list[Coat] = []

    def put(letter: int, marks: bool, colour: Colour) -> None:
        nonlocal pen
        if pen < box.width:
            chosen = held.marks[letter] if marks else held.letters[letter]
            left, top = box.left + pen + chosen.glyph.left, box.top + chosen.glyph.top
            made.append((masked(drawing, chosen.glyph.mask, left, top), colour))
            pen += chosen.advance

    if state < 3:
        for _ in range(3):
            put(state, True, doubt)
        return made
    for value in raw[operation.first : operation.first + operation.count]:
        if value == 3:
            break
        if value < 3:
            put(value, True, doubt)
            break
        put(value - 4, False, ink)
    return made


def hatch(state: int, x: int, y: int) -> int:
    return 17 * int(TILES[state][y % 8][x % 8], 16)


def spots(box: Box) -> list[tuple[int, int]]:
    return [(box.left + x, box.top + y) for y in range(box.height) for x in range(box.width)]


def along(box: Box, axis: Axis, x: int, y: int) -> int:
    """Pixels of the panel pixel (x, y) from the edge where the axis starts."""
    return {
        Axis.RIGHTWARD: x - box.left,
        Axis.LEFTWARD: box.left + box.width - 1 - x,
        Axis.DOWNWARD: y - box.top,
        Axis.UPWARD: box.top + box.height - 1 - y,
    }[axis]


def layers(drawing: Drawing, operation: Operation, raw: list[int], state: int) -> list[Layer]:
    """Levels 0..255 by panel pixel, one layer for each time the ink goes on."""
    box = operation.box
    if isinstance(operation, Run):
        return [
            masked(drawing, glyph.mask, box.left + glyph.left, box.top + glyph.top)
            for glyph in operation.glyphs
        ]
    if isinstance(operation, Figures):
        return figures(drawing, operation, raw, state)
    layer: Layer = {}
    for px, py in spots(box):
        x, y = px - box.left, py - box.top
        level = own_level(drawing, operation, x, y)
        if state == 3 and isinstance(operation, Reveal):
            level = divide(level * uncovered(drawing, operation, x, y, raw[operation.channel] - 3))
        if state < 3:
            level = divide(level * hatch(state, px, py))
        layer[px, py] = level
    return [layer]


def masked(drawing: Drawing, number: int, left: int, top: int) -> Layer:
    mask = drawing.masks[number]
    return {
        (left + x, top + y): 17 * mask.coverage[y * mask.width + x]
        for y in range(mask.height)
        for x in range(mask.width)
    }


def own_level(drawing: Drawing, operation: Operation, x: int, y: int) -> int:
    match operation:
        case Fill() | Trace():
            return 255
        case Frame(box=box, corner=corner):
            mask = drawing.masks[corner]
            u, v = min(x, box.width - 1 - x), min(y, box.height - 1 - y)
            return 17 * mask.coverage[v * mask.width + u] if u < mask.width and v < mask.height else 255
        case Stencil(mask=number) | Reveal(mask=number):
            if number == 0xFFFF:
                return 255
            mask = drawing.masks[number]
            return 17 * mask.coverage[y * mask.width + x] if x < mask.width and y < mask.height else 0
    raise AssertionError(operation)


def uncovered(drawing: Drawing, reveal: Reveal, x: int, y: int, step: int) -> int:
    box = reveal.box
    if reveal.axis == Axis.MAPPED:
        held = drawing.maps[reveal.map]
        if x >= held.width or y >= held.height:
            return 0
        part = step * reveal.gain - held.thresholds[y * held.width + x]
        part = 0 if part < 0 else reveal.edge if part > reveal.edge else part
        return (part * 255 + reveal.edge // 2) // reveal.edge
    p = along(box, reveal.axis, box.left + x, box.top + y)
    return 255 if reveal.zero <= p < step or step <= p < reveal.zero else 0


def figures(drawing: Drawing, operation: Figures, raw: list[int], state: int) -> list[Layer]:
    shown = spelled(operation, raw[operation.channel] - 3) if state == 3 else [12 + state] * operation.places
    made: list[Layer] = []
    x = operation.box.left + operation.box.width
    points = [place for place, figure in enumerate(shown) if figure >= 15]
    for place, figure in reversed(list(enumerate(shown))):
        smaller = operation.small and points and place >= points[0]
        held = drawing.figure_sets[operation.figure_set + 1 if smaller else operation.figure_set]
        x -= held.point_advance if figure >= 15 else held.advance
        glyph = held.glyphs[figure]
        made.append(masked(drawing, glyph.mask, x + glyph.left, operation.box.top + glyph.top))
    return made


def spelled(operation: Figures, step: int) -> list[int]:
    """Positions in the figure set from left to right, by way of decimal text."""
    number = operation.offset + operation.scale * step
    size = abs(number)
    if operation.sixties:
        high, low = divmod(size // 10, 6)
        digits = (str(high) if high else "") + str(low) + str(size % 10)
    else:
        digits = str(size)
    least = operation.least
    point = operation.point if operation.point_after > 0 else 0
    if point:
        least = max(least, operation.point_after + 1)
    text = (digits.lstrip("0") or "").rjust(max(least, 1), "0")
    shown = [int(char) for char in text]
    if point:
        shown.insert(len(shown) - operation.point_after, point)
    if number < 0:
        shown.insert(0, 10)
    elif number > 0 and operation.plus:
        shown.insert(0, 11)
    return shown
