"""symbol: a pictogram that always shows, in one colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from hmic.arrange import lengths
from hmic.arrange.canvas import Canvas, SymbolFact, on_one_line, phrase_text
from hmic.arrange.fitting import millimetres, sized_to
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import centred, text_size
from hmic.arrange.widgets.turning import valve
from hmic.language.syntax import PhraseKind, Widget, phrase_kinds
from hmic.paint.operations import Box, Stencil, When

SUBJECT = SubjectKind.PICTOGRAM
PHRASES = phrase_kinds("colour sized means called turned behind")
DEFAULT_MM = 9.0
LEAST_MM = 2.0
CAPTION_GAP_MM = 1.2


def draw(widget: Widget, box: Box, canvas: Canvas) -> SymbolFact:
    """The pictogram centred in its place, with its caption below it."""
    place = pictogram_place(widget, box, canvas)
    if widget.one(PhraseKind.TURNED) is not None:
        painted = valve(widget, place, canvas)
    else:
        number, painted = pictogram(widget, place, canvas)
        role = canvas.role(widget.one(PhraseKind.COLOUR), "ink")
        canvas.operations.append(Stencil(painted, number, canvas.artwork.ink(role)))
    caption_below(widget, box, place, canvas)
    return SymbolFact(painted)


def pictogram_place(widget: Widget, box: Box, canvas: Canvas) -> Box:
    """Where the pictogram stands: pictogram and caption together are centred in ``box``. Its side is
    as ``sized`` asks, else 9 mm or what there is room for; a round valve takes what there is."""
    below = caption_room(widget, canvas)
    phrase = widget.one(PhraseKind.SIZED)
    if phrase is None:
        if below:
            what = f"the caption of '{widget.word}' with the smallest pictogram above it"
            canvas.fit(below + canvas.px(LEAST_MM), box.height, what, widget.head, True, least=True)
        turns = widget.one(PhraseKind.TURNED) is not None
        most = max(box.width, box.height) if turns else canvas.px(DEFAULT_MM)
        side = min(most, box.width, box.height - below)
    else:
        side = lengths.pixels(phrase.values[0], canvas.design.panel)
        panel, what = canvas.design.panel, f"the pictogram '{widget.word}'"
        ways = sized_to(min(box.width, box.height - below), panel)
        canvas.fit(side, box.width, what, phrase.span, least=True, ways=ways)
        why = f"{millimetres(below, panel)} of it for the caption" if below else ""
        canvas.fit(side + below, box.height, what, phrase.span, True, least=True, ways=ways, why=why)
    left = box.left + (box.width - side) // 2
    return Box(left, box.top + (box.height - side - below) // 2, side, side)


def caption_room(widget: Widget, canvas: Canvas) -> int:
    """The height that a caption below takes, with the space above it."""
    text, face = phrase_text(widget.one(PhraseKind.CALLED)), canvas.face("captions", canvas.small())
    if not text:
        return 0
    rows = len(text.split("\n"))
    # Room for letters that reach below the line, so that the captions of a row stand at one height.
    return canvas.px(CAPTION_GAP_MM) + face.capital_height + rows * face.line_height - face.ascent


def with_caption(widget: Widget, place: Box, canvas: Canvas) -> Box:
    """The box of a freely placed pictogram together with its caption."""
    below = caption_room(widget, canvas)
    if not below:
        return place
    face = canvas.face("captions", canvas.small())
    width, _ = text_size(phrase_text(widget.one(PhraseKind.CALLED)).split("\n"), face)
    wide = max(place.width, width + (width ^ place.width) % 2)
    return Box(place.left - (wide - place.width) // 2, place.top, wide, place.height + below)


def caption_below(
    widget: Widget, box: Box, place: Box, canvas: Canvas, shown: Sequence[When | None] = (None,)
) -> None:
    """The ``called`` caption in the middle below a pictogram that stands at ``place``, painted ``shown``."""
    phrase = widget.one(PhraseKind.CALLED)
    text = phrase_text(phrase)
    if phrase is None or not text:
        return
    face = canvas.face("captions", canvas.small())
    rows = text.split("\n")
    width = max(map(face.measure, rows))
    canvas.fit(width, box.width, f'the caption "{on_one_line(text)}"', phrase.span)
    at = centred(width, place, box), place.top + place.height + canvas.px(CAPTION_GAP_MM)
    first = len(canvas.operations)
    canvas.rows(rows, face, at, width, ink=canvas.artwork.ink("quiet"), span=phrase.span, when=shown[0])
    written = canvas.operations[first:]
    canvas.operations.extend(replace(each, when=when) for when in shown[1:] for each in written)


def pictogram(widget: Widget, place: Box, canvas: Canvas) -> tuple[int, Box]:
    """The mask number and the box of the widget's pictogram, centred in ``place``."""
    mask = canvas.artwork.pictograms.draw(widget.word or "", place.width, place.height, widget.head)
    left = place.left + (place.width - mask.width) // 2
    top = place.top + (place.height - mask.height) // 2
    return canvas.artwork.mask(mask), Box(left, top, mask.width, mask.height)
