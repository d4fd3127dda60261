"""Height of text at the eye, in minutes of arc, measured on the capitals as painted."""

from __future__ import annotations

from hmic.arrange.canvas import TextFact
from hmic.arrange.compose import Arranged
from hmic.diagnostics import Finding, Severity
from hmic.model.design import Design, Panel

LEAST = 12.0
LEAST_READING = 16.0
SOURCE = "NHTSA driver-vehicle interface guidance, as quoted at jakezukowski.com 2014"


def check(design: Design, arranged: Arranged) -> list[Finding]:
    """C401: below 12 arcmin, nobody can be expected to read it. C402: a value that the driver acts
    on below 16 arcmin, the least for time-critical text."""
    findings = []
    for screen in arranged.screens:
        smallest: dict[tuple[str, int], TextFact] = {}
        for fact in screen.texts:
            key = (fact.span.file, fact.span.line)
            if key not in smallest or fact.capital_height < smallest[key].capital_height:
                smallest[key] = fact
        for fact in smallest.values():
            findings.extend(_found(fact, screen.name, design.panel))
    return findings


def _found(fact: TextFact, screen: str, panel: Panel) -> list[Finding]:
    angle = panel.arcmin_from_pixels(fact.capital_height)
    # A text asked for in arcmin is rounded to whole pixels; half a pixel is no finding.
    slack = panel.arcmin_from_pixels(0.5)
    if angle + slack < LEAST:
        code, severity, limit, what = "C401", Severity.ERROR, LEAST, "too small to read"
    elif fact.reading and angle + slack < LEAST_READING:
        code, severity, limit, what = "C402", Severity.WARNING, LEAST_READING, "small for a value acted on"
    else:
        return []
    message = f"on screen '{screen}' the text \"{fact.text}\" is {angle:.1f} arcmin high, {what}"
    remedy = f"add text {limit:g} arcmin, or more"
    return [Finding(code, severity, message, fact.span, remedy, round(angle, 1), limit, "arcmin", SOURCE)]
