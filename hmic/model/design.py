"""The typed design: what a design folder says, checked and joined."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from hmic.causes import Faults
from hmic.diagnostics import Finding, Span, Subject
from hmic.language import syntax
from hmic.model.asked import AskedSource
from hmic.model.builtin import BUILTIN
from hmic.model.checksums import Method
from hmic.model.expressions import Scope, Typed, Typings, ValueKind
from hmic.model.terms import Memory
from hmic.model.units import Unit
from hmic.model.values import SLACK

Colour = tuple[int, int, int]


NEARLY_SQUARE = 0.03
"""Part by which pixels may seem wider than high, or the other way, and are taken for square ones: data sheets
round, and no eye sees it."""


@dataclass(frozen=True)
class Panel:
    """The glass and what drives it. Lengths in mm, ``eye_distance`` from eye to panel in mm,
    ``depth`` in bits a pixel (16 or 24), ``baud`` in Bd, ``flash`` and ``memory`` in bytes.

    ``reflectance`` is the part of the light falling on the glass that comes back diffusely, and
    ``native_contrast`` white to black in the dark; None where the design does not say.
    ``half_duplex``: two wires carry both ways of the line (RS-485), so the ends take turns.
    ``touch`` says whether the glass feels fingers, ``knob`` whether one turns through the screens.
    ``round``: only the circle within the lit area is seen. ``turned``: degrees clockwise by which it is
    mounted, which is the port's matter: all else is upright."""

    width: int
    height: int
    width_mm: float
    height_mm: float
    eye_distance: float
    depth: int
    baud: int
    flash: int
    memory: int
    reflectance: float | None = None
    native_contrast: float | None = None
    touch: bool = True
    knob: bool = False
    half_duplex: bool = False
    round: bool = False
    turned: int = 0

    def beyond(self, x: float, y: float) -> float:
        """Millimetres by which a point, in px from the panel's corner, lies outside round glass: below 0
        within it."""
        across, down = 2 * x / self.width - 1, 2 * y / self.height - 1
        return (math.hypot(across, down) - 1) * self.height_mm / 2

    @property
    def pitch(self) -> float:
        """Millimetres a pixel, vertically."""
        return self.height_mm / self.height

    @property
    def square(self) -> bool:
        """Whether pixels are as wide as they are high, as near as data sheets round."""
        return abs(self.width_mm * self.height / (self.height_mm * self.width) - 1) <= NEARLY_SQUARE

    @property
    def pitch_across(self) -> float:
        """Millimetres a pixel, horizontally."""
        return self.pitch if self.square else self.width_mm / self.width

    def pixels_from_mm(self, length: float, across: bool = False) -> float:
        """Pixels down, or ``across``, unrounded."""
        return length / (self.pitch_across if across else self.pitch)

    def pixels_from_arcmin(self, angle: float, across: bool = False) -> float:
        """Pixels down, or ``across``, that subtend ``angle`` minutes of arc at the eye.

        height = distance * tan(angle); FHWA-RD-98-057 equation 3.
        """
        length = self.eye_distance * math.tan(math.radians(angle / 60))
        return length / (self.pitch_across if across else self.pitch)

    def arcmin_from_pixels(self, pixels: float) -> float:
        """The inverse of ``pixels_from_arcmin``."""
        return math.degrees(math.atan(pixels * self.pitch / self.eye_distance)) * 60


@dataclass(frozen=True)
class CanSource:
    """A signal of a message of a bus, which has no name where the design names none. In an array ``{n}``
    stands for the element. Of a parameter group of J1939 ``address`` is that of the sender that is meant, and
    ``destination`` that of the receiver, where the signal says them."""

    message: str
    signal: str
    bus: str = ""
    address: int | None = None
    destination: int | None = None


Sample = float | bool | str | tuple[float | bool | str, ...]
"""What pictures show of a signal, ``unseen``, ``stale`` and ``out`` for doubt."""


