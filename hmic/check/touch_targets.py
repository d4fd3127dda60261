"""Size, distance and place of touch targets on the glass."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from hmic.arrange.canvas import TouchFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.diagnostics import Finding, Span
from hmic.model.design import Design, Panel
from hmic.model.limits import Limit, Limits
from hmic.number_text import at_least, measured_and_limit
from hmic.paint.operations import Box


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C410: a target smaller than a bare finger hits. C411: two closer than a finger's slip, C417:
    two that overlap. C412: one at the rim, where the edge around the glass keeps fingers off."""
    findings: list[Finding] = []
    for screen in arranged.screens:
        findings.extend(_sizes(screen, design.panel, limits))
        for fact in screen.touches:
            findings.extend(_edge(fact, screen, design.panel, limits))
        findings.extend(_apart(screen, design.panel, limits))
    return findings


def narrowest(fact: TouchFact, panel: Panel) -> float:
    """The shorter side in mm."""
    return min(fact.box.width * panel.pitch_across, fact.box.height * panel.pitch)


def gap(one: Box, other: Box) -> int:
    """Clear pixels between two boxes, below 0 where they overlap: by how much."""
    across = max(one.left, other.left) - min(one.left + one.width, other.left + other.width)
    down = max(one.top, other.top) - min(one.top + one.height, other.top + other.height)
    return max(across, down)


def _sizes(screen: ArrangedScreen, panel: Panel, limits: Limits) -> Iterator[Finding]:
    """C410 of each sentence once, at the smallest of its targets."""
    limit = limits["touch size"]
    small: dict[Span, list[TouchFact]] = {}
    for fact in screen.touches:
        if not _reaches(narrowest(fact, panel), limit, panel):
            small.setdefault(fact.span, []).append(fact)
    for span, facts in small.items():
        worst = min(facts, key=lambda fact: narrowest(fact, panel))
        side = narrowest(worst, panel)
        shown, _ = measured_and_limit(side, limit.value)
        message = f"a touch target of screen '{screen.name}' is {shown} mm at its narrowest"
        remedy = f"give its row or column at least {at_least(limit.value)} mm in the plan"
        if len(facts) > 1:
            low = worst.box.height < worst.box.width
            way = "higher" if low else "wider"
            count = len({fact.box.top if low else fact.box.left for fact in facts})
            larger = at_least(count * (limit.value - side))
            remedy = f"make the place of all {len(facts)} of them {larger} mm {way}"
            if count > 1:
                remedy += ", or have fewer"
        yield limit.finding("C410", message, span, remedy, side)


def _edge(fact: TouchFact, screen: ArrangedScreen, panel: Panel, limits: Limits) -> list[Finding]:
    box, limit = fact.box, limits["touch edge"]
    if panel.round:
        return _round_edge(fact, screen, panel, limits)
    across = min(box.left, panel.width - box.left - box.width) * panel.pitch_across
    edge = min(across, min(box.top, panel.height - box.top - box.height) * panel.pitch)
    if _reaches(edge, limit, panel) or narrowest(fact, panel) >= 2 * limits["touch size"].value:
        return []
    shown, _ = measured_and_limit(edge, limit.value)
    message = f"a touch target of screen '{screen.name}' ends {shown} mm from the rim"
    remedy = f"leave a margin: `margin {at_least(limit.value)} mm` in the plan"
    return [limit.finding("C412", message, fact.span, remedy, edge)]


def _round_edge(fact: TouchFact, screen: ArrangedScreen, panel: Panel, limits: Limits) -> list[Finding]:
    """Of a large target its middle is enough: of what a finger does not see there, ``round_glass`` tells."""
    box, limit = fact.box, limits["touch edge"]
    most = round(panel.pixels_from_mm(2 * limits["touch size"].value))
    left, right = _middle(box.left, box.width, most)
    top, bottom = _middle(box.top, box.height, most)
    edge = -max(panel.beyond(x, y) for x in (left, right) for y in (top, bottom))
    if _reaches(edge, limit, panel):
        return []
    shown, _ = measured_and_limit(abs(edge), limit.value)
    where = f"ends {shown} mm from" if edge >= 0 else f"reaches {shown} mm beyond"
    message = f"a touch target of screen '{screen.name}' {where} the round rim"
    remedy = "move it towards the middle, or make it smaller"
    return [limit.finding("C412", message, fact.span, remedy, edge)]


def _middle(start: int, size: int, most: int) -> tuple[float, float]:
    """Both ends of at most so much in the middle of a side."""
    half = min(size, most) / 2
    return start + size / 2 - half, start + size / 2 + half


def _apart(screen: ArrangedScreen, panel: Panel, limits: Limits) -> list[Finding]:
    limit = limits["touch gap"]
    findings = []
    for one, other in combinations(screen.touches, 2):
        between = gap(one.box, other.box) * panel.pitch
        if _reaches(between, limit, panel):
            continue
        code, what = ("C417", "overlap") if between < 0 else ("C411", "stand close together")
        message = f"two touch targets of screen '{screen.name}' {what}"
        remedy = "give each its own area in the plan, with a gap between"
        findings.append(limit.finding(code, message, other.span, remedy, between))
    return findings


def _reaches(length: float, limit: Limit, panel: Panel) -> bool:
    """Whether a length in mm holds a limit. Places are painted in whole pixels: half a pixel less than was
    asked for is no finding."""
    return length / panel.pitch >= limit.value / panel.pitch - 0.5 - 1e-9
