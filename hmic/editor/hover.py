"""What stands at a place, told in words; and where it was declared."""

from __future__ import annotations

import re
from fractions import Fraction

from hmic.diagnostics import Span
from hmic.editor.context import context_at, word_at
from hmic.editor.project import View, name_in, part_of
from hmic.language.syntax import Quantity
from hmic.language.vocabulary import BODY_FORMS, PHRASE_FORMS
from hmic.model.builtin import BUILTIN
from hmic.model.buses import address
from hmic.model.design import Design, Panel, SignalDefinition
from hmic.model.files import LARGEST
from hmic.model.functions import FUNCTIONS
from hmic.model.values import ValueKind
from hmic.plain_files import read_plain

_LENGTH = re.compile(r"(-?[0-9]+(?:\.[0-9]+)?)\s*(arcmin|mm|px)")


def hover(view: View, file: str, line: int, column: int) -> str | None:
    """Markdown about what stands at a place, or None; places count from 0."""
    found = word_at(view.texts.get(file, ""), line, column)
    design = view.design
    if found is None or design is None:
        return None
    word = found[0]
    length = _LENGTH.fullmatch(word)
    if length:
        return length_text(design.panel, Quantity(Fraction(length[1]), length[2], Span(file, 1, 1, 1, 1)))
    if word in design.signals:
        return signal_text(design.signals[word])
    if word in BUILTIN:
        return f"**{word}**: kept by hmic"
    if not file.endswith(".layout"):
        return None
    return _name_text(design, word) or _word_text(word)


def length_text(panel: Panel, length: Quantity) -> str | None:
    """What a length comes to on the glass and to the eye: as it is drawn, in whole pixels."""
    size = float(length.number)
    exact = {
        "px": size,
        "mm": panel.pixels_from_mm(size),
        "arcmin": panel.pixels_from_arcmin(size),
    }[length.unit]
    pixels = max(1, int(exact + 0.5))
    arcmin, height = panel.arcmin_from_pixels(pixels), pixels * panel.pitch
    return (
        f"**{size:g} {length.unit}** is drawn as {pixels} px: {height:.1f} mm on the glass, "
        f"{arcmin:.1f} arcmin from {panel.eye_distance:g} mm"
    )


def signal_text(signal: SignalDefinition) -> str:
    """Unit, range, source, stale time and meaning of a signal."""
    unit = signal.unit.spelling if signal.unit else ""
    facts = [signal.kind if signal.kind != ValueKind.NUMBER else f"number in {unit or 'no unit'}"]
    if signal.kind == ValueKind.NUMBER:
        facts.append(f"{signal.low:g} to {signal.high:g} {unit}".rstrip())
    if signal.words:
        facts.append(", ".join(signal.words.values()))
    if signal.count is not None:
        facts.append(f"{signal.count} elements")
    if signal.source is not None:
        facts.append(f"from {address(signal.source.bus, f'{signal.source.message}.{signal.source.signal}')}")
    elif signal.derived is not None:
        reads = ", ".join(sorted(signal.derived.signals))
        facts.append(f"worked out from {reads}" if reads else "worked out")
    elif signal.asked is not None:
        facts.append(f"asked for: {address(signal.asked.bus, signal.asked.text)}")
    else:
        facts.append("from another program")
    if signal.stale_after:
        facts.append(f"stale after {_time(signal.stale_after)}")
    about = f"\n\n{signal.about}" if signal.about else ""
    return f"**{signal.name}**: {'; '.join(facts)}{about}"


def _time(milliseconds: int) -> str:
    return f"{milliseconds / 1000:g} s" if milliseconds >= 1000 else f"{milliseconds} ms"


