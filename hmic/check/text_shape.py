"""The shape of letters, measured on the glyphs as painted at the largest size each font is used at,
where the rounding to pixels says least."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from hmic.arrange.canvas import FALLBACK, TextFact
from hmic.arrange.compose import Arranged
from hmic.check.edits import setting
from hmic.check.sized_text import heights
from hmic.diagnostics import Finding, Mend
from hmic.model.design import Design, Panel
from hmic.model.limits import Limits
from hmic.number_text import MEASURED, at_least, at_most, measured_and_limit
from hmic.paint.fonts import Face, load_face
from hmic.paint.operations import Mask
from hmic.places import fonts_folder

ADVISED = "B612-Regular"
"""The font that is proposed in place of another."""


class Shape(NamedTuple):
    """What was measured of a face, lengths in px: ``stroke`` is the stem of H, ``width`` and
    ``height`` its capital's, ``gap`` the clear space between the stems of ``ll``, ``line_gap`` the clear
    space between a g and the d of the line below."""

    stroke: float
    width: float
    height: float
    gap: float
    line_gap: float


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C404 stroke to height, C405 width to height, C406 gap between letters, C407 gap between
    lines. The last two are of the font for texts; figures stand alone."""
    largest: dict[str, TextFact] = {}
    for screen in arranged.screens:
        for fact in screen.texts:
            held = largest.get(fact.font)
            if held is None or fact.capital_height > held.capital_height:
                largest[fact.font] = fact
    # One that is not there has been told by loading.
    there = [(font, fact) for font, fact in largest.items() if font in design.fonts]
    return [item for font, fact in there for item in _held(font, fact, design, limits)]


def shape(face: Face) -> Shape:
    """The proportions of a face; soft edges count by their coverage."""
    capital, stem = face.drawn("H").mask, face.drawn("l")
    assert capital is not None and stem.mask is not None
    stroke = _row(capital) / 2
    bowl, tail = face.drawn("d"), face.drawn("g")
    above = -bowl.top if bowl.mask is not None else 0
    below = tail.top + tail.mask.height if tail.mask is not None else 0
    return Shape(
        stroke,
        _column_sum(capital),
        capital.height,
        stem.advance - _row(stem.mask),
        face.line_height - above - below,
    )


class Measured(NamedTuple):
    """A proportion that limits hold, with their names: the least and, where there is one, the most."""

    code: str
    what: str
    of: Callable[[Shape], float]
    least: str
    most: str = ""


# Parts of fifteenths of a pixel: no more than these figures are meant.
_MEASURED = (
    Measured("C404", "strokes", lambda it: round(it.stroke / it.height, 9), "stroke least", "stroke most"),
    Measured("C405", "capitals", lambda it: round(it.width / it.height, 9), "width least", "width most"),
    Measured("C406", "gaps between upright strokes", lambda it: round(it.gap / it.stroke, 9), "gap least"),
    Measured("C407", "gaps between lines", lambda it: round(it.line_gap / it.stroke, 9), "line gap least"),
)
_OF_TEXTS = ("C406", "C407")


_OF_FIGURES = {"stroke most": "figure stroke most"}
"""Limits that the font for figures has of its own."""


def _of_font(of: Measured, font: str) -> Measured:
    """A proportion with the limits that hold for one of the design's fonts."""
    return of._replace(most=_OF_FIGURES.get(of.most, of.most)) if font == "figures" else of


def _missed(measured: float, of: Measured, limits: Limits) -> str:
    """The name of the limit that a measure misses, or nothing."""
    if measured < limits[of.least].value:
        return of.least
    return of.most if of.most and measured > limits[of.most].value else ""


def _held(font: str, fact: TextFact, design: Design, limits: Limits) -> Iterator[Finding]:
    face = _face(design.fonts[font], fact.capital_height)
    found = shape(face)
    for each in (_of_font(of, font) for of in _MEASURED):
        measured = each.of(found)
        name = _missed(measured, each, limits)
        if not name or (each.code in _OF_TEXTS and fact.figures):
            continue
        limit = limits[name]
        shown, _ = measured_and_limit(measured, limit.value)
        message = f"the font '{face.name}' for {font} has {each.what} of {shown} {limit.unit}"
        remedy, mend = _remedy(font, fact, each, design, limits)
        yield replace(limit.finding(each.code, message, fact.span, remedy, measured), mend=mend)


def _remedy(
    font: str, fact: TextFact, of: Measured, design: Design, limits: Limits
) -> tuple[str, Mend | None]:
    """The proposed font, where that does it; a larger size, where pixels are what is lacking; else another
    limit: no font that could be proposed keeps this one."""

    def missed(path: Path, height: int) -> bool:
        return bool(_missed(of.of(shape(_face(path, height))), of, limits))

    here, advised = design.fonts[font], fonts_folder() / f"{ADVISED}.otf"
    another = f"choose another font for `{font}` in design.yaml, such as {ADVISED}"
    if not missed(advised, fact.capital_height):
        return another, setting(design, "design.yaml", ("fonts", font), ADVISED)
    for path in (here, advised):
        for arcmin, height in _larger(fact, design.panel):
            if not missed(path, height):
                larger = f"write it larger, such as text {arcmin:g} arcmin"
                pixels = f"{larger}: so few pixels give its letters no better shape"
                return pixels if path is here else f"{another}, and {larger}", None
    name = _missed(of.of(shape(_face(here, fact.capital_height))), of, limits)
    best, rounded = (max, at_most) if name == of.least else (min, at_least)
    measures = {path: of.of(shape(_face(path, fact.capital_height))) for path in (here, advised)}
    path = best(measures, key=measures.__getitem__)
    which = "this font" if path is here else ADVISED
    says = (
        f"in design.yaml, limits, write `limit: {rounded(measures[path], MEASURED)} {limits[name].unit}` "
        f"for '{name}', which {which} keeps"
    )
    return says, None


def _larger(fact: TextFact, panel: Panel) -> Iterator[tuple[float, int]]:
    """Sizes to ask for at which the text is higher than it is, and its height in px."""
    present = fact.capital_height
    for arcmin, height in heights(fact, panel, math.floor(panel.arcmin_from_pixels(present)) + 1):
        if height > present:
            yield arcmin, height
            present = height


def _face(path: Path, height: int) -> Face:
    return load_face(path, height, fonts_folder() / FALLBACK)


def _row(mask: Mask) -> float:
    """Inked width a quarter of the way down, in px."""
    start = mask.height // 4 * mask.width
    return sum(mask.coverage[start : start + mask.width]) / 15


def _column_sum(mask: Mask) -> float:
    """Width of a capital with upright sides, in px: the crossbar's row is inked from side to side."""
    rows = (mask.coverage[start : start + mask.width] for start in range(0, len(mask.coverage), mask.width))
    return max(sum(row) for row in rows) / 15
