"""What a DBC file says, in the few facts that a design is checked against.

cantools reads the file (in here and in the runtime only). Importing it takes 65 to 100 ms and
reading a file as long again, a third of what a whole check may take, so the facts are kept in the
user's cache folder under the hash of the file's content. Without a writable cache all works,
slower.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from hmic.cache import Kind, keep, kept
from hmic.diagnostics import DesignError, Finding, Span, error, warning
from hmic.model.dbc_limits import beyond, refusal
from hmic.model.dbc_mending import Slip, Unreadable, read_mended, reason_of
from hmic.model.dbc_places import MOST_BITS, troubles
from hmic.model.j1939 import highest_measure, said_group

SUFFIXES = (".dbc", ".kcd", ".arxml", ".sym")
"""The kinds of message descriptions that can be read."""

NO_VALUE_LABELS = frozenset(
    (
        "sna",
        "na",
        "n/a",
        "not available",
        "signal not available",
        "data not available",
        "temporarily not available",
        "unavailable",
        "no data",
        "no data exists",
        "no value",
        "no signal",
        "not valid",
        "invalid",
        "signal invalid",
        "unknown",
        "undefined",
        "reserved",
        "not used",
        "unused",
    )
)
"""Labels of a value table, in small letters, that mean "no value" (common practice, no source): no state
that needs a word, and shown as not seen. How a file parts words is left out of it: `NotAvailable`,
`NOT_AVAILABLE`."""

EXTENDED = 1 << 31
"""The bit of an identifier in a DBC that tells 29 bits."""
LARGEST = 1e100
"""Of a scale or offset: with the longest field still a number that can be computed with."""

_SQUEEZED = frozenset(re.sub("[^a-z]", "", label) for label in NO_VALUE_LABELS)
_NO_NUMBER = re.compile(
    r"\b(error|fault|faulty|faulted|fail|failed|failure|malfunction|defect|invalid|implausible|sna|undefined"
    r"|unavailable|init|initiali[sz]ing|initiali[sz]ation|fehler|fehlerwert|ungueltig|reserved|reserviert)\b"
    r"|\bnot (available|valid|used|supported)\b"
)
_NO_SUCH = re.compile(
    r"\b(no|not|without|kein)\b (\w+ )?(error|fault|faulty|faulted|failure|malfunction|defect|fehler)\b"
)


def means_no_value(label: str) -> bool:
    """Whether a label of a value table says that there is no value (``NO_VALUE_LABELS``)."""
    return re.sub("[^a-z]", "", label.lower()) in _SQUEEZED


def means_no_number(label: str) -> bool:
    """Whether a label in the range of a number says that the raw value it names is none, such as "error
    indicator" (SAE J1939-71 gives the highest raw values this meaning; the words are common practice, no
    source). ``means_no_value`` is asked first."""
    words = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", label)
    words = " ".join(re.sub("[^a-z0-9]", " ", words.lower()).split())
    return _NO_NUMBER.search(words) is not None and _NO_SUCH.search(words) is None


KEPT = Kind("messages", files=16, largest=1_000_000, version=5)
"""How facts are kept."""


@dataclass(frozen=True)
class DbcSignal:
    """A signal of a message. ``scale`` is the physical value of one raw step; ``low`` and ``high``
    bound what its bits can carry, in ``unit``; ``choices`` are its named raw values; ``length`` is in
    bits. ``begins``: the file gives its start value. ``selected``: it takes part in multiplexing.
    ``trouble``: what the file says of it that cannot be, such as bits that are another's too. ``lost``: why
    nothing else is known of it, though the file names it.

    Of its message ``cycle`` is the period in ms that the file gives, 0 for none; ``frame`` the identifier,
    with the bit 31 that tells 29 bits; ``bytes`` the length; ``group`` whether the file says that it is a
    parameter group of J1939, None where it says nothing. ``measured`` is then the physical value of the
    field's highest raw value that is a measured one, None where that is open."""

    unit: str
    scale: float
    low: float
    high: float
    length: int
    choices: Mapping[int, str]
    begins: bool = False
    selected: bool = False
    trouble: str = ""
    cycle: int = 0
    lost: Slip | None = None
    frame: int = 0
    bytes: int = 8
    group: bool | None = None
    measured: float | None = None


Facts = Mapping[str, Mapping[str, DbcSignal]]


def read_dbc(data: bytes, file: str, span: Span | None) -> tuple[Facts | None, list[Finding]]:
    """Messages by name with their signals by name, and what of the file could not be read. None and an
    error when nothing could. ``span`` is where the design names the file."""
    remembered = _unpacked(kept(KEPT, data))
    if remembered is not None:
        facts, slips = remembered
        return facts, left_out(slips, file)
    try:
        database, slips = read_database(data, file)
        facts = _facts(database, slips)
    except DesignError as refused:
        return None, list(refused.findings)
    except Unreadable as fault:
        return None, [_refused(fault, file, span)]
    keep(KEPT, data, _packed(facts, slips))
    return facts, left_out(slips, file)


