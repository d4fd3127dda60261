"""reading: a number with its unit, in figures that do not jump."""

from __future__ import annotations

from hmic.arrange.canvas import Alignment, Canvas, aligned, alignment, phrase_text
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import (
    Number,
    captioned,
    colouring,
    fit_width,
    longest,
    measured,
    number_left,
    number_size,
    place_number,
    under_caption,
)
from hmic.diagnostics import DesignError, lacking
from hmic.language.syntax import Expression, PhraseKind, Widget, phrase_kinds
from hmic.paint.operations import Box

SUBJECT = SubjectKind.VALUE
PHRASES = phrase_kinds("format text called colour aligned above below within")


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int, int]:
    """As large as the longest number that the range can need, and its caption."""
    return under_caption(widget, number_size(_number(widget, canvas), alignment(widget)), canvas)


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Caption above; figures and unit on one line below it."""
    assert widget.subject is not None
    number = _number(widget, canvas)
    put(widget, widget.subject, number, captioned(widget, box, canvas), canvas)


def _number(widget: Widget, canvas: Canvas) -> Number:
    assert widget.subject is not None
    phrase = widget.one(PhraseKind.FORMAT)
    if phrase is None:
        remedy = 'add a format: as "0 km/h", as "0.0 V"'
        raise DesignError([lacking("A321", "the reading has no format", widget.head, remedy)])
    height = canvas.capital_height(widget)
    return measured(widget.subject, phrase_text(phrase), phrase.span, height, canvas)


def put(widget: Widget, subject: Expression, number: Number, place: Box, canvas: Canvas) -> None:
    """The figures of ``subject``, as the widget aligns and colours them."""
    fit_width(number, place.width, f'the reading "{longest(number)}"', widget.head, canvas)
    what = f'the reading "{longest(number)}"'
    canvas.fit(number.tall, place.height, what, widget.head, height=True, letters=number.height)
    align = alignment(widget)
    if align == Alignment.CENTRE:
        left = number_left(number, place, place)
    else:
        left = place.left + aligned(number.width, place.width, align)
    ink = colouring(widget, canvas.number(subject), "ink", canvas)
    place_number(number, (left, number.standing(place)), ink, widget.head, canvas)
