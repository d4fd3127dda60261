"""A live table of every signal for a terminal."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence

from hmic.diagnostics import Finding
from hmic.foreign_text import visible
from hmic.model.builtin import BUILTIN
from hmic.model.channels import signals_of
from hmic.model.design import SignalDefinition
from hmic.model.values import Doubt, Item, Value
from hmic.runtime.binding import BoundDesign
from hmic.runtime.sources import Source
from hmic.runtime.state import SignalTable

EVERY = 1.0
"""Seconds between two tables."""
NOTES = 4
"""What happened of late, in lines."""
HOME = "\x1b[H"
CLEAR_LINE = "\x1b[K"
CLEAR_REST = "\x1b[J"
DOUBTS = {Doubt.UNSEEN: "not seen", Doubt.STALE: "stale", Doubt.OUT_OF_RANGE: "out of range"}
HEADS = ("signal", "value", "unit", "age", "rate", "source", "shown on")
WIDTHS = (24, 20, 7, 8, 8, 28, 0)


class Watch:
    """Writes the table once a second. An attendant of the loop.

    ``size`` gives the terminal's columns and lines; what does not fit is counted in the last line.
    ``plain`` is for what is no terminal: one table below the other. Rates and ages are in vehicle time.
    """

    def __init__(
        self,
        bound: BoundDesign,
        table: SignalTable,
        sources: Sequence[Source],
        *,
        write: Callable[[str], object],
        size: Callable[[], tuple[int, int]],
        plain: bool = False,
    ) -> None:
        self._bound = bound
        self._table = table
        self._sources = sources
        self._write = write
        self._size = size
        self._plain = plain
        self._notes: deque[str] = deque(maxlen=NOTES)
        self._shown = shown_on(bound)
        self._next: float | None = None
        self._counted: dict[str, int] = {}
        self._counted_at = 0.0

    def turn(self, now: float) -> list[Finding]:
        """The table, when it is due."""
        if self._next is None or now >= self._next:
            self._next = now + EVERY
            if self._plain:
                self._write("".join(f"{line}\n" for line in [*self.lines(), ""]))
                return []
            columns, height = self._size()
            lines = self.lines()
            room = max(3, height - 1)
            if len(lines) > room:
                hidden = len(lines) - room + 1
                lines = [*lines[: room - 1], f"... and {hidden} more; make the terminal higher"]
            self._write(HOME + "".join(f"{line[:columns]}{CLEAR_LINE}\n" for line in lines) + CLEAR_REST)
        return []

    def close(self) -> list[Finding]:
        """Nothing is left open."""
        return []

    def note(self, text: str) -> None:
        """Something that happened, to stand above the table."""
        self._notes.append(" ".join(text.split()))

    def lines(self) -> list[str]:
        """The table: sources with their health, then a line for each signal."""
        passed = self._table.now - self._counted_at
        health = ", ".join(f"{source.name} {source.health}" for source in self._sources) or "no source"
        lines = [f"sources: {health}", *self._notes, _row(HEADS)]
        for name, definition in self._bound.design.signals.items():
            fresh = self._table.freshness(name)
            came = fresh.count - self._counted.get(name, 0)
            self._counted[name] = fresh.count
            rate = f"{came / passed:.1f}/s" if passed > 0 and definition.derived is None else ""
            age = "" if fresh.latest is None else _age(self._table.now - fresh.latest)
            unit = definition.unit.spelling if definition.unit is not None else ""
            value = _said(self._table.lookup(name), definition.resolution)
            shown = ", ".join(self._shown.get(name, ())) or "-"
            lines.append(_row((name, value, unit, age, rate, _source(definition), shown)))
        self._counted_at = self._table.now
        return [visible(line) for line in lines]


def shown_on(bound: BoundDesign) -> dict[str, list[str]]:
    """The screens on which each signal is shown, directly or through derived signals."""
    result: dict[str, list[str]] = {}
    derived = {
        name: definition.derived.signals
        for name, definition in bound.design.signals.items()
        if definition.derived is not None
    }
    for screen in bound.screens:
        names = {name for number in screen.channels for name in signals_of(bound.channels[number])}
        pending = list(names)
        while pending:
            more = derived.get(pending.pop(), frozenset()) - names
            names |= more
            pending += more
        for name in names - BUILTIN.keys():
            result.setdefault(name, []).append(screen.name)
    return result


def _row(cells: Sequence[str]) -> str:
    padded = [
        cell if not width else f"{cell[:width]:<{width}}" for cell, width in zip(cells, WIDTHS, strict=True)
    ]
    return " ".join(padded).rstrip()


def _said(value: Value, resolution: float | None) -> str:
    if isinstance(value, tuple):
        doubtful = sum(isinstance(item, Doubt) for item in value)
        numbers = [item for item in value if isinstance(item, float) and not isinstance(item, Doubt)]
        if numbers:
            spread = f"{_one(min(numbers), resolution)}..{_one(max(numbers), resolution)}"
            return spread + (f" ({doubtful}?)" if doubtful else "")
        return f"{len(value)} values" if doubtful < len(value) else _one(max(value, key=_gravity), None)
    return _one(value, resolution)


def _gravity(item: Item) -> int:
    return -int(item) if isinstance(item, Doubt) else -9


def _one(item: Item, resolution: float | None) -> str:
    if isinstance(item, Doubt):
        return DOUBTS[item]
    if isinstance(item, bool):
        return "on" if item else "off"
    if isinstance(item, str):
        return item
    places = 3
    if resolution:
        places = next((digits for digits in range(4) if abs(resolution * 10**digits) >= 0.999), 3)
    return f"{item:.{places}f}"


def _age(seconds: float) -> str:
    if seconds < 10:
        return f"{seconds * 1000:.0f} ms"
    return f"{seconds:.0f} s" if seconds < 600 else f"{seconds / 60:.0f} min"


def _source(definition: SignalDefinition) -> str:
    if definition.derived is not None:
        return "worked out"
    if definition.source is not None:
        return f"{definition.source.message}.{definition.source.signal}"
    return definition.asked.text if definition.asked is not None else "pipe"
