"""A whole design in figures, to be held against another version of it."""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from hmic.arrange.compose import Arranged
from hmic.check.budget import memory_need, screen_budget
from hmic.check.clutter import edge_density
from hmic.check.contrast import measures
from hmic.check.dazzle import mean_luminance
from hmic.check.glare import night_veil
from hmic.check.light import PHRASES, Condition, light
from hmic.check.meanings import colours
from hmic.check.painted import Painted
from hmic.check.shown_themes import at_night
from hmic.check.text_amount import letters, values
from hmic.check.text_height import angle
from hmic.check.touch_targets import narrowest
from hmic.check.touches import acts, acts_on_the_road
from hmic.check.ways import touches_away
from hmic.diagnostics import Finding, Severity
from hmic.model.channels import raw_value
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.model.samples import lookup, sample_values
from hmic.number_text import MEASURED, number
from hmic.paint.operations import Moment

LOWER, HIGHER = "lower is better", "higher is better"
_KINDS = {"C420": "text", "C421": "symbols", "C422": "filled places", "C423": "text in doubt"}


class Measured(NamedTuple):
    """One figure of a design: ``good`` says which way is better, ``where`` is the screen that it is of."""

    name: str
    value: float
    unit: str
    good: str
    where: str = ""


class Compared(NamedTuple):
    """A figure of a design beside that of the other version; None where it has none."""

    name: str
    unit: str
    value: float | None
    other: float | None
    verdict: str
    where: str


def measured(
    design: Design, arranged: Arranged, findings: Sequence[Finding], pack: int
) -> tuple[Measured, ...]:
    """Every figure; ``pack`` is the size of the pack in bytes."""
    limits = Limits(design)
    return (
        *_found(findings),
        *_contrasts(design, arranged, limits),
        *_read(design, arranged),
        *_touched(design, arranged),
        *_lit(design, arranged, limits),
        *_crowded(design, arranged),
        *_carried(design, arranged, pack),
    )


def compared(ours: Sequence[Measured], others: Sequence[Measured]) -> tuple[Compared, ...]:
    """The figures of a design against those of another version, in order; figures that look alike are."""
    by_name, own = {each.name: each for each in others}, {each.name for each in ours}
    rows = []
    for each in (*ours, *(one for one in others if one.name not in own)):
        value = each.value if each.name in own else None
        other = by_name[each.name].value if each.name in by_name else None
        rows.append(
            Compared(each.name, each.unit, value, other, _verdict(value, other, each.good), each.where)
        )
    return tuple(rows)


def _verdict(value: float | None, other: float | None, good: str) -> str:
    if value is None or other is None:
        return "no figure to compare"
    if number(value, MEASURED) == number(other, MEASURED):
        return "same"
    return "better" if (value > other) == (good == HIGHER) else "worse"


def _found(findings: Sequence[Finding]) -> Iterator[Measured]:
    for severity in Severity:
        count = sum(finding.severity is severity for finding in findings)
        yield Measured(f"{severity.value}s found", count, "", LOWER)


def _contrasts(design: Design, arranged: Arranged, limits: Limits) -> Iterator[Measured]:
    worst: dict[tuple[str, Condition], tuple[float, str]] = {}
    for place in range(len(arranged.screens)):
        for measure in measures(design, limits, Painted(arranged, place)):
            key = (_KINDS[measure.code], measure.light.condition)
            found = (measure.ratio, measure.screen)
            worst[key] = min(found, worst.get(key, found))
    for condition in Condition:
        for kind in _KINDS.values():
            if (kind, condition) in worst:
                ratio, screen = worst[kind, condition]
                name = f"least contrast of {kind} {PHRASES[condition]}"
                yield Measured(name, ratio, ":1", HIGHER, screen)


def _read(design: Design, arranged: Arranged) -> Iterator[Measured]:
    texts = [(fact, screen.name) for screen in arranged.screens for fact in screen.texts]
    for name, some in (("text", texts), ("reading", [each for each in texts if each[0].reading])):
        if some:
            fact, screen = min(some, key=lambda each: each[0].capital_height)
            yield Measured(f"smallest {name}", angle(fact, design.panel), "arcmin", HIGHER, screen)
    yield _most("letters to read", "letters", [(letters(each), each.name) for each in arranged.screens])
    yield _most("values to read", "values", [(values(each), each.name) for each in arranged.screens])
    counts = [(len(colours(each, design)), each.name) for each in arranged.screens]
    yield _most("colours while nothing is wrong", "colours", counts)


def _most(name: str, unit: str, found: Sequence[tuple[float, str]]) -> Measured:
    value, screen = max(found, key=lambda each: each[0])
    return Measured(name, value, unit, LOWER, screen)


def _touched(design: Design, arranged: Arranged) -> Iterator[Measured]:
    sides = [
        (narrowest(fact, design.panel), screen.name) for screen in arranged.screens for fact in screen.touches
    ]
    if sides:
        side, screen_name = min(sides)
        yield Measured("smallest touch target", side, "mm", HIGHER, screen_name)
    away = touches_away(design, arranged)
    counts = [
        (away[screen.name] + 1 + (fact.action.confirm is not None), screen.name)
        for screen in arranged.screens
        for fact in screen.touches
        if acts(fact.action) is not None and screen.name in away
    ]
    if counts:
        yield _most("touches to an act", "touches", counts)
    moving = touches_away(design, arranged, moving=True)
    times = [
        (time, screen.name)
        for screen in arranged.screens
        for _, time in acts_on_the_road(screen, moving, design)
    ]
    if times:
        yield _most("longest act while driving", "s", [(time.seconds, name) for time, name in times])
        yield _most("longest step of one", "s", [(time.longest, name) for time, name in times])


def _lit(design: Design, arranged: Arranged, limits: Limits) -> Iterator[Measured]:
    night = [(at, light(design.themes[at], Condition.NIGHT, limits)) for at in sorted(at_night(design))]
    means = [
        (mean_luminance(arranged, place, at, lit), screen.name)
        for at, lit in night
        for place, screen in enumerate(arranged.screens)
    ]
    if means:
        yield _most("mean of a screen at night", "cd/m2", means)
    veil = night_veil(design, arranged, limits)
    if veil is not None:
        yield Measured("veil on the road at night", veil.amount, "cd/m2", LOWER, veil.screen)


def _crowded(design: Design, arranged: Arranged) -> Iterator[Measured]:
    """Edge density of each screen, with sample values in the first theme."""
    from hmic.paint.painter import Painter

    painter, find = Painter(arranged.drawing), lookup(design, sample_values(design))
    raw = tuple(raw_value(channel, find) for channel in arranged.channels)
    found = [
        (edge_density(painter.paint(Moment(place, 0, raw))), screen.name)
        for place, screen in enumerate(arranged.screens)
    ]
    yield _most("most crowded screen: pixels on an edge", "%", found)
    mean = statistics.fmean(each for each, _ in found)
    yield Measured("all screens: pixels on an edge", mean, "%", LOWER)


def _carried(design: Design, arranged: Arranged, pack: int) -> Iterator[Measured]:
    yield Measured("pack", pack, "bytes", LOWER)
    yield Measured("working memory", memory_need(arranged), "bytes", LOWER)
    budgets = [screen_budget(design, arranged, place) for place in range(len(arranged.screens))]
    yield _most("load of the line", "%", [(100 * each.load, each.name) for each in budgets])
    delays = [
        (delay.milliseconds, each.name)
        for each in budgets
        for delay in each.delays
        if delay.milliseconds is not None
    ]
    if delays:
        yield _most("worst delay of a value", "ms", delays)
