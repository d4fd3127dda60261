"""The shape of letters, measured on the glyphs as painted at the largest size each font is used at,
where the rounding to pixels says least."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from hmic.arrange.canvas import FALLBACK, TextFact
from hmic.arrange.compose import Arranged
from hmic.check.limits import Limits
from hmic.diagnostics import Finding, Severity
from hmic.model.design import Design
from hmic.number_text import measured_and_limit
from hmic.paint.fonts import Face, load_face
from hmic.paint.operations import Mask
from hmic.places import fonts_folder

ADVISED = "B612-Regular"
"""The font that is proposed in place of another."""


class Shape(NamedTuple):
    """What was measured of a face, lengths in px: ``stroke`` is the stem of H, ``width`` and
    ``height`` its capital's, ``gap`` the clear space between the stems of ``ll``, ``ascender`` the
    font's, ``line_gap`` the clear space between a g and the d of the line below."""

    stroke: float
    width: float
    height: float
    ascender: float
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
    findings = []
    for font, fact in largest.items():
        face = load_face(design.fonts[font], fact.capital_height, fonts_folder() / FALLBACK)
        findings.extend(_held(shape(face), font, face.name, fact, limits))
    return findings


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
        face.ascent,
        stem.advance - _row(stem.mask),
        face.line_height - above - below,
    )


def _held(found: Shape, font: str, name: str, fact: TextFact, limits: Limits) -> list[Finding]:
    # Parts of fifteenths of a pixel: no more than these figures are meant.
    thickness = round(found.stroke / found.ascender, 9)
    width = round(found.width / found.height, 9)
    measures: list[tuple[str, float, str, str | None, str]] = [
        ("C404", thickness, "stroke least", "stroke most", "strokes"),
        ("C405", width, "width least", "width most", "capitals"),
    ]
    if font == "text":
        measures += [
            ("C406", round(found.gap / found.stroke, 9), "gap least", None, "gaps between upright strokes"),
            ("C407", round(found.line_gap / found.stroke, 9), "line gap least", None, "gaps between lines"),
        ]
    findings = []
    for code, measured, least, most, what in measures:
        name_of = least
        if most is not None and measured > limits[most].value:
            name_of = most
        elif measured >= limits[least].value:
            continue
        limit = limits[name_of]
        shown, _ = measured_and_limit(measured, limit.value)
        message = f"the font '{name}' for {font} has {what} of {shown} {limit.unit}"
        remedy = f"choose another font for `{font}` in design.yaml, such as {ADVISED}"
        if Path(name).stem == ADVISED:
            remedy = "write it larger: so few pixels give its letters no better shape"
        findings.append(
            Finding(
                code,
                Severity.WARNING,
                message,
                fact.span,
                remedy,
                measured,
                limit.value,
                limit.unit,
                limit.source,
            )
        )
    return findings


def _row(mask: Mask) -> float:
    """Inked width a quarter of the way down, in px."""
    start = mask.height // 4 * mask.width
    return sum(mask.coverage[start : start + mask.width]) / 15


def _column_sum(mask: Mask) -> float:
    """Width of a capital with upright sides, in px: the crossbar's row is inked from side to side."""
    rows = (mask.coverage[start : start + mask.width] for start in range(0, len(mask.coverage), mask.width))
    return max(sum(row) for row in rows) / 15
