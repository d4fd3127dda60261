"""The painter: operations, palette and channels to pixels.

The rules are in ``PIXELS.md``, to the bit. This is their quick form, on Pillow's masked paste,
whose rounding is the blend of the rules; ``tests/paint/reference_painter.py`` is the slow form.
"""

from __future__ import annotations

from functools import lru_cache

from PIL import Image

from hmic.paint import outlines, pictures, traces, travel
from hmic.paint.corners import frame_shape
from hmic.paint.hatches import HATCHES, PERIOD
from hmic.paint.operations import (
    DOUBT,
    DOUBT_MARKS,
    GAP_MARK,
    GROUND,
    LIVE,
    MARK_UNSEEN,
    MINUS,
    NO_CHANNEL,
    NO_MASK,
    OUT_OF_RANGE,
    PLUS,
    UNSEEN,
    Axis,
    Box,
    Drawing,
    Figures,
    Fill,
    Flow,
    Frame,
    Ink,
    Letters,
    Moment,
    Operation,
    Picture,
    Pointer,
    Reveal,
    Run,
    Slide,
    Stencil,
    Trace,
    ink_of,
    leading_channel,
)

Steady = Fill | Stencil | Run | Frame | Figures | Reveal | Slide | Pointer | Trace | Letters
"""Operations in an ink whose live pixels do not depend on the clock, but for a stencil's flash."""

HALF_BEAT = 500
"""Milliseconds a flashing stencil is lit, then dark: one flash a second. WCAG 2.3.1 allows three."""

CLOCK_BITS = 0xFFFFFFFF

MOST_KEPT = 256
"""Positions of pointers kept as images."""

Colour = tuple[int, int, int]

_LEVELS = bytes(17 * min(coverage, 15) for coverage in range(256))
# Five or six bits as a panel of 16 bits a pixel shows them: the high ones repeated below.
_FIVE = [(value & 31) << 3 | (value & 31) >> 2 for value in range(256)]
_SIX = [(value & 63) << 2 | (value & 63) >> 4 for value in range(256)]


