"""Areas to coverage masks, in whole numbers only.

A pixel is sampled at 16 columns by 8 rows. Each row of samples is one Python integer, a bit a
sample, so that joining and removing areas is exact and leaves no seams. Lengths are in units of
``UNIT`` to a pixel; x runs right and y down from the top left corner. The same calls give the same
mask on every platform: no float, no library draws here.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from itertools import pairwise
from math import isqrt

from hmic.paint.operations import Mask

UNIT = 4096
Point = tuple[int, int]

_COLUMNS = 16
_ROWS = 8
_COLUMN = UNIT // _COLUMNS
_ROW = UNIT // _ROWS
_SAMPLES = _COLUMNS * _ROWS
# Samples covered -> coverage 0..15, nearest.
_COVERAGE = bytes(min(15, (count * 15 + _SAMPLES // 2) // _SAMPLES) for count in range(256))

_TURN_SCALE = 1 << 30
_PI = 3373259426  # pi * 2**30, rounded


def divided(numerator: int, denominator: int) -> int:
    """The nearest whole quotient, halves away from zero, so that mirrored inputs stay mirrored."""
    if denominator < 0:
        numerator, denominator = -numerator, -denominator
    half = denominator // 2
    return (numerator + half) // denominator if numerator >= 0 else -((half - numerator) // denominator)


def polar(centre: Point, radius: int, degrees: int) -> Point:
    """The point at a compass bearing: 0 is up, 90 right, 180 down. Any length unit."""
    east, south = (
        divided(radius * _sine(degrees), _TURN_SCALE),
        -divided(radius * _sine(degrees + 90), _TURN_SCALE),
    )
    return centre[0] + east, centre[1] + south


def turned(point: Point, centre: Point, degrees: int) -> Point:
    """The point carried clockwise around the centre."""
    x, y = point[0] - centre[0], point[1] - centre[1]
    sine, cosine = _sine(degrees), _sine(degrees + 90)
    return (
        centre[0] + divided(x * cosine - y * sine, _TURN_SCALE),
        centre[1] + divided(x * sine + y * cosine, _TURN_SCALE),
    )


def arc(centre: Point, radius: int, start: int, end: int) -> list[Point]:
    """Points on a circle every 5 degrees or less, from one bearing to the other, both included.

    The chord stays within 0.1 % of the radius from the circle.
    """
    count = max(1, -(-abs(end - start) // 5))
    return [polar(centre, radius, start + divided((end - start) * i, count)) for i in range(count + 1)]


def bezier(controls: Sequence[Point]) -> list[Point]:
    """Points on a Bezier curve of two, three or four control points, both ends included: one for
    about every 1.5 pixels, 5 to 17 of them."""
    length = sum(isqrt((x1 - x0) ** 2 + (y1 - y0) ** 2) for (x0, y0), (x1, y1) in pairwise(controls))
    pieces = min(16, max(4, length * 2 // (3 * UNIT)))
    return [_on_curve(controls, i, pieces) for i in range(pieces + 1)]


def rounded_box(left: int, top: int, right: int, bottom: int, radius: int) -> list[Point]:
    """The outline of a box with quarter circles for corners, clockwise."""
    radius = max(0, min(radius, (right - left) // 2, (bottom - top) // 2))
    if radius == 0:
        return [(left, top), (right, top), (right, bottom), (left, bottom)]
    return [
        *arc((right - radius, top + radius), radius, 0, 90),
        *arc((right - radius, bottom - radius), radius, 90, 180),
        *arc((left + radius, bottom - radius), radius, 180, 270),
        *arc((left + radius, top + radius), radius, 270, 360),
    ]


class Samples:
    """The samples of a mask of ``width`` by ``height`` pixels, none covered at first."""

    def __init__(self, width: int, height: int) -> None:
        self.width = width
        self.height = height
        self._columns = width * _COLUMNS
        self._rows = [0] * (height * _ROWS)

    def polygon(self, contours: Iterable[Sequence[Point]], even_odd: bool = False) -> None:
        """Adds the inside of closed contours, by the non-zero rule or the even-odd rule."""
        crossings: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for contour in contours:
            previous = contour[-1] if contour else (0, 0)
            for point in contour:
                self._cross(previous, point, crossings)
                previous = point
        # Along upright sides every row is like the one before.
        known: dict[tuple[tuple[int, int], ...], int] = {}
        for row, found in crossings.items():
            key = tuple(sorted(found))
            if key not in known:
                known[key] = self._between(key, even_odd)
            self._rows[row] |= known[key]

    def _between(self, crossings: Sequence[tuple[int, int]], even_odd: bool) -> int:
        """The samples of a row that are inside, of edges crossed at (x, direction) from the left."""
        samples = winding = start = 0
        for x, direction in crossings:
            was_inside = winding & 1 if even_odd else winding
            winding += direction
            inside = winding & 1 if even_odd else winding
            if inside and not was_inside:
                start = x
            elif was_inside and not inside:
                samples |= self._span(start, x)
        return samples

    def disc(self, centre: Point, radius: int) -> None:
        """Adds a full circle."""
        x, y = centre
        square = radius * radius
        first = max(0, -(-(y - radius - _ROW // 2) // _ROW))
        last = min(len(self._rows) - 1, (y + radius - _ROW // 2) // _ROW)
        for row in range(first, last + 1):
            away = row * _ROW + _ROW // 2 - y
            half = isqrt(square - away * away)
            self._rows[row] |= self._span(x - half, x + half)

    def ring(self, centre: Point, outer: int, inner: int) -> None:
        """Adds a full circle without the smaller one around the same centre."""
        outside = Samples(self.width, self.height)
        outside.disc(centre, outer)
        if inner > 0:
            hole = Samples(self.width, self.height)
            hole.disc(centre, inner)
            outside.remove(hole)
        self.add(outside)

    def stroke(self, points: Sequence[Point], width: int, closed: bool = False) -> None:
        """Adds a line of that width through the points, with round ends and joins."""
        half = width // 2
        line = [point for point, before in zip(points, [None, *points], strict=False) if point != before]
        if closed and line[0] != line[-1]:
            line.append(line[0])
        self.disc(line[0], half)
        smooth: list[tuple[Point, Point]] = []  # a point of the line and half the pen across it there
        before: Point | None = None
        for start, end in pairwise(line):
            across = _across(start, end, half)
            bend = across if before is None else _bend(before, across, half)
            if before is not None and bend is None:
                self._band([*smooth, (start, before)])
                self.disc(start, half)
                smooth = []
            smooth.append((start, bend or across))
            before = across
        if before is not None:
            self._band([*smooth, (line[-1], before)])
            self.disc(line[-1], half)

    def add(self, other: Samples) -> None:
        """Adds all that the other covers; both must be of one size."""
        self._rows = [mine | theirs for mine, theirs in zip(self._rows, other._rows, strict=True)]

    def remove(self, other: Samples) -> None:
        """Takes away all that the other covers; both must be of one size."""
        self._rows = [mine & ~theirs for mine, theirs in zip(self._rows, other._rows, strict=True)]

    def mask(self) -> Mask:
        """The coverage of each pixel, 0..15, nearest."""
        lines: dict[tuple[int, ...], bytes] = {}
        rows = [tuple(self._rows[start : start + _ROWS]) for start in range(0, len(self._rows), _ROWS)]
        for row in rows:
            if row not in lines:
                lines[row] = _counts(row, self.width).translate(_COVERAGE)
        return Mask(self.width, self.height, b"".join(lines[row] for row in rows))

    def _band(self, line: Sequence[tuple[Point, Point]]) -> None:
        one_side = [(x + dx, y + dy) for (x, y), (dx, dy) in line]
        other_side = [(x - dx, y - dy) for (x, y), (dx, dy) in reversed(line)]
        self.polygon([one_side + other_side])

    def _cross(self, start: Point, end: Point, crossings: dict[int, list[tuple[int, int]]]) -> None:
        direction = 1
        if start[1] > end[1]:
            start, end, direction = end, start, -1
        (x0, y0), (x1, y1) = start, end
        first = max(0, -(-(y0 - _ROW // 2) // _ROW))
        beyond = min(len(self._rows), -(-(y1 - _ROW // 2) // _ROW))
        rise, run = y1 - y0, x1 - x0
        # From row to row the way along the edge grows by the same.
        along = 2 * (first * _ROW + _ROW // 2 - y0) * run + rise
        for row in range(first, beyond):
            crossings[row].append((x0 + along // (2 * rise), direction))
            along += 2 * _ROW * run

    def _span(self, left: int, right: int) -> int:
        # Closed at both ends: a sample on either edge counts, so mirrored shapes give mirrored masks.
        first = -((_COLUMN // 2 - left) // _COLUMN)
        beyond = (right - _COLUMN // 2) // _COLUMN + 1
        if first < 0:
            first = 0
        if beyond > self._columns:
            beyond = self._columns
        return (1 << beyond) - (1 << first) if first < beyond else 0


def _across(start: Point, end: Point, half: int) -> Point:
    """``half`` at a right angle to the line."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = isqrt(dx * dx + dy * dy)
    return divided(-dy * half, length), divided(dx * half, length)


