"""Height of text at the eye, in minutes of arc, measured on the capitals as painted."""

from __future__ import annotations

from dataclasses import replace

from hmic.arrange.canvas import TextFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.edits import phrase, widget_at
from hmic.check.sized_text import heights
from hmic.diagnostics import Finding, Severity, mended_by
from hmic.language.syntax import PhraseKind, Widget
from hmic.model.design import START, Design, Panel
from hmic.model.limits import Limits
from hmic.number_text import MEASURED, at_least, at_most, measured_and_limit
from hmic.paint.fonts import Sized


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C401: below 12 arcmin, nobody can be expected to read it. C402: a value that the driver acts
    on below 16 arcmin, the least for time-critical text. C403: a value on the first screen below
    20 arcmin, the comfortable height."""
    findings = []
    for screen in arranged.screens:
        smallest: dict[tuple[str, int, bool], TextFact] = {}
        for fact in screen.texts:
            key = (fact.span.file, fact.span.line, fact.reading)
            if key not in smallest or fact.capital_height < smallest[key].capital_height:
                smallest[key] = fact
        first = screen.name == design.start
        for fact in smallest.values():
            findings.extend(_found(fact, screen, first, design.panel, limits))
    return findings


def angle(fact: TextFact, panel: Panel) -> float:
    """The text's capital height in arcmin."""
    return panel.arcmin_from_pixels(fact.capital_height)


def _found(
    fact: TextFact, screen: ArrangedScreen, first: bool, panel: Panel, limits: Limits
) -> list[Finding]:
    measured = angle(fact, panel)
    # A text asked for in arcmin is rounded to whole pixels; half a pixel is no finding.
    seen = measured + panel.arcmin_from_pixels(0.5)
    if seen < limits["text floor"].value:
        code, severity, name, what = "C401", Severity.ERROR, "text floor", "too small to read"
    elif fact.reading and seen < limits["text acceptable"].value:
        code, severity = "C402", Severity.WARNING
        name, what = "text acceptable", "small for a value acted on"
    elif fact.reading and first and seen < limits["text comfortable"].value:
        code, severity = "C403", Severity.NOTE
        name, what = "text comfortable", "below the comfortable height for a screen read on the road"
    else:
        return []
    limit = limits[name]
    shown, _ = measured_and_limit(measured, limit.value)
    small = fact.figures and fact.sized is not None and fact.sized != Sized()
    which = f'the decimals of "{fact.text}" are' if small else f'the text "{fact.text}" is'
    message = f"on screen '{screen.name}' {which} {shown} arcmin high, {what}"
    needed = [
        "text floor",
        *["text acceptable"] * fact.reading,
        *["text comfortable"] * (fact.reading and first),
    ]
    rests = (START,) if code == "C403" else ()
    found = limit.finding(code, message, fact.span, "", measured, severity=severity, rests_on=rests)
    widget = widget_at(fact.span, screen)
    least = max(limits[each].value for each in needed)
    for arcmin, height in heights(fact, panel, least):
        if panel.arcmin_from_pixels(height + 0.5) >= least:
            larger = f"text {at_least(arcmin)} arcmin"
            mend = None if widget is None else phrase(widget, PhraseKind.TEXT, larger, unasked=True)
            more = ", or more, or leave out `decimals small`" if small else ", or more"
            return [mended_by(replace(found, remedy=f"write {larger}{more}"), mend, more)]
    return [replace(found, remedy=_unsized(fact, widget, name, at_most(seen, MEASURED)))]


def _unsized(fact: TextFact, widget: Widget | None, limit: str, kept: str) -> str:
    """What to do about a text that no phrase sizes."""
    called = widget.one(PhraseKind.CALLED) if widget is not None else None
    instead = "say it in a label, which takes text, or " if called and called.span == fact.span else ""
    return f"{instead}in design.yaml, limits, write `limit: {kept} arcmin` for '{limit}': no phrase sizes it"
