"""All rules, in the order a builder would want to hear of them."""

from __future__ import annotations

from hmic.arrange.compose import Arranged
from hmic.check import (
    contrast,
    limits,
    text_amount,
    text_height,
    text_shape,
    touch_targets,
)
from hmic.diagnostics import Finding
from hmic.model.design import Design

FAMILIES = (
    text_height,
    text_shape,
    text_amount,
    contrast,
    touch_targets,
)


def check(design: Design, arranged: Arranged) -> list[Finding]:
    """Every finding of every rule."""
    found = limits.check_settings(design)
    held = limits.Limits(design)
    for family in FAMILIES:
        found.extend(family.check(design, arranged, held))
    return found