def _bend(before: Point, after: Point, half: int) -> Point | None:
    """Half the pen across a gentle bend, or None where the line turns by more than 25 degrees."""
    dot = before[0] * after[0] + before[1] * after[1]
    square = half * half
    if dot * 10 < square * 9:
        return None
    x, y = before[0] + after[0], before[1] + after[1]
    return divided(x * square, square + dot), divided(y * square, square + dot)


def _counts(rows: Sequence[int], width: int) -> bytes:
    """How many samples of each pixel are covered: all pixels at once, in 16-bit lanes."""
    pairs, fours, eights, lanes = _lane_masks(width)
    total = 0
    for row in rows:
        if row:
            twos = row - ((row >> 1) & pairs)
            nibbles = (twos & fours) + ((twos >> 2) & fours)
            octets = (nibbles + (nibbles >> 4)) & eights
            total += (octets + (octets >> 8)) & lanes
    return total.to_bytes(2 * width, "little")[::2]


@lru_cache(maxsize=256)
def _lane_masks(width: int) -> tuple[int, int, int, int]:
    ones = (1 << 16 * width) // 0xFFFF if width else 0
    return ones * 0x5555, ones * 0x3333, ones * 0x0F0F, ones * 0x00FF


def _on_curve(controls: Sequence[Point], part: int, pieces: int) -> Point:
    xs, ys = [x for x, _ in controls], [y for _, y in controls]
    left = pieces - part
    for _ in range(len(controls) - 1):
        xs = [a * left + b * part for a, b in pairwise(xs)]
        ys = [a * left + b * part for a, b in pairwise(ys)]
    whole = pieces ** (len(controls) - 1)
    return divided(xs[0], whole), divided(ys[0], whole)


@cache
def _sine(degrees: int) -> int:
    """The sine of whole degrees, times 2**30, by its power series in whole numbers."""
    degrees %= 360
    if degrees > 180:
        return -_sine(degrees - 180)
    if degrees > 90:
        degrees = 180 - degrees
    if degrees == 90:
        return _TURN_SCALE
    x = divided(degrees * _PI, 180)
    total = term = x
    k = 1
    while term:
        term = divided(divided(-term * x, _TURN_SCALE) * x, _TURN_SCALE * 2 * k * (2 * k + 1))
        total += term
        k += 1
    return total
