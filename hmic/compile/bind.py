"""From a compiled design to what the runtime needs of it."""

from __future__ import annotations

from dataclasses import replace

from hmic.check.budget import calm_channels, declared, prompt_channels, screen_moves
from hmic.compile.compiling import Compiled
from hmic.pack.records import identity
from hmic.runtime.binding import BoundDesign, BoundScreen
from hmic.runtime.from_dbc import received, sent
from hmic.runtime.host_file import Host, run_needs


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
            calm_channels(drawn, declared(screen, drawn)),
            prompt_channels(declared(screen, drawn)),
            screen_moves(drawn, [arranged.channels[at] for at in drawn.channels]).moving,
        )
        for screen, drawn in zip(arranged.screens, arranged.drawing.screens, strict=True)
    )
    return BoundDesign(compiled.design, arranged.channels, screens, identity(compiled.pack))


def host_of(compiled: Compiled) -> Host:
    """All that a run of the design needs, and no more: what a host file holds. Raises DesignError: R701, R705
    to R708."""
    bound, design = bind(compiled), compiled.design
    return Host(replace(bound, design=run_needs(design)), received(design), sent(design), compiled.pack)
