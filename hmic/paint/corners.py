"""A box with rounded corners as levels, for ``Frame``."""

from __future__ import annotations

from PIL import Image


def frame_shape(size: tuple[int, int], corner: Image.Image) -> Image.Image:
    """A box with its corners taken from the mask of the top left one. Where the box is narrower
    than two corners each pixel belongs to the corner it is nearest to."""
    width, height = size
    shape = Image.new("L", size, 255)
    across, down = min(corner.width, (width + 1) // 2), min(corner.height, (height + 1) // 2)
    quarter = corner.crop((0, 0, across, down))
    mirrored = quarter.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    for piece, left in ((quarter, 0), (mirrored, width - across)):
        shape.paste(piece, (left, 0))
        shape.paste(piece.transpose(Image.Transpose.FLIP_TOP_BOTTOM), (left, height - down))
    return shape
