"""Shared parts: folders with the signals, words and pieces of screens of one controller, for many designs.

Everything that a part brings is named with its name in front, so that what a design says of itself and what
its parts bring cannot be mistaken for each other. A design may take a part under another name (``as``).
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from hmic import __version__
from hmic.diagnostics import Finding, Severity, Span, did_you_mean, error
from hmic.language import syntax
from hmic.language.parser import parse
from hmic.language.renaming import beginning, begins, renamed
from hmic.model.asked_file import is_asked
from hmic.model.buses import address
from hmic.model.design import Panel
from hmic.model.design_file import BusFile, DesignFile, bus_file
from hmic.model.files import PART, Folder
from hmic.model.panel_form import PANEL_SLACK, panel_of
from hmic.model.yaml_mending import read_yaml
from hmic.model.yaml_source import Entry, Node, parse_yaml

MOST_PARTS = 32
"""Shared parts of a design, those of its parts included."""


@dataclass(frozen=True)
class SharedPart:
    """A shared part as a design takes it in. ``own`` is its name by itself, ``name`` the one it has here,
    ``folder`` its place from the design's folder; ``bus`` is the vehicle's bus that it is on. ``span`` is
    where it is named."""

    own: str
    name: str
    folder: str
    bus: str
    span: Span
    settings: Node
    description: BusFile | None = None

    def file(self, name: str) -> str:
        """A file of it, as findings name it."""
        return f"{self.folder}/{name}"


@dataclass
class _Reading:
    """What has been read so far. ``buses`` are the vehicle's own, by name, empty for one without."""

    opened: Folder
    buses: Sequence[str]
    found: list[SharedPart] = field(default_factory=list)

    def say(self, code: str, message: str, span: Span, remedy: str, also: tuple[Span, ...] = ()) -> None:
        self.opened.findings.append(error(code, message, span, remedy, also=also))


# Which parts there are --------------------------------------------------------------------------


def read_parts(
    opened: Folder, uses: Node | None, buses: Sequence[str], panel: Panel | None
) -> list[SharedPart]:
    """The shared parts that a design takes in, and those that they take in, each once."""
    reading = _Reading(opened, buses)
    _take(reading, uses, "", None, ())
    for part in reading.found:
        opened.findings.extend(_untried(part, panel))
    return reading.found


def _take(reading: _Reading, uses: Node | None, base: str, bus: str | None, path: tuple[str, ...]) -> None:
    """The parts of a list, named from the folder ``base``; ``bus`` is that of the part that takes them in,
    ``path`` the folders on the way."""
    for item in (uses.items or ()) if uses is not None else ():
        written = _said(item, "part") if item.entries is not None else item.scalar
        if not isinstance(written, str):
            continue
        folder = _folder(reading, base, written, item.span)
        if folder is None:
            continue
        if folder in path:
            circle = " -> ".join((*path[path.index(folder) :], folder))
            text = f"shared parts take each other in: {circle}"
            reading.say("M305", text, item.span, "take one of the `uses` lines out")
            continue
        settings = _settings(reading, folder, item.span)
        own = _said(settings, "name") if settings is not None else None
        if settings is None or not isinstance(own, str):
            continue
        on = _bus(reading, item, bus)
        name = _said(item, "as")
        if on is None:
            continue
        part = SharedPart(own, name if isinstance(name, str) else own, folder, on, item.span, settings)
        if _is_new(reading, part):
            reading.found.append(_described(reading, part))
            _take(reading, settings.get("uses"), folder, on, (*path, folder))


def _said(node: Node, key: str) -> object:
    value = node.get(key)
    return None if value is None else value.scalar


def _folder(reading: _Reading, base: str, written: str, span: Span) -> str | None:
    """The folder of a part from the design's, or None with a finding."""
    remedy = "write it from the folder of this file: `../parts/charger`"
    if Path(written).is_absolute():
        reading.say("M301", f"'{written}' is not written from here", span, remedy)
        return None
    root = reading.opened.root
    try:
        there = (root / base / written).resolve()
        folder = Path(os.path.relpath(there, root.resolve())).as_posix()
        is_part, is_folder = (there / PART).is_file(), there.is_dir()
        near = [each.parent.name for each in there.parent.glob(f"*/{PART}")]
    except (OSError, ValueError, RuntimeError):
        reading.say("M301", f"no folder can be called '{written}'", span, remedy)
        return None
    if is_part:
        return folder
    if is_folder:
        text = f"'{written}' is no shared part: it has no {PART}"
        remedy = f"write {PART} there, with its `name`"
    else:
        text, remedy = f"there is no folder '{written}'", did_you_mean(there.name, near, "shared parts there")
    reading.say("M301", text, span, remedy)
    return None


