"""Typed terms: what an expression is once its units are known, and the helpers to type with."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple, Protocol

from hmic.diagnostics import Finding, Span, error, lacking
from hmic.language import syntax
from hmic.model import values
from hmic.model.units import (
    PLAIN,
    Unit,
    converter,
    convertible,
    quantity_name,
)
from hmic.model.values import Item, Lookup, Value, ValueKind


class Needed(NamedTuple):
    """A condition that must hold for another, as it is written."""

    written: str
    evaluate: Callable[[Lookup], Value]


@dataclass(frozen=True)
class Typed:
    """An expression whose units have been checked.

    ``count`` is its length if it is an array.
    Numbers come out in ``unit``. ``low`` and ``high`` bound what a number can be, from the
    ranges of its signals (infinite where nothing bounds it). ``words`` are the words it can be.
    ``signals`` names every signal it reads. ``evaluate`` takes a lookup of signal values in their
    declared units and never raises: a missing value or a division by zero comes out as ``Doubt``.
    ``needs`` are, of a condition that is asked why it does not hold, the ones that it joins by ``and``.
    """

    kind: ValueKind
    unit: Unit | None
    count: int | None
    low: float
    high: float
    words: tuple[str, ...]
    signals: frozenset[str]
    evaluate: Callable[[Lookup], Value]
    needs: tuple[Needed, ...] = field(default=(), compare=False)

    @property
    def constant(self) -> bool:
        """Whether it is the same for ever: it reads no signal."""
        return not self.signals


class Declared(Protocol):
    """What an expression needs to know of a signal; ``design.SignalDefinition`` is one."""

    @property
    def kind(self) -> ValueKind: ...
    @property
    def unit(self) -> Unit | None: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...
    @property
    def count(self) -> int | None: ...
    @property
    def words(self) -> Mapping[int, str]: ...


class MemoryKind(StrEnum):
    """How the past makes a value, by the name of its function."""

    RATE = "rate"
    AVERAGE = "average"
    SMOOTH = "smooth"
    INTEGRAL = "integral"
    HYSTERESIS = "hysteresis"
    HOLD = "hold"
    DEBOUNCE = "debounce"


@dataclass(frozen=True)
class Memory:
    """A value that depends on the past of ``input``; ``name``, its formula, reads it like a signal.

    A rate is in the unit of ``input`` per second; rate, average and smooth are over ``seconds``. An
    integral (unit of ``input`` times seconds) is begun again when ``reset`` turns on; a hysteresis is on
    from ``on`` and off from ``off`` in the unit of ``input``; hold and debounce are for ``seconds``.
    """

    name: str
    kind: MemoryKind
    input: Typed
    reset: Typed | None = None
    seconds: float = 0.0
    on: float = 0.0
    off: float = 0.0


@dataclass(frozen=True)
class Scope:
    """Names in reach. ``names`` holds part parameters and ``each`` counters; ``broken`` the signals
    whose declaration has an error, with it. ``warnings`` gathers what ``typed``
    finds that is no error, ``memories`` what an expression needs remembered, by name, each after
    those it reads; without it nothing can be remembered."""

    signals: Mapping[str, Declared]
    names: Mapping[str, Typed] = field(default_factory=dict)
    broken: Mapping[str, Finding] = field(default_factory=dict)
    warnings: list[Finding] = field(default_factory=list)
    memories: dict[str, Memory] | None = None


@dataclass(frozen=True)
class Typing:
    """``relied`` are the errors of signals that were met."""

    scope: Scope
    errors: list[Finding]
    relied: list[Finding] = field(default_factory=list)

    def fail(self, code: str, message: str, span: Span, remedy: str | None = None) -> None:
        self.errors.append(error(code, message, span, remedy))


def as_unit(value: Typed, target: Unit) -> Typed | None:
    """The number in another unit, or None when it does not convert."""
    if value.kind != ValueKind.NUMBER or value.unit is None or not convertible(value.unit, target):
        return None
    if value.unit == target:
        return value
    convert = converter(value.unit, target)
    return replace(
        value,
        unit=target,
        low=convert(value.low),
        high=convert(value.high),
        evaluate=values.each(value.evaluate, values.converted(value.unit, target)),
    )


def signal_typed(name: str, signal: Declared) -> Typed:
    """The bare signal as an expression. A value that breaks the declaration is out of range."""
    words = tuple(dict.fromkeys(signal.words[raw] for raw in sorted(signal.words)))
    check: Callable[[object], Item]
    if signal.kind == ValueKind.NUMBER:
        check = values.number_check(signal.low, signal.high)
    elif signal.kind == ValueKind.FLAG:
        check = values.flag_check
    elif signal.kind == ValueKind.WORD:
        check = values.word_check(words)
    else:
        check = values.text_check
    return Typed(
        signal.kind,
        signal.unit if signal.kind == ValueKind.NUMBER else None,
        signal.count,
        signal.low if signal.kind == ValueKind.NUMBER else 0.0,
        signal.high if signal.kind == ValueKind.NUMBER else 0.0,
        words if signal.kind == ValueKind.WORD else (),
        frozenset({name}),
        values.read(name, signal.count, check),
    )


def constant_number(number: Fraction | float, of: Unit = PLAIN) -> Typed:
    """A number that never changes, such as the counter of ``each``."""
    value = float(number)
    return Typed(ValueKind.NUMBER, of, None, value, value, (), frozenset(), values.constant(value))


def constant_text(text: str) -> Typed:
    """A text that never changes."""
    return Typed(ValueKind.TEXT, None, None, 0.0, 0.0, (text,), frozenset(), values.constant(text))


def constant_flag(value: bool) -> Typed:
    """On or off for ever."""
    return Typed(ValueKind.FLAG, None, None, 0.0, 0.0, (), frozenset(), values.constant(value))


def said(expression: syntax.Expression) -> str:
    """How a message names the expression: as written where that is short."""
    match expression:
        case syntax.Signal(name, index):
            return name if index is None else f"{name}[{said(index)}]"
        case syntax.Quantity(number, spelling):
            return f"{decimal(number)} {spelling}".strip()
        case syntax.Text(text):
            return f'"{text}"'
        case syntax.Flag(value):
            return "on" if value else "off"
        case syntax.Name(name):
            return name
        case syntax.Call(function):
            return f"{function}(...)"
    return "this value"


def decimal(number: Fraction) -> str:
    return str(number.numerator) if number.denominator == 1 else f"{float(number):g}"


def spelt(value: Typed) -> str:
    return value.unit.spelling if value.unit is not None else ""


def is_flag(node: syntax.Expression, value: Typed, word: str, typing: Typing) -> bool:
    if value.kind == ValueKind.FLAG:
        return True
    message = f"'{word}' joins conditions; {said(node)} is a {value.kind}"
    # The comparison may stand in words that could not be read.
    typing.errors.append(lacking("M206", message, node.span, "compare it first, with <, > or `is`"))
    return False


def is_number(node: syntax.Expression, value: Typed, operator: str, typing: Typing) -> bool:
    if value.kind == ValueKind.NUMBER:
        return True
    message = f"'{operator}' needs numbers; {said(node)} is a {value.kind}"
    remedy = "compare with `is`" if operator[0] in "<>" else "use a signal that has a unit"
    typing.fail("M206", message, node.span, remedy)
    return False


def are_numbers(node: syntax.Call, known: Sequence[Typed], typing: Typing) -> bool:
    """Whether all that a function is given are numbers; each that is none is told."""
    pairs = zip(node.arguments, known, strict=True)
    found = [is_number(place, value, node.function, typing) for place, value in pairs]
    return all(found)


def is_amount(node: syntax.Expression, value: Typed, operator: str, typing: Typing) -> bool:
    """Whether the number may be multiplied, negated or summed: no point on a temperature scale."""
    if value.unit is None or not value.unit.offset:
        return True
    message = (
        f"{said(node)} is a point on the {value.unit.spelling} scale; '{operator}' has no meaning for it"
    )
    remedy = f"convert it first: `{said(node)} in K`; a difference of temperatures is in K too"
    typing.fail("M205", message, node.span, remedy)
    return False


def with_quantity(of: Unit) -> str:
    return "a plain number" if of == PLAIN else f"{of.spelling} ({quantity_name(of)})"
