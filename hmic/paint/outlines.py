"""Polygons of outlines as levels, by the 4 x 4 samples of ``Pointer``."""

from __future__ import annotations

from PIL import Image

from hmic.paint.operations import Box

Polygon = tuple[tuple[int, int], ...]

SAMPLES = 4
UNITS = 16
"""Of an outline's corners to a pixel."""
_SPACING, _FIRST = UNITS // SAMPLES, UNITS // SAMPLES // 2

# The mean of 16 samples of 0 or 240 is 15 times their count, with nothing to round.
_INSIDE = 240
_LEVELS = [17 * ((mean // 15 * 15 + 8) // 16) for mean in range(256)]


def side(start: tuple[int, int], end: tuple[int, int], point: tuple[int, int]) -> int:
    """Above 0 when the point is on the right of the edge from start to end as seen, 0 on its line."""
    (ax, ay), (bx, by), (x, y) = start, end, point
    return (bx - ax) * (y - ay) - (by - ay) * (x - ax)


NOTHING: Polygon = ((0, 0), (3, 0), (0, 1))
"""A shape that no sample lies in."""


def is_convex(polygon: Polygon) -> bool:
    """Whether every corner is on or to the right of every edge, and not all are on one line."""
    edges = zip(polygon, polygon[1:] + polygon[:1], strict=True)
    sides = [side(*edge, corner) for edge in edges if edge[0] != edge[1] for corner in polygon]
    return min(sides, default=0) >= 0 and max(sides, default=0) > 0


def convex(polygon: Polygon) -> Polygon:
    """The convex shape around a polygon, clockwise, of as many corners: what was convex before its corners
    came to lie on whole units may not be so any more. Of corners on one line nothing is left."""
    if is_convex(polygon):
        return polygon
    places = sorted(set(polygon))
    above, below = _chain(places), _chain(places[::-1])
    hull = (*above[:-1], *below[:-1])
    if len(hull) < 3:
        hull = NOTHING
    return hull + hull[-1:] * (len(polygon) - len(hull))


def _chain(places: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """The corners of one side of the shape around places that are in order, its ends included."""
    kept: list[tuple[int, int]] = []
    for place in places:
        while len(kept) > 1 and side(kept[-2], kept[-1], place) <= 0:
            kept.pop()
        kept.append(place)
    return kept


def reach(polygon: Polygon, width: int, height: int) -> Box:
    """The pixels of a box of that size which the polygon may touch, from the box's corner."""
    xs, ys = [x for x, _ in polygon], [y for _, y in polygon]
    left, top = min(xs) // UNITS, min(ys) // UNITS
    right, bottom = min(width, max(xs) // UNITS + 1), min(height, max(ys) // UNITS + 1)
    return Box(left, top, max(0, right - left), max(0, bottom - top))


def levels(polygon: Polygon, within: Box) -> Image.Image:
    """The levels of the pixels ``within``, which is not empty.

    A row of samples meets a convex shape in one span, so each edge is solved once a row for the
    first or last sample on its right; the result is that of asking every sample.
    """
    first, count = within.left * SAMPLES, within.width * SAMPLES
    edges = [
        (bx - ax, by - ay, ax, ay)
        for (ax, ay), (bx, by) in zip(polygon, polygon[1:] + polygon[:1], strict=True)
    ]
    clear, full = bytes(count), bytes((_INSIDE,)) * count
    rows = []
    for row in range(within.top * SAMPLES, (within.top + within.height) * SAMPLES):
        y = row * _SPACING + _FIRST
        low, high = first, first + count
        for dx, dy, ax, ay in edges:
            room = dx * (y - ay) + dy * (ax - _FIRST)
            if dy > 0:
                high = min(high, room // (_SPACING * dy) + 1)
            elif dy < 0:
                low = max(low, -(room // (-_SPACING * dy)))
            elif room < 0:
                high = low
        span = max(0, high - low)
        before = low - first if span else 0
        rows.append(clear[:before] + full[:span] + clear[: count - before - span])
    samples = Image.frombytes("L", (count, len(rows)), b"".join(rows))
    return samples.reduce(SAMPLES).point(_LEVELS)