@dataclass(frozen=True)
class SignalDefinition:
    """A vehicle signal as declared in signals.yaml.

    ``kind`` is ``number``, ``flag``, ``word`` or ``text``. Numbers have a ``unit`` and a range
    ``low`` to ``high`` in that unit, words their ``words`` by raw value. ``count`` is the length
    of an array, None for a single value. ``stale_after`` is in milliseconds. ``no_data`` is the
    physical value a sender uses for "not available". ``derived``, ``source`` and ``asked`` exclude each
    other; ``formula`` is what ``derived`` was read from. ``resolution`` is the step of the source
    in the signal's unit, where declared. ``sample`` is the value that pictures without a vehicle show, in
    the unit; of an array also some, for its elements from the first on.
    """

    name: str
    kind: ValueKind
    unit: Unit | None
    low: float
    high: float
    count: int | None
    words: Mapping[int, str]
    source: CanSource | None
    derived: Typed | None
    stale_after: int
    no_data: float | None
    resolution: float | None
    about: str
    span: Span
    formula: syntax.Expression | None = None
    asked: AskedSource | None = None
    sample: Sample | None = None


@dataclass(frozen=True)
class FieldSteps:
    """The numbers that a field can carry, in the unit of its output's signal: ``low`` and each ``step``
    from it, ``count`` of them."""

    low: float
    step: float
    count: int

    def within(self, low: float, high: float) -> tuple[float, float] | None:
        """The least and the greatest of them that lie in a range, to the slack that readings have; None
        where there is none."""
        slack = SLACK * (high - low)
        first = max(0, math.ceil((low - slack - self.low) / self.step))
        last = min(self.count - 1, math.floor((high + slack - self.low) / self.step))
        return None if first > last else (self._at(first), self._at(last))

    def nearest(self, value: float, low: float, high: float) -> float | None:
        """The nearest of those that lie in a range, None where there is none."""
        ends = self.within(low, high)
        return None if ends is None else min(max(self.closest(value), ends[0]), ends[1])

    def carries(self, value: float) -> bool:
        """Whether a value is none beyond the first and the last."""
        return self._at(0) <= value <= self._at(self.count - 1)

    def closest(self, value: float) -> float:
        """The nearest of all."""
        return self._at(min(max(round((value - self.low) / self.step), 0), self.count - 1))

    def _at(self, number: int) -> float:
        return self.low + number * self.step


@dataclass(frozen=True)
class OutputDefinition:
    """Something a touch may ask the vehicle for. The signal of the same name reads it back.

    ``message`` and ``field`` are of the DBC of ``bus``; all are empty for an output that goes to the pipe.
    ``low`` and ``high`` bound a number that may be asked for, in the signal's unit; where the field has
    ``steps`` they are two of them. Two requests are at least ``every`` ms apart. ``allowed`` must be true
    without doubt when it is asked for.
    """

    name: str
    signal: SignalDefinition
    message: str
    field: str
    span: Span
    low: float = -math.inf
    high: float = math.inf
    every: int = 0
    allowed: Typed | None = None
    steps: FieldSteps | None = None
    bus: str = ""


class MessageCheck(NamedTuple):
    """How a message shows that its sender lives: ``counter``, a field that moves with every frame, and
    ``checksum``, a byte by ``method`` over all the other bytes, after the low byte of the identifier
    if ``with_identifier``. Either may be None."""

    message: str
    counter: str | None
    checksum: str | None
    method: Method
    with_identifier: bool
    span: Span
    bus: str = ""


class Ramp(NamedTuple):
    """Colours evenly spaced along a scale, interpolated between."""

    name: str
    stops: tuple[Colour, ...]
    span: Span


@dataclass(frozen=True)
class ThemeDefinition:
    """Values for the colour roles and ramps. ``luminance`` is the white of the panel under this
    theme in cd/m2, ``brightness`` the backlight in percent."""

    name: str
    roles: Mapping[str, Colour]
    ramps: Mapping[str, Ramp]
    luminance: float
    brightness: int
    span: Span


