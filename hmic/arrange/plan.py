"""From the drawing of a plan to pixel boxes, without losing or sharing a pixel."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from hmic.arrange.lengths import described, exact_pixels
from hmic.diagnostics import DesignError, Finding, Sentence, Span, error
from hmic.language.spelling import number
from hmic.language.syntax import Plan, Quantity, Track
from hmic.model.design import GLASS, Panel
from hmic.number_text import at_most
from hmic.paint.operations import Box

DEFAULT_GAP_MM = 2.0
DEFAULT_MARGIN_MM = 2.5


def share_out(total: int, sizes: Sequence[Fraction | None], shares: Sequence[Fraction]) -> list[int]:
    """Whole pixels for each track, adding up to ``total`` exactly.

    ``sizes[i]`` is a fixed size in pixels or None; then track ``i`` takes part in what is left in
    proportion to ``shares[i]``. Track edges are rounded, not track sizes, so no pixel is lost or
    given twice. Fixed sizes are rounded on their own. Raises ``ValueError`` if they do not fit.
    """
    fixed = [None if size is None else int(size + Fraction(1, 2)) for size in sizes]
    left = total - sum(size for size in fixed if size is not None)
    weight = sum((share for size, share in zip(fixed, shares, strict=True) if size is None), Fraction(0))
    if left < 0:
        raise ValueError(f"fixed tracks need {total - left} px of {total} px")
    result: list[int] = []
    edge = Fraction(0)
    given = 0
    for size, share in zip(fixed, shares, strict=True):
        if size is not None:
            result.append(size)
            continue
        edge += left * share / weight
        until = int(edge + Fraction(1, 2))
        result.append(until - given)
        given = until
    return result


def boxes(plan: Plan, within: Box, panel: Panel, inner: bool = False) -> dict[str, Box]:
    """The box of each area of a plan. ``inner`` plans (of parts) have no margin by default.

    Raises ``DesignError``: A310 an area that is not a rectangle, A311 rows of different length,
    A312 wrong number of sizes, A313 sizes that do not fit.
    """
    findings = _drawing_findings(plan)
    if findings:
        raise DesignError(findings)
    written = (plan.margin, 0.0 if inner else DEFAULT_MARGIN_MM), (plan.gap, DEFAULT_GAP_MM)
    margin, gap = (_length(*each, panel, False) for each in written)
    left, between = (_length(*each, panel, True) for each in written)
    if panel.round and not inner and plan.margin is None:
        within, margin, left = within_circle(within, (left, margin)), 0, 0
    across = _Way("column", "wide", within.width, left, between, True)
    columns = _tracks(plan.columns, len(plan.rows[0].cells), across, panel, plan.span)
    down = _Way("row", "high", within.height, margin, gap)
    rows = _tracks(plan.heights, len(plan.rows), down, panel, plan.span)
    result: dict[str, Box] = {}
    for name, (top, left, bottom, right) in _extents(plan).items():
        x, y = columns[left][0], rows[top][0]
        end_x, end_y = sum(columns[right]), sum(rows[bottom])
        result[name] = Box(within.left + x, within.top + y, end_x - x, end_y - y)
    return result


def within_circle(whole: Box, margins: tuple[int, int]) -> Box:
    """The largest square within round glass, as large a margin (px across, down) away from its rim."""
    sizes = zip((whole.width, whole.height), margins, strict=True)
    sides = (math.floor((size - 2 * margin) / math.sqrt(2)) for size, margin in sizes)
    width, height = (max(1, side) for side in sides)
    return Box(
        whole.left + (whole.width - width) // 2, whole.top + (whole.height - height) // 2, width, height
    )


def around(places: Sequence[Box]) -> Box:
    """The smallest box that holds all of them."""
    left, top = min(box.left for box in places), min(box.top for box in places)
    right = max(box.left + box.width for box in places)
    return Box(left, top, right - left, max(box.top + box.height for box in places) - top)


def common(one: Box, other: Box) -> Box:
    """What both boxes hold, perhaps nothing."""
    left, top = max(one.left, other.left), max(one.top, other.top)
    right = min(one.left + one.width, other.left + other.width)
    bottom = min(one.top + one.height, other.top + other.height)
    return Box(left, top, max(0, right - left), max(0, bottom - top))


def meet(one: Box, other: Box) -> bool:
    """Whether two boxes share a pixel."""
    shared = common(one, other)
    return shared.width > 0 and shared.height > 0


def _length(written: Quantity | None, default_mm: float, panel: Panel, across: bool) -> int:
    exact = Fraction(panel.pixels_from_mm(default_mm, across))
    if written is not None:
        exact = exact_pixels(written, panel, across)
    return int(exact + Fraction(1, 2))


class _Way(NamedTuple):
    """One of the two ways in which a plan is parted; in px."""

    kind: str
    large: str
    total: int
    margin: int
    gap: int
    across: bool = False


def _tracks(track: Track | None, count: int, way: _Way, panel: Panel, span: Span) -> list[tuple[int, int]]:
    """(start, size) of each track, relative to the plan's box."""
    kind, large, total, margin, gap, across = way
    written: Sequence[Quantity] = track.sizes if track else [Quantity(Fraction(1), "", span)] * count
    place = track.span if track else span
    if len(written) != count:
        raise DesignError([_other_number(written, count, kind, place, span)])
    sizes = [None if not item.unit else exact_pixels(item, panel, across) for item in written]
    shares = [item.number for item in written]
    if any(size is None and share <= 0 for size, share in zip(sizes, shares, strict=True)):
        raise DesignError([error("A312", f"a {kind} share must be above 0", place, "write 1, 2, 3 ...")])
    room = total - 2 * margin - gap * (count - 1)
    try:
        widths = share_out(room, sizes, shares)
    except ValueError:
        needed = sum(int(size + Fraction(1, 2)) for size in sizes if size is not None)
        lengths = [described(length, panel, across) for length in (total - room + needed, total)]
        message = f"the {kind}s need {lengths[0]} with gaps, there are {lengths[1]}"
        remedy = _largest(written, sizes, room, panel, across)
        raise DesignError([error("A313", message, place, remedy, rests_on=GLASS)]) from None
    if min(widths) < 1:
        message = f"a {kind} comes out {min(widths)} px {large}"
        remedy = _largest(written, sizes, room, panel, across)
        raise DesignError([error("A313", message, place, remedy, rests_on=GLASS)])
    result = []
    start = margin
    for width in widths:
        result.append((start, width))
        start += width + gap
    return result


