"""The value of a choice while it is none of its options: told behind the caption."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from hmic.arrange.canvas import Canvas, inset, live, phrase_text
from hmic.arrange.widgets.common import Number, caption, centred, measured, place_number
from hmic.diagnostics import warning
from hmic.language.syntax import Expression, Flag, PhraseKind, Signal, Text, Widget
from hmic.model.builtin import OFF, ON
from hmic.model.channels import Channel, Listed
from hmic.model.expressions import Typed, ValueKind
from hmic.paint.operations import Box, When

VALUE_ARCMIN = 16
GAP_MM = 2.0


def decimals_of(values: Sequence[Expression], unit: str, canvas: Canvas) -> int:
    """How many digits after the point tell the options apart, in the signal's unit."""
    texts = [f"{canvas.constant(value, unit):.6f}".rstrip("0") for value in values]
    return max(len(text.partition(".")[2]) for text in texts)


def half_step(values: Sequence[Expression], unit: str, canvas: Canvas) -> Fraction:
    """How far a value may be off an option and still be written like it."""
    return Fraction(1, 2 * 10 ** decimals_of(values, unit, canvas))


def captioned_with_value(
    widget: Widget, typed: Typed, values: Sequence[Expression], *, box: Box, reads: int, canvas: Canvas
) -> None:
    """The caption, and behind it the value while channel ``reads`` says that no option is it. A380 where
    there is no room for the value, or no caption to tell it behind."""
    number = _number(widget, typed, values, canvas) if typed.kind == ValueKind.NUMBER else None
    words = _words(typed, values)
    face = canvas.face("captions", canvas.small())
    if number is not None:
        width = number.width
    else:
        width = max((face.measure(_said(word, canvas)) for word in words), default=0)
    text = phrase_text(widget.one(PhraseKind.CALLED))
    free = inset(box, 0, 0, canvas.px(GAP_MM) + width, 0) if width else box
    fits = bool(text) and "\n" not in text and face.measure(text) <= free.width
    caption(widget, free if fits else box, box, canvas)
    if not width:
        return
    if not fits:
        _untold(widget, text, canvas)
        return
    left = centred(face.measure(text), box, free) + face.measure(text) + canvas.px(GAP_MM)
    foot = box.top + canvas.px(0.5) + face.capital_height
    when = When(reads, live(0), live(0))
    ink = canvas.artwork.ink("ink")
    if number is not None:
        at = (left, max(box.top, foot - number.height))
        place_number(number, at, ink, widget.head, canvas, when=when)
        return
    states = typed.words if typed.kind == ValueKind.WORD else (False, True)
    channel = canvas.channel(Channel(typed, Listed(states)))
    for step, word in enumerate(states):
        if word in words:
            only = When(channel, live(step), live(step))
            at = (left, foot - face.capital_height)
            canvas.text(_said(word, canvas), face, at, ink, widget.head, when=only)


def _number(widget: Widget, typed: Typed, values: Sequence[Expression], canvas: Canvas) -> Number | None:
    """The value as the options are written; nothing where they are all that it can be."""
    assert widget.subject is not None
    unit = typed.unit.spelling if typed.unit else ""
    decimals = decimals_of(values, unit, canvas)
    pattern = f"0{'.' + '0' * decimals if decimals else ''} {unit}".rstrip()
    number = measured(widget.subject, pattern, widget.head, canvas.small(VALUE_ARCMIN), canvas)
    return number if number.count > len(values) else None


def _words(typed: Typed, values: Sequence[Expression]) -> list[str | bool]:
    """What the signal can say beside the options."""
    chosen: set[str | bool] = {value.text for value in values if isinstance(value, Text)}
    chosen |= {value.value for value in values if isinstance(value, Flag)}
    states: tuple[str | bool, ...] = {"word": typed.words, "flag": (False, True)}.get(typed.kind, ())
    return [state for state in states if state not in chosen]


def _said(word: str | bool, canvas: Canvas) -> str:
    return canvas.said({False: OFF, True: ON}[word] if isinstance(word, bool) else word)


def _untold(widget: Widget, text: str, canvas: Canvas) -> None:
    message = "while the value is none of the options, this choice cannot say what it is"
    name = widget.subject.name if isinstance(widget.subject, Signal) else ""
    caption = name.rpartition(".")[2].replace("_", " ").capitalize()
    remedy = "make its place wider, or shorten its caption" if text else f'add called "{caption}"'
    canvas.findings.append(warning("A380", message, widget.head, remedy))
