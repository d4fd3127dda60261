"""The pixel rules of PIXELS.md a second time: pixel by pixel, plain integers, no image library.

Shares only the data classes with the painter; the hatches are written out here as the document
prints them.
"""

from __future__ import annotations

from hmic.paint.operations import Axis, Drawing, Figures, Fill, Frame, Moment, Operation, Reveal, Run, Stencil

TILES = [
    ["AFA00000", "FFF00000", "AFA00000", "00000000", "0000AFA0", "0000FFF0", "0000AFA0", "00000000"],
    ["FF700007", "F700007F", "700007FF", "00007FF7", "0007FF70", "007FF700", "07FF7000", "7FF70000"],
    ["F8000008", "8F80008F", "08F808F8", "008F8F80", "0008F800", "008F8F80", "08F808F8", "8F80008F"],
]


def paint(drawing: Drawing, moment: Moment) -> list[list[tuple[int, int, int]]]:
    """Rows of (red, green, blue)."""
    palette = drawing.themes[moment.theme].colours
    raw = [r if r < 3 + n else 2 for r, n in zip(moment.raw, drawing.channels, strict=True)]
    rows = [[palette[0]] * drawing.width for _ in range(drawing.height)]
    for operation in drawing.screens[moment.screen].operations:
        when = operation.when
        if when and not (when.low <= raw[when.channel] <= when.high):
            continue
        state = 3
        if operation.ink.tint != 0xFFFF:
            state = min(3, raw[operation.ink.tint])
        if isinstance(operation, Figures | Reveal) and raw[operation.channel] < 3:
            state = raw[operation.channel]
        if state < 3:
            ink = palette[1]
        else:
            tint = operation.ink.tint
            ink = palette[operation.ink.first + (raw[tint] - 3 if tint != 0xFFFF else 0)]
            if isinstance(operation, Stencil) and operation.flash and moment.clock % 1000 >= 500:
                continue
        for layer in layers(drawing, operation, raw, state):
            for (x, y), level in layer.items():
                box = operation.box
                inside = 0 <= x < drawing.width and 0 <= y < drawing.height
                if inside and 0 <= x - box.left < box.width and 0 <= y - box.top < box.height:
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
    kept = value >> (8 - bits)
    return (kept << (8 - bits)) | (kept >> (2 * bits - 8))


Layer = dict[tuple[int, int], int]


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
    spots = [(x, y) for y in range(box.height) for x in range(box.width)]
    layer: Layer = {}
    for x, y in spots:
        level = own_level(drawing, operation, x, y)
        if state == 3 and isinstance(operation, Reveal):
            level = divide(level * uncovered(drawing, operation, x, y, raw[operation.channel] - 3))
        px, py = box.left + x, box.top + y
        if state < 3:
            level = divide(level * 17 * int(TILES[state][py % 8][px % 8], 16))
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
        case Fill():
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
    along = {
        Axis.RIGHTWARD: x,
        Axis.LEFTWARD: box.width - 1 - x,
        Axis.DOWNWARD: y,
        Axis.UPWARD: box.height - 1 - y,
    }[reveal.axis]
    return 255 if reveal.zero <= along < step or step <= along < reveal.zero else 0


def figures(drawing: Drawing, operation: Figures, raw: list[int], state: int) -> list[Layer]:
    held = drawing.figure_sets[operation.figure_set]
    shown = spelled(operation, raw[operation.channel] - 3) if state == 3 else [12 + state] * operation.places
    made: list[Layer] = []
    x = operation.box.left + operation.box.width
    for figure in reversed(shown):
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
    if operation.point:
        least = max(least, operation.point_after + 1)
    text = (digits.lstrip("0") or "").rjust(max(least, 1), "0")
    shown = [int(char) for char in text]
    if operation.point:
        shown.insert(len(shown) - operation.point_after, operation.point)
    if number < 0:
        shown.insert(0, 10)
    elif number > 0 and operation.plus:
        shown.insert(0, 11)
    return shown