def dbc_text(data: bytes) -> str:
    """The text of a DBC file: UTF-8, else the Windows code page that most tools write."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def read_database(data: bytes, file: str) -> tuple[Any, tuple[Slip, ...]]:
    """The cantools database of a file, by its suffix (``SUFFIXES``), and what of a DBC was left out of it.
    Raises Unreadable; DesignError M218 where the library would take too much time or memory."""
    form = file.rpartition(".")[2].lower()
    form = form if f".{form}" in SUFFIXES else "dbc"
    text = dbc_text(data)
    size = beyond(text, form)
    if size is not None:
        raise DesignError([refusal(size, text, file)])
    from cantools.database import load_string

    # What it has to say of odd files is found here by ``troubles``.
    logging.getLogger("cantools").addHandler(logging.NullHandler())

    def load(text: str) -> Any:
        return load_string(text, database_format=form, strict=False)

    if form == "dbc":
        return read_mended(text, load)
    try:
        return load(text), ()
    except Exception as fault:  # cantools and its XML parser raise many kinds on malformed text
        raise Unreadable(reason_of(fault)) from None


MOST_TOLD = 8
"""Lines of a file that are told of one by one."""


def left_out(slips: Sequence[Slip], file: str) -> list[Finding]:
    """Findings of what was left out of a DBC."""
    told = []
    for slip in slips[:MOST_TOLD]:
        how = "not read as it stands" if slip.kept else "left out"
        text = f"this line of '{file}' is {how}: {slip.what}"
        told.append(warning("M289", text, _place(slip, file), slip.remedy))
    if len(slips) > MOST_TOLD:
        text = f"{len(slips) - MOST_TOLD} more lines of '{file}' are left out, from this one on"
        remedy = "correct the lines before, then check again"
        told.append(warning("M289", text, _place(slips[MOST_TOLD], file), remedy))
    return told


def lost_line(slip: Slip, file: str) -> Finding:
    """The error that a line is which a design needs."""
    return error("M263", slip.what, _place(slip, file), slip.remedy)


def _place(slip: Slip, file: str) -> Span:
    return Span(file, slip.line, slip.column, slip.line, slip.column + 1)


def _facts(database: Any, slips: Sequence[Slip]) -> Facts:
    wrong = troubles(database.messages)
    facts = {
        message.name: {
            signal.name: replace(
                _signal(signal, wrong[message.name].get(signal.name, "")),
                cycle=int(message.cycle_time or 0),
                frame=message.frame_id | (EXTENDED if message.is_extended_frame else 0),
                bytes=int(message.length),
                group=said_group(message, database),
            )
            for signal in message.signals
        }
        for message in database.messages
    }
    for slip in slips:
        for field in () if slip.kept else slip.fields:
            fields = facts.setdefault(slip.message, {})
            fields.setdefault(field, DbcSignal("", 1.0, 0.0, 0.0, 0, {}, lost=slip))
    return facts


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
    signed = signal.is_signed or signal.is_float or length > MOST_BITS
    measured = None if signed else highest_measure(length) * scale + offset
    unit = signal.unit or ""
    return DbcSignal(unit, step, low, high, length, choices, begins, selected, trouble, measured=measured)


def _refused(fault: Unreadable, file: str, span: Span | None) -> Finding:
    remedy = "export the file again from the tool that wrote it, or correct that line"
    if fault.line is None:
        return error("M263", f"'{file}' cannot be read: {fault.reason}", span, remedy)
    at = Span(file, fault.line, fault.column, fault.line, fault.column + 1)
    return error("M263", f"'{file}' does not read as a DBC file from here on", at, remedy)


def _unpacked(result: Any) -> tuple[Facts, tuple[Slip, ...]] | None:
    """Facts and slips from their kept form; None when that is spoilt."""
    try:
        facts = {
            message: {name: _signal_of(fields) for name, fields in signals.items()}
            for message, signals in result["messages"].items()
        }
        return facts, tuple(_slip_of(fields) for fields in result["slips"])
    except (ValueError, KeyError, TypeError, AttributeError):
        return None


def _signal_of(fields: Any) -> DbcSignal:
    lost = _slip_of(fields["lost"]) if "lost" in fields else None
    choices = {int(raw): word for raw, word in fields["choices"].items()}
    return DbcSignal(**(fields | {"choices": choices, "lost": lost}))


def _slip_of(fields: Any) -> Slip:
    return Slip(**(fields | {"fields": tuple(fields["fields"])}))


def _packed(facts: Facts, slips: Sequence[Slip]) -> Any:
    messages = {
        name: {key: _fields_of(signal) for key, signal in signals.items()} for name, signals in facts.items()
    }
    return {"messages": messages, "slips": [asdict(slip) for slip in slips]}


def _fields_of(signal: DbcSignal) -> dict[str, Any]:
    """Without what is as where nothing is said: a file has thousands of them."""
    usual = {each.name: each.default for each in fields(DbcSignal)}
    return {key: value for key, value in asdict(signal).items() if value != usual[key]}
