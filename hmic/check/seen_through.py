"""Colours beneath an operation that are no entry of the palette: those of pictures.

A picture has thousands. They are put together by luminance, which is what contrast is made of: each group
holds a share of the pixels below which a pile is no more than a soft edge, and stands for its middle one.
"""

from __future__ import annotations

from collections.abc import Iterator

from PIL import Image

from hmic.check.colour import Colour, relative_luminance


class SeenColours:
    """Numbers for such colours, from the end of the palette on."""

    def __init__(self, first: int) -> None:
        self._first = first
        self._numbers: dict[Colour, int] = {}
        self._colours: list[Colour] = []

    def number(self, colour: Colour) -> int:
        """The number of a colour."""
        if colour not in self._numbers:
            self._numbers[colour] = self._first + len(self._colours)
            self._colours.append(colour)
        return self._numbers[colour]

    def colour(self, number: int) -> Colour | None:
        """The colour of a number; None for an entry of the palette."""
        return self._colours[number - self._first] if number >= self._first else None


def by_luminance(image: Image.Image, region: Image.Image, share: float) -> Iterator[Colour]:
    """A colour for each ``share`` of the pixels of an RGB image that lie in ``region``, darkest first."""
    layered = image.copy()
    layered.putalpha(region)
    counted: list[tuple[Colour, int]] = []
    for count, pixel in layered.getcolors(1 << 22) or []:
        if isinstance(pixel, tuple) and pixel[3]:
            red, green, blue, _ = pixel
            counted.append(((red, green, blue), count))
    counted.sort(key=lambda one: (relative_luminance(one[0]), one[0]))
    least = share * sum(count for _, count in counted)
    group: list[tuple[Colour, int]] = []
    for colour, count in counted:
        group.append((colour, count))
        if sum(held for _, held in group) >= least:
            yield _middle(group)
            group = []


def _middle(group: list[tuple[Colour, int]]) -> Colour:
    half, passed = sum(count for _, count in group) / 2, 0
    for colour, count in group:
        passed += count
        if passed >= half:
            return colour
    return group[-1][0]
