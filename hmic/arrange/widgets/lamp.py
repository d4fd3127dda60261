"""lamp: a pictogram that lights in the colour of the gravest state that holds."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, SymbolFact, live
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import states_of
from hmic.arrange.widgets.symbol import caption_below, pictogram, pictogram_place
from hmic.diagnostics import DesignError, error, lacking
from hmic.language.syntax import PhraseKind, Widget, phrase_kinds
from hmic.paint.operations import LIVE, Box, Stencil, When

SUBJECT = SubjectKind.PICTOGRAM
PHRASES = phrase_kinds("state means otherwise hidden sized called within")


def draw(widget: Widget, box: Box, canvas: Canvas) -> SymbolFact:
    """Unlit in the ``line`` role, as ``otherwise`` says, or not there; a flashing state beats at 1 Hz."""
    states = widget.all(PhraseKind.STATE)
    if not states:
        remedy = "say when it lights: danger while pack.fault"
        raise DesignError([lacking("A323", "the lamp has no state", widget.head, remedy)])
    standing = pictogram_place(widget, box, canvas)
    number, place = pictogram(widget, standing, canvas)
    channel, roles = states_of(widget, canvas)
    if widget.one(PhraseKind.HIDDEN) is not None:
        _hidden(widget, place, number, canvas)
        shown = (When(channel, 0, LIVE - 1), When(channel, live(1), live(len(states))))
        caption_below(widget, box, standing, canvas, shown)
        return SymbolFact(place, channel)
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


def _hidden(widget: Widget, place: Box, number: int, canvas: Canvas) -> None:
    """One that is there only while it is lit, or while it is not known whether it should be."""
    twice = widget.one(PhraseKind.OTHERWISE)
    if twice is not None:
        raise DesignError([error("A307", "`otherwise` is said twice", twice.span, "keep one of them")])
    channel, roles = states_of(widget, canvas)
    doubt = When(channel, 0, LIVE - 1)
    canvas.operations.append(
        Stencil(place, number, canvas.artwork.inks(["line", *roles], channel), doubt)
    )
    for step, (phrase, role) in enumerate(zip(widget.all(PhraseKind.STATE), roles, strict=True), 1):
        when, flash = When(channel, live(step), live(step)), "flashing" in phrase.words
        canvas.operations.append(Stencil(place, number, canvas.artwork.ink(role), when, flash))
