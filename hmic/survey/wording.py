"""What was found, in words: for the table, the page and JSON alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from hmic.model.checksums import Crc8, method_text
from hmic.survey.facts import (
    ChecksumFound,
    CounterFound,
    FieldSeen,
    MessageSeen,
    SmoothField,
    StandardKind,
    Survey,
)


def identifier(message: MessageSeen) -> str:
    """In hexadecimal: three digits for 11 bits, eight for 29."""
    return f"{message.identifier:08X}" if message.extended else f"{message.identifier:03X}"


def title(message: MessageSeen) -> str:
    """The name by a description, else by a standard, else empty."""
    standard = message.standard
    said = ""
    if standard is not None and standard.kind == StandardKind.J1939:
        said = f"group {standard.group} {standard.name}".rstrip()
    elif standard is not None:
        said = standard.name
    return f"{message.name} ({said})" if message.name and said else message.name or said


def period(message: MessageSeen, timed: bool) -> str:
    """Median, jitter and the longest gap."""
    if not timed or message.count < 2:
        return ""
    found = message.period
    jitter = f" ±{found.jitter * 1000:.1f} ms" if found.jitter >= 5e-5 else ""
    return f"{_time(found.median)}{jitter}, longest {_time(found.longest)}"


def _time(seconds: float) -> str:
    return f"{seconds * 1000:.4g} ms" if seconds < 1 else f"{seconds:.4g} s"


def lengths(message: MessageSeen) -> str:
    """Bytes of its frames."""
    return ", ".join(str(length) for length, _ in message.lengths)


def moving(message: MessageSeen) -> str:
    """For each byte how its bits move, the lowest on the right: `#` moves, `.` stands."""
    longest = max((length for length, _ in message.lengths), default=0)
    bits = set(message.moving)
    return " ".join(
        "".join("#" if 8 * byte + bit in bits else "." for bit in range(7, -1, -1)) for byte in range(longest)
    )


def guards(message: MessageSeen) -> tuple[str, ...]:
    """Counters, checksums and turns."""
    said = [_counter(each) for each in message.counters] + [_checksum(each) for each in message.checksums]
    if message.turns is not None:
        pages = ", ".join(str(page) for page, _ in message.turns.pages[:12])
        more = f" and {len(message.turns.pages) - 12} more" if len(message.turns.pages) > 12 else ""
        said.append(
            f"turns by {message.turns.selector}: {pages}{more}; a round in {_time(message.turns.round)}"
        )
    return tuple(said)


def _counter(each: CounterFound) -> str:
    where = f"byte {each.start // 8}" if each.length == 8 else f"bit {each.start}, {each.length} bits"
    return f"counter {each.low} to {each.high} at {where}{_unless(each)}"


def _checksum(each: ChecksumFound) -> str:
    head = ", with identifier: true" if each.with_identifier else ""
    return f"checksum in byte {each.byte}, {method_text(each.method)}{head}{_but(each.held, each.frames)}"


def _unless(each: CounterFound) -> str:
    jumped = each.steps - each.held - each.still
    said = [f"jumped {jumped} of {each.steps} times"] if jumped else []
    said += [f"stood still {each.still} of {each.steps} times"] if each.still else []
    return f" ({', '.join(said)})" if said else ""


def _but(held: int, of: int) -> str:
    return "" if held == of else f" ({of - held} of {of} times not)"


def values(field: FieldSeen) -> str:
    """Its range with its unit."""
    if field.low is None or field.high is None:
        return "never a value"
    unit = f" {field.unit}" if field.unit else ""
    return (
        f"{field.low:.6g}{unit}" if field.low == field.high else f"{field.low:.6g} to {field.high:.6g}{unit}"
    )


def states(field: FieldSeen) -> str:
    """Its states that came, by label where there is one; empty of a number, of which a label says something
    of single values only."""
    never = {each.raw for each in field.sentinels}
    came = [(raw, label) for raw, label, _ in field.states if raw not in never]
    if field.unit or not any(label for _, label in came):
        return ""
    shown = [f"{raw} {label}".rstrip() for raw, label in came]
    return ", ".join(shown[:8]) + (f" and {len(shown) - 8} more" if len(shown) > 8 else "")


def sentinels(field: FieldSeen) -> str:
    """Its raw values that stand for no value."""
    return ", ".join(
        f"{each.raw} ({each.label or 'apart from all others'}) {each.count} times" for each in field.sentinels
    )


def smooth(field: SmoothField) -> str:
    """A smooth stretch and what it moves like."""
    order = "" if field.bytes == 1 else ", highest first" if field.big else ", lowest first"
    where = (
        f"byte {field.byte}" if field.bytes == 1 else f"bytes {field.byte} to {field.byte + field.bytes - 1}"
    )
    like = "; ".join(
        f"moves like {each.message}.{each.field} ({each.coefficient:+.3f}; "
        f"{each.scale:.4g} × raw {each.offset:+.4g})"
        for each in field.like
    )
    return f"{where}{order}: {field.low} to {field.high}" + (f"; {like}" if like else "")


def plain(found: Survey) -> dict[str, Any]:
    """A survey as JSON has it: every fact but the traces."""
    return _plain(found)  # type: ignore[no-any-return]


def _plain(value: Any) -> Any:
    if isinstance(value, Crc8):
        return {each.name: getattr(value, each.name) for each in fields(value)}
    if is_dataclass(value):
        names = [each.name for each in fields(value) if each.name != "trace"]
        return {name: _plain(getattr(value, name)) for name in names}
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if isinstance(value, Mapping):
        return {key: _plain(each) for key, each in value.items()}
    return value
