"""Whether a sign has one meaning, and a meaning one sign: pictograms and colours."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Sequence

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.colour import difference, lab
from hmic.check.edits import write
from hmic.check.floods import causes, floods
from hmic.check.lamps import ALARMS, DANGER, GOOD, LampState, is_fault, is_orderly, lamp_states
from hmic.check.values_shown import HEATS, last_word, low_is_bad
from hmic.check.ways import reachable
from hmic.diagnostics import Finding, Severity, mended_by, told_once
from hmic.language.spelling import written
from hmic.language.syntax import (
    ROLE_PHRASES,
    Expression,
    Phrase,
    PhraseKind,
    Signal,
    Text,
    Widget,
    WidgetKind,
)
from hmic.model.design import Design, sources_of
from hmic.model.expressions import walk
from hmic.model.limits import Limits

PAIRS = (frozenset(("turn_left", "turn_right")),)
"""Pictograms that may light together."""
LEAST_CHROMA = 15
"""CIELAB chroma from which a colour is one, and no grey (our own choice)."""
LIKE_DOUBT = 5
"""CIEDE2000 below which a role passes for that of a value in doubt (our own choice)."""
_NEUTRAL = frozenset(("ground", "surface", "line", "ink", "quiet", "stale"))


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C433 many colours at once, C434 a state that colour alone tells, C435 many lamps that flash, C436 the
    look of doubt as a colour, C446 one pictogram for two things, C447 two for one, C448 red for what is no
    danger, C449 green for what is one."""
    states = list(lamp_states(design, arranged))
    findings = [*_two_meanings(states, design), *_two_pictograms(states), *_against_colours(states)]
    on_the_road = reachable(design, arranged)
    rising = frozenset().union(*(cause.signals for each in arranged.screens for cause in each.rises))
    risen = sources_of(rising, design)
    for screen in arranged.screens:
        findings.extend(_many_colours(screen, design, limits))
        findings.extend(_many_flashing(screen, limits))
        near = [state for state in states if state.screen is screen or state.screen.name == design.start]
        told = risen if screen.name in on_the_road else None
        findings.extend(_told_by_colour(screen, near, told, design))
        for piece in screen.pieces:
            findings.extend(_static(piece.widget, screen))
            findings.extend(_bands(piece.widget, design))
            findings.extend(_doubtful(piece.widget, design))
    return findings


def _two_meanings(states: Sequence[LampState], design: Design) -> Iterator[Finding]:
    """C446: lamps of one pictogram that have no source in common and no caption of their own; those of two
    roles only if nothing else shows that they are of one thing."""
    told: dict[str, list[Finding]] = {}
    for first, other in itertools.combinations(states, 2):
        if first.word != other.word or first.piece is other.piece:
            continue
        if first.role != other.role and _akin(first, other, design):
            continue
        if first.sources & other.sources or not first.sources or not other.sources:
            continue
        if _caption(first.piece) != _caption(other.piece):
            continue
        message = (
            f"the pictogram '{first.word}' lights in `{first.role}` for {_listed(first.sources)} on screen "
            f"'{first.screen.name}' and in `{other.role}` for {_listed(other.sources)} on screen "
            f"'{other.screen.name}'"
        )
        remedy = "use another pictogram for one of them, or tell them apart by called"
        told.setdefault(first.word, []).append(
            Finding("C446", Severity.WARNING, message, other.piece.widget.head, remedy)
        )
    for alike in told.values():
        yield told_once(alike)


def _akin(first: LampState, other: LampState, design: Design) -> bool:
    """Whether signals of one group light both, or both say one word of more than three letters."""
    said = [set(re.findall(r"\w{4,}", _means(state.piece))) for state in (first, other)]
    things = [_things(state.sources, design) for state in (first, other)]
    return bool(things[0] & things[1] or said[0] & said[1])


