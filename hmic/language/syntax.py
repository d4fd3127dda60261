"""The syntax tree of a layout file. Every node knows its span; none knows a pixel or a vehicle.

Numbers keep the exact decimal the builder wrote (``Fraction``), so a limit compares as written.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from hmic.diagnostics import Span


@dataclass(frozen=True)
class Quantity:
    """A number with the unit as spelt, or no unit (``""``): ``3.2 V``, ``600``."""

    number: Fraction
    unit: str
    span: Span


@dataclass(frozen=True)
class Text:
    """A quoted string, quotes removed."""

    text: str
    span: Span


@dataclass(frozen=True)
class Flag:
    """``on`` or ``off``."""

    value: bool
    span: Span


@dataclass(frozen=True)
class Name:
    """A bare word in a value's place: a part's parameter, the counter of ``each``, or ``row``."""

    name: str
    span: Span


@dataclass(frozen=True)
class Signal:
    """A dotted signal name, with the index of one element (counting from 1) if given."""

    name: str
    index: Expression | None
    span: Span


@dataclass(frozen=True)
class Operation:
    """``left operator right``; the operator is one of
    ``+ - * / < <= > >= is is_not and or``."""

    operator: str
    left: Expression
    right: Expression
    span: Span


@dataclass(frozen=True)
class Not:
    """``not value``."""

    value: Expression
    span: Span


@dataclass(frozen=True)
class Negative:
    """``-value``."""

    value: Expression
    span: Span


@dataclass(frozen=True)
class Call:
    """``max(pack.cells)``: a function of the model's table and its arguments."""

    function: str
    arguments: tuple[Expression, ...]
    span: Span


@dataclass(frozen=True)
class Convert:
    """``value in kW``."""

    value: Expression
    unit: str
    span: Span


Expression = Quantity | Text | Flag | Name | Signal | Operation | Not | Negative | Call | Convert


@dataclass(frozen=True)
class Phrase:
    """One phrase of a sentence, by kind, with its words and values in the order written.

    The table of kinds is in LANGUAGE.md; ``words`` holds bare words (roles, ramps, screens,
    directions), ``values`` holds expressions.
    """

    kind: str
    words: tuple[str, ...]
    values: tuple[Expression, ...]
    span: Span


@dataclass(frozen=True)
class Widget:
    """A thing shown. ``subject`` is the expression it shows, ``word`` the bare word after the kind
    (pictogram of a lamp or symbol, shape name); ``children`` are the traces of a chart."""

    kind: str
    word: str | None
    subject: Expression | None
    phrases: tuple[Phrase, ...]
    children: tuple[Widget, ...]
    span: Span
    head: Span

    def all(self, kind: str) -> tuple[Phrase, ...]:
        """The phrases of one kind, in the order written."""
        return tuple(phrase for phrase in self.phrases if phrase.kind == kind)

    def one(self, kind: str) -> Phrase | None:
        """The first phrase of a kind, or None."""
        return next((phrase for phrase in self.phrases if phrase.kind == kind), None)


@dataclass(frozen=True)
class Joint:
    """A named point of a schematic. Its place is in the ``at`` phrase."""

    name: str
    phrases: tuple[Phrase, ...]
    span: Span


@dataclass(frozen=True)
class Pipe:
    """A line between joints or the sides of named symbols (``motor.right``)."""

    ends: tuple[str, ...]
    end_spans: tuple[Span, ...]
    phrases: tuple[Phrase, ...]
    span: Span


@dataclass(frozen=True)
class Use:
    """``use PART with parameter value, ...``"""

    part: str
    arguments: tuple[tuple[str, Expression], ...]
    span: Span


@dataclass(frozen=True)
class Each:
    """``each NAME from A to B`` over its body."""

    name: str
    first: Expression
    last: Expression
    body: tuple[Content, ...]
    span: Span


Content = Widget | Joint | Pipe | Use | Each


@dataclass(frozen=True)
class Area:
    """``in AREA``: what stands there. ``flow`` is ``down`` (default), ``across`` or ``freely``."""

    name: str
    flow: str
    body: tuple[Content, ...]
    span: Span
    name_span: Span


@dataclass(frozen=True)
class PlanRow:
    """One drawn row of a plan: area names, ``.`` for an empty cell."""

    cells: tuple[str, ...]
    cell_spans: tuple[Span, ...]
    span: Span


@dataclass(frozen=True)
class Track:
    """``columns`` or ``rows``: sizes; a bare number is a share of what is left."""

    sizes: tuple[Quantity, ...]
    span: Span


@dataclass(frozen=True)
class Touch:
    """``touch AREA`` with what it asks and when."""

    area: str
    phrases: tuple[Phrase, ...]
    span: Span


@dataclass(frozen=True)
class Swipe:
    """``swipe left goes to SCREEN``."""

    direction: str
    screen: str
    span: Span


@dataclass(frozen=True)
class Plan:
    """The drawing of a screen or part: rows of area names, track sizes, gap and margin."""

    rows: tuple[PlanRow, ...]
    columns: Track | None
    heights: Track | None
    gap: Quantity | None
    margin: Quantity | None
    span: Span


@dataclass(frozen=True)
class Screen:
    """One full panel. ``rises`` is the condition under which it comes up by itself."""

    name: str
    title: str
    plan: Plan | None
    areas: tuple[Area, ...]
    touches: tuple[Touch, ...]
    swipes: tuple[Swipe, ...]
    rises: Expression | None
    yields_when_acknowledged: bool
    span: Span
    name_span: Span


@dataclass(frozen=True)
class Part:
    """A reusable piece of a screen with parameters and their defaults."""

    name: str
    parameters: tuple[tuple[str, Expression | None], ...]
    plan: Plan | None
    areas: tuple[Area, ...]
    span: Span
    name_span: Span


@dataclass(frozen=True)
class Order:
    """``swipe through A, B, C``."""

    screens: tuple[str, ...]
    spans: tuple[Span, ...]
    span: Span


@dataclass(frozen=True)
class Layout:
    """One file. ``above`` maps the number of each line that stands below another to that one's;
    ``whole`` is whether it was read to its end."""

    file: str
    screens: tuple[Screen, ...]
    parts: tuple[Part, ...]
    orders: tuple[Order, ...]
    above: Mapping[int, int] = field(default_factory=dict, compare=False)
    whole: bool = True
