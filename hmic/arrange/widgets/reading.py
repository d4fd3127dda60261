"""reading: a number with its unit, in figures that do not jump."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, aligned, alignment, phrase_text
from hmic.arrange.widgets.common import (
    captioned,
    colouring,
    fit_width,
    longest,
    measured,
    number_left,
    place_number,
)
from hmic.diagnostics import DesignError, lacking
from hmic.language.syntax import Widget
from hmic.paint.operations import Box

SUBJECT = "value"
PHRASES = frozenset({"format", "text", "called", "colour", "aligned", "above", "below", "within"})


def draw(widget: Widget, box: Box, canvas: Canvas, with_unit: bool = True) -> None:
    """Caption above; figures and unit on one line below it."""
    assert widget.subject is not None
    phrase = widget.one("format")
    if phrase is None:
        remedy = 'add a format: as "0 km/h", as "0.0 V"'
        raise DesignError([lacking("A321", "the reading has no format", widget.head, remedy)])
    place = captioned(widget, box, canvas)
    number = measured(
        widget.subject, phrase_text(phrase), phrase.span, canvas.capital_height(widget), canvas, with_unit
    )
    fit_width(number, place.width, f'the reading "{longest(number)}"', widget.head, canvas)
    what = f'the reading "{longest(number)}"'
    canvas.fit(number.tall, place.height, what, widget.head, height=True, letters=number.height)
    align = alignment(widget)
    if align == "centre":
        left = number_left(number, place, place)
    else:
        left = place.left + aligned(number.width, place.width, align)
    ink = colouring(widget, canvas.number(widget.subject), "ink", canvas)
    place_number(number, (left, number.standing(place)), ink, widget.head, canvas)
