"""What a widget needs to put itself on a screen."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple, TypedDict, Unpack

from hmic.arrange import lengths
from hmic.arrange.artwork import Artwork
from hmic.arrange.fitting import Need, misfit
from hmic.causes import NAMELESS, nobody_told
from hmic.diagnostics import DesignError, Finding, Span, Subject, Told, error, lacking
from hmic.language.design_bounds import MOST_HELD
from hmic.language.spelling import written
from hmic.language.syntax import Convert, Expression, Negative, Phrase, PhraseKind, Text, Widget, WidgetKind
from hmic.model.actions import Asking, ZoneAction
from hmic.model.channels import Channel
from hmic.model.design import MOST_SPACED, Design
from hmic.model.expressions import Doubt, Typed, ValueKind
from hmic.model.touch_progress import hold_part, touch_state, words_of
from hmic.model.units import degrees, difference
from hmic.paint.fonts import Face, Placed, Sized
from hmic.paint.narrowing import narrowed
from hmic.paint.operations import LIVE, Box, Glyph, Ink, Mask, Operation, Run, When
from hmic.places import fonts_folder

DEFAULT_ARCMIN = 20
CAPTION_ARCMIN = 14
FALLBACK = "DejaVuSansCondensed.ttf"
# Fonts that a design need not name -> the one that stands for them.
OPTIONAL_FONTS = {"captions": "text", "units": "text"}
# Words that a value in doubt shows in place of itself, by raw value.
DOUBT_MARKS = ("···", "–––", "!!!")


class More(TypedDict, total=False):
    """The rest of what ``Need`` takes."""

    least: bool
    why: str
    ways: tuple[str, ...]
    share: int


@dataclass(frozen=True)
class TextFact:
    """A text on a screen, for the checks: its capital height in px, where it stands, which of the design's
    fonts it is in, whether it is one of figures alone, and how the ``text`` phrase of its widget sizes it,
    None where none does."""

    span: Span
    text: str
    capital_height: int
    box: Box
    reading: bool
    font: str = "text"
    figures: bool = False
    sized: Sized | None = None


class SymbolFact(NamedTuple):
    """A pictogram on a screen, for the checks: its box, and the channel of its states if it is a lamp."""

    box: Box
    states: int | None = None


class Line(NamedTuple):
    """A line of text in the middle of a piece: the height of its capitals, their top and the lowest that it
    could be, the top of its ``caption``, whose ``rows`` are drawn first, and its texts ``first <= number <
    last``, of which they are the first too."""

    height: int
    top: int
    lowest: int
    caption: int | None
    rows: int
    texts: tuple[int, int]


@dataclass(frozen=True)
class PieceFact:
    """A widget on a screen, for the checks: its sentence with every parameter filled in, its place,
    its operations ``first <= number < last`` of the screen's, and what ``draw`` tells of a pictogram
    or of the line that it is."""

    widget: Widget
    box: Box
    first: int
    last: int
    symbol: SymbolFact | None = None
    line: Line | None = None


class PipeFact(NamedTuple):
    """A pipe on a screen, for the checks: where its sentence stands, and its operations ``first <= number <
    last`` of the screen's."""

    span: Span
    first: int
    last: int


class GapFact(NamedTuple):
    """A place on a screen left empty for an error in the sentence at ``span``, to be looked at."""

    span: Span
    box: Box


@dataclass(frozen=True)
class Relied:
    """A sentence, at ``span``, that shows nothing for an error told elsewhere, its ``cause``."""

    span: Span
    cause: Finding


class TouchFact(NamedTuple):
    """A touch target on a screen, for the checks."""

    span: Span
    box: Box
    action: ZoneAction


