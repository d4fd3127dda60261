"""What a DBC file says, in the few facts that a design is checked against.

cantools reads the file (in here and in the runtime only). Importing it takes 65 to 100 ms and
reading a file as long again, a third of what a whole check may take, so the facts are kept in the
user's cache folder under the hash of the file's content. Without a writable cache all works,
slower.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from hmic.cache import Kind, keep, kept
from hmic.diagnostics import DesignError, Finding, Span, error
from hmic.model.dbc_limits import beyond, refusal
from hmic.model.dbc_lines import dbc_slip
from hmic.model.dbc_places import MOST_BITS, troubles

SUFFIXES = (".dbc", ".kcd", ".arxml", ".sym")
"""The kinds of message descriptions that can be read."""

NO_VALUE_LABELS = frozenset(
    (
        "sna",
        "na",
        "n/a",
        "not available",
        "signal not available",
        "no data",
        "no value",
        "invalid",
        "unknown",
        "reserved",
    )
)
"""Labels of a value table, in small letters, that mean "no value" (common practice, no source): no state
that needs a word, and shown as not seen."""

LARGEST = 1e100
"""Of a scale or offset: with the longest field still a number that can be computed with."""

KEPT = Kind("messages", files=16, largest=1_000_000, version=3)
"""How facts are kept."""


@dataclass(frozen=True)
class DbcSignal:
    """A signal of a message. ``scale`` is the physical value of one raw step; ``low`` and ``high``
    bound what its bits can carry, in ``unit``; ``choices`` are its named raw values; ``length`` is in
    bits. ``begins``: the file gives its start value. ``selected``: it takes part in multiplexing.
    ``trouble``: what the file says of it that cannot be, such as bits that are another's too."""

    unit: str
    scale: float
    low: float
    high: float
    length: int
    choices: Mapping[int, str]
    begins: bool = False
    selected: bool = False
    trouble: str = ""


Facts = Mapping[str, Mapping[str, DbcSignal]]


def read_dbc(data: bytes, file: str, span: Span | None) -> tuple[Facts | None, list[Finding]]:
    """Messages by name with their signals by name. None and a finding when the bytes are no DBC.
    ``span`` is where the design names the file."""
    facts = _unpacked(kept(KEPT, data))
    if facts is not None:
        return facts, []
    try:
        facts = _facts(data, file)
    except DesignError as refused:
        return None, list(refused.findings)
    except Exception as problem:  # cantools raises many kinds on malformed text
        return None, [_own_words(str(problem), file, span, data)]
    keep(KEPT, data, _packed(facts))
    return facts, []


def dbc_text(data: bytes) -> str:
    """The text of a DBC file: UTF-8, else the Windows code page that most tools write."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def load_database(data: bytes, file: str) -> Any:
    """The cantools database of a file, by its suffix (``SUFFIXES``). Raises DesignError M218 where the
    library would take too much time or memory, and whatever the library does on malformed content: its
    own errors, textparser's, ValueError and others."""
    form = file.rpartition(".")[2].lower()
    form = form if f".{form}" in SUFFIXES else "dbc"
    text = dbc_text(data)
    size = beyond(text, form)
    if size is not None:
        raise DesignError([refusal(size, text, file)])
    from cantools.database import load_string

    # What it has to say of odd files is found here by ``troubles``.
    logging.getLogger("cantools").addHandler(logging.NullHandler())
    return load_string(text, database_format=form, strict=False)


def _facts(data: bytes, file: str) -> Facts:
    database = load_database(data, file)
    wrong = troubles(database.messages)
    return {
        message.name: {
            signal.name: _signal(signal, wrong[message.name].get(signal.name, ""))
            for signal in message.signals
        }
        for message in database.messages
    }


def _signal(signal: Any, trouble: str) -> DbcSignal:
    scale, offset, length = float(signal.scale), float(signal.offset), int(signal.length)
    countable = max(abs(scale), abs(offset)) < LARGEST
    if not countable:
        scale, trouble = 0.0, trouble or f"its scale or offset is more than {LARGEST:g}"
    if signal.is_float or length > MOST_BITS or not countable:
        low, high = float("-inf"), float("inf")
    else:
        least = -(1 << (length - 1)) if signal.is_signed else 0
        most = (1 << (length - 1)) - 1 if signal.is_signed else (1 << length) - 1
        low, high = sorted((least * scale + offset, most * scale + offset))
    choices = {int(raw): str(word) for raw, word in (signal.choices or {}).items()}
    step = 0.0 if signal.is_float else abs(scale)
    selected = bool(signal.is_multiplexer or signal.multiplexer_ids)
    begins = signal.initial is not None
    return DbcSignal(signal.unit or "", step, low, high, length, choices, begins, selected, trouble)


def _own_words(problem: str, file: str, span: Span | None, data: bytes) -> Finding:
    place = re.search(r"line (\d+), column (\d+)", problem)
    remedy = "export the file again from the tool that wrote it, or correct that line"
    if place is None:
        return error("M263", f"'{file}' does not read as a DBC file", span, remedy)
    line, column = int(place[1]), int(place[2])
    at = Span(file, line, column, line, column + 1)
    lines = dbc_text(data).split("\n")
    slip = dbc_slip(lines[line - 1].rstrip("\r")) if line <= len(lines) else None
    if slip is None:
        return error("M263", f"'{file}' does not read as a DBC file from here on", at, remedy)
    column, wanted, form = slip
    at = Span(file, line, column, line, column + 1)
    return error("M263", f"here should stand {wanted}", at, f"a line of this kind looks like: {form}")


def _unpacked(result: Any) -> Facts | None:
    """Facts from their cached form; None when that is spoilt."""
    try:
        return {
            message: {name: _signal_of(fields) for name, fields in signals.items()}
            for message, signals in result.items()
        }
    except (ValueError, KeyError, TypeError, AttributeError):
        return None


def _signal_of(fields: Any) -> DbcSignal:
    return DbcSignal(**(fields | {"choices": {int(raw): word for raw, word in fields["choices"].items()}}))


def _packed(facts: Facts) -> Any:
    return {name: {key: asdict(signal) for key, signal in signals.items()} for name, signals in facts.items()}
