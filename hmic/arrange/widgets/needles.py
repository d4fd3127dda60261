"""The forms of a dial's needle, each a convex polygon for every bearing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from hmic.paint.operations import Outline

# A corner as (towards the tip, to the right of it), in px from the axis.
Corner = tuple[float, float]
TAIL = 0.22
"""What a tailed needle reaches behind its axis, in parts of the radius (common practice, no source)."""


@dataclass(frozen=True)
class Form:
    """``hub`` tells whether a needle has an axis to be seen, ``tail`` what reaches behind that, in parts
    of the radius."""

    hub: bool
    tail: float = 0.1


Needle = StrEnum("Needle", "TAPERED TAILED LINE RIM NONE")

FORMS = {
    Needle.TAPERED: Form(True),
    Needle.TAILED: Form(True, TAIL),
    Needle.LINE: Form(True),
    Needle.RIM: Form(False),
    Needle.NONE: Form(False),
}


def corners(form: Needle, tip: int, half: int, radius: int) -> list[Corner]:
    """The corners of a needle ``tip`` px long and ``half`` px to each side at its widest, clockwise."""
    thin = max(0.5, half / 4)
    if form == Needle.LINE:
        wide = max(1.0, half / 2)
        return [(0, -wide), (tip, -wide), (tip, wide), (0, wide)]
    if form == Needle.RIM:
        return wedge(tip, wedge_length(radius), wedge_length(radius) * 0.62)
    if form == Needle.TAILED:
        back = TAIL * radius
        return [(-back, -half), (tip, -thin), (tip, thin), (-back, half)]
    return [(0, -half), (tip, -thin), (tip, thin), (0, half)]


def wedge_length(radius: int) -> float:
    """Of a wedge that stands for a needle at the rim of a scale, in px."""
    return max(5.0, radius / 10)


def wedge(tip: float, length: float, half: float) -> list[Corner]:
    """A triangle whose point is ``tip`` px from the axis: outward with a ``length`` above 0, else inward."""
    foot = tip - length
    across = half if length > 0 else -half
    return [(foot, -across), (tip, 0), (foot, across)]


def stroke(inner: int, outer: int, wide: float) -> list[Corner]:
    """A line along the radius."""
    return [(inner, -wide / 2), (outer, -wide / 2), (outer, wide / 2), (inner, wide / 2)]


def baton(radius: int, bearings: Sequence[int], tip: float, half: float, behind: float) -> Outline:
    """A bar for each bearing (in 1/16 degree), about the middle of a box of ``2 * radius + 1`` px: from
    ``behind`` the axis to its end ``tip`` px away, ``half`` px to each side."""
    middle = (2 * radius + 1) * 8
    return outline([(-behind, -half), (tip, -half), (tip, half), (-behind, half)], (middle, middle), bearings)


def outline(shape: Sequence[Corner], middle: tuple[int, int], bearings: Sequence[int]) -> Outline:
    """A shape turned to each bearing (in 1/16 degree) about ``middle``, in 1/16 px from its box's corner."""
    return Outline(len(shape), tuple(_turned(shape, middle, sixteenths) for sixteenths in bearings))


def _turned(shape: Sequence[Corner], middle: tuple[int, int], sixteenths: int) -> tuple[tuple[int, int], ...]:
    angle = math.radians(sixteenths / 16)
    east, north = math.sin(angle), math.cos(angle)
    return tuple(
        (
            round(middle[0] + 16 * (along * east + aside * north)),
            round(middle[1] + 16 * (-along * north + aside * east)),
        )
        for along, aside in shape
    )
