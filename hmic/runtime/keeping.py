"""Sums that survive a loss of power: the integrals of derived signals, in one small file.

Each sum stands with the unit that it was summed in, so that a design whose units have changed never misreads
it. The file is written by a thread, beside itself, brought to the disk and renamed, so that at any moment
it holds the old or the new sums whole. The one before is kept too, should a disk spoil the file afterwards.
"""

from __future__ import annotations

import json
import math
import os
import zlib
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from hmic.diagnostics import Finding, warning
from hmic.plain_files import open_to_write, read_plain
from hmic.runtime.behind import AT_END, Behind
from hmic.runtime.holding import Hold

EVERY = 10.0
"""Seconds between two writes: what a loss of power costs a trip counter."""
LARGEST = 1_000_000
"""Bytes of kept sums; a sum takes fewer than a hundred."""
RETRY = 60.0
"""Seconds until the next attempt after a failure."""


@dataclass(frozen=True)
class Sum:
    """An integral: ``value`` in a unit of so many base units of a dimension, times seconds (``Unit`` of
    the model has the meaning of both)."""

    value: float
    factor: Fraction = Fraction(1)
    dimension: tuple[int, ...] = ()

    def like(self, other: Sum) -> float | None:
        """The value in the unit of another sum; None when that is of another quantity."""
        if self.dimension != other.dimension:
            return None
        return self.value if self.factor == other.factor else self.value * float(self.factor / other.factor)


def load_sums(path: Path) -> tuple[dict[str, Sum], list[Finding]]:
    """The sums that were kept, from the older file where the newer is spoilt; none is no error."""
    findings: list[Finding] = []
    for part in (path, _older(path)):
        try:
            data = read_plain(part, LARGEST)
        except FileNotFoundError:
            continue
        except OSError as fault:
            findings.append(_spoilt(part, fault.strerror or str(fault)))
            continue
        sums = _read(data)
        if sums is not None:
            return sums, findings
        findings.append(_spoilt(part, "it is damaged"))
    return {}, findings


def save_sums(path: Path, sums: Mapping[str, Sum]) -> None:
    """Writes the sums. Raises OSError, with the file as it was."""
    said = {name: [each.value, str(each.factor), each.dimension] for name, each in sorted(sums.items())}
    body = json.dumps(said, ensure_ascii=False)
    data = f"{zlib.crc32(body.encode()):08x} {body}\n".encode()
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(path.name + ".part")
    descriptor = open_to_write(part, os.O_WRONLY | os.O_TRUNC, 0o644)
    try:
        view = memoryview(data)
        while view:
            view = view[os.write(descriptor, view) :]
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
    with suppress(FileNotFoundError):
        path.replace(_older(path))
    part.replace(path)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


class Keeper:
    """Keeps sums while a run goes on, and at its end. An attendant of the loop."""

    def __init__(
        self, path: Path, sums: Callable[[], Mapping[str, Sum]], hold: Hold | None = None
    ) -> None:
        """``hold`` is let go of when the last sums are kept."""
        self._path = path
        self._sums = sums
        self._hold = hold
        self._kept = dict(sums())
        self._writing: dict[str, Sum] | None = None
        self._disk = Behind()
        self._next: float | None = None
        self._failed = False

    def turn(self, now: float) -> list[Finding]:
        """Begins to write what changed, every ``EVERY`` seconds."""
        if self._next is None:
            self._next = now + EVERY
        findings = self._look(now)
        if now >= self._next and self._writing is None:
            self._next = now + EVERY
            self._begin()
        return findings

    def close(self) -> list[Finding]:
        """Writes what changed last, waits for it, and lets go of the place."""
        findings = self._end()
        if self._hold is not None:
            self._hold.close()
        return findings

    def _end(self) -> list[Finding]:
        self._disk.wait()
        findings = self._look(None)
        self._begin()
        self._disk.wait()
        if self._disk.busy:
            return [*findings, *self._cannot(f"the disk took more than {AT_END:g} s")]
        return findings + self._look(None)

    def _begin(self) -> None:
        sums = dict(self._sums())
        if sums != self._kept and self._writing is None:
            self._writing = sums
            self._disk.begin(lambda: save_sums(self._path, sums))

    def _look(self, now: float | None) -> list[Finding]:
        """What came of the last writing, where it is done."""
        if self._writing is None or self._disk.busy:
            return []
        sums, self._writing = self._writing, None
        fault = self._disk.take_fault()
        if fault is None:
            self._kept, self._failed = sums, False
            return []
        self._next = None if now is None else now + RETRY
        return self._cannot(fault.strerror or str(fault))

    def _cannot(self, reason: str) -> list[Finding]:
        told, self._failed = self._failed, True
        message = f"the sums in '{self._path}' cannot be kept: {reason}"
        remedy = "make room, or name another place with --state; the run goes on"
        return [] if told else [warning("R755", message, None, remedy)]


def _older(path: Path) -> Path:
    return path.with_name(path.name + ".older")


def _spoilt(path: Path, reason: str) -> Finding:
    message = f"the kept sums in '{path}' cannot be used: {reason}"
    return warning("R756", message, None, "they go on from the ones before, or from 0")


def _read(data: bytes) -> dict[str, Sum] | None:
    try:
        check, _, body = data.decode().rstrip("\n").partition(" ")
        if int(check, 16) != zlib.crc32(body.encode()):
            return None
        sums = {
            str(name): Sum(float(value), Fraction(factor), tuple(int(part) for part in dimension))
            for name, (value, factor, dimension) in json.loads(body).items()
        }
    except (ValueError, AttributeError, TypeError, ArithmeticError, RecursionError):
        return None
    return sums if all(math.isfinite(each.value) and each.factor > 0 for each in sums.values()) else None
