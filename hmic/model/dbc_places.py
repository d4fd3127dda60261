"""Where a message description contradicts itself: fields on the same bits or beyond the end, and names and
identifiers that stand twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as filled
from typing import Any, NamedTuple

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
        same = identifiers[message.frame_id, message.is_extended_frame]
        other = next((name for name in same[:2] if name != message.name), None)
        common = None
        if names[message.name] > 1:
            count = names[message.name]
            common = f"{count} messages of the DBC have the name '{message.name}'; the last counts"
        elif other is not None:
            common = f"'{other}' of the DBC has the same identifier as '{message.name}'"
        own = _of_fields(message)
        if common is not None:
            own = {signal.name: own.get(signal.name, common) for signal in message.signals}
        found[message.name] = own
    return found


def _of_fields(message: Any) -> dict[str, str]:
    fields = {field.name: field for field in message.signals}
    names = Counter(field.name for field in message.signals)
    found: dict[str, str] = {}
    groups: dict[str | None, _Group] = {}
    for field in message.signals:
        if names[field.name] > 1:
            count = names[field.name]
            found[field.name] = f"{count} fields of '{message.name}' have its name; the last counts"
            continue
        if field.length > MOST_BITS:
            found[field.name] = f"it has {field.length} bits, more than any frame"
            continue
        placed = _Placed(field.name, _bits(field), dict(_pages(field, fields)))
        if placed.bits >> 8 * message.length:
            found[field.name] = f"it ends beyond the {message.length} bytes of '{message.name}'"
        selector = field.multiplexer_signal if field.multiplexer_ids else None
        own = tuple(field.multiplexer_ids or (None,))
        for name, group in groups.items():
            for other in group.near(placed, own if name == selector else None):
                told = field.name in found and other.name in found
                if placed.bits & other.bits and not told and _together(placed, other):
                    text = f"it lies on bits of '{{}}' of '{message.name}'"
                    found.setdefault(field.name, text.format(other.name))
                    found.setdefault(other.name, text.format(field.name))
        groups.setdefault(selector, _Group()).take(placed, own)
    return found


class _Placed(NamedTuple):
    """A field's name with the bits that it lies on, and the pages of the fields that select it."""

    name: str
    bits: int
    pages: Mapping[str, frozenset[int]]


@dataclass
class _Group:
    """Fields that one field selects, or none does, by their pages: those on other pages of the same
    multiplexer, of which there can be thousands, need no look."""

    bits: int = 0
    on_page: dict[int | None, list[_Placed]] = filled(default_factory=dict)

    def take(self, placed: _Placed, pages: Sequence[int | None]) -> None:
        """One more."""
        self.bits |= placed.bits
        for page in pages:
            self.on_page.setdefault(page, []).append(placed)

    def near(self, placed: _Placed, pages: Sequence[int | None] | None) -> list[_Placed]:
        """Those that may lie on the same bits, on some pages or on all."""
        if not placed.bits & self.bits:
            return []
        found = (self.on_page.get(page, ()) for page in (self.on_page if pages is None else pages))
        return list({id(other): other for others in found for other in others}.values())


def _bits(field: Any) -> int:
    """A bit for each that the field lies on, counted from the lowest of the first byte."""
    if field.byte_order == "little_endian":
        return int(((1 << field.length) - 1) << field.start)
    first = field.start // 8 * 8 + 7 - field.start % 8
    bits = 0
    for at in range(first, first + field.length):
        bits |= 1 << (at // 8 * 8 + 7 - at % 8)
    return bits


def _together(one: _Placed, other: _Placed) -> bool:
    """Whether a frame can bring both: no field that selects them wants another page for each."""
    return all(
        name not in one.pages or not one.pages[name].isdisjoint(wanted)
        for name, wanted in other.pages.items()
    )


def _pages(field: Any, fields: Mapping[str, Any]) -> Iterator[tuple[str, frozenset[int]]]:
    for _ in range(8):
        if field is None or not field.multiplexer_ids:
            return
        yield field.multiplexer_signal, frozenset(field.multiplexer_ids)
        field = fields.get(field.multiplexer_signal)