def _things(names: frozenset[str], design: Design) -> set[str]:
    """What signals are of: the first words of their names, and of all that come in the same message."""
    sources = {name: definition.source for name, definition in design.signals.items()}
    messages = {(each.bus, each.message) for name in names if (each := sources.get(name)) is not None}
    beside = {name for name, each in sources.items() if each and (each.bus, each.message) in messages}
    return {name.split(".")[0] for name in names | beside}


def _two_pictograms(states: Sequence[LampState]) -> Iterator[Finding]:
    """C447: lamps of two pictograms that one condition lights in one role; of many, C437 tells."""
    flooding = set(floods(states))
    told: dict[frozenset[str], list[Finding]] = {}
    for first, other in itertools.combinations(states, 2):
        words = frozenset((first.word, other.word))
        if len(words) == 1 or words in PAIRS or first.role != other.role:
            continue
        same = written(first.phrase.values[0]) == written(other.phrase.values[0])
        if same and flooding & set(causes(first)):
            continue
        meant = _means(first.piece)
        alike = meant and meant == _means(other.piece) and first.sources == other.sources
        if not same and not alike:
            continue
        message = (
            f"'{first.word}' on screen '{first.screen.name}' and '{other.word}' on screen "
            f"'{other.screen.name}' both light in `{first.role}` for {_listed(first.sources)}"
        )
        remedy = f"use lamp {first.word} for both, or lamp {other.word}"
        told.setdefault(words, []).append(
            Finding("C447", Severity.WARNING, message, other.piece.widget.head, remedy)
        )
    for found in told.values():
        yield told_once(found)


def _against_colours(states: Sequence[LampState]) -> Iterator[Finding]:
    """C448 and C449 of lamps, by the words of what lights them: once for a pictogram and its condition."""
    told: dict[tuple[str, str, str], list[Finding]] = {}
    for state in states:
        condition = state.phrase.values[0]
        if state.role == DANGER and is_orderly(condition):
            message = f"the lamp '{state.word}' turns red while {written(condition)}, which is no danger"
            found = Finding("C448", Severity.WARNING, message, state.phrase.span)
            mend = write(state.phrase.span, f"good while {written(condition)}")
            found = mended_by(found, mend, ", or notice")
            told.setdefault((state.word, state.role, written(condition)), []).append(found)
        if state.role == GOOD and is_fault(condition):
            message = f"the lamp '{state.word}' turns green while {written(condition)}, which is a fault"
            found = Finding("C449", Severity.WARNING, message, state.phrase.span)
            mend = write(state.phrase.span, f"caution while {written(condition)}")
            found = mended_by(found, mend, ", or danger")
            told.setdefault((state.word, state.role, written(condition)), []).append(found)
    for alike in told.values():
        yield told_once(alike)


def _static(widget: Widget, screen: ArrangedScreen) -> Iterator[Finding]:
    """C448 of what is always red or amber, on a screen that does not come up for a danger itself."""
    if screen.rises:
        return
    for phrase in (each for one in (widget, *widget.children) for each in one.all(PhraseKind.COLOUR)):
        role = phrase.words[0]
        if role in ALARMS:
            message = (
                f"on screen '{screen.name}' this {widget.kind} is in `{role}` whether or not there is any"
            )
            found = Finding("C448", Severity.WARNING, message, phrase.span)
            more = f", or {role} while, above or below what makes it so"
            yield mended_by(found, write(phrase.span, "colour ink", unasked=True), more)


