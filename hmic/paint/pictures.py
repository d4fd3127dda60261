"""Pictures of 5-6-5 words as images, and the other way."""

from __future__ import annotations

from PIL import Image, ImageChops

from hmic.paint.operations import Image565

_FIVE = [(value & 31) << 3 | (value & 31) >> 2 for value in range(256)]
_SIX = [(value & 63) << 2 | (value & 63) >> 4 for value in range(256)]
_RED = bytes(value >> 3 for value in range(256))
_BLUE = bytes(value & 31 for value in range(256))
_GREEN_HIGH = bytes((value & 7) << 3 for value in range(256))
_GREEN_LOW = bytes(value >> 5 for value in range(256))


def colours(picture: Image565) -> Image.Image:
    """An RGB image, expanded as a panel of 16 bits shows its words (``PIXELS.md``, Depth 16)."""
    return shades(picture).point(_FIVE + _SIX + _FIVE)


def shades(picture: Image565) -> Image.Image:
    """The words in their parts: red 0 to 31, green 0 to 63, blue 0 to 31."""
    size = (picture.width, picture.height)
    low, high = picture.pixels[::2], picture.pixels[1::2]
    green = ImageChops.add(
        Image.frombytes("L", size, high.translate(_GREEN_HIGH)),
        Image.frombytes("L", size, low.translate(_GREEN_LOW)),
    )
    red = Image.frombytes("L", size, high.translate(_RED))
    return Image.merge("RGB", (red, green, Image.frombytes("L", size, low.translate(_BLUE))))


def picture_of(image: Image.Image) -> Image565:
    """A picture of any image: each colour to the nearest word, transparency to coverage.

    An image without transparent pixels has no coverage.
    """
    whole = image.convert("RGBA")
    parts = [band.tobytes() for band in whole.split()]
    red, green, blue, alpha = parts
    pixels = bytearray(2 * len(red))
    tops = [high | low for high, low in zip(red.translate(_TO_RED), green.translate(_TO_HIGH), strict=True)]
    ends = [high | low for high, low in zip(green.translate(_TO_LOW), blue.translate(_TO_BLUE), strict=True)]
    pixels[1::2], pixels[::2] = bytes(tops), bytes(ends)
    coverage = alpha.translate(_TO_COVERAGE)
    solid = coverage.count(15) == len(coverage)
    return Image565(whole.width, whole.height, bytes(pixels), b"" if solid else coverage)


def _nearest(value: int, most: int) -> int:
    return (value * most * 2 + 255) // 510


_TO_RED = bytes(_nearest(value, 31) << 3 for value in range(256))
_TO_HIGH = bytes(_nearest(value, 63) >> 3 for value in range(256))
_TO_LOW = bytes((_nearest(value, 63) & 7) << 5 for value in range(256))
_TO_BLUE = bytes(_nearest(value, 31) for value in range(256))
_TO_COVERAGE = bytes(_nearest(value, 15) for value in range(256))