def _other_number(written: Sequence[Quantity], count: int, kind: str, place: Span, span: Span) -> Finding:
    """The finding for sizes that are more or fewer than the plan has tracks; the remedy keeps those
    that can stay."""
    said = [f"{number(item.number)} {item.unit}".rstrip() for item in written[:count]]
    said += ["1"] * (count - len(said))
    there = f"{count} {kind}{'s' if count != 1 else ''}"
    given = f"{len(written)} {kind} size{'s are' if len(written) != 1 else ' is'} given"
    remedy = f"write {kind}s {', '.join(said)}"
    message = f"the plan is drawn with {there}, but {given}"
    return error("A312", message, place, remedy, rests_on=(Sentence(span),))


def _largest(
    written: Sequence[Quantity], sizes: Sequence[Fraction | None], room: int, panel: Panel, across: bool
) -> str:
    """How large the largest fixed size can be, in its own unit, with a pixel for every share."""
    fixed = [(size, item) for size, item in zip(sizes, written, strict=True) if size is not None]
    if not fixed:
        return "make the gaps smaller, or the plan simpler"
    size, item = max(fixed, key=lambda pair: pair[0])
    others = sum(int(other + Fraction(1, 2)) for other, _ in fixed) - int(size + Fraction(1, 2))
    left = room - others - (len(written) - len(fixed))
    if item.unit == "mm":
        most = math.floor(left * (panel.pitch_across if across else panel.pitch) * 10) / 10
    else:
        most = math.floor(panel.arcmin_from_pixels(left) if item.unit == "arcmin" else left)
    was = f"{number(item.number)} {item.unit}"
    if most <= 0:
        return "make the fixed sizes smaller, or write shares such as 1, 2"
    shares = "; the shares take what is left" if len(fixed) < len(written) else ""
    return f"write at most {at_most(most)} {item.unit} in place of {was}{shares}"


def _extents(plan: Plan) -> dict[str, tuple[int, int, int, int]]:
    """(top, left, bottom, right) track numbers of each area, in the order first drawn."""
    found: dict[str, tuple[int, int, int, int]] = {}
    for y, row in enumerate(plan.rows):
        for x, name in enumerate(row.cells):
            if name == ".":
                continue
            top, left, bottom, right = found.get(name, (y, x, y, x))
            found[name] = (min(top, y), min(left, x), max(bottom, y), max(right, x))
    return found


def _odd_rows(plan: Plan) -> Iterator[Finding]:
    """A311 for each row that is not as long as most are; of as many the first tells."""
    widths = [len(row.cells) for row in plan.rows]
    width = max(dict.fromkeys(widths), key=widths.count)
    others = "the first row of the plan has" if widths[0] == width else "the rows below it have"
    remedy = "draw every row with the same number of areas; '.' stands for an empty place"
    for row in plan.rows:
        if len(row.cells) != width:
            message = f"{others} {width} areas, this one {len(row.cells)}"
            yield error("A311", message, row.span, remedy, rests_on=(Sentence(plan.span),))


def _drawing_findings(plan: Plan) -> list[Finding]:
    read = (Sentence(plan.span),)
    findings = list(_odd_rows(plan))
    if findings:
        return findings
    for name, (top, left, bottom, right) in _extents(plan).items():
        for y in range(top, bottom + 1):
            for x in range(left, right + 1):
                if plan.rows[y].cells[x] != name:
                    message = f"area '{name}' is not a rectangle: '{plan.rows[y].cells[x]}' stands inside it"
                    remedy = f"draw '{name}' as one rectangle, or give the second piece its own name"
                    findings.append(error("A310", message, plan.rows[y].cell_spans[x], remedy, rests_on=read))
                    break
            else:
                continue
            break
    return findings
