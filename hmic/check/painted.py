"""Which colour is painted on which: every operation's ink against what lies beneath it.

Found by painting, once a screen, the *numbers* of the operations instead of their colours, through
the very masks that a display uses. Each pixel then knows the pile of operations that can colour it,
so every state of every channel is covered without painting every state. Where an operation's masks
never reach full coverage, the colour is the blend that is painted (``PIXELS.md``).
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from typing import NamedTuple

from PIL import Image, ImageChops

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged
from hmic.check.colour import Colour, shown
from hmic.check.seen_through import Mixed, SeenColours, blended, by_luminance
from hmic.language.syntax import PhraseKind, WidgetKind
from hmic.model.channels import MOST_STEPS
from hmic.model.touch_progress import HOLD_PREFIX, TOUCH_PREFIX, TOUCH_WORDS, TouchState
from hmic.paint.operations import (
    DOUBT,
    GROUND,
    LIVE,
    NO_CHANNEL,
    NO_MASK,
    Axis,
    Box,
    Figures,
    Fill,
    InDoubt,
    Operation,
    Part,
    Picture,
    Pointer,
    Reveal,
    Run,
    Stencil,
    figure_sets_of,
    ink_of,
    leading_channel,
    shape_of,
)
from hmic.paint.pictures import colours

# A pile seen on less of an operation's place than this is a soft edge or a corner.
LEAST_SHARE = 0.02
# The box of a pointer is mostly not the pointer; what it stands before is what most of the box shows.
LEAST_SHARE_OF_POINTER = 0.25
# Coverage from which a pixel counts as painted: more than half.
HALF = 8

Pile = tuple[int, ...]


class Pair(NamedTuple):
    """An ink on what lies beneath: palette entries, beneath also a colour of a picture (``beneath``).
    ``step`` is that of the operation's tint, 0 without one; in doubt the ink is ``DOUBT``. ``hatched``:
    beneath is a hatch in the doubt ink.

    Thousands are made and compared in one check, which tuples do fastest."""

    ink: int
    under: int
    step: int = 0
    doubt: bool = False
    hatched: bool = False


class Painted:
    """One screen's operations with the piles beneath them."""

    def __init__(self, arranged: Arranged, screen: int) -> None:
        self.drawing = arranged.drawing
        self.screen = arranged.screens[screen]
        self.operations = arranged.drawing.screens[screen].operations
        self.pieces: list[PieceFact | None] = [None] * len(self.operations)
        for piece in self.screen.pieces:
            self.pieces[piece.first : piece.last] = [piece] * (piece.last - piece.first)
        # Those of the screen: a design can have very many.
        numbers = arranged.drawing.screens[screen].channels
        self._touch = frozenset(
            number
            for number, value in ((number, arranged.channels[number].value) for number in numbers)
            if value is not None
            and any(name.startswith((TOUCH_PREFIX, HOLD_PREFIX)) for name in value.signals)
        )
        self._seen = SeenColours(len(self.drawing.themes[0].colours))
        self._masks: dict[tuple[int, bool], Image.Image] = {}
        self._stood_on: dict[tuple[int, Picture], tuple[int, ...]] = {}
        self._shown: dict[int, tuple[Image.Image, Image.Image]] = {}
        self._pairs: dict[int, frozenset[Pair]] = {}
        self._peaks: dict[int, int] = {}
        self._strengths: dict[int, int] = {}

    def tells(self, channel: int) -> bool:
        """Whether a channel shows the vehicle, not how a touch fares."""
        return channel not in self._touch

    @cached_property
    def piles(self) -> tuple[tuple[Pile, ...], ...]:
        """For each operation the piles that lie beneath it, each from the ground up."""
        piles: list[Pile] = [()]
        numbers: dict[Pile, int] = {(): 0}
        image = Image.new("I", (self.drawing.width, self.drawing.height), 0)
        found = []
        for index, operation in enumerate(self.operations):
            here = self._beneath(image, index)
            shades = (number for number in here if self._is_shade(piles[number]))
            weighty = sorted({*_weighty(here, operation), *shades})
            seen = (self._from_place(piles[number], operation) for number in weighty)
            found.append(tuple(dict.fromkeys(seen)))
            self._put(image, index, here, piles, numbers)
        return tuple(found)

    def _is_shade(self, pile: Pile) -> bool:
        """Whether a band of a shade lies on top: each is small, and none of them a soft edge."""
        piece = self.pieces[pile[-1]] if pile else None
        if piece is None or piece.widget.kind == WidgetKind.PICTURE:
            return False
        return piece.widget.one(PhraseKind.SHADED) is not None

    def _is_soft(self, index: int) -> bool:
        """Whether what lies beneath an operation is seen through it, more or less, on all of it."""
        piece = self.pieces[index]
        if piece is None or not isinstance(self.operations[index], Stencil):
            return False
        return piece.widget.kind == WidgetKind.PICTURE or piece.widget.one(PhraseKind.SOFT) is not None

    def _from_place(self, pile: Pile, operation: Operation) -> Pile:
        """The pile from the topmost plain box that is always painted when the operation is."""
        for place in range(len(pile) - 1, -1, -1):
            under = self.operations[pile[place]]
            if under.part is Part.PLACE and goes_with(under, operation):
                return pile[place:]
        return pile

    @cached_property
    def beds(self) -> frozenset[int]:
        """Operations that others of the screen are painted on."""
        return frozenset(index for piles in self.piles for pile in piles for index in pile)

    def pairs(self, index: int) -> frozenset[Pair]:
        """Every pair of an operation's ink and a colour beneath it, over all states of its channels."""
        if index not in self._pairs:
            self._pairs[index] = frozenset(self._found(index))
        return self._pairs[index]

    def _found(self, index: int) -> set[Pair]:
        operation = self.operations[index]
        ink = ink_of(operation)
        found: set[Pair] = set()
        if ink is None:
            return found
        tint = ink.tint
        steps = self.steps(operation)
        for pile in self._telling(index):
            # What lies beneath is the same at each step, but where it goes by the same channel.
            moves_along = tint != NO_CHANNEL and any(self._tint(number) == tint for number in pile)
            apart = [range(step, step + 1) for step in steps] if moves_along else [steps]
            for some in apart:
                unders = set(self._unders(index, pile, tint, some.start)) if some else ()
                found.update(Pair(ink.first + step, under, step) for step in some for under in unders)
        for channel in {leading_channel(operation), tint}:
            if channel is None or channel == NO_CHANNEL or channel in self._touch:
                continue
            if operation.in_doubt is not InDoubt.NOTHING:
                for pile in self.piles[index]:
                    found.update(self._in_doubt(index, pile, channel))
        if operation.part is Part.TEXT:
            found.update(self._over_doubt(index, ink.first, tint))
        return found

    def _telling(self, index: int) -> Sequence[Pile]:
        """The piles that an operation is told from. Where what moves lies on its own colour it changes
        nothing, as the cover of an arc at its edges; unless it lies on nothing else, and is never seen."""
        piles = self.piles[index]
        return [pile for pile in piles if not self._changes_nothing(index, pile)] or piles

    def _changes_nothing(self, index: int, pile: Pile) -> bool:
        operation = self.operations[index]
        if not pile or not operation.moves or self.pieces[pile[-1]] is not self.pieces[index]:
            return False
        top, ink = self.operations[pile[-1]], ink_of(operation)
        return not top.moves and top.when is None and ink_of(top) == ink and self._tint(index) == NO_CHANNEL

    def _tint(self, index: int) -> int:
        ink = ink_of(self.operations[index])
        return NO_CHANNEL if ink is None else ink.tint

    def steps(self, operation: Operation) -> range:
        """The live steps of the operation's tint at which it is painted."""
        ink = ink_of(operation)
        if ink is None or ink.tint == NO_CHANNEL:
            return range(1)
        count, when = self.drawing.channels[ink.tint], operation.when
        if when is not None and when.channel == ink.tint:
            return range(max(0, when.low - LIVE), min(count, when.high - LIVE + 1))
        return range(count)

    def _beneath_steps(self, operation: Operation) -> tuple[int, ...]:
        """``steps`` as seen: a pressed place is under the finger that presses it."""
        ink = ink_of(operation)
        pressed = TOUCH_WORDS.index(TouchState.PRESSED) if ink is not None and ink.tint in self._touch else -1
        return tuple(step for step in self.steps(operation) if step != pressed)

    def colours(self, pair: Pair, index: int, theme: int) -> tuple[Colour, Colour]:
        """(ink as painted, colour beneath) of a pair in a theme."""
        ink, under = self.drawing.themes[theme].colours[pair.ink], self.beneath(pair, theme)
        depth = self.drawing.depth
        return shown(blended(ink, under, self.strength(index)), depth), shown(under, depth)

    def beneath(self, pair: Pair, theme: int) -> Colour:
        """The colour beneath of a pair in a theme."""
        return self._seen.colour(pair.under, self.drawing.themes[theme].colours)

    def is_behind(self, index: int) -> bool:
        """Whether others may stand on an operation, by its sentence."""
        piece = self.pieces[index]
        return piece is not None and piece.widget.one(PhraseKind.BEHIND) is not None

    def stands_on_a_drawing(self, index: int) -> bool:
        """Whether a picture, of some other sentence, lies on top of what is beneath an operation."""
        tops = (self.pieces[pile[-1]] for pile in self.piles[index] if pile)
        return any(
            top is not None and top is not self.pieces[index] and top.widget.kind == WidgetKind.PICTURE
            for top in tops
        )

    def ends_a_filling(self, index: int) -> bool:
        """Whether an operation is the round end of a filling, which is judged for both."""
        operation, piece = self.operations[index], self.pieces[index]
        if not isinstance(operation, Pointer) or piece is None:
            return False
        own = self.operations[piece.first : piece.last]
        return any(
            is_area(each) and (leading_channel(each), ink_of(each)) == (operation.channel, operation.ink)
            for each in own
        )

    def strength(self, index: int) -> int:
        """The highest coverage 0..15 of the operation's weakest glyph or mask."""
        if index not in self._strengths:
            self._strengths[index] = self._strength(self.operations[index])
        return self._strengths[index]

    def _strength(self, operation: Operation) -> int:
        match operation:
            case Run():
                masks = [glyph.mask for glyph in operation.glyphs]
            case Figures():
                # The ten figures; points and marks are smaller, never alone.
                sets = figure_sets_of(operation, self.drawing)
                masks = [glyph.mask for held in sets for glyph in held.glyphs[:10]]
            case Stencil():
                masks = [operation.mask]
            case _:
                return 15
        return min((self._strongest(mask) for mask in masks), default=15)

    def _strongest(self, mask: int) -> int:
        if mask not in self._peaks:
            coverage = self.drawing.masks[mask].coverage
            self._peaks[mask] = 15 if 15 in coverage else max(coverage, default=15)
        return self._peaks[mask]

    def _beneath(self, image: Image.Image, index: int) -> dict[int, int]:
        """Pile numbers under an operation with their pixels."""
        operation = self.operations[index]
        box, mask = operation.box, self._region(operation, self._is_soft(index))
        if mask is None:
            # A plain box is seen against what lies around it as well.
            grow = 1 if operation.part is Part.PLACE else 0
            part = image.crop(self._clipped(box, grow))
        else:
            part = Image.new("I", mask.size, -1)
            part.paste(image.crop(_corners(box, mask)), (0, 0), mask)
        # The table that is counted in is as large as the number asked for.
        colours = part.getcolors(256) or part.getcolors(1 << 20) or []
        return {number: count for count, number in colours if isinstance(number, int) and number >= 0}

    def _put(
        self,
        image: Image.Image,
        index: int,
        here: dict[int, int],
        piles: list[Pile],
        numbers: dict[Pile, int],
    ) -> None:
        """Puts an operation on top of the piles in its place."""
        operation = self.operations[index]
        if not operation.bed or not here or not operation.box.width or not operation.box.height:
            return
        soft = self._is_soft(index)
        mask = self._region(operation, soft)
        steady = operation.when is None and self._tint(index) == NO_CHANNEL
        plain = steady and not soft and not operation.moves
        for number in sorted(here):
            pile = (index,) if plain else (*self._replaced(piles[number], operation), index)
            if pile not in numbers:
                numbers[pile] = len(piles)
                piles.append(pile)
            if len(here) == 1:
                size = _corners(operation.box, mask) if mask else self._clipped(operation.box, 0)
                image.paste(numbers[pile], size, mask)
                return
        # Several piles beneath: each pixel keeps its own.
        corners = _corners(operation.box, mask) if mask else self._clipped(operation.box, 0)
        part = image.crop(corners)
        over = {
            number: numbers[(index,) if plain else (*self._replaced(piles[number], operation), index)]
            for number in here
        }
        data, stride = part.tobytes(), part.width * 4
        rows = [data[at : at + stride] for at in range(0, len(data), stride)]
        # Most rows of a place are alike.
        fresh = {}
        for row in set(rows):
            cells = array("i", row)
            fresh[row] = array("i", map(over.get, cells, cells)).tobytes()
        changed = b"".join(fresh[row] for row in rows)
        image.paste(Image.frombytes("I", part.size, changed), corners, mask)

    def _replaced(self, pile: Pile, operation: Operation) -> Pile:
        """The pile without a stencil of the same mask in the same place: a lamp that flashes."""
        if not isinstance(operation, Stencil):
            return pile
        return tuple(number for number in pile if not self._same(self.operations[number], operation))

    @staticmethod
    def _alike(one: Operation, other: Operation) -> bool:
        """Whether both are fixed shapes drawn in one and the same box: the bands of a dial."""
        return (
            isinstance(one, Stencil)
            and isinstance(other, Stencil)
            and one.box == other.box
            and one.ink.tint == other.ink.tint == NO_CHANNEL
        )

    @staticmethod
    def _same(one: Operation, other: Operation) -> bool:
        return (
            isinstance(one, Stencil)
            and isinstance(other, Stencil)
            and (one.mask, one.box) == (other.mask, other.box)
        )

    def _region(self, operation: Operation, soft: bool = False) -> Image.Image | None:
        if isinstance(operation, Picture):
            covered = self._picture(operation.picture)[1]
            return covered.crop((0, 0, min(covered.width, operation.box.width), operation.box.height))
        number = shape_of(operation)
        if number == NO_MASK:
            return None
        image = self._masks.get((number, soft))
        if image is None:
            mask, painted = self.drawing.masks[number], _TOUCHED if soft else _PAINTED
            whole = Image.frombytes("L", (mask.width, mask.height), mask.coverage.translate(painted))
            image = self._masks[number, soft] = whole.convert("1", dither=Image.Dither.NONE)
        return image

    def _levels(self, index: int, soft: int) -> tuple[int, ...]:
        """The coverages of a soft shape in the place of an operation that stands on it: all but the least and
        the most that make up no more than a soft edge would."""
        over, under = self.operations[index], self.operations[soft]
        mask = self.drawing.masks[shape_of(under)]
        whole = Image.frombytes("L", (mask.width, mask.height), mask.coverage)
        region = self._region(over) or Image.new("1", (over.box.width, over.box.height), 1)
        at = (over.box.left - under.box.left, over.box.top - under.box.top)
        part = whole.crop((*at, at[0] + region.width, at[1] + region.height))
        counts = part.histogram(region)[:16]
        least = LEAST_SHARE * sum(counts)
        return tuple(
            level
            for level in range(16)
            if counts[level] and sum(counts[: level + 1]) >= least and sum(counts[level:]) >= least
        )

    def _picture(self, number: int) -> tuple[Image.Image, Image.Image]:
        """A picture's colours, and where it is painted."""
        if number not in self._shown:
            picture = self.drawing.pictures[number]
            size = (picture.width, picture.height)
            covered = Image.new("1", size, 1)
            if picture.coverage:
                levels = Image.frombytes("L", size, picture.coverage.translate(_PAINTED))
                covered = levels.convert("1", dither=Image.Dither.NONE)
            self._shown[number] = colours(picture), covered
        return self._shown[number]

    def _pictured(self, index: int, picture: Picture) -> tuple[int, ...]:
        """The numbers of a picture's colours that an operation stands on."""
        if (index, picture) not in self._stood_on:
            self._stood_on[index, picture] = self._stands_on(index, picture)
        return self._stood_on[index, picture]

    def _stands_on(self, index: int, picture: Picture) -> tuple[int, ...]:
        operation = self.operations[index]
        over, under = operation.box, picture.box
        region = self._region(operation) or Image.new("1", (over.width, over.height), 1)
        whole, covered = self._picture(picture.picture)
        at = (over.left - under.left, over.top - under.top)
        corners = (*at, at[0] + region.width, at[1] + region.height)
        beneath = ImageChops.logical_and(region, covered.crop(corners))
        seen = by_luminance(whole.crop(corners), beneath.convert("L"), LEAST_SHARE)
        return tuple(self._seen.number(colour) for colour in seen)

    def _clipped(self, box: Box, grow: int) -> tuple[int, int, int, int]:
        return (
            max(0, box.left - grow),
            max(0, box.top - grow),
            min(self.drawing.width, box.left + box.width + grow),
            min(self.drawing.height, box.top + box.height + grow),
        )

    def _unders(self, index: int, pile: Pile, tint: int, step: int) -> Iterator[int]:
        """The palette entries that can show beneath a live operation."""
        operation = self.operations[index]
        for number in reversed(pile):
            beneath = self.operations[number]
            if self._same(beneath, operation) or never_together(beneath, operation):
                continue
            if isinstance(beneath, Picture):
                yield from self._pictured(index, beneath)
            ink = ink_of(beneath)
            if ink is None:
                if beneath.when is None or goes_with(beneath, operation):
                    return
                continue
            # One figure made of shapes in one place, or two places coloured by values that touch.
            if self.pieces[number] is self.pieces[index] and (
                ink == ink_of(operation) or self._alike(beneath, operation)
            ):
                continue
            if _uncovered_with(beneath, operation):
                yield from (ink.first + each for each in self._beneath_steps(beneath))
                return
            if is_area(beneath) and is_area(operation) and operation.bed:
                continue
            if self._is_soft(number):
                below = set(self._unders(index, pile[: pile.index(number)], tint, step))
                yield from self._mixed(index, number, below)
                return
            steps = self._beneath_steps(beneath)
            if ink.tint == tint != NO_CHANNEL:
                steps = (step,) if step in steps else ()
            elif operation.when is not None and operation.when.channel == ink.tint:
                when = operation.when
                steps = tuple(each for each in steps if when.low <= LIVE + each <= when.high)
            yield from (ink.first + each for each in steps)
            with_it = goes_with(beneath, operation) or _lives_with(beneath, operation)
            if not beneath.moves and (beneath.when is None or with_it):
                return
        yield GROUND

    def _mixed(self, index: int, soft: int, below: Iterable[int]) -> Iterator[int]:
        """What a soft shape makes of the colours below it in the place of an operation."""
        shape = self.operations[soft]
        ink, levels = ink_of(shape), self._levels(index, soft)
        entries = () if ink is None else tuple(ink.first + step for step in self._beneath_steps(shape))
        for under in below:
            if shape.when is not None:
                yield under
            yield from (
                self._seen.number(Mixed(entry, under, level)) if level else under
                for entry in entries
                for level in levels
            )

    def _in_doubt(self, index: int, pile: Pile, channel: int) -> Iterator[Pair]:
        """The doubt ink against what can show beneath when ``channel`` is in doubt."""
        operation = self.operations[index]
        for number in reversed(pile):
            beneath = self.operations[number]
            if self._same(beneath, operation) or never_together(beneath, operation):
                continue
            if isinstance(beneath, Picture):
                yield from (Pair(DOUBT, each, doubt=True) for each in self._pictured(index, beneath))
            ink = ink_of(beneath)
            if ink is None:
                if beneath.when is None:
                    return
                continue
            if channel in (leading_channel(beneath), ink.tint):
                yield Pair(DOUBT, DOUBT, doubt=True, hatched=True)
                continue
            if beneath.when is not None and beneath.when.channel == channel and beneath.when.low >= LIVE:
                continue
            if self._is_soft(number):
                below = set(self._unders(index, pile[: pile.index(number)], NO_CHANNEL, 0))
                yield from (Pair(DOUBT, each, doubt=True) for each in self._mixed(index, number, below))
                return
            yield from (Pair(DOUBT, ink.first + step, doubt=True) for step in self._beneath_steps(beneath))
            if not beneath.moves and beneath.when is None:
                return
        yield Pair(DOUBT, GROUND, doubt=True)

    def _over_doubt(self, index: int, first: int, tint: int) -> Iterator[Pair]:
        """A text's live ink on a hatch of something beneath that is in doubt."""
        own = {None, NO_CHANNEL, tint, leading_channel(self.operations[index])}
        for pile in self.piles[index]:
            for number in reversed(pile):
                beneath = self.operations[number]
                ink = ink_of(beneath)
                if never_together(beneath, self.operations[index]):
                    continue
                if ink is None:
                    if beneath.when is None:
                        break
                    continue
                feeds = {leading_channel(beneath), ink.tint} - own - self._touch
                if feeds:
                    for step in self.steps(self.operations[index]):
                        yield Pair(first + step, DOUBT, step, hatched=True)
                if not feeds and not beneath.moves and beneath.when is None:
                    break


