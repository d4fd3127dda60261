"""Lines of strip charts as pieces to paint."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image

from hmic.paint.operations import LIVE, Box, Trace

# Columns are painted in pieces about this wide, so that the levels of a steep line stay small.
_PIECE = 32

# Binary places of the height of a level and of the slope of a line.
RISE_BITS, SLOPE_BITS = 16, 15

# For each column the height of the column before (its own if that is a gap) and its own, of the
# line's lower edge in 1/16 pixel from the bottom of the box; None for a gap.
Span = tuple[int, int]
Spans = tuple[Span | None, ...]


@dataclass(frozen=True)
class Line:
    """A trace at a moment: levels at panel pixels, and gaps as (left, width, state). ``images``
    are those of the pieces by their spans, to be used again when the line has moved on."""

    pieces: tuple[tuple[int, int, Image.Image], ...]
    gaps: tuple[tuple[int, int, int], ...]
    images: dict[Spans, Image.Image]


def columns_of(trace: Trace, raw: tuple[int, ...]) -> tuple[int, ...]:
    """The raw values of the columns, the oldest first; the head is live."""
    values = raw[trace.first : trace.first + trace.columns]
    oldest = (raw[trace.head] - LIVE + 1) % trace.columns
    return values[oldest:] + values[:oldest]


def line(trace: Trace, columns: tuple[int, ...], head: int, before: Line | None = None) -> Line:
    """The pieces and gaps for the raw values of the columns; ``head`` is the step of the head.

    ``before`` is an earlier line of the same trace. Pieces are cut where the ring of channels is, not
    where the box is: a new column then leaves all but one or two as they were.
    """
    box = trace.box
    width = box.width // trace.columns
    spans = spans_of(trace, columns)
    together = max(1, _PIECE // width)
    pieces = []
    images: dict[Spans, Image.Image] = {}
    start = 0
    while start < trace.columns:
        place = (head + 1 + start) % trace.columns
        end = start + min(together - place % together, trace.columns - place, trace.columns - start)
        part = spans[start:end]
        if any(part):
            image = images.get(part) or (before.images.get(part) if before else None)
            image = images[part] = image or _piece(part, width, trace.thickness)
            top = _top(part, trace.thickness)
            pieces.append((box.left + start * width, box.top + box.height - top, image))
        start = end
    return Line(tuple(pieces), _gaps(box.left, width, columns), images)


def _gaps(left: int, width: int, columns: tuple[int, ...]) -> tuple[tuple[int, int, int], ...]:
    gaps: list[tuple[int, int, int]] = []
    for value in columns:
        if value < LIVE and gaps and gaps[-1][0] + gaps[-1][1] == left and gaps[-1][2] == value:
            gaps[-1] = (gaps[-1][0], gaps[-1][1] + width, value)
        elif value < LIVE:
            gaps.append((left, width, value))
        left += width
    return tuple(gaps)


def spans_of(trace: Trace, columns: tuple[int, ...]) -> Spans:
    """The heights between which each column's line slants, None for a gap."""
    room, last = (trace.box.height - trace.thickness) * 16, max(1, trace.levels - 1)
    rise = -(-(room << RISE_BITS) // last)
    spans: list[Span | None] = []
    before: int | None = None
    for value in columns:
        if value < LIVE:
            before = None
            spans.append(None)
            continue
        height = (value - LIVE) * rise >> RISE_BITS
        spans.append((height if before is None else before, height))
        before = height
    return tuple(spans)


def _top(spans: Spans, thickness: int) -> int:
    """The row above the highest that these columns touch, in pixels from the bottom."""
    return max(-(-max(span) // 16) for span in spans if span is not None) + thickness


def _piece(spans: Spans, width: int, thickness: int) -> Image.Image:
    """Levels from the highest edge of these columns down to the lowest."""
    high = _top(spans, thickness)
    low = min(min(span) for span in spans if span is not None) // 16
    clear = bytes(high - low)
    upright = []
    for span in spans:
        if span is None:
            upright.append(clear * width)
            continue
        upright.extend(
            _stroke(bottom - 16 * low, top - 16 * low, high - low)
            for bottom, top in strokes(span, width, thickness)
        )
    # Built column by column, then turned over.
    image = Image.frombytes("L", (high - low, width * len(spans)), b"".join(upright))
    return image.transpose(Image.Transpose.TRANSPOSE)


def strokes(span: Span, width: int, thickness: int) -> list[tuple[int, int]]:
    """(lower, upper) end of the line in each column of pixels, in 1/16 pixel from the bottom.

    The line is followed half a thickness to both sides, so that it is as wide where it is steep.
    """
    start, end = span
    reach = (thickness - 1) // 2
    slope = -((start - end << SLOPE_BITS) // width)
    result = []
    for part in range(width):
        first, last = max(0, part - reach), min(width, part + 1 + reach)
        left, right = (slope * at >> SLOPE_BITS for at in (first, last))
        steep = abs(right - left)
        wider = max(16 * thickness - steep, 8 * thickness)
        low = start + min(left, right) + 8 * thickness - wider // 2
        result.append((low, low + steep + wider))
    return result


def _stroke(low: int, high: int, rows: int) -> bytes:
    """Levels from the top row down of an upright line between two heights in 1/16 pixel."""
    levels = bytearray(rows)
    first, last = low // 16, (high - 1) // 16
    for row in range(first, last + 1):
        covered = min(high, 16 * row + 16) - max(low, 16 * row)
        levels[rows - 1 - row] = (covered * 255 + 8) // 16
    return bytes(levels)


def gap_box(trace: Trace, left: int, width: int, rows: int) -> Box:
    """Where the mark of a gap stands."""
    box = trace.box
    height = min(rows, box.height)
    return Box(left, box.top + box.height - height, width, height)
