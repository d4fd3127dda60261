"""All rules, in the order a builder would want to hear of them."""

from __future__ import annotations

from hmic.arrange.compose import Arranged
from hmic.check import (
    budget,
    contrast,
    dazzle,
    doubt_look,
    limits,
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

# Held against what the design says, and against what is painted.
SAID = (text_height, text_shape, text_amount, telltales, touch_targets, touches, truth, budget)
PAINTED = (contrast, dazzle, vision, doubt_look)


def check(design: Design, arranged: Arranged) -> list[Finding]:
    """Every finding of every rule."""
    found = limits.check_settings(design)
    held = limits.Limits(design)
    for family in SAID:
        found.extend(family.check(design, arranged, held))
    screens = tuple(Painted(arranged, number) for number in range(len(arranged.screens)))
    for seen in PAINTED:
        found.extend(seen.check(design, arranged, held, screens))
    return found
