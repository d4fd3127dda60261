"""lamp: a pictogram that lights in the colour of the gravest state that holds."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, SymbolFact, live
from hmic.arrange.widgets.common import states_of
from hmic.arrange.widgets.symbol import caption_below, pictogram, pictogram_place
from hmic.diagnostics import DesignError, lacking
from hmic.language.syntax import PhraseKind, Widget, phrase_kinds
from hmic.paint.operations import Box, Stencil, When

SUBJECT = "pictogram"
PHRASES = phrase_kinds("state means otherwise sized called within")


def draw(widget: Widget, box: Box, canvas: Canvas) -> SymbolFact:
    """Unlit in the ``line`` role, or as ``otherwise`` says; a flashing state beats at 1 Hz."""
    states = widget.all(PhraseKind.STATE)
    if not states:
        remedy = "say when it lights: danger while pack.fault"
        raise DesignError([lacking("A323", "the lamp has no state", widget.head, remedy)])
    standing = pictogram_place(widget, box, canvas)
    number, place = pictogram(widget, standing, canvas)
    channel, roles = states_of(widget, canvas)
    unlit = canvas.role(widget.one(PhraseKind.OTHERWISE), "line")
    steady = [
        unlit if "flashing" in phrase.words else role for phrase, role in zip(states, roles, strict=True)
    ]
    canvas.operations.append(Stencil(place, number, canvas.artwork.inks([unlit, *steady], channel)))
    for step, (phrase, role) in enumerate(zip(states, roles, strict=True), 1):
        if "flashing" in phrase.words:
            when = When(channel, live(step), live(step))
            canvas.operations.append(Stencil(place, number, canvas.artwork.ink(role), when, flash=True))
    caption_below(widget, box, standing, canvas)
    return SymbolFact(place, channel)
