"""The screen of a display that has no pack yet: two words made of filled boxes, no font needed."""

from __future__ import annotations

from hmic.paint.operations import Box, Drawing, Fill, Ink, Operation, ScreenDrawing, Theme

# Letters on a grid of 5 x 7, drawn for this.
LETTERS = {
    "N": ("1...1", "1...1", "11..1", "1.1.1", "1..11", "1...1", "1...1"),
    "O": (".111.", "1...1", "1...1", "1...1", "1...1", "1...1", ".111."),
    "P": ("1111.", "1...1", "1...1", "1111.", "1....", "1....", "1...."),
    "A": (".111.", "1...1", "1...1", "11111", "1...1", "1...1", "1...1"),
    "C": (".111.", "1...1", "1....", "1....", "1....", "1...1", ".111."),
    "K": ("1...1", "1..1.", "1.1..", "11...", "1.1..", "1..1.", "1...1"),
    " ": ("...",) * 7,
}
WORDS = "NO PACK"
ROWS = 7


def blank(width: int, height: int, depth: int) -> Drawing:
    """A drawing of one dark screen for a panel of any size; words where they fit."""
    theme = Theme("plain", ((16, 16, 16), (160, 160, 160), (200, 200, 200)), 100)
    operations: list[Operation] = [Fill(Box(0, 0, width, height), Ink(0))]
    columns = sum(len(LETTERS[letter][0]) + 1 for letter in WORDS) - 1
    # A third of the panel's width.
    dot = max(1, width // (3 * columns))
    if columns * dot <= width and ROWS * dot <= height:
        left = (width - columns * dot) // 2
        top = (height - ROWS * dot) // 2
        for letter in WORDS:
            rows = LETTERS[letter]
            operations += [Fill(box, Ink(2)) for box in _boxes(rows, left, top, dot)]
            left += (len(rows[0]) + 1) * dot
    screen = ScreenDrawing("no pack", tuple(operations), (), ())
    return Drawing(width, height, depth, (theme,), (), (), (), (), (screen,), 0)


def _boxes(rows: tuple[str, ...], left: int, top: int, dot: int) -> list[Box]:
    boxes = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            end = x
            while end < len(row) and row[end] == "1":
                end += 1
            if end > x:
                boxes.append(Box(left + x * dot, top + y * dot, (end - x) * dot, dot))
            x = end + 1
    return boxes
