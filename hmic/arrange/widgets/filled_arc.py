"""An arc along a round scale, filled from zero, or from the low end, to the value: with round ends, of even
or growing width."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from hmic.arrange.canvas import Canvas
from hmic.arrange.widgets.sweep import Sweep, ring_piece
from hmic.model.channels import LIVE, MOST_STEPS
from hmic.paint.operations import Axis, Box, Ink, Mask, Reveal, Stencil, ThresholdMap, When
from hmic.paint.raster import UNIT, Point, Samples, arc, polar

# A threshold is a byte, and the soft edge takes EDGE of them.
STEPS = 255
EDGE = 2


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

    def ring(self) -> list[tuple[int, float, float]]:
        """The pixels of the arc and some beside it: the number of each, how far along the sweep it lies, and
        how far a round end leads there, both in parts of the sweep."""
        box, (across, along) = self.box, self.sweep.middle(self.radius)
        outer = self.radius - self.rim
        sweep = self.sweep.last - self.sweep.first
        length = math.radians(abs(sweep)) * (outer - self.wide / 2)
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
                part = 0.5 + math.remainder(angle, 360) / sweep
                wide = self.wide_at(part)
                off = away - wide / 2
                lead = math.sqrt(max(0.0, wide * wide / 4 - off * off)) / length
                found.append((y * box.width + x, part, lead))
        return found

    def thresholds(self, ring: Iterable[tuple[int, float, float]], zero: float, rising: bool) -> ThresholdMap:
        """For each pixel of the ``ring`` the step of the scale from which on it belongs to the arc from
        ``zero`` (a part of the scale) to the value; of the part below zero, from which on no more."""
        # The step of zero: there nothing above it is uncovered, and all below it covered.
        nought = math.floor(zero * STEPS + 0.5)
        found = bytearray(self.box.width * self.box.height)
        for at, part, lead in ring:
            if rising:
                share = min(max((part - lead - zero) / (1 - zero), 0.0), 1.0)
                found[at] = nought + round(share * (STEPS - EDGE - nought))
            else:
                share = min(max((part + lead) / zero, 0.0), 1.0)
                found[at] = round(share * max(nought - EDGE, 0))
        return ThresholdMap(self.box.width, self.box.height, bytes(found))


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
        falling = canvas.artwork.map(shape.thresholds(ring, zero, rising=False))
        cover = canvas.artwork.mask(shape.mask(sweep.first, at, 1))
        canvas.operations.append(
            Reveal(shape.box, channel, Axis.MAPPED, 0, cover, surface, map=falling, edge=EDGE)
        )
    if zero < 1:
        rising = canvas.artwork.map(shape.thresholds(ring, zero, rising=True))
        part = canvas.artwork.mask(shape.mask(at, sweep.last))
        canvas.operations.append(Reveal(shape.box, channel, Axis.MAPPED, 0, part, ink, map=rising, edge=EDGE))