@dataclass(frozen=True)
class BySignal:
    """Each theme from its level up: ``levels`` are (value in the signal's unit, theme number),
    ascending; below the lowest its theme stays. A level is left downwards below ``value *
    (1 - hysteresis)``. A change needs ``wait`` ms on the other side; after ``keep`` ms in doubt the
    first theme is shown."""

    signal: str
    levels: tuple[tuple[float, int], ...]
    hysteresis: float
    wait: int
    keep: int


@dataclass(frozen=True)
class ByClock:
    """Each theme from its time on: (minutes since midnight, theme number), ascending; before the
    first the last one of the day before holds."""

    times: tuple[tuple[int, int], ...]


ThemeChoice = BySignal | ByClock


def theme_at(choice: ByClock, minutes: float) -> int:
    """The number of the theme that holds at a time of day, in minutes since midnight."""
    begun = [theme for at, theme in choice.times if at <= minutes]
    return begun[-1] if begun else choice.times[-1][1]


def first_theme(design: Design) -> int:
    """The number of the theme that a display shows until a host speaks: the first; where the clock chooses,
    the darkest that it can choose, since the host may take its time at night."""
    if not isinstance(design.choose, ByClock):
        return 0
    return min((theme for _, theme in design.choose.times), key=lambda at: design.themes[at].luminance)


def level_at(choice: BySignal, value: float, held: int = -1) -> int:
    """The number of the level that holds at a value while level ``held`` does, -1 for none: what is held
    is kept down to its hysteresis."""
    place = 0
    for number, (level, _) in enumerate(choice.levels):
        edge = level - abs(level) * choice.hysteresis if number <= held else level
        if value >= edge:
            place = number
    return place


class LimitSetting(NamedTuple):
    """A limit of the checks that this design sets itself: its number, the unit if one is written,
    and the builder's reason."""

    number: float
    unit: str
    because: str
    span: Span


DecimalSign = StrEnum("DecimalSign", "POINT COMMA")


@dataclass(frozen=True)
class Locale:
    """How all numbers are written: ``decimal`` None is as each format has it,
    ``units`` maps units as the layouts write them to those shown in their place."""

    decimal: DecimalSign | None = None
    units: Mapping[str, str] = field(default_factory=dict)


class OwnPictogram(NamedTuple):
    """A pictogram of the design: ``file`` and ``text`` of its SVG, and where design.yaml names it."""

    name: str
    file: str
    text: str
    span: Span


MOST_SPACED = 50.0
"""Percent of their height that letters may stand apart: more, and a word falls into letters (common practice,
no source)."""

# Printable ASCII and the letters of Latin-1: most of western Europe.
DEFAULT_LETTERS = "".join(map(chr, [*range(0x20, 0x7F), *range(0xC0, 0x100)]))