def _bands(widget: Widget, design: Design) -> Iterator[Finding]:
    """C448 and C449 of what rises or falls against its meaning: little charge is the danger, and much
    heat."""
    subject = widget.subject
    if subject is None or widget.kind in (WidgetKind.LAMP, WidgetKind.LABEL):
        return
    above, below = widget.all(PhraseKind.ABOVE), widget.all(PhraseKind.BELOW)
    if not above and not below:
        return
    low_bad, hot = low_is_bad(subject), _is_heat(subject, design)
    alarms = [phrase for phrase in below if phrase.words[0] in ALARMS]
    for phrase in above:
        role, at = phrase.words[0], written(phrase.values[0])
        if low_bad and role in ALARMS and not alarms:
            message = f"much of {written(subject)} is told as {role}, and little of it is not"
            found = Finding("C448", Severity.WARNING, message, phrase.span)
            yield mended_by(
                found, write(phrase.span, f"{role} below {at}"), ", at the value that is too little"
            )
        if hot and role == GOOD:
            message = f"{written(subject)} is told as good above {at}: green for heat"
            found = Finding("C449", Severity.WARNING, message, phrase.span)
            yield mended_by(found, write(phrase.span, f"caution above {at}"))
    for phrase in below:
        if low_bad and phrase.words[0] == "good":
            at = written(phrase.values[0])
            message = f"{written(subject)} is told as good below {at}: green for little of it"
            found = Finding("C449", Severity.WARNING, message, phrase.span)
            yield mended_by(found, write(phrase.span, f"caution below {at}"))


def _is_heat(subject: Expression, design: Design) -> bool:
    if not isinstance(subject, Signal):
        return False
    definition = design.signals.get(subject.name)
    unit = definition.unit if definition is not None else None
    return unit is not None and unit.spelling in HEATS and last_word(subject) != "outside"


def _doubtful(widget: Widget, design: Design) -> Iterator[Finding]:
    """C436: what is written in the role that says that a value cannot be trusted, or in one that looks like
    it."""
    for phrase in widget.phrases:
        role = phrase.words[0] if phrase.kind in ROLE_PHRASES and phrase.words else ""
        like = role not in ("", "stale") and _looks_doubtful(role, design)
        if role == "stale" or like:
            message = f"this {widget.kind} is live in `{role}`, " + (
                "which looks like that of a value in doubt" if like else "the look of a value in doubt"
            )
            remedy = f"write quiet in place of {role}"
            found = Finding("C436", Severity.WARNING, message, phrase.span, remedy)
            plain = phrase.kind == PhraseKind.COLOUR
            yield mended_by(found, write(phrase.span, "colour quiet", unasked=True) if plain else None)


def _looks_doubtful(role: str, design: Design) -> bool:
    """Whether a role is, in one of the themes, nearly the colour of doubt."""
    return any(
        difference(theme.roles[role], theme.roles["stale"]) < LIKE_DOUBT
        for theme in design.themes
        if role in theme.roles
    )


def _many_colours(screen: ArrangedScreen, design: Design, limits: Limits) -> Iterator[Finding]:
    """C433, by ``colours``."""
    limit = limits["colours at once"]
    found = colours(screen, design)
    if len(found) > limit.value:
        message = f"screen '{screen.name}' has {len(found)} colours while nothing is wrong: " + ", ".join(
            found
        )
        remedy = "write colour ink for what needs no colour, and keep colours for what they tell"
        yield limit.finding("C433", message, screen.span, remedy, float(len(found)))


def colours(screen: ArrangedScreen, design: Design) -> list[str]:
    """The colours that stand on a screen while nothing is wrong; a ramp counts as one."""
    found: dict[str, None] = {}
    for piece in screen.pieces:
        for one in (piece.widget, *piece.widget.children):
            for phrase in one.phrases:
                if phrase.kind == PhraseKind.RAMP:
                    found[f"ramp {phrase.words[0]}"] = None
                elif phrase.kind == PhraseKind.COLOUR or _in_order(phrase):
                    role = phrase.words[0]
                    if role not in _NEUTRAL and _chroma(role, design) >= LEAST_CHROMA:
                        found[role] = None
    return list(found)


def _in_order(phrase: Phrase) -> bool:
    return phrase.kind in ROLE_PHRASES and phrase.words[0] in ("good", "notice")


