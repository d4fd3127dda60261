"""Pictures to compare with, kept beside the tests in folders named ``golden``."""

from __future__ import annotations

import os
from pathlib import Path

from PIL import Image, ImageChops

ACCEPT = "HMIC_ACCEPT"


def compare(image: Image.Image, kept: Path) -> None:
    """Fails unless ``image`` equals the kept PNG, pixel for pixel.

    On a difference writes the picture, and the places that differ in white, under /tmp. With
    HMIC_ACCEPT=1 in the environment the picture is kept instead.
    """
    image = image.convert("RGB")
    if os.environ.get(ACCEPT) == "1":
        if not kept.exists() or not _same(image, _opened(kept)):
            kept.parent.mkdir(parents=True, exist_ok=True)
            image.save(kept, optimize=True)
        return
    how = f"Look at it, and if it is right run the test again with {ACCEPT}=1 and commit {kept.name}."
    actual = Path("/tmp/hmic-golden") / kept.parent.parent.name / kept.name
    actual.parent.mkdir(parents=True, exist_ok=True)
    if not kept.exists():
        image.save(actual)
        raise AssertionError(f"There is no picture {kept} yet; the test made {actual}. {how}")
    expected = _opened(kept)
    if _same(image, expected):
        return
    image.save(actual)
    if image.size != expected.size:
        sizes = f"{image.width} x {image.height} instead of {expected.width} x {expected.height} pixels"
        raise AssertionError(f"{kept.name} is {sizes}; the test made {actual}. {how}")
    difference = ImageChops.difference(image, expected)
    red, green, blue = difference.split()
    apart = ImageChops.lighter(ImageChops.lighter(red, green), blue).point([0] + [255] * 255)
    shown = actual.with_suffix(".difference.png")
    apart.save(shown)
    count = apart.histogram()[255]
    raise AssertionError(
        f"{kept.name} differs in {count} pixels within {apart.getbbox()}: "
        f"expected {kept}, made {actual}, places {shown}. {how}"
    )


def _opened(path: Path) -> Image.Image:
    with Image.open(path) as image:
        return image.convert("RGB")


def _same(left: Image.Image, right: Image.Image) -> bool:
    return left.size == right.size and left.tobytes() == right.tobytes()
