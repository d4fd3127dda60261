"""Masks that take long to make, kept between runs."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache
from hashlib import sha256
from pathlib import Path
from zlib import crc32

from hmic.cache import keep_bytes, kept_bytes
from hmic.paint.operations import Mask

KIND = "masks"
# A mask is kept as width, height and a check (4 bytes each, low byte first) and its coverage.
_HEAD = 12


def remembered(make: Callable[..., Mask]) -> Callable[..., Mask]:
    """The same function of numbers and names, its results kept in the user's cache folder for as
    long as the files that draw are the same."""

    @lru_cache(maxsize=256)
    def ask(*arguments: int | str) -> Mask:
        key = repr((make.__name__, arguments)).encode() + _drawers()
        mask = _read(kept_bytes(KIND, key))
        if mask is None:
            mask = make(*arguments)
            keep_bytes(KIND, key, _written(mask))
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
    numbers = (mask.width, mask.height, crc32(mask.coverage))
    return b"".join(number.to_bytes(4, "little") for number in numbers) + mask.coverage


def _read(data: bytes | None) -> Mask | None:
    if data is None or len(data) < _HEAD:
        return None
    width, height, check = (int.from_bytes(data[i : i + 4], "little") for i in (0, 4, 8))
    coverage = data[_HEAD:]
    if len(coverage) != width * height or crc32(coverage) != check:
        return None
    return Mask(width, height, coverage)
