"""screens: a row of screens to go to, with the present one marked."""

from __future__ import annotations

from fractions import Fraction

from hmic.arrange.canvas import Canvas, inset
from hmic.arrange.plan import share_out
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.touch import CORNER_MM, control
from hmic.arrange.widgets.lights import LIGHT_FOOT_MM, LIGHT_GAP_MM, LIGHT_MM, LIT, light
from hmic.arrange.widgets.pictured_words import Said, fits_beside, pictured_words
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Phrase, PhraseKind, Widget, phrase_kinds
from hmic.model.actions import GoTo, ZoneAction
from hmic.model.design import GLASS
from hmic.paint import shapes
from hmic.paint.fonts import Face
from hmic.paint.operations import Box, Frame

SUBJECT = SubjectKind.NONE
PHRASES = phrase_kinds("way text")
WORDS_ARCMIN = 16
GAP_MM, PAD_MM, EDGE_MM, LEAST_MM = 1.2, 1.0, 0.4, 4.0


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """One field a screen, side by side or, in a tall place, below each other."""
    ways = widget.all(PhraseKind.WAY)
    for way in ways:
        if way.words[0] not in canvas.design.screens:
            raise canvas.design.faults.told(way.span)
    fields = _fields(box, len(ways), widget, canvas)
    face = canvas.lettering(widget, WORDS_ARCMIN)
    beside = all(
        fits_beside(_title(way, canvas), face, _room(field, canvas), canvas)
        for way, field in zip(ways, fields, strict=True)
        if len(way.words) > 1
    )
    for way, field in zip(ways, fields, strict=True):
        room = _room(field, canvas)
        if way.words[0] == canvas.screen:
            _present(field, canvas)
            _say(way, _said(way, face, "ink", canvas), room, canvas, beside=beside)
            continue
        with control((), field, ZoneAction(GoTo(way.words[0])), way.span, canvas):
            _say(way, _said(way, face, "quiet", canvas), room, canvas, beside=beside)


def _said(way: Phrase, face: Face, role: str, canvas: Canvas) -> Said:
    return Said(_title(way, canvas), face, canvas.artwork.ink(role), way.span, face.capital_height)


def _title(way: Phrase, canvas: Canvas) -> str:
    return canvas.said(canvas.design.screens[way.words[0]].title)


def _fields(box: Box, count: int, widget: Widget, canvas: Canvas) -> list[Box]:
    gap = canvas.px(GAP_MM)
    upright = box.height > box.width
    total = (box.height if upright else box.width) - gap * (count - 1)
    if total < count * canvas.px(LEAST_MM):
        message, remedy = f"{count} screens do not fit here", "make the area larger, or name fewer screens"
        raise DesignError([error("A313", message, widget.head, remedy, rests_on=GLASS)])
    result, start = [], 0
    for size in share_out(total, [None] * count, [Fraction(1)] * count):
        result.append(
            Box(box.left, box.top + start, box.width, size)
            if upright
            else Box(box.left + start, box.top, size, box.height)
        )
        start += size + gap
    return result


def _inside(field: Box, canvas: Canvas) -> Box:
    edge = max(2, canvas.px(EDGE_MM))
    return inset(field, edge, edge, edge, edge)


def _room(field: Box, canvas: Canvas) -> Box:
    """Where the words stand: over the light of every field, so that those of a row stand on one line."""
    inside, pad = _inside(field, canvas), canvas.px(PAD_MM)
    return inset(inside, pad, pad, pad, canvas.px(LIGHT_MM + LIGHT_FOOT_MM + LIGHT_GAP_MM))


def _present(field: Box, canvas: Canvas) -> None:
    """The field of the screen in sight is sunk and lit."""
    inside, radius, artwork = _inside(field, canvas), canvas.px(CORNER_MM), canvas.artwork
    canvas.operations.append(Frame(field, canvas.rounded(shapes.corner(radius)), artwork.ink("line")))
    corner = canvas.rounded(shapes.corner(max(1, radius - (inside.left - field.left))))
    canvas.operations.append(Frame(inside, corner, artwork.ink("ground")))
    light(inside, [LIT], None, canvas)


def _say(way: Phrase, said: Said, room: Box, canvas: Canvas, *, beside: bool) -> None:
    if len(way.words) > 1:
        pictured_words(said, way.words[1], room, canvas, beside=beside)
        return
    what = f'the title "{said.text}"'
    canvas.lines(said.text, said.face, room, said.ink, said.span, what=what, letters=said.letters)
