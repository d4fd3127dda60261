"""Whether a warning lasts long enough to be seen, as far as its formula tells."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from hmic.arrange.compose import Arranged
from hmic.check.edits import setting
from hmic.check.lamps import ALARMS, lamp_states
from hmic.diagnostics import Finding, Mend, mended_by
from hmic.language.spelling import written
from hmic.language.syntax import Call, PhraseKind
from hmic.model.channels import FirstTrue
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.model.terms import Memory, MemoryKind
from hmic.model.values import ValueKind
from hmic.number_text import number


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C467: a warning that is let go again before eyes come back from the road: held for less, or lit by how
    fast something changes, or by a mean, over less."""
    limit = limits["warning seen"]
    findings: dict[str, Finding] = {}
    for what, signals in _alarms(design, arranged):
        for name, memory in _brief(signals, design, limit.value):
            if name in findings:
                continue
            message = f"{what} lasts only {number(memory.seconds)} s where its cause is gone at once"
            remedy = f"hold it for {number(limit.value)} s or longer in '{name}' of signals.yaml"
            span = design.signals[name].span
            found = limit.finding("C467", message, span, remedy, memory.seconds)
            mend = _longer(name, memory, limit.value, design)
            findings[name] = mended_by(found, mend, ", or longer")
    return list(findings.values())


def _longer(name: str, memory: Memory, seconds: float, design: Design) -> Mend | None:
    """Its formula held so long."""
    formula = design.signals[name].formula
    if formula is None:
        return None
    if memory.kind == MemoryKind.HOLD:
        if not isinstance(formula, Call) or formula.function != MemoryKind.HOLD:
            return None
        formula = formula.arguments[0]
    held = f"hold({written(formula)}, {number(seconds)} s)"
    quoted = '"' + held.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return setting(design, design.signals[name].span.file, ("signals", name, "is"), quoted)


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


_PASSING = (MemoryKind.RATE, MemoryKind.AVERAGE)
"""What forgets a cause after its time."""


def _brief(signals: Iterable[str], design: Design, seconds: float) -> Iterator[tuple[str, Memory]]:
    """The declared signals among them that can be on for less than so long, with what makes it so."""
    for name in sorted(signals):
        definition = design.signals.get(name)
        if definition is None or definition.derived is None or definition.kind != ValueKind.FLAG:
            continue
        read = definition.derived.signals
        every = [design.memories[inner] for inner in sorted(read & set(design.memories))]
        held = [memory for memory in every if memory.kind == MemoryKind.HOLD]
        for memory in held or [memory for memory in every if memory.kind in _PASSING]:
            if memory.seconds < seconds:
                yield name, memory
