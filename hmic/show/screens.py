"""Pictures of a design's screens, exactly as a display would paint them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from PIL.Image import Image

from hmic.check.eye import as_seen, seen_at
from hmic.check.finding_places import left_empty, places
from hmic.check.light import Condition, light
from hmic.compile.compiling import Compiled
from hmic.diagnostics import Finding
from hmic.model.channels import Channel, FirstTrue, Scaled, raw_value
from hmic.model.expressions import Value, ValueKind
from hmic.model.limits import Limits
from hmic.model.samples import lookup
from hmic.model.touch_progress import TouchState
from hmic.paint.operations import LIVE, STALE, Moment
from hmic.paint.painter import Painter
from hmic.show.marking import behind_round_glass, lettering, marked, with_gaps

Brush = Callable[[Moment], Image]
Finish = Callable[[Image, int, int], Image]
"""What becomes of the picture of a screen in a theme, both by their number."""


def brush(compiled: Compiled) -> Brush:
    """What paints a moment; where an error left a place empty, that is seen."""
    painter = Painter(compiled.arranged.drawing)
    themes = compiled.design.themes
    empty = [left_empty(compiled.findings, screen) for screen in compiled.arranged.screens]
    panel = compiled.design.panel

    def paint(moment: Moment) -> Image:
        picture = painter.paint(moment)
        if panel.round:
            picture = behind_round_glass(picture)
        gaps = empty[moment.screen]
        if not gaps:
            return picture
        roles = themes[moment.theme].roles
        return with_gaps(picture, gaps, roles["ground"], roles["stale"])

    return paint


def finisher(
    compiled: Compiled,
    *,
    framed: Sequence[Finding] = (),
    vision: str | None = None,
    condition: Condition | None = None,
) -> Finish:
    """Frames with numbers from 1 where the findings are; then as an eye of that ``vision`` sees it; then as
    it reaches the eye in that light: in this order, and only what is given."""
    limits = Limits(compiled.design)

    def finish(picture: Image, screen: int, theme: int) -> Image:
        if framed:
            facts = compiled.arranged.screens[screen]
            picture = marked(picture, places(framed, facts), lettering(compiled.design))
        if vision:
            picture = as_seen(picture, vision)
        if condition:
            lit = light(compiled.design.themes[theme], condition, limits)
            picture = seen_at(picture, lit, limits)
        return picture

    return finish


def raw_values(compiled: Compiled, values: dict[str, Value], touch: str = TouchState.IDLE) -> tuple[int, ...]:
    """The raw value of every channel for these signal values, every touch in one state."""
    find = lookup(compiled.design, values, touch)
    return tuple(_raw(channel, raw_value(channel, find)) for channel in compiled.arranged.channels)


def _raw(channel: Channel, now: int) -> int:
    """A chart has no past here: it gets a wave that ends at the value now, with a gap."""
    kept = channel.kept
    if kept is None or now < LIVE:
        return now
    # Another wave for each trace, so that they can be told apart.
    phase = channel.steps.low % 7 if isinstance(channel.steps, Scaled) else 0.0
    age = (kept.slots - 1 - kept.slot) / kept.slots
    if 0.40 < age < 0.43:
        return STALE
    count = channel.steps.count
    wave = math.sin(age * (7 + phase)) * math.cos(age * 5) + age * math.sin(age * (25 + 2 * phase)) / 3
    return LIVE + min(max(round(now - LIVE + wave * count / 4), 0), count - 1)


def fault_values(compiled: Compiled, values: dict[str, Value]) -> dict[str, Value]:
    """The values with every flag on, and a number at an end of its range where that lights what has a
    state and none yet."""
    signals = compiled.design.signals
    flags = [name for name, each in signals.items() if each.kind == ValueKind.FLAG and each.count is None]
    faulty: dict[str, Value] = values | dict.fromkeys(flags, True)
    for channel in compiled.arranged.channels:
        steps = channel.steps
        if not isinstance(steps, FirstTrue):
            continue
        find = lookup(compiled.design, faulty)
        if any(condition.evaluate(find) is True for condition in steps.conditions):
            continue
        read = sorted({name for condition in steps.conditions for name in condition.signals} & values.keys())
        known = [signals[name] for name in read if name in signals]
        numbers = [signal for signal in known if signal.kind == ValueKind.NUMBER]
        ends = [(of.name, end) for of in numbers if of.count is None for end in (of.high, of.low)]
        for name, end in ends:
            tried = faulty | {name: end}
            if any(
                condition.evaluate(lookup(compiled.design, tried)) is True for condition in steps.conditions
            ):
                faulty = tried
                break
    return faulty
