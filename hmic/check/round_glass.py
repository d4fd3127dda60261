"""What lies outside the circle of round glass, by the pixels that can be lit."""

from __future__ import annotations

import math
from collections.abc import Iterator

from PIL import Image, ImageChops, ImageDraw

from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.pixel_reach import Reach
from hmic.diagnostics import Finding, Severity, Span
from hmic.language.syntax import WidgetKind
from hmic.model.design import Design, Panel
from hmic.model.limits import Limits
from hmic.paint.operations import Box, Operation

MAY_RUN_OFF = frozenset((WidgetKind.SHAPE, WidgetKind.PICTURE))
"""What stands behind something may go on beneath the rim."""


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C485: a widget or pipe of which the rim hides something that it can light."""
    if not design.panel.round:
        return []
    hidden = outside(design.panel)
    reach = Reach(arranged.drawing)
    findings: list[Finding] = []
    for number, screen in enumerate(arranged.screens):
        operations = arranged.drawing.screens[number].operations
        findings.extend(_of_screen(screen, operations, hidden, reach, panel=design.panel))
    return findings


def outside(panel: Panel) -> Image.Image:
    """255 on every pixel that round glass does not show; one that the rim halves counts as shown."""
    image = Image.new("L", (panel.width, panel.height), 255)
    ImageDraw.Draw(image).ellipse((-1, -1, panel.width, panel.height), fill=0)
    return image


def _of_screen(
    screen: ArrangedScreen,
    operations: tuple[Operation, ...],
    hidden: Image.Image,
    reach: Reach,
    *,
    panel: Panel,
) -> Iterator[Finding]:
    standing: list[tuple[str, Span, int, int]] = [
        (piece.widget.kind, piece.widget.head, piece.first, piece.last)
        for piece in screen.pieces
        if piece.widget.kind not in MAY_RUN_OFF
    ]
    standing += [("pipe", *pipe) for pipe in screen.pipes]
    for kind, span, first, last in standing:
        far = max((_beyond(each, hidden, reach, panel) for each in operations[first:last]), default=0.0)
        if far > 0:
            message = f"on screen '{screen.name}' the {kind} reaches {far:.1f} mm beyond the round glass"
            remedy = f"move it {math.ceil(far * 10) / 10:g} mm towards the middle, or make it smaller"
            yield Finding("C485", Severity.WARNING, message, span, remedy)


def _beyond(operation: Operation, hidden: Image.Image, reach: Reach, panel: Panel) -> float:
    """How far an operation lights what is not seen, in mm; 0 for nothing."""
    box = operation.box
    if box.width < 1 or box.height < 1:
        return 0.0
    place = (box.left, box.top, box.left + box.width, box.top + box.height)
    cut = hidden.crop(place)
    if cut.getbbox() is None:
        return 0.0
    lit = ImageChops.darker(reach.lit(operation, box), cut)
    return max((panel.beyond(x, y) for x, y in _ends(lit, box)), default=0.0)


def _ends(lit: Image.Image, box: Box) -> Iterator[tuple[float, float]]:
    """The outer pixels of each row: one of them is the farthest out."""
    rows = lit.getbbox()
    for y in range(rows[1], rows[3]) if rows is not None else ():
        row = lit.crop((0, y, lit.width, y + 1)).getbbox()
        if row is not None:
            yield box.left + row[0] + 0.5, box.top + y + 0.5
            yield box.left + row[2] - 0.5, box.top + y + 0.5
