"""What one cause sets off: many lamps, or two screens at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.lamps import ALARMS, LampState, lamp_states
from hmic.diagnostics import Finding, Severity, told_once
from hmic.language.spelling import written
from hmic.model.design import Design
from hmic.model.expressions import joined
from hmic.model.limits import Limits

FLOOD = 3
"""Lamps of one cause from which C447 leaves it to C437."""


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C437: one cause that lights many lamps of a screen, or brings up two screens of which one hides the
    other."""
    lamps = floods(list(lamp_states(design, arranged)))
    return [*_lit(lamps, limits), *_risen(arranged)]


def causes(state: LampState) -> list[str]:
    """What lights a lamp's state, each alone."""
    return [written(each) for each in joined(state.phrase.values[0], "or")]


def floods(states: Sequence[LampState]) -> dict[str, list[LampState]]:
    """Each cause that lights many pictograms on one screen, and their lamps there."""
    lit: dict[tuple[str, str], dict[str, LampState]] = {}
    for state in states:
        if state.role in ALARMS:
            for cause in causes(state):
                lit.setdefault((cause, state.screen.name), {}).setdefault(state.word, state)
    found: dict[str, list[LampState]] = {}
    for (cause, _), lamps in lit.items():
        if len(lamps) >= max(FLOOD, len(found.get(cause, ())) + 1):
            found[cause] = list(lamps.values())
    return found


def _lit(found: dict[str, list[LampState]], limits: Limits) -> Iterator[Finding]:
    limit = limits["lamps of one cause"]
    for cause, lamps in found.items():
        if len(lamps) <= limit.value:
            continue
        words = ", ".join(f"'{state.word}'" for state in lamps)
        message = (
            f"{cause} alone lights {len(lamps)} lamps on screen '{lamps[0].screen.name}': {words}; which of "
            "them to answer has to be found out"
        )
        remedy = "decide which of them tells the driver what to do, and let the others tell of their own"
        yield told_once(
            [
                limit.finding("C437", message, state.phrase.span, remedy, float(len(lamps)))
                for state in lamps[1:]
            ]
        )


def _risen(arranged: Arranged) -> Iterator[Finding]:
    rising: dict[str, list[ArrangedScreen]] = {}
    for screen in arranged.screens:
        for signals in dict.fromkeys(cause.signals for cause in screen.rises):
            if len(signals) == 1:
                rising.setdefault(min(signals), []).append(screen)
    for name, screens in rising.items():
        if len(screens) < 2:
            continue
        names = " and ".join(f"'{screen.name}'" for screen in screens)
        message = f"screens {names} both come up for '{name}': one of them hides the other"
        remedy = "decide which of them comes up, and let it say what the others would"
        yield told_once(
            [Finding("C437", Severity.WARNING, message, screen.span, remedy) for screen in screens[1:]]
        )
