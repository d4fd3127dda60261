"""A design folder read, joined and checked by name, unit and reference."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from hmic.causes import WORDS, Faults
from hmic.diagnostics import (
    Finding,
    Severity,
    Span,
    closest,
    did_you_mean,
    error,
    sorted_findings,
    told_once,
    warning,
)
from hmic.language import syntax
from hmic.language.parser import parse
from hmic.model.dbc import Facts, dbc_text, read_dbc
from hmic.model.dbc_check import BusFacts, check_messages, check_outputs, check_signals
from hmic.model.design import SIGNALS, START, TWICE, WAYS, Design, ThemeChoice, ThemeDefinition
from hmic.model.design_file import DesignFile, read_design
from hmic.model.files import Folder, open_folder, read_bytes
from hmic.model.reach import check_reach
from hmic.model.same_identifiers import check_identifiers
from hmic.model.samples_file import read_moments
from hmic.model.shared_parts import (
    SharedPart,
    borrowed_of,
    layouts_of,
    on_buses,
    read_parts,
    with_descriptions,
    with_parts,
    words_of,
)
from hmic.model.signals_file import SignalsFile, read_signals
from hmic.model.theme_choice import read_choice
from hmic.model.themes_file import read_themes
from hmic.model.uses import check_orders, check_uses
from hmic.model.yaml_mending import read_yaml
from hmic.model.yaml_source import Node, keys_of

Drawn = tuple[dict[str, syntax.Screen], dict[str, syntax.Part]]
"""Screens and parts by name."""


def load(
    folder: Path,
    language: str | None = None,
    unsaved: Mapping[str, str] | None = None,
) -> tuple[Design | None, list[Finding]]:
    """The design in a folder, and everything wrong with it in order of file and place.

    The design is as complete as can be: a signal with an error is left out (its name is in
    ``broken``), a missing colour is filled in, so that later checks can go on. It is None only
    without a usable panel, theme or screen. Nothing raises, whatever the files hold. ``language``
    takes the place of the design's own, the ``unsaved`` texts that of the files of their names.
    """
    opened, findings = open_folder(folder, unsaved)
    if opened is None:
        return None, findings
    nodes = {name: read_yaml(opened, f"{name}.yaml", name) for name in ("design", "signals", "themes")}
    settings_node, signals_node, themes_node = nodes.values()
    settings = read_design(opened, settings_node) if settings_node is not None else None
    shared: list[SharedPart] = []
    if settings is not None and settings_node is not None:
        shared = read_parts(opened, settings_node.get("uses"), tuple(settings.buses), settings.panel)
    signals = SignalsFile()
    brought: dict[str, Node] = {}
    if signals_node is not None:
        signals_node, brought = with_parts(opened, signals_node, shared)
        signals = read_signals(signals_node, opened.findings, _bus_names(settings, shared))
    layouts, unread = _layouts(opened, shared)
    faults = _faults(nodes, brought, layouts, unread)
    themes = read_themes(themes_node, opened.findings) if themes_node is not None else ()
    screens, parts = _by_name(opened, layouts)
    given_up = not all(layout.whole for layout in layouts)
    if settings is not None and not given_up:
        _against_dbc(opened, with_descriptions(settings, shared), signals, on_buses(shared))
    if settings is None or settings.panel is None or not themes or not screens or given_up:
        return None, sorted_findings([*unread, *faults.own(opened.findings)])
    _check_start(opened, settings, screens)
    choose = None
    if themes_node is not None:
        names = [theme.name for theme in themes]
        choose, found = read_choice(themes_node, names, signals.signals, signals.broken)
        opened.findings.extend(found)
    orders = [order for layout in layouts for order in layout.orders]
    drawn = screens, parts
    design = _joined(opened, settings, signals, themes, drawn, orders=orders, choose=choose)
    if shared:
        design = _with_shared(design, opened, with_descriptions(settings, shared), shared)
    # Without signals.yaml every name would be unknown for one and the same reason.
    if signals_node is not None:
        told_of = signals_node.get("samples")
        moments = read_moments(told_of, design.signals, design.broken, screens, opened.findings)
        design = replace(design, moments=moments)
        opened.findings.extend(check_uses(design))
    opened.findings.extend(check_orders(orders, design))
    opened.findings.extend(check_reach(design))
    spoken = settings.language if language is None else language
    if spoken:
        from hmic.model.languages import FOLDER, in_language

        said = words_of(opened, shared, f"{FOLDER}/{spoken}.yaml")
        span = settings.language_span if language is None else None
        design = in_language(design, opened, spoken, span, said)
    told = [*unread, *_together(faults.own(opened.findings))]
    return replace(design, faults=faults.and_also(told)), sorted_findings(told)


def _bus_names(settings: DesignFile | None, shared: Sequence[SharedPart]) -> list[str] | None:
    """What may stand before the slash of a source: buses, and shared parts with a slash; None where the buses
    are not known for an error."""
    buses = settings.buses if settings is not None else None
    if buses is None or any(not name and bus.path is None for name, bus in buses.items()):
        return None
    return [*(name for name in buses if name), *(f"{each.name}/" for each in shared)]


def _with_shared(
    design: Design, opened: Folder, settings: DesignFile, shared: Sequence[SharedPart]
) -> Design:
    """A design with what it knows of its shared parts."""
    on = on_buses(shared)
    files = {name: settings.buses[name].path for name in on}
    described = {name: path for name, path in files.items() if path is not None}
    borrowed = borrowed_of(opened, shared)
    return replace(design, described=described, on=on, borrowed=borrowed, j1939=settings.j1939)


def _together(found: Sequence[Finding]) -> list[Finding]:
    """What says the same of several places told as one: a name that is spelt in another way where it is
    declared is wrong wherever it is used."""
    alike: dict[tuple[str, str, str | None], list[Finding]] = {}
    for item in sorted_findings(found):
        alike.setdefault((item.code, item.message, item.remedy), []).append(item)
    return [told_once(items) if len(items) > 1 else items[0] for items in alike.values()]


def _faults(
    nodes: Mapping[str, Node | None],
    brought: Mapping[str, Node],
    layouts: Sequence[syntax.Layout],
    unread: Sequence[Finding],
) -> Faults:
    """What could not be read of the layouts, with what it takes to find out what follows from it, and
    from what is found later."""
    errors = tuple(item for item in unread if item.severity is Severity.ERROR)
    above = {layout.file: layout.above for layout in layouts}
    keys = {f"{name}.yaml": keys_of(node) for name, node in nodes.items() if node is not None}
    keys |= {file: keys_of(node) for file, node in brought.items()}
    return Faults(above, keys, errors, errors, dict.fromkeys(brought, SIGNALS.file))


def _joined(
    opened: Folder,
    settings: DesignFile,
    signals: SignalsFile,
    themes: tuple[ThemeDefinition, ...],
    drawn: Drawn,
    *,
    orders: Sequence[syntax.Order],
    choose: ThemeChoice | None,
) -> Design:
    screens, parts = drawn
    assert settings.panel is not None
    return Design(
        root=opened.root,
        name=settings.name or opened.root.resolve().name,
        panel=settings.panel,
        fonts=settings.fonts,
        spaced=settings.spaced,
        start=settings.start if settings.start in screens else next(iter(screens)),
        buses={name: bus.path for name, bus in settings.buses.items() if bus.path is not None},
        signals=signals.signals,
        outputs=signals.outputs,
        themes=themes,
        screens=screens,
        parts=parts,
        order=tuple(dict.fromkeys(name for name in (orders[0].screens if orders else ()) if name in screens)),
        sources=opened.sources,
        broken=signals.broken,
        limits=settings.limits,
        letters=settings.letters,
        memories=signals.memories,
        messages=signals.messages,
        choose=choose,
        locale=settings.locale,
        j1939=settings.j1939,
        pictograms=settings.pictograms,
    )


def _by_name(opened: Folder, layouts: Sequence[syntax.Layout]) -> Drawn:
    screens: dict[str, syntax.Screen] = {}
    parts: dict[str, syntax.Part] = {}
    for layout in layouts:
        for screen in layout.screens:
            first = screens.setdefault(screen.name, screen)
            if first is not screen:
                _twice(opened, "screen", screen.name, screen.name_span, first.name_span)
        for part in layout.parts:
            earlier = parts.setdefault(part.name, part)
            if earlier is not part:
                _twice(opened, "part", part.name, part.name_span, earlier.name_span)
    return screens, parts


def _check_start(opened: Folder, settings: DesignFile, screens: Mapping[str, syntax.Screen]) -> None:
    if settings.start not in screens and settings.start:
        remedy = did_you_mean(settings.start, screens, "screens")
        message = f"there is no screen '{settings.start}'"
        opened.findings.append(error("M240", message, settings.start_span, remedy, breaks=(WAYS, START)))


def _layouts(opened: Folder, shared: Sequence[SharedPart]) -> tuple[list[syntax.Layout], list[Finding]]:
    """The layout files by name, those of shared parts behind them, and what is wrong with their words."""
    layouts: list[syntax.Layout] = []
    unread: list[Finding] = []
    lines = letters = 0
    for name in opened.names():
        suffix = Path(name).suffix
        if suffix == ".layout":
            text = opened.text(name)
            if text is not None:
                layout, findings = parse(text, name, lines, letters)
                unread.extend(findings)
                layouts.append(layout)
                if not layout.whole:
                    break
                lines, letters = lines + text.count("\n") + 1, letters + len(text)
        elif closest(suffix.lower(), [".layout"]) is not None:
            span = Span(name, 1, 1, 1, 2)
            remedy = f"rename it to '{Path(name).stem}.layout'"
            opened.findings.append(warning("M225", f"'{name}' is not read", span, remedy))
    broken = any(
        finding.span is not None and finding.span.file.endswith(".layout") for finding in opened.findings
    )
    if not any(layout.screens for layout in layouts) and not broken and not unread:
        remedy = 'write a file such as drive.layout that begins `screen drive "Drive"`'
        opened.findings.append(error("M258", "no layout file of this folder has a screen", None, remedy))
    if all(layout.whole for layout in layouts):
        more, wrong = layouts_of(opened, shared, lines, letters)
        return [*layouts, *more], [*unread, *wrong]
    return layouts, unread


def _twice(opened: Folder, what: str, name: str, span: Span, first: Span) -> None:
    remedy = f"rename one of them; the first is in {first.file}, line {first.line}"
    # One of them is misnamed, and what it says is not read.
    breaks = (TWICE, WORDS)
    opened.findings.append(error("M244", f"{what} '{name}' is given twice", span, remedy, breaks=breaks))


def _against_dbc(opened: Folder, settings: DesignFile, signals: SignalsFile, on: Mapping[str, str]) -> None:
    # A shared part has a description of its own, or none, which is told where it is taken in.
    from_can = [item for item in signals.signals.values() if item.source is not None and not item.source.bus]
    if from_can and not settings.buses:
        message = f"'{from_can[0].name}' comes from the CAN bus, but design.yaml names no DBC file"
        remedy = "add `dbc: vehicle.dbc` to design.yaml"
        opened.findings.append(error("M259", message, from_can[0].span, remedy))
    described, told = _described(opened, settings)
    opened.findings.extend(check_identifiers(described, on, signals))
    for bus in described:
        signals.signals = check_signals(signals.signals, bus, opened.findings)
        check_outputs(signals, bus, opened.findings)
        check_messages(signals.messages, bus, opened.findings)
    # A line that the design needs is told of as an error already.
    needed = {finding.span for finding in opened.findings if finding.severity is Severity.ERROR}
    opened.findings.extend(finding for finding in told if finding.span not in needed)
    signals.outputs = {
        name: replace(output, signal=signals.signals[name]) for name, output in signals.outputs.items()
    }


def _described(opened: Folder, settings: DesignFile) -> tuple[list[BusFacts], list[Finding]]:
    """What the files of the buses say, and what could not be read of those that could; a file that two buses
    share is read once."""
    read: dict[Path, tuple[str, Facts]] = {}
    told: list[Finding] = []
    for each in settings.buses.values():
        if each.path is None or each.path in read:
            continue
        # Two files of one name lie in two folders.
        name = opened.shown(each.path)
        data = read_bytes(each.path, name, each.span, opened.findings)
        if data is None:
            continue
        facts, found = read_dbc(data, name, each.span)
        if found:
            opened.sources[name] = dbc_text(data)
        if facts is None:
            opened.findings.extend(found)
        else:
            told += found
            read[each.path] = name, facts
    files = {bus: read[each.path] for bus, each in settings.buses.items() if each.path in read}
    first: dict[str, str] = {}
    for bus, (_, facts) in files.items():
        for message in facts:
            first.setdefault(message, bus)
    said = settings.j1939
    return [BusFacts(bus, facts, file, first, said.get(bus)) for bus, (file, facts) in files.items()], told
