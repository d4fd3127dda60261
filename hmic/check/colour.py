"""Colour measures from published formulas: what an eye makes of two colours.

A colour is three integers 0 to 255, sRGB encoded. Linear values are floats 0 to 1. All functions
are pure and total over colours.
"""

from __future__ import annotations

import math
from functools import lru_cache

Colour = tuple[int, int, int]
Triple = tuple[float, float, float]

# Rows of the sRGB-linear to CIE XYZ matrix, D65: IEC 61966-2-1.
_TO_XYZ = (
    (0.4124, 0.3576, 0.1805),
    (0.2126, 0.7152, 0.0722),
    (0.0193, 0.1192, 0.9505),
)
# XYZ of sRGB white under that matrix, so that greys come out with a* = b* = 0.
_WHITE = (0.9505, 1.0, 1.0890)

# Machado, Oliveira, Fernandes, IEEE TVCG 15(6), 2009: severity 1.0, for linear sRGB.
_VISION: dict[str, tuple[Triple, Triple, Triple]] = {
    "protan": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deutan": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritan": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}

# Brettel, Vienot, Mollon, JOSA A 14(10), 1997, for linear sRGB: the two half planes of a tritan's colours,
# and the normal of the plane that parts them. What Machado 2009 says of tritan eyes is less sure than of
# others.
_TRITAN_ABOVE = (
    (1.01277, 0.13548, -0.14826),
    (-0.01243, 0.86812, 0.14431),
    (0.07589, 0.80500, 0.11911),
)
_TRITAN_BELOW = (
    (0.93678, 0.18979, -0.12657),
    (0.06154, 0.81526, 0.12320),
    (-0.37562, 1.12767, 0.24796),
)
_TRITAN_PARTED = (0.03901, -0.02788, -0.01113)

LUMINANCE = (0.2126, 0.7152, 0.0722)
"""The parts of linear red, green and blue in relative luminance: WCAG 2.2, IEC 61966-2-1."""
VISIONS = tuple(_VISION)
"""The simulated deficiencies, by the first letters of their usual names."""
FULL = "full"
"""Vision of all colours."""
BRETTEL = "tritan (by Brettel)"
"""Tritan vision by the older model, which differs from Machado's most there."""


def linear(code: int) -> float:
    """Linear light 0 to 1 of an 8-bit sRGB code; IEC 61966-2-1."""
    value = code / 255
    return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4


def encoded(light: float) -> int:
    """The nearest 8-bit sRGB code of linear light; light outside 0 to 1 is clipped first."""
    light = min(1.0, max(0.0, light))
    value = 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
    return math.floor(value * 255 + 0.5)


def relative_luminance(colour: Colour) -> float:
    """0 (black) to 1 (white); WCAG 2.2, "relative luminance"."""
    red, green, blue = (linear(code) for code in colour)
    return LUMINANCE[0] * red + LUMINANCE[1] * green + LUMINANCE[2] * blue


def contrast(one: Colour, other: Colour) -> float:
    """Contrast ratio 1 to 21, whichever is lighter; WCAG 2.2, "contrast ratio"."""
    dark, light = sorted((relative_luminance(one), relative_luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@lru_cache(maxsize=4096)
def lab(colour: Colour) -> Triple:
    """CIELAB L* a* b* under D65, from the sRGB matrix of IEC 61966-2-1."""
    light = [linear(code) for code in colour]
    x, y, z = (
        _lab_root(sum(weight * part for weight, part in zip(row, light, strict=True)) / white)
        for row, white in zip(_TO_XYZ, _WHITE, strict=True)
    )
    return (116 * y - 16, 500 * (x - y), 200 * (y - z))


def difference(one: Colour, other: Colour) -> float:
    """CIEDE2000 between two colours; about 1 is just seen side by side (common practice, no source)."""
    return lab_difference(lab(one), lab(other))


def lab_difference(one: Triple, other: Triple) -> float:
    """CIEDE2000 of two L* a* b* triples with kL = kC = kH = 1.

    Sharma, Wu, Dalal, Color Research & Application 30(1):21-30, 2005.
    """
    (l1, a1, b1), (l2, a2, b2) = one, other
    g = 0.5 * (1 - _seventh((math.hypot(a1, b1) + math.hypot(a2, b2)) / 2))
    c1, h1 = _chroma_hue((1 + g) * a1, b1)
    c2, h2 = _chroma_hue((1 + g) * a2, b2)
    turn, hue = _hue_turn_and_mean(h1, h2)
    delta_h = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn / 2))
    mean_l, mean_c = (l1 + l2) / 2, (c1 + c2) / 2
    t = (
        1
        - 0.17 * math.cos(math.radians(hue - 30))
        + 0.24 * math.cos(math.radians(2 * hue))
        + 0.32 * math.cos(math.radians(3 * hue + 6))
        - 0.20 * math.cos(math.radians(4 * hue - 63))
    )
    off_middle = (mean_l - 50) ** 2
    by_l = (l2 - l1) / (1 + 0.015 * off_middle / math.sqrt(20 + off_middle))
    by_c = (c2 - c1) / (1 + 0.045 * mean_c)
    by_h = delta_h / (1 + 0.015 * mean_c * t)
    angle = 60 * math.exp(-(((hue - 275) / 25) ** 2))
    rotation = -math.sin(math.radians(angle)) * 2 * _seventh(mean_c)
    return math.sqrt(max(0.0, by_l**2 + by_c**2 + by_h**2 + rotation * by_c * by_h))


