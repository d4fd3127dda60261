"""Letters as masks: a font at the size that gives a wanted height of capitals.

Everything is whole pixels: each glyph is rasterised alone at a pixel's corner, advances are
rounded, there is no kerning. So the places of a text's glyphs need no more than sums.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from copy import copy
from functools import cached_property, lru_cache, partial
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

from PIL import Image, ImageFont

from hmic.diagnostics import DesignError, Finding, error
from hmic.paint.charmap import characters
from hmic.paint.operations import Mask
from hmic.paint.scripts import unset
from hmic.plain_files import read_plain

Placed = tuple[Mask, int, int]
"""A mask with its left and top offset."""

LARGEST = 64_000_000
"""Bytes of a font file; the largest in use have half of it."""

TALLEST = 1000
"""Pixels of capital height beyond which no font is tried; taller than any small panel."""

DIGITS, MINUS_SIGN, EN_DASH = "0123456789", "\u2212", "\u2013"

_STEPS = 4
"""Sizes tried for each pixel of em height."""

_PROBE = 400
_HINTED = 2

_REDUCED = bytes((value * 15 + 127) // 255 for value in range(256))


class Drawn(NamedTuple):
    """A glyph as drawn: its mask (None for a blank) from the pen and the baseline, its advance."""

    mask: Mask | None
    left: int
    top: int
    advance: int


class FigureCells(NamedTuple):
    """Figures of equal advance for readings, in the order of ``operations.FigureSet``.

    Cells are ``advance`` wide and ``height`` tall, points ``point_advance`` wide. Offsets of
    ``glyphs`` are from the cell's top left corner, which lies ``rise`` rows above the top of the
    capitals (round digits overshoot when large). The comma reaches ``tail`` rows below the cell.
    """

    advance: int
    point_advance: int
    height: int
    glyphs: tuple[Placed, ...]
    rise: int
    tail: int


class Sized(NamedTuple):
    """How high letters are: ``share`` hundredths of what is asked for, from ``least`` to ``most`` px."""

    share: int = 100
    least: int = 1
    most: int | None = None

    def height(self, asked: int) -> int:
        """For so many px that are asked for."""
        part = asked * self.share // 100
        return max(self.least, part if self.most is None else min(part, self.most))


class Face:
    """A font at one size. All lengths in pixels.

    ``capital_height`` is the height of H as drawn. ``ascent`` reaches from the baseline up and
    ``descent`` down, as the font file declares them, and at least as far down as the tails of
    small letters; ``line_height`` is their sum. A character the font lacks is taken from the
    fallback. ``use`` is the name that a design gives it, ``spacing`` what stands between two letters,
    ``sized`` how its height follows what a ``text`` phrase asks for, None where none sizes it.
    """

    use = "text"
    spacing = 0
    sized: Sized | None = None

    def __init__(
        self, name: str, data: bytes, size: float, fallback: Callable[[], Face] | None = None
    ) -> None:
        """``fallback`` is asked for where a character lacks: few designs need it."""
        self.name = name
        self.size = size
        self._data = data
        self._font = _opened(name, data, size)
        self._held = _characters(name, data)
        self._ask = fallback
        self._drawn: dict[str, Drawn] = {}
        self.capital_height = _height_of_capitals(name, self._font)
        self.ascent, declared = self._font.getmetrics()
        self.descent = max(declared, *(self._reach(char) for char in "gjpqy"))
        self.line_height = self.ascent + self.descent

    def used(self, use: str, spacing: int, sized: Sized | None = None) -> Face:
        """The same letters by the name that a design gives them, set apart, and sized by a phrase."""
        face = copy(self)
        face.use, face.spacing, face.sized = use, spacing, sized
        return face

    @cached_property
    def _fallback(self) -> Face | None:
        return self._ask() if self._ask is not None else None

    def has(self, char: str) -> bool:
        """Whether the font, or its fallback, has a glyph for a character."""
        return ord(char) in self._held or (self._fallback is not None and self._fallback.has(char))

    def measure(self, text: str) -> int:
        """Advance width of a text. DesignError A392 for a character without a glyph, or A394."""
        letters = unicodedata.normalize("NFC", text)
        return sum(self.drawn(char).advance for char in letters) + self.spacing * max(0, len(letters) - 1)

    def glyphs(self, text: str) -> list[Placed]:
        """Masks of a text's glyphs, offsets from the pen's start and the top of the capitals.

        Blanks have none. DesignError A392 for a character without a glyph, or A394.
        """
        placed: list[Placed] = []
        pen = 0
        for char in unicodedata.normalize("NFC", text):
            glyph = self.drawn(char)
            if glyph.mask is not None:
                placed.append((glyph.mask, pen + glyph.left, self.capital_height + glyph.top))
            pen += glyph.advance + self.spacing
        return placed

    def ink_box(self, text: str) -> tuple[int, int, int, int]:
        """(left, top, right, bottom) of a text's ink, offsets as in ``glyphs``; zeros for a blank.

        Ink can overhang the advance at either end. An operation paints nothing outside its box, so
        a box for the text must hold this too.
        """
        placed = self.glyphs(text)
        if not placed:
            return 0, 0, 0, 0
        return (
            min(left for _, left, _ in placed),
            min(top for _, _, top in placed),
            max(left + mask.width for mask, left, _ in placed),
            max(top + mask.height for mask, _, top in placed),
        )

    def figures(self) -> tuple[int, int, int, list[Placed]]:
        """(advance, point advance, height, glyphs) of ``cells``, for a ``FigureSet``."""
        cells = self.cells
        return cells.advance, cells.point_advance, cells.height, list(cells.glyphs)

    @cached_property
    def cells(self) -> FigureCells:
        """The figures for readings. DesignError A392 when the font lacks one of them."""
        from hmic.paint.figures import figure_cells

        return figure_cells(self)

    def _reach(self, char: str) -> int:
        """Rows of a character below the baseline."""
        glyph = self.drawn(char) if self.has(char) else None
        return glyph.top + glyph.mask.height if glyph is not None and glyph.mask is not None else 0

    def drawn(self, char: str) -> Drawn:
        """One glyph. DesignError A392 when neither the font nor its fallback has it, A394 for one that
        cannot be set by itself."""
        glyph = self._drawn.get(char)
        if glyph is None:
            wrong = unset(char)
            if wrong is not None:
                raise DesignError([wrong])
            if ord(char) not in self._held:
                if self._fallback is None or not self._fallback.has(char):
                    raise _missing_glyph(self.name, char)
                glyph = self._fallback.drawn(char)
            else:
                glyph = _rasterised(self.name, self._font, char)
            self._drawn[char] = glyph
        return glyph

    def drawn_smaller(self, char: str, width: int) -> Drawn:
        """One glyph at the largest size at which its ink is at most ``width`` pixels wide."""
        source = self if ord(char) in self._held or self._fallback is None else self._fallback
        size = source.size
        glyph = source.drawn(char)
        while glyph.mask is not None and glyph.mask.width > width and size > 1:
            size -= 1 / _STEPS
            glyph = _rasterised(source.name, _opened(source.name, source._data, size), char)
        return glyph


def load_face(path: Path, capital_height: int, fallback: Path | None = None) -> Face:
    """The font at the largest size whose H is ``capital_height`` pixels tall, or else nearest below.

    ``fallback`` is a font for the characters that the first one lacks, opened for the first of them.
    DesignError A390 for a missing file, A391 for one that is not a usable font, A393 for a height it
    cannot be drawn at.
    """
    return _face(_found(path), capital_height, _found(fallback) if fallback is not None else None)


class _File(NamedTuple):
    """A font file as it is now: another content has another ``stamp``."""

    path: Path
    stamp: tuple[int, ...]


def _found(path: Path) -> _File:
    try:
        facts = path.stat()
    except OSError:
        return _File(path, ())
    return _File(path, (facts.st_dev, facts.st_ino, facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns))


@lru_cache(maxsize=64)
def _face(file: _File, capital_height: int, fallback: _File | None) -> Face:
    data = _read(file)
    size = _size_for(file.path.name, data, capital_height)
    beneath = partial(_face, fallback, capital_height, None) if fallback is not None else None
    return Face(file.path.name, data, size, beneath)


@lru_cache(maxsize=8)
def _read(file: _File) -> bytes:
    path = file.path
    try:
        return read_plain(path, LARGEST)
    except FileNotFoundError:
        finding = error(
            "A390",
            f"the font file '{path.name}' does not exist",
            remedy="name a font file in the design's folder, or copy one there",
        )
    except OSError as problem:
        finding = _unreadable(path.name, problem.strerror or "it cannot be opened")
    raise DesignError([finding])


@lru_cache(maxsize=8)
def _characters(name: str, data: bytes) -> frozenset[int]:
    try:
        return characters(data)
    except ValueError as problem:
        raise DesignError([_unreadable(name, str(problem))]) from problem


def _opened(name: str, data: bytes, size: float) -> ImageFont.FreeTypeFont:
    try:
        basic = ImageFont.Layout.BASIC
        return ImageFont.truetype(BytesIO(data), size, layout_engine=basic)  # type: ignore[arg-type,unused-ignore]
    except OSError as problem:
        raise DesignError([_unreadable(name, str(problem))]) from problem


def _size_for(name: str, data: bytes, capital_height: int) -> float:
    """The size in pixels of em. Heights grow with the size, nearly in proportion: the search begins
    where a large size promises, less the usual effect of hinting, and widens."""
    if ord("H") not in _characters(name, data):
        raise DesignError([_unreadable(name, "it has no capital H to measure")])
    if not 1 <= capital_height <= TALLEST:
        raise _bad_height(name, capital_height)

    def fits(steps: int) -> bool:
        return _height_of_capitals(name, _opened(name, data, steps / _STEPS)) <= capital_height

    promised = _STEPS * _PROBE * (2 * capital_height + 1) // (2 * _probed(name, data))
    start, reach = max(_STEPS, promised - _HINTED), 1
    if fits(start):
        low, high = start, start + 1
        while fits(high):
            reach *= 2
            low, high = high, high + reach
    else:
        low, high = start - 1, start
        while low > _STEPS and not fits(low):
            reach *= 2
            low, high = max(_STEPS, low - reach), low
        if low < _STEPS or (low == _STEPS and not fits(low)):
            raise _bad_height(name, capital_height)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low / _STEPS


@lru_cache(maxsize=8)
def _probed(name: str, data: bytes) -> int:
    """The height of capitals at ``_PROBE`` pixels of em."""
    return max(1, _height_of_capitals(name, _opened(name, data, _PROBE)))


def _height_of_capitals(name: str, font: ImageFont.FreeTypeFont) -> int:
    mask = _rasterised(name, font, "H").mask
    return mask.height if mask is not None else 0


def _rasterised(name: str, font: ImageFont.FreeTypeFont, char: str) -> Drawn:
    """A glyph's 8-bit mask reduced to 16 levels and trimmed to the pixels that are not blank."""
    try:
        advance = int(font.getlength(char) + 0.5)
        core, (left, top) = font.getmask2(char, mode="L", anchor="ls")
    except (OSError, ValueError) as problem:
        raise DesignError(
            [_unreadable(name, f"its U+{ord(char):04X} cannot be drawn: {problem}")]
        ) from problem
    width, height = core.size
    if not (width and height):
        return Drawn(None, 0, 0, advance)
    image = Image.new("L", (width, height))
    image.im.paste(core, (0, 0, width, height))
    return _trimmed(image.tobytes().translate(_REDUCED), width, int(left), int(top), advance)


