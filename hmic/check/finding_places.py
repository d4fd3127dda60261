"""Where on its screen a finding is."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.arrange.compose import ArrangedScreen
from hmic.diagnostics import Finding, Severity, Span
from hmic.paint.operations import Box


def places(findings: Sequence[Finding], screen: ArrangedScreen) -> list[tuple[int, Box]]:
    """(number in the list, box) of each finding that points at something of a screen.

    The touch target or text it points at, or else the widget whose sentence it points into, or the
    place that is left empty for it.
    """
    found = []
    for number, finding in enumerate(findings, 1):
        for span in (finding.span, *finding.also):
            box = None if span is None else _place(finding, span, screen)
            if box is not None:
                found.append((number, box))
    return list(dict.fromkeys(found))


def left_empty(findings: Sequence[Finding], screen: ArrangedScreen) -> list[Box]:
    """The places where nothing may be shown for an error: what could not be arranged, and what was, but
    by a sentence that was not understood whole. An error of the checks leaves its place as it is."""
    wrong = {
        (finding.span.file, line)
        for finding in findings
        if finding.severity is Severity.ERROR and finding.code[0] in "LMA" and finding.span is not None
        for line in range(finding.span.line, finding.span.end_line + 1)
    }
    boxes = [gap.box for gap in screen.gaps]
    for piece in screen.pieces:
        sentence = piece.widget.span
        if any((sentence.file, line) in wrong for line in range(sentence.line, sentence.end_line + 1)):
            boxes.append(piece.box)
    return list(dict.fromkeys(boxes))


def _place(finding: Finding, span: Span, screen: ArrangedScreen) -> Box | None:
    for touch in screen.touches:
        if finding.code.startswith("C41") and touch.span == span:
            return touch.box
    for piece in screen.pieces:
        sentence = piece.widget.span
        if sentence.file == span.file and sentence.line <= span.line <= sentence.end_line:
            return piece.box
    of_text = next((text.box for text in screen.texts if text.span == span), None)
    return _gap(span, screen) if of_text is None else of_text


def _gap(span: Span, screen: ArrangedScreen) -> Box | None:
    """The smallest place left empty for an error in whose sentence the span lies."""
    within = [
        gap.box
        for gap in screen.gaps
        if gap.span.file == span.file and gap.span.line <= span.line <= gap.span.end_line
    ]
    return min(within, key=lambda box: box.width * box.height, default=None)
