"""The driver's eye: numbers read from the painted picture alone, figure by figure.

It knows the shapes of a pack's figures and where a number ends, as a reader knows a typeface and a place; not
which value was sent, nor what was painted. What no figure resembles is read as nothing.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from hmic.paint.operations import Drawing, Figures

SIGNS = "0123456789-+!!!.,:"
"""What the figures of a set stand for; ``!`` for a mark of doubt."""
POINTS = 15
"""From here on a set's figures are points."""
APART = 0.08
"""Mean difference of coverage above which a cell is not taken for a figure."""


def numbers(drawing: Drawing, screen: int, picture: Any) -> list[tuple[int, str]]:
    """Channel and text of each number in sight, those that are painted by condition left out."""
    found = []
    for operation in drawing.screens[screen].operations:
        if isinstance(operation, Figures) and operation.when is None and not operation.sixties:
            found.append((operation.channel, _number(drawing, operation, picture)))
    return found


def _number(drawing: Drawing, operation: Figures, picture: Any) -> str:
    height = drawing.figure_sets[operation.figure_set].height
    box = operation.box
    cut = picture.crop((box.left, box.top, box.left + box.width, box.top + box.height))
    levels = _levels(cut.tobytes())
    pen, text = box.width, ""
    rows = range(0, min(height, box.height) * box.width, box.width)
    while pen > 0:
        best = None
        cells: dict[int, bytes] = {}
        # Smaller decimals end with their point.
        small = operation.small and not set(text) & set(SIGNS[POINTS:])
        for number in (operation.figure_set, *([operation.figure_set + 1] if small else [])):
            held = drawing.figure_sets[number]
            for figure in range(len(SIGNS)):
                wide = held.point_advance if figure >= POINTS else held.advance
                if wide > pen or (figure >= POINTS and SIGNS[figure] in text):
                    continue
                if wide not in cells:
                    cells[wide] = b"".join(levels[row + pen - wide : row + pen] for row in rows)
                far = _difference(cells[wide], _shape(drawing, number, figure, height))
                if best is None or far < best[0]:
                    best = far, figure, wide
        if best is None or best[0] > APART:
            break
        text, pen = SIGNS[best[1]] + text, pen - best[2]
    return text


@lru_cache(maxsize=4096)
def _levels(pixels: bytes) -> bytes:
    """How much each pixel is inked, 0 to 255: by its distance from the commonest colour."""
    colours = [pixels[at : at + 3] for at in range(0, len(pixels), 3)]
    ground = max(set(colours), key=colours.count)
    far = [sum(abs(one - other) for one, other in zip(each, ground, strict=True)) for each in colours]
    most = max(far) or 1
    return bytes(each * 255 // most for each in far)


_shapes: dict[tuple[int, int, int, int], tuple[Drawing, bytes]] = {}
"""With the drawing, which must live for as long as its ``id`` stands here."""


def _shape(drawing: Drawing, number: int, figure: int, height: int) -> bytes:
    key = id(drawing), number, figure, height
    if key not in _shapes:
        held = drawing.figure_sets[number]
        wide = held.point_advance if figure >= POINTS else held.advance
        glyph = held.glyphs[figure]
        mask = drawing.masks[glyph.mask]
        cells = bytearray(wide * height)
        for y in range(mask.height):
            for x in range(mask.width):
                column, row = x + glyph.left, y + glyph.top
                if 0 <= column < wide and 0 <= row < height:
                    cells[row * wide + column] = 17 * mask.coverage[y * mask.width + x]
        _shapes[key] = drawing, bytes(cells)
    return _shapes[key][1]


@lru_cache(maxsize=65536)
def _difference(cell: bytes, shape: bytes) -> float:
    inked = sum(shape) or 1
    return sum(abs(one - other) for one, other in zip(cell, shape, strict=False)) / inked
