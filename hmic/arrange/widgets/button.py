"""button: a touch target with words on it."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, inset, live
from hmic.arrange.touch import control_frame, zone_action
from hmic.language.syntax import Text, Widget
from hmic.model.channels import Channel, Listed
from hmic.model.touch import ASKED, TOUCH_WORDS
from hmic.paint.operations import Box, When

SUBJECT = "text"
PHRASES = frozenset(
    {"text", "goes", "sets", "toggles", "by", "acknowledges", "allowed", "held", "confirmed", "called"}
)
BUTTON_ARCMIN = 18


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """The whole place is the target; its edge shows how the touch fares."""
    assert isinstance(widget.subject, Text)
    text = widget.subject.text
    state = canvas.touch(box, zone_action(widget.phrases, widget.head, canvas), widget.head)
    channel = canvas.channel(Channel(state, Listed(TOUCH_WORDS), urgency=1))
    control_frame(box, channel, canvas)
    face = canvas.face("text", canvas.capital_height(widget, BUTTON_ARCMIN))
    question = widget.one("confirmed")
    asked = live(TOUCH_WORDS.index(ASKED))
    texts: list[tuple[str, When | None]] = [(text, None)]
    if question is not None and isinstance(question.values[0], Text):
        last = live(len(TOUCH_WORDS) - 1)
        texts = [
            (text, When(channel, 0, asked - 1)),
            (question.values[0].text, When(channel, asked, asked)),
            (text, When(channel, asked + 1, last)),
        ]
    pad = canvas.px(1.5)
    inner = inset(box, pad, pad, pad, pad)
    for shown, when in texts:
        canvas.lines(shown, face, inner, canvas.artwork.ink("ink"), widget.head, f'the text "{shown}"', when)
