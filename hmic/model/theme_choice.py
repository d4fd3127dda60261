"""themes.yaml, `choose:`: which theme is shown when: by a signal with hysteresis, or by the clock."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction

from hmic.diagnostics import Finding, Span, Subject, did_you_mean, error, with_article
from hmic.model.design import ByClock, BySignal, SignalDefinition, ThemeChoice
from hmic.model.design_file import milliseconds
from hmic.model.units import Unit, convert, convertible, degrees, quantity_name, unit, unit_remedy
from hmic.model.values import ValueKind
from hmic.model.yaml_source import Entry, Node

CLOCK_WORD = "clock"
WAIT = 2000
"""Milliseconds that a light must stay beyond a level: the shadow of a bridge changes nothing
(common practice, no source)."""
KEEP = 60_000
"""Milliseconds that a theme outlives the last sure reading of its signal."""
HYSTERESIS = 0.2
"""Part of a level by which a value must fall below it again (common practice, no source)."""

_TIME = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])")
_PERCENT = re.compile(r"([0-9]{1,2}(?:\.[0-9]{1,3})?) ?%")
_LEVEL = re.compile(r"([-+]?[0-9]+(?:\.[0-9]+)?)\s*(\S*)")


def read_choice(
    node: Node, themes: Sequence[str], signals: Mapping[str, SignalDefinition], broken: Mapping[str, Finding]
) -> tuple[ThemeChoice | None, list[Finding]]:
    """The ``choose`` of a themes.yaml, None without one or with an error in it. What the schema
    found wrong is left out silently; so is a signal in ``broken``, whose error is told already."""
    choose = node.get("choose")
    by = choose.get("by") if choose is not None else None
    if choose is None or by is None or not isinstance(by.scalar, str):
        return None, []
    levels, times = choose.get("levels"), choose.get("times")
    first, last = (themes[0], themes[-1]) if themes else ("day", "night")
    if by.scalar == CLOCK_WORD:
        if times is not None and levels is None:
            return _by_clock(times, themes, choose)
        remedy = f"write `times: {{{first}: 7:00, {last}: 19:30}}`"
        return None, [error("M271", "a choice by the clock goes by times", by.span, remedy)]
    if "." not in by.scalar:
        remedy = did_you_mean(by.scalar, [CLOCK_WORD, *signals], "choices")
        return None, [error("M270", f"'{by.scalar}' is neither `{CLOCK_WORD}` nor a signal", by.span, remedy)]
    if levels is None or times is not None:
        remedy = f"write `levels: {{{last}: 0 lx, {first}: 200 lx}}`, in the signal's unit"
        return None, [error("M271", "a choice by a signal goes by levels", by.span, remedy)]
    signal = signals.get(by.scalar)
    if signal is None and by.scalar in broken:
        return None, []
    if signal is None:
        remedy = did_you_mean(by.scalar, signals, "signals")
        declared = (Subject("signals.yaml", ("signals", by.scalar)),)
        return None, [error("M270", f"there is no signal '{by.scalar}'", by.span, remedy, rests_on=declared)]
    if signal.kind != ValueKind.NUMBER or signal.count is not None or signal.unit is None:
        message = f"'{by.scalar}' is not one number, so no level can be held against it"
        remedy = "name a signal such as the light outside, or write `by: clock`"
        return None, [error("M270", message, by.span, remedy)]
    return _by_signal(signal, signal.unit, levels, themes, choose)


def _by_clock(times: Node, themes: Sequence[str], choose: Node) -> tuple[ThemeChoice | None, list[Finding]]:
    findings = [
        error("M271", f"a choice by the clock has no '{entry.key}'", entry.span, "remove it")
        for entry in choose.each()
        if entry.key in ("hysteresis", "wait", "keep")
    ]
    found = _entries(times, themes, _minutes, findings)
    if findings or not found:
        return None, findings
    return ByClock(tuple((round(at), number) for at, number in found)), []


def _by_signal(
    signal: SignalDefinition, of: Unit, levels: Node, themes: Sequence[str], choose: Node
) -> tuple[ThemeChoice | None, list[Finding]]:
    findings: list[Finding] = []
    found = _entries(levels, themes, lambda entry: _level(entry, of, findings), findings)
    if findings or not found:
        return None, findings
    written = choose.get("hysteresis")
    match = _PERCENT.fullmatch(str(written.scalar)) if written is not None else None
    part = HYSTERESIS if match is None else float(Fraction(match[1]) / 100)
    wait, keep = _lasting(choose, "wait", WAIT), _lasting(choose, "keep", KEEP)
    return BySignal(signal.name, found, part, wait, keep), []


def _lasting(choose: Node, key: str, default: int) -> int:
    node = choose.get(key)
    found = milliseconds(node.scalar) if node is not None and isinstance(node.scalar, str) else None
    return default if found is None else found


def _entries(
    node: Node,
    themes: Sequence[str],
    read: Callable[[Entry], float | None],
    findings: list[Finding],
) -> tuple[tuple[float, int], ...]:
    """(level or time, theme number), ascending: each theme known, no two at the same place."""
    found: dict[float, tuple[int, Span]] = {}
    for entry in node.each():
        if entry.key not in themes:
            remedy = did_you_mean(entry.key, themes, "themes")
            findings.append(error("M271", f"there is no theme '{entry.key}'", entry.span, remedy))
            continue
        at = read(entry)
        if at is None:
            continue
        if at in found:
            other = themes[found[at][0]]
            message = f"'{entry.key}' and '{other}' begin at the same place"
            findings.append(error("M271", message, entry.span, "give one of them another, or leave it out"))
            continue
        found[at] = (themes.index(entry.key), entry.span)
    return tuple((at, found[at][0]) for at in sorted(found))


def _minutes(entry: Entry) -> float | None:
    text = entry.value.scalar
    match = _TIME.fullmatch(text) if isinstance(text, str) else None
    return None if match is None else float(int(match[1]) * 60 + int(match[2]))


def _level(entry: Entry, of: Unit, findings: list[Finding]) -> float | None:
    written = str(entry.value.scalar)
    match = _LEVEL.fullmatch(written.strip())
    example = (
        f"write a number in {of.spelling}, such as 50 {of.spelling}" if of.spelling else "write a number"
    )
    if match is None:
        findings.append(error("M271", f"'{written}' is no level", entry.value.span, example))
        return None
    given = unit(match[2])
    if given is None:
        message = f"'{match[2]}' is no unit that is known here"
        findings.append(error("M271", message, entry.value.span, unit_remedy(match[2])))
        return None
    given = degrees(given) if of.difference else given
    number = Fraction(match[1])
    if not match[2] and number == 0 and not of.offset:
        return 0.0
    if not convertible(given, of):
        said = quantity_name(given) if match[2] else "plain number"
        message = f"{with_article(said)} cannot be held against {with_article(quantity_name(of))}"
        findings.append(error("M271", message, entry.value.span, example))
        return None
    return float(convert(number, given, of))