def _settings(reading: _Reading, folder: str, span: Span) -> Node | None:
    """A part's own settings, checked."""
    known = next((part.settings for part in reading.found if part.folder == folder), None)
    if known is not None:
        return known
    if len(reading.found) >= MOST_PARTS:
        reading.say("M231", f"there are more than {MOST_PARTS} shared parts", span, "take some of them out")
        return None
    return read_yaml(reading.opened, f"{folder}/{PART}", "part")


def _bus(reading: _Reading, item: Node, above: str | None) -> str | None:
    """The vehicle's bus that a part is on; None with a finding where that is not said."""
    names = [name for name in reading.buses if name]
    written = _said(item, "bus")
    if isinstance(written, str):
        if written in names:
            return written
        remedy = did_you_mean(written, names, "buses") if names else "it names no buses: leave `bus` out"
        text = f"the shared part is on the bus '{written}', which design.yaml does not have"
        reading.say("M296", text, item.span, remedy)
        return None
    if above is not None:
        return above
    if len(names) < 2:
        return names[0] if names else ""
    folder = item.scalar or _said(item, "part")
    remedy = f"write `{{part: {folder}, bus: {names[0]}}}`"
    reading.say("M296", f"it is not said on which bus '{folder}' is", item.span, remedy)
    return None


def _is_new(reading: _Reading, part: SharedPart) -> bool:
    """Whether nothing else has its name; one that several take in from one place is taken once."""
    for other in reading.found:
        if other.name == part.name:
            if (other.folder, other.bus) != (part.folder, part.bus):
                text = f"two shared parts are called '{part.name}': '{other.folder}' and '{part.folder}'"
                remedy = f"give one another name: `{{part: {part.folder}, as: {part.name}_2}}`"
                reading.say("M303", text, part.span, remedy, (other.span,))
            return False
    if part.name in reading.buses:
        text = f"the shared part '{part.name}' is called as a bus is"
        reading.say("M303", text, part.span, f"write `{{part: {part.folder}, as: {part.name}_part}}`")
        return False
    return True


def _described(reading: _Reading, part: SharedPart) -> SharedPart:
    dbc = part.settings.get("dbc")
    if dbc is None:
        return part
    return replace(part, description=bus_file(reading.opened, dbc, part.folder))


def _untried(part: SharedPart, panel: Panel | None) -> Iterator[Finding]:
    """Notes where a part was not tried on this version or panel, though it says on which it was."""
    tried = part.settings.get("tried on")
    if tried is None:
        return
    versions, panels = _listed(tried, "hmic"), _listed(tried, "panels")
    if versions and not any(f"{__version__}.".startswith(f"{each}.") for each in versions):
        text = f"the shared part '{part.name}' was tried on hmic {', '.join(versions)}; this is {__version__}"
        remedy = f'look at its screens, then add "{__version__}" to `tried on` in {part.file(PART)}'
        yield Finding("M304", Severity.NOTE, text, part.span, remedy)
    if panel is not None and panels and not any(_is_like(each, panel) for each in panels):
        this = f"{panel.width}x{panel.height}@{panel.width_mm:g}x{panel.height_mm:g}mm"
        text = f"the shared part '{part.name}' was tried on panels of {', '.join(panels)}; this is {this}"
        remedy = f"look at its screens, then add {this} to `tried on` in {part.file(PART)}"
        yield Finding("M304", Severity.NOTE, text, part.span, remedy)


def _listed(tried: Node, key: str) -> list[str]:
    listed = tried.get(key)
    return [str(item.scalar) for item in (listed.items or ())] if listed is not None else []


