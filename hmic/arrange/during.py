"""What is shown only while a condition holds, and how it looks while that is not known."""

from __future__ import annotations

from dataclasses import replace

from hmic.arrange.canvas import Canvas, live
from hmic.language.syntax import PhraseKind, Widget
from hmic.model.channels import Channel, Listed
from hmic.paint.operations import LIVE, UNSEEN, Fill, Frame, Ink, Mask, Operation, Picture, Stencil, When


def only_while(widget: Widget, first: int, canvas: Canvas) -> None:
    """Puts the ``shown while`` of a sentence on its operations, from number ``first`` on. In doubt their
    place is hatched: what may be there is not left out as if it were not."""
    phrase = widget.one(PhraseKind.DURING)
    if phrase is None:
        return
    channel = canvas.channel(Channel(canvas.flag(phrase.values[0]), Listed((False, True))))
    drawn, holds = canvas.operations[first:], When(channel, live(1), live(1))
    canvas.operations[first:] = [replace(operation, when=holds) for operation in drawn]
    doubt, ink = When(channel, UNSEEN, LIVE - 1), canvas.artwork.inks(["stale", "stale"], channel)
    canvas.operations += [_hatched(operation, ink, doubt, canvas) for operation in drawn]


def _hatched(operation: Operation, ink: Ink, doubt: When, canvas: Canvas) -> Operation:
    """The place of an operation in an ink that is in doubt whenever it is painted."""
    if isinstance(operation, Fill | Frame | Stencil):
        return replace(operation, ink=ink, when=doubt)
    assert isinstance(operation, Picture)
    picture = canvas.artwork.pictures[operation.picture]
    if not picture.coverage:
        return Fill(operation.box, ink, doubt)
    mask = canvas.artwork.mask(Mask(picture.width, picture.height, picture.coverage))
    return Stencil(operation.box, mask, ink, doubt)
