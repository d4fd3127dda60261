"""Whether a warning lasts long enough to be seen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from hmic.arrange.compose import Arranged
from hmic.check.lamps import ALARMS, lamp_states
from hmic.diagnostics import Finding
from hmic.language.syntax import PhraseKind
from hmic.model.channels import FirstTrue
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.model.terms import Memory, MemoryKind
from hmic.number_text import number


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C467: a warning that is held, and let go again before eyes come back from the road."""
    limit = limits["warning seen"]
    findings: dict[str, Finding] = {}
    for what, signals in _alarms(design, arranged):
        for name, memory in _held(signals, design):
            if memory.seconds >= limit.value or name in findings:
                continue
            message = f"{what} lasts only {number(memory.seconds)} s where its cause is gone at once"
            remedy = f"hold it for {number(limit.value)} s or longer in '{name}' of signals.yaml"
            span = design.signals[name].span
            findings[name] = limit.finding("C467", message, span, remedy, memory.seconds)
    return list(findings.values())


def _alarms(design: Design, arranged: Arranged) -> Iterator[tuple[str, frozenset[str]]]:
    """What warns, and the signals that it reads itself."""
    for state in lamp_states(design, arranged):
        if state.role in ALARMS and state.piece.symbol is not None and state.piece.symbol.states is not None:
            steps = arranged.channels[state.piece.symbol.states].steps
            assert isinstance(steps, FirstTrue)
            place = state.piece.widget.all(PhraseKind.STATE).index(state.phrase)
            yield f"the lamp '{state.word}'", steps.conditions[place].signals
    for screen in arranged.screens:
        for cause in screen.rises:
            if not screen.yields_when_acknowledged:
                yield f"screen '{screen.name}'", cause.signals


def _held(signals: Iterable[str], design: Design) -> Iterator[tuple[str, Memory]]:
    """The declared signals among them that are held for a time."""
    for name in sorted(signals):
        definition = design.signals.get(name)
        if definition is None or definition.derived is None:
            continue
        for inner in sorted(definition.derived.signals):
            memory = design.memories.get(inner)
            if memory is not None and memory.kind == MemoryKind.HOLD:
                yield name, memory
