"""The unit behind a number: on the line of its figures, tight against them or raised to their top."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from hmic.diagnostics import DesignError, closest, error
from hmic.language.syntax import Phrase
from hmic.paint.fonts import Face, Placed

DEGREE = "°"

Form = StrEnum("Form", "TIGHT RAISED")
"""How a ``unit`` phrase sets it."""


@dataclass(frozen=True)
class Unit:
    """A unit as it is set: its glyphs from the end of the figures and the top of their capitals, the room
    that it takes behind them, and the rows of its ink above and below them."""

    text: str
    face: Face
    placed: tuple[Placed, ...]
    width: int
    above: int
    below: int


def forms_of(phrase: Phrase | None) -> frozenset[Form]:
    """What a ``unit`` phrase asks for. Raises ``DesignError`` A353."""
    words = phrase.words if phrase is not None else ()
    for word in words:
        if word not in tuple(Form):
            assert phrase is not None
            meant = closest(word, tuple(Form)) or "raised"
            remedy = f"write `unit {meant}`; a unit is set tight, raised or tight raised"
            raise DesignError([error("A353", f"a unit is not set '{word}'", phrase.span, remedy)])
    return frozenset(map(Form, words))


def set_unit(text: str, figures: Face, face: Face, forms: frozenset[Form] = frozenset()) -> Unit:
    """A unit in ``face`` behind figures. A degree sign stands as high as the figures, where a reader looks
    for it: alone it is the sign of their own font, and a unit that begins with one is raised."""
    if not text:
        return Unit("", face, (), 0, 0, 0)
    height, degrees = figures.capital_height, text.startswith(DEGREE)
    if text == DEGREE:
        face = figures
    gap = max(1, height // 12) if degrees or Form.TIGHT in forms else max(2, min(height // 5, 16))
    drop = 0 if degrees or Form.RAISED in forms else height - face.capital_height
    placed = tuple((mask, gap + left, drop + top) for mask, left, top in face.glyphs(text))
    above = max((-top for _, _, top in placed), default=0)
    below = max((top + mask.height - height for mask, _, top in placed), default=0)
    return Unit(text, face, placed, gap + face.measure(text), max(0, above), max(0, below))
