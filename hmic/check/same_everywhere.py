"""What has to be alike wherever it is: units, and the place of a control."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.arrange.plan import meet
from hmic.check.edits import write
from hmic.diagnostics import Finding, Severity, Span, mended_by, told_once
from hmic.language.spelling import written
from hmic.language.syntax import CONTROLS, PhraseKind, Text, Widget, WidgetKind
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.paint.operations import Box, Figures

FAMILIES = (
    ("°C", "°F"),
    ("km/h", "mph"),
    ("km", "mi"),
    ("bar", "kPa", "psi"),
    ("l", "gal"),
    ("kWh/100km", "Wh/km", "km/kWh", "mi/kWh"),
)
"""Units of one quantity that are read for each other. Those of one measure, such as W and kW, are not."""

_BARE = re.compile(r"[\s\d.,:+-]*")
"""A format that names no unit."""


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C418 a control at another place or in another order, C464 two units of one quantity, C465 a number
    without its unit."""
    return [*_moved(arranged), *_mixed(arranged), *_bare(arranged)]


class _Place(NamedTuple):
    screen: str
    box: Box
    span: Span


def _moved(arranged: Arranged) -> Iterator[Finding]:
    """Controls of one act, or buttons of one text, that stand apart on two screens."""
    found: dict[str, list[_Place]] = {}
    for screen in arranged.screens:
        for piece in screen.pieces:
            name = _act(piece.widget)
            if name:
                found.setdefault(name, []).append(_Place(screen.name, piece.box, piece.widget.head))
    swapped, inside = _reordered(found)
    yield from swapped
    for name, places in found.items():
        # Two of one act on one screen are told apart by their texts.
        if len({place.screen for place in places}) < len(places):
            continue
        moved = [
            (first, other)
            for first, other in itertools.combinations(places, 2)
            if not meet(first.box, other.box) and (name, first.screen, other.screen) not in inside
        ]
        if moved:
            first, other = moved[0]
            message = (
                f"{name} stands at another place on screen '{other.screen}' than on screen '{first.screen}'"
            )
            remedy = "give it the same area of the plan on both: the hand finds it without the eyes"
            spans = dict.fromkeys(place.span for pair in moved for place in pair[1:])
            yield told_once([Finding("C418", Severity.WARNING, message, span, remedy) for span in spans])


def _reordered(
    found: Mapping[str, Sequence[_Place]],
) -> tuple[list[Finding], set[tuple[str, str, str]]]:
    """Two screens on which controls stand in a row in another order: told once, in place of each control by
    itself; and which those are."""
    on: dict[str, dict[str, _Place]] = {}
    for name, places in found.items():
        for place in places:
            on.setdefault(place.screen, {}).setdefault(name, place)
    findings, inside = [], set()
    for first, other in itertools.combinations(on, 2):
        both = [name for name in on[first] if name in on[other]]
        turned = [
            pair
            for pair in itertools.combinations(both, 2)
            if _order(on[first], *pair) * _order(on[other], *pair) < 0
        ]
        names = list(dict.fromkeys(name for pair in turned for name in pair))
        if names:
            message = (
                f"{' and '.join(names)} stand in another order on screen '{other}' than on screen '{first}'"
            )
            remedy = "give them the same areas of the plan on both: the hand finds them without the eyes"
            spans = [on[other][name].span for name in names]
            findings.append(
                told_once([Finding("C418", Severity.WARNING, message, span, remedy) for span in spans])
            )
            inside |= {(name, first, other) for name in names}
    return findings, inside


def _order(places: Mapping[str, _Place], first: str, second: str) -> int:
    """1 where the first of two in a row, or in a column, comes first, -1 where the other does, else 0."""
    one, other = places[first].box, places[second].box
    across = one.top < other.top + other.height and other.top < one.top + one.height
    down = one.left < other.left + other.width and other.left < one.left + one.width
    if across == down:
        return 0
    return 1 if (one.left < other.left if across else one.top < other.top) else -1


def _act(widget: Widget) -> str:
    if widget.kind == WidgetKind.BUTTON and isinstance(widget.subject, Text):
        return f'button "{widget.subject.text}"'
    if widget.kind in CONTROLS and widget.kind not in (WidgetKind.BUTTON, WidgetKind.LIST):
        return f"the {widget.kind} of {written(widget.subject)}" if widget.subject is not None else ""
    return ""


def _mixed(arranged: Arranged) -> Iterator[Finding]:
    units: dict[str, list[tuple[str, Span]]] = {}
    for number, screen in enumerate(arranged.screens):
        operations = arranged.drawing.screens[number].operations
        for piece in screen.pieces:
            for item in operations[piece.first : piece.last]:
                value = arranged.channels[item.channel].value if isinstance(item, Figures) else None
                if value is not None and value.unit is not None and not value.unit.difference:
                    units.setdefault(value.unit.spelling, []).append((screen.name, piece.widget.head))
    for family in FAMILIES:
        used = sorted((unit for unit in family if unit in units), key=lambda unit: -len(units[unit]))
        for unit in used[1:]:
            usual = units[used[0]][0][0]
            message = (
                f"screen '{units[unit][0][0]}' shows {unit} where screen '{usual}' shows {used[0]}: one is "
                "read for the other"
            )
            remedy = f"write as ... {used[0]} here too, or locale: {{units: {{{unit}: {used[0]}}}}}"
            places = dict.fromkeys(span for _, span in units[unit])
            yield told_once([Finding("C464", Severity.WARNING, message, span, remedy) for span in places])


def _bare(arranged: Arranged) -> Iterator[Finding]:
    """A reading that has a unit which stands nowhere on its screen."""
    for number, screen in enumerate(arranged.screens):
        operations = arranged.drawing.screens[number].operations
        for piece in screen.pieces:
            form = piece.widget.one(PhraseKind.FORMAT)
            if piece.widget.kind != WidgetKind.READING or form is None:
                continue
            figures = [item for item in operations[piece.first : piece.last] if isinstance(item, Figures)]
            value = arranged.channels[figures[0].channel].value if figures else None
            spelt = value.unit.spelling if value is not None and value.unit is not None else ""
            pattern = form.values[0]
            if not spelt or not isinstance(pattern, Text) or not _BARE.fullmatch(pattern.text):
                continue
            if _named(spelt, screen):
                continue
            message = f"on screen '{screen.name}' nothing tells that this reading is in {spelt}"
            found = Finding("C465", Severity.WARNING, message, form.span)
            mend = write(form.span, f'as "{pattern.text} {spelt}"', unasked=True)
            yield mended_by(found, mend)


def _named(unit: str, screen: ArrangedScreen) -> bool:
    return any(unit in fact.text.replace("(", " ").replace(")", " ").split() for fact in screen.texts)
