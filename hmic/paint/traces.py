"""Lines of strip charts as pieces to paint."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image

from hmic.paint.operations import LIVE, Box, Trace

# Columns are painted in pieces about this wide, so that the levels of a steep line stay small.
_PIECE = 32


@dataclass(frozen=True)
class Line:
    """A trace at a moment: levels at panel pixels, and gaps as (left, width, state)."""

    pieces: tuple[tuple[int, int, Image.Image], ...]
    gaps: tuple[tuple[int, int, int], ...]


def columns_of(trace: Trace, raw: tuple[int, ...]) -> tuple[int, ...]:
    """The raw values of the columns, the oldest first; the head is live."""
    values = raw[trace.first : trace.first + trace.columns]
    oldest = (raw[trace.head] - LIVE + 1) % trace.columns
    return values[oldest:] + values[:oldest]


def line(trace: Trace, columns: tuple[int, ...]) -> Line:
    """The pieces and gaps for the raw values of the columns."""
    box = trace.box
    width = box.width // trace.columns
    spans = _spans(trace, columns)
    together = max(1, _PIECE // width)
    pieces = []
    for first in range(0, trace.columns, together):
        part = spans[first : first + together]
        if any(part):
            left = box.left + first * width
            pieces.append(_piece(part, width, left, box.top + box.height, trace.thickness))
    gaps: list[tuple[int, int, int]] = []
    for number, value in enumerate(columns):
        left = box.left + number * width
        if value >= LIVE:
            continue
        if gaps and gaps[-1][0] + gaps[-1][1] == left and gaps[-1][2] == value:
            gaps[-1] = (gaps[-1][0], gaps[-1][1] + width, value)
        else:
            gaps.append((left, width, value))
    return Line(tuple(pieces), tuple(gaps))


Span = tuple[int, int, int]


def _spans(trace: Trace, columns: tuple[int, ...]) -> list[Span | None]:
    """For each column the lower edge of its line, and the lower and upper edge of its left part,
    in pixels from the bottom of the box; None for a gap."""
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
    return spans


def _piece(
    spans: list[Span | None], width: int, left: int, bottom: int, thickness: int
) -> tuple[int, int, Image.Image]:
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
    return left, bottom - high, image.transpose(Image.Transpose.TRANSPOSE)


def gap_box(trace: Trace, left: int, width: int, rows: int) -> Box:
    """Where the mark of a gap stands."""
    box = trace.box
    height = min(rows, box.height)
    return Box(left, box.top + box.height - height, width, height)
