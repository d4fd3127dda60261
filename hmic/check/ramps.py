"""Ramps ready to paste: even in CIELAB lightness and told apart by every eye in the simulation.

They are this project's own: hue moves from one end to the other while lightness rises by equal
steps, so that a ramp still reads in grey. ``tests/check`` holds both properties.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from hmic.check.colour import Colour, hex_colour, lab

READY: Mapping[str, tuple[str, ...]] = {
    # Little to much, in place of red to green: rust to pale mint.
    "amount": ("#a5593b", "#b17c4f", "#b3a065", "#a3c28a", "#8fe3bd"),
    # Cold to hot: deep violet to pale amber.
    "warmth": ("#5e549e", "#aa6098", "#e86f89", "#ff9d71", "#ffd16b"),
    # Low to high without a verdict: deep blue to yellow.
    "level": ("#23609f", "#617f9e", "#949f8b", "#cbbd67", "#f8dd4a"),
    # Below and above a middle: sky and amber to both sides of a dark middle.
    "deviation": ("#3ebbff", "#397da8", "#3e4649", "#a06b46", "#ef9f55"),
}


def hue(colour: Colour) -> float:
    """CIELAB hue angle in degrees, 0 to 360."""
    _, a, b = lab(colour)
    return math.degrees(math.atan2(b, a)) % 360


def red_to_green(stops: Sequence[Colour]) -> bool:
    """Whether a ramp goes between saturated red and green of little difference in lightness.

    Hue angles 0 to 50 are called red here and 110 to 175 green, chroma over 30 saturated, 25 of
    lightness little: this project's choice.
    """
    ends = (stops[0], stops[-1])
    hues = sorted(hue(end) for end in ends)
    chromas = [math.hypot(*lab(end)[1:]) for end in ends]
    rise = abs(lab(ends[0])[0] - lab(ends[1])[0])
    return hues[0] <= 50 and 110 <= hues[1] <= 175 and min(chromas) > 30 and rise < 25


def substitute(stops: Sequence[Colour]) -> tuple[str, ...]:
    """The ready ramp nearest in meaning, in the direction of ``stops``: the end that was red, warm
    or dark stays so."""
    first, last = stops[0], stops[-1]
    if red_to_green(stops):
        ready = READY["amount"]
        return ready if hue(first) <= 50 else ready[::-1]
    warm = [colour for colour in (first, last) if hue(colour) < 90 or hue(colour) > 330]
    ready = READY["warmth"] if len(warm) == 2 else READY["level"]
    return ready if lab(first)[0] <= lab(last)[0] else ready[::-1]


def ready_colours(name: str) -> tuple[Colour, ...]:
    """A ready ramp as colours."""
    return tuple(hex_colour(stop) for stop in READY[name])
