"""The signal table: what is known of the vehicle, since when, and how far it can be trusted."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Mapping
from copy import copy
from dataclasses import dataclass

from hmic.diagnostics import Finding, warning
from hmic.model.design import SignalDefinition
from hmic.model.expressions import Doubt, Scalar, Value, ValueKind
from hmic.model.terms import Memory, MemoryKind
from hmic.model.values import number_check
from hmic.runtime.decoding import Arrival
from hmic.runtime.keeping import Sum
from hmic.runtime.remembering import NEVER, Machine
from hmic.runtime.vehicle_time import earliest

LEAP = 600.0
"""Seconds after which a time without a look is a leap, such as the host's sleep: averages and rates
begin anew."""


@dataclass(slots=True)
class _Cell:
    """One value. ``until`` is the vehicle time at which it turns stale, ``count`` how often one came."""

    value: Scalar | Doubt = Doubt.UNSEEN
    at: float = float("-inf")
    until: float = float("inf")
    waiting: bool = False
    stale: bool = False
    count: int = 0

    def copied(self) -> _Cell:
        # A design has hundreds: `copy.copy` takes six times as long.
        return _Cell(self.value, self.at, self.until, self.waiting, self.stale, self.count)


@dataclass(frozen=True)
class Freshness:
    """How a signal arrives: the vehicle time of its latest value (None: never), and how many came,
    elements of a list counted singly."""

    latest: float | None
    count: int


def _sum(machine: Machine) -> Sum:
    of = machine.memory.input.unit
    return Sum(machine.sum) if of is None else Sum(machine.sum, of.factor, of.dimension)


class SignalTable:
    """Values by signal name, with doubt.

    All times are vehicle seconds. A value is live from its time up to, not including, that time
    plus the signal's stale time; a stale time of 0 means that it does not age. Only ``advance``
    moves time, and never backwards.
    """

    def __init__(self, signals: Mapping[str, SignalDefinition], memories: Iterable[Memory] = ()) -> None:
        self._definitions = signals
        self._cells = {
            name: tuple(_Cell() for _ in range(definition.count or 1))
            for name, definition in signals.items()
            if definition.derived is None
        }
        self._derived = {
            name: definition.derived for name, definition in signals.items() if definition.derived is not None
        }
        self._checks = {
            name: number_check(definition.low, definition.high)
            for name, definition in signals.items()
            if definition.kind == ValueKind.NUMBER
        }
        self._machines = {memory.name: Machine(memory) for memory in memories}
        self._places = {name: place for place, name in enumerate(self._machines)}
        self._unlooked: set[str] = set(self._machines)
        self._dependents = self._find_dependents()
        self._values: dict[str, Value] = {}
        self._own: dict[str, Scalar] = {}
        self._changed: set[str] = set()
        self._stale: list[tuple[float, str, int]] = []
        self._evaluating: set[str] = set()
        self.now = 0.0
        self.on_moment: Callable[[], None] | None = None
        """Called at every moment at which something may have changed by time, and at the end of each
        ``advance``."""

    def copied(self) -> SignalTable:
        """Another that knows the same, and goes on by itself; nobody listens to its ``on_moment`` yet."""
        twin = copy(self)
        twin._cells = {name: tuple(cell.copied() for cell in cells) for name, cells in self._cells.items()}
        twin._machines = {name: machine.copied() for name, machine in self._machines.items()}
        twin._values, twin._own = self._values.copy(), self._own.copy()
        twin._unlooked, twin._changed = self._unlooked.copy(), self._changed.copy()
        twin._stale, twin._evaluating = self._stale.copy(), set()
        twin.on_moment = None
        return twin

    def feed(self, arrival: Arrival) -> None:
        """Takes in an arrival. A time ahead of the table's counts as now; a reading older than the
        one held is dropped; a name that the design lacks is ignored."""
        at = min(arrival.at, self.now)
        for reading in arrival.readings:
            self._put(reading.name, reading.element or 0, reading.value, at)
        if self._unlooked:
            self._look()

    def keep(self, name: str, value: Scalar) -> None:
        """Sets a value that the runtime itself knows, such as the time of day. It is never stale."""
        held = self._own.get(name)
        if held != value or type(held) is not type(value):
            self._own[name] = value
            self._touch(name)
            if self._unlooked:
                self._look()

    def advance(self, now: float) -> None:
        """Moves time on; what has outlived its stale time turns stale."""
        if self._machines or self.on_moment is not None:
            self._step(now)
        else:
            self.now = max(self.now, now)
            self._age()

    def sums(self) -> dict[str, Sum]:
        """The integrals by name, to be kept while the power is off."""
        return {
            name: _sum(machine)
            for name, machine in self._machines.items()
            if machine.memory.kind == MemoryKind.INTEGRAL
        }

    def restore(self, sums: Mapping[str, Sum]) -> list[Finding]:
        """Goes on from integrals that were kept, in the units of the design; names that the design lacks
        are ignored. A sum of another quantity is told and begins at 0."""
        findings: list[Finding] = []
        for name, machine in self._machines.items():
            if machine.memory.kind != MemoryKind.INTEGRAL or name not in sums:
                continue
            kept = sums[name].like(_sum(machine))
            if kept is None:
                message = f"the kept sum of `{name}` is of another quantity than the design's is now"
                findings.append(warning("R757", message, None, "it begins again at 0"))
                continue
            machine.sum = kept
            self._unlooked.add(name)
        self._look()
        return findings

    def freshness(self, name: str) -> Freshness:
        """How a signal from outside arrives; a name that is none never did."""
        cells = self._cells.get(name, ())
        count = sum(cell.count for cell in cells)
        return Freshness(max(cell.at for cell in cells) if count else None, count)

    def _step(self, until: float) -> None:
        """Moves time on from one moment to the next at which something remembered may change."""
        leaps = until - self.now > LEAP
        end = self.now + LEAP if leaps else until
        self._look()
        while True:
            due = min((machine.due for machine in self._machines.values()), default=NEVER)
            stale = self.next_stale()
            at = min(due, NEVER if stale is None else stale)
            if at > end:
                break
            self.now = max(self.now, at)
            self._age()
            self._unlooked.update(name for name, machine in self._machines.items() if machine.due <= at)
            self._look()
            if self.on_moment is not None:
                self.on_moment()
        self.now = max(self.now, until)
        self._age()
        if leaps:
            for machine in self._machines.values():
                machine.forget()
            self._unlooked.update(self._machines)
        self._look()
        if self.on_moment is not None:
            self.on_moment()

    def _look(self) -> None:
        """Shows the machines what may have changed, each after those it reads."""
        while self._unlooked:
            name = min(self._unlooked, key=self._places.__getitem__)
            self._unlooked.discard(name)
            machine = self._machines[name]
            memory = machine.memory
            reset = memory.reset.evaluate(self.lookup) if memory.reset is not None else False
            if machine.look(memory.input.evaluate(self.lookup), reset, self.now):
                self._touch(name)
                self._unlooked.discard(name)

    def _age(self) -> None:
        while self._stale and self._stale[0][0] <= self.now:
            _, name, element = heapq.heappop(self._stale)
            cell = self._cells[name][element]
            if cell.until > self.now:
                heapq.heappush(self._stale, (cell.until, name, element))
                continue
            cell.waiting = False
            if not isinstance(cell.value, Doubt) or cell.value is Doubt.OUT_OF_RANGE:
                cell.value, cell.stale = Doubt.STALE, True
                self._touch(name)

    def next_due(self) -> float | None:
        """The vehicle time at which something changes by time alone: a value turns stale, or what
        is remembered moves."""
        return earliest((self.next_stale(), *(machine.due for machine in self._machines.values())))

    def next_stale(self) -> float | None:
        """The vehicle time at which the next value turns stale; None if nothing is live."""
        while self._stale:
            until, name, element = self._stale[0]
            cell = self._cells[name][element]
            if cell.value is Doubt.UNSEEN:
                heapq.heappop(self._stale)
                cell.waiting = False
            elif cell.until != until:
                heapq.heapreplace(self._stale, (cell.until, name, element))
            else:
                return until
        return None

    def lookup(self, name: str) -> Value:
        """The value of a signal in its declared unit, or its doubt; arrays element by element. An
        unknown name is ``Doubt.UNSEEN``."""
        value = self._values.get(name)
        if value is None:
            value = self._compute(name)
            self._values[name] = value
        return value

    def take_changed(self) -> set[str]:
        """Names, derived ones included, whose value may have changed since the last call."""
        changed, self._changed = self._changed, set()
        return changed

    def stale_count(self) -> int:
        """How many values of the vehicle (array elements counted singly) are stale now."""
        return sum(cell.stale for cells in self._cells.values() for cell in cells)

    def _put(self, name: str, element: int, value: Scalar | Doubt, at: float) -> None:
        cells = self._cells.get(name)
        if cells is None or not 0 <= element < len(cells):
            return
        cell = cells[element]
        if at < cell.at:
            return
        definition = self._definitions[name]
        cell.at = at
        cell.count += 1
        cell.until = at + definition.stale_after / 1000 if definition.stale_after else float("inf")
        value = self._checked(name, value)
        cell.stale = cell.until <= self.now and value is not Doubt.UNSEEN
        if cell.stale:
            value = Doubt.STALE
        elif value is not Doubt.UNSEEN and definition.stale_after and not cell.waiting:
            cell.waiting = True
            heapq.heappush(self._stale, (cell.until, name, element))
        if value != cell.value or type(value) is not type(cell.value):
            cell.value = value
            self._touch(name)

    def _checked(self, name: str, value: Scalar | Doubt) -> Scalar | Doubt:
        check = self._checks.get(name)
        return value if check is None else check(value)

    def _touch(self, name: str) -> None:
        for changed in (name, *self._dependents.get(name, ())):
            self._values.pop(changed, None)
            if changed in self._machines:
                self._unlooked.add(changed)
            else:
                self._changed.add(changed)

    def _compute(self, name: str) -> Value:
        if name in self._own:
            return self._own[name]
        cells = self._cells.get(name)
        if cells is not None:
            if self._definitions[name].count is None:
                return cells[0].value
            return tuple(cell.value for cell in cells)
        if name in self._machines:
            return self._machines[name].value
        expression = self._derived.get(name)
        if expression is None or name in self._evaluating:
            return Doubt.UNSEEN
        self._evaluating.add(name)
        try:
            value = expression.evaluate(self.lookup)
        finally:
            self._evaluating.discard(name)
        if isinstance(value, tuple):
            return tuple(self._checked(name, element) for element in value)
        return self._checked(name, value)

    def _find_dependents(self) -> dict[str, tuple[str, ...]]:
        """For each signal the derived and remembered ones that read it, directly or through others."""
        direct: dict[str, list[str]] = {}
        for name, expression in self._derived.items():
            for read in sorted(expression.signals):
                direct.setdefault(read, []).append(name)
        for name, machine in self._machines.items():
            memory = machine.memory
            reset = memory.reset.signals if memory.reset is not None else frozenset()
            for read in sorted(memory.input.signals | reset):
                direct.setdefault(read, []).append(name)
        found: dict[str, tuple[str, ...]] = {}
        for name in direct:
            reached: dict[str, None] = {}
            pending = list(direct.get(name, ()))
            while pending:
                dependent = pending.pop()
                if dependent not in reached:
                    reached[dependent] = None
                    pending.extend(direct.get(dependent, ()))
            if reached:
                found[name] = tuple(reached)
        return found
