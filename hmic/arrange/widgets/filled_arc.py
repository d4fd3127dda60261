"""An arc along a round scale, filled from zero, or from the low end, to the value: with round ends, of even
or growing width."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from hmic.arrange.canvas import Canvas
from hmic.arrange.widgets.sweep import Sweep, ring_piece
from hmic.model.channels import LIVE, MOST_STEPS
from hmic.paint.operations import Axis, Box, Ink, Mask, Outline, Pointer, Reveal, Stencil, ThresholdMap, When
from hmic.paint.outlines import NOTHING, convex
from hmic.paint.raster import UNIT, Point, Samples, arc, polar

# A threshold is a byte. A step is more than a pixel on a large scale: the front of the filling is straight
# and hard, and lies below a round end of its own, drawn anew for every step.
STEPS = 255
EDGE = 1
BEHIND = 1.5
"""Steps by which the round end reaches behind its middle, over the front of the filling."""
LEAST_CORNERS, MOST_CORNERS = 4, 11


@dataclass(frozen=True)
class Shape:
    """An arc ``wide`` px wide, ``rim`` px inside the scale's ``radius``. One that grows is ``least`` px wide
    at ``zero`` (a part of the scale), and ``wide`` at the end that is furthest from there."""

    sweep: Sweep
    centre: Point
    radius: int
    rim: int
    wide: int
    least: int
    zero: float

    @property
    def box(self) -> Box:
        """All that the scale has."""
        return self.sweep.face(self.centre, self.radius)

    def mask(self, first: int, last: int, more: int = 0) -> Mask:
        """From one bearing to another, ``more`` px larger on each side, with round ends."""
        box, middle = self.box, self.sweep.middle(self.radius)
        outer = (self.radius - self.rim + more) * UNIT
        samples = Samples(box.width, box.height)
        samples.polygon([self._piece(middle, first, last, more)])
        for bearing in (first, last):
            wide = round(self.wide_at(self._part(bearing)) * UNIT) + 2 * more * UNIT
            samples.disc(polar(middle, outer - wide // 2, bearing), wide // 2)
        return samples.mask()

    def wide_at(self, part: float) -> float:
        """The width in px at a part of the scale."""
        away = abs(part - self.zero) / max(self.zero, 1 - self.zero)
        return self.least + (self.wide - self.least) * min(away, 1.0)

    def _part(self, bearing: float) -> float:
        return (bearing - self.sweep.first) / (self.sweep.last - self.sweep.first)

    def _piece(self, middle: Point, first: int, last: int, more: int) -> list[Point]:
        outer, inner = self.radius - self.rim + more, self.radius - self.rim - self.wide - more
        if self.least == self.wide:
            return ring_piece(middle, (outer, inner), first, last)
        turn = 1 if last > first else -1
        back = [
            polar(middle, round((outer - more - self.wide_at(self._part(at)) - more) * UNIT), at)
            for at in range(last, first - turn, -turn)
        ]
        return [*arc(middle, outer * UNIT, first, last), *back]

    def ring(self) -> list[tuple[int, float]]:
        """The pixels of the arc and some beside it: the number of each, and how far along the sweep it lies,
        in parts of that."""
        box, (across, along) = self.box, self.sweep.middle(self.radius)
        outer = self.radius - self.rim
        sweep = self.sweep.last - self.sweep.first
        found = []
        for y in range(box.height):
            south = y + 0.5 - along / UNIT
            for x in range(box.width):
                east = x + 0.5 - across / UNIT
                away = outer - math.hypot(east, south)
                if not -2 <= away <= self.wide + 2:
                    continue
                # Of an angle within half a turn of the sweep's middle.
                angle = math.degrees(math.atan2(east, -south)) - (self.sweep.first + self.sweep.last) / 2
                found.append((y * box.width + x, 0.5 + math.remainder(angle, 360) / sweep))
        return found

    @property
    def nought(self) -> int:
        """The step of zero: there nothing above it is uncovered, and all below it covered."""
        return math.floor(self.zero * STEPS + 0.5)

    def thresholds(self, ring: Iterable[tuple[int, float]], rising: bool) -> ThresholdMap:
        """For each pixel of the ``ring`` the step of the scale beyond which it belongs to the arc from zero
        to the value; of the part below zero, beyond which no more."""
        first, last = (self.nought, STEPS - EDGE) if rising else (0, max(self.nought - EDGE, 0))
        found = bytearray(self.box.width * self.box.height)
        for at, part in ring:
            found[at] = min(max(math.ceil(part * STEPS) - EDGE, first), last)
        return ThresholdMap(self.box.width, self.box.height, bytes(found))

    def ends(self) -> Outline:
        """The round end of the filling for each step, none at zero."""
        # As many corners as keep within an eighth of a pixel of a circle.
        corners = math.ceil(math.pi / (2 * math.acos(1 - min(0.5 / self.wide, 0.5))))
        corners = min(max(corners, LEAST_CORNERS), MOST_CORNERS)
        made = [self._end(step, corners) for step in range(STEPS + 1)]
        made[self.nought] = (*NOTHING, *NOTHING[-1:] * (corners - 1))
        return Outline(corners + 2, tuple(made))

    def _end(self, step: int, corners: int) -> tuple[tuple[int, int], ...]:
        """Half a circle ahead of the value's place, and what lies closely behind."""
        sweep = self.sweep.last - self.sweep.first
        part = step / STEPS
        bearing = math.radians(self.sweep.first + part * sweep)
        outward = (math.sin(bearing), -math.cos(bearing))
        half = self.wide_at(part) / 2
        away = self.radius - self.rim - half
        turn = 1 if (sweep > 0) == (step > self.nought) else -1
        ahead = (-outward[1] * turn, outward[0] * turn)
        behind = -BEHIND * math.radians(abs(sweep)) * away / STEPS
        # Between a circle and the corners about it: half of what they cut off.
        round_ = half * (1 + 1 / math.cos(math.pi / corners / 2)) / 2
        turns = [math.pi * (number + 0.5) / corners for number in range(corners)]
        places = [
            (half, behind),
            *((round_ * math.cos(angle), round_ * math.sin(angle)) for angle in turns),
            (-half, behind),
        ]
        across, along = (length / UNIT for length in self.sweep.middle(self.radius))
        shape = [
            (
                round(16 * (across + outward[0] * (away + out) + ahead[0] * on)),
                round(16 * (along + outward[1] * (away + out) + ahead[1] * on)),
            )
            for out, on in places
        ]
        return convex(tuple(shape if turn > 0 else reversed(shape)))


