"""button: a touch target with words on it, or a pictogram, or both."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, inset, on_one_line
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.touch import control, zone_action
from hmic.arrange.widgets.pictured_words import Said, fits_beside, pictured_words
from hmic.language.syntax import PhraseKind, Text, Widget, phrase_kinds
from hmic.paint.operations import Box

SUBJECT = SubjectKind.TEXT
PHRASES = phrase_kinds(
    "text font spaced pictogram goes sets toggles by acknowledges allowed held confirmed refused"
)
BUTTON_ARCMIN = 18


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """The whole place is the target; its edge shows how the touch fares."""
    assert isinstance(widget.subject, Text)
    text, pictogram = widget.subject.text, widget.one(PhraseKind.PICTOGRAM)
    face = canvas.lettering(widget, BUTTON_ARCMIN)
    pad = canvas.px(1.5)
    inner = inset(box, pad, pad, pad, pad)
    action = zone_action(widget.phrases, widget.head, canvas)
    with control(widget.phrases, box, action, widget.head, canvas):
        what, letters, ink = f'the text "{on_one_line(text)}"', face.capital_height, canvas.artwork.ink("ink")
        if pictogram is None:
            canvas.lines(text, face, inner, ink, widget.head, what=what, letters=letters)
        else:
            said = Said(text, face, ink, pictogram.span, letters)
            beside = fits_beside(text, face, inner, canvas)
            pictured_words(said, pictogram.words[0], inner, canvas, beside=beside)
