"""What lamps say: colours by their published meaning, and danger that can always be seen."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.colour import Colour, difference, lab
from hmic.check.edits import setting, write
from hmic.check.lamps import ALARMS, DANGER, lamp_states
from hmic.check.nearest import hexadecimal
from hmic.check.ramps import hue
from hmic.check.ways import reachable
from hmic.diagnostics import Basis, Finding, Mend, Severity, mended_by, told_once
from hmic.language.spelling import written
from hmic.language.syntax import Phrase, PhraseKind, Signal
from hmic.model.channels import FirstTrue
from hmic.model.design import START, Design, ThemeDefinition, sources_of
from hmic.model.expressions import walk
from hmic.model.limits import CHOICE, MEMORY, READ, Limit, Limits
from hmic.paint.operations import Box, Operation

CODE_OF_COLOURS = (
    "ISO 2575 clause 5, by UN R121 note 18: red danger, yellow or amber caution, green in order, "
    "blue high beam"
)
# CIELAB hue angles that are called by the colour's name.
HUES: Mapping[str, tuple[float, float, str]] = {
    "danger": (15, 50, "red"),
    "caution": (55, 108, "yellow or amber"),
    "good": (120, 185, "green"),
    "notice": (230, 310, "blue"),
}
_CALLED = "hue angles that are called red, amber, green and blue; which they have to be: " + CODE_OF_COLOURS
LEAST_CHROMA = Limit(20, "of chroma", "a colour paler than this in CIELAB passes for grey", CHOICE)


LIT_CHROMA = 45
"""CIELAB chroma of a colour that is proposed for a lamp (our own choice)."""


class Telltale(NamedTuple):
    """The roles whose colours a published telltale may have, and by what."""

    roles: frozenset[str]
    says: str
    basis: Basis


def _telltale(roles: str, says: str, basis: Basis) -> Telltale:
    return Telltale(frozenset(roles.split()), f"UN R121 table 1: {says}", basis)


# Pictograms that stand for a published telltale. `parking` is none: it says parked, as the gear P does.
PUBLISHED: Mapping[str, Telltale] = {
    "light": _telltale("good notice", "dipped beam and position lamps green, high beam blue", READ),
    "side_lights": _telltale("good", "row 19: position lamps green", READ),
    "dipped_beam": _telltale("good", "row 2: dipped beam green", READ),
    "main_beam": _telltale("notice", "row 3: high beam blue", READ),
    "turn_left": _telltale("good", "row 5: direction indicator green", READ),
    "turn_right": _telltale("good", "row 5: direction indicator green", READ),
    "hazard": _telltale("danger", "row 6: hazard warning red", READ),
    "front_fog": _telltale("good", "row 7: front fog lamps green", READ),
    "rear_fog": _telltale("caution", "row 8: rear fog lamp yellow", MEMORY),
    "brake": _telltale("danger caution", "brake failure red, antilock yellow", MEMORY),
    "brake_fault": _telltale("danger", "brake failure red", MEMORY),
    "abs": _telltale("caution", "antilock brake malfunction yellow", MEMORY),
    "park_brake": _telltale("danger", "parking brake red", MEMORY),
    "belt": _telltale("danger", "seat belt red", MEMORY),
    "airbag": _telltale("danger caution", "airbag malfunction yellow or red", MEMORY),
    "tyre": _telltale("caution", "low tyre pressure yellow", MEMORY),
    "tyre_pressure": _telltale("caution", "low tyre pressure yellow", MEMORY),
    "coolant": _telltale("danger caution", "coolant temperature red", MEMORY),
    "auxiliary_battery": _telltale("danger caution", "electrical charging red", MEMORY),
}
AT_THE_POST = frozenset(("cable", "charger", "inlet", "plug"))
"""Pictograms of charging, which is done standing: what they tell of is no danger on the road."""


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C440 a role's colour, C441 a lamp's colour, C442 a hidden danger lamp, C443 a screen that keeps
    a danger from the driver, C444 a lamp without words."""
    findings = _roles(design)
    for at, screen in enumerate(arranged.screens):
        operations = arranged.drawing.screens[at].operations
        for piece in screen.pieces:
            if piece.symbol is not None and piece.symbol.states is not None:
                findings.extend(_meaning(piece))
                findings.extend(_hidden(piece, piece.symbol.box, screen, operations))
    findings.extend(_untold(design, arranged))
    findings.extend(_elsewhere(design, arranged))
    return findings


