"""Expressions typed by unit, and their evaluation with doubt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

from hmic.model.units import Unit


class Doubt(IntEnum):
    """Why a value cannot be shown. The numbers are the raw values on the wire."""

    UNSEEN = 0
    STALE = 1
    OUT_OF_RANGE = 2


Scalar = float | bool | str
Value = Scalar | tuple["Scalar | Doubt", ...] | Doubt
Lookup = Callable[[str], Value]


@dataclass(frozen=True)
class Typed:
    """An expression whose units have been checked.

    ``kind`` is ``number``, ``flag``, ``word`` or ``text``; ``count`` the length if an array.
    Numbers come out in ``unit``. ``low`` and ``high`` bound what a number can be, from the
    ranges of its signals (infinite where nothing bounds it). ``words`` are the words it can be.
    ``signals`` names every signal it reads. ``evaluate`` takes a lookup of signal values in their
    declared units and never raises: a missing value or a division by zero comes out as ``Doubt``.
    """

    kind: str
    unit: Unit | None
    count: int | None
    low: float
    high: float
    words: tuple[str, ...]
    signals: frozenset[str]
    evaluate: Callable[[Lookup], Value]
