"""The sweep of a dial: from which bearing to which its scale runs, and what room that takes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from hmic.arrange.canvas import Canvas
from hmic.diagnostics import DesignError, error
from hmic.language.spelling import written
from hmic.language.syntax import PhraseKind, Widget
from hmic.paint.operations import Box
from hmic.paint.raster import UNIT, Point, arc

# Over the top, open below: where round scales of vehicles have their number (common practice, no source).
USUAL = (-135, 135)
NARROWEST, WIDEST = 30, 360
# What the scale's band needs beyond its ends, in parts of the radius.
_BEYOND = 0.033


@dataclass(frozen=True)
class Sweep:
    """Compass bearings of both ends of a scale in whole degrees, 0 up. It turns clockwise where ``last`` is
    above ``first``. ``tail`` is what hub and needle reach behind the axis, in parts of the radius."""

    first: int
    last: int
    tail: float = 0.0

    @property
    def closed(self) -> bool:
        """Whether both ends are one place."""
        return abs(self.last - self.first) == WIDEST

    def bearing(self, value: float, ends: tuple[float, float]) -> int:
        """The compass bearing of a value, whole degrees."""
        part = min(max((value - ends[0]) / (ends[1] - ends[0]), 0.0), 1.0)
        return self.first + round(part * (self.last - self.first))

    def reach(self) -> tuple[float, float, float, float]:
        """How far the scale and its axis reach left, up, right and down of the axis, in parts of the
        radius."""
        low, high = sorted((self.first, self.last))
        quarters = [bearing for bearing in range(-720, 721, 90) if low <= bearing <= high]
        places = [(math.sin(math.radians(at)), math.cos(math.radians(at))) for at in (low, high, *quarters)]
        sides = (
            max(-east for east, _ in places),
            max(north for _, north in places),
            max(east for east, _ in places),
            max(-north for _, north in places),
        )
        left, up, right, down = (min(1.0, max(round(side, 3), self.tail) + _BEYOND) for side in sides)
        return left, up, right, down

    def face(self, centre: Point, radius: int) -> Box:
        """The box of the scale and all within it, about an axis."""
        left, up, right, down = (int(radius * part) for part in self.reach())
        return Box(centre[0] - left, centre[1] - up, left + right + 1, up + down + 1)

    def middle(self, radius: int) -> Point:
        """The axis in its ``face``, in units of ``raster``."""
        left, up, *_ = (int(radius * part) for part in self.reach())
        return (2 * left + 1) * UNIT // 2, (2 * up + 1) * UNIT // 2


def ring_piece(middle: Point, radii: tuple[int, int], first: int, last: int) -> list[Point]:
    """The outline of a piece of a ring between two bearings; radii in px, outer and inner."""
    outer, inner = (arc(middle, radius * UNIT, first, last) for radius in radii)
    return [*outer, *reversed(inner)]


def sweep_of(widget: Widget, canvas: Canvas, tail: float) -> Sweep:
    """What the ``sweep`` phrase asks for. Raises ``DesignError`` A384."""
    phrase = widget.one(PhraseKind.SWEEP)
    if phrase is None:
        return Sweep(*USUAL, tail)
    first, last = (canvas.constant(each, "deg") for each in phrase.values)
    if NARROWEST <= abs(last - first) <= WIDEST and max(abs(first), abs(last)) <= WIDEST:
        return Sweep(round(first), round(last), tail)
    said = " to ".join(written(each) for each in phrase.values)
    message = f"a sweep from {said} is none: its ends lie {NARROWEST}° to {WIDEST}° apart, 0° is up"
    remedy = "write `sweep from -135° to 135°` for three quarters, `sweep from 0° to 360°` for a full circle"
    raise DesignError([error("A384", message, phrase.span, remedy)])
