"""Which screens are reached from the first, and by how many touches and swipes."""

from __future__ import annotations

from hmic.arrange.compose import Arranged
from hmic.model.actions import GoTo
from hmic.model.design import Design


def touches_away(design: Design, arranged: Arranged, *, moving: bool = False) -> dict[str, int]:
    """For each screen that can be reached the fewest touches and swipes from the first. ``moving``: by ways
    that are open whatever the vehicle does."""
    by_name = {screen.name: screen for screen in arranged.screens}
    order = [name for name in design.order if name in by_name]
    away = {design.start: 0}
    rest = [design.start]
    while rest:
        name = rest.pop(0)
        targets = [target for _, target in by_name[name].swipes]
        targets += [
            zone.action.screen
            for zone in by_name[name].zones
            if isinstance(zone.action, GoTo) and not (moving and zone.allowed is not None)
        ]
        if name in order:
            place = order.index(name)
            targets += order[max(0, place - 1) : place] + order[place + 1 : place + 2]
        for target in targets:
            if target not in away:
                away[target] = away[name] + 1
                rest.append(target)
    return away


def reachable(design: Design, arranged: Arranged) -> set[str]:
    """Screens that can be opened from the first by touches and swipes, whatever the vehicle does."""
    return set(touches_away(design, arranged, moving=True))
