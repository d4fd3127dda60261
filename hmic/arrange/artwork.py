"""Collects what a pack shares between screens: masks, figure sets, palette entries, channels."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from hmic.arrange.known_pictograms import Pictograms
from hmic.diagnostics import Span
from hmic.language.design_bounds import MOST_PIXELS
from hmic.model.channels import Channel
from hmic.model.design import Colour, Design
from hmic.paint import fonts
from hmic.paint.operations import (
    FigureSet,
    Glyph,
    Image565,
    Ink,
    LetterSet,
    Mask,
    Outline,
    Theme,
    ThresholdMap,
)

Key = tuple[Colour, ...]
# Colours that a ramp is resolved to.
RAMP_STEPS = 32
MOST_BANDS = 48
WOVEN = (1, 9, 5, 13, 3, 11, 7, 15)
"""Of each eight lines of a shade how far, in sixteenths of a step, the next step comes down to them."""


class Artwork:
    """Every ``add`` or ``ink`` call gives the number of the one shared entry.

    A palette entry is a colour in each theme; equal colours of one theme may be different entries
    when another theme tells them apart.
    """

    def __init__(self, design: Design) -> None:
        self._themes = design.themes
        self._faults = design.faults
        self.pictograms = Pictograms(design)
        self._depth = design.panel.depth
        self._masks: dict[Mask, int] = {}
        self._maps: dict[ThresholdMap, int] = {}
        self._figure_sets: list[FigureSet] = []
        self._channels: dict[Channel, int] = {}
        self._outlines: dict[Outline, int] = {}
        self._pictures: dict[Image565, int] = {}
        self._letter_sets: dict[LetterSet, int] = {}
        self._faces: dict[tuple[str, int, int, fonts.Sized | None], fonts.Face] = {}
        self._unpacked = 0
        self._groups: dict[tuple[Key, ...], int] = {}
        self._entries: list[Key] = []
        self._append([self._role("ground"), self._role("stale")])

    @property
    def masks(self) -> tuple[Mask, ...]:
        """All masks by number."""
        return tuple(self._masks)

    @property
    def maps(self) -> tuple[ThresholdMap, ...]:
        """All threshold maps by number."""
        return tuple(self._maps)

    @property
    def figure_sets(self) -> tuple[FigureSet, ...]:
        """All figure sets by number."""
        return tuple(self._figure_sets)

    @property
    def outlines(self) -> tuple[Outline, ...]:
        """All outlines by number."""
        return tuple(self._outlines)

    @property
    def pictures(self) -> tuple[Image565, ...]:
        """All pictures by number."""
        return tuple(self._pictures)

    @property
    def letter_sets(self) -> tuple[LetterSet, ...]:
        """All letter sets by number."""
        return tuple(self._letter_sets)

    @property
    def channels(self) -> tuple[Channel, ...]:
        """All channels by number."""
        return tuple(self._channels)

    def themes(self) -> tuple[Theme, ...]:
        """The palettes, one a theme."""
        return tuple(
            Theme(theme.name, tuple(entry[i] for entry in self._entries), theme.brightness)
            for i, theme in enumerate(self._themes)
        )

    def face(
        self,
        use: str,
        font: Path,
        capital_height: int,
        fallback: Path,
        *,
        spacing: int = 0,
        sized: fonts.Sized | None = None,
    ) -> fonts.Face:
        """``load_face`` for one of the design's uses, its files looked at once for the whole design."""
        key = (use, capital_height, spacing, sized)
        if key not in self._faces:
            loaded = fonts.load_face(font, capital_height, fallback)
            self._faces[key] = loaded.used(use, spacing, sized)
        return self._faces[key]

    def mask(self, mask: Mask) -> int:
        """The number of a mask."""
        return self._masks.setdefault(mask, len(self._masks))

    def blank(self) -> int:
        """The number of a mask that paints nothing, for letters without ink."""
        return self.mask(Mask(1, 1, bytes(1)))

    def map(self, thresholds: ThresholdMap) -> int:
        """The number of a threshold map."""
        return self._maps.setdefault(thresholds, len(self._maps))

    def channel(self, channel: Channel) -> int:
        """The number of a channel; widgets that show the same value by the same steps share it."""
        return self._channels.setdefault(channel, len(self._channels))

    def channels_in_row(self, channels: Sequence[Channel]) -> int:
        """The number of the first of several channels that must have consecutive numbers."""
        first = len(self._channels)
        if channels[0] in self._channels:
            first = self._channels[channels[0]]
        numbers = [self.channel(channel) for channel in channels]
        assert numbers == list(range(first, first + len(channels)))
        return first

    def outline(self, outline: Outline) -> int:
        """The number of an outline."""
        return self._outlines.setdefault(outline, len(self._outlines))

    def picture(self, picture: Image565) -> int:
        """The number of a picture."""
        return self._pictures.setdefault(picture, len(self._pictures))

    def unpacks(self, pixels: int) -> bool:
        """Whether so many more pixels of the design's pictures may be unpacked."""
        self._unpacked += pixels
        return self._unpacked <= MOST_PIXELS

    def letter_set(self, letters: LetterSet) -> int:
        """The number of a letter set."""
        return self._letter_sets.setdefault(letters, len(self._letter_sets))

    def figure_set(self, face: fonts.Face, small: fonts.Face | None = None) -> int:
        """The number of a face's figures, those of smaller decimals right after them."""
        wanted = [self._figures(face, 0)]
        if small is not None:
            # On the line of the larger ones, in cells that begin where theirs do.
            drop = face.cells.rise + face.capital_height - small.cells.rise - small.capital_height
            wanted.append(self._figures(small, drop))
        for start in range(len(self._figure_sets) - len(wanted) + 1):
            if self._figure_sets[start : start + len(wanted)] == wanted:
                return start
        self._figure_sets += wanted
        return len(self._figure_sets) - len(wanted)

    def _figures(self, face: fonts.Face, drop: int) -> FigureSet:
        advance, point_advance, height, glyphs = face.figures()
        placed = tuple(Glyph(self.mask(mask), left, top + drop) for mask, left, top in glyphs)
        return FigureSet(advance, point_advance, height + drop, placed)

    def ink(self, role: str) -> Ink:
        """A role's colour."""
        return Ink(self._group([self._role(role)]))

    def inks(self, roles: Sequence[str], tint: int) -> Ink:
        """One role for each step of the channel ``tint``."""
        return Ink(self._group([self._role(role) for role in roles]), tint)

    def role_entry(self, role: str) -> Key:
        """A role's colour in each theme."""
        return self._role(role)

    def ramp_entries(self, name: str, count: int, span: Span) -> list[Key]:
        """``count`` colours evenly along a ramp, interpolated between its stops in sRGB.

        Raises ``Told`` for a ramp that a theme lacks: loading has told it, at ``span``.
        """
        if any(name not in theme.ramps for theme in self._themes):
            raise self._faults.told(span)
        ramps = [theme.ramps[name].stops for theme in self._themes]
        return [tuple(along(stops, i, count) for stops in ramps) for i in range(count)]

    def entry(self, key: Key) -> Ink:
        """One palette entry."""
        return Ink(self._group([key]))

    def shade(self, first: Key, last: Key, lines: int, *, woven: bool) -> list[Key]:
        """A colour for each of some lines on the way from one colour to another.

        With 16 bits a pixel the steps would be seen, and of the three parts not at one place, which tinges
        what is grey; ``woven`` lines of both sides of a step alternate instead, each part by itself."""
        ends = list(zip(first, last, strict=True))
        if self._depth != 16:
            apart = max(abs(a - b) for one, other in ends for a, b in zip(one, other, strict=True))
            count = min(MOST_BANDS, lines, apart + 1)
            steps = [tuple(along(pair, at, count) for pair in ends) for at in range(count)]
            return [steps[line * count // lines] for line in range(lines)]
        return [
            tuple(_woven(one, other, line, lines, WOVEN[line % 8] if woven else 8) for one, other in ends)
            for line in range(lines)
        ]

    def entries(self, keys: Sequence[Key], tint: int) -> Ink:
        """One palette entry for each step of the channel ``tint``."""
        return Ink(self._group(list(keys)), tint)

    def _role(self, role: str) -> Key:
        return tuple(theme.roles[role] for theme in self._themes)

    def _group(self, keys: list[Key]) -> int:
        wanted = tuple(keys)
        if wanted not in self._groups:
            self._groups[wanted] = self._find(keys)
        return self._groups[wanted]

    def _find(self, keys: list[Key]) -> int:
        for start in range(len(self._entries) - len(keys) + 1):
            if self._entries[start : start + len(keys)] == keys:
                return start
        return self._append(keys)

    def _append(self, keys: list[Key]) -> int:
        start = len(self._entries)
        self._entries.extend(keys)
        return start


def _woven(first: Colour, last: Colour, line: int, lines: int, rise: int) -> Colour:
    """The colour that a panel of 16 bits shows on a line; ``rise`` of 16 decides between two steps."""
    parts = []
    for a, b, bits, turn in zip(first, last, (5, 6, 5), (0, 8, 0), strict=True):
        start, end = a >> 8 - bits, b >> 8 - bits
        own = (rise + turn) % 16 if rise % 2 else rise
        step = (start * 32 * lines + (end - start) * 16 * (2 * line + 1) + 2 * lines * own) // (32 * lines)
        parts.append(step << 8 - bits | step >> 2 * bits - 8)
    red, green, blue = parts
    return red, green, blue


def along(stops: Sequence[Colour], place: int, places: int) -> Colour:
    """The colour of a ramp at ``place`` of ``places`` (both ends included), halves rounded up."""
    whole = max(1, places - 1)
    lower, part = divmod(place * (len(stops) - 1), whole)
    upper = min(lower + 1, len(stops) - 1)
    red, green, blue = (
        (2 * (a * whole + (b - a) * part) + whole) // (2 * whole)
        for a, b in zip(stops[lower], stops[upper], strict=True)
    )
    return red, green, blue
