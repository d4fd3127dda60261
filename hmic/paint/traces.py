"""Lines of strip charts as pieces to paint."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image

from hmic.paint.operations import LIVE, Box, Trace

# Columns are painted in pieces about this wide, so that the levels of a steep line stay small.
_PIECE = 32

# For each column the lower edge of its line, and the lower and upper edge of its left part, in
# pixels from the bottom of the box; None for a gap.
Span = tuple[int, int, int]
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
    spans = _spans(trace, columns)
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
            top = max(span[2] for span in part if span is not None)
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


def _spans(trace: Trace, columns: tuple[int, ...]) -> Spans:
    room, last = trace.box.height - trace.thickness, max(1, trace.levels - 1)
    spans: list[Span | None] = []
    before: int | None = None
    for value in columns:
        if value < LIVE:
            before = None
            spans.append(None)
            continue
        height = (value - LIVE) * room // last
        joined = height if before is None else before
        spans.append((height, min(height, joined), max(height, joined) + trace.thickness))
        before = height
    return tuple(spans)


def _piece(spans: Spans, width: int, thickness: int) -> Image.Image:
    """Levels from the highest edge of these columns down to the lowest."""
    held = [span for span in spans if span is not None]
    low, high = min(span[1] for span in held), max(span[2] for span in held)
    size = high - low
    clear, full = bytes(size), b"\xff" * size
    joint = min(thickness, width)
    upright = []
    for span in spans:
        if span is None:
            upright.append(clear * width)
            continue
        height, below, above = span
        upright.append((clear[: high - above] + full[: above - below] + clear[: below - low]) * joint)
        rest = clear[: high - height - thickness] + full[:thickness] + clear[: height - low]
        upright.append(rest * (width - joint))
    # Built column by column, then turned over.
    image = Image.frombytes("L", (size, width * len(spans)), b"".join(upright))
    return image.transpose(Image.Transpose.TRANSPOSE)


def gap_box(trace: Trace, left: int, width: int, rows: int) -> Box:
    """Where the mark of a gap stands."""
    box = trace.box
    height = min(rows, box.height)
    return Box(left, box.top + box.height - height, width, height)
