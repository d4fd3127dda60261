"""chart: the recent past of a few values, each on its own scale, newest at the right."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, phrase_text, scale
from hmic.arrange.formats import figure
from hmic.arrange.widgets.common import captioned
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Widget
from hmic.model.builtin import NOW
from hmic.model.channels import Channel, Kept, RingHead, Scaled
from hmic.paint.operations import Box, Fill, Trace

SUBJECT = "none"
PHRASES = frozenset({"over", "marks", "called"})
TRACE_PHRASES = frozenset({"scale", "colour", "called"})
COLUMN_MM = 0.5
LINE_MM = 0.5
LEGEND_ARCMIN = 14
MOST_TRACES = 4
MOST_COLUMNS = 400


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """A caption, a legend with each trace's scale, then the field with a line every ``marks``."""
    over = widget.one("over")
    if over is None or not widget.children:
        remedy = "write chart over 600 s, and below it lines like trace pack.voltage from 250 V to 400 V"
        raise DesignError(
            [error("A373", "the chart needs a time and at least one trace", widget.head, remedy)]
        )
    if len(widget.children) > MOST_TRACES:
        message = f"{len(widget.children)} traces cross each other beyond reading"
        raise DesignError([error("A373", message, widget.head, f"show at most {MOST_TRACES} in one chart")])
    box = captioned(widget, box, canvas)
    seconds = canvas.constant(over.values[0], "s")
    legend = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    head = legend.line_height + canvas.px(1.5)
    foot = legend.line_height + canvas.px(0.5)
    width = max(canvas.px(COLUMN_MM), -(-box.width // MOST_COLUMNS))
    columns = box.width // width
    field = Box(box.left, box.top + head, columns * width, box.height - head - foot)
    canvas.fit(canvas.px(12), field.height, "the chart's field", widget.head, height=True)
    canvas.operations.append(Fill(field, canvas.artwork.ink("surface")))
    for quarter in range(5):
        y = field.top + min(field.height * quarter // 4, field.height - 1)
        canvas.operations.append(Fill(Box(field.left, y, field.width, 1), canvas.artwork.ink("line")))
    _marks(widget, field, seconds, canvas)
    left = field.left
    ring = canvas.channel(Channel(None, RingHead(columns, seconds / columns)))
    for child in widget.children:
        left = _trace(child, (left, box.top), field, (columns, seconds / columns, ring), canvas)
    canvas.fit(left - field.left, field.width, "the chart's legend", widget.head)


def _marks(widget: Widget, field: Box, seconds: float, canvas: Canvas) -> None:
    phrase = widget.one("marks")
    if phrase is None:
        return
    every = canvas.constant(phrase.values[0], "s")
    if not seconds / 60 <= every <= seconds:
        message = f"marks every {every:g} s over {seconds:g} s make no readable scale"
        raise DesignError([error("A325", message, phrase.span, f"marks every {seconds / 10:g} s")])
    face = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    line, quiet = canvas.artwork.ink("line"), canvas.artwork.ink("quiet")
    count = int(seconds / every + 1e-9)
    widest = max(face.measure(_age(number * every, canvas)) for number in range(count + 1))
    # Label every mark, or every second, third ... so that none touches the next.
    stride = -(-(widest + canvas.px(3)) * count // field.width) if count else 1
    spoken_from = field.left + field.width + canvas.px(2)
    for number in range(count + 1):
        x = field.left + field.width - round(field.width * number * every / seconds)
        x = min(max(x, field.left), field.left + field.width - 1)
        canvas.operations.append(Fill(Box(x, field.top, 1, field.height), line))
        if number % stride == 0:
            text = _age(number * every, canvas)
            width = face.measure(text)
            left = min(max(x - width // 2, field.left), field.left + field.width - width)
            top = field.top + field.height + canvas.px(1.2)
            # The oldest label is moved inwards and may then meet its neighbour.
            if left + width + canvas.px(2) <= spoken_from:
                canvas.text(text, face, (left, top), quiet, widget.head)
                spoken_from = left


def _age(seconds: float, canvas: Canvas) -> str:
    if seconds == 0:
        return canvas.said(NOW)
    if seconds >= 60 and seconds % 60 == 0:
        return f"−{seconds / 60:g} min"
    return f"−{seconds:g} s"


def _trace(
    child: Widget, at: tuple[int, int], field: Box, ring: tuple[int, float, int], canvas: Canvas
) -> int:
    """Draws one trace and its place in the legend; gives where the next one starts."""
    wrong = [phrase for phrase in child.phrases if phrase.kind not in TRACE_PHRASES]
    if wrong or child.subject is None:
        span = wrong[0].span if wrong else child.head
        remedy = 'write trace pack.voltage from 250 V to 400 V, colour accent, called "Battery"'
        raise DesignError([error("A302", "a trace takes a scale, a colour and a name", span, remedy)])
    value = canvas.shown(child.subject)
    low, high = scale(child, value, canvas)
    ink = canvas.artwork.ink(canvas.role(child.one("colour"), "accent"))
    columns, period, head = ring
    thickness = canvas.px(LINE_MM)
    levels = field.height - thickness + 1
    steps = Scaled(low, (high - low) / (levels - 1), levels)
    slots = [Channel(value, steps, kept=Kept(columns, period, slot)) for slot in range(columns)]
    first = canvas.artwork.channels_in_row(slots)
    canvas.operations.append(Trace(field, first, columns, head, levels, thickness, ink))
    face = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    name = phrase_text(child.one("called"))
    unit = value.unit.spelling if value.unit else ""
    ends = [figure(end, canvas.design.locale) for end in (low, high)]
    text = f"{name}  {ends[0]} … {ends[1]} {unit}".strip()
    left, top = at
    sample = canvas.px(3)
    middle = top + face.ascent - face.capital_height // 2
    canvas.operations.append(Fill(Box(left, middle, sample, thickness), ink))
    left += sample + canvas.px(1)
    canvas.text(
        text, face, (left, top + face.ascent - face.capital_height), canvas.artwork.ink("ink"), child.head
    )
    return left + face.measure(text) + canvas.px(5)
