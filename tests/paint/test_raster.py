"""The rasteriser against areas known from geometry."""

from __future__ import annotations

import math
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from hmic.paint.operations import Mask
from hmic.paint.raster import UNIT, Point, Samples, arc, bezier, divided, polar, rounded_box, turned


def filled(width: int, height: int, *contours: list[Point], even_odd: bool = False) -> Mask:
    samples = Samples(width, height)
    samples.polygon(contours, even_odd)
    return samples.mask()


def area(mask: Mask) -> float:
    """Square pixels covered."""
    return sum(mask.coverage) / 15


def overlap(low: Fraction, high: Fraction, pixel: int) -> Fraction:
    return max(Fraction(0), min(high, Fraction(pixel + 1)) - max(low, Fraction(pixel)))


@given(st.tuples(*[st.integers(-20, 150)] * 2), st.tuples(*[st.integers(-10, 75)] * 2))
def test_box_at_sixteenths_and_eighths_is_exact(across: tuple[int, int], down: tuple[int, int]) -> None:
    left, right = sorted(across)
    top, bottom = sorted(down)
    unit = UNIT // 16
    mask = filled(8, 8, rounded_box(left * unit, top * 2 * unit, right * unit, bottom * 2 * unit, 0))
    for y in range(8):
        for x in range(8):
            covered = overlap(Fraction(left, 16), Fraction(right, 16), x) * overlap(
                Fraction(top, 8), Fraction(bottom, 8), y
            )
            assert mask.coverage[y * 8 + x] == math.floor(covered * 15 + Fraction(1, 2))


@given(st.integers(5 * UNIT, 40 * UNIT), st.integers(0, UNIT), st.integers(0, UNIT))
def test_circle_area(radius: int, dx: int, dy: int) -> None:
    samples = Samples(83, 83)
    samples.disc((41 * UNIT + dx, 41 * UNIT + dy), radius)
    exact = math.pi * (radius / UNIT) ** 2
    # Each of at most 8 r + 4 pixels on the edge is rounded to fifteenths, off by up to 1/30.
    assert abs(area(samples.mask()) - exact) < 0.005 * exact + (8 * radius / UNIT + 4) / 30


