"""How much a driver is given to read on the screen that is shown on the road."""

from __future__ import annotations

import math
from collections.abc import Iterator

from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.edits import write
from hmic.check.ways import reachable
from hmic.diagnostics import Finding, Severity, mended_by
from hmic.language.syntax import PhraseKind, Quantity, Text, WidgetKind
from hmic.model.design import START, WAYS, Design
from hmic.model.limits import Limits
from hmic.number_text import number


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C408: more letters on the first screen than guidance allows. C409: a list of more rows than
    are taken in at a glance. C419: more values than that on a screen that can be open on the road. Nothing in
    the language scrolls by itself."""
    findings: list[Finding] = []
    on_the_road = reachable(design, arranged)
    for screen in arranged.screens:
        if screen.name in on_the_road:
            findings.extend(_values(screen, design, limits))
        if screen.name == design.start:
            count = letters(screen)
            limit = limits["letters while driving"]
            if count > limit.value:
                message = f"the first screen '{screen.name}' has {count} letters to read"
                remedy = "say it by a pictogram, or move what need not be read on the road"
                findings.append(
                    limit.finding(
                        "C408",
                        message,
                        screen.span,
                        remedy,
                        float(count),
                        severity=Severity.NOTE,
                        rests_on=(START,),
                    )
                )
        findings.extend(_rows(screen, limits))
    return findings


_VALUES = frozenset(
    map(
        WidgetKind,
        ("reading", "words", "clock", "bar", "level", "dial", "cells", "stepper", "slider", "trace"),
    )
)
"""What is read, one value each; an array of cells is looked at as one."""


def _values(screen: ArrangedScreen, design: Design, limits: Limits) -> Iterator[Finding]:
    """C419, a note where somebody has to turn to the screen first."""
    limit, count = limits["values while driving"], values(screen)
    if count > limit.value:
        message = f"screen '{screen.name}', which can be open on the road, has {count} values to read"
        remedy = "move those that are read at standstill to a screen of their own"
        severity = Severity.WARNING if screen.name == design.start else Severity.NOTE
        yield limit.finding(
            "C419", message, screen.span, remedy, float(count), severity=severity, rests_on=(START, WAYS)
        )


def values(screen: ArrangedScreen) -> int:
    """Values to read on a screen; a list of traces counts each."""
    every = (one for piece in screen.pieces for one in (piece.widget, *piece.widget.children))
    return sum(one.kind in _VALUES for one in every)


def letters(screen: ArrangedScreen) -> int:
    """Letters to read at once: letters and figures of captions, labels and the longest word at each
    place; a number with its unit, whatever its figures, and a scale with its marks count as one."""
    total = 0
    for piece in screen.pieces:
        widget = piece.widget
        if widget.kind == WidgetKind.LABEL and isinstance(widget.subject, Text):
            total += _counted(widget.subject.text)
        called = widget.one(PhraseKind.CALLED)
        if called is not None and isinstance(called.values[0], Text):
            total += _counted(called.values[0].text)
        if widget.kind == WidgetKind.BUTTON and isinstance(widget.subject, Text):
            total += _counted(widget.subject.text)
        texts = [fact.text for fact in screen.texts if fact.span == widget.head and fact.reading]
        if widget.kind == WidgetKind.WORDS:
            total += max((_counted(text) for text in texts), default=0)
        elif widget.one(PhraseKind.FORMAT) is not None or widget.kind == WidgetKind.CLOCK:
            total += 1
    return total


def _counted(text: str) -> int:
    return sum(char.isalnum() for char in text)


def _rows(screen: ArrangedScreen, limits: Limits) -> list[Finding]:
    limit = limits["rows while driving"]
    findings = []
    for piece in screen.pieces:
        for phrase in piece.widget.phrases:
            if piece.widget.kind != WidgetKind.LIST or not phrase.values:
                continue
            value = phrase.values[0]
            if phrase.kind != PhraseKind.SHOWING or not isinstance(value, Quantity):
                continue
            if value.number > limit.value:
                rows = float(value.number)
                message = f"the list on screen '{screen.name}' shows {number(rows)} rows at once"
                found = limit.finding("C409", message, phrase.span, "", rows, severity=Severity.NOTE)
                mend = write(phrase.span, f"showing {math.floor(limit.value)} rows", unasked=True)
                findings.append(mended_by(found, mend, "; it pages by touch"))
    return findings
