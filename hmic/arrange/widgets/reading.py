"""reading: a number with its unit, in figures that do not jump."""

from __future__ import annotations

from hmic.arrange.canvas import Alignment, Canvas, Line, alignment, phrase_text
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import (
    Number,
    colouring,
    fit_width,
    line_place,
    longest,
    measured,
    number_left,
    number_size,
    place_number,
    under_caption,
)
from hmic.arrange.widgets.counts import place_by_count
from hmic.diagnostics import DesignError, lacking
from hmic.language.syntax import Expression, PhraseKind, Widget, phrase_kinds
from hmic.paint.operations import Box

SUBJECT = SubjectKind.VALUE
PHRASES = phrase_kinds("format text font unit decimals called colour aligned above below within")


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int, int]:
    """As large as the longest number that the range can need, and its caption."""
    return under_caption(widget, number_size(_number(widget, canvas), alignment(widget)), canvas)


def draw(widget: Widget, box: Box, canvas: Canvas) -> Line:
    """Caption above; figures and unit on one line below it."""
    assert widget.subject is not None
    number = _number(widget, canvas)
    return put(widget, widget.subject, number, box, canvas)


def _number(widget: Widget, canvas: Canvas) -> Number:
    assert widget.subject is not None
    phrase = widget.one(PhraseKind.FORMAT)
    if phrase is None:
        remedy = 'add a format: as "0 km/h", as "0.0 V"'
        raise DesignError([lacking("A321", "the reading has no format", widget.head, remedy)])
    height = canvas.capital_height(widget)
    return measured(widget.subject, phrase_text(phrase), phrase.span, height, canvas, widget=widget)


def put(widget: Widget, subject: Expression, number: Number, box: Box, canvas: Canvas) -> Line:
    """The figures of ``subject``, as the widget aligns and colours them."""
    what = f'the reading "{longest(number)}"'
    fit_width(number, box.width, what, widget.head, canvas)
    reaches = number.above, number.height, number.below
    there = line_place(widget, box, canvas, reaches, what, letters=number.height)
    align, top, place = alignment(widget), there.top, there.place
    ink = colouring(widget, canvas.number(subject), "ink", canvas)
    if widget.one(PhraseKind.ALIGNED) is not None and align != Alignment.RIGHT:
        place_by_count(number, place, align, top=top, ink=ink, span=widget.head, canvas=canvas)
    else:
        left = number_left(number, place, place)
        if align == Alignment.RIGHT:
            left = place.left + place.width - number.width
        place_number(number, (left, top), ink, widget.head, canvas)
    return there.line(number.height, number.below, box, canvas)
