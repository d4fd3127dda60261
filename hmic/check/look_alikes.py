"""Letters that the chosen font draws nearly alike, measured on their masks."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from hmic.arrange.canvas import FALLBACK
from hmic.arrange.compose import Arranged
from hmic.check.edits import setting
from hmic.diagnostics import Finding, Severity, mended_by
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.paint.fonts import Face, load_face
from hmic.places import fonts_folder

PAIRS = (("1", "l"), ("1", "I"), ("l", "I"), ("0", "O"))
"""Letters that are mistaken for each other where a font does not take care."""
FONT = "text"
SIZE = 16
"""The capital height in px that the masks are drawn at: what differs is the drawing, not the pixels."""


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C469: two letters that share nearly all of their ink, in the font for texts, which writes names and
    titles."""
    limit = limits["glyph distance"]
    facts = [fact for screen in arranged.screens for fact in screen.texts if fact.font == FONT]
    if not facts or FONT not in design.fonts:
        return []
    measured = {pair: difference(design.fonts[FONT], *pair) for pair in PAIRS}
    alike = [pair for pair, amount in measured.items() if amount < limit.value]
    if not alike:
        return []
    face = _face(design.fonts[FONT])
    told = " and ".join(f"{first} like {second}" for first, second in alike)
    message = f"the font '{face.name}' for text draws {told}"
    remedy = "choose another font for `text` in design.yaml, such as B612-Regular"
    worst = min(measured[pair] for pair in alike)
    span = min((fact.span for fact in facts), key=lambda span: (span.file, span.line, span.column))
    found = limit.finding("C469", message, span, remedy, worst, severity=Severity.NOTE)
    mend = setting(design, "design.yaml", ("fonts", FONT), "B612-Regular")
    return [mended_by(found, mend, ", or another font")]


@lru_cache(maxsize=64)
def difference(font: Path, first: str, second: str) -> float:
    """The ink that two letters do not share, as a part of the heavier's, where they lie upon each other
    best."""
    face = _face(font)
    one, other = _ink(face, first), _ink(face, second)
    most = max(sum(one.values()), sum(other.values()))
    apart = (_middle(one) - _middle(other)) // 2
    return min(_unshared(one, other, apart + shift) for shift in (-2, -1, 0, 1, 2)) / most


def _middle(ink: dict[tuple[int, int], int]) -> int:
    """Twice the middle of its width."""
    columns = [x for x, _ in ink]
    return min(columns) + max(columns)


def _unshared(one: dict[tuple[int, int], int], other: dict[tuple[int, int], int], shift: int) -> int:
    moved = {(x + shift, y): ink for (x, y), ink in other.items()}
    return sum(abs(one.get(at, 0) - moved.get(at, 0)) for at in one.keys() | moved.keys())


def _ink(face: Face, letter: str) -> dict[tuple[int, int], int]:
    drawn = face.drawn(letter)
    if drawn.mask is None:
        return {(0, 0): 1}
    mask = drawn.mask
    return {
        (place % mask.width, drawn.top + place // mask.width): ink
        for place, ink in enumerate(mask.coverage)
        if ink
    }


def _face(font: Path) -> Face:
    return load_face(font, SIZE, fonts_folder() / FALLBACK)
