"""What lamps say: colours by their published meaning, and danger that can always be seen."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.nearest import hexadecimal
from hmic.check.ramps import hue
from hmic.diagnostics import Finding, Severity, told_once
from hmic.language.spelling import written
from hmic.language.syntax import PhraseKind, Signal
from hmic.model.actions import GoTo
from hmic.model.channels import FirstTrue
from hmic.model.design import Design
from hmic.model.expressions import walk
from hmic.model.limits import MEMORY, Limit, Limits
from hmic.paint.operations import Box, Operation

CODE_OF_COLOURS = (
    "ISO 2575 clause 5, seen in part: red danger, yellow or amber caution, green in order, blue high beam"
)
# CIELAB hue angles that are called by the colour's name; this project's choice.
HUES: Mapping[str, tuple[float, float, str]] = {
    "danger": (15, 50, "red"),
    "caution": (55, 108, "yellow or amber"),
    "good": (120, 185, "green"),
    "notice": (230, 310, "blue"),
}
_R121 = "UN R121 table 1"
# Pictograms that stand for a published telltale: the roles whose colours it may have, and the source.
PUBLISHED: Mapping[str, tuple[frozenset[str], str]] = {
    "light": (
        frozenset({"good", "notice"}),
        f"{_R121}: dipped beam and position lamps green, high beam blue",
    ),
    "side_lights": (frozenset({"good"}), f"{_R121}, row 19: position lamps green"),
    "dipped_beam": (frozenset({"good"}), f"{_R121}, row 2: dipped beam green"),
    "main_beam": (frozenset({"notice"}), f"{_R121}, row 3: high beam blue"),
    "turn_left": (frozenset({"good"}), f"{_R121}, row 5: direction indicator green"),
    "turn_right": (frozenset({"good"}), f"{_R121}, row 5: direction indicator green"),
    "hazard": (frozenset({"danger"}), f"{_R121}, row 6: hazard warning red"),
    "front_fog": (frozenset({"good"}), f"{_R121}, row 7: front fog lamps green"),
    "rear_fog": (frozenset({"caution"}), f"{_R121}, row 8: rear fog lamp yellow, {MEMORY}"),
    "brake": (frozenset({"danger", "caution"}), f"{_R121}: brake failure red, antilock yellow, {MEMORY}"),
    "brake_fault": (frozenset({"danger"}), f"{_R121}: brake failure red, {MEMORY}"),
    "abs": (frozenset({"caution"}), f"{_R121}: antilock brake malfunction yellow, {MEMORY}"),
    "parking": (frozenset({"danger"}), f"{_R121}: parking brake red, {MEMORY}"),
    "park_brake": (frozenset({"danger"}), f"{_R121}: parking brake red, {MEMORY}"),
    "belt": (frozenset({"danger"}), f"{_R121}: seat belt red, {MEMORY}"),
    "airbag": (frozenset({"danger", "caution"}), f"{_R121}: airbag malfunction yellow or red, {MEMORY}"),
    "tyre": (frozenset({"caution"}), f"{_R121}: low tyre pressure yellow, {MEMORY}"),
    "tyre_pressure": (frozenset({"caution"}), f"{_R121}: low tyre pressure yellow, {MEMORY}"),
    "coolant": (frozenset({"danger", "caution"}), f"{_R121}: coolant temperature red, {MEMORY}"),
    "auxiliary_battery": (frozenset({"danger", "caution"}), f"{_R121}: electrical charging red, {MEMORY}"),
}


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C440 a role's colour, C441 a lamp's colour, C442 a hidden danger lamp, C443 a screen that keeps
    a danger from the driver, C444 a lamp without words."""
    findings = _roles(design)
    for number, screen in enumerate(arranged.screens):
        operations = arranged.drawing.screens[number].operations
        for piece in screen.pieces:
            if piece.symbol is not None and piece.symbol.states is not None:
                findings.extend(_meaning(piece))
                findings.extend(_hidden(piece, piece.symbol.box, screen, operations))
    findings.extend(_untold(design, arranged))
    return findings


def _roles(design: Design) -> list[Finding]:
    findings = []
    for theme in design.themes:
        for role, (low, high, name) in HUES.items():
            angle = hue(theme.roles[role])
            if low <= angle <= high:
                continue
            message = (
                f"`{role}` of theme '{theme.name}' is {hexadecimal(theme.roles[role])}, which is not {name}"
            )
            remedy = f"choose a {name} for `{role}`: a hue angle of {low:g} to {high:g} degrees"
            edge = min(low, high, key=lambda edge: abs((angle - edge + 180) % 360 - 180))
            limit = Limit(edge, "degrees", CODE_OF_COLOURS)
            findings.append(limit.finding("C440", message, theme.span, remedy, angle))
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
    roles, source = known
    for phrase in widget.all(PhraseKind.STATE):
        role = phrase.words[0]
        if role in HUES and role not in roles:
            allowed = " or ".join(sorted(roles))
            message = f"the lamp '{widget.word}' lights in `{role}`, not in its published colour"
            remedy = f"write {allowed} while ..., or use another pictogram for what it means here"
            yield Finding("C441", Severity.WARNING, message, phrase.span, remedy, source=source)


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
    by_name = {screen.name: number for number, screen in enumerate(arranged.screens)}
    told = {name: _dangers(arranged, number) for name, number in by_name.items()}
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


def _lighting(arranged: Arranged, number: int, word: str, missing: frozenset[str]) -> str:
    """The condition, as the lamp has it, that lights its danger by one of the ``missing`` signals."""
    lamps = [piece.widget for piece in arranged.screens[number].pieces if piece.widget.word == word]
    for lamp in lamps:
        for phrase in lamp.all(PhraseKind.STATE):
            read = {node.name for node in walk(phrase.values[0]) if isinstance(node, Signal)}
            if phrase.words[0] == "danger" and read & missing:
                return written(phrase.values[0])
    return sorted(missing)[0]


def _dangers(arranged: Arranged, number: int) -> dict[str, frozenset[str]]:
    """For each pictogram the signals that light a danger state of it on a screen."""
    found: dict[str, frozenset[str]] = {}
    for piece in arranged.screens[number].pieces:
        if piece.symbol is None or piece.symbol.states is None:
            continue
        steps = arranged.channels[piece.symbol.states].steps
        assert isinstance(steps, FirstTrue)
        for phrase, condition in zip(piece.widget.all(PhraseKind.STATE), steps.conditions, strict=True):
            if phrase.words[0] == "danger":
                word = piece.widget.word or ""
                found[word] = found.get(word, frozenset()) | condition.signals
    return found


def reachable(design: Design, arranged: Arranged) -> set[str]:
    """Screens that can be opened from the first by touches and swipes, whatever the vehicle does."""
    by_name = {screen.name: screen for screen in arranged.screens}
    ways: dict[str, set[str]] = {name: set() for name in by_name}
    for name, screen in by_name.items():
        ways[name] |= {target for _, target in screen.swipes}
        for zone in screen.zones:
            if isinstance(zone.action, GoTo) and zone.allowed is None:
                ways[name].add(zone.action.screen)
    order = [name for name in design.order if name in by_name]
    for one, other in itertools.pairwise(order):
        ways[one].add(other)
        ways[other].add(one)
    found, rest = {design.start}, [design.start]
    while rest:
        for name in ways[rest.pop()] - found:
            found.add(name)
            rest.append(name)
    return found
