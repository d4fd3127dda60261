"""From a compiled design to what the runtime needs of it."""

from __future__ import annotations

from hmic.cli.compiling import Compiled
from hmic.pack.records import identity
from hmic.pack.writer import write
from hmic.paint.operations import Figures, ScreenDrawing, channels_of
from hmic.runtime.binding import BoundDesign, BoundScreen


def bind(compiled: Compiled) -> BoundDesign:
    """The bound design, with the identity of the pack that `hmic build` makes of it."""
    arranged = compiled.arranged
    screens = tuple(
        BoundScreen(
            screen.name,
            drawn.channels,
            screen.zones,
            screen.swipes,
            screen.rises,
            screen.yields_when_acknowledged,
            calm(drawn),
        )
        for screen, drawn in zip(arranged.screens, arranged.drawing.screens, strict=True)
    )
    return BoundDesign(compiled.design, arranged.channels, screens, identity(write(arranged.drawing)))


def calm(screen: ScreenDrawing) -> frozenset[int]:
    """The channels of a screen that feed figures and nothing that moves or is coloured by them."""
    figures: set[int] = set()
    others: set[int] = set()
    for operation in screen.operations:
        if isinstance(operation, Figures):
            figures.add(operation.channel)
            others.add(operation.ink.tint)
            others.update((operation.when.channel,) if operation.when else ())
        else:
            others.update(channels_of(operation))
    return frozenset(figures - others)