class Painter:
    """Paints the moments of one drawing. Keeps its masks as images between frames."""

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._masks: dict[int, Image.Image] = {}
        self._maps: dict[int, Image.Image] = {}
        self._hatches: dict[int, Image.Image] = {}
        self._shapes: dict[tuple[int, int], Image.Image] = {}
        self._doubts: dict[tuple[int, int, int], Image.Image] = {}
        self._pointers: dict[tuple[int, int, int], tuple[Box, Image.Image]] = {}
        self._lines: dict[tuple[int, int], tuple[tuple[int, ...], traces.Line]] = {}
        self._pictures: dict[int, tuple[Image.Image, Image.Image]] = {}

    def paint(self, moment: Moment) -> Image.Image:
        """The frame at a moment, an RGB image of the panel's size.

        Never fails for a drawing and a moment without ``faults``.
        """
        drawing = self._drawing
        colours = self._colours(moment.theme)
        raw = known_raw(drawing, moment)
        image = Image.new("RGB", (drawing.width, drawing.height), colours[GROUND])
        for index, operation in enumerate(drawing.screens[moment.screen].operations):
            when = operation.when
            if when is not None and not when.low <= raw[when.channel] <= when.high:
                continue
            state = _state(operation, raw)
            if state < LIVE:
                self._paint_doubt(image, operation, (moment.screen, index), state, colours[DOUBT])
                continue
            if isinstance(operation, Stencil) and operation.flash and not lit(moment.clock):
                continue
            if isinstance(operation, Picture):
                self._picture(image, operation)
            elif isinstance(operation, Flow):
                colour = colours[_entry(operation.ink, raw)]
                step = raw[operation.channel] - LIVE
                for part in travel.marks(operation, step, moment.clock & CLOCK_BITS):
                    image.paste(colour, _corners(part))
            else:
                self._paint_live(image, operation, (moment.screen, index), raw, colours)
        return image.point(_FIVE + _SIX + _FIVE) if drawing.depth == 16 else image

    def _colours(self, theme: int) -> tuple[Colour, ...]:
        """A theme's colours as they are blended: with 16 bits a pixel, in 5, 6 and 5 bits."""
        colours = self._drawing.themes[theme].colours
        if self._drawing.depth == 16:
            return tuple((red >> 3, green >> 2, blue >> 3) for red, green, blue in colours)
        return colours

    def _paint_live(
        self,
        image: Image.Image,
        operation: Steady,
        place: tuple[int, int],
        raw: tuple[int, ...],
        colours: tuple[Colour, ...],
    ) -> None:
        colour = colours[_entry(operation.ink, raw)]
        box = operation.box
        match operation:
            case Fill():
                image.paste(colour, _corners(box))
            case Stencil():
                self._stamp(image, colour, self._mask(operation.mask), left=box.left, top=box.top, clip=box)
            case Run():
                self._run(image, operation, colour)
            case Frame():
                image.paste(colour, _corners(box), self._shape(operation, place))
            case Figures():
                number = operation.offset + operation.scale * (raw[operation.channel] - LIVE)
                self._figures(image, colour, operation, figures_of(operation, number))
            case Reveal():
                self._reveal(image, colour, operation, place, raw[operation.channel] - LIVE)
            case Slide():
                mask = self._mask(operation.mask)
                step = raw[operation.channel] - LIVE
                left, top = travel.slide_corner(operation, step, mask.width, mask.height)
                self._stamp(image, colour, mask, left=left, top=top, clip=box)
            case Pointer():
                self._pointer(image, colour, operation, place, raw[operation.channel] - LIVE)
            case Trace():
                self._trace(image, (colour, colours[DOUBT]), operation, place, raw)
            case Letters():
                spelt = raw[operation.first : operation.first + operation.count]
                self._letters(image, (colour, colours[DOUBT]), operation, spelt)

    def _paint_doubt(
        self, image: Image.Image, operation: Operation, place: tuple[int, int], state: int, colour: Colour
    ) -> None:
        match operation:
            case Run():
                self._run(image, operation, colour)
            case Figures():
                self._figures(image, colour, operation, [MARK_UNSEEN + state] * operation.places)
            case Letters():
                self._letters(image, (colour, colour), operation, (state,) * DOUBT_MARKS)
            case Slide() | Pointer() | Flow():
                pass
            case _:
                if operation.box.width and operation.box.height:
                    doubt = self._doubt(operation, place, state)
                    image.paste(colour, _corners(operation.box), doubt)

    def _run(self, image: Image.Image, run: Run, colour: Colour) -> None:
        for glyph in run.glyphs:
            left, top = run.box.left + glyph.left, run.box.top + glyph.top
            self._stamp(image, colour, self._mask(glyph.mask), left=left, top=top, clip=run.box)

    def _figures(self, image: Image.Image, colour: Colour, operation: Figures, order: list[int]) -> None:
        """Paints figures from the right edge leftward, in ``order``."""
        box, sets = operation.box, self._drawing.figure_sets[operation.figure_set :]
        smaller = order.index(operation.point) + 1 if operation.small and operation.point in order else 0
        pen = box.left + box.width
        for place, figure in enumerate(order):
            figure_set = sets[place < smaller]
            pen -= figure_set.advance if figure <= MARK_UNSEEN + 2 else figure_set.point_advance
            glyph = figure_set.glyphs[figure]
            mask = self._mask(glyph.mask)
            self._stamp(image, colour, mask, left=pen + glyph.left, top=box.top + glyph.top, clip=box)

    def _reveal(
        self, image: Image.Image, colour: Colour, reveal: Reveal, place: tuple[int, int], step: int
    ) -> None:
        box = reveal.box
        if reveal.axis is Axis.MAPPED:
            if not (box.width and box.height):
                return
            uncovered = Image.new("L", (box.width, box.height))
            levels = uncovered_levels(step * reveal.gain, reveal.edge)
            uncovered.paste(self._map(reveal.map).point(levels), (0, 0))
            if reveal.mask != NO_MASK:
                uncovered = product(uncovered, self._shape(reveal, place))
            image.paste(colour, _corners(box), uncovered)
            return
        part = uncovered_part(reveal, step)
        if part.width <= 0 or part.height <= 0:
            return
        if reveal.mask == NO_MASK:
            image.paste(colour, _corners(part))
        else:
            self._stamp(image, colour, self._mask(reveal.mask), left=box.left, top=box.top, clip=part)

    def _pointer(
        self, image: Image.Image, colour: Colour, pointer: Pointer, place: tuple[int, int], step: int
    ) -> None:
        held = self._pointers.get((*place, step))
        box = pointer.box
        if held is None:
            polygon = self._drawing.outlines[pointer.outline].polygons[step]
            part = outlines.reach(polygon, box.width, box.height)
            if part.width == 0 or part.height == 0:
                return
            if len(self._pointers) >= MOST_KEPT:
                self._pointers.clear()
            held = self._pointers[*place, step] = part, outlines.levels(polygon, part)
        part, levels = held
        image.paste(colour, (box.left + part.left, box.top + part.top), levels)

    def _trace(
        self,
        image: Image.Image,
        inks: tuple[Colour, Colour],
        trace: Trace,
        place: tuple[int, int],
        raw: tuple[int, ...],
    ) -> None:
        columns = traces.columns_of(trace, raw)
        held = self._lines.get(place)
        if held is None or held[0] != columns:
            fresh = traces.line(trace, columns, raw[trace.head] - LIVE, held[1] if held else None)
            held = self._lines[place] = columns, fresh
        for left, top, levels in held[1].pieces:
            image.paste(inks[0], (left, top), levels)
        for left, width, state in held[1].gaps:
            corners = _corners(traces.gap_box(trace, left, width, GAP_MARK))
            image.paste(inks[1], corners, self._hatch(state).crop(corners))

    def _letters(
        self, image: Image.Image, inks: tuple[Colour, Colour], operation: Letters, spelt: tuple[int, ...]
    ) -> None:
        """Sets letters by their raw values; three marks are the doubt of the whole line."""
        letter_set = self._drawing.letter_sets[operation.letter_set]
        box = operation.box
        pen, edge = box.left, box.left + box.width
        doubtful = spelt[0] < LIVE
        for value in spelt:
            if value == LIVE or pen >= edge:
                return
            live = value > LIVE
            letter = letter_set.letters[value - LIVE - 1] if live else letter_set.marks[value - UNSEEN]
            left, top = pen + letter.glyph.left, box.top + letter.glyph.top
            self._stamp(image, inks[not live], self._mask(letter.glyph.mask), left=left, top=top, clip=box)
            if not live and not doubtful:
                return
            pen += letter.advance

    def _picture(self, image: Image.Image, operation: Picture) -> None:
        held = self._pictures.get(operation.picture)
        if held is None:
            picture = self._drawing.pictures[operation.picture]
            coverage = picture.coverage or b"\x0f" * (picture.width * picture.height)
            levels = Image.frombytes("L", (picture.width, picture.height), coverage.translate(_LEVELS))
            shades = pictures.shades(picture) if self._drawing.depth == 16 else pictures.colours(picture)
            held = self._pictures[operation.picture] = shades, levels
        box = operation.box
        width, height = min(box.width, held[0].width), min(box.height, held[0].height)
        if width and height:
            colours, levels = (whole.crop((0, 0, width, height)) for whole in held)
            image.paste(colours, (box.left, box.top), levels)

    def _stamp(
        self, image: Image.Image, colour: Colour, mask: Image.Image, *, left: int, top: int, clip: Box
    ) -> None:
        """Pastes the part of a mask at (left, top) that lies in ``clip``."""
        right, bottom = left + mask.width, top + mask.height
        near_x, near_y = max(left, clip.left), max(top, clip.top)
        far_x, far_y = min(right, clip.left + clip.width), min(bottom, clip.top + clip.height)
        if near_x >= far_x or near_y >= far_y:
            return
        if (near_x, near_y, far_x, far_y) != (left, top, right, bottom):
            mask = mask.crop((near_x - left, near_y - top, far_x - left, far_y - top))
        image.paste(colour, (near_x, near_y, far_x, far_y), mask)

    def _mask(self, number: int) -> Image.Image:
        image = self._masks.get(number)
        if image is None:
            mask = self._drawing.masks[number]
            levels = mask.coverage.translate(_LEVELS)
            image = self._masks[number] = Image.frombytes("L", (mask.width, mask.height), levels)
        return image

    def _map(self, number: int) -> Image.Image:
        image = self._maps.get(number)
        if image is None:
            held = self._drawing.maps[number]
            image = self._maps[number] = Image.frombytes("L", (held.width, held.height), held.thresholds)
        return image

    def _shape(self, operation: Operation, place: tuple[int, int]) -> Image.Image:
        """The operation's own coverage over its whole box, as levels 0..255."""
        shape = self._shapes.get(place)
        if shape is None:
            size = (operation.box.width, operation.box.height)
            match operation:
                case Frame():
                    shape = frame_shape(size, self._mask(operation.corner))
                case Stencil() | Reveal() if operation.mask != NO_MASK:
                    shape = Image.new("L", size)
                    shape.paste(self._mask(operation.mask), (0, 0))
                case _:
                    shape = Image.new("L", size, 255)
            self._shapes[place] = shape
        return shape

    def _doubt(self, operation: Operation, place: tuple[int, int], state: int) -> Image.Image:
        doubt = self._doubts.get((*place, state))
        if doubt is None:
            hatch = self._hatch(state).crop(_corners(operation.box))
            doubt = product(hatch, self._shape(operation, place))
            self._doubts[(*place, state)] = doubt
        return doubt

    def _hatch(self, state: int) -> Image.Image:
        """The hatch of a state over the whole panel."""
        image = self._hatches.get(state)
        if image is None:
            width, height = self._drawing.width, self._drawing.height
            tile = [bytes(row).translate(_LEVELS) for row in HATCHES[state]]
            rows = [(row * (width // PERIOD + 1))[:width] for row in tile]
            levels = b"".join(rows[y % PERIOD] for y in range(height))
            image = self._hatches[state] = Image.frombytes("L", (width, height), levels)
        return image


def known_raw(drawing: Drawing, moment: Moment) -> tuple[int, ...]:
    """The raw values, one above the channel's steps read as out of range."""
    pairs = zip(moment.raw, drawing.channels, strict=True)
    return tuple(value if value < LIVE + steps else OUT_OF_RANGE for value, steps in pairs)


def lit(clock: int) -> bool:
    """Whether the clock (ms) is in the lit half of the beat."""
    return (clock & CLOCK_BITS) // HALF_BEAT % 2 == 0


def product(left: Image.Image, right: Image.Image) -> Image.Image:
    """The product of two images of levels 0..255 of one size, rounded as the blend is.

    A masked paste on black; Pillow's own multiply cuts off instead of rounding.
    """
    image = Image.new("L", left.size)
    image.paste(left, (0, 0), right)
    return image


def figures_of(operation: Figures, number: int) -> list[int]:
    """Positions in a figure set, from the right: figures, point and sign of a number."""
    point = operation.point if operation.point_after else 0
    least = max(operation.least, operation.point_after + 1 if point else 1)
    rest = abs(number)
    order: list[int] = []
    place = 0
    while place < least or rest:
        if point and place == operation.point_after:
            order.append(point)
        rest, figure = divmod(rest, 6 if operation.sixties and place == 1 else 10)
        order.append(figure)
        place += 1
    if number < 0:
        order.append(MINUS)
    elif number > 0 and operation.plus:
        order.append(PLUS)
    return order


def uncovered_part(reveal: Reveal, step: int) -> Box:
    """The part of the box between ``zero`` and the step along a straight axis, perhaps empty."""
    low, high = min(reveal.zero, step), max(reveal.zero, step)
    return travel.stretch(reveal.box, reveal.axis, low, high)


@lru_cache(maxsize=1024)
def uncovered_levels(reach: int, edge: int) -> list[int]:
    """For each threshold the level 0..255 of ``clamp(reach - threshold, 0, edge) / edge``, halves up."""
    kept = [max(0, min(edge, reach - threshold)) for threshold in range(256)]
    return [(part * 255 + edge // 2) // edge for part in kept]


def _state(operation: Operation, raw: tuple[int, ...]) -> int:
    """``LIVE``, or the doubt of the operation's channel, or else of its tint."""
    leading, ink = leading_channel(operation), ink_of(operation)
    if leading is not None and raw[leading] < LIVE:
        return raw[leading]
    return LIVE if ink is None or ink.tint == NO_CHANNEL else min(raw[ink.tint], LIVE)


def _entry(ink: Ink, raw: tuple[int, ...]) -> int:
    return ink.first if ink.tint == NO_CHANNEL else ink.first + raw[ink.tint] - LIVE


def _corners(box: Box) -> tuple[int, int, int, int]:
    return (box.left, box.top, box.left + box.width, box.top + box.height)
