"""The oracle for "nothing grows": what a run and a display hold, weighed while a calm world goes on for long.

Weighed is all that can be reached from the loop, the display and hmic's modules and classes, so that caches
count; what belongs to the world itself does not.
"""

from __future__ import annotations

import gc
import sys
from collections import Counter
from itertools import pairwise
from types import BuiltinFunctionType, FrameType, FunctionType, ModuleType
from typing import Any

from hmic.runtime.taking import Taken
from tests.world.plan import Plan, Setup, event
from tests.world.world import World

SETTLED = 30.0
"""Seconds until all that is kept for a while is there: requests, marks, queues, a record."""
WINDOW = 60.0
LOOKS, APART = 5, 0.9
"""What is under way comes and goes, much of it four times a second: the least of so many looks, so many
seconds apart, is what is held."""
SLACK = 512
"""Bytes that a count may gain as it takes another digit."""
_APART = (ModuleType, BuiltinFunctionType, FrameType)


def calm(windows: int = 2, window: float = WINDOW, shape: int = 107, **given: Any) -> Plan:
    """Driving and fingers, and no trouble."""
    length = SETTLED + windows * window + LOOKS + 2.0
    drives = [event(float(at), "drive", 8.0) for at in range(4, int(length), 20)]
    taps = [event(3.0 + 3.1 * at, "tap", 0.1, zone=at) for at in range(int(length / 3.1) - 1)]
    order = sorted([*drives, *taps], key=lambda each: each.at)
    return Plan(1, Setup(shape, length=length, **given), tuple(order))


def weighed(roots: list[Any]) -> Counter[str]:
    """Bytes by type of all that these hold."""
    seen: set[int] = set()
    held: Counter[str] = Counter()
    waiting = list(roots)
    while waiting:
        found = waiting.pop()
        if id(found) in seen or isinstance(found, _APART) or _of_the_world(found):
            continue
        seen.add(id(found))
        if isinstance(found, Taken):
            # The values of a field that are remembered begin anew after so many, by a test of their own.
            waiting += [part for part in found if part is not found.known]
            continue
        if isinstance(found, FunctionType):
            waiting += [found.__closure__, found.__defaults__, found.__kwdefaults__, found.__dict__]
            continue
        if isinstance(found, type):
            if found.__module__.startswith("hmic"):
                waiting += list(vars(found).values())
            continue
        held[f"{type(found).__module__}.{type(found).__qualname__}"] += sys.getsizeof(found, 0)
        waiting += gc.get_referents(found)
    return held


def _of_the_world(found: Any) -> bool:
    return type(found).__module__.startswith(("tests.", "unittest", "can.", "cantools"))


def _roots(world: World) -> list[Any]:
    modules = [vars(module) for name, module in list(sys.modules.items()) if name.split(".")[0] == "hmic"]
    parts: list[Any] = [value for each in modules for key, value in each.items() if not key.startswith("__")]
    parts += [host.loop for host in world.hosts.values()]
    if world.player is not None:
        parts.append(world.player.display)
    return parts


def grown(plan: Plan, window: float = WINDOW) -> list[str]:
    """What was held more at the end of every window than at its begin, or nothing; and what else an oracle
    said of this world."""
    world = World(plan)
    looks: list[list[Counter[str]]] = []

    def look(number: int) -> None:
        gc.collect()
        while len(looks) <= number:
            looks.append([])
        looks[number].append(weighed(_roots(world)))

    windows = int((plan.setup.length - SETTLED) / window)
    for number in range(windows + 1):
        for at in range(LOOKS):
            world.at(SETTLED + number * window + at * APART, lambda number=number: look(number))  # type: ignore[misc]
    outcome = world.live()
    return [*map(str, outcome.failures), *_more(looks)]


def _more(looks: list[list[Counter[str]]]) -> list[str]:
    least = [min(sum(each.values()) for each in window) for window in looks]
    gains = [after - before for before, after in pairwise(least)]
    if min(gains) <= SLACK:
        return []
    first, last = looks[0][0], looks[-1][0]
    more = sorted(((last[name] - first[name], name) for name in last), reverse=True)[:4]
    said = ", ".join(f"{name} by {by}" for by, name in more if by > 0)
    return [f"held bytes grow, by window: {gains}; of them {said}"]


if __name__ == "__main__":
    for kind in ("socket", "bare"):
        print(kind, grown(calm(windows=10, adapter=kind)) or "nothing grows")
