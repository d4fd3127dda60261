"""What is wrong in a sentence by one of its phrases alone: told together, since each is mended by itself.

What phrases come to together, and whether all of it has room, is found when the widget is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from hmic.arrange import lengths
from hmic.arrange.canvas import Canvas, phrase_text
from hmic.arrange.formats import localised, parse_format
from hmic.arrange.touch import ACTION_PHRASES, output, set_value, zone_action
from hmic.diagnostics import DesignError, Finding, Span, Told, told_once
from hmic.language.syntax import (
    Expression,
    Phrase,
    PhraseKind,
    Signal,
    Text,
    Widget,
    phrase_kinds,
    roles_of,
)
from hmic.model.values import ValueKind

Step = Callable[[], object]
"""Raises ``DesignError`` where something is wrong."""
_LIMITS = phrase_kinds("above below scale zone")


def check_together(steps: Iterable[Step], found: Sequence[Finding] = ()) -> None:
    """Raises ``DesignError`` with all that is wrong in any of the steps, after what was ``found`` before;
    ``Told`` where nothing is, and one of them relies on what was told elsewhere. What is said alike of
    several words is one slip, told once."""
    every, relied = list(found), None
    for step in steps:
        try:
            step()
        except Told as told:
            relied = relied or told
        except DesignError as raised:
            every += raised.findings
    if every:
        alike: dict[tuple[str, str], list[Finding]] = {}
        for item in every:
            alike.setdefault((item.code, item.message), []).append(item)
        raise DesignError([told_once(items) for items in alike.values()])
    if relied is not None:
        raise relied


def of_widget(widget: Widget, canvas: Canvas) -> Iterator[Step]:
    """What can be asked of the subject and of each phrase by itself."""
    subject = None if isinstance(widget.subject, Text) else widget.subject
    if subject is not None:
        yield partial(canvas.typed, subject)
    for phrase in widget.phrases:
        yield from _of_phrase(phrase, canvas)
        if subject is not None:
            if phrase.kind == PhraseKind.FORMAT:
                yield partial(parse_format, phrase_text(phrase), phrase.span)
            yield partial(_of_value, phrase, subject, canvas)
    for child in widget.children:
        yield from of_widget(child, canvas)


def of_touch(phrases: Sequence[Phrase], span: Span, canvas: Canvas) -> Iterator[Step]:
    """What a touch asks for, and each condition that it is asked under."""
    yield partial(zone_action, [each for each in phrases if each.kind in ACTION_PHRASES], span, canvas)
    for phrase in phrases:
        yield from _of_phrase(phrase, canvas)


def _of_phrase(phrase: Phrase, canvas: Canvas) -> Iterator[Step]:
    """What a phrase says whatever it stands beside."""
    for role in roles_of(phrase):
        yield partial(canvas.role, replace(phrase, words=(role,)))
    match phrase.kind:
        case PhraseKind.STATE | PhraseKind.ALLOWED | PhraseKind.DURING:
            yield partial(canvas.flag, phrase.values[0])
        case PhraseKind.HELD | PhraseKind.PEAK | PhraseKind.GLIDES:
            yield partial(canvas.constant, phrase.values[0], "s")
        case PhraseKind.TEXT | PhraseKind.SIZED:
            yield partial(lengths.pixels, phrase.values[0], canvas.design.panel)


def _of_value(phrase: Phrase, subject: Expression, canvas: Canvas) -> None:
    """What a phrase says of the value that the sentence shows or asks for."""
    value = canvas.typed(subject)
    asks = isinstance(subject, Signal) and subject.name in canvas.design.outputs
    if phrase.kind == PhraseKind.OPTIONS and asks:
        target = output(subject, canvas)
        check_together(partial(set_value, target, value, node, canvas) for node in phrase.values)
    number = value.kind == ValueKind.NUMBER
    if number and phrase.kind in _LIMITS:
        # Both ends of a scale in a wrong unit are one slip.
        for node in phrase.values:
            canvas.limit(node, value)
    if number and value.count is None and phrase.kind == PhraseKind.FORMAT:
        form = localised(parse_format(phrase_text(phrase), phrase.span), canvas.design.locale)
        canvas.number(subject, form.value_unit)