@dataclass
class Canvas:
    """One screen being arranged. Widgets append operations; the rest looks things up for them.

    ``typed`` checks an expression's units and gives one shared object for equal expressions, so
    that equal channels are found to be equal.
    """

    design: Design
    artwork: Artwork
    typed: Callable[[Expression], Typed]
    screen: str
    operations: list[Operation] = field(default_factory=list)
    texts: list[TextFact] = field(default_factory=list)
    touches: list[TouchFact] = field(default_factory=list)
    pieces: list[PieceFact] = field(default_factory=list)
    gaps: list[GapFact] = field(default_factory=list)
    pipes: list[PipeFact] = field(default_factory=list)
    relied: list[Relied] = field(default_factory=list)
    overfull: Finding | None = None
    findings: list[Finding] = field(default_factory=list)
    trough: str = "surface"
    """The role of what a value has not filled: on a surface the ground shows through."""
    upright: frozenset[str] = frozenset()
    """The pieces of the area in hand, by name, at which pipes end from above or below only."""
    lists: int = 0
    held: int = 0
    """Areas, rows of plans and pieces so far, with every part and ``each`` written out."""

    def hold(self, count: int, span: Span) -> None:
        """Makes place for so many more. Raises ``DesignError``: A333 the first time that there are too
        many, then ``Told``."""
        self.held += count
        if self.overfull is not None:
            raise Told(self.overfull)
        if self.held > MOST_HELD:
            message = f"more than {MOST_HELD} areas, rows of plans and pieces are on the screen from here on"
            remedy = "let each count less, use fewer parts in parts, or make two screens of this one"
            self.overfull = error("A333", message, span, remedy)
            raise DesignError([self.overfull])

    def since(self, findings: int, relied: int) -> DesignError:
        """What to raise for want of what was told since so many findings and so many that rely on some."""
        why = (*self.findings[findings:], *(each.cause for each in self.relied[relied:]))
        return Told(why[0]) if why else DesignError([nobody_told(None)])

    def px(self, millimetres: float) -> int:
        """Whole pixels for a length in mm, at least 1."""
        return max(1, round(self.design.panel.pixels_from_mm(millimetres)))

    def rounded(self, mask: Mask) -> int:
        """The number of a mask that is drawn for square pixels, as narrow as the panel's ask for."""
        return self.artwork.mask(self.narrow(mask))

    def narrow(self, mask: Mask) -> Mask:
        """A mask that is drawn for square pixels, as narrow as the panel's ask for."""
        panel = self.design.panel
        if panel.square or not mask.width:
            return mask
        return narrowed(mask, max(1, round(mask.width * panel.pitch / panel.pitch_across)), mask.width)

    def squared(self, width: int) -> int:
        """How many pixels as wide as high would be as wide as so many of the panel's."""
        panel = self.design.panel
        return max(1, round(width * panel.pitch_across / panel.pitch))

    def filling(self, width: int, draw: Callable[[int], Mask]) -> Mask:
        """A mask so wide whose round parts are round to the eye: drawn as wide as square pixels would be, and
        made narrower."""
        square = self.squared(width)
        return narrowed(draw(square), width, square)

    def capital_height(self, widget: Widget, default_arcmin: float = DEFAULT_ARCMIN) -> int:
        """The capital height in px that the widget's ``text`` phrase asks for."""
        phrase = widget.one(PhraseKind.TEXT)
        if phrase is None:
            return max(1, round(self.design.panel.pixels_from_arcmin(default_arcmin)))
        return max(1, lengths.pixels(phrase.values[0], self.design.panel))

    def small(self, arcmin: float = CAPTION_ARCMIN) -> int:
        """The capital height in px of captions and other small texts."""
        return max(1, round(self.design.panel.pixels_from_arcmin(arcmin)))

    def face(
        self, use: str, capital_height: int, spaced: float | None = None, *, sized: Sized | None = None
    ) -> Face:
        """A face of one of the design's fonts, by its use: ``text``, ``figures``, or a name of the design's
        own. ``spaced`` is what stands between letters in percent of their height, where the design's own
        does not hold; ``sized`` says how a ``text`` phrase sizes it, where one does.

        Raises ``Told`` for a font that is not there: loading has told it.
        """
        design = self.design
        if use in OPTIONAL_FONTS and use not in design.fonts:
            use = OPTIONAL_FONTS[use]
        if use not in design.fonts:
            lacking = (("fonts", use), (NAMELESS,))
            raise design.faults.told(None, *(Subject("design.yaml", path) for path in lacking))
        part = design.spaced.get(use, 0.0) if spaced is None else spaced
        spacing = max(1, round(part * capital_height / 100)) if part else 0
        path, fallback = design.fonts[use], fonts_folder() / FALLBACK
        return self.artwork.face(use, path, capital_height, fallback, spacing=spacing, sized=sized)

    def lettering(self, widget: Widget, arcmin: float = DEFAULT_ARCMIN, use: str = "text") -> Face:
        """The face that a widget's ``text``, ``font`` and ``spaced`` ask for, else that of ``use``."""
        spaced = widget.one(PhraseKind.SPACED)
        part = None if spaced is None else self.spacing(spaced)
        return self.face(self.font_of(widget, use), self.capital_height(widget, arcmin), part, sized=Sized())

    def font_of(self, widget: Widget, otherwise: str) -> str:
        """The font that a widget's ``font`` phrase names, or ``otherwise``.

        Raises ``Told`` for one that is not there: loading has told it."""
        phrase = widget.one(PhraseKind.FONT)
        use = otherwise if phrase is None else phrase.words[0]
        if phrase is not None and use not in self.design.fonts:
            raise self.design.faults.told(phrase.span, Subject("design.yaml", ("fonts", use)))
        return use

    def spacing(self, phrase: Phrase) -> float:
        """What a ``spaced`` phrase puts between letters, in percent of their height. Raises A353."""
        part = self.constant(phrase.values[0], "%")
        if not 0 <= part <= MOST_SPACED:
            message = f"letters spaced {part:g} % of their height do not read as a word"
            remedy = f"write spaced 8 %, at most {MOST_SPACED:g} %, or leave it out"
            raise DesignError([error("A353", message, phrase.span, remedy)])
        return part

    def role(self, phrase: Phrase | None, otherwise: str = "") -> str:
        """The colour role that a phrase names, or ``otherwise`` without a phrase.

        Raises ``Told`` for an unknown one: loading has told it.
        """
        role = phrase.words[0] if phrase is not None else otherwise
        if role in self.design.themes[0].roles:
            return role
        raise self.design.faults.told(phrase.span if phrase is not None else None)

    def number(self, node: Expression, unit: str | None = None) -> Typed:
        """A single number, converted to ``unit`` if given. Raises ``DesignError`` A341."""
        typed = self.typed(node if not unit else Convert(node, unit, node.span))
        if typed.kind != ValueKind.NUMBER or typed.count is not None:
            found = "an array" if typed.count is not None else f"a {typed.kind}"
            remedy = "pick an element like pack.cells[1], or use max(...), mean(...)"
            raise DesignError([error("A341", f"this must be one number, it is {found}", node.span, remedy)])
        return typed

    def shown(self, node: Expression) -> Typed:
        """A number in the unit that the design's locale shows in place of its own. Raises A341."""
        typed = self.number(node)
        exchanged = self.design.locale.units.get(typed.unit.spelling) if typed.unit else None
        return typed if exchanged is None else self.number(node, exchanged)

    def said(self, word: str) -> str:
        """A word of a signal in the design's language."""
        return self.design.said.get(word, word)

    def constant(self, node: Expression, unit: str) -> float:
        """A number that no signal changes, in ``unit`` (plain numbers for ``""``). Raises A342."""
        typed = self.typed(node)
        if unit and typed.kind == ValueKind.NUMBER:
            typed = self.typed(Convert(node, unit, node.span))
        value = None if typed.signals else typed.evaluate(lambda name: Doubt.UNSEEN)
        if isinstance(value, Doubt) or not isinstance(value, float | int):
            remedy = f"write a number{' with a unit like ' + unit if unit else ''}"
            raise DesignError([error("A342", "this must be a fixed number", node.span, remedy)])
        return float(value)

    def limit(self, node: Expression, of: Typed) -> float:
        """A fixed number to hold ``of`` against, in its unit. For a difference of temperatures it is one
        too: there ``10 °C`` are ten degrees, as 10 K are. Raises A342."""
        if of.unit is not None and of.unit.difference:
            return self.step(node, of)
        return self.constant(node, of.unit.spelling if of.unit else "")

    def step(self, node: Expression, of: Typed) -> float:
        """A fixed difference of two values of ``of``, in degrees of its unit: a step, a spread, a distance
        of marks. A temperature here is no point on a scale, whatever unit it is written in. Raises A342."""
        if isinstance(node, Negative):
            return -self.step(node.value, of)
        unit = of.unit
        given = self.typed(node).unit
        if unit is None:
            return self.constant(node, "")
        if given is not None and given.dimension == unit.dimension and degrees(unit).difference:
            return float(Fraction(self.constant(node, "")) * given.factor / unit.factor)
        return self.constant(node, difference(unit).spelling)

    def flag(self, node: Expression) -> Typed:
        """A condition. Raises ``DesignError`` A343."""
        typed = self.typed(node)
        if typed.kind != ValueKind.FLAG or typed.count is not None:
            message = f"this must be true or false, it is a {typed.kind}"
            unit = typed.unit.spelling if typed.unit else ""
            limit = f"> 0 {unit}".rstrip() if typed.kind == ValueKind.NUMBER else 'is "..."'
            remedy = f"compare it, such as `{written(node)} {limit}`"
            raise DesignError([lacking("A343", message, node.span, remedy)])
        return typed

    def channel(self, channel: Channel) -> int:
        """The number of a channel. Raises nothing: equal channels are one."""
        return self.artwork.channel(channel)

    def text(
        self,
        text: str,
        face: Face,
        at: tuple[int, int],
        ink: Ink,
        span: Span,
        *,
        when: When | None = None,
        reading: bool = False,
    ) -> None:
        """A fixed text with its pen at ``at`` = (left edge, top of capitals)."""
        room = (0, face.measure(text), 0, face.capital_height)
        placed = face.glyphs(text)
        self.set_glyphs(text, face, placed, at, ink=ink, span=span, room=room, when=when, reading=reading)

    def set_glyphs(
        self,
        text: str,
        face: Face,
        placed: Sequence[Placed],
        at: tuple[int, int],
        *,
        ink: Ink,
        span: Span,
        room: tuple[int, int, int, int] | None = None,
        when: When | None = None,
        reading: bool = False,
    ) -> None:
        """Glyphs from ``at``, which say ``text`` and are noted as of ``face``. Their box holds their ink, and
        the ``room`` from left to right and from top to bottom."""
        left, top = at
        # Some letters reach beyond their advance; the box must hold all of their ink.
        near, far, high, low = room or (placed[0][1], placed[0][1], placed[0][2], placed[0][2])
        near = min(near, *(dx for _, dx, _ in placed), near)
        far = max(far, *(dx + mask.width for mask, dx, _ in placed), far)
        high = min(high, *(dy for _, _, dy in placed), high)
        low = max(low, *(dy + mask.height for mask, _, dy in placed), low)
        box = Box(left + near, top + high, far - near, low - high)
        glyphs = tuple(
            Glyph(self.artwork.mask(mask), dx - near, dy - high)
            for mask, dx, dy in placed
            if mask.width and mask.height
        )
        if glyphs:
            self.operations.append(Run(box, glyphs, ink, when))
        self.note_text(span, text, face, box, reading)

    def note_text(
        self,
        span: Span,
        text: str,
        face: Face,
        box: Box,
        reading: bool = True,
        *,
        figures: bool = False,
    ) -> None:
        """Notes a text for the checks."""
        fact = TextFact(span, text, face.capital_height, box, reading, face.use, figures, face.sized)
        self.texts.append(fact)

    def line_top(
        self,
        texts: Iterable[str],
        face: Face,
        place: Box,
        span: Span,
        what: str,
        *,
        letters: int | None = None,
    ) -> int:
        """The top of the capitals of a line in the middle of its place's height, moved as far as letters
        that reach above or below the capitals need. One line for all that may stand there.

        Raises ``DesignError`` A351 when the tallest and the deepest letters do not fit."""
        above, below = reach(texts, face)
        height = above + face.capital_height + below
        self.fit(height, place.height, what, span, height=True, letters=letters)
        return standing(place, face.capital_height, above, below)

    def lines(
        self,
        text: str,
        face: Face,
        box: Box,
        ink: Ink,
        span: Span,
        *,
        what: str,
        when: When | None = None,
        letters: int | None = None,
    ) -> None:
        """A text centred in a box, broken between words into as many lines as it needs. ``letters`` is
        its capital height in px where a ``text`` phrase sets it.

        Raises ``DesignError`` A350 or A351 when a word or the lines do not fit.
        """
        widest = max(text.split(), key=face.measure, default="")
        why = f'its widest word is "{widest}"' if widest != text else ""
        self.fit(face.measure(widest), box.width, what, span, letters=letters, why=why)
        rows = broken(text, face, box.width)
        height = face.capital_height + face.line_height * (len(rows) - 1)
        why = f"it takes {len(rows)} lines" if len(rows) > 1 else ""
        self.fit(height, box.height, what, span, True, letters=letters, shorter="shorten it", why=why)
        top = box.top + (box.height - height) // 2
        self.rows(rows, face, (box.left, top), box.width, ink=ink, span=span, when=when)

    def rows(
        self,
        rows: Sequence[str],
        face: Face,
        at: tuple[int, int],
        width: int,
        *,
        ink: Ink,
        span: Span,
        align: Alignment | None = None,
        when: When | None = None,
    ) -> None:
        """Lines one below the other, each aligned within ``width``; ``at`` is as in ``text``."""
        for number, row in enumerate(rows):
            left = at[0] + aligned(face.measure(row), width, align or Alignment.CENTRE)
            self.text(row, face, (left, at[1] + number * face.line_height), ink, span, when=when)

    def marks(
        self, face: Face, at: tuple[int, int], width: int, channel: int, span: Span, *, align: Alignment
    ) -> None:
        """The marks of a value in doubt, in place of words or other changing text."""
        for raw, marks in enumerate(DOUBT_MARKS):
            left = at[0] + aligned(face.measure(marks), width, align)
            ink, when = self.artwork.ink("stale"), When(channel, raw, raw)
            self.text(marks, face, (left, at[1]), ink, span, when=when)

    def touch(self, box: Box, action: ZoneAction, span: Span) -> Typed:
        """A touch target; gives the value that says how its touch fares (see ``model/touch_progress.py``)."""
        self.touches.append(TouchFact(span, box, action))
        conditions = self.conditions(action)
        words = words_of(action, conditions)
        return touch_state(self.screen, len(self.touches) - 1, conditions, words)

    def held_part(self, action: ZoneAction) -> Typed:
        """How far the latest touch target has been held."""
        return hold_part(self.screen, len(self.touches) - 1, self.conditions(action))

    def conditions(self, action: ZoneAction) -> tuple[Typed, ...]:
        """What must be true for a touch to act: by its control, and by the output it asks through."""
        asks = action.action
        asked = self.design.outputs.get(asks.name) if isinstance(asks, Asking) else None
        both = (action.allowed, asked.allowed if asked is not None else None)
        return tuple(condition for condition in both if condition is not None)

    def count_list(self) -> int:
        """The number of the next list of this screen, from 0."""
        self.lists += 1
        return self.lists - 1

    def fit(
        self,
        needed: int,
        there: int,
        what: str,
        span: Span,
        height: bool = False,
        *,
        letters: int | None = None,
        fixed: int = 0,
        shorter: str | None = None,
        **more: Unpack[More],
    ) -> None:
        """Raises ``DesignError`` A350 (width) or A351 (height) naming both lengths. What the arguments
        mean is told at ``Need``; a text that is too wide can be shortened, if nothing else is said."""
        if needed <= there:
            return
        if shorter is None:
            shorter = "shorten it" if '"' in what and not height else ""
        need = Need(needed, there, height, letters, fixed, shorter=shorter, **more)
        raise DesignError([misfit(need, what, span, self.design)])


