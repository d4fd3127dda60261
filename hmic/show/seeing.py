"""How a page shows a picture as an eye gets it, and what it measures on it: numbers, so that it needs no
formulas of its own."""

from __future__ import annotations

from functools import cache

from hmic.check.colour import encoded, linear
from hmic.check.contrast import Measure, measures
from hmic.check.eye import EYES, codes_at, rows_of
from hmic.check.light import PHRASES, Condition, light
from hmic.check.painted import Painted
from hmic.compile.compiling import Compiled
from hmic.model.limits import Limits

KINDS = {"C420": "text", "C421": "symbol", "C422": "filled place", "C423": "text on the hatch"}


def lens(compiled: Compiled) -> dict[str, object]:
    """Tables of ``check.eye``: linear light of each code, the least light of each code from 1 on, what each
    eye makes of linear red, green and blue, and for each theme and light the codes and the surroundings."""
    limits = Limits(compiled.design)
    themes = []
    for theme in compiled.design.themes:
        seen = {each.value: codes_at(light(theme, each, limits), limits) for each in Condition}
        themes.append({name: {"codes": codes, "rim": rim} for name, (codes, rim) in seen.items()})
    return {
        "linear": [linear(code) for code in range(256)],
        "least": _least(),
        "eyes": {eye: rows_of(eye) for eye in EYES},
        "themes": themes,
    }


@cache
def _least() -> tuple[float, ...]:
    """For each code from 1 on the least light that is encoded to it, by halving."""
    found = []
    for code in range(1, 256):
        below, reached = 0.0, 1.0
        while below < (middle := (below + reached) / 2) < reached:
            below, reached = (below, middle) if encoded(middle) >= code else (middle, reached)
        found.append(reached)
    return tuple(found)


def contrasts(compiled: Compiled, screen: int) -> list[dict[str, object]]:
    """For each place of a screen, theme, light and kind of ink the least contrast of its states, as it is
    measured by the checks, and its limit."""
    limits = Limits(compiled.design)
    painted = Painted(compiled.arranged, screen)
    names = [theme.name for theme in compiled.design.themes]
    worst: dict[tuple[object, ...], Measure] = {}
    for measure in measures(compiled.design, limits, painted):
        place = measure.piece.first if measure.piece is not None else -1 - measure.index
        key = (place, measure.light.theme, measure.light.condition, measure.code)
        held = worst.get(key)
        if held is None or measure.ratio < held.ratio:
            worst[key] = measure
    found: list[dict[str, object]] = []
    for each in worst.values():
        box = each.piece.box if each.piece is not None else painted.operations[each.index].box
        limit = limits[each.limit]
        found.append(
            {
                "box": [*box],
                "theme": names.index(each.light.theme),
                "what": KINDS[each.code] + (" in doubt" if each.pair.doubt else ""),
                "when": PHRASES[each.light.condition],
                "ratio": each.ratio,
                "limit": limit.value,
                "source": f"{limit.source} ({limit.basis})",
            }
        )
    return found
