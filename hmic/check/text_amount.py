"""How much a driver is given to read on the screen that is shown on the road."""

from __future__ import annotations

import math

from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.limits import Limits
from hmic.diagnostics import Finding, Severity
from hmic.language.syntax import Quantity, Text
from hmic.model.design import START, Design
from hmic.number_text import number


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C408: more letters on the first screen than guidance allows. C409: a list of more rows than
    are taken in at a glance. Nothing in the language scrolls by itself."""
    findings = []
    for screen in arranged.screens:
        if screen.name == design.start:
            count = letters(screen)
            limit = limits["letters while driving"]
            if count > limit.value:
                message = f"the first screen '{screen.name}' has {count} letters to read"
                remedy = "say it by a pictogram, or move what need not be read on the road"
                findings.append(
                    Finding(
                        "C408",
                        Severity.NOTE,
                        message,
                        screen.span,
                        remedy,
                        float(count),
                        limit.value,
                        limit.unit,
                        limit.source,
                        rests_on=(START,),
                    )
                )
        findings.extend(_rows(screen, limits))
    return findings


def letters(screen: ArrangedScreen) -> int:
    """Letters to read at once: letters and figures of captions, labels and the longest word at each
    place; a number with its unit, whatever its figures, and a scale with its marks count as one."""
    total = 0
    for piece in screen.pieces:
        widget = piece.widget
        if widget.kind == "label" and isinstance(widget.subject, Text):
            total += _counted(widget.subject.text)
        called = widget.one("called")
        if called is not None and isinstance(called.values[0], Text):
            total += _counted(called.values[0].text)
        if widget.kind == "button" and isinstance(widget.subject, Text):
            total += _counted(widget.subject.text)
        texts = [fact.text for fact in screen.texts if fact.span == widget.head and fact.reading]
        if widget.kind == "words":
            total += max((_counted(text) for text in texts), default=0)
        elif widget.one("format") is not None or widget.kind == "clock":
            total += 1
    return total


def _counted(text: str) -> int:
    return sum(char.isalnum() for char in text)


def _rows(screen: ArrangedScreen, limits: Limits) -> list[Finding]:
    limit = limits["rows while driving"]
    findings = []
    for piece in screen.pieces:
        for phrase in piece.widget.phrases:
            if piece.widget.kind != "list" or not phrase.values:
                continue
            value = phrase.values[0]
            if phrase.kind == "showing" and isinstance(value, Quantity) and value.number > limit.value:
                rows = float(value.number)
                message = f"the list on screen '{screen.name}' shows {number(rows)} rows at once"
                remedy = f"write showing {math.floor(limit.value)} rows; it pages by touch"
                findings.append(
                    Finding(
                        "C409",
                        Severity.NOTE,
                        message,
                        phrase.span,
                        remedy,
                        rows,
                        limit.value,
                        "rows",
                        limit.source,
                    )
                )
    return findings
