"""choice: one of a few values of an output, each under its own target."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from hmic.arrange.canvas import Canvas, aligned, inset, reach
from hmic.arrange.formats import quantity
from hmic.arrange.plan import DEFAULT_GAP_MM, share_out
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.touch import control, guarded, output, set_value, tell_what_is_asked
from hmic.arrange.widgets.common import below_caption
from hmic.arrange.widgets.lights import LIGHT_GAP_MM, LIT, light
from hmic.arrange.widgets.unlisted import captioned_with_value, half_step
from hmic.diagnostics import DesignError, Span, error, lacking
from hmic.language.spelling import written
from hmic.language.syntax import (
    Expression,
    Operation,
    Operator,
    PhraseKind,
    Quantity,
    Signal,
    Text,
    Widget,
    phrase_kinds,
)
from hmic.model.actions import SetOutput
from hmic.model.channels import Channel, FirstTrue
from hmic.model.design import GLASS, OutputDefinition
from hmic.model.expressions import Scalar, Typed, ValueKind
from hmic.model.units import PLAIN, difference
from hmic.model.values import SLACK
from hmic.paint.operations import Box

SUBJECT = SubjectKind.SIGNAL
PHRASES = phrase_kinds("options text called allowed held confirmed refused")
CHOICE_ARCMIN = 18
EDGE_MM = 1.0
# How near a reading must be to an option to count as it, in parts of the signal's range.
NEAR = Fraction(1, 2000)


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """The options side by side, or below each other in a tall place; the one read back is lit."""
    assert isinstance(widget.subject, Signal)
    target = output(widget.subject, canvas)
    typed = canvas.typed(widget.subject)
    phrase = widget.one(PhraseKind.OPTIONS)
    if phrase is None:
        remedy = "add of 80 % or 90 % or 100 %"
        raise DesignError([lacking("A370", "the choice has no options", widget.head, remedy)])
    asked = _distinct(phrase.values, target, typed, canvas)
    slack = _slack(typed, phrase.values, canvas)
    conditions = tuple(canvas.flag(_holds(widget.subject, value, typed, slack)) for value in phrase.values)
    reads = canvas.channel(Channel(None, FirstTrue(conditions)))
    captioned_with_value(widget, typed, phrase.values, box=box, reads=reads, canvas=canvas)
    place = below_caption(widget, box, canvas)
    parts = _parts(place, len(phrase.values), widget.head, canvas)
    _fit_options(widget, phrase.values, parts, canvas)
    for number, (value, wanted, part) in enumerate(zip(phrase.values, asked, parts, strict=True)):
        action = guarded(SetOutput(target.name, wanted), widget.phrases, canvas)
        with control(widget.phrases, part, action, value.span, canvas):
            _option(widget, value, part, (reads, number, len(phrase.values)), canvas)


def _distinct(
    values: Sequence[Expression], target: OutputDefinition, typed: Typed, canvas: Canvas
) -> list[Scalar]:
    """What the options ask for. Raises ``DesignError`` A362 for one that may not be asked for, A383 for one
    that asks for the same as another."""
    written_as = [set_value(target, typed, value, canvas) for value in values]
    asked = [_carried(value, target) for value in written_as]
    for number, value in enumerate(values):
        for other, before in zip(asked[:number], values[:number], strict=True):
            if _same(asked[number], other):
                message = f"{written(value)} asks for the same as {written(before)}"
                remedy = "leave one of them out, or write another value"
                raise DesignError([error("A383", message, value.span, remedy)])
    for option, value in zip(written_as, values, strict=True):
        tell_what_is_asked(option, target, typed, value.span, canvas)
    return written_as


def _carried(value: Scalar, target: OutputDefinition) -> Scalar:
    """The value as the output's field carries it."""
    if target.steps is None or isinstance(value, bool | str):
        return value
    return target.steps.closest(value)


def _same(one: Scalar, other: Scalar) -> bool:
    if isinstance(one, bool | str) or isinstance(other, bool | str):
        return one == other
    return math.isclose(one, other, rel_tol=SLACK, abs_tol=SLACK)


