"""Marks along a scale, and figures at as many of them as have room."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from hmic.arrange.canvas import Canvas
from hmic.arrange.formats import figure
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import PhraseKind, Widget
from hmic.model.expressions import Typed
from hmic.paint.fonts import Face

MARK_ARCMIN = 14
MOST_MARKS = 60
MOST_USUAL = 11
"""Marks where a sentence says nothing of them (common practice, no source)."""
FINE_MARKS = 10
"""The most fine marks for one mark."""
STRIDES = (1, 2, 5, 10, 20, 50)
"""Every mark has figures, or every second, fifth ...: what stays is round where ``every`` is."""
APART = 0.4
"""Least distance of two marks' figures in capital heights (common practice, no source)."""


class Marks(NamedTuple):
    """The values of the marks on a scale from ``low`` to ``high``, multiples of ``every``."""

    values: tuple[float, ...]
    every: float
    low: float
    high: float

    def choices(self) -> list[tuple[float, ...]]:
        """Which of the marks may have figures, the most first: two at least, of one mark that one, and
        zero wherever it is on the scale."""
        chosen = [
            tuple(value for value in self.values if round(value / self.every) % stride == 0)
            for stride in STRIDES
        ]
        return [each for each in dict.fromkeys(chosen) if len(each) >= min(2, len(self.values)) > 0]


def marks_of(widget: Widget, value: Typed, low: float, high: float, canvas: Canvas) -> Marks:
    """What the ``marks every`` phrase asks for, within the scale; no marks without it. Raises
    ``DesignError`` A325."""
    phrase = widget.one(PhraseKind.MARKS)
    if phrase is None:
        return Marks((), 1.0, low, high)
    every = canvas.step(phrase.values[0], value)
    if every <= 0 or (high - low) / every > MOST_MARKS:
        message = f"marks every {every:g} over {low:g} to {high:g} make no readable scale"
        remedy = (
            f"write marks every {(high - low) / 5:g} {value.unit.spelling if value.unit else ''}".rstrip()
        )
        raise DesignError([error("A325", message, phrase.span, remedy)])
    if value.unit is not None and value.unit.spelling in canvas.design.locale.units.values():
        every = _round(every)
    return _marks(every, low, high)


def is_marked(widget: Widget) -> bool:
    """Whether a sentence says what marks there are, or that there are none."""
    return widget.one(PhraseKind.MARKS) is not None or widget.one(PhraseKind.UNMARKED) is not None


def usual_marks(low: float, high: float) -> Iterator[Marks]:
    """Marks at multiples of 1, 2 or 5 times a power of ten, for a scale of which nothing else is said: the
    most first, never more than ``MOST_USUAL``."""
    every = round_above((high - low) / MOST_USUAL)
    while (count := math.floor(high / every + 1e-9) - math.ceil(low / every - 1e-9) + 1) >= 2:
        if count <= MOST_USUAL:
            yield _marks(every, low, high)
        every = round_above(every * 1.5)


def _marks(every: float, low: float, high: float) -> Marks:
    first = math.ceil(low / every - 1e-9)
    last = math.floor(high / every + 1e-9)
    return Marks(tuple(round(i * every, 9) for i in range(first, last + 1)), every, low, high)


def round_above(step: float) -> float:
    """The least of 1, 2 and 5 times a power of ten that is not below a step."""
    power = 10.0 ** math.floor(math.log10(step))
    return float(
        f"{next(factor * power for factor in (1, 2, 5, 10) if factor * power >= step * (1 - 1e-9)):.9g}"
    )


def fine_marks(widget: Widget, value: Typed, marks: Marks, canvas: Canvas) -> tuple[float, ...]:
    """What the ``fine marks every`` phrase asks for beside the marks. Raises ``DesignError`` A325."""
    phrase = widget.one(PhraseKind.FINE)
    if phrase is None:
        return ()
    every = canvas.step(phrase.values[0], value)
    most = FINE_MARKS * max(1, len(marks.values))
    if every <= 0 or (marks.high - marks.low) / every > most or not marks.values:
        message = f"fine marks every {every:g} make no readable scale"
        if not marks.values:
            message = "fine marks stand between marks, and there are none"
        unit = value.unit.spelling if value.unit else ""
        remedy = f"write marks every {marks.every:g} {unit}, fine marks every {marks.every / 5:g} {unit}"
        raise DesignError([error("A325", message, phrase.span, remedy)])
    first, last = math.ceil(marks.low / every - 1e-9), math.floor(marks.high / every + 1e-9)
    found = (round(i * every, 9) for i in range(first, last + 1))
    return tuple(each for each in found if each not in marks.values)


def _round(every: float) -> float:
    """The nearest of 1, 2 and 5 times a power of ten: a converted step of marks is round again."""
    power = 10.0 ** math.floor(math.log10(every))
    return min((1 * power, 2 * power, 5 * power, 10 * power), key=lambda step: abs(math.log(step / every)))


def mark_face(canvas: Canvas) -> Face:
    """The face of marks' figures."""
    return canvas.face("text", canvas.small(MARK_ARCMIN))


def mark_text(mark: float, canvas: Canvas) -> str:
    """A mark's figures."""
    return figure(mark, canvas.design.locale)
