"""Size of touch targets on the glass."""

from __future__ import annotations

from hmic.arrange.compose import Arranged
from hmic.diagnostics import Finding, Severity
from hmic.model.design import Design

LEAST_MM = 10.0
SOURCE = "4ourth general touch guideline (4ourth.com), minimum touch area 10 x 10 mm"


def check(design: Design, arranged: Arranged) -> list[Finding]:
    """C410: a target smaller than a bare finger hits."""
    findings = []
    pitch = design.panel.pitch
    for screen in arranged.screens:
        for fact in screen.touches:
            side = round(min(fact.box.width, fact.box.height) * pitch, 1)
            if side < LEAST_MM:
                message = f"a touch target of screen '{screen.name}' is {side:g} mm at its narrowest"
                remedy = "give its row or column at least 10 mm in the plan"
                findings.append(
                    Finding(
                        "C410", Severity.WARNING, message, fact.span, remedy, side, LEAST_MM, "mm", SOURCE
                    )
                )
    return findings
