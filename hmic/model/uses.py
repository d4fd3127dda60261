"""What the layouts name, held against what the design has: screens, parts, signals, roles, ramps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from hmic.causes import NAMELESS, WORDS
from hmic.diagnostics import DesignError, Finding, Severity, Span, Subject, closest, did_you_mean, error
from hmic.language import syntax
from hmic.language.syntax import PhraseKind, phrase_kinds, roles_of
from hmic.model.design import CHOICE, OUTPUTS, TWICE, WAYS, BySignal, Design, ThemeDefinition, part_subject
from hmic.model.expressions import Scope, Typed, condition, constant_number, typed, unknown_signal, walk

# Words for a state that people bring along, and the roles that say it here.
_MEANT = {
    "warning": ("caution", "danger"),
    "warn": ("caution", "danger"),
    "alert": ("caution", "danger"),
    "alarm": ("danger", "caution"),
    "error": ("danger", "caution"),
    "fault": ("danger", "caution"),
    "critical": ("danger",),
    "red": ("danger",),
    "amber": ("caution",),
    "orange": ("caution",),
    "yellow": ("caution",),
    "green": ("good",),
    "ok": ("good",),
    "blue": ("notice",),
    "info": ("notice",),
    "grey": ("quiet", "line"),
    "gray": ("quiet", "line"),
}
_CONDITIONS = phrase_kinds("state allowed during")


@dataclass
class _Check:
    design: Design
    reach: Scope
    findings: list[Finding] = field(default_factory=list)
    used: set[str] = field(default_factory=set)
    parts: set[str] = field(default_factory=set)

    def say(self, code: str, message: str, span: Span, remedy: str | None = None) -> None:
        self.findings.append(error(code, message, span, remedy))


def check_uses(design: Design) -> list[Finding]:
    """Every unknown screen, part, parameter, signal, role and ramp in the layouts, every ill-typed
    expression outside parts (a part is typed where it is used), circles among parts, and notes on
    what nothing uses."""
    check = _Check(design, design.typings.scope)
    for screen in design.screens.values():
        reach = replace(check.reach, warnings=[])
        for area in screen.areas:
            _contents(check, area.body, reach, frozenset())
        _surfaces(check, screen.plan, frozenset())
        for touch in screen.touches:
            _phrases(check, touch.phrases, reach, frozenset())
        for swipe in screen.swipes:
            _screen(check, swipe.screen, swipe.span)
        if screen.rises is not None:
            _expression(check, screen.rises, reach, True)
        check.findings.extend(reach.warnings)
    for part in design.parts.values():
        names = frozenset(name for name, _ in part.parameters)
        for area in part.areas:
            _contents(check, area.body, None, names)
        _surfaces(check, part.plan, names)
        for _, default in part.parameters:
            if default is not None:
                _expression(check, default, None, False)
    _part_circles(check)
    _unused(check)
    return check.findings


def check_orders(orders: Iterable[syntax.Order], design: Design) -> list[Finding]:
    """One order of swiping, of screens that exist."""
    check = _Check(design, design.typings.scope)
    for place, order in enumerate(orders):
        if place > 0:
            remedy = "name all the screens in one `swipe through` line"
            check.say("M244", "the order of swiping is given twice", order.span, remedy)
        seen: set[str] = set()
        for name, span in zip(order.screens, order.spans, strict=False):
            _screen(check, name, span)
            if name in seen:
                check.say("M244", f"'{name}' stands twice in the order of swiping", span, "name it once")
            seen.add(name)
    return check.findings


def _screen(check: _Check, name: str, span: Span) -> None:
    if name not in check.design.screens:
        remedy = did_you_mean(name, check.design.screens, "screens")
        misspelt = closest(name, check.design.screens) is not None
        rests_on = () if misspelt else (TWICE,)
        check.findings.append(
            error("M240", f"there is no screen '{name}'", span, remedy, rests_on=rests_on, breaks=(WAYS,))
        )


def _contents(
    check: _Check,
    body: Iterable[syntax.Content],
    reach: Scope | None,
    names: frozenset[str],
    last: Sequence[bool] = (False, True),
) -> None:
    """``reach`` is None inside a part, whose parameters are known only where it is used. Counters stand
    at their first or at their ``last`` place."""
    for item in body:
        match item:
            case syntax.Widget():
                _widget(check, item, reach, names)
            case syntax.Joint() | syntax.Pipe():
                _phrases(check, item.phrases, reach, names)
            case syntax.Use():
                _use(check, item, reach, names)
            case syntax.Each():
                _each(check, item, reach, names, last)


def _widget(check: _Check, widget: syntax.Widget, reach: Scope | None, names: frozenset[str]) -> None:
    if widget.subject is not None:
        _expression(check, widget.subject, reach, False)
    _phrases(check, widget.phrases, reach, names)
    for child in widget.children:
        _widget(check, child, reach, names)


def _surfaces(check: _Check, plan: syntax.Plan | None, names: frozenset[str]) -> None:
    for surface in plan.surfaces if plan is not None else ():
        _phrases(check, surface.phrases, None, names)


def _phrases(
    check: _Check, phrases: Iterable[syntax.Phrase], reach: Scope | None, names: frozenset[str]
) -> None:
    first = check.design.themes[0] if check.design.themes else None
    for phrase in phrases:
        word = phrase.words[0] if phrase.words else None
        if word is not None and word not in names and phrase.kind in (PhraseKind.GOES, PhraseKind.WAY):
            _screen(check, word, phrase.span)
        if word is not None and word not in names and phrase.kind == PhraseKind.FONT:
            _font(check, word, phrase.span)
        if first is not None:
            coloured = phrase.words[:1] if phrase.kind == PhraseKind.RAMP else roles_of(phrase)
            for each in coloured:
                if each not in names:
                    _colour(check, phrase, each, first)
        for value in phrase.values:
            _expression(check, value, reach, phrase.kind in _CONDITIONS)


def _font(check: _Check, name: str, span: Span) -> None:
    """M249: a font that design.yaml does not name, or whose line there is wrong."""
    if name not in check.design.fonts:
        read = (Subject("design.yaml", ("fonts", name)), Subject("design.yaml", (NAMELESS,)))
        known = check.design.fonts
        remedy = did_you_mean(name, known, "fonts")
        if closest(name, known) is None:
            remedy += f"; name it under `fonts:` in design.yaml, such as `{name}: B612-Regular`"
        message = f"design.yaml names no font '{name}'"
        check.findings.append(error("M249", message, span, remedy, rests_on=read))


def _colour(check: _Check, phrase: syntax.Phrase, word: str, theme: ThemeDefinition) -> None:
    """M252 a role, M253 a ramp that the themes do not have."""
    ramp = phrase.kind == PhraseKind.RAMP
    code, what = ("M253", "ramp") if ramp else ("M252", "role")
    known: Mapping[str, object] = theme.ramps if ramp else theme.roles
    if word not in known:
        meant = [] if ramp else [role for role in _MEANT.get(word, ()) if role in known]
        remedy = f"write {' or '.join(meant)}" if meant else did_you_mean(word, known, f"{what}s")
        check.say(code, f"the themes have no {what} '{word}'", phrase.span, remedy)


def _expression(check: _Check, expression: syntax.Expression, reach: Scope | None, needs_flag: bool) -> None:
    nodes = list(walk(expression))
    for node in nodes:
        if isinstance(node, syntax.Signal):
            check.used.add(node.name)
            known = check.reach.signals
            if reach is None and node.name not in known and node.name not in check.design.broken:
                check.findings.append(unknown_signal(node, known))
    plain = isinstance(expression, syntax.Quantity | syntax.Text | syntax.Name)
    if reach is None or (plain and not needs_flag):
        return
    names = {node.name for node in nodes if isinstance(node, syntax.Name)}
    if not names <= reach.names.keys():
        return
    try:
        # With counters in it, it is another expression at each of their places.
        typings = None if names else check.design.typings
        result = typed(expression, reach) if typings is None else typings.typed(expression, reach.warnings)
        if needs_flag:
            condition(expression, result)
    except DesignError as problem:
        check.findings.extend(problem.findings)


def _each(
    check: _Check,
    each: syntax.Each,
    reach: Scope | None,
    names: frozenset[str],
    last: Sequence[bool],
) -> None:
    """The body with the counter at its first and at its last place; one each in another goes with it,
    lest every level doubles the work."""
    for at_last in last:
        end = each.last if at_last else each.first
        _expression(check, end, reach, False)
        inner = reach
        if reach is not None and isinstance(end, syntax.Quantity):
            counters: dict[str, Typed] = {**reach.names, each.name: constant_number(end.number)}
            inner = Scope(reach.signals, counters, reach.broken, reach.warnings)
        _contents(check, each.body, inner, names | {each.name}, (at_last,))


def _use(check: _Check, use: syntax.Use, reach: Scope | None, names: frozenset[str]) -> None:
    part = check.design.parts.get(use.part)
    check.parts.add(use.part)
    for _, value in use.arguments:
        _expression(check, value, reach, False)
    if part is None:
        remedy = did_you_mean(use.part, check.design.parts, "parts")
        check.say("M241", f"there is no part '{use.part}'", use.span, remedy)
        return
    known = dict(part.parameters)
    given = [name for name, _ in use.arguments]
    for name in dict.fromkeys(given):
        if name not in known:
            remedy = did_you_mean(name, known, "parameters")
            check.say("M242", f"part '{use.part}' has no parameter '{name}'", use.span, remedy)
        elif given.count(name) > 1:
            check.say("M242", f"'{name}' is given twice", use.span, "give it once")
    meant = {closest(name, known) for name in given if name not in known}
    lacking = [name for name, default in part.parameters if default is None and name not in {*given, *meant}]
    if lacking:
        names_text = ", ".join(f"'{name}'" for name in lacking)
        remedy = "add " + ", ".join(f"`{name} ...`" for name in lacking)
        check.say("M243", f"part '{use.part}' needs {names_text} too", use.span, remedy)


def _part_circles(check: _Check) -> None:
    parts = check.design.parts
    uses = {
        name: sorted({use.part for area in part.areas for use in syntax.uses(area.body)} & parts.keys())
        for name, part in parts.items()
    }
    told: set[str] = set()
    for start in _circling(uses):
        path = _way_back(start, uses) if start not in told else None
        if path is not None and told.isdisjoint(path):
            told.update(path)
            shown = " -> ".join((*path, start))
            remedy = "take one of the `use` lines out"
            message = f"part '{start}' is made of itself: {shown}"
            circle = tuple(part_subject(parts[name]) for name in path)
            check.findings.append(error("M246", message, parts[start].name_span, remedy, breaks=circle))


def _circling(uses: Mapping[str, list[str]]) -> list[str]:
    """The parts that are left when those made of none that is left are taken out, again and again."""
    waiting = {name: len(others) for name, others in uses.items()}
    users: dict[str, list[str]] = {name: [] for name in uses}
    for name, others in uses.items():
        for other in others:
            users[other].append(name)
    out = [name for name, count in waiting.items() if count == 0]
    for name in out:
        for user in users[name]:
            waiting[user] -= 1
            if waiting[user] == 0:
                out.append(user)
    return [name for name, count in waiting.items() if count > 0]


def _way_back(start: str, uses: Mapping[str, list[str]]) -> list[str] | None:
    """The shortest way from a part to itself, or None."""
    before: dict[str, str] = {}
    queue = [start]
    for name in queue:
        for other in uses[name]:
            if other == start:
                way = [name]
                while way[-1] != start:
                    way.append(before[way[-1]])
                return way[::-1]
            if other not in before:
                before[other] = name
                queue.append(other)
    return None


def _unused(check: _Check) -> None:
    design = check.design
    used = check.used | set(design.outputs)
    for output in design.outputs.values():
        if output.allowed is not None:
            used |= output.allowed.signals
    if isinstance(design.choose, BySignal):
        used.add(design.choose.signal)
    for definition in design.signals.values():
        if definition.derived is not None:
            used |= definition.derived.signals
    for name, definition in design.signals.items():
        # A shared part offers more than one design needs.
        if name not in used and definition.span.file not in design.borrowed:
            message = f"nothing shows or uses the signal '{name}'"
            check.findings.append(_unused_note(message, definition.span, "show it, or remove it"))
    for name, part in design.parts.items():
        if name not in check.parts and part.name_span.file not in design.borrowed:
            message = f"nothing uses the part '{name}'"
            check.findings.append(_unused_note(message, part.name_span, "use it, or remove it"))


def _unused_note(message: str, span: Span, remedy: str) -> Finding:
    """M247. What cannot be read, or is left out for its error, may use it."""
    return Finding("M247", Severity.NOTE, message, span, remedy, rests_on=(OUTPUTS, CHOICE, WORDS))
