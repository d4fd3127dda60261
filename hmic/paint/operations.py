"""The drawing operations: the whole vocabulary of a display.

A screen is a list of operations in z order. An operation's pixels follow from its fields, the
theme's palette, the channel table and the display's clock, by integer arithmetic alone. The rules
that all share (clipping, levels, blending, hatches, depth) are in ``PIXELS.md``; ``painter.py`` is
how the host paints. Nothing is ever painted outside an operation's box.

A channel's raw value is 0 never seen, 1 stale, 2 out of range, and ``LIVE + step`` otherwise; a
value above the channel's last step counts as out of range. An operation whose ``tint`` or
``channel`` is not live is painted in the doubt look whatever else it says, or (``Slide``,
``Pointer``, ``Flow``) not at all, so no widget can show a dead value as a live one. What vanishes
in doubt leaves an empty scale or a bare pipe, and a widget shows the doubt of the same value beside
it wherever that is not plain.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntEnum
from typing import ClassVar, NamedTuple

UNSEEN = 0
STALE = 1
OUT_OF_RANGE = 2
LIVE = 3

NO_CHANNEL = 0xFFFF

# The first entries of every palette.
GROUND = 0
DOUBT = 1


class Box(NamedTuple):
    """Pixels ``left <= x < left + width``, ``top <= y < top + height``."""

    left: int
    top: int
    width: int
    height: int


class Ink(NamedTuple):
    """A palette entry. With ``tint`` a channel, the entry is ``first + step`` of that channel,
    and the doubt look when the channel is not live."""

    first: int
    tint: int = NO_CHANNEL


class When(NamedTuple):
    """Paint only while ``low <= raw <= high`` of the channel."""

    channel: int
    low: int
    high: int


class Mask(NamedTuple):
    """Coverage 0..15 for each pixel, row by row, one byte a pixel (packed to 4 bits in a pack)."""

    width: int
    height: int
    coverage: bytes


class Glyph(NamedTuple):
    """A mask of the pack at an offset from the operation's box corner."""

    mask: int
    left: int
    top: int


class Part(Enum):
    """What an operation is to the eye; a check asks for this and not for a class."""

    PLACE = "a plain place on which others stand"
    FILLING = "a place that a value fills or colours"
    SHAPE = "a shape that must be made out"
    TEXT = "figures or letters"
    PICTURE = "a picture in its own colours"


class InDoubt(Enum):
    """How an operation is painted while its value is not live."""

    HATCH = "its own pixels through the hatch of the doubt"
    BOX = "the hatch on its whole box"
    INK = "as when live, in the doubt ink"
    MARKS = "marks of the doubt, in the doubt ink"
    NOTHING = "not at all"
    NEVER = "it shows no value"


class Drawn:
    """What each operation says of itself, beside its fields. ``leading`` is the field with the channel whose
    doubt is the operation's, before that of its tint; ``moves`` whether a value decides which pixels are lit,
    and not their colour alone; ``bed`` whether others stand on it, and are seen against it; ``shape`` is
    the field with the mask, at the corner of the box, beyond which nothing is painted; ``clips`` whether a
    value beyond its scale looks as if it stood at the scale's end."""

    part: ClassVar[Part]
    in_doubt: ClassVar[InDoubt]
    moves: ClassVar[bool] = False
    bed: ClassVar[bool] = False
    clips: ClassVar[bool] = True
    leading: ClassVar[str | None] = None
    shape: ClassVar[str | None] = None


@dataclass(frozen=True)
class Fill(Drawn):
    """The box in one ink: level 255 on each of its pixels."""

    part = Part.PLACE
    in_doubt = InDoubt.HATCH
    bed = True

    box: Box
    ink: Ink
    when: When | None = None


@dataclass(frozen=True)
class Stencil(Drawn):
    """A mask at the box's corner, in one ink; level 0 where the box is larger than the mask.

    ``flash``: skipped unless ``clock // 500`` is even, one flash a second; the doubt look stays.
    """

    part = Part.SHAPE
    in_doubt = InDoubt.HATCH
    bed = True
    shape = "mask"

    box: Box
    mask: int
    ink: Ink
    when: When | None = None
    flash: bool = False


@dataclass(frozen=True)
class Run(Drawn):
    """A fixed text: glyph masks at their places, in one ink.

    Each glyph is blended by itself, in order, so overlapping soft edges add up. In doubt the
    glyphs are painted solid in the doubt ink.
    """

    part = Part.TEXT
    in_doubt = InDoubt.INK

    box: Box
    glyphs: tuple[Glyph, ...]
    ink: Ink
    when: When | None = None


