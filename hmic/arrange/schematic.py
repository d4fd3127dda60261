"""Schematics: pipes in right angles between joints and the sides of pieces, marks that flow."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from hmic.arrange.artwork import RAMP_STEPS
from hmic.arrange.canvas import Canvas, bounded, live, rising
from hmic.arrange.placing import Placed, check_inside, place_of
from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.language.syntax import Expression, Joint, Phrase, PhraseKind, Pipe
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed
from hmic.paint.operations import Axis, Box, Fill, Flow, Ink, When

PIPE_MM = 2.2
FLOW_STEPS = 8
# Marks are this long and this far apart, in parts of the pipe's width; the fastest passes a place
# three times a second at most (WCAG 2.3.1).
MARK, PITCH = 1.0, 3.6

Point = tuple[int, int]


class Port(NamedTuple):
    """An end of a pipe: a point, and whether a pipe leaves there to the side (None for a joint: any way)."""

    at: Point
    lying: bool | None


def ports_of(
    joints: Sequence[Joint], pieces: Sequence[Placed], box: Box, canvas: Canvas
) -> dict[str, Port]:
    """Every name that a pipe can end at: ``joint``, ``piece.side``. A pipe from the bottom starts below the
    caption."""
    ports: dict[str, Port] = {}
    for joint in joints:
        place = place_of(joint.phrases, (1, 1), joint.span, box, canvas)
        check_inside(place, box, joint.phrases[0].span, canvas)
        ports[joint.name] = Port((place.left, place.top), None)
    for widget, place, whole in pieces:
        named = widget.one(PhraseKind.NAMED)
        if named is None:
            continue
        middle_x, middle_y = place.left + place.width // 2, place.top + place.height // 2
        gap = canvas.px(0.6)
        below = whole.top + whole.height + (gap if whole == place else canvas.px(2.0))
        name = named.words[0]
        ports[f"{name}.left"] = Port((place.left - gap, middle_y), True)
        ports[f"{name}.right"] = Port((place.left + place.width + gap, middle_y), True)
        ports[f"{name}.top"] = Port((middle_x, place.top - gap), False)
        ports[f"{name}.bottom"] = Port((middle_x, below), False)
    return ports


def upright(pipes: Iterable[Pipe]) -> frozenset[str]:
    """The pieces at which pipes end, above or below them only."""
    sides: dict[str, set[str]] = {}
    for pipe in pipes:
        for name, side in (end.split(".") for end in pipe.ends if "." in end):
            sides.setdefault(name, set()).add(side)
    return frozenset(name for name, found in sides.items() if found <= {"top", "bottom"})


def draw_pipe(pipe: Pipe, ports: dict[str, Port], within: Box, canvas: Canvas) -> None:
    """A pipe along its ends. Raises ``DesignError`` A378 for an unknown end, A314 for a pipe that leaves
    the area."""
    path: list[Point] = []
    for name, span in zip(pipe.ends, pipe.end_spans, strict=True):
        if name not in ports:
            remedy = did_you_mean(name, ports, "ends")
            raise DesignError([error("A378", f"no pipe can end at '{name}'", span, remedy)])
    for first, second in pairwise(pipe.ends):
        route = _route(ports[first], ports[second])
        path.extend(route if not path else route[1:])
    path = _straightened(path)
    phrases = {phrase.kind: phrase for phrase in pipe.phrases}
    ink = _ink(phrases, pipe, canvas)
    wide = canvas.px(PIPE_MM) | 1
    stretches = [_segment(start, end, wide) for start, end in pairwise(path)]
    for stretch in stretches:
        check_inside(stretch, within, pipe.span, canvas, "the pipe")
    canvas.operations.extend(Fill(stretch, ink) for stretch in stretches)
    if PhraseKind.FLOW in phrases:
        _flow(phrases[PhraseKind.FLOW].values[0], path, wide, canvas)


def _route(start: Port, end: Port) -> list[Point]:
    """Right angles between two ports, leaving each the way its side faces."""
    (x0, y0), (x1, y1) = start.at, end.at
    if x0 == x1 or y0 == y1:
        return [start.at, end.at]
    lying_start, lying_end = start.lying, end.lying
    if lying_start is None:
        lying_start = not lying_end if lying_end is not None else True
    if lying_end is None:
        return [start.at, (x1, y0) if lying_start else (x0, y1), end.at]
    if lying_start and lying_end:
        middle = (x0 + x1) // 2
        return [start.at, (middle, y0), (middle, y1), end.at]
    if not lying_start and not lying_end:
        middle = (y0 + y1) // 2
        return [start.at, (x0, middle), (x1, middle), end.at]
    return [start.at, (x1, y0) if lying_start else (x0, y1), end.at]


def _straightened(path: list[Point]) -> list[Point]:
    """Without repeated points and without points in the middle of a straight stretch."""
    kept: list[Point] = []
    for point in path:
        if kept and point == kept[-1]:
            continue
        in_line = len(kept) >= 2 and (
            kept[-2][0] == kept[-1][0] == point[0] or kept[-2][1] == kept[-1][1] == point[1]
        )
        if in_line:
            kept[-1] = point
        else:
            kept.append(point)
    return kept


def _segment(start: Point, end: Point, wide: int) -> Box:
    """The box of a stretch, with half the width beyond both ends so that corners are filled."""
    half = wide // 2
    left, right = min(start[0], end[0]), max(start[0], end[0])
    top, bottom = min(start[1], end[1]), max(start[1], end[1])
    return Box(left - half, top - half, right - left + wide, bottom - top + wide)


def _ink(phrases: dict[PhraseKind, Phrase], pipe: Pipe, canvas: Canvas) -> Ink:
    ramp = phrases.get(PhraseKind.RAMP)
    if ramp is None:
        return canvas.artwork.ink(canvas.role(phrases.get(PhraseKind.COLOUR), "line"))
    if len(ramp.values) not in (1, 3):
        remedy = "write filled by ramp water of coolant.inlet from 0 °C to 80 °C"
        raise DesignError([error("A379", "a pipe's ramp needs a signal", ramp.span, remedy)])
    value = canvas.number(ramp.values[0])
    low, high = _ends(value, ramp.values, canvas)
    steps = Scaled(low, (high - low) / (RAMP_STEPS - 1), RAMP_STEPS)
    entries = canvas.artwork.ramp_entries(ramp.words[0], RAMP_STEPS, ramp.span)
    return canvas.artwork.entries(entries, canvas.channel(Channel(value, steps)))


def _ends(value: Typed, values: Sequence[Expression], canvas: Canvas) -> tuple[float, float]:
    if len(values) == 1:
        return value.low, value.high
    return rising(values[1:], value, values[1].span, canvas)


def _flow(node: Expression, path: list[Point], wide: int, canvas: Canvas) -> None:
    """Marks along the path whose pace follows the rate: still at zero, fastest at the range's end. A
    rate that can be below zero then moves them backwards."""
    value = canvas.number(node)
    bounded(value, node, canvas)
    top = max(abs(value.low), abs(value.high))
    onward = canvas.channel(Channel(value, Scaled(0.0, top / (FLOW_STEPS - 1), FLOW_STEPS)))
    if value.low >= 0:
        _marks(path, onward, None, wide, canvas)
        return
    back = canvas.channel(Channel(value, Scaled(0.0, -top / (FLOW_STEPS - 1), FLOW_STEPS)))
    _marks(path, onward, When(back, 0, live(0)), wide, canvas)
    _marks(path[::-1], back, When(back, live(1), live(FLOW_STEPS - 1)), wide, canvas)


def _marks(path: list[Point], channel: int, when: When | None, wide: int, canvas: Canvas) -> None:
    """Marks that move from the first point of the path to its last."""
    pitch, mark = max(4, round(wide * PITCH)), max(2, round(wide * MARK))
    pace = max(1, 3 * pitch // (FLOW_STEPS - 1))
    thin = max(3, wide // 3) | 1
    ink = canvas.artwork.ink("ground")
    travelled = 0
    for start, end in pairwise(path):
        length = abs(end[0] - start[0]) + abs(end[1] - start[1])
        box = _lane(start, end, thin)
        axis = _axis(start, end)
        flow = Flow(box, axis, channel, travelled % pitch, pitch, mark, pace, ink, when)
        canvas.operations.append(flow)
        travelled += length


def _lane(start: Point, end: Point, thin: int) -> Box:
    half = thin // 2
    left, right = min(start[0], end[0]), max(start[0], end[0])
    top, bottom = min(start[1], end[1]), max(start[1], end[1])
    if top == bottom:
        return Box(left, top - half, max(1, right - left), thin)
    return Box(left - half, top, thin, max(1, bottom - top))


def _axis(start: Point, end: Point) -> Axis:
    if start[1] == end[1]:
        return Axis.RIGHTWARD if end[0] > start[0] else Axis.LEFTWARD
    return Axis.DOWNWARD if end[1] > start[1] else Axis.UPWARD
