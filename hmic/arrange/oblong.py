"""Round things on pixels that are not square: drawn as if they were, then made as much narrower as
the pixels are wider, so that a circle is round to the eye. Letters keep their pixels and only move."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from hmic.arrange.canvas import Canvas
from hmic.language.syntax import WidgetKind
from hmic.paint.narrowing import narrowed
from hmic.paint.operations import (
    NO_MASK,
    Axis,
    Box,
    Figures,
    Frame,
    Letters,
    Operation,
    Outline,
    Pointer,
    Reveal,
    Run,
    Stencil,
    ThresholdMap,
)
from hmic.paint.outlines import convex
from hmic.paint.raster import divided

ROUND = frozenset((WidgetKind.DIAL, WidgetKind.CLOCK, WidgetKind.LAMP, WidgetKind.SYMBOL, WidgetKind.SHAPE))
"""What is drawn as a whole and so can be made narrower."""


class Oblong:
    """The way from a place of square pixels to the panel's own, both with the same left edge: ``square`` px
    of the one are ``own`` px of the other."""

    def __init__(self, left: int, square: int, own: int) -> None:
        self._left, self._square, self._own = left, square, own

    def across(self, x: int) -> int:
        """Where a column comes to lie."""
        return self._left + divided((x - self._left) * self._own, self._square)

    def box(self, box: Box) -> Box:
        """A place, by both its edges."""
        left = self.across(box.left)
        return box._replace(left=left, width=self.across(box.left + box.width) - left)

    def moved(self, box: Box) -> Box:
        """A place that keeps its size, about the middle that it had, or as near to it as the panel's own
        place lets it stay inside."""
        middle = divided((2 * (box.left - self._left) + box.width) * self._own, self._square)
        left = min(max((middle - box.width) // 2, 0), max(self._own - box.width, 0))
        return box._replace(left=self._left + left)

    def operation(self, operation: Operation, canvas: Canvas) -> Operation:
        """An operation that is no text, with what it refers to."""
        artwork, box = canvas.artwork, self.box(operation.box)
        match operation:
            case Stencil():
                mask = narrowed(artwork.masks[operation.mask], box.width, operation.box.width)
                return replace(operation, box=box, mask=artwork.mask(mask))
            case Frame():
                corner = artwork.masks[operation.corner]
                width = max(1, divided(corner.width * self._own, self._square))
                return replace(operation, box=box, corner=artwork.mask(narrowed(corner, width, corner.width)))
            case Reveal() if operation.axis is Axis.MAPPED:
                return self._reveal(operation, box, canvas)
            case Pointer():
                outline = self._outline(artwork.outlines[operation.outline], operation.box.width, box.width)
                return replace(operation, box=box, outline=artwork.outline(outline))
        return replace(operation, box=box)

    def _reveal(self, operation: Reveal, box: Box, canvas: Canvas) -> Reveal:
        artwork, was = canvas.artwork, operation.box.width
        mask = operation.mask
        if mask != NO_MASK:
            mask = artwork.mask(narrowed(artwork.masks[mask], box.width, was))
        plane = artwork.maps[operation.map]
        places = _centres(plane.width, box.width, was)
        rows = (
            plane.thresholds[at : at + plane.width] for at in range(0, len(plane.thresholds), plane.width)
        )
        thresholds = b"".join(bytes(row[place] for place in places) for row in rows)
        made = ThresholdMap(len(places), plane.height, thresholds)
        return replace(operation, box=box, mask=mask, map=artwork.map(made))

    @staticmethod
    def _outline(outline: Outline, was: int, now: int) -> Outline:
        polygons = tuple(
            convex(tuple((divided(x * now, was), y) for x, y in polygon)) for polygon in outline.polygons
        )
        return outline._replace(polygons=polygons)


def _centres(width: int, now: int, was: int) -> list[int]:
    """For each new column the old one in which its middle lies."""
    return [min(width - 1, (2 * at + 1) * was // (2 * now)) for at in range(divided(width * now, was))]


def as_square(kind: WidgetKind, box: Box, canvas: Canvas) -> tuple[Box, Oblong | None]:
    """The place that a widget is drawn in, and the way back from it; its own where pixels are square."""
    panel = canvas.design.panel
    if panel.square or kind not in ROUND or box.width < 1:
        return box, None
    square = max(1, round(box.width * panel.pitch_across / panel.pitch))
    return box._replace(width=square), Oblong(box.left, square, box.width)


def put_back(way: Oblong, first: int, facts: int, canvas: Canvas) -> Callable[[Box], Box]:
    """Brings what was drawn since operation ``first`` and text ``facts`` to the panel's own pixels."""
    drawn = canvas.operations[first:]
    texts = {box: moved for line in _lines(drawn) for box, moved in _moved(line, way)}
    canvas.operations[first:] = [
        replace(each, box=texts[each.box])
        if isinstance(each, Run | Figures | Letters)
        else way.operation(each, canvas)
        for each in drawn
    ]
    canvas.texts[facts:] = [
        replace(fact, box=texts.get(fact.box, fact.box)) for fact in canvas.texts[facts:]
    ]
    return way.box


def _lines(drawn: Sequence[Operation]) -> list[list[Box]]:
    """Texts that follow each other on one line, as a number and its unit: they keep their distance."""
    lines: list[list[Box]] = []
    for operation in drawn:
        if not isinstance(operation, Run | Figures | Letters):
            continue
        box, last = operation.box, lines[-1][-1] if lines else None
        near = last is not None and (
            max(box.top, last.top) < min(box.top + box.height, last.top + last.height)
            and max(box.left, last.left) - min(box.left + box.width, last.left + last.width)
            <= max(box.height, last.height)
        )
        if near:
            lines[-1].append(box)
        else:
            lines.append([box])
    return lines


def _moved(line: Sequence[Box], way: Oblong) -> Iterator[tuple[Box, Box]]:
    left = min(box.left for box in line)
    right = max(box.left + box.width for box in line)
    shift = way.moved(Box(left, 0, right - left, 0)).left - left
    return ((box, box._replace(left=box.left + shift)) for box in line)