def on_one_line(text: str) -> str:
    """A text as a finding names it, on one line."""
    return " ".join(text.split("\n"))


def broken(text: str, face: Face, width: int) -> list[str]:
    """A text in as few lines of at most ``width`` as its words and the breaks written in it allow, the widest
    of them as narrow as it can be. A word that is wider has a line of its own."""
    rows: list[str] = []
    for part in text.split("\n"):
        fewest = len(_filled(part, face, width))
        # The first width, from the narrow side, at which no more lines are needed.
        narrow = bisect_left(range(width), fewest, key=lambda most: _fewer(part, face, most, fewest))
        rows += _filled(part, face, narrow)
    return rows


def _fewer(text: str, face: Face, width: int, fewest: int) -> int:
    return fewest if len(_filled(text, face, width)) <= fewest else fewest - 1


def _filled(text: str, face: Face, width: int) -> list[str]:
    """Lines filled one after the other."""
    rows: list[str] = []
    for word in text.split():
        joined = f"{rows[-1]} {word}" if rows else word
        if rows and face.measure(joined) <= width:
            rows[-1] = joined
        else:
            rows.append(word)
    return rows or [""]


def reach(texts: Iterable[str], face: Face) -> tuple[int, int]:
    """Rows of ink above and below the capitals that some of the texts have."""
    boxes = [face.ink_box(text) for text in texts]
    above = max((-top for _, top, _, _ in boxes), default=0)
    below = max((bottom - face.capital_height for _, _, _, bottom in boxes), default=0)
    return max(0, above), max(0, below)


