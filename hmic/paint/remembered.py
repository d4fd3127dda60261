"""Masks that take long to make, kept between runs."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache
from hashlib import sha256
from pathlib import Path

from hmic.cache import Kind, keep_bytes, kept_bytes
from hmic.paint.operations import Mask

MASKS = Kind("mask", files=256, largest=128_000)
# A mask is kept as width and height (4 bytes each, low byte first) and its coverage.
_HEAD = 8


def remembered(make: Callable[..., Mask]) -> Callable[..., Mask]:
    """The same function of numbers and names, its results kept in the user's cache folder for as
    long as the files that draw are the same."""

    @lru_cache(maxsize=256)
    def ask(*arguments: int | str) -> Mask:
        key = repr((make.__name__, arguments)).encode() + _drawers()
        mask = _read(kept_bytes(MASKS, key))
        if mask is None:
            mask = make(*arguments)
            keep_bytes(MASKS, key, _written(mask))
        return mask

    ask.__doc__ = make.__doc__
    return ask


@cache
def _drawers() -> bytes:
    """A hash of this room's rasteriser and drawings."""
    room = Path(__file__).parent
    files = [room / "raster.py", room / "shapes.py", room / "pictograms.py"]
    files += sorted((room / "pictograms").glob("*.path"))
    return sha256(b"".join(path.read_bytes() for path in files)).digest()


def _written(mask: Mask) -> bytes:
    return b"".join(side.to_bytes(4, "little") for side in (mask.width, mask.height)) + mask.coverage


def _read(data: bytes | None) -> Mask | None:
    if data is None or len(data) < _HEAD:
        return None
    width, height = (int.from_bytes(data[i : i + 4], "little") for i in (0, 4))
    coverage = data[_HEAD:]
    return Mask(width, height, coverage) if len(coverage) == width * height else None
