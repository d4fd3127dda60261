"""words: the text of a signal that is one of several words."""

from __future__ import annotations

from hmic.arrange.canvas import DOUBT_MARKS, Alignment, Canvas, Line, aligned, alignment, live, reach
from hmic.arrange.letters import text_line
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import line_place, text_ink, text_size, under_caption
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Widget, phrase_kinds
from hmic.model.channels import Channel, Listed
from hmic.model.expressions import Typed, ValueKind
from hmic.paint.operations import Box, When

SUBJECT = SubjectKind.VALUE
PHRASES = phrase_kinds("text font spaced called colour aligned state within")


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int | None, int]:
    """As large as the longest of the words; how long a free text gets is not known."""
    assert widget.subject is not None
    typed = canvas.typed(widget.subject)
    face = canvas.lettering(widget)
    if typed.kind != ValueKind.WORD:
        return None, under_caption(widget, (0, face.line_height), canvas)[1]
    return under_caption(widget, text_size(_texts(typed, canvas), face), canvas)


def _texts(typed: Typed, canvas: Canvas) -> list[str]:
    """All that may stand there."""
    return [*map(canvas.said, typed.words), *DOUBT_MARKS]


def draw(widget: Widget, box: Box, canvas: Canvas) -> Line:
    """Every word at the same place, painted only while the signal says it."""
    assert widget.subject is not None
    typed = canvas.typed(widget.subject)
    if typed.kind == ValueKind.TEXT and typed.count is None:
        return _free_text(widget, typed, box, canvas)
    if typed.kind != ValueKind.WORD or typed.count is not None:
        message = f"words need a signal with declared words, this is a {typed.kind}"
        remedy = "show a number with a reading, or declare `words:` for the signal in signals.yaml"
        raise DesignError([error("A347", message, widget.subject.span, remedy)])
    face = canvas.lettering(widget)
    texts = _texts(typed, canvas)
    longest = max(texts, key=face.measure)
    letters, what = face.capital_height, f'the word "{longest}"'
    why = "the longest that the signal can say"
    if longest in DOUBT_MARKS:
        what, why = f'the mark "{longest}"', "it stands there while the value is in doubt"
    canvas.fit(face.measure(longest), box.width, what, widget.head, letters=letters, why=why)
    above, below = reach(texts, face)
    there = line_place(widget, box, canvas, (above, letters, below), "the word", letters=letters)
    place, top = there.place, there.top
    channel = canvas.channel(Channel(typed, Listed(typed.words)))
    ink = text_ink(widget, canvas)
    for step, word in enumerate(typed.words):
        said = canvas.said(word)
        left = place.left + aligned(face.measure(said), place.width, alignment(widget))
        when = When(channel, live(step), live(step))
        canvas.text(said, face, (left, top), ink, widget.head, when=when, reading=True)
    canvas.marks(face, (place.left, top), place.width, channel, widget.head, align=alignment(widget))
    return there.line(letters, below, box, canvas)


def _free_text(widget: Widget, typed: Typed, box: Box, canvas: Canvas) -> Line:
    """A text that comes over the line, one line from the left, cut where it is too long."""
    face = canvas.lettering(widget)
    letters, rise = face.capital_height, face.ascent - face.capital_height
    reaches = rise, letters, face.line_height - letters - rise
    there = line_place(widget, box, canvas, reaches, "the text", letters=letters, align=Alignment.LEFT)
    place = Box(box.left, there.top, box.width, letters)
    ink = text_ink(widget, canvas)
    text_line(typed, None, face, place=place, ink=ink, widget=widget, canvas=canvas)
    return there.line(letters, reaches[2], box, canvas)