def never_together(one: Operation, other: Operation) -> bool:
    """Whether the two are never painted at one time."""
    a, b = one.when, other.when
    return a is not None and b is not None and a.channel == b.channel and (a.high < b.low or b.high < a.low)


def is_text(operation: Operation) -> bool:
    """Whether an operation writes."""
    return operation.part is Part.TEXT


def is_area(operation: Operation) -> bool:
    """Whether an operation colours a whole place by a value: a bar, a level, a cell, a pipe."""
    if operation.part is Part.FILLING:
        return True
    return isinstance(operation, Fill) and operation.ink.tint != NO_CHANNEL


def is_symbol(operation: Operation) -> bool:
    """Whether an operation draws a shape that must be made out."""
    return operation.part is Part.SHAPE


def _uncovered_with(one: Operation, other: Operation) -> bool:
    """Whether one value uncovers both alike, the one as soon as the other: figures inside a bar."""
    return (
        isinstance(one, Reveal)
        and isinstance(other, Reveal)
        and one.axis is not Axis.MAPPED
        and (one.box, one.channel, one.axis, one.zero) == (other.box, other.channel, other.axis, other.zero)
    )


def _weighty(counted: dict[int, int], operation: Operation) -> list[int]:
    """The piles that are seen on enough of the operation's place to matter, in order."""
    least = LEAST_SHARE_OF_POINTER if isinstance(operation, Pointer) else LEAST_SHARE
    total = sum(counted.values())
    return sorted(number for number, count in counted.items() if count >= total * least)


def goes_with(under: Operation, operation: Operation) -> bool:
    """Whether ``under`` has a condition that holds whenever that of ``operation`` does."""
    inner, outer = operation.when, under.when
    if inner is None or outer is None or inner.channel != outer.channel:
        return False
    return outer.low <= inner.low and inner.high <= outer.high


def _lives_with(under: Operation, operation: Operation) -> bool:
    """Whether ``under`` is painted whenever the value that ``operation`` shows is known."""
    when = under.when
    if when is None or when.channel != leading_channel(operation):
        return False
    return when.low <= LIVE and when.high >= LIVE + MOST_STEPS


def _corners(box: Box, mask: Image.Image) -> tuple[int, int, int, int]:
    return (box.left, box.top, box.left + mask.width, box.top + mask.height)


_TOUCHED = bytes(255 if coverage else 0 for coverage in range(256))
_PAINTED = bytes(255 if coverage >= HALF else 0 for coverage in range(256))
