"""Marks and their figures along a round scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from hmic.arrange.canvas import Canvas
from hmic.arrange.widgets.marks import APART, Marks, mark_face, mark_text
from hmic.arrange.widgets.sweep import Sweep
from hmic.language.syntax import Widget
from hmic.paint.operations import Box, Stencil
from hmic.paint.raster import UNIT, Point, Samples, polar

Figured = StrEnum("Figured", "INSIDE OUTSIDE NONE")
"""Where the figures of the marks stand."""
# Between a mark, or the rim, and its figures.
FIGURES_MM = 0.6


@dataclass(frozen=True)
class Ring:
    """Marks go from ``inner`` to ``outer`` px from the axis, on a scale of ``radius``; ``least`` is half of
    what stands about the axis."""

    sweep: Sweep
    outer: int
    inner: int
    radius: int
    figures: Figured
    least: int

    def clear(self, marks: Marks, canvas: Canvas) -> bool:
        """Whether the fewest figures that the marks may have stay clear of each other and of the axis."""
        if not marks.values or self.figures == Figured.NONE:
            return self.inner > self.least
        return _clear(marks.choices()[-1], marks, self, canvas)

    def at_ease(self, marks: Marks, canvas: Canvas, ease: float) -> bool:
        """Whether every mark can have figures ``ease`` times as far apart as they need be."""
        return _clear(marks.values, marks, self, canvas, ease)

    def free(self, marks: Marks, canvas: Canvas) -> float:
        """How far from the axis nothing of marks and figures stands."""
        boxes = figure_places(marks, self, canvas).values() if self.figures == Figured.INSIDE else ()
        apart = APART * mark_face(canvas).capital_height
        return min([self.inner, *(_distance(box) for box in boxes)]) - apart


def figure_places(marks: Marks, ring: Ring, canvas: Canvas) -> dict[float, Box]:
    """The marks that have figures, and the place of these from the axis: the most that stay apart from each
    other and from the axis."""
    if not marks.values or ring.figures == Figured.NONE:
        return {}
    fewest = marks.choices()[-1]
    chosen = next((each for each in marks.choices() if _clear(each, marks, ring, canvas)), fewest)
    return _places(chosen, marks, ring, canvas)


def draw_marks(
    widget: Widget,
    marks: Marks,
    fine: Sequence[float],
    *,
    ring: Ring,
    centre: Point,
    radius: int,
    canvas: Canvas,
) -> None:
    """Fine marks half as long; the mark at zero stronger where the scale goes to both sides of it."""
    if not marks.values:
        return
    both = marks.low < 0 < marks.high
    zero = [mark for mark in marks.values if mark == 0 and both]
    rest = [mark for mark in marks.values if mark not in zero]
    half = ring.outer - max(2, (ring.outer - ring.inner) // 2)
    for values, inner, thick, role in (
        (fine, half, 1, "quiet"),
        (rest, ring.inner, 2, "quiet"),
        (zero, ring.inner, 3, "ink"),
    ):
        if values:
            bearings = [ring.sweep.bearing(each, (marks.low, marks.high)) for each in values]
            about = (ring.sweep, centre, radius)
            _ticks(bearings, (ring.outer, inner), thick, role=role, about=about, canvas=canvas)
    face = mark_face(canvas)
    for mark, place in figure_places(marks, ring, canvas).items():
        at = (centre[0] + place.left, centre[1] + place.top)
        canvas.text(mark_text(mark, canvas), face, at, canvas.artwork.ink("quiet"), widget.head)


def _ticks(
    bearings: Sequence[int],
    reach: tuple[int, int],
    thick: int,
    *,
    role: str,
    about: tuple[Sweep, Point, int],
    canvas: Canvas,
) -> None:
    sweep, centre, radius = about
    box, middle = sweep.face(centre, radius), sweep.middle(radius)
    samples = Samples(box.width, box.height)
    for angle in bearings:
        ends = [polar(middle, part * UNIT, angle) for part in reach]
        samples.stroke(ends, thick * UNIT)
    canvas.operations.append(Stencil(box, canvas.artwork.mask(samples.mask()), canvas.artwork.ink(role)))


def _clear(
    chosen: Sequence[float], marks: Marks, ring: Ring, canvas: Canvas, ease: float = 1.0
) -> bool:
    apart = math.ceil(APART * ease * mark_face(canvas).capital_height)
    least = math.ceil(APART * mark_face(canvas).capital_height)
    boxes = list(_places(chosen, marks, ring, canvas).values())
    return all(_distance(box) > ring.least + least // 2 for box in boxes) and not any(
        _near(one, other, apart) for at, one in enumerate(boxes) for other in boxes[:at]
    )


def _places(chosen: Sequence[float], marks: Marks, ring: Ring, canvas: Canvas) -> dict[float, Box]:
    face = mark_face(canvas)
    gap = canvas.px(FIGURES_MM)
    outside = ring.figures == Figured.OUTSIDE
    reach = ring.radius + 2 * gap if outside else ring.inner - gap
    stand = _outside if outside else _inside
    return {
        mark: stand(
            face.measure(mark_text(mark, canvas)),
            face.capital_height,
            reach,
            ring.sweep.bearing(mark, (marks.low, marks.high)),
        )
        for mark in chosen
    }


def _inside(width: int, height: int, reach: int, angle: int) -> Box:
    """A box that touches a circle about the axis from within: its middle lies at a bearing, its furthest
    corner ``reach`` px from the axis."""
    east, north = (abs(part) for part in polar((0, 0), UNIT, angle))
    # The furthest corner: (away * east + width / 2)^2 + (away * north + height / 2)^2 = reach^2.
    half = (east * width + north * height) // (2 * UNIT)
    rest = reach * reach - (width * width + height * height) // 4
    away = math.isqrt(max(0, half * half + rest)) - half
    return _about(width, height, away, angle)


def _outside(width: int, height: int, reach: int, angle: int) -> Box:
    """The nearest box whose middle lies at a bearing and no pixel of which is nearer to the axis than
    ``reach``."""
    away = reach
    while _distance(_about(width, height, away, angle)) < reach:
        away += 1
    return _about(width, height, away, angle)


def _about(width: int, height: int, away: int, angle: int) -> Box:
    x, y = polar((0, 0), away, angle)
    return Box(x - width // 2, y - height // 2, width, height)


def _distance(box: Box) -> int:
    """From the axis to the nearest pixel of a box."""
    across = max(box.left, -(box.left + box.width), 0)
    down = max(box.top, -(box.top + box.height), 0)
    return math.isqrt(across * across + down * down)


def _near(one: Box, other: Box, apart: int) -> bool:
    across = max(one.left, other.left) - min(one.left + one.width, other.left + other.width)
    down = max(one.top, other.top) - min(one.top + one.height, other.top + other.height)
    return max(across, down) < apart
