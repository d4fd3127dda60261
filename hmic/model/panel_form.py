"""A panel in one word: its pixels, and the size of its lit area."""

from __future__ import annotations

import re
from dataclasses import dataclass

PANEL_SLACK = 0.03
"""Part by which two sizes of one panel may differ: data sheets round."""


@dataclass(frozen=True)
class PanelForm:
    """The glass: pixels and mm across and down, and whether only the circle within it is seen."""

    width: int
    height: int
    wide: float
    tall: float
    round: bool = False


def panel_of(text: str) -> PanelForm | None:
    """``800x480@154x86mm`` or ``480x480@53x53mm round``; None for anything else."""
    form = r"(\d{2,4})x(\d{2,4})@(\d{1,4}(?:\.\d+)?)x(\d{1,4}(?:\.\d+)?)\s?mm(\s+round)?"
    found = re.fullmatch(form, text.strip())
    if found is None:
        return None
    return PanelForm(int(found[1]), int(found[2]), float(found[3]), float(found[4]), found[5] is not None)