def _name_text(design: Design, word: str) -> str | None:
    colours = [
        f"{theme.name} #{red:02x}{green:02x}{blue:02x}"
        for theme in design.themes
        if word in theme.roles
        for red, green, blue in [theme.roles[word]]
    ]
    if colours:
        return f"**{word}**: colour role; {', '.join(colours)}"
    ramps = [theme.ramps[word] for theme in design.themes if word in theme.ramps]
    if ramps:
        return f"**{word}**: ramp of {len(ramps[0].stops)} colours"
    if word in design.screens:
        return f'**{word}**: screen "{design.screens[word].title}"'
    if word in design.parts:
        names = ", ".join(name for name, _ in design.parts[word].parameters)
        return f"**{word}**: part{f' with {names}' if names else ''}"
    return None


def _word_text(word: str) -> str | None:
    if word in FUNCTIONS:
        return f"**{word}()**: {FUNCTIONS[word]}"
    form = PHRASE_FORMS.get(word) or BODY_FORMS.get(word)
    return f"for example: `{form}`" if form else None


def definition(view: View, file: str, line: int, column: int) -> Span | None:
    """Where what stands at a place was declared, or None."""
    text = view.texts.get(file, "")
    found = word_at(text, line, column)
    design = view.design
    if found is None or design is None:
        return None
    word, start, end = found
    if word in design.signals:
        return design.signals[word].span
    if not file.endswith(".layout"):
        before = text.split("\n")[line][:start]
        return _dbc_place(view, file, word, before) if "." in word else _screen_of(design, word)
    before = text.split("\n")[line][:start].lstrip(" \t")
    if re.fullmatch(r"(?:in|touch)\s+", before):
        return _area(text, file, line, end, word)
    if re.search(r"\buse\s+$", before) and word in design.parts:
        return design.parts[word].name_span
    if re.search(r"\bramp\s+$", before):
        return next((theme.ramps[word].span for theme in design.themes if word in theme.ramps), None)
    if word in context_at(text, line, end).names:
        return None
    return _screen_of(design, word) or (design.parts[word].name_span if word in design.parts else None)


def _screen_of(design: Design, word: str) -> Span | None:
    return design.screens[word].name_span if word in design.screens else None


def _area(text: str, file: str, line: int, column: int, word: str) -> Span | None:
    """The first cell of an area in the plan of the screen or part that a line stands in."""
    lines = text.split("\n")
    top = next((at for at in range(line, -1, -1) if re.match(r"(?:screen|part)\b", lines[at])), 0)
    below = next((at for at in range(line + 1, len(lines)) if re.match(r"\S", lines[at])), len(lines))
    plan = next((at for at in range(top, below) if lines[at].strip() == "plan"), None)
    if plan is None:
        return None
    depth = len(lines[plan]) - len(lines[plan].lstrip())
    for at in range(plan + 1, below):
        own = len(lines[at]) - len(lines[at].lstrip())
        if lines[at].strip() and own <= depth:
            return None
        cell = re.search(rf"(?<!\S){re.escape(word)}(?!\S)", lines[at])
        if cell:
            return Span(file, at + 1, cell.start() + 1, at + 1, cell.end() + 1)
    return None


def _dbc_place(view: View, file: str, word: str, before: str) -> Span | None:
    """The line of a DBC that describes ``Message.Signal``; ``before`` may end in its bus and a slash."""
    buses = view.design.descriptions if view.design is not None else {}
    said = re.search(r"([a-z][a-z0-9_]*)/$", before)
    bus = said[1] if said is not None else part_of(view.design, view.root, file)
    path = buses.get(bus) if bus is not None else next(iter(buses.values()), None)
    message, _, field = word.partition(".")
    if path is None:
        return None
    try:
        lines = read_plain(path, LARGEST).decode("utf-8", "replace").split("\n")
    except OSError:
        return None
    described = name_in(view.root.resolve(), path)
    inside = False
    for at, text in enumerate(lines):
        if text.startswith("BO_ "):
            inside = text.split()[2:3] == [f"{message}:"]
        elif inside and text.split()[:2] == ["SG_", field]:
            start = text.index(field) + 1
            return Span(described, at + 1, start, at + 1, start + len(field))
    return None