def standing(place: Box, height: int, above: int, below: int) -> int:
    """The top of something in the middle of a place, moved as far as what it has above and below needs."""
    top = place.top + (place.height - height) // 2
    return max(place.top + above, min(top, place.top + place.height - height - below))


Alignment = StrEnum("Alignment", "LEFT CENTRE RIGHT")


def aligned(width: int, within: int, align: Alignment = Alignment.CENTRE) -> int:
    """The offset that puts ``width`` at the left, centre or right of ``within``."""
    if align == Alignment.LEFT:
        return 0
    return within - width if align == Alignment.RIGHT else (within - width) // 2


def alignment(widget: Widget) -> Alignment:
    """What the widget's ``aligned`` phrase says, usually the middle."""
    phrase = widget.one(PhraseKind.ALIGNED)
    return Alignment(phrase.words[0]) if phrase else Alignment.CENTRE


def inset(box: Box, left: int, top: int, right: int, bottom: int) -> Box:
    """The box made smaller on each side."""
    return Box(box.left + left, box.top + top, box.width - left - right, box.height - top - bottom)


def scale(widget: Widget, subject: Typed, canvas: Canvas) -> tuple[float, float]:
    """Both ends of a ``from ... to ...`` in the subject's unit, or the subject's own range."""
    phrase = widget.one(PhraseKind.SCALE)
    if phrase is not None:
        turned = "; leftward or downward turns the bar round" if widget.kind == WidgetKind.BAR else ""
        return rising(phrase.values, subject, phrase.span, canvas, turned)
    bounded(subject, widget.subject or phrase_value(widget), canvas)
    return subject.low, subject.high


