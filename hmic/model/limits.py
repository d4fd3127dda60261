"""The limits of the checks: default, unit and the published figure behind each.

A design sets its own under ``limits:`` in design.yaml, with a reason. ``memory`` marks a figure that
was recalled, not read: it is said beside every finding that is held against it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from hmic.diagnostics import Finding, Severity, Span, Subject
from hmic.model.design import Design

MEMORY = "from memory, confirm before relying on it"
PRACTICE = "common practice, no source"

_GUIDANCE = "NHTSA driver-vehicle interface guidance, quoted at second hand (2014)"
_ISO = "ISO 15008:2017"
_BY_FONTBAKERY = "as quoted in fontbakery issue"
_DRAFT = "NHTSA 2012 draft guidelines (77 FR 11200), quoted at second hand (2012)"
_FHWA = "FHWA-RD-98-057 chapter 3"
_CONTRAST = f"ISO 15008:2003/2009, {MEMORY}"
_LIGHT = f"order of magnitude of daylight, {MEMORY}"


@dataclass(frozen=True)
class Limit:
    """A figure that something measured is held against. ``reason`` is the builder's, where the design sets
    the figure itself: not below ``least`` and not above ``most``."""

    value: float
    unit: str
    source: str
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
        held = (measured, self.value, self.unit, self.source)
        return Finding(code, severity, message, span, remedy, *held, rests_on=rests_on)

    def takes(self, number: float, unit: str) -> bool:
        """Whether a design may set this figure; without a unit it is in that of the default."""
        return unit in ("", self.unit) and self.least <= number <= self.most


DEFAULTS: Mapping[str, Limit] = {
    # Text
    "text floor": Limit(12, "arcmin", f"{_GUIDANCE}: absolute minimum"),
    "text acceptable": Limit(16, "arcmin", f"{_GUIDANCE}: minimum for time-critical text"),
    "text comfortable": Limit(20, "arcmin", f"{_GUIDANCE}: optimal"),
    "stroke least": Limit(0.10, "of the height", f"{_ISO} 4.5.4, {_BY_FONTBAKERY} #3251"),
    "stroke most": Limit(0.20, "of the height", f"{_ISO} 4.5.4, {_BY_FONTBAKERY} #3251"),
    "width least": Limit(0.65, "of the height", f"{_ISO} 4.5.3, {_BY_FONTBAKERY} #3250"),
    "width most": Limit(0.80, "of the height", f"{_ISO} 4.5.3, {_BY_FONTBAKERY} #3250"),
    "gap least": Limit(1.5, "strokes", f"{_ISO} 4.5.5, {_BY_FONTBAKERY} #3252"),
    "line gap least": Limit(1.0, "strokes", f"{_ISO} 4.5.5, {_BY_FONTBAKERY} #3254"),
    "text clearance": Limit(
        0.1, "of the height", f"nothing nearer to a letter than a thin stroke, {PRACTICE}", most=1
    ),
    "letters while driving": Limit(
        30, "letters", f"{_DRAFT}; number and unit counted as one as in JAMA v3.0, {MEMORY}"
    ),
    "rows while driving": Limit(7, "rows", PRACTICE),
    # Pictograms
    "pictogram size": Limit(40, "arcmin", f"twice the comfortable height of text, {PRACTICE}"),
    # Light
    "light at night": Limit(10, "lx", _LIGHT),
    "light at dusk": Limit(250, "lx", _LIGHT),
    "light by day": Limit(5000, "lx", _LIGHT),
    "light in sun": Limit(45000, "lx", _LIGHT),
    "panel reflectance": Limit(1, "%", f"diffuse, a panel bonded to its front glass, {MEMORY}", most=100),
    "panel contrast": Limit(500, ":1", f"panel in the dark, {MEMORY}", least=1),
    # Contrast
    "text contrast at night": Limit(5, ":1", _CONTRAST),
    "text contrast at dusk": Limit(5, ":1", _CONTRAST),
    "text contrast by day": Limit(3, ":1", _CONTRAST),
    "text contrast in sun": Limit(2, ":1", _CONTRAST),
    "symbol contrast at night": Limit(3, ":1", f"{_FHWA}: minimum"),
    "symbol contrast at dusk": Limit(3, ":1", f"{_FHWA}: minimum"),
    "symbol contrast by day": Limit(3, ":1", f"{_FHWA}: minimum"),
    "symbol contrast in sun": Limit(2, ":1", _CONTRAST),
    "area contrast": Limit(1.5, ":1", f"large areas beside each other, {PRACTICE}"),
    "night peak": Limit(60, "cd/m2", f"brightest place of a screen at night, {PRACTICE}"),
    "night mean": Limit(8, "cd/m2", f"whole screen at night, {PRACTICE}"),
    # Colour
    "colour distance": Limit(10, "CIEDE2000", f"in simulated vision (Machado 2009), {PRACTICE}"),
    "doubt distance": Limit(10, "CIEDE2000", f"live look to doubt look, {PRACTICE}"),
    "ramp evenness": Limit(0.5, "of the mean rise", f"least rise of lightness in a ramp, {PRACTICE}"),
    # Touch
    "touch size": Limit(10, "mm", "general touch guideline, quoted at second hand: minimum 10 x 10 mm"),
    "touch size in gloves": Limit(19, "mm", "MIL-STD-1472E 5.4.3.1.3.3: keys with arctic mittens"),
    "touch gap": Limit(1, "mm", PRACTICE),
    "touch edge": Limit(1, "mm", f"a rim around the glass, {PRACTICE}"),
    "touches to an act": Limit(6, "touches", f"{_DRAFT}: key presses"),
    # Truth
    "stale of speed": Limit(1000, "ms", PRACTICE),
    "stale of high voltage": Limit(1000, "ms", PRACTICE),
    "high voltage": Limit(60, "V", f"direct voltage, UN R100, {MEMORY}"),
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
            self._limits["panel reflectance"] = Limit(panel.reflectance * 100, "%", "design.yaml, panel")
        if panel.native_contrast is not None:
            self._limits["panel contrast"] = Limit(panel.native_contrast, ":1", "design.yaml, panel")
        for name, setting in design.limits.items():
            default = DEFAULTS.get(name)
            if default is not None and default.takes(setting.number, setting.unit):
                source = f"this design: {setting.because}"
                self._limits[name] = Limit(setting.number, default.unit, source, setting.because)

    def __getitem__(self, name: str) -> Limit:
        return self._limits[name]

    def all(self) -> Mapping[str, Limit]:
        """Every limit by name, in the order of ``DEFAULTS``."""
        return self._limits
