"""Worlds for hours: ``python -m tests.bench world [--hours N] [--seed S] [--all]``.

Prints simulated hours a second, what was met, and each failing seed with its shortest list of events.
``--seed`` lives one seed; ``--all`` leaves in what is known to go wrong still.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter

from tests.world.demonstrations import tame
from tests.world.plan import KINDS, plan
from tests.world.world import live, shortest

STATES = (
    *("never seen", "stale", "out of range", "live", "link up", "link down"),
    *("RequestMade", "RequestDone", "RequestRefused", "ConfirmAsked", "ScreenChanged"),
    *("R710", "R715", "R731", "R740", "R755"),
)
"""What should be met: how values look, what a host tells, what it finds."""


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
    for name, count in sorted(met.items()):
        print(f"  {name:50}{count:>9}")
    expected = [*STATES, *(f"event {kind}" for kind in KINDS)]
    print("never met: " + (", ".join(name for name in expected if not met[name]) or "nothing"))


if __name__ == "__main__":
    main()
