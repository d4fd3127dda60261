"""What the lamps of a design say, and by what: shared by the rules about them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.language.syntax import Expression, Operation, Operator, Phrase, PhraseKind, Signal, Text
from hmic.model.channels import FirstTrue
from hmic.model.design import Design, sources_of

DANGER, CAUTION, GOOD = "danger", "caution", "good"
ALARMS = (DANGER, CAUTION)
"""The roles of states that something has to be done about."""

_FAULTS = frozenset(
    (
        *("alarm", "broken", "critical", "dead", "dry", "emergency", "error", "fail", "failed", "failure"),
        *("fault", "faulted", "faults", "faulty", "fire", "leak", "leaking", "lost", "overheat"),
        *("overheated", "overload", "short", "smoke", "trip", "tripped"),
    )
)
_ORDERLY = frozenset(
    (
        *("active", "charging", "closed", "connected", "driving", "enabled", "full", "good", "healthy"),
        *("lights", "normal", "ok", "on", "plugged", "present", "ready", "running", "standby"),
    )
)


class LampState(NamedTuple):
    """One state of a lamp: its role, the signals from outside that light it, and its phrase."""

    screen: ArrangedScreen
    piece: PieceFact
    phrase: Phrase
    role: str
    sources: frozenset[str]

    @property
    def word(self) -> str:
        """The pictogram."""
        return self.piece.widget.word or ""


def lamp_states(design: Design, arranged: Arranged) -> Iterator[LampState]:
    """Every state of every lamp, in order."""
    for screen in arranged.screens:
        for piece in screen.pieces:
            if piece.symbol is None or piece.symbol.states is None:
                continue
            steps = arranged.channels[piece.symbol.states].steps
            assert isinstance(steps, FirstTrue)
            for phrase, condition in zip(piece.widget.all(PhraseKind.STATE), steps.conditions, strict=True):
                sources = sources_of(condition.signals, design)
                yield LampState(screen, piece, phrase, phrase.words[0], sources)


def is_fault(condition: Expression) -> bool:
    """Whether a condition is, by the words of its names, that something is wrong: ``pack.fault``, or
    ``charger.state is "Stopped by fault"``."""
    return not _FAULTS.isdisjoint(_words(condition))


def is_orderly(condition: Expression) -> bool:
    """Whether it is that something goes as it should: ``pump.running``."""
    words = _words(condition)
    return bool(words) and words[-1] in _ORDERLY and _FAULTS.isdisjoint(words)


def _words(condition: Expression) -> list[str]:
    """The words of a flag that is on, or of a word that a signal is; of anything else none."""
    match condition:
        case Signal(name):
            return re.split(r"[._]", name.lower())
        case Operation(Operator.IS, Signal(), Text(text)):
            return text.lower().split()
    return []
