"""Where a message description contradicts itself: fields on the same bits or beyond the end, and names and
identifiers that stand twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

MOST_BITS = 512
"""Bits of the longest frame (ISO 11898-1: 64 bytes)."""


def troubles(messages: Sequence[Any]) -> dict[str, dict[str, str]]:
    """What is wrong with a field, by the names of its message and its own; those in order are left out."""
    names = Counter(message.name for message in messages)
    identifiers: dict[tuple[int, bool], list[str]] = {}
    for message in messages:
        identifiers.setdefault((message.frame_id, message.is_extended_frame), []).append(message.name)
    found: dict[str, dict[str, str]] = {}
    for message in messages:
        others = list(identifiers[message.frame_id, message.is_extended_frame])
        others.remove(message.name)
        common = None
        if names[message.name] > 1:
            count = names[message.name]
            common = f"{count} messages of the DBC have the name '{message.name}'; the last counts"
        elif others:
            common = f"'{others[0]}' of the DBC has the same identifier as '{message.name}'"
        own = dict(_of_fields(message))
        if common is not None:
            own = {signal.name: own.get(signal.name, common) for signal in message.signals}
        found[message.name] = own
    return found


def _of_fields(message: Any) -> Iterator[tuple[str, str]]:
    fields = {field.name: field for field in message.signals}
    names = Counter(field.name for field in message.signals)
    taken: list[tuple[Any, int]] = []
    for field in message.signals:
        if names[field.name] > 1:
            yield field.name, f"{names[field.name]} fields of '{message.name}' have its name; the last counts"
            continue
        if field.length > MOST_BITS:
            yield field.name, f"it has {field.length} bits, more than any frame"
            continue
        bits = _bits(field)
        if bits >> 8 * message.length:
            yield field.name, f"it ends beyond the {message.length} bytes of '{message.name}'"
        for other, others in taken:
            if bits & others and _together(field, other, fields):
                text = f"it lies on bits of '{{}}' of '{message.name}'"
                yield field.name, text.format(other.name)
                yield other.name, text.format(field.name)
        taken.append((field, bits))


def _bits(field: Any) -> int:
    """A bit for each that the field lies on, counted from the lowest of the first byte."""
    if field.byte_order == "little_endian":
        return int(((1 << field.length) - 1) << field.start)
    first = field.start // 8 * 8 + 7 - field.start % 8
    bits = 0
    for at in range(first, first + field.length):
        bits |= 1 << (at // 8 * 8 + 7 - at % 8)
    return bits


def _together(one: Any, other: Any, fields: Mapping[str, Any]) -> bool:
    """Whether a frame can bring both: no field that selects them wants another page for each."""
    pages = dict(_pages(one, fields))
    return all(
        name not in pages or not pages[name].isdisjoint(wanted) for name, wanted in _pages(other, fields)
    )


def _pages(field: Any, fields: Mapping[str, Any]) -> Iterator[tuple[str, frozenset[int]]]:
    for _ in range(8):
        if field is None or not field.multiplexer_ids:
            return
        yield field.multiplexer_signal, frozenset(field.multiplexer_ids)
        field = fields.get(field.multiplexer_signal)
