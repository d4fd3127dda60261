"""Numbers in a sentence: as few figures as say enough, and as many as tell one from another.

A measure beside its limit, both rounded alike, can read "1 mm, limit 1 mm", and a limit that is rounded
the wrong way makes a remedy that does not help. No power of ten is written: ``1234567``, not ``1.2e+06``.
"""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

FIGURES = 6
"""Figures of a number that somebody wrote, or that follows from one."""
MEASURED = 3
"""Figures of a measure."""
EXACT = 17
"""Figures that tell every two floats apart."""


def number(value: float, figures: int = FIGURES) -> str:
    """A number of so many figures at least: what stands before the point is never rounded away."""
    return _rounded(value, figures, ROUND_HALF_EVEN)


def numbers(*values: float) -> tuple[str, ...]:
    """Numbers of one sentence; two that differ look different."""
    wanted = len(set(values))
    for figures in range(FIGURES, EXACT):
        texts = tuple(number(value, figures) for value in values)
        if len(set(texts)) == wanted:
            return texts
    return tuple(number(value, EXACT) for value in values)


def measured_and_limit(measured: float, limit: float) -> tuple[str, str]:
    """A measure and what it is held against: the one reads above, at or below the other as it is."""
    for figures in range(MEASURED, EXACT):
        texts = number(measured, figures), number(limit, max(figures, FIGURES))
        first, second = map(float, texts)
        if (first < second) == (measured < limit) and (first > second) == (measured > limit):
            return texts
    return number(measured, EXACT), number(limit, EXACT)


def at_least(value: float, figures: int = FIGURES) -> str:
    """A number of few figures that is no less, for a remedy."""
    return _rounded(value, figures, ROUND_CEILING)


def at_most(value: float, figures: int = FIGURES) -> str:
    """A number of few figures that is no more."""
    return _rounded(value, figures, ROUND_FLOOR)


def _rounded(value: float, figures: int, way: str) -> str:
    # The shortest decimal of a float is what was written: 0.1, not 0.1000000000000000055.
    exact = Decimal(repr(float(value)))
    if not math.isfinite(value):
        return str(value)
    last = min(0, exact.adjusted() - figures + 1)
    if exact.normalize().as_tuple().exponent >= last:  # type: ignore[operator]
        rounded = exact
    else:
        rounded = exact.quantize(Decimal(1).scaleb(last), way)
    text = f"{rounded:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text
