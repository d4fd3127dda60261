"""All rules, in the order a builder would want to hear of them."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.arrange.compose import Arranged
from hmic.beside import beside
from hmic.check import (
    budget,
    contrast,
    dazzle,
    doubt_look,
    limits,
    pictogram_size,
    scales,
    telltales,
    text_amount,
    text_height,
    text_shape,
    touch_targets,
    touches,
    truth,
    vision,
)
from hmic.check.painted import Painted
from hmic.diagnostics import Finding
from hmic.model.design import Design

# Held against what the design says, and against what is painted: each screen by itself, and all.
SAID = (
    text_height,
    text_shape,
    text_amount,
    telltales,
    pictogram_size,
    touch_targets,
    touches,
    truth,
    scales,
    budget,
)
BY_SCREEN = (contrast, doubt_look)
PAINTED = (dazzle, vision)

# Operations of a design from which a second core saves more than it takes to start.
MANY = 200


def check(design: Design, arranged: Arranged) -> list[Finding]:
    """Every finding of every rule."""
    found = limits.check_settings(design)
    held = limits.Limits(design)
    screens = tuple(Painted(arranged, number) for number in range(len(arranged.screens)))

    def by_screen(some: Sequence[Painted]) -> list[list[Finding]]:
        return [family.check(design, arranged, held, some) for family in BY_SCREEN]

    middle = _middle(screens)
    rest = beside(lambda: by_screen(screens[middle:])) if middle < len(screens) else lambda: [[], []]
    for family in SAID:
        found.extend(family.check(design, arranged, held))
    for seen in PAINTED:
        found.extend(seen.check(design, arranged, held, screens))
    for one, other in zip(by_screen(screens[:middle]), rest(), strict=True):
        found.extend([*one, *other])
    return found


def _middle(screens: Sequence[Painted]) -> int:
    """The first screen that another core looks at: a little less than half of the work, since the
    other rules are looked at here."""
    sizes = [len(screen.operations) for screen in screens]
    if sum(sizes) < MANY:
        return len(screens)
    return next((at for at in range(len(sizes)) if sum(sizes[at:]) <= sum(sizes) * 0.55), len(screens))
