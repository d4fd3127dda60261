"""What moves all the time on the screen that is read on the road."""

from __future__ import annotations

from hmic.arrange.compose import Arranged
from hmic.diagnostics import Finding, Severity, Span, told_once
from hmic.language.syntax import Each, PhraseKind, Pipe, Screen
from hmic.model.design import START, Design
from hmic.model.limits import Limits
from hmic.paint.operations import Flow


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C438: marks that flow along a pipe on the first screen, beside what is read there."""
    for place, screen in enumerate(arranged.screens):
        flows = any(isinstance(item, Flow) for item in arranged.drawing.screens[place].operations)
        if screen.name != design.start or not flows or not any(fact.reading for fact in screen.texts):
            continue
        message = f"on the first screen '{screen.name}' marks flow beside what is read on the road"
        remedy = "colour the pipe by its value in place of flowing by, or draw it on a screen of its own"
        spans = _flowing(design.screens[screen.name]) or [screen.span]
        return [
            told_once(
                [
                    Finding("C438", Severity.WARNING, message, span, remedy, rests_on=(START,))
                    for span in spans
                ]
            )
        ]
    return []


def _flowing(screen: Screen) -> list[Span]:
    """The phrases of its own pipes that say so; those of parts stand elsewhere."""
    every = [item for area in screen.areas for item in area.body]
    for item in every:
        if isinstance(item, Each):
            every.extend(item.body)
    pipes = [item for item in every if isinstance(item, Pipe)]
    return [phrase.span for pipe in pipes for phrase in pipe.phrases if phrase.kind == PhraseKind.FLOW]
