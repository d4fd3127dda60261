"""label: a fixed text."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, aligned, alignment
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import text_size
from hmic.language.syntax import PhraseKind, Text, Widget, phrase_kinds
from hmic.paint.operations import Box

SUBJECT = SubjectKind.TEXT
PHRASES = phrase_kinds("text colour aligned")


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int, int]:
    """As large as its words."""
    assert isinstance(widget.subject, Text)
    return text_size([widget.subject.text], canvas.face("text", canvas.capital_height(widget)))


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """One line, centred in height."""
    assert isinstance(widget.subject, Text)
    text = widget.subject.text
    face = canvas.face("text", canvas.capital_height(widget))
    width, letters = face.measure(text), face.capital_height
    canvas.fit(width, box.width, f'the label "{text}"', widget.head, letters=letters)
    top = canvas.line_top([text], face, box, widget.head, f'the label "{text}"', letters=letters)
    role = canvas.role(widget.one(PhraseKind.COLOUR), "ink")
    left = box.left + aligned(width, box.width, alignment(widget))
    canvas.text(text, face, (left, top), canvas.artwork.ink(role), widget.head)
