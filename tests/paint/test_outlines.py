"""The convex shape around a polygon, by what it must be."""

from __future__ import annotations

import hypothesis.strategies as st
from hypothesis import given

from hmic.paint.operations import Box
from hmic.paint.outlines import NOTHING, Polygon, convex, is_convex, levels

CORNERS = st.tuples(st.integers(0, 40), st.integers(0, 40))


def right_of(start: tuple[int, int], end: tuple[int, int], place: tuple[int, int]) -> int:
    return (end[0] - start[0]) * (place[1] - start[1]) - (end[1] - start[1]) * (place[0] - start[0])


@given(st.lists(CORNERS, min_size=3, max_size=13).map(tuple))
def test_the_shape_around_a_polygon(polygon: Polygon) -> None:
    shape = convex(polygon)
    assert len(shape) == len(polygon) and is_convex(shape) and convex(shape) == shape
    on_one_line = all(right_of(a, b, c) == 0 for a in polygon for b in polygon for c in polygon)
    if on_one_line:
        assert shape[:3] == NOTHING
        return
    assert set(shape) <= set(polygon)
    for start, end in zip(shape, shape[1:] + shape[:1], strict=True):
        assert all(right_of(start, end, corner) >= 0 for corner in polygon)


def test_nothing_is_seen_of_nothing() -> None:
    assert not any(levels(NOTHING, Box(0, 0, 2, 2)).tobytes())


def test_what_is_convex_stays_as_it_is() -> None:
    square = ((0, 0), (4, 0), (8, 0), (8, 8), (0, 8))
    assert convex(square) == square