def _is_like(written: str, panel: Panel) -> bool:
    known = panel_of(written)
    if known is None or (known.width, known.height) != (panel.width, panel.height):
        return False
    sizes = ((known.wide, panel.width_mm), (known.tall, panel.height_mm))
    return all(abs(one / other - 1) <= PANEL_SLACK for one, other in sizes)


# What they bring --------------------------------------------------------------------------------


def with_parts(
    opened: Folder, signals: Node, parts: Sequence[SharedPart]
) -> tuple[Node, dict[str, Node]]:
    """The groups of a design's signals.yaml with those of its parts, and what each file brought."""
    brought: dict[str, Node] = {}
    whole = signals
    for part in parts:
        file = part.file("signals.yaml")
        node = read_yaml(opened, file, "signals") if (opened.root / file).is_file() else None
        if node is not None:
            brought[file] = _as_here(opened, part, node)
            whole = _joined(opened, part, signals, whole, brought[file])
    return whole, brought


_GROUPS = ("signals", "outputs", "messages", "controllers")


def _as_here(opened: Folder, part: SharedPart, node: Node) -> Node:
    """What a part's signals.yaml says, under the names that it has in the design."""
    groups = {}
    for entry in node.each():
        if entry.key in _GROUPS:
            mine = {each.key: each for each in _brought(opened, part, entry.key, entry.value)}
            groups[entry.key] = replace(entry, value=replace(entry.value, entries=mine))
    return replace(node, entries=groups)


def _joined(opened: Folder, part: SharedPart, own: Node, whole: Node, brought: Node) -> Node:
    """``whole`` with what a part brings; what the design declares by itself stays."""
    entries = dict(whole.entries or {})
    for entry in brought.each():
        before, mine = entries.get(entry.key, entry), own.get(entry.key)
        group = dict(before.value.entries or {}) if before is not entry else {}
        for each in entry.value.each():
            declared = (mine.entries or {}).get(each.key) if mine is not None else None
            if declared is None:
                group[each.key] = each
            else:
                _clash(opened, part, declared, each)
        entries[entry.key] = replace(before, value=replace(before.value, entries=group, scalar=None))
    return replace(whole, entries=entries)


def _clash(opened: Folder, part: SharedPart, own: Entry, brought: Entry) -> None:
    text = f"'{own.key}' is declared here, and by the shared part '{part.name}' in {brought.span.file}"
    remedy = f"give yours another name, or the part: `{{part: {part.folder}, as: {part.name}_2}}`"
    opened.findings.append(error("M303", text, own.span, remedy, also=(brought.span,)))


def _brought(opened: Folder, part: SharedPart, group: str, node: Node | None) -> Iterator[Entry]:
    """The entries of a part as the design has them."""
    for entry in node.each() if node is not None else ():
        if group == "messages":
            yield replace(entry, key=f"{part.name}/{entry.key}")
        elif not begins(entry.key, part.own):
            text = f"'{entry.key}' of the shared part '{part.own}' does not begin with its name"
            called = f".{entry.key.rpartition('.')[2]}" if "." in entry.key else f"_{entry.key}"
            remedy = f"call it '{part.own}{called}'"
            opened.findings.append(error("M302", text, entry.span, remedy))
        else:
            key = beginning(entry.key, part.own, part.name)
            key = address(part.bus, key) if group == "controllers" else key
            yield replace(entry, key=key, value=_entry_of(opened, part, entry))


def _entry_of(opened: Folder, part: SharedPart, entry: Entry) -> Node:
    """A declaration with its source on the part's own description, and its formulas under the name here."""
    if entry.value.entries is None:
        return entry.value
    changed = dict(entry.value.entries)
    for key in ("from", "to"):
        place = changed.get(key)
        if place is None or not isinstance(place.value.scalar, str):
            continue
        source = _source(part, place.value.scalar)
        if part.description is None and source.startswith(f"{part.name}/"):
            text = f"'{entry.key}' is of the CAN bus, but {part.file(PART)} names no DBC file"
            opened.findings.append(error("M259", text, place.value.span, "add `dbc: FILE` there"))
        changed[key] = replace(place, value=replace(place.value, scalar=source))
    for key in ("is", "allowed"):
        place = changed.get(key)
        if place is not None and part.own != part.name:
            changed[key] = replace(place, value=replace(place.value, renamed=(part.own, part.name)))
    return replace(entry.value, entries=changed)


