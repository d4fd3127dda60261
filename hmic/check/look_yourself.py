"""What no rule can judge: questions to be answered by a person, with the screens to look at."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.lamps import is_fault
from hmic.diagnostics import Span, Unjudged
from hmic.language.syntax import CONTROLS, PhraseKind, Signal, WidgetKind
from hmic.model.design import Design, sources_of
from hmic.model.values import ValueKind

OUTSIDE = frozenset((ValueKind.TEXT,))
_PICTOGRAMS = (WidgetKind.LAMP, WidgetKind.SYMBOL)


def look_yourself(design: Design, arranged: Arranged) -> list[Unjudged]:
    """Every question that a design raises, in the order in which to look."""
    questions: Mapping[str, Callable[[ArrangedScreen], bool]] = {
        "is what matters most at this moment the largest, and found first": lambda screen: bool(
            screen.pieces
        ),
        "does the driver know each word, and each abbreviation": lambda screen: bool(screen.texts),
        "does each pictogram say to others what it says to you": lambda screen: _has(screen, *_PICTOGRAMS),
        "does each message tell what to do, and are those that come from outside short": lambda screen: any(
            _is_text(design, piece.widget.subject) for piece in screen.pieces
        ),
        "can a hand in a moving vehicle do this, and is each condition the right one": lambda screen: _has(
            screen, *CONTROLS
        ),
        "can the picture be made out, at night and in the sun": lambda screen: _has(
            screen, WidgetKind.PICTURE
        ),
    }
    found = [
        Unjudged(question, tuple(screen.name for screen in arranged.screens if asked(screen)))
        for question, asked in questions.items()
    ]
    found.append(
        Unjudged("must the driver know of this fault, which no screen tells", _silent(design, arranged))
    )
    return [each for each in found if each.where]


def _has(screen: ArrangedScreen, *kinds: WidgetKind) -> bool:
    return any(piece.widget.kind in kinds for piece in screen.pieces)


def _is_text(design: Design, subject: object) -> bool:
    definition = design.signals.get(subject.name) if isinstance(subject, Signal) else None
    return definition is not None and definition.kind in OUTSIDE


def _silent(design: Design, arranged: Arranged) -> tuple[str, ...]:
    """Flags that are faults by their names, and that nothing on any screen reads."""
    read: set[str] = set()
    for number, screen in enumerate(arranged.screens):
        for channel in arranged.drawing.screens[number].channels:
            value, steps = arranged.channels[channel].value, arranged.channels[channel].steps
            read |= value.signals if value is not None else set()
            read = read.union(*(each.signals for each in getattr(steps, "conditions", ())))
        read = read.union(*(cause.signals for cause in screen.rises))
        for piece in screen.pieces:
            read |= {
                each.name
                for phrase in piece.widget.all(PhraseKind.ALLOWED)
                for each in phrase.values
                if isinstance(each, Signal)
            }
    shown = sources_of(read, design) | read
    nowhere = Span("", 0, 0, 0, 0)
    return tuple(
        name
        for name, definition in design.signals.items()
        if definition.kind == ValueKind.FLAG
        and definition.count is None
        and name not in shown
        and name not in design.outputs
        and is_fault(Signal(name, None, nowhere))
    )