def vision_rows(vision: str) -> tuple[Triple, Triple, Triple]:
    """What linear red, green and blue become to ``vision``: for each the parts of all three."""
    return _VISION[vision]


def seen_by_unclipped(colour: Colour, vision: str) -> Triple:
    """Linear light as ``seen_by`` finds it, which may leave 0 to 1."""
    light = [linear(code) for code in colour]
    red, green, blue = (
        sum(weight * part for weight, part in zip(row, light, strict=True)) for row in _VISION[vision]
    )
    return (red, green, blue)


def seen_by(colour: Colour, vision: str) -> Colour:
    """The colour as people with ``vision`` (one of ``VISIONS``) see it, severity 1.0.

    Machado, Oliveira, Fernandes 2009, in linear light; each part is clipped to 0..1 by itself.
    """
    red, green, blue = seen_by_unclipped(colour, vision)
    return (encoded(red), encoded(green), encoded(blue))


def tritan_by_brettel(colour: Colour) -> Colour:
    """The colour as people with tritan vision see it by Brettel, Vienot, Mollon 1997."""
    light = [linear(code) for code in colour]
    side = sum(weight * part for weight, part in zip(_TRITAN_PARTED, light, strict=True))
    rows = _TRITAN_ABOVE if side >= 0 else _TRITAN_BELOW
    red, green, blue = (
        encoded(sum(weight * part for weight, part in zip(row, light, strict=True))) for row in rows
    )
    return (red, green, blue)


_seen = lru_cache(maxsize=8192)(seen_by)
_tritan = lru_cache(maxsize=4096)(tritan_by_brettel)


@lru_cache(maxsize=8192)
def difference_seen(one: Colour, other: Colour, vision: str) -> float:
    """CIEDE2000 between two colours as ``FULL`` vision, one of ``VISIONS`` or ``BRETTEL`` sees them."""
    if vision == FULL:
        return difference(one, other)
    if vision == BRETTEL:
        return difference(_tritan(one), _tritan(other))
    return difference(_seen(one, vision), _seen(other, vision))


@lru_cache(maxsize=4096)
def shown(colour: Colour, depth: int) -> Colour:
    """The colour as a panel of so many bits a pixel shows it (PIXELS.md, Depth 16)."""
    if depth != 16:
        return colour
    red, green, blue = colour[0] >> 3, colour[1] >> 2, colour[2] >> 3
    return (red << 3 | red >> 2, green << 2 | green >> 4, blue << 3 | blue >> 2)


def least_difference(one: Colour, other: Colour) -> tuple[float, str]:
    """The smallest CIEDE2000 over full colour vision (``FULL``) and ``VISIONS``, and whose it is."""
    return min((difference_seen(one, other, vision), vision) for vision in (FULL, *VISIONS))


def hex_colour(text: str) -> Colour:
    """The colour of ``#rrggbb``; ValueError for anything else."""
    if len(text) != 7 or text[0] != "#" or not text.isascii() or not text[1:].isalnum():
        raise ValueError(f"{text!r} is not #rrggbb")
    value = int(text[1:], 16)
    return (value >> 16, value >> 8 & 255, value & 255)


def _lab_root(ratio: float) -> float:
    # CIE 15: the cube root, and a straight line near black.
    return ratio ** (1 / 3) if ratio > (6 / 29) ** 3 else ratio * (29 / 6) ** 2 / 3 + 4 / 29


def _seventh(chroma: float) -> float:
    return math.sqrt(chroma**7 / (chroma**7 + 25.0**7))


def _chroma_hue(a: float, b: float) -> tuple[float, float]:
    return math.hypot(a, b), math.degrees(math.atan2(b, a)) % 360


def _hue_turn_and_mean(h1: float, h2: float) -> tuple[float, float]:
    """Of a grey, which has no hue, any will do: what follows from it is multiplied by the chroma, 0."""
    turn, total = h2 - h1, h1 + h2
    if abs(turn) <= 180:
        return turn, total / 2
    if turn > 180:
        turn -= 360
    else:
        turn += 360
    return turn, (total + 360) / 2 if total < 360 else (total - 360) / 2
