"""Where slides stand and flow marks are, in pixels along a straight axis."""

from __future__ import annotations

from hmic.paint.operations import Axis, Box, Flow, Slide


def stretch(box: Box, axis: Axis, low: int, high: int) -> Box:
    """The part of a box from ``low`` to ``high`` along a straight axis, cut to the box, perhaps empty."""
    length = box.height if axis in (Axis.UPWARD, Axis.DOWNWARD) else box.width
    low, high = max(0, low), min(length, high)
    match axis:
        case Axis.RIGHTWARD:
            return Box(box.left + low, box.top, high - low, box.height)
        case Axis.LEFTWARD:
            return Box(box.left + length - high, box.top, high - low, box.height)
        case Axis.UPWARD:
            return Box(box.left, box.top + length - high, box.width, high - low)
        case _:
            return Box(box.left, box.top + low, box.width, high - low)


def slide_corner(slide: Slide, step: int, width: int, height: int) -> tuple[int, int]:
    """The panel pixel of the top left corner of a slide's mask of that size."""
    box = slide.box
    match slide.axis:
        case Axis.RIGHTWARD:
            return box.left + step, box.top
        case Axis.LEFTWARD:
            return box.left + box.width - step - width, box.top
        case Axis.UPWARD:
            return box.left, box.top + box.height - step - height
        case _:
            return box.left, box.top + step


def phase(flow: Flow, step: int, clock: int) -> int:
    """Pixels by which the marks have moved on, 0 to ``pitch - 1``; the clock is in ms.

    A second holds a whole number of pixels, so the marks are back after ``1000 * pitch`` ms.
    """
    return clock % (1000 * flow.pitch) * step * flow.pace // 1000 % flow.pitch


def marks(flow: Flow, step: int, clock: int) -> list[Box]:
    """The parts of the box that are painted, none of them empty."""
    box = flow.box
    length = box.height if flow.axis in (Axis.UPWARD, Axis.DOWNWARD) else box.width
    first = (phase(flow, step, clock) - flow.offset) % flow.pitch - flow.pitch
    parts = [stretch(box, flow.axis, start, start + flow.mark) for start in range(first, length, flow.pitch)]
    return [part for part in parts if part.width > 0 and part.height > 0]