def _chroma(role: str, design: Design) -> float:
    colours = [theme.roles[role] for theme in design.themes if role in theme.roles]
    return max((math.hypot(*lab(colour)[1:]) for colour in colours), default=0.0)


def _many_flashing(screen: ArrangedScreen, limits: Limits) -> Iterator[Finding]:
    """C435: an alarm that is one of many is found by none."""
    limit = limits["flashing at once"]
    lamps = [
        piece.widget
        for piece in screen.pieces
        if any("flashing" in phrase.words for phrase in piece.widget.all(PhraseKind.STATE))
    ]
    if len(lamps) > limit.value:
        message = f"on screen '{screen.name}' {len(lamps)} lamps can flash at once"
        remedy = "let only those flash that must be answered at once"
        found = [
            limit.finding("C435", message, lamp.head, remedy, float(len(lamps)))
            for lamp in lamps[int(limit.value) :]
        ]
        yield told_once(found)


def _told_by_colour(
    screen: ArrangedScreen, states: Sequence[LampState], risen: frozenset[str] | None, design: Design
) -> Iterator[Finding]:
    """C434: words that turn red for something that they do not say; on screens that can be open on the road
    also figures whose danger no lamp tells of, there or on the first; beside the first a lamp of the same
    thing does. ``risen`` are signals for which a screen comes up, None on a screen that cannot be open there.
    """
    for piece in screen.pieces:
        widget = piece.widget
        own = _sources(widget.subject, design)
        for phrase in widget.phrases:
            if not phrase.words or phrase.words[0] not in ALARMS:
                continue
            if widget.kind == WidgetKind.WORDS and phrase.kind == PhraseKind.STATE:
                told_of = _sources(phrase.values[0], design)
                if not told_of or told_of & own:
                    continue
            elif (
                widget.kind == WidgetKind.READING
                and phrase.words[0] == "danger"
                and risen is not None
                and not own & risen
                and phrase.kind in (PhraseKind.ABOVE, PhraseKind.BELOW)
            ):
                told_of = own
            else:
                continue
            lamps = [state.sources for state in states if state.role in ALARMS]
            if any(told_of & sources for sources in lamps):
                continue
            # Somebody has turned there: a lamp of what it belongs to is the second sign.
            own_things = _things(told_of, design)
            if screen.name != design.start and any(own_things & _things(each, design) for each in lamps):
                continue
            message = (
                f"on screen '{screen.name}' only the colour of this {widget.kind} tells that "
                f"{written(widget.subject) if widget.subject is not None else 'it'} is in {phrase.words[0]}"
            )
            remedy = f"add a lamp that lights for it: lamp warning, {_lighting(widget, phrase)}"
            yield Finding("C434", Severity.WARNING, message, phrase.span, remedy)
            break


def _lighting(widget: Widget, phrase: Phrase) -> str:
    at = written(phrase.values[0])
    if phrase.kind == PhraseKind.STATE or widget.subject is None:
        return f"{phrase.words[0]} while {at}"
    sign = ">" if phrase.kind == PhraseKind.ABOVE else "<"
    return f"{phrase.words[0]} while {written(widget.subject)} {sign} {at}"


def _sources(node: Expression | None, design: Design) -> frozenset[str]:
    if node is None:
        return frozenset()
    return sources_of({item.name for item in walk(node) if isinstance(item, Signal)}, design)


def _caption(piece: PieceFact) -> str:
    phrase = piece.widget.one(PhraseKind.CALLED)
    return phrase.values[0].text if phrase is not None and isinstance(phrase.values[0], Text) else ""


def _means(piece: PieceFact) -> str:
    phrase = piece.widget.one(PhraseKind.MEANS)
    return phrase.values[0].text.lower() if phrase is not None and isinstance(phrase.values[0], Text) else ""


def _listed(names: frozenset[str]) -> str:
    return ", ".join(sorted(names)) or "nothing"
