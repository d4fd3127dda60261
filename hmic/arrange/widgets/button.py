"""button: a touch target with words on it."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, inset, live, phrase_text
from hmic.arrange.touch import control, zone_action
from hmic.language.syntax import Phrase, Text, Widget
from hmic.model.touch import ASKED, TOUCH_WORDS
from hmic.paint.operations import Box, When

SUBJECT = "text"
PHRASES = frozenset(
    {"text", "goes", "sets", "toggles", "by", "acknowledges", "allowed", "held", "confirmed", "refused"}
)
BUTTON_ARCMIN = 18


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """The whole place is the target; its edge shows how the touch fares."""
    assert isinstance(widget.subject, Text)
    text = widget.subject.text
    face = canvas.face("text", canvas.capital_height(widget, BUTTON_ARCMIN))
    question = widget.one("confirmed")
    pad = canvas.px(1.5)
    inner = inset(box, pad, pad, pad, pad)
    action = zone_action(widget.phrases, widget.head, canvas)
    with control(widget.phrases, box, action, widget.head, canvas) as channel:
        for shown, when in _texts(text, question, channel):
            what = f'the text "{shown}"'
            canvas.lines(shown, face, inner, canvas.artwork.ink("ink"), widget.head, what, when)


def _texts(text: str, question: Phrase | None, channel: int) -> list[tuple[str, When | None]]:
    """The words on the button; while it waits for a second touch, its question instead."""
    if question is None:
        return [(text, None)]
    asked, last = live(TOUCH_WORDS.index(ASKED)), live(len(TOUCH_WORDS) - 1)
    return [
        (text, When(channel, 0, asked - 1)),
        (phrase_text(question), When(channel, asked, asked)),
        (text, When(channel, asked + 1, last)),
    ]
