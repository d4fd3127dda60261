"""How much a picture is crowded, as a comparison between two versions of a screen.

Edge density: the part of the pixels that lie on an edge, in %, by Mack and Oliva ("Computational estimation
of visual complexity", 2004), as Rosenholtz, Li and Nakano compare it with others ("Measuring
visual clutter", Journal of Vision 7(2):17, 2007). An edge is where Sobel's gradient of the grey picture is
above ``EDGE`` of the most that it can be (our own choice; theirs is Canny's). What is much of it depends on
the picture: it is never held against a limit.
"""

from __future__ import annotations

from PIL import Image, ImageChops, ImageFilter

EDGE = 0.125
_ACROSS = (-1, 0, 1, -2, 0, 2, -1, 0, 1)
_DOWN = (-1, -2, -1, 0, 0, 0, 1, 2, 1)
_MOST = 4 * 255
"""Of one direction: weights of 4 on each side."""


def edge_density(picture: Image.Image) -> float:
    """The part of an RGB picture's pixels, in %, that lie on an edge; its outermost ones lie on none."""
    grey = picture.convert("L")
    edges = [_steep(grey, weights) for weights in (_ACROSS, _DOWN)]
    joined = ImageChops.lighter(*edges)
    inner = joined.crop((1, 1, max(1, grey.width - 1), max(1, grey.height - 1)))
    return 100 * sum(inner.histogram()[1:]) / (grey.width * grey.height)


def _steep(grey: Image.Image, weights: tuple[int, ...]) -> Image.Image:
    """The pixels where the gradient of one direction is above the limit, up or down."""
    turned = tuple(-weight for weight in weights)
    rises, falls = (grey.filter(ImageFilter.Kernel((3, 3), each, scale=4)) for each in (weights, turned))
    steep = ImageChops.lighter(rises, falls)
    return steep.point([255 if code > EDGE * 255 else 0 for code in range(256)])