@dataclass(frozen=True)
class Frame(Drawn):
    """A nine-part rounded box: the corner mask (top left quarter, mirrored for the others) and
    straight parts, filled in one ink.

    The pixel (x, y) of a box W by H takes the corner's coverage at ``u = min(x, W - 1 - x)``,
    ``v = min(y, H - 1 - y)`` where the corner reaches, level 255 elsewhere.
    """

    part = Part.PLACE
    in_doubt = InDoubt.HATCH
    bed = True

    box: Box
    corner: int
    ink: Ink
    when: When | None = None


class FigureSet(NamedTuple):
    """Glyphs for figures, each cell ``advance`` pixels wide, points ``point_advance`` wide.

    ``glyphs`` holds, in this order: the digits 0 to 9, minus, plus, the marks for never seen,
    stale and out of range, then full stop, comma and colon. Offsets are from the cell's top left
    corner. ``height`` is the height of a cell.
    """

    advance: int
    point_advance: int
    height: int
    glyphs: tuple[Glyph, ...]


MINUS, PLUS, MARK_UNSEEN, MARK_STALE, MARK_OUT_OF_RANGE, FULL_STOP, COMMA, COLON = range(10, 18)


@dataclass(frozen=True)
class Figures(Drawn):
    """A channel's step as figures that end at the right edge of the box.

    The number is ``offset + scale * step``. Its figures are taken from the right, place ``i``
    being ``number % radix`` with radix 10, or 6 for place 1 when ``sixties`` (minutes, seconds);
    at least ``least`` places are shown, at least 1, and with a point at least ``point_after + 1``.
    ``point`` (``FULL_STOP``, ``COMMA``, ``COLON``) stands left of the first ``point_after``
    places; there is none when either is 0. A minus, or a plus if ``plus`` and the
    number is above zero, stands left of the last figure. When the channel (or else the tint) is
    not live, ``places`` marks are shown in the doubt ink instead, without point or sign.

    The pen starts at the box's right edge and, for each glyph from the right, first moves left by
    its cell's width (``point_advance`` for the three points, ``advance`` for all else), then the
    glyph is blended as in ``Run``, its offset from (pen, top of box). When ``small``, a point and
    what stands right of it are of the figure set after ``figure_set``.
    """

    part = Part.TEXT
    in_doubt = InDoubt.MARKS
    clips = False
    leading = "channel"

    box: Box
    channel: int
    figure_set: int
    offset: int
    scale: int
    least: int
    places: int
    point: int
    point_after: int
    plus: bool
    sixties: bool
    ink: Ink
    when: When | None = None
    small: bool = False


class Axis(IntEnum):
    """The way a reveal grows with the step, a slide stands and a flow moves."""

    RIGHTWARD = 0
    LEFTWARD = 1
    UPWARD = 2
    DOWNWARD = 3
    MAPPED = 4


NO_MASK = 0xFFFF


@dataclass(frozen=True)
class Reveal(Drawn):
    """A shape of which a channel's step uncovers a part: bars, levels, rings.

    The shape is ``mask``, or the whole box with ``NO_MASK``. Along a straight axis the pixels
    between ``zero`` and the step are uncovered, counted from the edge where the axis starts, with
    a hard edge (one step is one pixel): position p counts when
    ``min(zero, step) <= p < max(zero, step)``. ``MAPPED`` takes each pixel's threshold from
    ``map``, laid at the box's corner: the part uncovered is
    ``u = clamp(step * gain - threshold, 0, edge)`` of ``edge``, as a level
    ``(u * 255 + edge // 2) // edge``, 0 where the map does not reach. The level painted is the
    product of that and the shape's own (see ``PIXELS.md``); ``zero`` is not used.
    When the channel (or else the tint) is not live the whole shape is painted in the doubt look.
    """

    part = Part.FILLING
    in_doubt = InDoubt.HATCH
    bed = True
    moves = True
    leading = "channel"
    shape = "mask"

    box: Box
    channel: int
    axis: Axis
    zero: int
    mask: int
    ink: Ink
    map: int = NO_MASK
    gain: int = 1
    edge: int = 1
    when: When | None = None


@dataclass(frozen=True)
class Slide(Drawn):
    """A mask that stands ``step`` pixels from the edge where a straight axis starts.

    Its near edge lies there: rightward, the mask's left edge at ``x = step``; leftward, its right
    edge at ``W - step``; downward and upward in the same way. Across the axis it starts at the
    box's corner. Not live: not painted.
    """

    part = Part.SHAPE
    in_doubt = InDoubt.NOTHING
    moves = True
    leading = "channel"

    box: Box
    channel: int
    axis: Axis
    mask: int
    ink: Ink
    when: When | None = None


