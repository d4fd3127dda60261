"""Counters and checksums that fit what came, of the kinds that ``messages:`` in signals.yaml knows."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from hmic.model.checksums import NAMED, Crc8, Method, Plain, crc_table, reflected_byte
from hmic.survey.facts import ChecksumFound, CounterFound

FIRST = 320
"""Frames in which a fit is first looked for; what fits is then followed through all. A counter of a byte
comes round within them."""
HOLDS = 0.98
"""Share of the frames that must fit: a recording loses some."""
FEWEST = 6
"""Values that a byte must take to be looked at as a checksum."""
SEARCHED = 48
"""Frames in which a CRC of any polynomial is looked for."""
_LENGTHS = (2, 3, 4, 8)
_POLYNOMIALS = range(3, 256, 2)


class Guards:
    """The counters and checksums of one identifier, followed through its frames."""

    def __init__(self, identifier: int) -> None:
        self._identifier = identifier
        self._counters: dict[tuple[int, int], list[int]] | None = None
        self._checksums: dict[tuple[int, Method, bool], list[int]] | None = None
        self._last: Any = None
        self._size = 0

    def cut(self) -> None:
        """The next frame follows none."""
        self._last = None

    def take(self, np: Any, data: Any) -> None:
        """More frames of one length, in order, as rows of bytes."""
        if self._counters is not None and data.shape[1] != self._size:
            return
        if self._counters is None:
            if len(data) < 8:
                return
            self._size = data.shape[1]
            sample = data[:FIRST]
            self._counters = {place: [0, 0, *ends, 0] for place, ends in _counting(np, sample).items()}
            self._checksums = {each: [0, 0] for each in _fitting(np, sample, self._identifier)}
        whole = data if self._last is None else np.vstack([self._last, data])
        for (start, length), tally in self._counters.items():
            values = _bits(whole, start, length)
            held = _steps(values, tally[2], tally[3])
            tally[0] += int(held.sum())
            tally[1] += len(held)
            tally[4] += int((values[1:] == values[:-1]).sum())
        for (byte, method, with_identifier), tally in (self._checksums or {}).items():
            found = _worked_out(np, data, byte, method, self._identifier if with_identifier else None)
            tally[0] += int((found == data[:, byte]).sum())
            tally[1] += len(data)
        self._last = data[-1:]

    def counters(self) -> tuple[CounterFound, ...]:
        """Those that held, the longest at each place."""
        held = [
            CounterFound(start, length, low, high, held, steps, still)
            for (start, length), (held, steps, low, high, still) in (self._counters or {}).items()
            if steps and held >= HOLDS * steps
        ]
        held.sort(key=lambda each: (-each.length, each.start))
        kept: list[CounterFound] = []
        for each in held:
            bits = set(range(each.start, each.start + each.length))
            if all(bits.isdisjoint(range(other.start, other.start + other.length)) for other in kept):
                kept.append(each)
        return tuple(sorted(kept, key=lambda each: each.start))

    def checksums(self) -> tuple[ChecksumFound, ...]:
        """Those that held, at most one method for each byte: the first of several that fit alike."""
        found: dict[int, ChecksumFound] = {}
        for (byte, method, with_identifier), (held, frames) in (self._checksums or {}).items():
            if frames and held >= HOLDS * frames and held > (found[byte].held if byte in found else 0):
                found[byte] = ChecksumFound(byte, method, with_identifier, held, frames)
        # Each byte is the exclusive or of the others then; by custom the last one is meant.
        by_xor = [byte for byte in sorted(found) if found[byte].method == Plain.XOR]
        return tuple(found[byte] for byte in sorted(found) if byte not in by_xor[:-1])


def _bits(data: Any, start: int, length: int) -> Any:
    return data[:, start // 8] >> start % 8 & (1 << length) - 1


def _steps(values: Any, low: int, high: int) -> Any:
    """Whether each value follows the one before."""
    before, after = values[:-1].astype(int), values[1:].astype(int)
    return (after == before + 1) | ((before == high) & (after == low))


def _counting(np: Any, data: Any) -> dict[tuple[int, int], tuple[int, int]]:
    """Places that count in these frames, with their ends."""
    found = {}
    for byte in range(data.shape[1]):
        for length in _LENGTHS:
            for start in range(0, 9 - length):
                values = _bits(data, 8 * byte + start, length)
                low, high = int(values.min()), int(values.max())
                held = _steps(values, low, high)
                if high - low < 2 or held.sum() < 0.9 * len(held):
                    continue
                # The highest bit must move: else it is a shorter one, or a byte that has not come round.
                if high >= 1 << length - 1:
                    found[8 * byte + start, length] = (low, high)
                elif length == 8 and high - low > 32 and not (values[1:] < values[:-1]).any():
                    found[8 * byte + start, length] = (0, 255)
    return found


def _fitting(np: Any, data: Any, identifier: int) -> list[tuple[int, Method, bool]]:
    """Bytes that are a checksum of the others in these frames, by method."""
    found: list[tuple[int, Method, bool]] = []
    different = np.unique(data, axis=0)
    for byte in range(data.shape[1]) if data.shape[1] > 1 else ():
        if len(np.unique(different[:, byte])) < FEWEST:
            continue
        fits: list[tuple[int, Method, bool]] = []
        for method in NAMED.values():
            for with_identifier in (False, True):
                head = identifier if with_identifier else None
                right = _worked_out(np, different, byte, method, head) == different[:, byte]
                if right.sum() >= 0.9 * len(right):
                    fits.append((byte, method, with_identifier))
        found += fits or [(byte, crc, False) for crc in _any_crc(np, different[:SEARCHED], byte)]
    return found


def _any_crc(np: Any, data: Any, byte: int) -> list[Crc8]:
    """CRCs of any polynomial by which a byte guards the others. What differs between two frames of one
    length has a CRC without start and final value; those two, and the identifier, add a constant then,
    which is given as the final value."""
    others = [at for at in range(data.shape[1]) if at != byte]
    changes = np.unique(data[1:] ^ data[0], axis=0)
    if len(changes) < 2 * FEWEST:
        return []
    found = []
    for reflected in (False, True):
        tables = _tables(np, reflected)
        value = np.zeros((len(tables), len(changes)), np.uint8)
        for at in others:
            value = np.take_along_axis(tables, value ^ changes[:, at], axis=1)
        right = (value == changes[:, byte]).sum(axis=1)
        for which in np.flatnonzero(right >= 0.9 * len(changes)).tolist():
            bare = Crc8(_POLYNOMIALS[which], 0, reflected)
            final = int(_worked_out(np, data[:1], byte, bare, None)[0] ^ data[0, byte])
            found.append(Crc8(bare.polynomial, 0, reflected, final))
    return found[:1]


@lru_cache(maxsize=2)
def _tables(np: Any, reflected: bool) -> Any:
    """A row for each polynomial: half a million steps, so once and not for every byte of every message."""
    return np.array([crc_table(polynomial, reflected) for polynomial in _POLYNOMIALS], np.uint8)


def _worked_out(np: Any, data: Any, byte: int, method: Method, identifier: int | None) -> Any:
    """The checksum of all bytes but one, for every row."""
    head = [] if identifier is None else [identifier & 0xFF]
    columns = [data[:, at] for at in range(data.shape[1]) if at != byte]
    if not isinstance(method, Crc8):
        value = np.zeros(len(data), np.uint8)
        for each in [*head, *columns]:
            value = value + np.uint8(each) if method == Plain.SUM else value ^ np.uint8(each)
        return value
    table = np.array(crc_table(method.polynomial, method.reflected), np.uint8)
    value = np.full(len(data), reflected_byte(method.start) if method.reflected else method.start, np.uint8)
    for each in [*head, *columns]:
        value = table[value ^ np.uint8(each)]
    return value ^ np.uint8(method.final)
