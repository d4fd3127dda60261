"""What may be written at a place."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hmic.arrange.unit import Form as UnitForm
from hmic.arrange.widgets.level import SHAPES as LEVEL_SHAPES
from hmic.arrange.widgets.shape import NAMES as SHAPE_NAMES
from hmic.editor.context import Context, context_at
from hmic.editor.project import View, part_of
from hmic.language.grammar import Start
from hmic.language.vocabulary import BODY_FORMS, KINDS, PHRASE_FORMS
from hmic.model.builtin import BUILTIN
from hmic.model.buses import address
from hmic.model.design import Design
from hmic.model.files import LARGEST
from hmic.model.functions import FUNCTIONS
from hmic.model.units import spellings
from hmic.model.values import ValueKind
from hmic.model.yaml_source import schema
from hmic.paint import pictograms
from hmic.plain_files import read_plain

PICTURED = ("lamp", "symbol", "shape")
_SETS: Mapping[str, tuple[str, ...]] = {
    "KIND": tuple(kind for kind in KINDS if kind not in PICTURED),
    "PICTURED": PICTURED,
    "FLOW": ("across", "down", "freely"),
    "SIDE": ("left", "right", "up", "down"),
    "DIRECTION": ("upward", "downward", "rightward", "leftward"),
    "ALIGNMENT": ("left", "centre", "right"),
    "FLASHING": ("flashing",),
    "SWITCHED": ("on", "off"),
    "COMPARE": ("is", "is not"),
}


@dataclass(frozen=True)
class Suggestion:
    """A word to write: its kind is ``signal``, ``word``, ``role``, ``ramp``, ``area``, ``screen``,
    ``part``, ``unit``, ``name``, ``key``, ``function`` or ``pictogram``."""

    text: str
    kind: str
    detail: str = ""


def complete(view: View, file: str, line: int, column: int) -> list[Suggestion]:
    """What may stand at a place of a file of the design, most telling first; places count from 0."""
    text = view.texts.get(file, "")
    if file.endswith(".layout"):
        found = _in_layout(view, context_at(text, line, column))
    else:
        found = _in_yaml(view, file, text, line, column)
    return list({suggestion.text: suggestion for suggestion in reversed(list(found))}.values())[::-1]


def _in_layout(view: View, context: Context) -> Iterator[Suggestion]:
    design = view.design
    before, allowed = context.before, context.allowed
    if re.search(r'"[^"]*$', re.sub(r'"(?:[^"\\]|\\.)*"', "", before)):
        return
    if "#" in before:
        return
    if "NAME" in allowed:
        yield from _named(view, context)
    if design is not None and "SIGNAL" in allowed:
        compared = re.search(r"([\w.]+)\s+is(?:\s+not)?\s+$", before)
        signal = design.signals.get(compared.group(1)) if compared else None
        if signal is not None and signal.kind == ValueKind.WORD:
            yield from (Suggestion(f'"{word}"', "word", signal.name) for word in signal.words.values())
        yield from _signals(design)
    for terminal, words in _SETS.items():
        if terminal in allowed:
            yield from (Suggestion(word, "word", PHRASE_FORMS.get(word, "")) for word in words)
    for terminal in sorted(allowed):
        if terminal[:1] == "_" and terminal not in ("_COMMA", "_OPEN", "_CLOSE", "_INDEX", "_INDEX_END"):
            word = terminal[1:].lower().replace("_", " ")
            yield Suggestion(word, "word", PHRASE_FORMS.get(word.split()[0], BODY_FORMS.get(word, "")))
    if "UNIT" in allowed and re.search(r"\bin\s+$", before):
        yield from (Suggestion(spelling, "unit") for spelling in spellings())


def _named(view: View, context: Context) -> Iterator[Suggestion]:
    """What a bare name can be, told by the words before it."""
    before, design = context.before, view.design
    if context.rules == (Start.PLAN,):
        yield from (Suggestion(name, "area") for name in context.plan)
        return
    if context.rules == (Start.BODY,) and re.fullmatch(r"(?:in|touch)\s+", before):
        yield from (Suggestion(name, "area") for name in context.plan)
        return
    if design is None:
        return
    if re.search(r"\bpictogram\s+$", before):
        yield from _pictograms(design)
    elif re.search(r"(?:\bgoes\s+to|^swipe\s+through(?:\s+\w+\s*,)*|\bscreens(?:\s+[\w\s]+,)*)\s+$", before):
        titles = {name: screen.title for name, screen in design.screens.items()}
        yield from (Suggestion(name, "screen", title) for name, title in titles.items())
    elif re.search(r"\bramp\s+$", before):
        ramps = design.themes[0].ramps if design.themes else {}
        yield from (Suggestion(name, "ramp") for name in ramps)
    elif re.search(r"\bfont\s+$", before):
        yield from (Suggestion(name, "word", path.stem) for name, path in design.fonts.items())
    elif re.search(r"\bunit\s+$", before):
        yield from (Suggestion(name, "word") for name in UnitForm)
    elif re.search(r"\buse\s+$", before):
        yield from (Suggestion(name, "part") for name in design.parts)
    elif used := re.search(r"\buse\s+(\w+)\s+with\s+(?:.*,\s*)?$", before):
        part = design.parts.get(used.group(1))
        given = set(re.findall(r"(?:with|,)\s+(\w+)", before))
        names = [name for name, _ in part.parameters] if part else []
        yield from (Suggestion(name, "name", used.group(1)) for name in names if name not in given)
    elif re.search(r"\b(?:lamp|symbol)\s+$", before):
        yield from _pictograms(design)
    elif re.search(r"\bshape\s+$", before):
        yield from (Suggestion(name, "word") for name in SHAPE_NAMES)
    elif re.search(r"\bshaped\s+$", before):
        yield from (Suggestion(name, "word") for name in LEVEL_SHAPES)
    elif _may_be_role(context):
        yield from _roles(design)
    if "SIGNAL" in context.allowed:
        yield from (Suggestion(name, "name") for name in context.names)
        yield from (Suggestion(name, "function", about) for name, about in FUNCTIONS.items())


def _pictograms(design: Design | None) -> Iterator[Suggestion]:
    """Those of the design first."""
    own = design.pictograms if design is not None else ()
    names = [*(name for name in own if name not in pictograms.names()), *pictograms.names()]
    yield from (Suggestion(name, "pictogram") for name in names)


def _may_be_role(context: Context) -> bool:
    if re.search(r"\b(?:named|screen|part|joint|each)\s+$", context.before):
        return False
    if "SIGNAL" in context.allowed and not context.before.rstrip().endswith(
        ("colour", "otherwise", "flashing", "zone")
    ):
        return False
    said = re.search(r"(?:\b(?:colour|otherwise|flashing|zone)\s+|,\s*|^)$", context.before)
    return said is not None or "_CALLED" in context.allowed


def _roles(design: Design) -> Iterator[Suggestion]:
    theme = design.themes[0]
    for role, (red, green, blue) in theme.roles.items():
        yield Suggestion(role, "role", f"#{red:02x}{green:02x}{blue:02x} by {theme.name}")


def _signals(design: Design) -> Iterator[Suggestion]:
    for name, signal in design.signals.items():
        yield Suggestion(name, "signal", signal.unit.spelling if signal.unit else signal.kind)
    yield from (Suggestion(name, "signal", "kept by hmic") for name in BUILTIN)


# -- YAML


def _in_yaml(view: View, file: str, text: str, line: int, column: int) -> Iterator[Suggestion]:
    lines = text.split("\n")
    before = lines[line][:column] if line < len(lines) else ""
    value = re.search(r"([\w ]+?):\s*\"?[\w./°%·]*$", before)
    key = value.group(1).strip(" {,") if value else ""
    design = view.design
    if re.search(r"\bis:\s*\"[^\"]*$", before):
        if design is not None:
            yield from _signals(design)
        yield from (Suggestion(name, "function", about) for name, about in FUNCTIONS.items())
        return
    if key == "unit":
        yield from (Suggestion(spelling, "unit") for spelling in spellings())
        return
    if key == "start" and design is not None:
        yield from (Suggestion(name, "screen", screen.title) for name, screen in design.screens.items())
        return
    if key in ("from", "to"):
        bus = re.search(r"([a-z][a-z0-9_]*)/[\w.]*$", before)
        said = bus[1] if bus else part_of(design, view.root, file)
        yield from (Suggestion(name, "name", "DBC") for name in _fields(view, said))
        return
    if value is None:
        yield from _keys(file, lines, line, before)


def _fields(view: View, said: str | None) -> list[str]:
    """``Message.Signal`` of the bus that was ``said``, or of all, with the bus where there are several."""
    from hmic.model.dbc import read_dbc

    buses = view.design.descriptions if view.design is not None else {}
    found = []
    for bus, path in buses.items():
        if said not in (None, bus):
            continue
        try:
            facts, _ = read_dbc(read_plain(path, LARGEST), path.name, None)
        except OSError:
            continue
        name = bus if len(buses) > 1 and said is None else ""
        fields = ((message, field) for message, each in (facts or {}).items() for field in each)
        found += [address(name, f"{message}.{field}") for message, field in fields]
    return found


def _keys(file: str, lines: list[str], line: int, before: str) -> Iterator[Suggestion]:
    """The keys that the schema knows at a place, found by the keys it stands under."""
    place = Path(file)
    name = "words" if place.parent.name == "words" else place.stem
    if name not in ("design", "signals", "themes", "part"):
        return
    path = _above(lines, line, before)
    rules: Any = schema(name)
    for key in path:
        inner = rules.get("properties", {})
        rules = inner.get(key, rules.get("additionalProperties", {}))
        if not isinstance(rules, dict):
            return
    for key, about in rules.get("properties", {}).items():
        yield Suggestion(key, "key", about.get("description", about.get("title", "")))


def _above(lines: list[str], line: int, before: str) -> list[str]:
    """The keys that a place stands under, the outermost first."""
    path: list[str] = []
    opened = re.match(r"(\s*)([\w. ]+):\s*\{[^}]*$", before)
    depth = len(before) - len(before.lstrip(" "))
    if opened:
        path.append(opened.group(2).strip())
        depth = len(opened.group(1))
    for text in reversed(lines[:line]):
        own = re.match(r"( *)([\w. ]+):\s*(?:#.*)?$", text)
        if own and len(own.group(1)) < depth:
            path.append(own.group(2).strip())
            depth = len(own.group(1))
    return path[::-1]


def matching(suggestions: Iterable[Suggestion], word: str) -> list[Suggestion]:
    """Those that begin with what is written already."""
    return [item for item in suggestions if item.text.lower().startswith(word.lower())]
