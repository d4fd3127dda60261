"""Text with which nothing else shares its pixels, and nothing comes too near: measured on what is painted.

Every text is held against everything else that its screen can light beside it. Not told: what it stands on
(a place that surrounds it wholly), what hides it wholly in a state of its own (the question of a control),
what is never painted together with it, and what is hidden between the two. A needle passes over the figures
of its own scale and goes on: that is no meeting. Over any other text it is one wherever the needle can be,
and so is all else that moves.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from PIL import Image, ImageChops

from hmic.arrange.canvas import PieceFact, TextFact
from hmic.arrange.compose import Arranged
from hmic.arrange.fitting import millimetres
from hmic.arrange.plan import meet
from hmic.check import hidden
from hmic.check.hidden import named
from hmic.check.painted import Painted, goes_with, is_text, never_together
from hmic.check.pixel_reach import Reach, common
from hmic.diagnostics import Finding
from hmic.model.design import Design, Panel
from hmic.model.limits import Limits
from hmic.paint.operations import Box, Frame, Operation, Part, Pointer, Run

LIMIT = "text clearance"


@dataclass(frozen=True)
class Meeting:
    """A text and what comes too near to it: both operations' numbers, the px between them (0: they share
    pixels), and the px by which one of two things has to move, or the place of one to grow, ``down`` or
    across."""

    fact: TextFact
    index: int
    other: int
    between: int
    move: int
    down: bool


def check(design: Design, arranged: Arranged, limits: Limits, screens: Sequence[Painted]) -> list[Finding]:
    """C428: of each pair of things the text that is worst off, unless one of the two hides the other."""
    reach = Reach(arranged.drawing)
    findings: list[Finding] = []
    for painted in screens:
        told = {
            frozenset((each.shown.first, each.over.first))
            for each in hidden.hidings(painted, reach, limits[hidden.LIMIT].value)
        }
        worst: dict[frozenset[int], Meeting] = {}
        for meeting in meetings(painted, reach, limits[LIMIT].value):
            pair = frozenset(_first(painted.pieces[index]) for index in (meeting.index, meeting.other))
            if pair in told:
                continue
            if pair not in worst or meeting.between < worst[pair].between:
                worst[pair] = meeting
        findings.extend(_finding(each, painted, design.panel, limits) for each in worst.values())
    return findings


def _first(piece: PieceFact | None) -> int:
    return -1 if piece is None else piece.first


def meetings(painted: Painted, reach: Reach, clearance: float) -> Iterator[Meeting]:
    """Every meeting on a screen; ``clearance`` is in capital heights of the text."""
    facts = {fact.box: fact for fact in painted.screen.texts}
    edges = [_edges(operation.box) for operation in painted.operations]
    for index, operation in enumerate(painted.operations):
        fact = facts.get(operation.box) if is_text(operation) else None
        if fact is None:
            continue
        # 7 px of 41 as a share, times 41, are a hair more than 7.
        gap = math.ceil(clearance * fact.capital_height - 1e-9)
        near = _grown(operation.box, gap)
        left, top, right, bottom = _edges(near)
        meet = [
            other
            for other, (start, above, end, below) in enumerate(edges)
            if start < right and left < end and above < bottom and top < below
        ]
        others = list(_beside(painted, index, near, meet))
        ink = reach.lit(operation, near) if others else None
        for other in others:
            assert ink is not None
            found = _meeting(painted, reach, (index, other), near, ink, gap=gap)
            if found is not None:
                between, met = found
                yield Meeting(fact, index, other, between, *_way(painted, index, other, gap, met))


def _edges(box: Box) -> tuple[int, int, int, int]:
    """Left, top, right and bottom."""
    return box.left, box.top, box.left + box.width, box.top + box.height


def _beside(painted: Painted, index: int, near: Box, meet: Sequence[int]) -> Iterator[int]:
    """The operations that may meet a text, of those whose boxes do, by their conditions."""
    text, piece = painted.operations[index], painted.pieces[index]
    for other in meet:
        operation = painted.operations[other]
        if other == index or never_together(text, operation) or painted.is_behind(other):
            continue
        # A needle passes over the figures of its scale and goes on.
        if isinstance(operation, Pointer) and isinstance(text, Run) and painted.pieces[other] is piece:
            continue
        # What it stands on, and what covers it in a state of its own.
        if (other < index or operation.when is not None) and _surrounds(operation, near, painted):
            continue
        if not _hidden(painted, min(index, other), max(index, other), near):
            yield other


def _hidden(painted: Painted, lower: int, upper: int, near: Box) -> bool:
    """Whether something between the two covers the lower one wholly whenever the upper one is painted."""
    return any(
        _covers(over, painted.operations[upper]) and _surrounds(over, near, painted)
        for over in painted.operations[lower + 1 : upper]
    )


def _meeting(
    painted: Painted, reach: Reach, pair: tuple[int, int], near: Box, ink: Image.Image, *, gap: int
) -> tuple[int, tuple[int, int]] | None:
    """(px between, width and height of what is common) of a text, whose ``ink`` is given, with its
    clearance and another operation; None where all is well."""
    index, other = pair
    operation = painted.operations[other]
    beside = reach.lit(operation, near)
    if beside.getbbox() is None or (other > index and operation.when is not None and _holds(beside, ink)):
        return None
    for cover in range(min(pair) + 1, max(pair)):
        over = painted.operations[cover]
        if _covers(over, painted.operations[max(pair)]) and meet(over.box, near):
            hidden = ImageChops.invert(reach.lit(over, near))
            if other < index:
                beside = ImageChops.darker(beside, hidden)
            else:
                ink = ImageChops.darker(ink, hidden)
    around = _spread(ink, gap)
    met = common(around, beside)
    if met is None or (other < index and not operation.moves and _holds(beside, around)):
        return None
    between = bisect_left(range(gap), True, key=lambda px: common(_spread(ink, px), beside) is not None)
    return max(0, between - 1), (met[2] - met[0], met[3] - met[1])


def _way(painted: Painted, index: int, other: int, gap: int, met: tuple[int, int]) -> tuple[int, bool]:
    """(px, whether down): by which a thing has to move to be clear of another, all of it; or within one
    thing the text of the rest."""
    pieces = painted.pieces[index], painted.pieces[other]
    across, down = met
    if pieces[0] is not pieces[1]:
        one, two = (
            painted.operations[at].box if piece is None else piece.box
            for at, piece in zip((index, other), pieces, strict=True)
        )
        across = gap + min(one.left + one.width - two.left, two.left + two.width - one.left)
        down = gap + min(one.top + one.height - two.top, two.top + two.height - one.top)
    return min(across, down), down <= across


def _covers(over: Operation, upper: Operation) -> bool:
    """Whether something between two others hides the lower one whenever the upper one is painted."""
    return over.bed and not over.moves and (over.when is None or goes_with(over, upper))


def _surrounds(operation: Operation, near: Box, painted: Painted) -> bool:
    """Whether a plain place reaches beyond a text and its clearance on all sides: told by boxes alone."""
    if operation.part is not Part.PLACE:
        return False
    box = operation.box
    corner = painted.drawing.masks[operation.corner] if isinstance(operation, Frame) else None
    across, down = (corner.width, corner.height) if corner is not None else (0, 0)
    return _holds_box(box, near) and (
        _holds_box(_grown(box, -across), Box(near.left, box.top + across, near.width, 0))
        or _holds_box(_grown(box, -down), Box(box.left + down, near.top, 0, near.height))
    )


def _holds_box(box: Box, inner: Box) -> bool:
    return (
        box.left <= inner.left
        and box.top <= inner.top
        and box.left + box.width >= inner.left + inner.width
        and box.top + box.height >= inner.top + inner.height
    )


def _holds(whole: Image.Image, part: Image.Image) -> bool:
    """Whether all that is lit in ``part`` is lit in ``whole``."""
    return common(ImageChops.invert(whole), part) is None


def _spread(ink: Image.Image, px: int) -> Image.Image:
    """The ink and all within ``px`` of it; as much is free at the image's edges, so that nothing wraps."""
    for across, down in ((1, 0), (0, 1)):
        wide = 1
        while wide < 2 * px + 1:
            step = min(wide, 2 * px + 1 - wide)
            ink = ImageChops.lighter(ink, ImageChops.offset(ink, step * across, step * down))
            wide += step
        ink = ImageChops.offset(ink, -px * across, -px * down)
    return ink


def _grown(box: Box, px: int) -> Box:
    return Box(box.left - px, box.top - px, box.width + 2 * px, box.height + 2 * px)


def _finding(meeting: Meeting, painted: Painted, panel: Panel, limits: Limits) -> Finding:
    limit, fact = limits[LIMIT], meeting.fact
    piece, other = painted.pieces[meeting.index], painted.pieces[meeting.other]
    assert piece is not None
    near = f"is {millimetres(meeting.between, panel)} from" if meeting.between else "shares pixels with"
    message = f"on screen '{painted.screen.name}' the text \"{fact.text}\" {near} {_named(other, piece)}"
    way = "down" if meeting.down else "across"
    remedy = f"move one of them {millimetres(meeting.move, panel)} {way}, away from the other"
    if other is piece:
        way = "higher" if meeting.down else "wider"
        remedy = f"make its place {millimetres(meeting.move, panel)} {way}, or its text smaller"
    measured = meeting.between / fact.capital_height
    return limit.finding("C428", message, fact.span, remedy, measured)


def _named(other: PieceFact | None, own: PieceFact) -> str:
    if other is None:
        return "a pipe"
    return f"something else of its own {own.widget.kind}" if other is own else named(other.widget)
