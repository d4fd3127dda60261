"""Figure cells of a face: digits of equal advance, signs, points and the three marks of doubt."""

from __future__ import annotations

from hmic.paint.fonts import DIGITS, EN_DASH, MINUS_SIGN, Drawn, Face, FigureCells, Placed
from hmic.paint.operations import Mask
from hmic.paint.shapes import disc

_FIRM = 12
"""The least coverage that the darkest pixel of a minus must have; a faint minus misleads."""


def figure_cells(face: Face) -> FigureCells:
    """The cells of a face, in the order of ``FigureSet``. DesignError A392 for a lacking glyph."""
    digits = [face.drawn(char) for char in DIGITS]
    advance = max(digit.advance for digit in digits)
    points = [face.drawn(char) for char in ".,:"]
    point_advance = max(point.advance for point in points)
    capitals = face.capital_height
    cells = [_in_cell(digit, advance, capitals, by_ink=False) for digit in digits]
    cells.append(_minus(face, advance))
    cells.append(_fitted(face, "+", advance))
    cells.append(raised_dot(advance, capitals))
    cells.append(_dash(face, advance, capitals))
    cells.append(_fitted(face, "!", advance))
    cells += [_in_cell(point, point_advance, capitals, by_ink=True) for point in points]
    rise = max(0, -min(top for _, _, top in cells))
    ends = [rise + top + mask.height for mask, _, top in cells]
    height = max(ends[:16] + ends[17:])
    placed = tuple((mask, left, top + rise) for mask, left, top in cells)
    return FigureCells(advance, point_advance, height, placed, rise, max(0, ends[16] - height))


def raised_dot(advance: int, capitals: int) -> Placed:
    """A disc at half the height of the capitals, in the middle of a cell, offset from its corner.

    Its diameter is about a fifth of the height (chosen by eye), of the parity that centres it.
    """
    across = max(3, (capitals * 22 + 50) // 100)
    across += (across ^ capitals) & 1
    mask = disc(across)
    return mask, (advance - across) // 2, (capitals - across) // 2


def _minus(face: Face, advance: int) -> Placed:
    """The font's minus; where that is wider than a cell or faint, a solid bar about its middle."""
    glyph = face.drawn(MINUS_SIGN)
    mask = glyph.mask
    if mask is None or (mask.width < advance and max(mask.coverage) >= _FIRM):
        return _in_cell(glyph, advance, face.capital_height, by_ink=True)
    thick = max(1, round(sum(mask.coverage) / 15 / mask.width))
    middle = 2 * (face.capital_height + glyph.top) + mask.height
    return _bar(advance, min(mask.width, advance - 1), thick, middle)


def _dash(face: Face, advance: int, capitals: int) -> Placed:
    """A bar at half the height of the capitals, as thick as the font's en dash and six tenths of a
    cell long, so that the dashes of neighbouring cells do not run together."""
    drawn = face.drawn(EN_DASH).mask
    thick = min(drawn.height if drawn else 1, capitals)
    return _bar(advance, (advance * 6 + 5) // 10, thick, capitals)


def _bar(advance: int, long: int, thick: int, middle: int) -> Placed:
    """A solid bar centred in a cell; ``middle`` is twice the height of its middle line."""
    long = max(1, long - ((long ^ advance) & 1))
    return Mask(long, thick, bytes([15]) * (long * thick)), (advance - long) // 2, (middle - thick) // 2


def _fitted(face: Face, char: str, advance: int) -> Placed:
    """A glyph centred in a cell; one wider than the cell is drawn smaller about the same middle."""
    glyph = face.drawn(char)
    if glyph.mask is None or glyph.mask.width <= advance - 1:
        return _in_cell(glyph, advance, face.capital_height, by_ink=True)
    smaller = face.drawn_smaller(char, advance - 1)
    drop = (glyph.mask.height - (smaller.mask.height if smaller.mask else 0)) // 2
    moved = Drawn(smaller.mask, smaller.left, glyph.top + drop, smaller.advance)
    return _in_cell(moved, advance, face.capital_height, by_ink=True)


def _in_cell(glyph: Drawn, advance: int, capitals: int, by_ink: bool) -> Placed:
    """A glyph in the middle of a cell, by its ink or by its advance; top from the capitals' top."""
    mask = glyph.mask or Mask(0, 0, b"")
    if by_ink:
        return mask, (advance - mask.width) // 2, capitals + glyph.top
    return mask, glyph.left + (advance - glyph.advance) // 2, capitals + glyph.top
