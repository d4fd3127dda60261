"""Units: a small exact table."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Unit:
    """``base = value * factor + offset`` in the base unit of ``dimension``.

    ``dimension`` holds the exponents of (length, mass, time, current, temperature, angle-free
    light); two units convert when these are equal.
    """

    spelling: str
    dimension: tuple[int, ...]
    factor: Fraction
    offset: Fraction