class Outline(NamedTuple):
    """A convex shape for each step of a channel, ``points_each`` corners each, clockwise as seen.

    Corners are (x, y) in 1/16 pixel from the box's corner, ``0 <= x, y < 2**15``. Every corner lies
    on or to the right of every edge, and not all on one line. A corner may stand twice.
    """

    points_each: int
    polygons: tuple[tuple[tuple[int, int], ...], ...]


LARGEST_POINTER = 2048
"""Pixels a side, so that 32 bits with sign hold every product of a pointer's corners."""


@dataclass(frozen=True)
class Pointer(Drawn):
    """A turning or moving shape: the polygon ``step`` of an outline, with soft edges.

    A pixel's coverage is ``(count * 15 + 8) // 16``, count being how many of its 4 x 4 samples lie
    inside or on the edge; sample (i, j) of pixel (x, y) is at ``(16 x + 4 i + 2, 16 y + 4 j + 2)``.
    Not live: not painted. The box is at most ``LARGEST_POINTER`` pixels a side.
    """

    part = Part.SHAPE
    in_doubt = InDoubt.NOTHING
    moves = True
    leading = "channel"

    box: Box
    channel: int
    outline: int
    ink: Ink
    when: When | None = None


@dataclass(frozen=True)
class Trace(Drawn):
    """One line of a strip chart; all its history is channel values that the host sends.

    Column i of ``columns`` (0 the oldest) is fed by channel
    ``first + (head_step + 1 + i) % columns``, so ``head`` names the newest column and a new value
    changes two channels. A column is ``W // columns`` pixels wide. A live column is a line
    ``thickness`` wide with soft edges that slants from the height of the column before, if that is
    live, to its own: ``step * (H - thickness) / max(1, levels - 1)`` pixels above the bottom of the
    box, in sixteenths (see ``PIXELS.md``). A column that is not live is a gap,
    with the hatch of its doubt in its lowest ``GAP_MARK`` rows. With the head (or else the tint) not
    live the whole box is painted in the doubt look.
    """

    part = Part.SHAPE
    in_doubt = InDoubt.BOX
    moves = True
    leading = "head"

    box: Box
    first: int
    columns: int
    head: int
    levels: int
    thickness: int
    ink: Ink
    when: When | None = None


GAP_MARK = 8
"""Pixels: one period of the hatches, so that the three doubts can be told apart."""


@dataclass(frozen=True)
class Flow(Drawn):
    """Marks ``mark`` pixels long every ``pitch`` pixels along a straight axis, across the whole
    box, that move the way of the axis by the display's clock.

    The pixel at p from the edge where the axis starts is painted when
    ``(p + offset - phase) % pitch < mark`` with
    ``phase = (clock % (1000 * pitch)) * step * pace // 1000 % pitch``: ``pace`` is pixels a second
    for each step, and step 0 stands still. ``offset`` is the length of pipe before this piece, so
    that the marks of a bent pipe join. Where the step changes, the marks take a new place. The
    fastest, ``(steps - 1) * pace``, is at most ``3 * pitch``: no place is passed by more than three
    marks a second (WCAG 2.3.1). Not live: not painted.
    """

    part = Part.FILLING
    in_doubt = InDoubt.NOTHING
    moves = True
    clips = False
    leading = "channel"

    box: Box
    axis: Axis
    channel: int
    offset: int
    pitch: int
    mark: int
    pace: int
    ink: Ink
    when: When | None = None


class Image565(NamedTuple):
    """A picture: for each pixel, row by row, a word of 16 bits, low byte first: red 5 bits (the
    high ones), green 6, blue 5. ``coverage`` is as in ``Mask``, or empty for a full box."""

    width: int
    height: int
    pixels: bytes
    coverage: bytes = b""


@dataclass(frozen=True)
class Picture(Drawn):
    """A picture of the drawing at the box's corner, in its own colours in every theme."""

    part = Part.PICTURE
    in_doubt = InDoubt.NEVER
    bed = True

    box: Box
    picture: int
    when: When | None = None


class Letter(NamedTuple):
    """A glyph of a text that comes over the line, and how far the pen moves after it."""

    glyph: Glyph
    advance: int


class LetterSet(NamedTuple):
    """Letters of texts that come over the line, and the marks for never seen, stale and out of
    range. Glyphs stand from (pen, top of box). ``height`` is the height of a line."""

    height: int
    letters: tuple[Letter, ...]
    marks: tuple[Letter, Letter, Letter]