def _trimmed(coverage: bytes, width: int, left: int, top: int, advance: int) -> Drawn:
    """A glyph without the blank rows and columns at its edges."""
    height = len(coverage) // width
    blank = bytes(max(width, height))
    if coverage == bytes(len(coverage)):
        return Drawn(None, 0, 0, advance)
    first, last, near, far = 0, height, 0, width
    while coverage[first * width : (first + 1) * width] == blank[:width]:
        first += 1
    while coverage[(last - 1) * width : last * width] == blank[:width]:
        last -= 1
    while coverage[near::width] == blank[:height]:
        near += 1
    while coverage[far - 1 :: width] == blank[:height]:
        far -= 1
    if (near, far) == (0, width):
        inked = coverage[first * width : last * width]
    else:
        inked = b"".join([coverage[at + near : at + far] for at in range(first * width, last * width, width)])
    return Drawn(Mask(far - near, last - first, inked), left + near, top + first, advance)


def _unreadable(name: str, reason: str) -> Finding:
    return error(
        "A391",
        f"the font file '{name}' cannot be used: {reason}",
        remedy="use a TrueType or OpenType font file (.ttf, .otf)",
    )


def _missing_glyph(name: str, char: str) -> DesignError:
    if not char.isprintable():
        message = f"a character that cannot be seen (U+{ord(char):04X}) stands in this text"
        return DesignError([error("A392", message, remedy="delete it")])
    message = f"the font '{name}' has no glyph for '{char}' (U+{ord(char):04X})"
    return DesignError([error("A392", message, remedy="spell it with other characters, or use another font")])


def _bad_height(name: str, capital_height: int) -> DesignError:
    message = f"the font '{name}' cannot be drawn with capitals of {capital_height} pixels"
    remedy = f"choose a text height that comes to between 4 and {TALLEST} pixels"
    return DesignError([error("A393", message, remedy=remedy)])
