"""How the work of a thing grows with its size, in time of the processor, which other work of the computer
hardly changes."""

from __future__ import annotations

import time
from collections.abc import Callable

TIMES = 8
"""How much larger the large case of a comparison is."""
LINEAR = 2.5 * TIMES
"""Work that grows by more is not linear: quadratic work grows by 64. Caches and memory cost some."""
LEAST = 0.004
"""Seconds: the clock and the computer's other work make anything shorter this long."""


AGAIN = 3
"""Comparisons at most: caches that other work shares may spoil one."""


def growth(work: Callable[[int], object], size: int, tries: int = 2) -> float:
    """How many times as long the work takes for ``TIMES`` the size."""
    least = float("inf")
    for _ in range(AGAIN):
        least = min(least, _seconds(work, TIMES * size, tries) / max(LEAST, _seconds(work, size, tries)))
        if least < LINEAR:
            break
    return least


def _seconds(work: Callable[[int], object], size: int, tries: int) -> float:
    best = float("inf")
    for _ in range(tries):
        start = time.process_time()
        work(size)
        best = min(best, time.process_time() - start)
    return best
