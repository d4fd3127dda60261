"""The light along the foot of a field that can be chosen: on for the one that holds."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.arrange.canvas import Canvas
from hmic.paint import shapes
from hmic.paint.operations import Box, Frame

# Height of the light, below it, and between it and the words.
LIGHT_MM, LIGHT_FOOT_MM, LIGHT_GAP_MM = 1.4, 0.8, 0.5
LIT = "accent"


def light(inside: Box, roles: Sequence[str], channel: int | None, canvas: Canvas) -> Box:
    """Draws it within a field, in the role of the channel's step, and gives its box. It is lit in place of
    the field, whose words keep their ink, so that they can be read while the reading is in doubt."""
    height = canvas.px(LIGHT_MM)
    width = inside.width * 3 // 5
    left = inside.left + (inside.width - width) // 2
    place = Box(left, inside.top + inside.height - height - canvas.px(LIGHT_FOOT_MM), width, height)
    corner = canvas.rounded(shapes.corner(max(1, height // 2)))
    ink = canvas.artwork.ink(roles[0]) if channel is None else canvas.artwork.inks(list(roles), channel)
    canvas.operations.append(Frame(place, corner, ink))
    return place
