"""What a DBC file says, in the few facts that a design is checked against.

cantools reads the file (in here and in the runtime only). Importing it takes 65 to 100 ms and
reading a file as long again, a third of what a whole check may take, so the facts are kept in the
user's cache folder under the hash of the file's content. Without a writable cache all works,
slower.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from hmic.diagnostics import Finding, Span, error

# Changes with the form of the cached facts.
_FORM = "3"


@dataclass(frozen=True)
class DbcSignal:
    """A signal of a message. ``scale`` is the physical value of one raw step; ``low`` and ``high``
    bound what its bits can carry, in ``unit``; ``choices`` are its named raw values; ``length`` is in
    bits."""

    unit: str
    scale: float
    low: float
    high: float
    length: int
    choices: Mapping[int, str]


Facts = Mapping[str, Mapping[str, DbcSignal]]


def read_dbc(data: bytes, file: str, span: Span | None) -> tuple[Facts | None, list[Finding]]:
    """Messages by name with their signals by name. None and a finding when the bytes are no DBC.
    ``span`` is where the design names the file."""
    kept = _cache_file(data)
    facts = _from_cache(kept)
    if facts is not None:
        return facts, []
    try:
        facts = _facts(data)
    except Exception as problem:  # cantools raises many kinds on malformed text
        return None, [_own_words(str(problem), file, span)]
    _to_cache(kept, facts)
    return facts, []


def dbc_text(data: bytes) -> str:
    """The text of a DBC file: UTF-8, else the Windows code page that most tools write."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _facts(data: bytes) -> Facts:
    from cantools.database import load_string

    database: Any = load_string(dbc_text(data), database_format="dbc", strict=False)
    return {
        message.name: {signal.name: _signal(signal) for signal in message.signals}
        for message in database.messages
    }


def _signal(signal: Any) -> DbcSignal:
    scale, offset, length = float(signal.scale), float(signal.offset), int(signal.length)
    if signal.is_float:
        low, high = float("-inf"), float("inf")
    else:
        least = -(1 << (length - 1)) if signal.is_signed else 0
        most = (1 << (length - 1)) - 1 if signal.is_signed else (1 << length) - 1
        low, high = sorted((least * scale + offset, most * scale + offset))
    choices = {int(raw): str(word) for raw, word in (signal.choices or {}).items()}
    return DbcSignal(signal.unit or "", 0.0 if signal.is_float else abs(scale), low, high, length, choices)


def _own_words(problem: str, file: str, span: Span | None) -> Finding:
    place = re.search(r"line (\d+), column (\d+)", problem)
    remedy = "export the file again from the tool that wrote it, or correct that line"
    if place is None:
        return error("M263", f"'{file}' does not read as a DBC file", span, remedy)
    line, column = int(place[1]), int(place[2])
    at = Span(file, line, column, line, column + 1)
    return error("M263", f"'{file}' does not read as a DBC file from here on", at, remedy)


def _cache_file(data: bytes) -> Path | None:
    from hashlib import sha256

    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    try:
        folder = Path(base) if base else Path.home() / ".cache"
    except RuntimeError:
        return None
    return folder / "hmic" / "dbc" / f"{_FORM}-{sha256(data).hexdigest()}.json"


def _from_cache(path: Path | None) -> Facts | None:
    if path is None:
        return None
    try:
        kept = json.loads(path.read_bytes())
        return {
            message: {
                name: DbcSignal(
                    fields["unit"],
                    fields["scale"],
                    fields["low"],
                    fields["high"],
                    fields["length"],
                    {int(raw): word for raw, word in fields["choices"].items()},
                )
                for name, fields in signals.items()
            }
            for message, signals in kept.items()
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def _to_cache(path: Path | None, facts: Facts) -> None:
    if path is None:
        return
    text = json.dumps(
        {name: {key: asdict(s) for key, s in signals.items()} for name, signals in facts.items()}
    )
    part = path.with_suffix(f".{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    except OSError:
        return
