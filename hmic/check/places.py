"""Where on its screen a finding is."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.arrange.compose import ArrangedScreen
from hmic.diagnostics import Finding, Span
from hmic.paint.operations import Box


def places(findings: Sequence[Finding], screen: ArrangedScreen) -> list[tuple[int, Box]]:
    """(number in the list, box) of each finding that points at something of a screen.

    The touch target or text it points at, or else the widget whose sentence it points into.
    """
    found = []
    for number, finding in enumerate(findings, 1):
        if finding.span is None:
            continue
        box = _place(finding, finding.span, screen)
        if box is not None:
            found.append((number, box))
    return found


def _place(finding: Finding, span: Span, screen: ArrangedScreen) -> Box | None:
    for touch in screen.touches:
        if finding.code.startswith("C41") and touch.span == span:
            return touch.box
    for piece in screen.pieces:
        sentence = piece.widget.span
        if sentence.file == span.file and sentence.line <= span.line <= sentence.end_line:
            return piece.box
    return next((text.box for text in screen.texts if text.span == span), None)
