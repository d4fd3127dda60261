"""button: a touch target with words on it."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, inset
from hmic.arrange.touch import control, zone_action
from hmic.language.syntax import Text, Widget, phrase_kinds
from hmic.paint.operations import Box

SUBJECT = "text"
PHRASES = phrase_kinds("text goes sets toggles by acknowledges allowed held confirmed refused")
BUTTON_ARCMIN = 18


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """The whole place is the target; its edge shows how the touch fares."""
    assert isinstance(widget.subject, Text)
    text = widget.subject.text
    face = canvas.face("text", canvas.capital_height(widget, BUTTON_ARCMIN))
    pad = canvas.px(1.5)
    inner = inset(box, pad, pad, pad, pad)
    action = zone_action(widget.phrases, widget.head, canvas)
    with control(widget.phrases, box, action, widget.head, canvas):
        what, letters = f'the text "{text}"', face.capital_height
        canvas.lines(text, face, inner, canvas.artwork.ink("ink"), widget.head, what=what, letters=letters)
