"""Which screen a driver saw at a moment of a log or record, and how that is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from hmic.compile.compiling import Compiled
from hmic.language.spelling import written
from hmic.model.expressions import joined
from hmic.runtime.binding import BoundDesign
from hmic.runtime.retrace import Moment, Sighting, as_seen


@dataclass(frozen=True)
class Found:
    """What to paint and where it is from: ``exact`` as the display had it, ``recorded`` where the
    screen in sight at least is known."""

    screen: int
    theme: int
    raw: tuple[int, ...]
    source: str
    exact: bool
    recorded: bool


def found(bound: BoundDesign, then: Moment, wanted: int | None) -> Found:
    """What the display had, or what follows from what had come."""
    names = [screen.name for screen in bound.screens]
    seen = None if then.seen is None else as_seen(bound, then.seen)
    if seen is not None and wanted in (None, seen[0]):
        return Found(*seen, "as the display had it", True, True)
    source = "worked out from what had come"
    if then.seen is not None and seen is None:
        source += f"; the display had pack {then.seen.pack}, the design builds to another now"
    recorded = then.seen is not None and then.seen.screen in names
    if then.seen is not None and recorded:
        in_sight = names.index(then.seen.screen)
    else:
        in_sight = then.sightings[-1].screen
    screen = in_sight if wanted is None else wanted
    return Found(screen, seen[1] if seen is not None else then.theme, then.raw, source, False, recorded)


def why(compiled: Compiled, names: Sequence[str], sightings: Sequence[Sighting]) -> str:
    """Which screen was in sight by a log without touches, why, and what such a log cannot know."""
    now = sightings[-1]
    name = f"'{names[now.screen]}'"
    if now.causes:
        known = f"{name}, which came up by itself at {clock_text(now.at)}{_causes(compiled, names, now)}"
        stays = compiled.arranged.screens[now.screen].yields_when_acknowledged
        doubt = "somebody may have acknowledged it by then" if stays else "somebody may have gone to another"
    elif len(sightings) > 1:
        before = sightings[-2]
        span = f"from {clock_text(before.at)} to {clock_text(now.at)}{_causes(compiled, names, before)}"
        known = f"{name}, the start screen, again: '{names[before.screen]}' was {span}"
        doubt = "somebody may have chosen another"
    else:
        known = f"{name}, the start screen: none had come up by itself"
        doubt = "somebody may have chosen another"
    return f"  in sight: {known}\n  not known: this log holds no touches; {doubt}, and --screen shows it"


def _causes(compiled: Compiled, names: Sequence[str], sighting: Sighting) -> str:
    rises = compiled.design.screens[names[sighting.screen]].rises
    if rises is None:
        return ""
    causes = [written(cause) for cause in joined(rises, "or")]
    return ", for `" + "` and `".join(causes[number] for number in sighting.causes) + "`"


def clock_text(at: float) -> str:
    """Seconds of a run as minutes:seconds, never later than they are: the end of a log can be asked for."""
    hundredths = math.floor(at * 100 + 1e-6)
    return f"{hundredths // 6000}:{hundredths // 100 % 60:02}.{hundredths % 100:02}"
