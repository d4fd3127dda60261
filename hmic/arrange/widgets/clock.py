"""clock: the time of day in figures."""

from __future__ import annotations

from dataclasses import replace

from hmic.arrange.canvas import Canvas
from hmic.arrange.widgets import reading
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Phrase, Signal, Text, Widget
from hmic.model.builtin import CLOCK
from hmic.paint.operations import Box

SUBJECT = "none"
PHRASES = frozenset({"format", "text", "called", "colour", "aligned", "hands"})
PATTERNS = ("0:00", "00:00")


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Hours and minutes, 24 hours a day."""
    phrase = widget.one("format")
    pattern = phrase.values[0] if phrase else Text("00:00", widget.head)
    if not isinstance(pattern, Text) or pattern.text not in PATTERNS:
        message = "a clock shows hours and minutes"
        raise DesignError([error("A322", message, pattern.span, 'write as "0:00" or as "00:00"')])
    time = Signal(CLOCK, None, widget.head)
    form = Phrase("format", (), (Text(pattern.text + " h", pattern.span),), pattern.span)
    others = tuple(item for item in widget.phrases if item.kind != "format")
    shown = replace(widget, subject=time, phrases=(form, *others))
    reading.draw(shown, box, canvas, with_unit=False)
