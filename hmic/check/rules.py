"""All rules, in the order a builder would want to hear of them."""

from __future__ import annotations

from hmic.arrange.compose import Arranged
from hmic.check import text_height, touch_targets
from hmic.diagnostics import Finding
from hmic.model.design import Design

FAMILIES = (text_height, touch_targets)


def check(design: Design, arranged: Arranged) -> list[Finding]:
    """Every finding of every rule."""
    return [finding for family in FAMILIES for finding in family.check(design, arranged)]
