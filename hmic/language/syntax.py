"""The syntax tree of a layout file. Every node knows its span; none knows a pixel or a vehicle.

Numbers keep the exact decimal the builder wrote (``Fraction``), so a limit compares as written.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from hmic.diagnostics import Span

WidgetKind = StrEnum(
    "WidgetKind",
    "LABEL READING WORDS CLOCK BAR LEVEL LAMP SYMBOL CELLS BUTTON SWITCH CHOICE STEPPER SLIDER DIAL CHART "
    "LIST PICTURE SHAPE SCREENS TRACE",
)
"""What a sentence shows. A trace stands under a chart alone."""

CONTROLS = frozenset(map(WidgetKind, ["button", "screens", "switch", "choice", "stepper", "slider", "list"]))
"""What takes a touch."""

PhraseKind = StrEnum(
    "PhraseKind",
    "ZONE ZONES UNMARKED SEGMENTS ROUNDED BESIDE GROWING GLIDES "
    "FORMAT TEXT CALLED SCALE MARKS FINE SWEEP FIGURES NEEDLE CENTRED ALSO TARGET STEPS PEAK RAMP COLOUR "
    "STATE ABOVE BELOW MEANS DIRECTION SHAPED ROWS DIFFERENCE GOES SETS TOGGLES BY ALLOWED HELD CONFIRMED "
    "REFUSED ACKNOWLEDGES OPTIONS OVER AT SIZED FLOW TURNED SHOWING MARKED ALIGNED HANDS ARC WITHIN CORNER "
    "OTHERWISE HIDDEN NAMED BEHIND OFF ON PICTOGRAM WAY EDGE SHADED SOFT DURING "
    "FONT SPACED UNIT DECIMALS",
)
"""What a phrase says, by its rule in the grammar."""


def phrase_kinds(kinds: str) -> frozenset[PhraseKind]:
    """Some kinds of phrases, by their words."""
    return frozenset(map(PhraseKind, kinds.split()))


ROLE_PHRASES = phrase_kinds("colour state above below otherwise zone edge shaded")
"""Those whose first word is a role of the themes; that of a shade is so too (``roles_of``)."""


def roles_of(phrase: Phrase) -> tuple[str, ...]:
    """The words of a phrase that are roles of the themes."""
    if phrase.kind not in ROLE_PHRASES:
        return ()
    return phrase.words[: 2 if phrase.kind == PhraseKind.SHADED else 1]



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


class Operator(StrEnum):
    """What joins two values."""

    PLUS = "+"
    MINUS = "-"
    TIMES = "*"
    OVER = "/"
    BELOW = "<"
    AT_MOST = "<="
    ABOVE = ">"
    AT_LEAST = ">="
    IS = "is"
    IS_NOT = "is_not"
    AND = "and"
    OR = "or"


@dataclass(frozen=True)
class Operation:
    """``left operator right``."""

    operator: Operator
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

    kind: PhraseKind
    words: tuple[str, ...]
    values: tuple[Expression, ...]
    span: Span


@dataclass(frozen=True)
class Widget:
    """A thing shown. ``subject`` is the expression it shows, ``word`` the bare word after the kind
    (pictogram of a lamp or symbol, shape name); ``children`` are the traces of a chart."""

    kind: WidgetKind
    word: str | None
    subject: Expression | None
    phrases: tuple[Phrase, ...]
    children: tuple[Widget, ...]
    span: Span
    head: Span

    def all(self, kind: PhraseKind) -> tuple[Phrase, ...]:
        """The phrases of one kind, in the order written."""
        return tuple(phrase for phrase in self.phrases if phrase.kind == kind)

    def one(self, kind: PhraseKind) -> Phrase | None:
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


def pieces(body: Iterable[Content]) -> Iterator[Content]:
    """What stands in a place, what every ``each`` repeats in its stead."""
    for item in body:
        if isinstance(item, Each):
            yield from pieces(item.body)
        else:
            yield item


def uses(body: Iterable[Content]) -> list[Use]:
    """The parts that are used in a place."""
    return [item for item in pieces(body) if isinstance(item, Use)]


Flow = StrEnum("Flow", "DOWN ACROSS FREELY")
"""How what stands in an area follows each other; usually down."""


@dataclass(frozen=True)
class Area:
    """``in AREA``: what stands there."""

    name: str
    flow: Flow
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


Side = StrEnum("Side", "LEFT RIGHT UP DOWN")


@dataclass(frozen=True)
class Swipe:
    """``swipe left goes to SCREEN``."""

    direction: Side
    screen: str
    span: Span


@dataclass(frozen=True)
class Surface:
    """``surface under AREA, AREA``: a place under areas of a plan that belong together."""

    areas: tuple[str, ...]
    area_spans: tuple[Span, ...]
    phrases: tuple[Phrase, ...]
    span: Span


@dataclass(frozen=True)
class Plan:
    """The drawing of a screen or part: rows of area names, track sizes, gap and margin, and the surfaces
    under its areas."""

    rows: tuple[PlanRow, ...]
    columns: Track | None
    heights: Track | None
    gap: Quantity | None
    margin: Quantity | None
    span: Span
    surfaces: tuple[Surface, ...] = ()


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
