"""Plain shapes as masks: levels, corners, discs and rings."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import isqrt
from typing import NamedTuple

from hmic.paint.operations import Box, Mask, ThresholdMap
from hmic.paint.raster import UNIT, Point, Samples, polar, rounded_box
from hmic.paint.remembered import remembered

AROUND_EDGE = 4
"""Thresholds of the soft front of what goes ``around``."""
LEVEL_SHAPES = ("battery", "box", "tank")


class LevelShape(NamedTuple):
    """A vessel: its ``outline`` over the whole size, and the ``inside`` that fills up, a mask of
    the size of ``inside_box``. The box is relative to the outline's corner."""

    outline: Mask
    inside: Mask
    inside_box: Box


@lru_cache(maxsize=256)
def level_shape(name: str, width: int, height: int) -> LevelShape:
    """The vessel ``battery`` (an upright cell with a terminal on top), ``tank`` (round ends) or
    ``box``, in pixels. KeyError for another name.

    The outline is 1/20 of the shorter side thick, at least 2 px; the same gap, at most 3 px, keeps the
    filling apart from it. ValueError when nothing would be left inside.
    """
    if name not in LEVEL_SHAPES:
        raise KeyError(name)
    line = max(2, (min(width, height) + 10) // 20)
    gap = min(line, 3)
    nub = max(2, height // 16) if name == "battery" else 0
    radius = {"battery": line * 2, "tank": min(width, height) // 3, "box": line}[name]
    inner = line + gap
    inside = Box(inner, nub + inner, width - 2 * inner, height - nub - 2 * inner)
    if inside.width < 1 or inside.height < 1:
        raise ValueError(f"a {name} of {width} by {height} px has no room inside")
    filling = _filling(inside.width, inside.height, max(0, radius - inner))
    return LevelShape(_vessel(width, height, line, nub, radius), filling, inside)


@remembered
def _vessel(width: int, height: int, line: int, nub: int, radius: int) -> Mask:
    """The outline of a level shape, with a terminal ``nub`` px high on top if that is above 0."""

    def draw(height: int) -> Samples:
        samples = Samples(width, height)
        outer = _corners(0, nub, width, height, radius)
        hollow = _corners(line, nub + line, width - line, height - line, max(0, radius - line))
        samples.polygon([outer, hollow], even_odd=True)
        if nub:
            # Of the width's parity, so that it stands in the middle.
            half = max(1, width // 5)
            samples.polygon([_corners(width // 2 - half, 0, width - width // 2 + half, nub * 2, nub // 2)])
            samples.remove(_filled(width, height, hollow))
        return samples

    edge = max(radius, line)
    return _stretched(draw, height, nub + max(nub, edge), edge)


def _stretched(draw: Callable[[int], Samples], height: int, top: int, bottom: int) -> Mask:
    """What ``draw`` makes of a height, all rows alike but for some at the ``top`` and the ``bottom``: drawn
    with one of them, which is repeated."""
    short = draw(min(height, top + 1 + bottom)).mask()
    before, after = short.coverage[: top * short.width], short.coverage[top * short.width :]
    return Mask(short.width, height, before + after[: short.width] * (height - short.height) + after)


@remembered
def _filling(width: int, height: int, radius: int) -> Mask:
    return _box(width, height, radius)


def _box(width: int, height: int, radius: int) -> Mask:
    def draw(height: int) -> Samples:
        return _filled(width, height, _corners(0, 0, width, height, radius))

    edge = min(radius, (width + 1) // 2)
    return _stretched(draw, height, edge, edge)


@lru_cache(maxsize=256)
def corner(radius: int) -> Mask:
    """The top left quarter of a disc, ``radius`` pixels square: a rounded corner."""
    samples = Samples(radius, radius)
    samples.disc((radius * UNIT, radius * UNIT), radius * UNIT)
    return samples.mask()


@remembered
def rounded(width: int, height: int, radius: int) -> Mask:
    """A full box with rounded corners; the radius is cut to half the shorter side."""
    return _box(width, height, radius)


@remembered
def ring(diameter: int, line: int) -> Mask:
    """A circle's line, ``line`` pixels thick, inside a square of ``diameter`` pixels."""
    samples = Samples(diameter, diameter)
    middle = diameter * UNIT // 2
    samples.ring((middle, middle), middle, middle - line * UNIT)
    return samples.mask()


@remembered
def border(width: int, height: int, radius: int, line: int) -> Mask:
    """The line along the inside of a box with rounded corners."""
    samples = _filled(width, height, _corners(0, 0, width, height, radius))
    inner = _corners(line, line, width - line, height - line, max(0, radius - line))
    samples.remove(_filled(width, height, inner))
    return samples.mask()


def around(line: Mask, most: int) -> ThresholdMap:
    """For each pixel of a ``border`` how far it lies along the way around, clockwise from the middle of the
    top, from 0 to nearly ``most``."""
    width, height = line.width, line.height
    whole = 2 * (width + height)
    found = bytearray(width * height)
    for at, coverage in enumerate(line.coverage):
        if not coverage:
            continue
        top, left = divmod(at, width)
        bottom, right = height - 1 - top, width - 1 - left
        near = min(top, bottom, left, right)
        if near == top:
            way = left - width // 2 if 2 * left >= width else whole - width // 2 + left
        elif near == right:
            way = width // 2 + top
        elif near == bottom:
            way = width // 2 + height + right
        else:
            way = width // 2 + height + width + bottom
        found[at] = min(way * most // whole, most - AROUND_EDGE)
    return ThresholdMap(width, height, bytes(found))


@remembered
def dots(side: int) -> Mask:
    """Three dots in a row across the middle of a square."""
    samples = Samples(side, side)
    third = side * UNIT // 3
    for number in range(3):
        samples.disc((third * number + third // 2, side * UNIT // 2), third * 3 // 8)
    return samples.mask()


@remembered
def barred(diameter: int) -> Mask:
    """A circle's line with a stroke across it from top left to bottom right, in a square."""
    samples = Samples(diameter, diameter)
    middle = diameter * UNIT // 2
    line = max(UNIT, diameter * UNIT // 8)
    samples.ring((middle, middle), middle, middle - line)
    reach = (middle - line // 2) * 7071 // 10000
    samples.stroke([(middle - reach, middle - reach), (middle + reach, middle + reach)], line)
    return samples.mask()


@remembered
def soft_box(width: int, height: int, radius: int, soft: int) -> Mask:
    """A box with rounded corners that fades toward its edge over ``soft`` px. Neighbouring pixels of a step
    are mixed, so that sixteen coverages make no rings."""
    across, down = (width + 1) // 2, (height + 1) // 2
    quarter = [[_fading(2 * x + 1, 2 * y + 1, radius, soft) for x in range(across)] for y in range(down)]
    rows = []
    for y in range(height):
        fades = quarter[min(y, height - 1 - y)]
        whole = [fades[min(x, width - 1 - x)] for x in range(width)]
        rows.append(bytes((fade + _MIXED[y % 4][x % 4]) // 16 for x, fade in enumerate(whole)))
    return Mask(width, height, b"".join(rows))


_MIXED = ((0, 8, 2, 10), (12, 4, 14, 6), (3, 11, 1, 9), (15, 7, 13, 5))
"""Sixteenths of a coverage at which the pixels of a square take the next, in an order that spreads them."""


def _fading(to_side: int, to_top: int, radius: int, soft: int) -> int:
    """The coverage of a pixel in 1/16 of a step, 0 to 240, by its distance from two sides in half pixels."""
    if to_side < 2 * radius and to_top < 2 * radius:
        gone = isqrt(16 * ((2 * radius - to_side) ** 2 + (2 * radius - to_top) ** 2))
        inside = max(0, 8 * radius - gone)
    else:
        inside = 4 * min(to_side, to_top)
    # In eighths of a pixel from here on; a smooth step from 0 to 1: 3 p^2 - 2 p^3.
    part, whole = min(inside, 8 * soft), 8 * soft
    return 240 * part * part * (3 * whole - 2 * part) // whole**3


@lru_cache(maxsize=256)
def disc(diameter: int) -> Mask:
    """A full circle in a square of ``diameter`` pixels."""
    return ring(diameter, diameter)


@lru_cache(maxsize=256)
def arrowhead(side: int, degrees: int) -> Mask:
    """A triangle in a square of ``side`` pixels that points to a compass bearing: 0 is up."""
    middle = (side * UNIT // 2, side * UNIT // 2)
    corners = [polar(middle, side * UNIT // 2, degrees + turn) for turn in (0, 120, 240)]
    samples = Samples(side, side)
    samples.polygon([corners])
    return samples.mask()


def _corners(left: int, top: int, right: int, bottom: int, radius: int) -> list[Point]:
    return rounded_box(left * UNIT, top * UNIT, right * UNIT, bottom * UNIT, radius * UNIT)


def _filled(width: int, height: int, outline: list[Point]) -> Samples:
    samples = Samples(width, height)
    samples.polygon([outline])
    return samples
