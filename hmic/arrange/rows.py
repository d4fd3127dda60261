"""What stands side by side stands on one line: captions of a row at one height, its texts on one baseline.

Each widget puts its own text in the middle of its place, so that a caption, or a letter that reaches far
down, would leave one text a little lower than its neighbour. Once all of a screen is there, what stands in
places of the same top and height is brought together: captions at the height of the highest, texts of one
size on the lowest of their baselines, as far as their places allow.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from hmic.arrange.canvas import Canvas, Line, PieceFact
from hmic.language.syntax import PhraseKind


def bring_together(canvas: Canvas) -> None:
    """Moves captions and texts of each row; a piece that says its own place stays there."""
    rows: dict[tuple[int, int], list[tuple[PieceFact, Line]]] = defaultdict(list)
    for piece in canvas.pieces:
        if piece.line is not None and piece.widget.one(PhraseKind.AT) is None:
            rows[piece.box.top, piece.box.height].append((piece, piece.line))
    for row in rows.values():
        captions = [(piece, line, line.caption) for piece, line in row if line.caption is not None]
        for piece, line, top in captions:
            highest = min(other for _, _, other in captions)
            operations = piece.first, piece.first + line.rows
            _move(canvas, operations, (line.texts[0], line.texts[0] + line.rows), highest - top)
        for height in {line.height for _, line in row}:
            _baseline([(piece, line) for piece, line in row if line.height == height], canvas)


def _baseline(row: list[tuple[PieceFact, Line]], canvas: Canvas) -> None:
    lowest = max(line.top for _, line in row)
    for piece, line in row:
        down = max(0, min(lowest, line.lowest) - line.top)
        _move(canvas, (piece.first + line.rows, piece.last), (line.texts[0] + line.rows, line.texts[1]), down)


def _move(canvas: Canvas, operations: tuple[int, int], texts: tuple[int, int], down: int) -> None:
    """A run of operations and the texts that they paint."""
    for number in range(*operations) if down else ():
        one = canvas.operations[number]
        canvas.operations[number] = replace(one, box=one.box._replace(top=one.box.top + down))
    for number in range(*texts) if down else ():
        fact = canvas.texts[number]
        canvas.texts[number] = replace(fact, box=fact.box._replace(top=fact.box.top + down))
