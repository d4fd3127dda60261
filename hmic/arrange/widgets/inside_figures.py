"""Marks and figures inside a bar: dark where the filling lies beneath them, light where it does not.

No one colour of a text is read on both. So the figures are shapes that the value uncovers as it does the
filling, and others that it covers: on each pixel one of the two is painted.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from hmic.arrange.canvas import Canvas
from hmic.arrange.widgets.marks import mark_face, mark_text
from hmic.arrange.widgets.straight_scale import TICK_GAP_MM, TICK_MM, Straight, figured_marks
from hmic.diagnostics import Span
from hmic.model.channels import LIVE, MOST_STEPS
from hmic.paint.operations import Axis, Box, Mask, Reveal, When

Pixels = bytearray


def draw(scale: Straight, fill: Reveal, form: Mask | None, span: Span, canvas: Canvas) -> None:
    """On the filling of a bar, within its ``form``. They go while its value is in doubt, for the hatch lies
    there then."""
    box, axis = fill.box, fill.axis
    pixels = _marks(scale, box, span, canvas)
    if form is not None:
        pixels = Pixels(map(min, pixels, form.coverage))
    length = box.height if scale.upright else box.width
    live = When(fill.channel, LIVE, LIVE + MOST_STEPS)

    def put(zero: int, part: range, role: str) -> None:
        kept = _within(pixels, box, axis, part)
        if any(kept):
            mask = canvas.artwork.mask(Mask(box.width, box.height, bytes(kept)))
            ink = canvas.artwork.ink(role)
            canvas.operations.append(Reveal(box, fill.channel, axis, zero, mask, ink, when=live))

    put(fill.zero, range(length), "ground")
    # What the filling leaves: of the part above zero all beyond the value, of that below all short of it.
    put(length, range(fill.zero, length), "ink")
    put(0, range(fill.zero), "ink")


def _marks(scale: Straight, box: Box, span: Span, canvas: Canvas) -> Pixels:
    """The coverage of marks and figures on the bar."""
    pixels = Pixels(box.width * box.height)
    face = mark_face(canvas)
    tick, gap, thin = canvas.px(TICK_MM), canvas.px(TICK_GAP_MM), max(1, canvas.px(0.2))
    length = box.height if scale.upright else box.width
    figured = figured_marks(scale, length, canvas)
    for mark in scale.marks.values:
        at = min(scale.place(mark, length), length - thin)
        text = mark_text(mark, canvas)
        wide = face.measure(text)
        if scale.upright:
            _stamp(pixels, box, Mask(tick, thin, bytes([15]) * (tick * thin)), (0, at))
            pen = (tick + gap, at - face.capital_height // 2)
            room = (pen[1] - gap, pen[1] + face.capital_height + gap)
        else:
            _stamp(pixels, box, Mask(thin, tick, bytes([15]) * (tick * thin)), (at, box.height - tick))
            pen = (at - wide // 2, (box.height - tick - face.capital_height) // 2)
            room = (pen[0] - gap, pen[0] + wide + gap)
        # Those at the very ends have no room in the bar.
        if mark in figured and room[0] >= 0 and room[1] <= length:
            for glyph, across, down in face.glyphs(text):
                _stamp(pixels, box, glyph, (pen[0] + across, pen[1] + down))
            whole = Box(box.left + pen[0], box.top + pen[1], wide, face.capital_height)
            canvas.note_text(span, text, face, whole, False)
    return pixels


def _stamp(pixels: Pixels, box: Box, mask: Mask, at: tuple[int, int]) -> None:
    for row in range(mask.height):
        y = at[1] + row
        if not 0 <= y < box.height:
            continue
        for column in range(mask.width):
            x = at[0] + column
            if 0 <= x < box.width:
                place = y * box.width + x
                pixels[place] = max(pixels[place], mask.coverage[row * mask.width + column])


def _within(pixels: Sequence[int], box: Box, axis: Axis, part: range) -> Iterable[int]:
    """The pixels in a part of the way along the axis, 0 elsewhere."""

    def along(at: int) -> int:
        y, x = divmod(at, box.width)
        return {
            Axis.RIGHTWARD: x,
            Axis.LEFTWARD: box.width - 1 - x,
            Axis.DOWNWARD: y,
            Axis.UPWARD: box.height - 1 - y,
        }[axis]

    return [value if value and along(at) in part else 0 for at, value in enumerate(pixels)]