@dataclass(frozen=True)
class Design:
    """A whole design. ``fonts`` maps uses (``text``, ``figures``, others by the design's own names) to
    files, ``spaced`` a use to what stands between its letters, in percent of their height; ``order`` is
    the order of swiping. ``sources`` maps file names, as spans use them, to their text. ``broken`` names
    the signals whose declaration has an error, with it: no second finding is due where they are used.
    ``faults`` are all the errors that were told in loading it. ``letters`` are those that texts from
    outside (titles, messages) can be made of. ``choose`` says which theme is shown when; without it one
    is chosen by hand. ``said`` maps words of signals to what is shown for them in the design's language.
    ``memories`` are what derived signals need remembered, by name, each after those it reads;
    ``messages`` how messages show that they live, by ``address``. ``buses`` are the files that describe
    the vehicle's buses by the bus's name, which is empty where there is one and the design names none;
    ``j1939`` whether their messages are parameter groups, of those of which the design says it.
    ``described`` are the files of shared parts by the part's name, ``on`` the bus that each is on, and
    ``borrowed`` the files that the parts brought. ``pictograms`` are its own, by name. ``moments`` say by
    screen what its pictures show in place of the signals' samples."""

    root: Path
    name: str
    panel: Panel
    fonts: Mapping[str, Path]
    start: str
    buses: Mapping[str, Path]
    signals: Mapping[str, SignalDefinition]
    outputs: Mapping[str, OutputDefinition]
    themes: tuple[ThemeDefinition, ...]
    screens: Mapping[str, syntax.Screen]
    parts: Mapping[str, syntax.Part]
    order: tuple[str, ...]
    sources: Mapping[str, str]
    broken: Mapping[str, Finding] = field(default_factory=dict)
    faults: Faults = field(default_factory=Faults, compare=False)
    limits: Mapping[str, LimitSetting] = field(default_factory=dict)
    letters: str = DEFAULT_LETTERS
    choose: ThemeChoice | None = None
    locale: Locale = Locale()
    said: Mapping[str, str] = field(default_factory=dict)
    memories: Mapping[str, Memory] = field(default_factory=dict)
    messages: Mapping[str, MessageCheck] = field(default_factory=dict)
    j1939: Mapping[str, bool] = field(default_factory=dict)
    described: Mapping[str, Path] = field(default_factory=dict)
    on: Mapping[str, str] = field(default_factory=dict)
    borrowed: frozenset[str] = frozenset()
    pictograms: Mapping[str, OwnPictogram] = field(default_factory=dict)
    spaced: Mapping[str, float] = field(default_factory=dict)
    moments: Mapping[str, Mapping[str, Sample]] = field(default_factory=dict)

    @property
    def descriptions(self) -> Mapping[str, Path]:
        """The files that describe messages, by the bus or the shared part that a source names."""
        return {**self.buses, **self.described}

    @property
    def wired(self) -> tuple[str, ...]:
        """The buses of the vehicle: those that design.yaml names, or the one without a name."""
        return tuple(self.buses) or tuple(dict.fromkeys(self.on.values()))

    def wire(self, bus: str) -> str:
        """The bus of the vehicle that something is on which is of a bus or of a shared part."""
        return self.on.get(bus, bus)

    @cached_property
    def typings(self) -> Typings:
        """Expressions with this design's signals and built-in ones in reach."""
        return Typings(Scope({**BUILTIN, **self.signals}, broken=self.broken))


def part_subject(part: syntax.Part) -> Subject:
    """A part as something that findings can rest on."""
    return Subject(part.name_span.file, ("part", part.name))


def carried_subject(output: str) -> Subject:
    """What of its range the field of an output can carry."""
    return Subject("", ("carried", output))


CHOICE = Subject("themes.yaml", ("choose",))
"""Which theme is shown when."""


WAYS = Subject("", ("ways",))
"""Which screens lead to which."""


SIGNALS = Subject("signals.yaml", ("signals",))
"""All that is declared of signals."""
OUTPUTS = Subject("signals.yaml", ("outputs",))
"""All that a touch may ask for."""
TWICE = Subject("", ("twice",))
"""The name of a screen or part whose own is another's."""
START = Subject("design.yaml", ("start",))
"""Which screen is the first."""
GLASS = tuple(Subject("design.yaml", ("panel", key)) for key in ("pixels", "size", "eye distance"))
"""What every length on the panel is measured by."""
THEMES = Subject("themes.yaml", ("themes",))
"""The colours and the light of all themes: which of them is the brighter decides what each is held to."""


def sources_of(names: Iterable[str], design: Design) -> frozenset[str]:
    """The signals from outside that some signals are worked out from, what they remember included; a
    signal from outside stands for itself."""
    found: set[str] = set()
    seen: set[str] = set()
    rest = list(names)
    while rest:
        name = rest.pop()
        if name in seen:
            continue
        seen.add(name)
        definition, memory = design.signals.get(name), design.memories.get(name)
        if memory is not None:
            rest.extend(memory.input.signals)
            rest.extend(memory.reset.signals if memory.reset is not None else ())
        elif definition is not None and definition.derived is not None:
            rest.extend(definition.derived.signals)
        else:
            found.add(name)
    return frozenset(found)
