"""level: a shape filled in proportion to a value."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, inset, scale
from hmic.arrange.fitting import millimetres
from hmic.arrange.lengths import described
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.widgets.common import (
    Number,
    captioned,
    colouring,
    fit_width,
    foot_room,
    glide_of,
    longest,
    number_ink,
    number_left,
    number_of,
    place_number,
)
from hmic.arrange.widgets.marks import marks_of
from hmic.arrange.widgets.straight_scale import (
    Straight,
    draw_scale,
    room_beside,
    segmented,
    straight_of,
)
from hmic.diagnostics import DesignError, Span, did_you_mean, error
from hmic.language.syntax import PhraseKind, Widget, phrase_kinds
from hmic.model.channels import Channel, Scaled
from hmic.model.design import GLASS
from hmic.paint import shapes
from hmic.paint.narrowing import narrowed
from hmic.paint.operations import Axis, Box, Reveal, Stencil
from hmic.paint.shapes import LevelShape

SUBJECT = SubjectKind.VALUE
PHRASES = phrase_kinds(
    "scale format text font unit decimals called shaped ramp colour above below within beside marks figures "
    "target zone zones segments glides"
)
SHAPES = ("battery", "tank", "box")
# Width to height of the shapes.
ASPECT = {"battery": 0.52, "tank": 0.7, "box": 0.7}
# The most of its place's width that a shape takes, so that it does not shout.
WIDEST = 0.72
NUMBER_ARCMIN = 24
# Between shape and number.
GAP_MM = 2.0
NEAREST_MM = 0.8
LEAST_MM = 6.0


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Caption above, the shape with what stands along it, the number below it or beside."""
    assert widget.subject is not None
    name, span = _shape(widget)
    place = captioned(widget, box, canvas)
    number = number_of(widget, NUMBER_ARCMIN, canvas)
    value = canvas.number(widget.subject)
    ends = scale(widget, value, canvas)
    along = straight_of(widget, value, Axis.UPWARD, marks_of(widget, value, *ends, canvas), canvas)
    left, right, pad = room_beside(along, canvas)
    beside = gap = 0
    if number is not None and widget.one(PhraseKind.BESIDE) is not None:
        gap = _gap(number, canvas)
        beside = number.width + gap
        _fit_beside(number, (left, right), place, span, canvas)
    elif number is not None:
        place = _above(widget, number, place, canvas)
    if left + right + beside + pad:
        least, what = canvas.px(LEAST_MM), "the level with what stands beside it"
        canvas.fit(least + left + right + beside, place.width, what, widget.head, least=True)
        canvas.fit(least + 2 * pad, place.height, what, widget.head, height=True, least=True)
    room = inset(place, left, pad, right + beside, pad)
    panel = canvas.design.panel
    aspect = ASPECT[name] * panel.pitch / panel.pitch_across
    height = min(room.height, int(room.width * (WIDEST if room.width == place.width else 1) / aspect))
    width = int(height * aspect)
    # The whole group in the middle of its place.
    at = place.left + (place.width - left - width - right - beside) // 2 + left
    shape = Box(at, room.top + (room.height - height) // 2, width, height)
    _fill(widget, name, shape, along, canvas)
    if number is not None and beside:
        top = number.standing(Box(0, shape.top, 0, shape.height))
        top = max(place.top + number.above, min(top, place.top + place.height - number.height - number.below))
        put = (shape.left + width + right + gap, top)
        place_number(number, put, number_ink(widget, canvas), span, canvas)


def _shape(widget: Widget) -> tuple[str, Span]:
    """The name of the shape, and where the number's format stands. Raises ``DesignError`` A326."""
    phrase, form = widget.one(PhraseKind.SHAPED), widget.one(PhraseKind.FORMAT)
    name = phrase.words[0] if phrase else "box"
    if name not in SHAPES:
        remedy = did_you_mean(name, SHAPES, "shapes")
        where = phrase.span if phrase is not None else widget.head
        raise DesignError([error("A326", f"there is no level shape '{name}'", where, remedy)])
    return name, form.span if form is not None else widget.head


def _fill(widget: Widget, name: str, box: Box, along: Straight, canvas: Canvas) -> None:
    try:
        shape = _vessel(name, box, canvas)
    except ValueError:
        panel = canvas.design.panel
        room = f"{described(box.width, panel, across=True)} by {described(box.height, panel)}"
        message = f"a {name} of {room} has no room inside"
        raise DesignError(
            [error("A352", message, widget.head, "make its area larger", rests_on=GLASS)]
        ) from None
    inside = shape.inside_box
    within = Box(box.left + inside.left, box.top + inside.top, inside.width, inside.height)
    low, high = along.ends
    steps = Scaled(low, (high - low) / within.height, within.height + 1)
    channel = canvas.channel(Channel(along.value, steps, glide=glide_of(widget, canvas)))
    ink = colouring(widget, along.value, "accent", canvas)
    inner = canvas.artwork.mask(segmented(shape.inside, widget, along, canvas))
    canvas.operations.append(Stencil(within, inner, canvas.artwork.ink(canvas.trough)))
    canvas.operations.append(Reveal(within, channel, Axis.UPWARD, 0, inner, ink))
    outline = canvas.artwork.mask(shape.outline)
    canvas.operations.append(Stencil(box, outline, canvas.artwork.ink("quiet")))
    draw_scale(widget, along, Box(box.left, within.top, box.width, within.height), canvas)


def _vessel(name: str, box: Box, canvas: Canvas) -> LevelShape:
    """The shape, its corners round to the eye. Raises ``ValueError`` where it has no room inside."""
    square = canvas.squared(box.width)
    drawn = shapes.level_shape(name, square, box.height)
    inside = narrowed(drawn.inside, box.width, square)
    left = (box.width - inside.width) // 2
    place = drawn.inside_box._replace(left=left, width=inside.width)
    return LevelShape(narrowed(drawn.outline, box.width, square), inside, place)


def _gap(number: Number, canvas: Canvas) -> int:
    """Between the shape and a number beside it, as most of its range shows it; the rarer longer one comes
    nearer."""
    return max(canvas.px(NEAREST_MM), canvas.px(GAP_MM) - (number.width - number.usual_width))


def _fit_beside(number: Number, sides: tuple[int, int], place: Box, span: Span, canvas: Canvas) -> None:
    """Raises ``DesignError`` A350 or A351 where the number beside it leaves no room for a shape."""
    what, letters = f'the number "{longest(number)}" beside the level', number.height
    least = canvas.px(LEAST_MM) + _gap(number, canvas) + sum(sides)
    canvas.fit(number.width + least, place.width, what, span, letters=letters, fixed=least, shorter="")
    canvas.fit(number.tall, place.height, what, span, height=True, letters=letters)


def _above(widget: Widget, number: Number, place: Box, canvas: Canvas) -> Box:
    """Puts the number below, and gives the place above it."""
    phrase = widget.one(PhraseKind.FORMAT)
    assert phrase is not None
    fit_width(number, place.width, f'the number "{longest(number)}"', phrase.span, canvas)
    left = number_left(number, place, place)
    canvas.fit(number.tall, place.height, "the number", phrase.span, height=True, letters=number.height)
    foot = foot_room(number, canvas)
    top = place.top + place.height - number.height - foot
    place_number(number, (left, top), number_ink(widget, canvas), phrase.span, canvas)
    rest = inset(place, 0, 0, 0, number.height + foot + canvas.px(GAP_MM))
    why = f"the number below it takes {millimetres(place.height - rest.height, canvas.design.panel)}"
    canvas.fit(canvas.px(LEAST_MM), rest.height, "the level's shape", widget.head, True, least=True, why=why)
    return rest
