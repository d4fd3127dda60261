"""The limits of the checks: default, unit, the document behind each, and how much that is worth.

A design sets its own under ``limits:`` in design.yaml, with a reason. Beside every finding that is held
against one stands its ``Basis``: whether the figure was read in its document, or only quoted, recalled or
chosen.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from hmic.diagnostics import Basis, Finding, Severity, Span, Subject
from hmic.model.design import Design

READ, QUOTED, PRACTICE = Basis.READ, Basis.QUOTED, Basis.PRACTICE
CHOICE, MEMORY = Basis.CHOICE, Basis.MEMORY

_GUIDANCE = "NHTSA driver-vehicle interface guidance, by an article of 2014"
_ISO = "ISO 15008:2017"
_BY_FONTBAKERY = "by fontbakery issue"
_CONTRAST = "ISO 15008:2003/2009"
_LIGHT = "order of magnitude of daylight"
_GLANCES = "NHTSA guidelines 2013 (78 FR 24817), by the Road Safety Observatory"
_FHWA = "FHWA-RD-98-057 chapter 3"


@dataclass(frozen=True)
class Limit:
    """A figure that something measured is held against. ``reason`` is the builder's, where the design sets
    the figure itself: not below ``least`` and not above ``most``. A design is stricter with a higher figure
    where ``floor``, with a lower one where not; None where neither is so."""

    value: float
    unit: str
    source: str
    basis: Basis
    floor: bool | None = True
    reason: str = ""
    least: float = 0.0
    most: float = math.inf

    def finding(
        self,
        code: str,
        message: str,
        span: Span,
        remedy: str,
        measured: float | None,
        *,
        severity: Severity = Severity.WARNING,
        rests_on: tuple[Subject, ...] = (),
    ) -> Finding:
        """Something measured that is beyond it."""
        held = (measured, self.value, self.unit, self.source, self.basis)
        return Finding(code, severity, message, span, remedy, *held, rests_on=rests_on)

    def takes(self, number: float, unit: str) -> bool:
        """Whether a design may set this figure; without a unit it is in that of the default."""
        return unit in ("", self.unit) and self.least <= number <= self.most


DEFAULTS: Mapping[str, Limit] = {
    # Text
    "text floor": Limit(12, "arcmin", f"{_GUIDANCE}: absolute minimum", QUOTED),
    "text acceptable": Limit(16, "arcmin", f"{_GUIDANCE}: minimum for time-critical text", QUOTED),
    "text comfortable": Limit(20, "arcmin", f"{_GUIDANCE}: optimal", QUOTED),
    # Of the height of capitals, as the clause is called; the quoted program divides by the ascender.
    "stroke least": Limit(0.10, "of the height", f"{_ISO} 4.5.4, {_BY_FONTBAKERY} #3251", QUOTED),
    "stroke most": Limit(0.20, "of the height", f"{_ISO} 4.5.4, {_BY_FONTBAKERY} #3251", QUOTED, False),
    "figure stroke most": Limit(
        0.25, "of the height", "bold figures, which are few, large and no words", CHOICE, False
    ),
    "width least": Limit(0.65, "of the height", f"{_ISO} 4.5.3, {_BY_FONTBAKERY} #3250", QUOTED),
    "width most": Limit(0.80, "of the height", f"{_ISO} 4.5.3, {_BY_FONTBAKERY} #3250", QUOTED, False),
    "gap least": Limit(1.5, "strokes", f"{_ISO} 4.5.5, {_BY_FONTBAKERY} #3252", QUOTED),
    "line gap least": Limit(1.0, "strokes", f"{_ISO} 4.5.5, {_BY_FONTBAKERY} #3254", QUOTED),
    "text clearance": Limit(
        0.1, "of the height", "nothing nearer to a letter than a thin stroke", CHOICE, most=1
    ),
    "letters while driving": Limit(
        30, "letters", "JAMA guideline v3.0; a number with its unit counts as one", MEMORY, False
    ),
    "values while driving": Limit(9, "values", "what a few glances find their way in", CHOICE, False),
    "rows while driving": Limit(7, "rows", "rows of a list that are searched at a glance", PRACTICE, False),
    # What stands on what
    "hidden part": Limit(10, "%", "of a filled place that shows a value", CHOICE, False, most=50),
    # Pictograms
    "pictogram size": Limit(
        42, "arcmin", "Lindberg and Nasanen, Displays 24, 2003: 0.7 degrees, below which search slows", READ
    ),
    # Light
    "light at night": Limit(10, "lx", _LIGHT, MEMORY, None),
    "light at dusk": Limit(250, "lx", _LIGHT, MEMORY, None),
    "light by day": Limit(5000, "lx", _LIGHT, MEMORY, None),
    "light in sun": Limit(45000, "lx", _LIGHT, MEMORY, None),
    "panel reflectance": Limit(1, "%", "diffuse, a panel bonded to its front glass", MEMORY, None, most=100),
    "panel contrast": Limit(500, ":1", "panel in the dark", MEMORY, None, least=1),
    # Contrast
    "text contrast at night": Limit(5, ":1", _CONTRAST, MEMORY),
    "text contrast at dusk": Limit(5, ":1", _CONTRAST, MEMORY),
    "text contrast by day": Limit(3, ":1", _CONTRAST, MEMORY),
    "text contrast in sun": Limit(2, ":1", _CONTRAST, MEMORY),
    "symbol contrast at night": Limit(3, ":1", f"{_FHWA}: minimum", READ),
    "symbol contrast at dusk": Limit(3, ":1", f"{_FHWA}: minimum", READ),
    "symbol contrast by day": Limit(3, ":1", f"{_FHWA}: minimum", READ),
    "symbol contrast in sun": Limit(2, ":1", f"{_CONTRAST}, of text", MEMORY),
    "area contrast": Limit(1.5, ":1", "large areas beside each other", CHOICE),
    "night peak": Limit(60, "cd/m2", "brightest place of a screen at night", CHOICE, False),
    "night mean": Limit(8, "cd/m2", "whole screen at night", CHOICE, False),
    # Colour
    "colour distance": Limit(8, "CIEDE2000", "two states as simulated eyes see them, veil and all", CHOICE),
    "colour distance in sun": Limit(4, "CIEDE2000", "the same, four times what is just seen", CHOICE),
    "doubt distance": Limit(10, "CIEDE2000", "live look to doubt look", CHOICE),
    "ramp evenness": Limit(0.5, "of the mean rise", "least rise of lightness in a ramp", CHOICE),
    "colours at once": Limit(4, "colours", "FAA HF-STD-001 8.6.2.7.3: on one display", READ, False),
    "lamps of one cause": Limit(2, "lamps", "that tell of one fault on a screen", CHOICE, False),
    "flashing at once": Limit(3, "lamps", "flashing draws the eye to one thing", CHOICE, False),
    # Touch
    "touch size": Limit(10, "mm", "minimum 10 x 10 mm, by a touch guideline on the web", QUOTED),
    "touch size in gloves": Limit(19, "mm", "MIL-STD-1472E 5.4.3.1.3.3: keys with arctic mittens", READ),
    "touch gap": Limit(1, "mm", "between the edges of two targets", CHOICE),
    "touch edge": Limit(1, "mm", "a rim around the glass", CHOICE),
    "touches to an act": Limit(6, "touches", "how deep a control may lie", CHOICE, False),
    # Time and glare
    "glance while driving": Limit(2, "s", f"{_GLANCES}: one look away from the road", QUOTED, False),
    "task while driving": Limit(12, "s", f"{_GLANCES}: all looks of one act", QUOTED, False),
    "angle to the road": Limit(20, "deg", "from the screen, at the eye", CHOICE, None, least=1, most=30),
    "age of the driver": Limit(60, "years", "goes into glare", CHOICE, None, least=18, most=100),
    # Truth
    "stale of speed": Limit(1000, "ms", "a speed as old as this has changed", CHOICE, False),
    "stale of high voltage": Limit(1000, "ms", "a voltage as old as this may be another", CHOICE, False),
    "high voltage": Limit(60, "V", "direct voltage, UN R100", MEMORY, None),
    "scale used": Limit(0.2, "of the scale", "less of a scale shows no change", CHOICE),
    "warning seen": Limit(
        2, "s", "NHTSA guidelines 2013: the eyes are on the road between glances of up to 2 s", READ
    ),
    "glyph distance": Limit(0.22, "of their ink", "letters that differ by less are mistaken", CHOICE),
}


SHOWN_WITHIN = {0: 200, 1: 300}
USUALLY_WITHIN, TEXT_WITHIN = 1000, 2000
"""Milliseconds until a value is shown where no ``shown within`` says more: by urgency (danger; caution and
touches), for all else, and for text that is written letter by letter (common practice, no source)."""


class Limits:
    """The limits of one design: the defaults, with what the design sets itself."""

    def __init__(self, design: Design) -> None:
        self._limits = dict(DEFAULTS)
        panel = design.panel
        if panel.reflectance is not None:
            self._limits["panel reflectance"] = Limit(
                panel.reflectance * 100, "%", "design.yaml, panel", Basis.DESIGN, None
            )
        if panel.native_contrast is not None:
            self._limits["panel contrast"] = Limit(
                panel.native_contrast, ":1", "design.yaml, panel", Basis.DESIGN, None
            )
        for name, setting in design.limits.items():
            default = DEFAULTS.get(name)
            if default is not None and default.takes(setting.number, setting.unit):
                source = f"this design: {setting.because}"
                self._limits[name] = Limit(
                    setting.number, default.unit, source, Basis.DESIGN, default.floor, setting.because
                )

    def __getitem__(self, name: str) -> Limit:
        return self._limits[name]

    def all(self) -> Mapping[str, Limit]:
        """Every limit by name, in the order of ``DEFAULTS``."""
        return self._limits
