"""A number that stands by what it shows: at the left, or in the middle, for each count of its figures.

Other numbers keep their last figure in place, whatever they show. One that was asked to stand by the figures
in sight has operations for each count of them, of which one is painted at a time; from one value to the
next of as many figures nothing moves.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from hmic.arrange.canvas import Alignment, Canvas, aligned
from hmic.arrange.formats import Format, step_size
from hmic.arrange.widgets.common import Number, figures_width, number_left, place_number
from hmic.diagnostics import Span
from hmic.model.channels import LIVE, MOST_STEPS, Channel, Scaled
from hmic.paint.operations import Box, Ink, When


@dataclass(frozen=True)
class Count:
    """The shown integers ``first`` to ``last``, all of so many figures and with a ``sign`` or without."""

    first: int
    last: int
    places: int
    sign: bool


def counts(form: Format, first: int, last: int) -> Iterator[Count]:
    """The integers ``first`` to ``last`` in runs that look alike, each once."""
    under, places = 0, form.least
    while under <= max(abs(first), abs(last)):
        until = 60 * 10 ** (places - 2) if form.sixties else 10**places
        runs = [(1 - until, -max(under, 1), True), (under, until - 1, form.plus)]
        if form.plus and under == 0:
            runs = [runs[0], (0, 0, False), (1, until - 1, True)]
        for low, high, sign in runs:
            low, high = max(low, first), min(high, last)
            if low <= high:
                yield Count(low, high, places, sign)
        under, places = until, places + 1


def place_by_count(
    number: Number, place: Box, align: Alignment, *, top: int, ink: Ink, span: Span, canvas: Canvas
) -> None:
    """Figures and unit in ``place``, at the left with their sign, or in the middle without it: there it hangs
    out, so that nothing moves at zero. In doubt, and for a number in two parts, they stand as all others."""
    usual = number_left(number, place, place)
    if number.count > MOST_STEPS:
        place_number(number, (usual, top), ink, span, canvas)
        return
    steps = Scaled(number.offset * step_size(number.form), step_size(number.form), number.count)
    channel = canvas.channel(Channel(number.value, steps))
    place_number(number, (usual, top), ink, span, canvas, when=When(channel, 0, LIVE - 1), reading=True)
    for count in counts(number.form, number.offset, number.offset + number.count - 1):
        own = _narrowed(number, count)
        left = place.left
        if align != Alignment.LEFT:
            plain = number_width(number, count.places, sign=False)
            right = place.left + aligned(plain, place.width) + plain
            left = max(place.left, min(right, place.left + place.width) - own.width)
        when = When(channel, LIVE + count.first - number.offset, LIVE + count.last - number.offset)
        place_number(own, (left, top), ink, span, canvas, when=when, reading=True)


def number_width(number: Number, places: int, *, sign: bool) -> int:
    """The room of so many figures with the unit."""
    return figures_width(number.form, number.face, number.small, places, sign) + number.unit.width


def _narrowed(number: Number, count: Count) -> Number:
    """The number with room for one count of figures."""
    width = number_width(number, count.places, sign=count.sign)
    return replace(number, places=count.places, width=width, figures_width=width - number.unit.width)
