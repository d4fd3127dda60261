"""Writing files so that a failure leaves the old file as it was."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from hmic.diagnostics import DesignError, error


def write_whole(path: Path, data: bytes) -> None:
    """Writes beside the target, then renames. Raises ``DesignError`` U910 when it cannot."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(data)
        beside.replace(path)
    except OSError as failed:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        reason = failed.strerror or "it cannot be written"
        raise DesignError(
            [error("U910", f"cannot write {path}: {reason}", None, "choose a place you may write to")]
        ) from None


def read_whole(path: Path, what: str) -> bytes:
    """Reads a file. Raises ``DesignError`` U911 when it cannot."""
    try:
        return path.read_bytes()
    except OSError as failed:
        reason = failed.strerror or "it cannot be read"
        raise DesignError(
            [error("U911", f"cannot read {what} {path}: {reason}", None, "check the name and the place")]
        ) from None