@dataclass(frozen=True)
class Letters(Drawn):
    """A line of text spelt by ``count`` channels from ``first`` on.

    Step 0 ends the text, step k is letter ``k - 1`` of the set. The pen starts at the left edge and
    moves right by each letter's advance; glyphs are blended as in ``Run``. When the first channel
    (or else the tint) is not live, three marks of that doubt are shown in the doubt ink instead;
    a later channel that is not live ends the text with its mark. Nothing more is set once the pen
    has come to the right edge of the box.
    """

    part = Part.TEXT
    in_doubt = InDoubt.MARKS
    leading = "first"

    box: Box
    first: int
    count: int
    letter_set: int
    ink: Ink
    when: When | None = None


DOUBT_MARKS = 3

Operation = (
    Fill | Stencil | Run | Frame | Figures | Reveal | Slide | Pointer | Trace | Flow | Picture | Letters
)


def ink_of(operation: Operation) -> Ink | None:
    """The ink of an operation; a picture has none."""
    return None if isinstance(operation, Picture) else operation.ink


def shape_of(operation: Operation) -> int:
    """The mask beyond which an operation paints nothing, ``NO_MASK`` for its whole box."""
    return NO_MASK if operation.shape is None else int(getattr(operation, operation.shape))


def leading_channel(operation: Operation) -> int | None:
    """The channel whose doubt is the operation's, before that of its tint."""
    return None if operation.leading is None else int(getattr(operation, operation.leading))


def channels_of(operation: Operation) -> tuple[int, ...]:
    """Every channel that an operation's pixels depend on, each once, in ascending order."""
    ink, leading = ink_of(operation), leading_channel(operation)
    numbers = {ink.tint} if ink is not None and ink.tint != NO_CHANNEL else set()
    if operation.when is not None:
        numbers.add(operation.when.channel)
    if leading is not None:
        numbers.add(leading)
    return tuple(sorted(numbers.union(row_of(operation))))


def row_of(operation: Operation) -> range:
    """The row of channels that feed a trace or a text; empty for the others."""
    match operation:
        case Trace():
            return range(operation.first, operation.first + operation.columns)
        case Letters():
            return range(operation.first, operation.first + operation.count)
        case _:
            return range(0)


def figure_sets_of(operation: Figures, drawing: Drawing) -> tuple[FigureSet, ...]:
    """The figures of an operation, and after them its smaller ones if it has some."""
    first = operation.figure_set
    return drawing.figure_sets[first : first + (2 if operation.small else 1)]


class ThresholdMap(NamedTuple):
    """A threshold 0..255 for each pixel, row by row."""

    width: int
    height: int
    thresholds: bytes


class Zone(NamedTuple):
    """A place that feels a touch. Its number is its position in the screen's list."""

    box: Box


@dataclass(frozen=True)
class ScreenDrawing:
    """One screen: its operations in z order, the channels it needs (most urgent first) and its
    touch zones."""

    name: str
    operations: tuple[Operation, ...]
    channels: tuple[int, ...]
    zones: tuple[Zone, ...]


@dataclass(frozen=True)
class Theme:
    """Palette entries as (red, green, blue), 0..255; all themes of a drawing have the same
    number. ``brightness`` is the backlight in percent."""

    name: str
    colours: tuple[tuple[int, int, int], ...]
    brightness: int


@dataclass(frozen=True)
class Drawing:
    """All a display needs. ``channels`` holds the number of live steps of each channel; ``start`` and
    ``first_theme`` are the screen and the theme that are shown until a host says which. ``baud``, in
    whole hundreds of Bd, is the rate of the line that the design is made for, 0 where none is told."""

    width: int
    height: int
    depth: int
    themes: tuple[Theme, ...]
    masks: tuple[Mask, ...]
    maps: tuple[ThresholdMap, ...]
    figure_sets: tuple[FigureSet, ...]
    channels: tuple[int, ...]
    screens: tuple[ScreenDrawing, ...]
    start: int
    outlines: tuple[Outline, ...] = ()
    letter_sets: tuple[LetterSet, ...] = ()
    pictures: tuple[Image565, ...] = ()
    first_theme: int = 0
    baud: int = 0


@dataclass(frozen=True)
class Moment:
    """What a display shows: screen and theme by number, a raw value for each channel, and the
    display's clock in milliseconds, of which 32 bits count (flashing, flows)."""

    screen: int
    theme: int
    raw: tuple[int, ...]
    clock: int = 0
