"""What reaches the eye: a photometric model of the panel and of the light that falls on it.

A pixel's luminance is that of the panel, between its black and its white by the sRGB transfer of
its colour (IEC 61966-2-1), and a veil of the light that the glass sends back diffusely, Lambert's
law: ``L = black + (white - black) * Y + reflectance * E / pi`` in cd/m2, with Y the relative
luminance 0 to 1 and E the illuminance of the glass in lx. Mirror images are not in the model. White
is the theme's ``luminance``, black is white by the panel's contrast in the dark.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from hmic.check.colour import Colour, encoded, linear, relative_luminance
from hmic.check.shown_themes import at_night, reached, turned
from hmic.model.design import Design, ThemeDefinition
from hmic.model.limits import Limits

Condition = StrEnum("Condition", "NIGHT DUSK DAY SUN")
PHRASES = {
    Condition.NIGHT: "at night", Condition.DUSK: "at dusk", Condition.DAY: "by day", Condition.SUN: "in sun"
}  # fmt: skip

_relative = lru_cache(maxsize=4096)(relative_luminance)


@dataclass(frozen=True)
class Light:
    """A theme under a condition: the panel's black and white without veil, and the veil, in cd/m2."""

    theme: str
    condition: Condition
    black: float
    white: float
    veil: float

    def luminance(self, colour: Colour) -> float:
        """Of a pixel, veil and all, in cd/m2."""
        return self.black + (self.white - self.black) * _relative(colour) + self.veil

    def ratio(self, one: Colour, other: Colour) -> float:
        """Luminance of the lighter to that of the darker."""
        first, second = self.luminance(one), self.luminance(other)
        return first / second if first >= second else second / first

    def seen(self, colour: Colour) -> Colour:
        """The colour with the veil upon it, to an eye for which the screen's white with its veil is white."""
        white = self.white + self.veil
        red, green, blue = (
            encoded((self.black + (self.white - self.black) * linear(code) + self.veil) / white)
            for code in colour
        )
        return (red, green, blue)


def light(theme: ThemeDefinition, condition: Condition, limits: Limits) -> Light:
    """The panel in a theme under a condition."""
    lux = limits[f"light {PHRASES[condition]}"].value
    veil = limits["panel reflectance"].value / 100 * lux / math.pi
    return Light(
        theme.name, condition, theme.luminance / limits["panel contrast"].value, theme.luminance, veil
    )


def lights(design: Design, limits: Limits) -> dict[str, tuple[Light, ...]]:
    """For each theme the conditions that it is for.

    What is shown at night is for night and dusk, the brightest theme for day and sun, others for dusk and
    day; a theme that is all that a run shows is for all. One that only ``--theme`` shows, or of
    which it is not known or turned round when it is shown, is for what its brightness suits.
    """
    order = sorted(design.themes, key=lambda theme: theme.luminance)
    shown, night = reached(design), at_night(design)
    if turned(design):
        shown = night = frozenset()
    found = {}
    for number, theme in enumerate(design.themes):
        if number in shown:
            dark, alone = number in night, shown == {number}
        else:
            dark, alone = theme is order[0], False
        names = {Condition.DUSK, Condition.NIGHT if dark else Condition.DAY}
        if not dark and theme is order[-1]:
            names = {Condition.DAY, Condition.SUN}
        if alone or (dark and theme is order[-1]):
            names = set(Condition)
        found[theme.name] = tuple(light(theme, name, limits) for name in Condition if name in names)
    return found
