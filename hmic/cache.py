"""Results kept in the user's cache folder under the hash of what they follow from.

A cache can only save time: one that is missing, unwritable or spoilt counts as empty.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any


def kept(kind: str, content: bytes) -> Any:
    """What was kept of this kind for this content, or None."""
    data = kept_bytes(kind, content)
    try:
        return json.loads(data) if data is not None else None
    except (ValueError, RecursionError):
        return None


def keep(kind: str, content: bytes, result: Any) -> None:
    """Keep a JSON value. The file appears whole or not at all."""
    keep_bytes(kind, content, json.dumps(result).encode())


def kept_bytes(kind: str, content: bytes) -> bytes | None:
    """Bytes kept of this kind for this content, or None; they may be spoilt."""
    path = _file(kind, content)
    try:
        return path.read_bytes() if path is not None else None
    except OSError:
        return None


def keep_bytes(kind: str, content: bytes, result: bytes) -> None:
    """Keep bytes. The file appears whole or not at all."""
    path = _file(kind, content)
    if path is None:
        return
    part = path.with_suffix(f".{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(result)
        part.replace(path)
    except OSError:
        return


def _file(kind: str, content: bytes) -> Path | None:
    from hashlib import sha256

    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    try:
        folder = Path(base) if base else Path.home() / ".cache"
    except RuntimeError:
        return None
    return folder / "hmic" / kind / f"{sha256(content).hexdigest()}.json"