def _roles(design: Design) -> list[Finding]:
    findings = []

    def recoloured(theme: ThemeDefinition, role: str, low: float, high: float) -> Mend | None:
        def called(colour: Colour) -> bool:
            return low <= hue(colour) <= high and math.hypot(*lab(colour)[1:]) >= LIT_CHROMA

        # No straight way leads from one hue to another.
        steps = range(0, 256, 17)
        every = ((red, green, blue) for red in steps for green in steps for blue in steps)
        found = min(filter(called, every), key=lambda colour: difference(colour, theme.roles[role]))
        at = ("themes", theme.name, "roles", role)
        return setting(design, theme.span.file, at, f'"{hexadecimal(found)}"')

    for theme in design.themes:
        for role, (low, high, name) in HUES.items():
            colour = theme.roles[role]
            angle, chroma = hue(colour), math.hypot(*lab(colour)[1:])
            message = f"`{role}` of theme '{theme.name}' is {hexadecimal(colour)}, which is not {name}"
            remedy = f"choose a {name} for `{role}`: a hue angle of {low:g} to {high:g} degrees"
            other = f", or another {name}: a hue angle of {low:g} to {high:g} degrees"
            if chroma < LEAST_CHROMA.value:
                found = LEAST_CHROMA.finding("C440", f"{message} but grey", theme.span, remedy, chroma)
                findings.append(mended_by(found, recoloured(theme, role, low, high), other))
            elif not low <= angle <= high:
                edge = min(low, high, key=lambda edge: abs((angle - edge + 180) % 360 - 180))
                limit = Limit(edge, "degrees", _CALLED, CHOICE)
                found = limit.finding("C440", message, theme.span, remedy, angle)
                findings.append(mended_by(found, recoloured(theme, role, low, high), other))
    return findings


def _meaning(piece: PieceFact) -> Iterator[Finding]:
    widget = piece.widget
    if widget.one(PhraseKind.MEANS) is None:
        remedy = 'add means "what it says and what to do"'
        message = f"the lamp '{widget.word}' has no words, so nobody can look up what it means"
        yield Finding("C444", Severity.WARNING, message, widget.head, remedy)
    known = PUBLISHED.get(widget.word or "")
    if known is None:
        return
    for phrase in widget.all(PhraseKind.STATE):
        role = phrase.words[0]
        if role in HUES and role not in known.roles:
            allowed = " or ".join(sorted(known.roles))
            message = f"the lamp '{widget.word}' lights in `{role}`, not in its published colour"
            remedy = f"write {allowed} while ..., or use another pictogram for what it means here"
            # What becomes a danger has to be told on other screens too.
            (other, *more) = sorted(known.roles)
            mend = None if more or other == DANGER else write(phrase.span, _in_role(phrase, other))
            told = Finding("C441", Severity.WARNING, message, phrase.span, remedy)
            told = replace(told, source=known.says, basis=known.basis)
            yield mended_by(told, mend, ", or use another pictogram for what it means here")


def _in_role(phrase: Phrase, role: str) -> str:
    flashing = "flashing " if "flashing" in phrase.words else ""
    return f"{flashing}{role} while {written(phrase.values[0])}"


def _hidden(
    piece: PieceFact, place: Box, screen: ArrangedScreen, operations: Sequence[Operation]
) -> Iterator[Finding]:
    if not any(phrase.words[0] == "danger" for phrase in piece.widget.all(PhraseKind.STATE)):
        return
    covered = 0
    for operation in operations[piece.last :]:
        covered = max(covered, _common(place, operation.box))
    if covered:
        share = covered * 100 / max(1, place.width * place.height)
        message = f"on screen '{screen.name}' something is painted over the danger lamp '{piece.widget.word}'"
        remedy = "move one of them; nothing may cover a danger lamp"
        yield Finding(
            "C442", Severity.ERROR, message, piece.widget.head, remedy, share, 0.0, "% of its place"
        )


