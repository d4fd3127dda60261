"""chart: the recent past of a few values, each on its own scale, newest at the right."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from hmic.arrange.canvas import Canvas, phrase_text, scale
from hmic.arrange.fitting import millimetres
from hmic.arrange.formats import figure
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import captioned
from hmic.arrange.widgets.marks import round_above
from hmic.diagnostics import DesignError, Span, error, lacking
from hmic.language.syntax import Phrase, PhraseKind, Widget, phrase_kinds
from hmic.model.builtin import NOW
from hmic.model.channels import Channel, Kept, RingHead, Scaled
from hmic.paint.operations import Box, Fill, Ink, Trace

SUBJECT = SubjectKind.NONE
PHRASES = phrase_kinds("over marks unmarked called")
TRACE_PHRASES = phrase_kinds("scale colour called")
COLUMN_MM = 0.5
LINE_MM = 0.5
MARK_MM = 1.5
LEGEND_ARCMIN = 14
MOST_TRACES = 4
MOST_COLUMNS = 400
MOST_LINES = 7
BETWEEN_MM = 5.0
SAMPLE_MM = 3.0
FIGURES_MM = 1.2
AFTER_UNIT_MM = 2.0
# Least distance of lines and of the labels below, in capital heights; most of the width for figures.
LINES_APART = 1.6
LABELS_APART = 1
MOST_BESIDE = 0.2
# Marks of time of which nothing is said (common practice, no source).
MOST_TIMES = 6
LONGEST_IN_SECONDS = 10


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """A caption, a legend with each trace's scale, then the field with a line every ``marks`` and at
    round values of one trace's scale."""
    over = _over(widget)
    box = captioned(widget, box, canvas)
    seconds = canvas.constant(over.values[0], "s")
    legend = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    head = legend.line_height + canvas.px(1.5)
    foot = legend.line_height + canvas.px(0.5)
    high = box.height - head - foot
    why = "legend and times take the rest"
    canvas.fit(canvas.px(12), high, "the chart's field", widget.head, True, least=True, why=why)
    lines = _lines(widget, high, canvas)
    entries = _entries(widget, canvas)
    beside = _room(lines, entries, box.width, canvas)
    width = max(canvas.px(COLUMN_MM), -(-(box.width - beside) // MOST_COLUMNS))
    columns = (box.width - beside) // width
    field = Box(box.left + box.width - columns * width, box.top + head, columns * width, high)
    canvas.operations.append(Fill(field, canvas.artwork.ink(canvas.trough)))
    _marks(widget, field, seconds, canvas)
    _draw_lines(widget, lines, field, beside > 0, canvas)
    left = _unit(widget, lines, box, beside, canvas)
    _legend(widget, entries, Box(left, box.top, box.left + box.width - left, head), canvas)
    ring = canvas.channel(Channel(None, RingHead(columns, seconds / columns)))
    for child in widget.children:
        _trace(child, field, (columns, seconds / columns, ring), canvas)


def _over(widget: Widget) -> Phrase:
    """The time across. Raises ``DesignError`` A373 without it, or without traces or with too many."""
    over = widget.one(PhraseKind.OVER)
    if over is None or not widget.children:
        message = "the chart needs a time and at least one trace"
        remedy = "write chart over 600 s, and below it lines like trace pack.voltage from 250 V to 400 V"
        raise DesignError([lacking("A373", message, widget.head, remedy)])
    if len(widget.children) > MOST_TRACES:
        message = f"{len(widget.children)} traces cross each other beyond reading"
        raise DesignError([error("A373", message, widget.head, f"show at most {MOST_TRACES} in one chart")])
    return over


class _Lines(NamedTuple):
    """The round values at which lines cross the field, of the scale ``low`` to ``high`` of a trace."""

    trace: Widget
    low: float
    high: float
    unit: str
    values: tuple[float, ...]


def _lines(widget: Widget, height: int, canvas: Canvas) -> _Lines:
    """Lines of the first trace whose scale has zero inside, or of the first."""
    scales = []
    for child in widget.children:
        if child.subject is None:
            raise _no_trace(child.head)
        value = canvas.shown(child.subject)
        scales.append((child, *scale(child, value, canvas), value.unit.spelling if value.unit else ""))
    trace, low, high, unit = next((found for found in scales if found[1] < 0 < found[2]), scales[0])
    apart = LINES_APART * canvas.small(LEGEND_ARCMIN)
    most = max(2, min(MOST_LINES, int(height / apart) + 1))
    step = _step(low, high, most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return _Lines(trace, low, high, unit, tuple(round(i * step, 9) for i in range(first, last + 1)))


def _step(low: float, high: float, most: int) -> float:
    """The least of 1, 2 and 5 times a power of ten that has at most so many multiples in a scale."""
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    steps = (factor * power for factor in (1, 2, 5, 10, 20, 50, 100))
    return next(
        step for step in steps if math.floor(high / step + 1e-9) - math.ceil(low / step - 1e-9) + 1 <= most
    )


def _room(lines: _Lines, entries: list[str], there: int, canvas: Canvas) -> int:
    """How wide the figures beside the lines are, with the unit above them; 0 where they would take
    too much of the chart, or of the legend."""
    face = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    texts = [figure(value, canvas.design.locale) for value in lines.values]
    width = max(face.measure(text) for text in [*texts, lines.unit]) + canvas.px(FIGURES_MM)
    legend = width + canvas.px(AFTER_UNIT_MM) + sum(_legend_widths(entries, canvas))
    crowded = len(entries) > 1 and legend > there
    return 0 if crowded or width > there * MOST_BESIDE else width


def _unit(widget: Widget, lines: _Lines, box: Box, beside: int, canvas: Canvas) -> int:
    """The unit of the figures above them, where traces could differ in it. Gives where the legend
    starts."""
    if not beside or len(widget.children) < 2 or not lines.unit:
        return box.left
    face = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    left = box.left + beside - canvas.px(FIGURES_MM) - face.measure(lines.unit)
    top = box.top + face.ascent - face.capital_height
    canvas.text(lines.unit, face, (left, top), _of_figures(widget, lines, canvas), widget.head)
    return box.left + beside + canvas.px(AFTER_UNIT_MM)


def _of_figures(widget: Widget, lines: _Lines, canvas: Canvas) -> Ink:
    """The colour of the figures: it says whose they are, where there are several traces."""
    return _ink(lines.trace, canvas) if len(widget.children) > 1 else canvas.artwork.ink("quiet")


def _draw_lines(widget: Widget, lines: _Lines, field: Box, figures: bool, canvas: Canvas) -> None:
    """A line at each round value, the one at zero stronger; the figures in the colour of their trace where
    there are several."""
    line, quiet = canvas.artwork.ink("line"), canvas.artwork.ink("quiet")
    of = _of_figures(widget, lines, canvas)
    face = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    thickness = canvas.px(LINE_MM)
    for value in lines.values:
        thick = max(1, thickness - 1) if value == 0 else 1
        part = (lines.high - value) / (lines.high - lines.low)
        # Where the middle of a trace runs at this value.
        middle = field.top + round(part * (field.height - thickness)) + thickness // 2
        top = min(max(middle - thick // 2, field.top), field.top + field.height - thick)
        ink = quiet if value == 0 else line
        canvas.operations.append(Fill(Box(field.left, top, field.width, thick), ink))
        if figures:
            text = figure(value, canvas.design.locale)
            left = field.left - canvas.px(FIGURES_MM) - face.measure(text)
            canvas.text(text, face, (left, middle - face.capital_height // 2), of, widget.head)


def _marks(widget: Widget, field: Box, seconds: float, canvas: Canvas) -> None:
    phrase = widget.one(PhraseKind.MARKS)
    if widget.one(PhraseKind.UNMARKED) is not None:
        return
    every = canvas.constant(phrase.values[0], "s") if phrase is not None else _usual_time(seconds)
    if phrase is not None and not seconds / 60 <= every <= seconds:
        message = f"marks every {every:g} s over {seconds:g} s make no readable scale"
        raise DesignError([error("A325", message, phrase.span, f"marks every {seconds / 10:g} s")])
    face = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    line, quiet = canvas.artwork.ink("line"), canvas.artwork.ink("quiet")
    right = field.left + field.width
    ages = [number * every for number in range(int(seconds / every + 1e-9) + 1)]
    places = []
    for age in ages:
        x = min(max(right - round(field.width * age / seconds), field.left), right - 1)
        text = _age(age, canvas)
        width = face.measure(text)
        # The first and the last are moved inwards.
        places.append(_Time(x, text, min(max(x - width // 2, field.left), right - width), width))
    bottom = field.top + field.height
    named = _apart(places, LABELS_APART * face.capital_height)
    for time in places:
        # A line at each time that is named, a short mark at the others.
        high = field.height if time in named else min(canvas.px(MARK_MM), field.height)
        canvas.operations.append(Fill(Box(time.at, bottom - high, 1, high), line))
    for time in named:
        canvas.text(time.text, face, (time.left, bottom + canvas.px(1.2)), quiet, widget.head)


class _Time(NamedTuple):
    """A time and where it is marked, with the place of its label."""

    at: int
    text: str
    left: int
    width: int


def _usual_time(seconds: float) -> float:
    """Between marks of which nothing is said: 1, 2 or 5 times a power of ten, of seconds or of minutes."""
    least = seconds / MOST_TIMES
    return round_above(least) if least <= LONGEST_IN_SECONDS else 60 * round_above(least / 60)


def _apart(times: list[_Time], gap: int) -> list[_Time]:
    """Every time, or every second, third ... so that all labels keep a gap; the newest at the least. The
    oldest is left out where it alone, moved inwards, comes too near."""
    for stride in range(1, len(times)):
        chosen = times[::stride]
        clear = [older.left + older.width + gap <= newer.left for newer, older in pairwise(chosen)]
        if all(clear[:-1]) and len(clear) > 1 and not clear[-1]:
            return chosen[:-1]
        if all(clear):
            return chosen
    return times[:1]


def _age(seconds: float, canvas: Canvas) -> str:
    if seconds == 0:
        return canvas.said(NOW)
    if seconds >= 60 and seconds % 60 == 0:
        return f"−{seconds / 60:g} min"
    return f"−{seconds:g} s"


def _no_trace(span: Span) -> DesignError:
    remedy = 'write trace pack.voltage from 250 V to 400 V, colour accent, called "Battery"'
    return DesignError([error("A302", "a trace takes a scale, a colour and a name", span, remedy)])


def _entries(widget: Widget, canvas: Canvas) -> list[str]:
    """What the legend says of each trace: its caption and its scale."""
    entries = []
    for child in widget.children:
        wrong = [phrase for phrase in child.phrases if phrase.kind not in TRACE_PHRASES]
        if wrong or child.subject is None:
            raise _no_trace(wrong[0].span if wrong else child.head)
        value = canvas.shown(child.subject)
        ends = [figure(end, canvas.design.locale) for end in scale(child, value, canvas)]
        unit = value.unit.spelling if value.unit else ""
        entries.append(f"{phrase_text(child.one(PhraseKind.CALLED))}  {ends[0]} … {ends[1]} {unit}".strip())
    return entries


def _legend_widths(entries: list[str], canvas: Canvas) -> list[int]:
    """What each entry takes of the legend, with its sample and the space before the next."""
    face = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    sample = canvas.px(SAMPLE_MM) + canvas.px(1)
    between = [canvas.px(BETWEEN_MM)] * (len(entries) - 1) + [0]
    return [sample + face.measure(text) + gap for text, gap in zip(entries, between, strict=True)]


def _legend(widget: Widget, entries: list[str], place: Box, canvas: Canvas) -> None:
    """A piece of each trace's line, and what it is."""
    widths = _legend_widths(entries, canvas)
    parts = [
        f'{millimetres(width, canvas.design.panel)} for "{text}"'
        for text, width in zip(entries, widths, strict=True)
    ]
    ways = (
        ("shorten the captions of its traces", "show fewer traces")
        if len(entries) > 1
        else ("shorten its caption",)
    )
    canvas.fit(sum(widths), place.width, "the chart's legend", widget.head, why=", ".join(parts), ways=ways)
    face = canvas.face("text", canvas.small(LEGEND_ARCMIN))
    left, thickness = place.left, canvas.px(LINE_MM)
    for child, text, width in zip(widget.children, entries, widths, strict=True):
        middle = place.top + face.ascent - face.capital_height // 2
        sample = Box(left, middle, canvas.px(SAMPLE_MM), thickness)
        canvas.operations.append(Fill(sample, _ink(child, canvas)))
        at = (left + canvas.px(SAMPLE_MM) + canvas.px(1), place.top + face.ascent - face.capital_height)
        canvas.text(text, face, at, canvas.artwork.ink("ink"), child.head)
        left += width


def _ink(child: Widget, canvas: Canvas) -> Ink:
    return canvas.artwork.ink(canvas.role(child.one(PhraseKind.COLOUR), "accent"))


def _trace(child: Widget, field: Box, ring: tuple[int, float, int], canvas: Canvas) -> None:
    """One line: a channel for each column, and the ring that turns through them."""
    assert child.subject is not None
    value = canvas.shown(child.subject)
    low, high = scale(child, value, canvas)
    columns, period, head = ring
    thickness = canvas.px(LINE_MM)
    levels = field.height - thickness + 1
    steps = Scaled(low, (high - low) / (levels - 1), levels)
    slots = [Channel(value, steps, kept=Kept(columns, period, slot)) for slot in range(columns)]
    first = canvas.artwork.channels_in_row(slots)
    canvas.operations.append(Trace(field, first, columns, head, levels, thickness, _ink(child, canvas)))