def _source(part: SharedPart, written: str) -> str:
    if written == "pipe":
        return written
    if is_asked(written):
        return address(part.bus, beginning(written, part.own, part.name))
    return f"{part.name}/{written}"


def layouts_of(
    opened: Folder, parts: Sequence[SharedPart], lines: int, letters: int
) -> tuple[list[syntax.Layout], list[Finding]]:
    """The pieces of screens that the parts bring, and what is wrong with their words. ``lines`` and
    ``letters`` count what the design has by itself."""
    layouts: list[syntax.Layout] = []
    unread: list[Finding] = []
    for part in parts:
        for name in opened.names(part.folder):
            if Path(name).suffix != ".layout":
                continue
            file = part.file(name)
            text = opened.text(file)
            if text is None:
                continue
            layout, findings = parse(text, file, lines, letters)
            unread.extend(findings)
            if not layout.whole:
                return [*layouts, layout], unread
            lines, letters = lines + text.count("\n") + 1, letters + len(text)
            layouts.append(_only_pieces(opened, part, layout))
    return layouts, unread


def _only_pieces(opened: Folder, part: SharedPart, layout: syntax.Layout) -> syntax.Layout:
    """A layout of a part under its name here; what may not stand there is left out, with a finding."""
    for screen in layout.screens:
        text = f"the shared part '{part.own}' has a screen, '{screen.name}'; a design has its own"
        remedy = f"write `part {part.own}_{screen.name}` here, and a screen that uses it in the design"
        opened.findings.append(error("M302", text, screen.name_span, remedy))
    for order in layout.orders:
        text = f"the shared part '{part.own}' has an order of swiping; a design has its own"
        opened.findings.append(error("M302", text, order.span, "write it in the design"))
    for piece in layout.parts:
        if not begins(piece.name, part.own):
            text = f"part '{piece.name}' of the shared part '{part.own}' does not begin with its name"
            remedy = f"call it '{part.own}_{piece.name}'"
            opened.findings.append(error("M302", text, piece.name_span, remedy))
    pieces = tuple(piece for piece in layout.parts if begins(piece.name, part.own))
    if part.own != part.name:
        pieces = renamed(pieces, part.own, part.name)
    return replace(layout, screens=(), orders=(), parts=pieces)


def words_of(opened: Folder, parts: Sequence[SharedPart], file: str) -> dict[str, str]:
    """What the parts say in another language, by text; ``file`` is the table's, as ``words/de.yaml``."""
    said: dict[str, str] = {}
    for part in parts:
        if (opened.root / part.file(file)).is_file():
            node = read_yaml(opened, part.file(file), "words")
            for entry in node.each() if node is not None else ():
                if isinstance(entry.value.scalar, str) and entry.value.scalar:
                    said.setdefault(entry.key, entry.value.scalar)
    return said


# Where they are ---------------------------------------------------------------------------------


def parts_of(root: Path) -> list[SharedPart]:
    """The shared parts of a design, whatever is wrong with it."""
    opened = Folder(root)
    text = opened.text("design.yaml")
    node = None if text is None else parse_yaml(text, "design.yaml")[0]
    if node is None:
        return []
    named = node.get("buses")
    buses = tuple(named.entries or ()) if named is not None else ()
    return read_parts(opened, node.get("uses"), buses, None)


def borrowed_of(opened: Folder, parts: Sequence[SharedPart]) -> frozenset[str]:
    """The files that were read of shared parts."""
    folders = tuple(f"{part.folder}/" for part in parts)
    return frozenset(file for file in opened.sources if file.startswith(folders))


def with_descriptions(settings: DesignFile, parts: Sequence[SharedPart]) -> DesignFile:
    """What design.yaml says, as if it named the descriptions of its parts as buses."""
    described = {part.name: part.description for part in parts if part.description is not None}
    groups = {part.name: settings.j1939[part.bus] for part in parts if part.bus in settings.j1939}
    return replace(settings, buses={**settings.buses, **described}, j1939={**settings.j1939, **groups})


def on_buses(parts: Sequence[SharedPart]) -> Mapping[str, str]:
    """The vehicle's bus of each part that has a description of its own."""
    return {part.name: part.bus for part in parts if part.description is not None}