def test_circle_area_at_symbol_sizes() -> None:
    for diameter in (24, 37, 48, 96):
        samples = Samples(diameter, diameter)
        samples.disc((diameter * UNIT // 2, diameter * UNIT // 2), diameter * UNIT // 2)
        exact = math.pi * diameter**2 / 4
        assert abs(area(samples.mask()) - exact) < 0.005 * exact


def test_arc_closes_to_the_circle() -> None:
    polygon = filled(60, 60, arc((30 * UNIT, 30 * UNIT), 28 * UNIT, 0, 360))
    exact = math.pi * 28**2
    assert abs(area(polygon) - exact) < 0.005 * exact


@given(st.integers(0, 359))
def test_stroke_area_is_a_rectangle_and_two_half_discs(bearing: int) -> None:
    middle = (40 * UNIT, 40 * UNIT)
    samples = Samples(80, 80)
    samples.stroke([polar(middle, 25 * UNIT, bearing), polar(middle, 25 * UNIT, bearing + 180)], 6 * UNIT)
    exact = 50 * 6 + math.pi * 3**2
    assert abs(area(samples.mask()) - exact) < 0.015 * exact


def test_stroke_around_a_circle_is_a_ring() -> None:
    samples = Samples(80, 80)
    samples.stroke(arc((40 * UNIT, 40 * UNIT), 30 * UNIT, 0, 360), 6 * UNIT, closed=True)
    ring = Samples(80, 80)
    ring.ring((40 * UNIT, 40 * UNIT), 33 * UNIT, 27 * UNIT)
    exact = math.pi * (33**2 - 27**2)
    assert abs(area(samples.mask()) - exact) < 0.005 * exact
    assert abs(area(ring.mask()) - exact) < 0.005 * exact
    pairs = zip(samples.mask().coverage, ring.mask().coverage, strict=True)
    assert max(abs(a - b) for a, b in pairs) <= 2


def test_repeated_points_and_a_single_point_are_a_dot() -> None:
    dot, disc = Samples(10, 10), Samples(10, 10)
    dot.stroke([(5 * UNIT, 5 * UNIT)] * 3, 6 * UNIT, closed=True)
    disc.disc((5 * UNIT, 5 * UNIT), 3 * UNIT)
    assert dot.mask() == disc.mask()


def test_quadratic_curve_bounds_two_thirds_of_its_box() -> None:
    # Archimedes, Quadrature of the Parabola: the segment is 2/3 of base times height.
    curve = bezier([(0, 50 * UNIT), (30 * UNIT, -30 * UNIT), (60 * UNIT, 50 * UNIT)])
    assert abs(area(filled(60, 60, curve)) - 60 * 40 * 2 / 3) < 0.005 * 1600


def test_cubic_curve_ends_and_middle() -> None:
    curve = bezier([(0, 0), (0, 64 * UNIT), (64 * UNIT, 64 * UNIT), (64 * UNIT, 0)])
    assert (curve[0], curve[8], curve[16]) == ((0, 0), (32 * UNIT, 48 * UNIT), (64 * UNIT, 0))


def test_fill_rules_differ_where_windings_add() -> None:
    outer = rounded_box(0, 0, 10 * UNIT, 10 * UNIT, 0)
    inner = rounded_box(2 * UNIT, 2 * UNIT, 8 * UNIT, 8 * UNIT, 0)
    assert area(filled(10, 10, outer, inner)) == 100
    assert area(filled(10, 10, outer, inner, even_odd=True)) == 64
    assert area(filled(10, 10, outer, inner[::-1])) == 64


def test_polygons_that_share_an_edge_leave_no_seam() -> None:
    samples = Samples(20, 20)
    samples.polygon([[(0, 0), (20 * UNIT, 3 * UNIT), (20 * UNIT, 20 * UNIT), (0, 7 * UNIT)]])
    samples.polygon([[(0, 0), (20 * UNIT, 0), (20 * UNIT, 3 * UNIT)]])
    samples.polygon([[(0, 7 * UNIT), (20 * UNIT, 20 * UNIT), (0, 20 * UNIT)]])
    assert set(samples.mask().coverage) == {15}


def test_remove_takes_away_what_add_put() -> None:
    whole, part = Samples(6, 6), Samples(6, 6)
    whole.polygon([rounded_box(0, 0, 6 * UNIT, 6 * UNIT, 0)])
    part.polygon([rounded_box(0, 0, 3 * UNIT, 6 * UNIT, 0)])
    whole.remove(part)
    assert area(whole.mask()) == 18
    whole.add(part)
    assert area(whole.mask()) == 36


def test_bearings_against_the_library_sine() -> None:
    radius = 10**9
    for degrees in range(-360, 721):
        x, y = polar((0, 0), radius, degrees)
        assert abs(x - radius * math.sin(math.radians(degrees))) < 5
        assert abs(y + radius * math.cos(math.radians(degrees))) < 5


@given(st.integers(-(10**6), 10**6), st.integers(-(10**6), 10**6), st.integers(0, 359))
def test_a_turn_and_its_opposite_return(x: int, y: int, degrees: int) -> None:
    back = turned(turned((x, y), (7, 9), degrees), (7, 9), -degrees)
    assert abs(back[0] - x) <= 2 and abs(back[1] - y) <= 2


@given(st.integers(-(10**6), 10**6), st.integers(-1000, 1000).filter(bool))
def test_divided_is_nearest_and_odd(numerator: int, denominator: int) -> None:
    quotient = divided(numerator, denominator)
    assert abs(Fraction(numerator, denominator) - quotient) <= Fraction(1, 2)
    assert divided(-numerator, denominator) == -quotient


@given(st.lists(st.tuples(*[st.integers(-20 * UNIT, 40 * UNIT)] * 2), min_size=1, max_size=8), st.booleans())
def test_any_shape_stays_inside_its_mask(points: list[Point], closed: bool) -> None:
    samples = Samples(9, 5)
    samples.polygon([points])
    samples.stroke(points, 3 * UNIT, closed)
    mask = samples.mask()
    assert len(mask.coverage) == 45 and max(mask.coverage) <= 15
