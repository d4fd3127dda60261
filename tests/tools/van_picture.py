"""Draws the picture of the example van: ``python -m tests.tools.van_picture FILE.png``."""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image

from hmic.paint.raster import UNIT, Point, Samples

SIZE = (300, 150)
BODY = (0x8F, 0xB8, 0xC4)
GLASS = (0x22, 0x2C, 0x31)
STRIPE = (0xF4, 0xEE, 0xDC)
DARK = (0x30, 0x3A, 0x40)
RIM = (0xC8, 0xC4, 0xBA)


def points(*pairs: tuple[float, float]) -> list[Point]:
    return [(round(x * UNIT), round(y * UNIT)) for x, y in pairs]


def rounded_path(corners: list[tuple[float, float, float]]) -> list[Point]:
    """A closed path whose corners (x, y, radius) are quadratic curves."""
    result: list[Point] = []
    count = len(corners)
    for i, (x, y, radius) in enumerate(corners):
        before, after = corners[i - 1], corners[(i + 1) % count]
        ends = []
        for ox, oy, _ in (before, after):
            length = ((ox - x) ** 2 + (oy - y) ** 2) ** 0.5
            part = min(0.5, radius / length)
            ends.append((x + (ox - x) * part, y + (oy - y) * part))
        for step in range(9):
            t = step / 8
            a, b, c = (1 - t) ** 2, 2 * t * (1 - t), t * t
            result += points(
                (a * ends[0][0] + b * x + c * ends[1][0], a * ends[0][1] + b * y + c * ends[1][1])
            )
    return result


def main(path: Path) -> None:
    picture = Image.new("RGBA", SIZE)

    def fill(samples: Samples, colour: tuple[int, int, int]) -> None:
        mask = Image.frombytes("L", SIZE, bytes(value * 17 for value in samples.mask().coverage))
        picture.alpha_composite(Image.merge("RGBA", [*(mask.point([c] * 256) for c in colour), mask]))

    def shape(corners: list[tuple[float, float, float]], colour: tuple[int, int, int]) -> None:
        samples = Samples(*SIZE)
        samples.polygon([rounded_path(corners)])
        fill(samples, colour)

    def disc(x: float, y: float, radius: float, colour: tuple[int, int, int]) -> None:
        samples = Samples(*SIZE)
        samples.disc((round(x * UNIT), round(y * UNIT)), round(radius * UNIT))
        fill(samples, colour)

    # Raised roof, then the body, nose to the right.
    shape([(42, 34, 6), (58, 12, 10), (178, 12, 12), (214, 36, 4)], STRIPE)
    shape(
        [
            (10, 122, 8),
            (12, 40, 14),
            (40, 30, 14),
            (212, 30, 18),
            (252, 72, 16),
            (286, 82, 14),
            (290, 122, 8),
        ],
        BODY,
    )
    shape([(11, 96, 1), (11, 88, 1), (288, 88, 4), (289, 96, 1)], STRIPE)
    shape([(28, 74, 4), (28, 44, 6), (88, 44, 5), (88, 74, 4)], GLASS)
    shape([(100, 74, 4), (100, 44, 5), (160, 44, 5), (160, 74, 4)], GLASS)
    shape([(172, 74, 4), (172, 44, 5), (206, 44, 9), (234, 74, 5)], GLASS)
    shape([(272, 100, 3), (272, 90, 3), (287, 92, 3), (289, 102, 3)], STRIPE)
    for x in (70, 238):
        disc(x, 122, 23, DARK)
        disc(x, 122, 12, RIM)
        disc(x, 122, 4, DARK)
    picture.save(path)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
