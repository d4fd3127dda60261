"""level: a shape filled in proportion to a value."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, inset, phrase_text, scale
from hmic.arrange.fitting import millimetres
from hmic.arrange.lengths import described
from hmic.arrange.widgets.common import (
    captioned,
    colouring,
    fit_width,
    foot_room,
    longest,
    measured,
    number_ink,
    number_left,
    place_number,
)
from hmic.diagnostics import DesignError, did_you_mean, error
from hmic.language.syntax import PhraseKind, Widget, phrase_kinds
from hmic.model.channels import Channel, Scaled
from hmic.model.design import GLASS
from hmic.paint import shapes
from hmic.paint.operations import Axis, Box, Reveal, Stencil

SUBJECT = "value"
PHRASES = phrase_kinds("scale format text called shaped ramp colour above below within")
SHAPES = ("battery", "tank", "box")
# Width to height of the shapes.
ASPECT = {"battery": 0.52, "tank": 0.7, "box": 0.7}
# The most of its place's width that a shape takes, so that it does not shout.
WIDEST = 0.72
NUMBER_ARCMIN = 24
# Between shape and number.
GAP_MM = 2.0


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Caption above, the shape, the number below it."""
    assert widget.subject is not None
    place = _number(widget, captioned(widget, box, canvas), canvas)
    value = canvas.number(widget.subject)
    low, high = scale(widget, value, canvas)
    phrase = widget.one(PhraseKind.SHAPED)
    name = phrase.words[0] if phrase else "box"
    if name not in SHAPES:
        remedy = did_you_mean(name, SHAPES, "shapes")
        where = phrase.span if phrase is not None else widget.head
        raise DesignError([error("A326", f"there is no level shape '{name}'", where, remedy)])
    height = min(place.height, int(place.width * WIDEST / ASPECT[name]))
    width = int(height * ASPECT[name])
    try:
        shape = shapes.level_shape(name, width, height)
    except ValueError:
        room = f"{described(width, canvas.design.panel)} by {described(height, canvas.design.panel)}"
        message = f"a {name} of {room} has no room inside"
        raise DesignError(
            [error("A352", message, widget.head, "make its area larger", rests_on=GLASS)]
        ) from None
    left = place.left + (place.width - width) // 2
    top = place.top + (place.height - height) // 2
    inside = shape.inside_box
    within = Box(left + inside.left, top + inside.top, inside.width, inside.height)
    channel = canvas.channel(Channel(value, Scaled(low, (high - low) / within.height, within.height + 1)))
    ink = colouring(widget, value, "accent", canvas)
    inner = canvas.artwork.mask(shape.inside)
    canvas.operations.append(Stencil(within, inner, canvas.artwork.ink("surface")))
    canvas.operations.append(Reveal(within, channel, Axis.UPWARD, 0, inner, ink))
    outline = canvas.artwork.mask(shape.outline)
    canvas.operations.append(Stencil(Box(left, top, width, height), outline, canvas.artwork.ink("quiet")))


def _number(widget: Widget, place: Box, canvas: Canvas) -> Box:
    phrase = widget.one(PhraseKind.FORMAT)
    if phrase is None:
        return place
    assert widget.subject is not None
    height = canvas.capital_height(widget, NUMBER_ARCMIN)
    ends = widget.one(PhraseKind.SCALE)
    number = measured(widget.subject, phrase_text(phrase), phrase.span, height, canvas, ends=ends)
    fit_width(number, place.width, f'the number "{longest(number)}"', phrase.span, canvas)
    left = number_left(number, place, place)
    canvas.fit(number.tall, place.height, "the number", phrase.span, height=True, letters=height)
    foot = foot_room(number, canvas)
    top = place.top + place.height - number.height - foot
    place_number(number, (left, top), number_ink(widget, canvas), phrase.span, canvas)
    rest = inset(place, 0, 0, 0, number.height + foot + canvas.px(GAP_MM))
    why = f"the number below it takes {millimetres(place.height - rest.height, canvas.design.panel)}"
    canvas.fit(canvas.px(6), rest.height, "the level's shape", widget.head, True, least=True, why=why)
    return rest
