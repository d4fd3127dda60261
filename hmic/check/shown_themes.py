"""Which theme is on the display when: what nothing ever shows, and what is shown at night."""

from __future__ import annotations

import math
from itertools import pairwise

from hmic.arrange.compose import Arranged
from hmic.diagnostics import Finding, Severity, error
from hmic.model.design import CHOICE, SIGNALS, THEMES, ByClock, BySignal, Design, level_at, theme_at
from hmic.model.limits import Limits
from hmic.model.units import convertible, unit
from hmic.number_text import numbers

NIGHT = (22 * 60, 5 * 60)
"""Minutes since midnight from which, and until which, it is dark wherever somebody drives (common practice,
no source)."""
NOON = 12 * 60


def by_light(design: Design) -> bool:
    """Whether the theme follows a sensor of light."""
    choice = design.choose
    measured = design.signals[choice.signal].unit if isinstance(choice, BySignal) else None
    lux = unit("lx")
    return measured is not None and lux is not None and convertible(measured, lux)


def while_silent(design: Design) -> str | None:
    """The signal that chooses, without which the first theme is shown; the clock of the computer that runs
    hmic is never silent."""
    return design.choose.signal if isinstance(design.choose, BySignal) else None


def reached(design: Design) -> frozenset[int]:
    """The numbers of the themes that a run shows by itself. Without ``choose`` it is the first; with one it
    is those whose time or level can come, and the first while nothing is known. Of one with an error
    none is known."""
    choice = design.choose
    if choice is None:
        # One by a signal that is declared with an error is left out too.
        return frozenset() if design.faults.of(CHOICE, SIGNALS) else frozenset((0,))
    if isinstance(choice, ByClock):
        return frozenset((0, *(theme for _, theme in choice.times)))
    signal = design.signals[choice.signal]
    # Each holds from its level to the next; the lowest below its own too.
    begins = [-math.inf, *(level for level, _ in choice.levels[1:])]
    ends = [*begins[1:], math.inf]
    between = zip(begins, ends, choice.levels, strict=True)
    return frozenset(
        (0, *(theme for begin, end, (_, theme) in between if begin <= signal.high and signal.low < end))
    )


def at_night(design: Design) -> frozenset[int]:
    """The numbers of the themes that a run shows in the dark while its clock or sensor works."""
    choice = design.choose
    if choice is None:
        return reached(design)
    if isinstance(choice, ByClock):
        dark = [*range(NIGHT[0], 24 * 60), *range(NIGHT[1])]
        return frozenset(theme_at(choice, minute) for minute in dark)
    if not by_light(design):
        return reached(design)
    # At the least light that the sensor tells of, from whichever level it comes.
    signal = design.signals[choice.signal]
    come = [number for number, (level, _) in enumerate(choice.levels) if level <= signal.high]
    return frozenset(choice.levels[level_at(choice, signal.low, held)][1] for held in (-1, *come))


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C426: a theme that nothing shows. C427: the brighter of two themes where it is darker."""
    shown = reached(design)
    findings = [
        Finding(
            "C426",
            Severity.WARNING,
            f"nothing ever shows theme '{theme.name}', but for `hmic run --theme`",
            theme.span,
            "say in themes.yaml when it is shown, such as choose: {by: clock, times: {...}}, or remove it",
            rests_on=(CHOICE, SIGNALS),
        )
        for number, theme in enumerate(design.themes)
        if number not in shown
    ]
    for darker, lighter in turned(design):
        dim, bright = design.themes[lighter], design.themes[darker]
        more, less = numbers(bright.luminance, dim.luminance)
        message = (
            f"theme '{bright.name}' is shown where it is darker, but is the brighter one: "
            f"{more} against {less} cd/m2 of '{dim.name}'"
        )
        remedy = "exchange their levels or times under choose"
        findings.append(error("C427", message, bright.span, remedy, rests_on=(THEMES,)))
    return findings


def turned(design: Design) -> list[tuple[int, int]]:
    """Pairs of (shown where it is darker, shown where it is lighter) in which the first is brighter.

    By the clock: what is shown in the dark and at noon, and before and after each change in between."""
    choice = design.choose
    if isinstance(choice, ByClock):
        noon = theme_at(choice, NOON)
        pairs = [(dark, noon) for dark in sorted(at_night(design))]
        for at, after in choice.times:
            # Before midnight it is the last one's time.
            before = theme_at(choice, at - 1)
            if NIGHT[1] <= at < NOON:
                pairs.append((before, after))
            elif NOON < at <= NIGHT[0]:
                pairs.append((after, before))
        pairs = list(dict.fromkeys(pairs))
    elif isinstance(choice, BySignal) and by_light(design):
        order = [theme for _, theme in choice.levels]
        pairs = list(pairwise(order))
    else:
        pairs = []
    themes = design.themes
    return [pair for pair in pairs if themes[pair[0]].luminance > themes[pair[1]].luminance]
