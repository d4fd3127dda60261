"""Verdicts that hang on a guess: how much light the glass sends back, where the design does not say."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.check.contrast import REFLECTANCE, measures, turns_at
from hmic.check.light import PHRASES
from hmic.check.painted import Painted
from hmic.diagnostics import Basis, Unjudged
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.number_text import at_most, number


def left_to_measure(design: Design, limits: Limits, screens: Sequence[Painted]) -> list[Unjudged]:
    """Up to which reflectance of the glass all stands out that does so by the one that is assumed."""
    assumed = limits[REFLECTANCE]
    if assumed.basis is Basis.DESIGN:
        return []
    passed = [
        (turn, measure)
        for painted in screens
        for measure in measures(design, limits, painted)
        if measure.ratio >= limits[measure.limit].value and (turn := turns_at(measure, limits)) is not None
    ]
    if not passed:
        return []
    turn, measure = min(passed, key=lambda each: each[0])
    question = (
        f"how much light does your glass send back: {number(assumed.value)} % is assumed, and above "
        f"{at_most(turn, 3)} % the first contrast is too low, {PHRASES[measure.light.condition]}"
    )
    return [Unjudged(question, (measure.screen,))]
