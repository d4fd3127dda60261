"""How a text is made larger: by the ``text`` phrase of its widget, where one sizes it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from hmic.arrange.canvas import TextFact
from hmic.model.design import Panel

MOST_TRIED = 3
"""Times the size up to which a larger one is proposed."""


def heights(fact: TextFact, panel: Panel, first: float) -> Iterator[tuple[float, int]]:
    """Sizes that a ``text`` phrase could ask for, from ``first`` arcmin on and then in whole arcmin, and the
    px that this text is high then: all of it, or smaller decimals or a unit alone. None where nothing sizes
    it."""
    if fact.sized is None:
        return
    # A limit can ask for more than the glass is high.
    tallest = panel.arcmin_from_pixels(panel.height)
    most = math.ceil(min(MOST_TRIED * first * 100 / fact.sized.share, tallest))
    for arcmin in (first, *range(math.floor(first) + 1, most)):
        yield arcmin, fact.sized.height(int(panel.pixels_from_arcmin(arcmin) + 0.5))