def _slack(typed: Typed, values: Sequence[Expression], canvas: Canvas) -> Fraction:
    """How near a number must be to an option to count as it: as near as it is written like it."""
    if typed.kind != ValueKind.NUMBER:
        return Fraction(0)
    unit = typed.unit.spelling if typed.unit else ""
    return max(Fraction(typed.high - typed.low) * NEAR, half_step(values, unit, canvas))


def _holds(subject: Signal, value: Expression, typed: Typed, near: Fraction) -> Expression:
    """The condition that the reading is this option; numbers are compared within ``near``."""
    if not isinstance(value, Quantity):
        return Operation(Operator.IS, subject, value, value.span)
    assert typed.unit is not None
    of = typed.unit if value.unit else PLAIN
    slack = Quantity(near * of.factor / difference(of).factor, difference(of).spelling, value.span)
    below, above = (Operation(way, value, slack, value.span) for way in (Operator.MINUS, Operator.PLUS))
    low = Operation(Operator.AT_LEAST, subject, below, value.span)
    high = Operation(Operator.BELOW, subject, above, value.span)
    return Operation(Operator.AND, low, high, value.span)


def _parts(place: Box, count: int, span: Span, canvas: Canvas) -> list[Box]:
    # As between areas, so that options stand in line with them.
    gap = canvas.px(DEFAULT_GAP_MM)
    upright = place.height > place.width
    total = (place.height if upright else place.width) - gap * (count - 1)
    canvas_least = canvas.px(4)
    if total < count * canvas_least:
        message = f"{count} options do not fit here"
        raise DesignError([error("A313", message, span, "make the area larger", rests_on=GLASS)])
    result = []
    start = 0
    for size in share_out(total, [None] * count, [Fraction(1)] * count):
        if upright:
            result.append(Box(place.left, place.top + start, place.width, size))
        else:
            result.append(Box(place.left + start, place.top, size, place.height))
        start += size + gap
    return result


def _said(value: Expression, canvas: Canvas) -> str:
    """An option's words."""
    if isinstance(value, Quantity):
        return quantity(value, canvas.design.locale)
    return canvas.said(value.text) if isinstance(value, Text) else written(value)


def _fit_options(widget: Widget, values: Sequence[Expression], parts: list[Box], canvas: Canvas) -> None:
    """Raises ``DesignError`` A350 when the widest option is wider than its part. Options side by side
    each need that much more."""
    face = canvas.lettering(widget, CHOICE_ARCMIN)
    widest = max(values, key=lambda value: face.measure(_said(value, canvas)))
    there = min(part.width for part in parts) - 2 * canvas.px(EDGE_MM) - canvas.px(2)
    what, letters = f'the option "{_said(widest, canvas)}"', face.capital_height
    share = len(parts) if parts[0].top == parts[-1].top else 1
    why = "the widest of them"
    width = face.measure(_said(widest, canvas))
    canvas.fit(width, there, what, widest.span, letters=letters, share=share, why=why)


def _option(
    widget: Widget, value: Expression, part: Box, reads: tuple[int, int, int], canvas: Canvas
) -> None:
    edge = canvas.px(EDGE_MM)
    inside = inset(part, edge, edge, edge, edge)
    channel, number, count = reads
    roles = ["line"] * (count + 1)
    roles[number + 1] = LIT
    lamp = light(inside, roles, channel, canvas)
    face = canvas.lettering(widget, CHOICE_ARCMIN)
    text = _said(value, canvas)
    options = widget.one(PhraseKind.OPTIONS)
    texts = [_said(each, canvas) for each in (options.values if options is not None else (value,))]
    above, below = reach(texts, face)
    letters = face.capital_height
    foot = lamp.top - canvas.px(LIGHT_GAP_MM)
    tall, room = above + letters + below, foot - inside.top
    canvas.fit(tall, room, f'the option "{text}"', value.span, height=True, letters=letters)
    # In the middle of its option, unless the light is in the way; all options on one line.
    middle = inside.top + (inside.height - letters) // 2
    top = max(inside.top + above, min(middle, foot - letters - below))
    left = inside.left + aligned(face.measure(text), inside.width)
    canvas.text(text, face, (left, top), canvas.artwork.ink("ink"), value.span)
