"""Masks made narrower or wider, in whole numbers."""

from __future__ import annotations

from functools import lru_cache

from hmic.paint.operations import Mask
from hmic.paint.raster import divided


@lru_cache(maxsize=512)
def narrowed(mask: Mask, now: int, was: int) -> Mask:
    """A mask of which ``was`` px become ``now`` across, each new pixel the mean of what it covers."""
    width = max(1, divided(mask.width * now, was))
    if width == mask.width or not mask.width:
        return mask
    taps = []
    for at in range(width):
        first, last = at * mask.width, (at + 1) * mask.width
        taps.append(
            [
                (place, min(last, (place + 1) * width) - max(first, place * width))
                for place in range(first // width, -(-last // width))
            ]
        )
    coverage = bytearray()
    for start in range(0, len(mask.coverage), mask.width):
        row = mask.coverage[start : start + mask.width]
        coverage += bytes(
            divided(sum(row[place] * share for place, share in tap), mask.width) for tap in taps
        )
    return Mask(width, mask.height, bytes(coverage))
