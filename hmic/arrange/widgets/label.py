"""label: a fixed text."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, Line, alignment, broken, on_one_line, reach, standing
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import text_size
from hmic.language.syntax import PhraseKind, Text, Widget, phrase_kinds
from hmic.paint.operations import Box

SUBJECT = SubjectKind.TEXT
PHRASES = phrase_kinds("text font spaced colour aligned")


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int, int]:
    """As large as its words, in the lines that it says or that a ``width`` asks for."""
    assert isinstance(widget.subject, Text)
    text, face = widget.subject.text, canvas.lettering(widget)
    rows = text.split("\n") if width is None else broken(text, face, width)
    wide, tall = text_size(rows, face)
    return wide, tall + face.line_height * (len(rows) - 1)


def draw(widget: Widget, box: Box, canvas: Canvas) -> Line | None:
    """One line in the middle of its height; several, broken between words, where one is too wide and the
    place is high enough, or where the text says so."""
    assert isinstance(widget.subject, Text)
    text, what = widget.subject.text, f'the label "{on_one_line(widget.subject.text)}"'
    face, align = canvas.lettering(widget), alignment(widget)
    letters, ink = face.capital_height, canvas.artwork.ink(canvas.role(widget.one(PhraseKind.COLOUR), "ink"))
    rows = broken(text, face, box.width)
    above, below = reach(rows, face)
    height = letters + face.line_height * (len(rows) - 1)
    if "\n" not in text and above + height + below > box.height:
        # Too low for more than one line: then it is its width that is to be mended.
        rows, height = [text], letters
    width = max(map(face.measure, rows))
    canvas.fit(width, box.width, what, widget.head, letters=letters)
    why = f"it takes {len(rows)} lines" if len(rows) > 1 else ""
    canvas.fit(above + height + below, box.height, what, widget.head, True, letters=letters, why=why)
    top = standing(box, height, above, below)
    canvas.rows(rows, face, (box.left, top), box.width, ink=ink, span=widget.head, align=align)
    if len(rows) > 1:
        return None
    lowest, last = box.top + box.height - letters - below, len(canvas.texts)
    return Line(letters, top, lowest, None, 0, (last - 1, last))
