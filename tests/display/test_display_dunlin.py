"""The display, fed by bytes alone, shows the preview's picture pixel for pixel."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path

import pytest
from PIL import ImageChops

from hmic.compile.compiling import Compiled, compile_design
from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.model.design import Design, SignalDefinition
from hmic.model.expressions import Doubt, Scalar, Value
from hmic.model.samples import sample_values
from hmic.pack.writer import write
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from hmic.show.screens import raw_values
from hmic.wire.host_session import HostSession

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
STATES = 100
STEP = 0.01


@cache
def dunlin() -> Compiled:
    compiled = compile_design(DUNLIN)
    assert isinstance(compiled, Compiled), compiled
    return compiled


def random_scalar(definition: SignalDefinition, chance: random.Random) -> Scalar | Doubt:
    if chance.random() < 0.15:
        return chance.choice(list(Doubt))
    if definition.kind == "number":
        return chance.uniform(definition.low, definition.high)
    if definition.kind == "flag":
        return chance.random() < 0.5
    if definition.kind == "word":
        return chance.choice(sorted(definition.words.values()))
    return "Shingle at dawn"


def random_values(design: Design, chance: random.Random) -> dict[str, Value]:
    values = sample_values(design)
    for name, definition in design.signals.items():
        if definition.derived is not None:
            continue
        if definition.count is None:
            values[name] = random_scalar(definition, chance)
        else:
            values[name] = tuple(random_scalar(definition, chance) for _ in range(definition.count))
    return values


@cache
def states() -> list[tuple[int, ...]]:
    """Raw values of all channels in random states, the same for every screen and theme."""
    chance, compiled = random.Random(20), dunlin()
    return [raw_values(compiled, random_values(compiled.design, chance)) for _ in range(STATES)]


class Line:
    """A host and a display joined without loss, on a clock that the test moves."""

    def __init__(self, compiled: Compiled) -> None:
        drawing = compiled.arranged.drawing
        self.now = 0.0
        self.host = HostSession(1, 1e6)
        self.display = Display(MemoryFlash(), Glass(drawing.width, drawing.height, drawing.depth), 2)
        assert self.display.install(write(drawing)), self.display.refusal

    def settle(self) -> None:
        """Runs until both ends have been quiet for a while."""
        quiet = 0
        for _ in range(3000):
            self.now += STEP
            to_display = self.host.outgoing(self.now)
            self.display.receive(to_display, self.now)
            to_host = self.display.outgoing(self.now)
            self.host.receive(to_host, self.now)
            quiet = 0 if to_display or to_host else quiet + 1
            if quiet >= 3:
                return
        raise AssertionError("the line never became quiet")


@pytest.mark.usefixtures("either_display")
@pytest.mark.parametrize("screen", range(len(dunlin().arranged.drawing.screens)))
@pytest.mark.parametrize("theme", range(len(dunlin().arranged.drawing.themes)))
def test_the_display_shows_the_preview(screen: int, theme: int) -> None:
    compiled = dunlin()
    drawing = compiled.arranged.drawing
    painter = Painter(drawing)
    line = Line(compiled)
    channels = drawing.screens[screen].channels
    line.host.show(screen, theme, 100, len(channels))
    for state, raw in enumerate(states()):
        line.host.update([raw[number] for number in channels], line.now)
        line.settle()
        clock = int(line.now * 1000)
        shown = line.display.image(line.now)
        wanted = painter.paint(Moment(screen, theme, raw, clock))
        difference = ImageChops.difference(shown, wanted).getbbox()
        assert difference is None, f"state {state} differs within {difference}"


@pytest.mark.usefixtures("either_display")
def test_silence_of_the_host_shows_every_bound_value_as_stale() -> None:
    compiled = dunlin()
    drawing = compiled.arranged.drawing
    screen = [one.name for one in drawing.screens].index("drive")
    line = Line(compiled)
    channels = drawing.screens[screen].channels
    raw = raw_values(compiled, sample_values(compiled.design))
    line.host.show(screen, 0, 100, len(channels))
    line.host.update([raw[number] for number in channels], line.now)
    line.settle()
    live = line.display.image(line.now)
    line.now += 1.6
    line.display.tick(line.now)
    stale = line.display.image(line.now)
    wanted = Painter(drawing).paint(Moment(screen, 0, (1,) * len(drawing.channels), int(line.now * 1000)))
    assert ImageChops.difference(live, stale).getbbox() is not None
    assert ImageChops.difference(stale, wanted).getbbox() is None