def rising(
    ends: Sequence[Expression], subject: Typed, span: Span, canvas: Canvas, turned: str = ""
) -> tuple[float, float]:
    """Both ends of a scale in the subject's unit. Raises ``DesignError`` A344 where the second is not
    above the first; ``turned`` ends its remedy."""
    low, high = (canvas.limit(end, subject) for end in ends)
    if low == high:
        raise DesignError([_no_scale(subject, span)])
    if not low < high:
        first, last = map(written, ends)
        remedy = f"write the lower end first: from {last} to {first}{turned}"
        raise DesignError([error("A344", "the scale does not rise", span, remedy)])
    return low, high


def _no_scale(subject: Typed, span: Span) -> Finding:
    """A344: both ends of a scale are the same."""
    unit = subject.unit.spelling if subject.unit else ""
    remedy = "write the lowest value that is shown, then the highest"
    if subject.low < subject.high and math.isfinite(subject.high - subject.low):
        ends = (f"{end:g} {unit}".rstrip() for end in (subject.low, subject.high))
        remedy += ", such as from " + " to ".join(ends)
    return error("A344", "both ends of the scale are the same", span, remedy)


def phrase_value(widget: Widget) -> Expression:
    """Any expression of the widget, to point a finding at."""
    values: Sequence[Expression] = [value for phrase in widget.phrases for value in phrase.values]
    return values[0]


def bounded(subject: Typed, node: Expression, canvas: Canvas) -> None:
    """Raises ``DesignError`` A345 when nothing bounds the number."""
    if max(abs(subject.low), abs(subject.high)) == float("inf"):
        message = f"nothing bounds {written(node)}, so its longest rendering cannot be known"
        remedy = "give it a range: declare it as a derived signal with `range: [low, high]` in signals.yaml"
        raise DesignError([error("A345", message, node.span, remedy)])


def live(step: int) -> int:
    """The raw value of a step."""
    return LIVE + step


def phrase_text(phrase: Phrase | None) -> str:
    """The text of a phrase like ``called "X"``, or nothing."""
    if phrase is None or not isinstance(phrase.values[0], Text):
        return ""
    return phrase.values[0].text