def _common(one: Box, other: Box) -> int:
    across = min(one.left + one.width, other.left + other.width) - max(one.left, other.left)
    down = min(one.top + one.height, other.top + other.height) - max(one.top, other.top)
    return max(0, across) * max(0, down)


def _untold(design: Design, arranged: Arranged) -> Iterator[Finding]:
    by_name = {screen.name: at for at, screen in enumerate(arranged.screens)}
    told = {name: _dangers(arranged, at) for name, at in by_name.items()}
    rising = frozenset().union(*(cause.signals for screen in arranged.screens for cause in screen.rises))
    first = told.get(design.start, {})
    untold: dict[tuple[str, frozenset[str]], list[str]] = {}
    for name in sorted(reachable(design, arranged)):
        here = frozenset().union(*told[name].values()) if told[name] else frozenset()
        for word, signals in sorted(first.items()):
            if missing := signals - here - rising:
                untold.setdefault((word, missing), []).append(name)
    for (word, missing), names in untold.items():
        cause = _lighting(arranged, by_name[design.start], word, missing)
        screens = ", ".join(f"'{name}'" for name in names)
        told_of = f"tell of {', '.join(sorted(missing))}, which lights '{word}' on '{design.start}'"
        message = f"screen {screens} can be open on the road and does not {told_of}"
        remedy = f"show lamp {word} there too, or add a screen that `comes up when {cause}`"
        if len(names) > 1:
            message = f"screens {screens} can be open on the road and do not {told_of}"
        spans = [arranged.screens[by_name[name]].span for name in names]
        yield told_once([Finding("C443", Severity.WARNING, message, span, remedy) for span in spans])


def _elsewhere(design: Design, arranged: Arranged) -> Iterator[Finding]:
    """C468: a danger that a screen tells of, and the first does not, where the driver looks."""
    states = list(lamp_states(design, arranged))
    rising = frozenset().union(*(cause.signals for screen in arranged.screens for cause in screen.rises))
    first = sources_of(rising, design).union(
        *(state.sources for state in states if state.screen.name == design.start and state.role in ALARMS)
    )
    told: dict[str, list[Finding]] = {}
    for state in states:
        if state.role != DANGER or state.word in AT_THE_POST or state.sources & first:
            continue
        condition = written(state.phrase.values[0])
        message = (
            f"the danger lamp '{state.word}' for {', '.join(sorted(state.sources))} is on screen "
            f"'{state.screen.name}', not on '{design.start}', where the driver looks"
        )
        remedy = (
            f"show it on '{design.start}' too: lamp {state.word}, danger while {condition}; or add a screen "
            f"that `comes up when {condition}`"
        )
        head = state.piece.widget.head
        told.setdefault(condition, []).append(
            Finding("C468", Severity.WARNING, message, head, remedy, rests_on=(START,))
        )
    for alike in told.values():
        yield told_once(alike)


def _lighting(arranged: Arranged, place: int, word: str, missing: frozenset[str]) -> str:
    """The condition, as the lamp has it, that lights its danger by one of the ``missing`` signals."""
    lamps = [piece.widget for piece in arranged.screens[place].pieces if piece.widget.word == word]
    for lamp in lamps:
        for phrase in lamp.all(PhraseKind.STATE):
            read = {node.name for node in walk(phrase.values[0]) if isinstance(node, Signal)}
            if phrase.words[0] == "danger" and read & missing:
                return written(phrase.values[0])
    return sorted(missing)[0]


def _dangers(arranged: Arranged, place: int) -> dict[str, frozenset[str]]:
    """For each pictogram the signals that light a danger state of it on a screen."""
    found: dict[str, frozenset[str]] = {}
    for piece in arranged.screens[place].pieces:
        if piece.symbol is None or piece.symbol.states is None:
            continue
        steps = arranged.channels[piece.symbol.states].steps
        assert isinstance(steps, FirstTrue)
        for phrase, condition in zip(piece.widget.all(PhraseKind.STATE), steps.conditions, strict=True):
            word = piece.widget.word or ""
            if phrase.words[0] == "danger" and word not in AT_THE_POST:
                found[word] = found.get(word, frozenset()) | condition.signals
    return found
