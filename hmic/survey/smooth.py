"""Fields that no description explains: stretches of whole bytes that move in small steps, and the known
fields that move as they do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from hmic.survey.facts import Likeness, SmoothField

SMOOTH = 0.9
"""Correlation of neighbouring values from which a stretch counts as smooth (common practice, no source)."""
LIKE = 0.95
"""Correlation with a known field from which it is named (common practice, no source)."""
DISTINCT = 8
"""Values that a stretch must have taken."""
NAMED = 3
"""Known fields that are named at most."""
GRID = 400
"""Moments at which two fields are compared."""
_TRACE = 240


@dataclass(frozen=True)
class Known:
    """A field of a description by its trace: times and physical values as arrays."""

    message: str
    field: str
    times: Any
    values: Any


def known_fields(np: Any, traces: Sequence[tuple[str, str, Sequence[tuple[float, float]]]]) -> list[Known]:
    """Those of the traces that move enough to be compared with."""
    known = []
    for message, field, trace in traces:
        if len({value for _, value in trace}) >= DISTINCT:
            times, values = (np.array(each) for each in zip(*trace, strict=True))
            known.append(Known(message, field, times, values))
    return known


def smooth_fields(
    np: Any, kept: Sequence[tuple[float, bytes]], taken: set[int], known: Sequence[Known]
) -> tuple[SmoothField, ...]:
    """The smooth stretches of an identifier's frames; ``taken`` are bytes that are explained, count or
    guard."""
    size = min((len(frame) for _, frame in kept), default=0)
    if size == 0 or len(kept) < 4 * DISTINCT:
        return ()
    times = np.array([at for at, _ in kept])
    data = np.array([list(frame[:size]) for _, frame in kept], dtype=np.int64)
    found: list[tuple[float, int, int, bool]] = []
    for byte in range(size):
        if byte in taken:
            continue
        found.append((_smoothness(np, data[:, byte]), byte, 1, False))
        if byte + 1 < size and byte + 1 not in taken:
            for big in (True, False):
                high, low = (byte, byte + 1) if big else (byte + 1, byte)
                # Both halves must move: else it is a field of one byte beside a constant.
                if len(np.unique(data[:, high])) > 1 and len(np.unique(data[:, low])) >= DISTINCT:
                    score = _smoothness(np, data[:, high] * 256 + data[:, low])
                    # A longer one explains more: it wins over its halves when it is as smooth.
                    found.append((score + 0.02, byte, 2, big))
    fields: list[SmoothField] = []
    used = set(taken)
    for score, byte, count, big in sorted(found, key=lambda each: (-each[0], each[1])):
        if score < SMOOTH or used & set(range(byte, byte + count)):
            continue
        used |= set(range(byte, byte + count))
        fields.append(_field(np, times, data, byte=byte, count=count, big=big, known=known))
    return tuple(sorted(fields, key=lambda each: each.byte))


def _smoothness(np: Any, values: Any) -> float:
    """The correlation of each value with the next; 0 for what hardly moves."""
    if len(np.unique(values)) < DISTINCT:
        return 0.0
    before, after = values[:-1], values[1:]
    if before.std() == 0 or after.std() == 0:
        return 0.0
    return float(np.corrcoef(before, after)[0, 1])


def _field(
    np: Any, times: Any, data: Any, *, byte: int, count: int, big: bool, known: Sequence[Known]
) -> SmoothField:
    columns = range(byte, byte + count) if big else range(byte + count - 1, byte - 1, -1)
    values = np.zeros(len(data), np.int64)
    for column in columns:
        values = values * 256 + data[:, column]
    step = max(1, len(values) // _TRACE)
    trace = tuple((float(at), float(value)) for at, value in zip(times[::step], values[::step], strict=True))
    low, high = int(values.min()), int(values.max())
    return SmoothField(byte, count, big, low, high, trace, _likenesses(np, times, values, known))


def _likenesses(np: Any, times: Any, values: Any, known: Sequence[Known]) -> tuple[Likeness, ...]:
    found = []
    for each in known:
        first, last = max(times[0], each.times[0]), min(times[-1], each.times[-1])
        if last <= first:
            continue
        grid = np.linspace(first, last, GRID)
        mine, other = np.interp(grid, times, values), np.interp(grid, each.times, each.values)
        if mine.std() == 0 or other.std() == 0:
            continue
        coefficient = float(np.corrcoef(mine, other)[0, 1])
        if abs(coefficient) >= LIKE:
            scale, offset = np.polyfit(mine, other, 1)
            found.append(Likeness(each.message, each.field, coefficient, float(scale), float(offset)))
    return tuple(sorted(found, key=lambda each: -abs(each.coefficient))[:NAMED])
