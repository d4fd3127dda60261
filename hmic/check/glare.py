"""Disability glare: the veil that the lit screen at night draws over the road, in the driver's own eyes.

CIE 146:2002, the age-adjusted Stiles-Holladay equation, as Vos prints it (Clinical and Experimental Optometry
86, 2003, abstract): ``veil = 10 * (1 + (age / 70)^4) * E / angle^2`` in cd/m2, for 1 to 30 degrees between
the line of sight and what dazzles, and E in lx at the eye. No document that we know says how much a display
may veil the road: it is told and compared, and held against nothing.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from hmic.arrange.compose import Arranged
from hmic.check.dazzle import mean_luminance
from hmic.check.light import Condition, light
from hmic.check.shown_themes import at_night
from hmic.model.design import Design, Panel
from hmic.model.limits import Limits

ANGLE, AGE = "angle to the road", "age of the driver"


class Veil(NamedTuple):
    """A veil in cd/m2, and the screen and theme that draw it."""

    amount: float
    screen: str
    theme: str


def veil(lux: float, degrees: float, years: float) -> float:
    """The veiling luminance in cd/m2 of ``lux`` at the eye."""
    return 10 * (1 + (years / 70) ** 4) * lux / degrees**2


def at_the_eye(luminance: float, panel: Panel, degrees: float) -> float:
    """Lux at an eye that looks past a panel turned to it: luminance times solid angle, by the cosine of the
    angle to the line of sight."""
    area = panel.width_mm * panel.height_mm * (math.pi / 4 if panel.round else 1.0)
    return luminance * area / panel.eye_distance**2 * math.cos(math.radians(degrees))


def night_veil(design: Design, arranged: Arranged, limits: Limits) -> Veil | None:
    """The densest veil of all screens in the themes that are shown at night; None where none is."""
    found = []
    degrees = limits[ANGLE].value
    for number in sorted(at_night(design)):
        theme = design.themes[number]
        night = light(theme, Condition.NIGHT, limits)
        for place, screen in enumerate(arranged.screens):
            luminance = mean_luminance(arranged, place, number, night)
            lux = at_the_eye(luminance, design.panel, degrees)
            found.append(Veil(veil(lux, degrees, limits[AGE].value), screen.name, theme.name))
    return max(found, default=None)
