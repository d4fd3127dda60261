"""Every pixel that an operation can light, whatever its channels say."""

from __future__ import annotations

from PIL import Image, ImageChops

from hmic.paint import outlines
from hmic.paint.corners import frame_shape
from hmic.paint.operations import (
    DOUBT_MARKS,
    MARK_UNSEEN,
    MINUS,
    NO_MASK,
    PLUS,
    Box,
    Drawing,
    Figures,
    Frame,
    Glyph,
    Letters,
    Operation,
    Picture,
    Pointer,
    Reveal,
    Run,
    Stencil,
    figure_sets_of,
)

# Coverage of 0 to 15 from which a pixel counts as lit: more than a quarter.
LIT = 4
_LIT = bytes(255 if coverage >= LIT else 0 for coverage in range(256))
_LEVEL = [255 if level >= LIT * 17 else 0 for level in range(256)]


class Reach:
    """What the operations of a drawing can light."""

    def __init__(self, drawing: Drawing) -> None:
        self._drawing = drawing
        self._masks: dict[int, Image.Image] = {}
        self._together: dict[tuple[Glyph, ...], tuple[Image.Image, int, int]] = {}

    def lit(self, operation: Operation, within: Box) -> Image.Image:
        """An image of mode L of the size of ``within``: 255 on each pixel that can be lit. A value that comes
        over the line can have any figures or letters."""
        image = Image.new("L", (within.width, within.height))
        box = Box(
            operation.box.left - within.left,
            operation.box.top - within.top,
            operation.box.width,
            operation.box.height,
        )
        match operation:
            case Run():
                self._glyphs(image, operation.glyphs, box.left, box.top)
            case Figures():
                self._figures(image, operation, box)
            case Letters():
                self._letters(image, operation, box)
            case Frame():
                corner = self._mask(operation.corner)
                image.paste(frame_shape((box.width, box.height), corner), (box.left, box.top))
            case Stencil():
                self._stamp(image, operation.mask, box.left, box.top)
            case Reveal() if operation.mask != NO_MASK:
                self._stamp(image, operation.mask, box.left, box.top)
            case Picture():
                self._picture(image, operation, box)
            case Pointer():
                self._pointer(image, operation, box)
            case _:
                image.paste(255, (box.left, box.top, box.left + box.width, box.top + box.height))
        return image

    def _glyphs(self, image: Image.Image, glyphs: tuple[Glyph, ...], left: int, top: int) -> None:
        for glyph in glyphs:
            self._stamp(image, glyph.mask, left + glyph.left, top + glyph.top)

    def _figures(self, image: Image.Image, operation: Figures, box: Box) -> None:
        """At every place any digit or mark of doubt, left of every one that can be the last a sign."""
        large, last = (figure_sets_of(operation, self._drawing) * 2)[:2]
        marks = self._joined(large.glyphs[MARK_UNSEEN : MARK_UNSEEN + DOUBT_MARKS])
        shortest = max(1, operation.least, operation.point_after + 1 if operation.point else 0)
        part = Image.new("L", (box.width, box.height))
        after = operation.point_after if operation.point else 0
        pen = plain = box.width
        for place in range(max(operation.places, after) + 1):
            held = last if place < after else large
            if place == after and place:
                pen -= last.point_advance
                self._glyphs(part, (last.glyphs[operation.point],), pen, 0)
            pen, plain = pen - held.advance, plain - large.advance
            if place < operation.places:
                digits = self._joined(held.glyphs[:MINUS])
                self._add(part, digits[0], pen + digits[1], digits[2])
                self._add(part, marks[0], plain + marks[1], marks[2])
            if place >= shortest:
                signs = self._joined((held.glyphs[MINUS], held.glyphs[PLUS]))
                self._add(part, signs[0], pen + signs[1], signs[2])
        image.paste(part, (box.left, box.top))

    def _joined(self, glyphs: tuple[Glyph, ...]) -> tuple[Image.Image, int, int]:
        """What any of the glyphs lights, with its left and top offset."""
        if glyphs not in self._together:
            masks = [self._mask(glyph.mask) for glyph in glyphs]
            left, top = min(glyph.left for glyph in glyphs), min(glyph.top for glyph in glyphs)
            right = max(glyph.left + mask.width for glyph, mask in zip(glyphs, masks, strict=True))
            bottom = max(glyph.top + mask.height for glyph, mask in zip(glyphs, masks, strict=True))
            image = Image.new("L", (right - left, bottom - top))
            self._glyphs(image, glyphs, -left, -top)
            self._together[glyphs] = image, left, top
        return self._together[glyphs]

    def _letters(self, image: Image.Image, operation: Letters, box: Box) -> None:
        """Rows of the tallest and the deepest letter, over the whole length."""
        letters = self._drawing.letter_sets[operation.letter_set].letters
        joined, _, rise = self._joined(tuple(letter.glyph for letter in letters))
        top, bottom = max(0, rise), min(box.height, rise + joined.height)
        image.paste(255, (box.left, box.top + top, box.left + box.width, box.top + bottom))

    def _picture(self, image: Image.Image, operation: Picture, box: Box) -> None:
        held = self._drawing.pictures[operation.picture]
        size = (min(box.width, held.width), min(box.height, held.height))
        covered = Image.new("L", (held.width, held.height), 255)
        if held.coverage:
            covered = Image.frombytes("L", covered.size, held.coverage.translate(_LIT))
        image.paste(covered.crop((0, 0, *size)), (box.left, box.top))

    def _pointer(self, image: Image.Image, operation: Pointer, box: Box) -> None:
        for polygon in self._drawing.outlines[operation.outline].polygons:
            part = outlines.reach(polygon, box.width, box.height)
            at = (box.left + part.left, box.top + part.top)
            meets = (
                at[0] < image.width
                and at[1] < image.height
                and at[0] + part.width > 0
                and at[1] + part.height > 0
            )
            if part.width and part.height and meets:
                self._add(image, outlines.levels(polygon, part).point(_LEVEL), *at)

    def _stamp(self, image: Image.Image, mask: int, left: int, top: int) -> None:
        self._add(image, self._mask(mask), left, top)

    @staticmethod
    def _add(image: Image.Image, part: Image.Image, left: int, top: int) -> None:
        image.paste(255, (left, top, left + part.width, top + part.height), part)

    def _mask(self, number: int) -> Image.Image:
        if number not in self._masks:
            mask = self._drawing.masks[number]
            lit = mask.coverage.translate(_LIT)
            self._masks[number] = Image.frombytes("L", (mask.width, mask.height), lit)
        return self._masks[number]


def common(one: Image.Image, other: Image.Image) -> tuple[int, int, int, int] | None:
    """The corners of what is lit in both, None for nothing."""
    return ImageChops.darker(one, other).getbbox()
