"""Colours beneath an operation that are no entry of the palette: those of pictures, and of soft shapes over
what lies beneath them.

A picture has thousands. They are put together by luminance, which is what contrast is made of: each group
holds a share of the pixels below which a pile is no more than a soft edge, and stands for its middle one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from PIL import Image

from hmic.check.colour import Colour, relative_luminance


class Mixed(NamedTuple):
    """An entry of the palette with a coverage 0..15 over a colour, by its number."""

    ink: int
    under: int
    coverage: int


class SeenColours:
    """Numbers for such colours, from the end of the palette on."""

    def __init__(self, first: int) -> None:
        self._first = first
        self._numbers: dict[Colour | Mixed, int] = {}
        self._seen: list[Colour | Mixed] = []

    def number(self, seen: Colour | Mixed) -> int:
        """The number of a colour."""
        if seen not in self._numbers:
            self._numbers[seen] = self._first + len(self._seen)
            self._seen.append(seen)
        return self._numbers[seen]

    def colour(self, number: int, palette: Sequence[Colour]) -> Colour:
        """The colour of a number in a theme."""
        if number < self._first:
            return palette[number]
        seen = self._seen[number - self._first]
        if not isinstance(seen, Mixed):
            return seen
        return blended(palette[seen.ink], self.colour(seen.under, palette), seen.coverage)


def blended(ink: Colour, under: Colour, coverage: int) -> Colour:
    """What an ink of coverage 0..15 is painted as, by PIXELS.md."""
    if coverage >= 15:
        return ink
    level = 17 * coverage
    red, green, blue = ((a * (255 - level) + b * level + 127) // 255 for a, b in zip(under, ink, strict=True))
    return red, green, blue


def by_luminance(image: Image.Image, region: Image.Image, share: float) -> Iterator[Colour]:
    """A colour for each ``share`` of the pixels of an RGB image that lie in ``region``, darkest first."""
    layered = image.copy()
    layered.putalpha(region)
    counted: list[tuple[Colour, int]] = []
    for count, pixel in layered.getcolors(image.width * image.height) or []:
        if isinstance(pixel, tuple) and pixel[3]:
            red, green, blue, _ = pixel
            counted.append(((red, green, blue), count))
    counted.sort(key=lambda one: (relative_luminance(one[0]), one[0]))
    least = share * sum(count for _, count in counted)
    group: list[tuple[Colour, int]] = []
    held = 0
    for colour, count in counted:
        group.append((colour, count))
        held += count
        if held >= least:
            yield _middle(group)
            group, held = [], 0


def _middle(group: list[tuple[Colour, int]]) -> Colour:
    half, passed = sum(count for _, count in group) / 2, 0
    for colour, count in group:
        passed += count
        if passed >= half:
            return colour
    return group[-1][0]
