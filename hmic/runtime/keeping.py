"""Sums that survive a loss of power: the integrals of derived signals, in one small file.

The file is written beside itself, brought to the disk and renamed, so that at any moment it holds the
old or the new sums whole. The one before is kept too, should a disk spoil the file afterwards.
"""

from __future__ import annotations

import json
import math
import os
import zlib
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

from hmic.diagnostics import Finding, warning

EVERY = 10.0
"""Seconds between two writes: what a loss of power costs a trip counter."""
RETRY = 60.0
"""Seconds until the next attempt after a failure."""


def load_sums(path: Path) -> tuple[dict[str, float], list[Finding]]:
    """The sums that were kept, from the older file where the newer is spoilt; none is no error."""
    findings: list[Finding] = []
    for part in (path, _older(path)):
        try:
            data = part.read_bytes()
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


def save_sums(path: Path, sums: Mapping[str, float]) -> None:
    """Writes the sums. Raises OSError, with the file as it was."""
    body = json.dumps(dict(sorted(sums.items())), ensure_ascii=False)
    data = f"{zlib.crc32(body.encode()):08x} {body}\n".encode()
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(path.name + ".part")
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
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

    def __init__(self, path: Path, sums: Callable[[], Mapping[str, float]]) -> None:
        self._path = path
        self._sums = sums
        self._kept = dict(sums())
        self._next: float | None = None
        self._failed = False

    def turn(self, now: float) -> list[Finding]:
        """Writes what changed, every ``EVERY`` seconds."""
        if self._next is None:
            self._next = now + EVERY
        if now < self._next:
            return []
        self._next = now + EVERY
        return self._save(now)

    def close(self) -> list[Finding]:
        """Writes what changed last."""
        return self._save(None)

    def _save(self, now: float | None) -> list[Finding]:
        sums = dict(self._sums())
        if sums == self._kept:
            return []
        try:
            save_sums(self._path, sums)
        except OSError as fault:
            told, self._failed = self._failed, True
            self._next = None if now is None else now + RETRY
            message = f"the sums in '{self._path}' cannot be kept: {fault.strerror or fault}"
            remedy = "make room, or name another place with --state; the run goes on"
            return [] if told else [warning("R755", message, None, remedy)]
        self._kept, self._failed = sums, False
        return []


def _older(path: Path) -> Path:
    return path.with_name(path.name + ".older")


def _spoilt(path: Path, reason: str) -> Finding:
    message = f"the kept sums in '{path}' cannot be used: {reason}"
    return warning("R756", message, None, "they go on from the ones before, or from 0")


def _read(data: bytes) -> dict[str, float] | None:
    try:
        check, _, body = data.decode().rstrip("\n").partition(" ")
        if int(check, 16) != zlib.crc32(body.encode()):
            return None
        sums = {str(name): float(value) for name, value in json.loads(body).items()}
    except (ValueError, AttributeError, TypeError, RecursionError):
        return None
    return sums if all(math.isfinite(value) for value in sums.values()) else None
