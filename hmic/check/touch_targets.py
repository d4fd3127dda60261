"""Size, distance and place of touch targets on the glass."""

from __future__ import annotations

from itertools import combinations

from hmic.arrange.canvas import TouchFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.limits import Limit, Limits
from hmic.diagnostics import Finding, Severity, Span
from hmic.model.design import Design, Panel
from hmic.paint.operations import Box


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C410: a target smaller than a bare finger hits. C411: two closer than a finger's slip, C417:
    two that overlap. C412: one at the rim, where the edge around the glass keeps fingers off."""
    findings = []
    for screen in arranged.screens:
        for fact in screen.touches:
            findings.extend(_size(fact, screen, design.panel, limits))
            findings.extend(_edge(fact, screen, design.panel, limits))
        findings.extend(_apart(screen, design.panel, limits))
    return findings


def narrowest(fact: TouchFact, panel: Panel) -> float:
    """The shorter side in mm."""
    return round(min(fact.box.width, fact.box.height) * panel.pitch, 1)


def gap(one: Box, other: Box) -> int:
    """Clear pixels between two boxes, below 0 where they overlap: by how much."""
    across = max(one.left, other.left) - min(one.left + one.width, other.left + other.width)
    down = max(one.top, other.top) - min(one.top + one.height, other.top + other.height)
    return max(across, down)


def _size(fact: TouchFact, screen: ArrangedScreen, panel: Panel, limits: Limits) -> list[Finding]:
    side, limit = narrowest(fact, panel), limits["touch size"]
    if side >= limit.value:
        return []
    message = f"a touch target of screen '{screen.name}' is {side:g} mm at its narrowest"
    remedy = f"give its row or column at least {limit.value:g} mm in the plan"
    return [_warning("C410", message, fact.span, remedy, side, limit)]


def _edge(fact: TouchFact, screen: ArrangedScreen, panel: Panel, limits: Limits) -> list[Finding]:
    box, limit = fact.box, limits["touch edge"]
    edge = min(box.left, box.top, panel.width - box.left - box.width, panel.height - box.top - box.height)
    if edge * panel.pitch >= limit.value or narrowest(fact, panel) >= 2 * limits["touch size"].value:
        return []
    message = f"a touch target of screen '{screen.name}' ends {edge * panel.pitch:.1f} mm from the rim"
    remedy = f"leave a margin: `margin {limit.value:g} mm` in the plan"
    return [_warning("C412", message, fact.span, remedy, round(edge * panel.pitch, 1), limit)]


def _apart(screen: ArrangedScreen, panel: Panel, limits: Limits) -> list[Finding]:
    limit = limits["touch gap"]
    findings = []
    for one, other in combinations(screen.touches, 2):
        between = gap(one.box, other.box)
        # A gap is painted in whole pixels: half a pixel less than was asked for is no finding.
        if between >= limit.value / panel.pitch - 0.5 - 1e-9:
            continue
        code, what = ("C417", "overlap") if between < 0 else ("C411", "stand close together")
        message = f"two touch targets of screen '{screen.name}' {what}"
        remedy = "give each its own area in the plan, with a gap between"
        measured = round(between * panel.pitch, 1)
        findings.append(_warning(code, message, other.span, remedy, measured, limit))
    return findings


def _warning(code: str, message: str, span: Span, remedy: str, measured: float, limit: Limit) -> Finding:
    return Finding(
        code, Severity.WARNING, message, span, remedy, measured, limit.value, limit.unit, limit.source
    )
