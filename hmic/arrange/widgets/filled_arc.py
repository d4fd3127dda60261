"""An arc along a round scale, filled from zero, or from the low end, to the value, with round ends."""

from __future__ import annotations

import math
from dataclasses import dataclass

from hmic.arrange.canvas import Canvas
from hmic.arrange.widgets.sweep import Sweep
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed
from hmic.paint.operations import Axis, Box, Ink, Mask, Reveal, Stencil, ThresholdMap
from hmic.paint.raster import UNIT, Point, Samples, arc, polar

# A threshold is a byte, and the soft edge takes EDGE of them.
STEPS = 255
EDGE = 2


@dataclass(frozen=True)
class Shape:
    """An arc ``wide`` px wide, ``rim`` px inside the scale's ``radius``."""

    sweep: Sweep
    centre: Point
    radius: int
    rim: int
    wide: int

    @property
    def box(self) -> Box:
        """All that the scale has."""
        return self.sweep.face(self.centre, self.radius)

    def mask(self, first: int, last: int, more: int = 0) -> Mask:
        """From one bearing to another, ``more`` px larger on each side, with round ends."""
        box, middle = self.box, self.sweep.middle(self.radius)
        outer, inner = self.radius - self.rim + more, self.radius - self.rim - self.wide - more
        samples = Samples(box.width, box.height)
        edge = [*arc(middle, outer * UNIT, first, last), *reversed(arc(middle, inner * UNIT, first, last))]
        samples.polygon([edge])
        for bearing in (first, last):
            samples.disc(polar(middle, (outer + inner) * UNIT // 2, bearing), (outer - inner) * UNIT // 2)
        return samples.mask()

    def thresholds(self, zero: float, rising: bool) -> ThresholdMap:
        """For each pixel the step of the scale from which on it belongs to the arc from ``zero`` (a part of
        the scale) to the value; of the part below zero, from which on it does so no more."""
        box, (across, along) = self.box, self.sweep.middle(self.radius)
        middle = self.radius - self.rim - self.wide / 2
        sweep = self.sweep.last - self.sweep.first
        # The step of zero: there nothing above it is uncovered, and all below it covered.
        nought = math.floor(zero * STEPS + 0.5)
        length = math.radians(abs(sweep)) * middle
        found = bytearray()
        for y in range(box.height):
            south = y + 0.5 - along / UNIT
            for x in range(box.width):
                east = x + 0.5 - across / UNIT
                off = math.hypot(east, south) - middle
                if abs(off) > self.wide / 2 + 2:
                    found.append(0)
                    continue
                # Parts of the sweep from its first end, of an angle within half a turn of its middle.
                angle = math.degrees(math.atan2(east, -south)) - (self.sweep.first + self.sweep.last) / 2
                part = 0.5 + (math.remainder(angle, 360) / sweep)
                lead = math.sqrt(max(0.0, self.wide * self.wide / 4 - off * off)) / length
                if rising:
                    share = min(max((part - lead - zero) / (1 - zero), 0.0), 1.0)
                    found.append(nought + round(share * (STEPS - EDGE - nought)))
                else:
                    share = min(max((part + lead) / zero, 0.0), 1.0)
                    found.append(round(share * max(nought - EDGE, 0)))
        return ThresholdMap(box.width, box.height, bytes(found))


def draw(shape: Shape, value: Typed, ends: tuple[float, float], ink: Ink, canvas: Canvas) -> None:
    """A track, and on it the arc. What lies below zero is painted whole and covered again up to the value."""
    low, high = ends
    zero = min(max(0.0, -low / (high - low)), 1.0)
    channel = canvas.channel(Channel(value, Scaled(low, (high - low) / STEPS, STEPS + 1)))
    sweep = shape.sweep
    turn = sweep.last - sweep.first
    at = sweep.first + round(zero * turn)
    track = canvas.artwork.mask(shape.mask(sweep.first, sweep.last, 1))
    surface = canvas.artwork.ink("surface")
    canvas.operations.append(Stencil(shape.box, track, surface))
    if zero > 0:
        canvas.operations.append(Stencil(shape.box, canvas.artwork.mask(shape.mask(sweep.first, at)), ink))
        falling = canvas.artwork.map(shape.thresholds(zero, rising=False))
        cover = canvas.artwork.mask(shape.mask(sweep.first, at, 1))
        canvas.operations.append(
            Reveal(shape.box, channel, Axis.MAPPED, 0, cover, surface, map=falling, edge=EDGE)
        )
    if zero < 1:
        rising = canvas.artwork.map(shape.thresholds(zero, rising=True))
        part = canvas.artwork.mask(shape.mask(at, sweep.last))
        canvas.operations.append(Reveal(shape.box, channel, Axis.MAPPED, 0, part, ink, map=rising, edge=EDGE))
