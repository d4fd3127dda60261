"""The hatches of the doubt look: coverage 0..15 that repeats over the panel every ``PERIOD`` pixels.

The pixel (x, y) of the panel takes ``HATCHES[state][y % PERIOD][x % PERIOD]``. Never seen is a
field of dots, stale is slanted lines, out of range is crossed lines. The period, 1.3 mm on a panel
of 6 px/mm, keeps three lines in a symbol of 4 mm (chosen by eye).
"""

from __future__ import annotations

PERIOD = 8

Tile = tuple[tuple[int, ...], ...]

_DOT = ((10, 15, 10), (15, 15, 15), (10, 15, 10))
_BROAD = (15, 15, 7, 0, 0, 0, 0, 7)
_NARROW = (15, 8, 0, 0, 0, 0, 0, 8)


def _dots(x: int, y: int) -> int:
    """Two dots a tile, staggered."""
    for corner in (0, PERIOD // 2):
        if corner <= x < corner + 3 and corner <= y < corner + 3:
            return _DOT[y - corner][x - corner]
    return 0


def _slanted(x: int, y: int) -> int:
    return _BROAD[(x + y) % PERIOD]


def _crossed(x: int, y: int) -> int:
    return max(_NARROW[(x + y) % PERIOD], _NARROW[(x - y) % PERIOD])


HATCHES: tuple[Tile, ...] = tuple(
    tuple(tuple(coverage(x, y) for x in range(PERIOD)) for y in range(PERIOD))
    for coverage in (_dots, _slanted, _crossed)
)
