"""Power cut at every flash operation of pushes over the line: ``python -m tests.bench cuts``."""

from __future__ import annotations

from hmic.display.display import Display
from tests.display import power_cuts
from tests.display.power_cuts import PUSHES, WAYS, cut_everywhere
from tests.tools.player_display import PlayerDisplay


def main() -> None:
    """The software display, then the player."""
    for kind in (Display, PlayerDisplay):
        power_cuts.Display = kind  # type: ignore[misc, assignment]
        print(f"\n{kind.__name__}")
        table()


def table() -> None:
    """One line for each kind of push and of cut; an AssertionError names a cut that was not survived."""
    print(f"{'push':14}{'cut':10}{'cuts':>7}{'old':>7}{'new':>7}{'pushed after':>14}")
    total = 0
    for push in PUSHES:
        for way in WAYS:
            counts = cut_everywhere(push, way)
            total += counts["cuts"]
            print(
                f"{push:14}{way:10}{counts['cuts']:>7}{counts['came up old']:>7}{counts['came up new']:>7}"
                f"{counts['pushes after']:>14}",
                flush=True,
            )
    print(f"{total} cuts, none with neither pack, every push after a cut went through")


if __name__ == "__main__":
    main()