def draw(shape: Shape, channel: int, ink: Ink, canvas: Canvas) -> None:
    """A track, and on it the arc of a channel with ``STEPS`` + 1 steps. What lies below zero is painted whole
    and covered again up to the value."""
    zero = shape.zero
    sweep = shape.sweep
    turn = sweep.last - sweep.first
    at = sweep.first + round(zero * turn)
    track = canvas.artwork.mask(shape.mask(sweep.first, sweep.last, 1))
    surface, ring = canvas.artwork.ink(canvas.trough), shape.ring()
    canvas.operations.append(Stencil(shape.box, track, surface))
    if zero > 0:
        part = canvas.artwork.mask(shape.mask(sweep.first, at))
        # In doubt nothing of it may shine through the hatch of its cover.
        live = When(channel, LIVE, LIVE + MOST_STEPS)
        canvas.operations.append(Stencil(shape.box, part, ink, live))
        falling = canvas.artwork.map(shape.thresholds(ring, rising=False))
        cover = canvas.artwork.mask(shape.mask(sweep.first, at, 1))
        canvas.operations.append(
            Reveal(shape.box, channel, Axis.MAPPED, 0, cover, surface, map=falling, edge=EDGE)
        )
    if zero < 1:
        rising = canvas.artwork.map(shape.thresholds(ring, rising=True))
        part = canvas.artwork.mask(shape.mask(at, sweep.last))
        canvas.operations.append(Reveal(shape.box, channel, Axis.MAPPED, 0, part, ink, map=rising, edge=EDGE))
    canvas.operations.append(Pointer(shape.box, channel, canvas.artwork.outline(shape.ends()), ink))
