"""switch: a rocker with a field for off and one for on; a touch of a field asks for what it says."""

from __future__ import annotations

from typing import NamedTuple

from hmic.arrange.canvas import Canvas, aligned, inset, live, phrase_text, reach, standing
from hmic.arrange.fitting import millimetres
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.touch import CORNER_MM, control, guarded, output, said_width, tell_reasons
from hmic.arrange.widgets.common import captioned
from hmic.arrange.widgets.lights import LIGHT_GAP_MM, LIT, light
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import PhraseKind, Signal, Widget, phrase_kinds
from hmic.model.actions import SetOutput
from hmic.model.builtin import OFF, ON
from hmic.model.channels import Channel, Listed
from hmic.model.expressions import ValueKind
from hmic.paint import shapes
from hmic.paint.fonts import Face
from hmic.paint.operations import Box, Frame, When

SUBJECT = SubjectKind.SIGNAL
PHRASES = phrase_kinds("text called off on allowed held confirmed refused")
SWITCH_ARCMIN = 16
MOST_MM = (64.0, 26.0)
# The rim of the housing, its edge, between the two fields, and between a word and the edge of its field.
RIM_MM, EDGE_MM, BETWEEN_MM, PAD_MM = 0.9, 0.3, 1.0, 1.2
LEAST_FIELD_MM = 6.0


class _Field(NamedTuple):
    """One end of the rocker: what it asks for, what it says, and where it stands."""

    wanted: bool
    text: str
    box: Box


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """The caption, and below it two fields in one housing; the one that is read back is sunk and lit."""
    assert isinstance(widget.subject, Signal)
    name = output(widget.subject, canvas).name
    typed = canvas.typed(widget.subject)
    if typed.kind != ValueKind.FLAG:
        message = f"a switch needs a flag, '{name}' is a {typed.kind}"
        raise DesignError([error("A349", message, widget.subject.span, "use choice, stepper or slider")])
    channel = canvas.channel(Channel(typed, Listed((False, True))))
    face = canvas.lettering(widget, SWITCH_ARCMIN)
    whole, fields = _fields(widget, captioned(widget, box, canvas), face, canvas)
    _housing(whole, canvas)
    # A question stands where the second touch has to come; a reason has the room of both fields.
    touched = []
    for field in fields:
        action = guarded(SetOutput(name, field.wanted), widget.phrases, canvas)
        with control(widget.phrases, field.box, action, widget.head, canvas, reasons=False) as fares:
            _field(field, face, channel, widget, canvas)
        touched.append((fares, action))
    tell_reasons(widget.phrases, (whole, canvas.px(CORNER_MM + RIM_MM)), touched, widget.head, canvas)


def _fields(widget: Widget, place: Box, face: Face, canvas: Canvas) -> tuple[Box, list[_Field]]:
    """The place of the housing, and its fields, side by side where their words have room, else one above
    the other. Raises ``DesignError`` A350 or A351 where they have none."""
    texts = [
        phrase_text(widget.one(kind)) or canvas.said(word)
        for kind, word in ((PhraseKind.OFF, OFF), (PhraseKind.ON, ON))
    ]
    rim, between = canvas.px(RIM_MM), canvas.px(BETWEEN_MM)
    widest = max(texts, key=face.measure)
    wide = max(
        face.measure(widest) + 2 * canvas.px(PAD_MM),
        said_width(widget.phrases, canvas, (PhraseKind.CONFIRMED,)),
    )
    high = _least_height(texts, face, canvas)
    upright = 2 * wide + between + 2 * rim > place.width and 2 * high + between + 2 * rim <= place.height
    across, down = (1, 2) if upright else (2, 1)
    what, letters = f'the field "{widest}" of the switch', face.capital_height
    fixed = 2 * canvas.px(PAD_MM)
    there = (place.width - 2 * rim - between * (across - 1)) // across
    why = "the wider of the two"
    canvas.fit(wide, there, what, widget.head, letters=letters, fixed=fixed, share=across, why=why)
    room = (place.height - 2 * rim - between * (down - 1)) // down
    why = f"{millimetres(high - letters, canvas.design.panel)} of it around its word"
    canvas.fit(
        high, room, what, widget.head, True, letters=letters, fixed=high - letters, why=why, share=down
    )
    whole = _middle(place, canvas)
    inner = inset(whole, rim, rim, rim, rim)
    width = (inner.width - between * (across - 1)) // across
    height = (inner.height - between * (down - 1)) // down
    starts = (inner.left, inner.top), (inner.left + inner.width - width, inner.top + inner.height - height)
    return whole, [
        _Field(wanted, text, Box(left, top, width, height))
        for wanted, text, (left, top) in zip((False, True), texts, starts, strict=True)
    ]


def _least_height(texts: list[str], face: Face, canvas: Canvas) -> int:
    above, below = reach(texts, face)
    return max(canvas.px(LEAST_FIELD_MM), above + face.capital_height + below + _foot(canvas))


def _foot(canvas: Canvas) -> int:
    """What the light and the edges of a field take of its height."""
    return canvas.px(EDGE_MM) * 2 + canvas.px(3.4) + canvas.px(LIGHT_GAP_MM)


def _middle(box: Box, canvas: Canvas) -> Box:
    """The middle of a place that is larger than a switch needs."""
    width, height = (
        min(canvas.px(most), size) for most, size in zip(MOST_MM, (box.width, box.height), strict=True)
    )
    return Box(box.left + (box.width - width) // 2, box.top + (box.height - height) // 2, width, height)


def _housing(box: Box, canvas: Canvas) -> None:
    edge, radius = canvas.px(EDGE_MM), canvas.px(CORNER_MM + RIM_MM)
    artwork = canvas.artwork
    canvas.operations.append(Frame(box, canvas.rounded(shapes.corner(radius)), artwork.ink("line")))
    inside = inset(box, edge, edge, edge, edge)
    corner = canvas.rounded(shapes.corner(radius - edge))
    canvas.operations.append(Frame(inside, corner, artwork.ink("ground")))


def _field(field: _Field, face: Face, channel: int, widget: Widget, canvas: Canvas) -> None:
    """The word of a field over its light. It is sunk while it holds; in doubt neither is."""
    edge = max(2, canvas.px(0.4))
    inside = inset(field.box, edge, edge, edge, edge)
    step = live(field.wanted)
    corner = canvas.rounded(shapes.corner(max(1, canvas.px(CORNER_MM) - edge)))
    sunk = When(channel, step, step)
    canvas.operations.append(Frame(inside, corner, canvas.artwork.ink("ground"), sunk))
    roles = [LIT if on == field.wanted else "line" for on in (False, True)]
    lamp = light(inside, roles, channel, canvas)
    above, below = reach([field.text], face)
    room = Box(inside.left, inside.top, inside.width, lamp.top - canvas.px(LIGHT_GAP_MM) - inside.top)
    top = standing(room, face.capital_height, above, below)
    left = inside.left + aligned(face.measure(field.text), inside.width)
    inks = ["ink" if on == field.wanted else "quiet" for on in (False, True)]
    ink = canvas.artwork.inks(inks, channel)
    canvas.text(field.text, face, (left, top), ink, widget.head)
