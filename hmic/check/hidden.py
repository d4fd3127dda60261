"""Values, lamps and controls with nothing painted over them: measured on the pixels.

Only pieces that are placed freely can meet; what lies ``behind`` is there to be stood on. A text or a lamp
hides nothing of a filled place as long as most of that is seen; of figures, needles and lamps every pixel
counts. Two texts that meet are told by ``clear_text``, a danger lamp that is covered by ``telltales``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged
from hmic.arrange.plan import meet
from hmic.arrange.widgets import WIDGETS
from hmic.check.painted import Painted, is_area, is_text, never_together
from hmic.check.pixel_reach import Reach
from hmic.diagnostics import Finding, Severity
from hmic.language.spelling import written
from hmic.language.syntax import CONTROLS, PhraseKind, Widget, WidgetKind
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.paint.operations import Operation, channels_of

LIMIT = "hidden part"


class Hiding(NamedTuple):
    """A piece that shows something, another that is painted over it, and how much of one of its operations
    that hides, in percent."""

    shown: PieceFact
    over: PieceFact
    percent: float


def check(design: Design, arranged: Arranged, limits: Limits, screens: Sequence[Painted]) -> list[Finding]:
    """C480: of each two pieces the most that one hides of the other."""
    reach = Reach(arranged.drawing)
    return [
        _finding(each, painted.screen.name, limits)
        for painted in screens
        for each in hidings(painted, reach, limits[LIMIT].value)
    ]


def hidings(painted: Painted, reach: Reach, most: float) -> Iterator[Hiding]:
    """Each two pieces of a screen of which the later hides the other."""
    pieces = sorted(painted.screen.pieces, key=lambda piece: piece.first)
    for shown, over in combinations(pieces, 2):
        if not meet(shown.box, over.box) or not _shows(shown, painted):
            continue
        worst = max(_shares(shown, over, painted, reach, most), default=0.0)
        if worst > 0:
            yield Hiding(shown, over, worst)


def _shows(piece: PieceFact, painted: Painted) -> bool:
    """Whether a piece tells of the vehicle or takes a touch, and is not there to be stood on."""
    widget = piece.widget
    roles = {phrase.words[0] for phrase in widget.all(PhraseKind.STATE)}
    if widget.one(PhraseKind.BEHIND) is not None or (widget.kind == WidgetKind.LAMP and "danger" in roles):
        return False
    operations = painted.operations[piece.first : piece.last]
    return piece.widget.kind in CONTROLS or any(channels_of(operation) for operation in operations)


def _shares(
    shown: PieceFact, over: PieceFact, painted: Painted, reach: Reach, most: float
) -> Iterator[float]:
    """For each operation of a piece the part that another piece hides, in percent, if that is too much."""
    covers = painted.operations[over.first : over.last]
    for operation in painted.operations[shown.first : shown.last]:
        meeting = [
            each
            for each in covers
            if meet(operation.box, each.box)
            and not never_together(operation, each)
            and not (is_text(operation) and is_text(each) and each.when is None)
        ]
        if not meeting or not _tells(operation):
            continue
        lit = reach.lit(operation, operation.box)
        hidden = lit.copy()
        for each in meeting:
            hidden.paste(0, (0, 0), reach.lit(each, operation.box))
        whole, left = lit.histogram()[255], hidden.histogram()[255]
        percent = 100 * (whole - left) / whole if whole else 0.0
        if percent > (most if is_area(operation) else 0.0):
            yield percent


def _tells(operation: Operation) -> bool:
    """Whether hiding an operation hides something: no plain ground of others."""
    return is_area(operation) or not operation.bed or bool(channels_of(operation))


def _finding(hiding: Hiding, screen: str, limits: Limits) -> Finding:
    shown, over = hiding.shown.widget, hiding.over.widget
    message = f"on screen '{screen}' {named(over)} is painted over {named(shown)}"
    remedy = "move one of them away from the other"
    if PhraseKind.BEHIND in WIDGETS[over.kind].PHRASES:
        remedy = f"move one of them, or add behind to the {over.kind}, so that it lies below"
    return limits[LIMIT].finding("C480", message, over.head, remedy, hiding.percent, severity=Severity.ERROR)


def named(widget: Widget) -> str:
    """A piece, to name it in a finding."""
    subject = widget.word or (written(widget.subject) if widget.subject is not None else "")
    return f"the {widget.kind} {subject}".rstrip()
