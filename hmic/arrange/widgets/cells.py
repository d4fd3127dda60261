"""cells: every element of an array as a coloured cell."""

from __future__ import annotations

from fractions import Fraction

from hmic.arrange.artwork import RAMP_STEPS
from hmic.arrange.canvas import Canvas, scale
from hmic.arrange.formats import figure
from hmic.arrange.plan import share_out
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import captioned
from hmic.diagnostics import DesignError, error, lacking
from hmic.language.syntax import Convert, PhraseKind, Quantity, Widget, phrase_kinds
from hmic.model.channels import Channel, Scaled
from hmic.model.expressions import Typed, ValueKind
from hmic.paint.operations import Box, Fill

SUBJECT = SubjectKind.VALUE
PHRASES = phrase_kinds("scale difference rows ramp called within")
GAP_MM = 0.6
LEAST_CELL_MM = 1.5


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Cells row by row from the top left, on the absolute scale or by difference from the mean."""
    assert widget.subject is not None
    value = canvas.typed(widget.subject)
    if value.kind != ValueKind.NUMBER or value.count is None:
        message = "cells need an array of numbers"
        remedy = "name a signal with a count, like pack.cells"
        raise DesignError([error("A348", message, widget.subject.span, remedy)])
    count = value.count
    columns = _columns(widget, count)
    rows = -(-count // columns)
    exchanged = canvas.design.locale.units.get(value.unit.spelling) if value.unit else None
    # A difference of temperatures is the same on no other scale.
    if exchanged is not None and widget.one(PhraseKind.DIFFERENCE) is None:
        value = canvas.typed(Convert(widget.subject, exchanged, widget.subject.span))
    low, step, centred = _steps(widget, value, canvas)
    place = captioned(widget, box, canvas, _legend(low, step, centred, value, canvas))
    ramp = widget.one(PhraseKind.RAMP)
    if ramp is None:
        remedy = "add filled by ramp NAME, a ramp of themes.yaml"
        raise DesignError([lacking("A327", "the cells have no ramp", widget.head, remedy)])
    entries = canvas.artwork.ramp_entries(ramp.words[0], RAMP_STEPS, ramp.span)
    gap = canvas.px(GAP_MM)
    _fit_cells(widget, (columns, rows), count, place, canvas)
    widths = _even(place.width - gap * (columns - 1), columns)
    heights = _even(place.height - gap * (rows - 1), rows)
    for element in range(count):
        row, column = divmod(element, columns)
        left = place.left + sum(widths[:column]) + gap * column
        top = place.top + sum(heights[:row]) + gap * row
        channel = canvas.channel(
            Channel(value, Scaled(low, step, RAMP_STEPS), element=element, centred=centred)
        )
        cell = Box(left, top, widths[column], heights[row])
        canvas.operations.append(Fill(cell, canvas.artwork.entries(entries, channel)))


def _fit_cells(widget: Widget, ways: tuple[int, int], count: int, place: Box, canvas: Canvas) -> None:
    """Raises ``DesignError`` A350 or A351 when a cell would be too small to see, with the length of
    row that fits, if one does."""
    gap, least = canvas.px(GAP_MM), canvas.px(LEAST_CELL_MM)
    columns, rows = ways
    across, down = ((side + gap) // (least + gap) for side in (place.width, place.height))
    # Full rows are best.
    lengths = [length for length in range(1, min(across, count) + 1) if -(-count // length) <= down]
    full = [length for length in lengths if count % length == 0]
    best = (full or lengths)[-1:]
    fits = tuple(f"write rows of {length}" for length in best)
    needed = (columns * (least + gap) - gap, rows * (least + gap) - gap)
    canvas.fit(needed[0], place.width, f"{columns} cells in a row", widget.head, least=True, ways=fits)
    canvas.fit(needed[1], place.height, f"{rows} rows of cells", widget.head, True, least=True, ways=fits)


def _legend(low: float, step: float, centred: bool, value: Typed, canvas: Canvas) -> str:
    high = low + step * (RAMP_STEPS - 1)
    unit = value.unit.spelling if value.unit else ""
    ends = [figure(end, canvas.design.locale) for end in (low, high)]
    return (f"±{ends[1]} {unit}" if centred else f"{ends[0]} … {ends[1]} {unit}").rstrip()


def _even(total: int, count: int) -> list[int]:
    return share_out(total, [None] * count, [Fraction(1)] * count)


def _columns(widget: Widget, count: int) -> int:
    phrase = widget.one(PhraseKind.ROWS)
    if phrase is None:
        return count if count <= 16 else 16
    value = phrase.values[0]
    if not isinstance(value, Quantity) or value.unit or value.number.denominator != 1 or value.number < 1:
        raise DesignError([error("A328", "rows are of a whole number of cells", phrase.span, "rows of 15")])
    return min(int(value.number), count)


def _steps(widget: Widget, value: Typed, canvas: Canvas) -> tuple[float, float, bool]:
    """(low, step, difference from the mean) of the cells' colour steps, in the value's unit."""
    difference = widget.one(PhraseKind.DIFFERENCE)
    if difference is None:
        low, high = scale(widget, value, canvas)
        return low, (high - low) / (RAMP_STEPS - 1), False
    most = canvas.step(difference.values[0], value)
    if most <= 0:
        remedy = "write difference from mean within 40 mV"
        raise DesignError([error("A329", "the difference must be above 0", difference.span, remedy)])
    return -most, 2 * most / (RAMP_STEPS - 1), True
