"""A symbol that turns with a value: the bar of a valve."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas
from hmic.arrange.widgets.needles import baton
from hmic.language.syntax import PhraseKind, Widget
from hmic.model.channels import Channel, Listed, Scaled
from hmic.model.values import ValueKind
from hmic.paint import shapes
from hmic.paint.operations import LARGEST_POINTER, Box, Pointer, Stencil


def valve(widget: Widget, box: Box, canvas: Canvas) -> Box:
    """A round valve whose bar turns from across its pipes (first word, or low end) to along them (last): they
    lie, unless they all come from above or below. Gives its box."""
    phrase = widget.one(PhraseKind.TURNED)
    assert phrase is not None
    typed = canvas.typed(phrase.values[0])
    side = (min(box.width, box.height, LARGEST_POINTER) - 1) | 1
    place = Box(box.left + (box.width - side) // 2, box.top + (box.height - side) // 2, side, side)
    steps: Listed | Scaled
    if typed.kind == ValueKind.WORD:
        steps = Listed(typed.words)
    elif typed.kind == ValueKind.FLAG:
        steps = Listed((False, True))
    else:
        number = canvas.number(phrase.values[0])
        steps = Scaled(number.low, (number.high - number.low) / 18, 19)
    channel = canvas.channel(Channel(typed, steps))
    thick = max(2, canvas.px(0.7))
    disc = canvas.artwork.mask(shapes.disc(side))
    canvas.operations.append(Stencil(place, disc, canvas.artwork.ink("surface")))
    ring = canvas.artwork.mask(shapes.ring(side, thick))
    canvas.operations.append(Stencil(place, ring, canvas.artwork.inks(["ink"] * steps.count, channel)))
    radius = side // 2
    turn = max(1, steps.count - 1)
    reach = radius - thick
    named = widget.one(PhraseKind.NAMED)
    across = 90 if named is not None and named.words[0] in canvas.upright else 0
    bearings = [(across * turn + i * 90) * 16 // turn for i in range(steps.count)]
    bar = baton(radius, bearings, reach, thick, reach)
    canvas.operations.append(Pointer(place, channel, canvas.artwork.outline(bar), canvas.artwork.ink("ink")))
    return place
