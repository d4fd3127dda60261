"""Worlds for hours: ``python -m tests.bench world [--hours N] [--seed S] [--all]``.

Prints simulated hours a second, what was met, and each failing seed with its shortest list of events.
``--seed`` lives one seed; ``--all`` leaves in what is known to go wrong still.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter

from hmic.wire.states import DISPLAY, HOST, pairs
from tests.world.demonstrations import tame
from tests.world.plan import KINDS, plan
from tests.world.world import live, shortest, transition

STATES = (
    *("never seen", "stale", "out of range", "live", "link up", "link down", "number read"),
    *("RequestMade", "RequestDone", "RequestRefused", "ConfirmAsked", "ScreenChanged"),
    *("push done", "push in vain", "power cut in a push"),
    *("R710", "R714", "R715", "R717", "R718", "R731", "R740", "R751", "R755"),
)
"""How values look, what a host and a push tell, what a host finds."""
TRANSITIONS = tuple(transition(table, *pair) for table in (HOST, DISPLAY) for pair in pairs(table))
EVENTS = tuple(f"struck by {kind}" for kind in KINDS)
SELDOM = {
    "push in vain": "the line must be gone for 4 s of a push",
    "R714": "of the one message that is counted, the sender must hang",
    "R755": "the disk must be full for two savings of the sums, 10 s apart, while it drives",
    "display in 'met': Greet of another host or session": "a host must end in the ms before its Show",
    "display in 'silent': Show": "a Show must be the first thing on a line that stalls for over a second",
}
"""Why a few hours may not meet it; tests/world/test_seldom.py does."""
IN_VAIN = {
    f"display in '{state}': another pack in use": "a host that pushes by `hmic push` shows nothing"
    for state in ("alone", "showing", "silent")
}
"""Why no world meets it."""


def main() -> None:
    """Seeds from 0 on, or one."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench world")
    parser.add_argument("--hours", type=float, default=0.1, help="simulated hours")
    parser.add_argument("--seed", type=int, help="one seed")
    parser.add_argument("--all", action="store_true", help="with what is known to go wrong")
    given = parser.parse_args()
    met: Counter[str] = Counter()
    begun, hours, failed = time.perf_counter(), 0.0, 0
    seed = 0 if given.seed is None else given.seed
    while hours < given.hours:
        world = plan(seed) if given.all else tame(plan(seed))
        outcome = live(world)
        hours += world.setup.length / 3600
        met += outcome.met
        if outcome.failures:
            failed += 1
            print("\n".join(map(str, outcome.failures)))
            print(shortest(world, {failure.oracle for failure in outcome.failures}))
        seed += 1
        if given.seed is not None:
            break
    seconds = time.perf_counter() - begun
    print(f"{hours:.2f} simulated hours in {seconds:.0f} s: {hours / seconds:.4f} hours a second; "
          f"{failed} of {seed - (given.seed or 0)} worlds failed")  # fmt: skip
    parts = {"events": EVENTS, "states": STATES, "transitions of the wire": TRANSITIONS}
    parts["others"] = tuple(sorted(met.keys() - {name for names in parts.values() for name in names}))
    for part, names in parts.items():
        print(f"{part}, {sum(met[name] > 0 for name in names)} of {len(names)}:")
        for name in names:
            print(f"  {name:60}{met[name] or 'never':>9}")
    never = [name for names in parts.values() for name in names if not met[name]]
    for name in never:
        print(f"never met: {name}: {SELDOM.get(name) or IN_VAIN.get(name) or 'NOT EXPLAINED'}")


if __name__ == "__main__":
    main()
