"""Size of pictograms at the eye, in minutes of arc, measured as painted."""

from __future__ import annotations

import math

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged
from hmic.arrange.fitting import millimetres
from hmic.arrange.widgets.symbol import DEFAULT_MM
from hmic.check.edits import phrase
from hmic.diagnostics import Finding, Mend, mended_by
from hmic.language.syntax import PhraseKind
from hmic.model.design import Design, Panel
from hmic.model.limits import Limits
from hmic.number_text import measured_and_limit


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C445: a lamp or symbol that its place has made too small to tell what it shows."""
    findings = []
    limit = limits["pictogram size"]
    for screen in arranged.screens:
        for piece in screen.pieces:
            if piece.symbol is None:
                continue
            side = max(piece.symbol.box.width, piece.symbol.box.height)
            measured = design.panel.arcmin_from_pixels(side)
            # Half a pixel is no finding: places are rounded to whole ones.
            if measured + design.panel.arcmin_from_pixels(0.5) >= limit.value:
                continue
            shown, _ = measured_and_limit(measured, limit.value)
            message = (
                f"on screen '{screen.name}' the {piece.widget.kind} '{piece.widget.word}' is "
                f"{side * design.panel.pitch:.1f} mm in size, {shown} arcmin to the eye"
            )
            remedy, mend = _remedy(piece, side, limit.value, design.panel)
            found = limit.finding("C445", message, piece.widget.head, remedy, measured)
            findings.append(mended_by(found, mend))
    return findings


def _remedy(piece: PieceFact, side: int, arcmin: float, panel: Panel) -> tuple[str, Mend | None]:
    """What has to be larger: the size that is asked for, or the place that holds it down."""
    needed = math.ceil(panel.pixels_from_arcmin(arcmin))
    if piece.widget.one(PhraseKind.SIZED) is not None or side >= round(panel.pixels_from_mm(DEFAULT_MM)):
        mend = phrase(piece.widget, PhraseKind.SIZED, f"sized {millimetres(needed, panel)}", unasked=True)
        return mend.says, mend
    if side >= piece.box.width:
        place = millimetres(needed, panel)
        return f"give it a place at least {place} wide: a wider column, or fewer pieces side by side", None
    place = millimetres(piece.box.height + needed - side, panel)
    return f"give it a place at least {place} high: a higher row, or fewer pieces below each other", None
