"""What is told when something is larger than its place: how much, what makes it so, and what helps."""

from __future__ import annotations

import math
from typing import NamedTuple

from hmic.arrange import lengths
from hmic.diagnostics import Finding, Span, error
from hmic.model.design import GLASS, Design, Panel
from hmic.model.limits import DEFAULTS, Limits

ACCEPTABLE = "text acceptable"
"""The limit below which no remedy asks for smaller text."""


class Need(NamedTuple):
    """Something that needs ``needed`` px where ``there`` are.

    ``letters`` is the capital height in px where a ``text`` phrase sets it, ``fixed`` what is needed
    beside the text and does not grow with it. ``least`` says that it can never be smaller, ``why``
    what the size comes from. ``ways`` help, best first; ``shorter`` is one more. A place has to grow
    ``share`` px for each that is lacking.
    """

    needed: int
    there: int
    height: bool
    letters: int | None = None
    fixed: int = 0
    least: bool = False
    why: str = ""
    ways: tuple[str, ...] = ()
    shorter: str = ""
    share: int = 1


def misfit(need: Need, what: str, span: Span, design: Design) -> Finding:
    """A350 (width) or A351 (height), naming both lengths."""
    panel = design.panel
    way, code = ("high", "A351") if need.height else ("wide", "A350")
    needed, there, whole = (
        lengths.described(length, panel, not need.height)
        for length in (need.needed, max(need.there, 0), _side(need, panel))
    )
    message = f"{what} {'is at least' if need.least else 'may be'} {needed} {way}, its place is {there} {way}"
    if need.why:
        message += f": {need.why}"
    smaller, too_small = _smaller_text(need, design)
    ways = [*smaller, *need.ways, *([need.shorter] if need.shorter else []), *_larger_place(need, panel)]
    if not ways:
        ways = [f"leave it out: the whole panel is {whole} {way}"]
    remedy = f"{', '.join(ways[:-1])}, or {ways[-1]}" if len(ways) > 2 else ", or ".join(ways)
    return Finding(
        code,
        error(code, "").severity,
        message,
        span,
        remedy + too_small,
        float(need.needed),
        float(max(need.there, 0)),
        "px",
        rests_on=GLASS,
    )


def millimetres(pixels: int, panel: Panel, across: bool = False) -> str:
    """A length down, or ``across``, rounded up to a tenth of a millimetre."""
    return f"{math.ceil(pixels * (panel.pitch_across if across else panel.pitch) * 10 - 1e-6) / 10:g} mm"


def sized_to(there: int, panel: Panel) -> tuple[str, ...]:
    """The way to a pictogram of at most ``there`` px, if one so small can be told."""
    most = math.floor(there * panel.pitch * 10 + 1e-6) / 10
    enough = panel.arcmin_from_pixels(there) >= DEFAULTS["pictogram size"].value
    return (f"write sized {most:g} mm",) if enough else ()


def _side(need: Need, panel: Panel) -> int:
    return panel.height if need.height else panel.width


def _larger_place(need: Need, panel: Panel) -> list[str]:
    """The way by a larger place, unless the panel has none."""
    lacking = (need.needed - need.there) * need.share
    if max(need.there, 0) * need.share + lacking > _side(need, panel):
        return []
    more = millimetres(lacking, panel, not need.height)
    return [f"make its place {more} {'higher' if need.height else 'wider'}"]


def _smaller_text(need: Need, design: Design) -> tuple[list[str], str]:
    """The way by smaller text, or why there is none."""
    there, needed = need.there - need.fixed, need.needed - need.fixed
    if need.letters is None or needed <= max(there, 0):
        return [], ""
    least = Limits(design)[ACCEPTABLE].value
    # Letters are whole pixels and their advances are rounded: one pixel less is on the safe side.
    fitting = need.letters * max(there, 0) / needed - 1
    arcmin = max(0, math.floor(design.panel.arcmin_from_pixels(fitting)))
    if arcmin >= least:
        return [f"write text {arcmin} arcmin"], ""
    return [], f"; smaller text is no way out, {least:g} arcmin is the least (limit '{ACCEPTABLE}')"
