"""Level shapes, corners, discs and rings."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.paint import shapes
from hmic.paint.operations import Mask


def rows(mask: Mask) -> list[bytes]:
    return [mask.coverage[y * mask.width : (y + 1) * mask.width] for y in range(mask.height)]


def mirrored(mask: Mask) -> bool:
    return all(line == line[::-1] for line in rows(mask))


@given(st.sampled_from(shapes.LEVEL_SHAPES), st.integers(24, 160), st.integers(30, 320))
def test_filling_lies_inside_and_apart_from_the_outline(name: str, width: int, height: int) -> None:
    shape = shapes.level_shape(name, width, height)
    box = shape.inside_box
    assert (shape.outline.width, shape.outline.height) == (width, height)
    assert (shape.inside.width, shape.inside.height) == (box.width, box.height)
    assert min(box.left, box.top, width - box.left - box.width, height - box.top - box.height) > 0
    outline = rows(shape.outline)
    for y, line in enumerate(rows(shape.inside)):
        beneath = outline[box.top + y][box.left : box.left + box.width]
        assert all(a + b <= 15 for a, b in zip(line, beneath, strict=True))
    assert mirrored(shape.outline) and mirrored(shape.inside)


@given(st.sampled_from(shapes.LEVEL_SHAPES), st.integers(24, 160), st.integers(30, 320))
def test_every_row_of_the_filling_shows_its_step(name: str, width: int, height: int) -> None:
    for line in rows(shapes.level_shape(name, width, height).inside):
        assert max(line) == 15


def test_battery_has_a_terminal_on_top() -> None:
    shape = shapes.level_shape("battery", 120, 300)
    top, body = rows(shape.outline)[8], rows(shape.outline)[150]
    assert sum(map(bool, top)) < 60 and top[60] == 15
    assert body[0] == 15 and body[60] == 0 and body[119] == 15


def test_a_shape_too_small_to_fill_says_so() -> None:
    with pytest.raises(ValueError, match="no room inside"):
        shapes.level_shape("box", 8, 30)
    with pytest.raises(KeyError):
        shapes.level_shape("bottle", 80, 80)


@pytest.mark.parametrize("radius", [1, 4, 9, 30])
def test_corner_is_a_quarter_disc(radius: int) -> None:
    mask = shapes.corner(radius)
    quarter = math.pi * radius**2 / 4
    assert abs(sum(mask.coverage) / 15 - quarter) < max(0.2, 0.01 * quarter)
    lines = rows(mask)
    assert lines[-1][-1] == 15 or radius == 1
    # 16 columns but 8 rows of samples: across the diagonal a pixel may differ by a level.
    assert all(abs(lines[y][x] - lines[x][y]) <= 1 for y in range(radius) for x in range(radius))
    disc = rows(shapes.disc(2 * radius))
    assert [line[:radius] for line in disc[:radius]] == lines


def test_corner_of_nothing_is_empty() -> None:
    assert shapes.corner(0) == Mask(0, 0, b"")


def test_rounded_box_agrees_with_its_corner() -> None:
    box, corner = rows(shapes.rounded(40, 30, 10)), rows(shapes.corner(10))
    for y in range(10):
        assert all(abs(a - b) <= 1 for a, b in zip(box[y][:10], corner[y], strict=True))
    assert box[15] == bytes([15] * 40)
    assert shapes.rounded(12, 6, 0).coverage == bytes([15] * 72)


@pytest.mark.parametrize(("diameter", "line"), [(24, 2), (41, 3), (80, 7)])
def test_ring_area(diameter: int, line: int) -> None:
    exact = math.pi * (diameter**2 - (diameter - 2 * line) ** 2) / 4
    mask = shapes.ring(diameter, line)
    assert abs(sum(mask.coverage) / 15 - exact) < 0.01 * exact
    assert mirrored(mask) and rows(mask) == rows(mask)[::-1]
