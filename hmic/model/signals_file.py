"""signals.yaml: what the screens can know of the vehicle, and what they may ask of it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from hmic.causes import Faults, nobody_told
from hmic.diagnostics import DesignError, Finding, Severity, Span, Subject, Told, error, warning
from hmic.language import syntax
from hmic.model.asked_file import Controllers, is_asked, read_asked, read_controllers
from hmic.model.builtin import BUILTIN
from hmic.model.buses import parted
from hmic.model.design import CanSource, MessageCheck, OutputDefinition, SignalDefinition
from hmic.model.design_file import milliseconds
from hmic.model.expressions import Declared, Scope, Typed, ValueKind, as_unit, typed, walk
from hmic.model.formula_range import beyond_range
from hmic.model.requests_file import read_formula, read_messages, read_outputs
from hmic.model.samples_file import read_sample
from hmic.model.terms import Memory
from hmic.model.touch_progress import HOLD_PREFIX, PAGE_PREFIX, TOUCH_PREFIX
from hmic.model.units import Unit, degrees, quantity_name, unit, unit_remedy
from hmic.model.yaml_source import Entry, Node
from hmic.number_text import number, numbers

_NAME = re.compile(r"[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)+")
ADDRESSES = ("source address", "destination address")
"""The keys by which a signal says which sender and receiver of a parameter group it means."""
_KINDS = {"unit": ValueKind.NUMBER, "words": ValueKind.WORD, "flag": ValueKind.FLAG, "text": ValueKind.TEXT}
"""The key that says what a signal is."""


@dataclass
class SignalsFile:
    """What signals.yaml says. ``expressions`` holds the formulas of derived signals, ``broken`` the
    names whose declaration has an error, with it, ``memories`` what the formulas need remembered."""

    signals: dict[str, SignalDefinition] = field(default_factory=dict)
    outputs: dict[str, OutputDefinition] = field(default_factory=dict)
    expressions: dict[str, syntax.Expression] = field(default_factory=dict)
    broken: dict[str, Finding] = field(default_factory=dict)
    memories: dict[str, Memory] = field(default_factory=dict)
    messages: dict[str, MessageCheck] = field(default_factory=dict)


def read_signals(node: Node, findings: list[Finding], buses: Sequence[str] | None = ()) -> SignalsFile:
    """The contents of a signals.yaml, derived signals typed; ``buses`` are those with a name, None where
    they are not known. What the schema found wrong breaks its signal silently."""
    result = SignalsFile()
    group = node.get("signals")
    derived: dict[str, Entry] = {}
    known = Faults().and_also(findings)
    controllers = read_controllers(node.get("controllers"), buses, findings)
    for entry in group.each() if group is not None else ():
        mine: list[Finding] = []
        formula = entry.value.get("is")
        if _NAME.fullmatch(entry.key) is None or entry.value.entries is None:
            result.broken[entry.key] = _why(entry, mine, known)
            continue
        if entry.key in BUILTIN or entry.key.startswith((TOUCH_PREFIX, HOLD_PREFIX, PAGE_PREFIX)):
            remedy = "give yours another name"
            mine.append(
                error("M268", f"'{entry.key}' is a name that hmic keeps for itself", entry.span, remedy)
            )
        if formula is not None and isinstance(formula.scalar, str):
            expression, wrong = read_formula(formula)
            mine.extend(wrong)
            if expression is not None:
                result.expressions[entry.key] = expression
                derived[entry.key] = entry
            else:
                result.broken[entry.key] = _why(entry, mine, known)
        else:
            definition = _declared(entry, buses, controllers, mine)
            if definition is not None:
                result.signals[entry.key] = definition
            else:
                result.broken[entry.key] = _why(entry, mine, known)
        findings.extend(mine)
    _derive(result, derived, findings)
    asked = node.get("outputs")
    result.outputs = read_outputs(asked, result.signals, result.broken, findings, buses=buses)
    result.messages = read_messages(node.get("messages"), findings, buses)
    order = [entry.key for entry in group.each()] if group is not None else []
    result.signals = {name: result.signals[name] for name in order if name in result.signals}
    return result


def _why(entry: Entry, mine: list[Finding], known: Faults) -> Finding:
    """The error that breaks a signal: one of its own, or what the schema found. A336 where nobody told."""
    wrong = next((item for item in mine if item.severity is Severity.ERROR), None)
    told = wrong or known.of(Subject(entry.span.file, ("signals", entry.key)))
    if told is None:
        mine.append(told := nobody_told(entry.span))
    return told


def _scalar(node: Node, key: str) -> object:
    value = node.get(key)
    return None if value is None else value.scalar


def _kind(entry: Entry, findings: list[Finding]) -> ValueKind | None:
    """What a signal is, by the one key that says so."""
    node = entry.value
    said = [key for key in _KINDS if node.get(key) is not None]
    if len(said) > 1:
        place = node.entries[said[1]].span if node.entries is not None else entry.span
        remedy = "keep one of them"
        message = f"'{entry.key}' has both '{said[0]}' and '{said[1]}'; it can be one thing"
        findings.append(error("M233", message, place, remedy))
        return None
    if not said:
        remedy = (
            "add `unit: V` and `range: [0, 400]`, or `flag: true`, `words: {0: Off, 1: On}`, `text: true`"
        )
        findings.append(error("M233", f"'{entry.key}' does not say what it is", entry.span, remedy))
        return None
    return _KINDS[said[0]]


def _unit_of(node: Node, findings: list[Finding]) -> Unit | None:
    written = node.get("unit")
    if written is None or not isinstance(written.scalar, str):
        return None
    found = unit(written.scalar)
    if found is None:
        message = f"'{written.scalar}' is no unit that is known here"
        findings.append(error("M203", message, written.span, unit_remedy(written.scalar)))
    return found


def _range_of(entry: Entry, findings: list[Finding]) -> tuple[float, float] | None:
    node = entry.value.get("range")
    if node is None:
        return None
    ends = [item.scalar for item in node.items or ()]
    match ends:
        case [int() | float() as low, int() | float() as high] if not any(isinstance(e, bool) for e in ends):
            if low < high:
                return float(low), float(high)
            least, most = numbers(high, low)
            message = f"the range of '{entry.key}' ends at {least}, which is not above its start {most}"
            remedy = f"write `range: [{least}, {most}]`"
            if low == high:
                message = f"the range of '{entry.key}' begins and ends at {most}"
                such = f"[{number(min(0, low))}, {number(max(0, low))}]" if low else "[0, 100]"
                remedy = f"write the lowest and the highest that can be true, such as `range: {such}`"
            findings.append(error("M254", message, node.span, remedy))
    return None


def _declared(
    entry: Entry, buses: Sequence[str] | None, controllers: Controllers, findings: list[Finding]
) -> SignalDefinition | None:
    """A signal that comes from outside, or None with its findings."""
    node = entry.value
    kind = _kind(entry, findings)
    of = _unit_of(node, findings) if kind == ValueKind.NUMBER else None
    bounds = _range_of(entry, findings)
    if kind == ValueKind.NUMBER and node.get("range") is None:
        remedy = (
            f"add `range: [lowest, highest]`, the values that can be true{f' in {of.spelling}' if of else ''}"
        )
        findings.append(error("M254", f"'{entry.key}' has a unit but no range", entry.span, remedy))
    if kind != ValueKind.NUMBER and kind is not None and node.get("range") is not None:
        findings.append(error("M233", f"'{entry.key}' is a {kind} and has no range", entry.span, "remove it"))
    source, stale = _source_of(entry, kind, buses, findings)
    written = _scalar(node, "from")
    asked = read_asked(entry, kind, buses, controllers, findings) if is_asked(written) else None
    if is_asked(written) and asked is None:
        return None
    if asked is not None and stale is not None and 0 < stale < asked.every:
        message = f"'{entry.key}' is stale after {stale} ms, but asked for every {asked.every} ms"
        remedy = f"write `stale: {3 * asked.every} ms`, or ask for it more often with `every`"
        findings.append(warning("M294", message, entry.span, remedy))
    if kind is None or (kind == ValueKind.NUMBER and (of is None or bounds is None)) or stale is None:
        return None
    if any(finding.severity is Severity.ERROR for finding in findings):
        return None
    count, no_data, about = _scalar(node, "count"), _scalar(node, "no data"), _scalar(node, "about")
    words = node.get("words")
    low, high = bounds or (0.0, 0.0)
    definition = SignalDefinition(
        entry.key,
        kind,
        of,
        low,
        high,
        count if isinstance(count, int) and not isinstance(count, bool) and 1 <= count <= 1000 else None,
        _words(words) if words is not None else {},
        source,
        None,
        stale,
        float(no_data) if isinstance(no_data, int | float) else None,
        None,
        about if isinstance(about, str) else "",
        entry.span,
        asked=asked,
    )
    return replace(definition, sample=read_sample(definition, node.get("sample"), findings))


def _from_span(entry: Entry) -> Span:
    return entry.span if entry.value.entries is None else entry.value.entries["from"].value.span


def _words(node: Node) -> dict[int, str]:
    return {
        int(entry.key): entry.value.scalar
        for entry in node.each()
        if re.fullmatch(r"-?[0-9]{1,9}", entry.key) and isinstance(entry.value.scalar, str)
    }


def _source_of(
    entry: Entry, kind: ValueKind | None, buses: Sequence[str] | None, findings: list[Finding]
) -> tuple[CanSource | None, int | None]:
    """Where a signal comes from, and its stale time (0: it does not age). None as the time when the
    declaration cannot be used."""
    node = entry.value
    written, stale = _scalar(node, "from"), _scalar(node, "stale")
    time = milliseconds(stale) if isinstance(stale, str) else None
    if written is None and node.get("from") is None and kind != ValueKind.TEXT and node.get("count") is None:
        remedy = 'add `from: Message.Signal`, `from: pipe`, or work it out with `is: "..."`'
        findings.append(error("M269", f"'{entry.key}' does not say where it comes from", entry.span, remedy))
        return None, None
    asked = is_asked(written)
    for key in ("every", "value") if not asked else ():
        if node.get(key) is not None:
            message = f"'{entry.key}' is not asked for, so it has no '{key}'"
            remedy, cause = f"remove `{key}`, or write `from: obd 0D`", ("signals", entry.key, "from")
            rests_on = (Subject(entry.span.file, cause),)
            findings.append(error("M284", message, entry.span, remedy, rests_on=rests_on))
    if not isinstance(written, str) or written == "pipe" or asked:
        for key in ADDRESSES:
            if (said := (node.entries or {}).get(key)) is not None:
                message = f"'{entry.key}' has a '{key}', but it comes from no message"
                findings.append(error("M238", message, said.span, f"remove `{key}`"))
        if (node.get("stale") is None or time == 0) and kind is not None:
            message = f"'{entry.key}' has no stale time, so its last value would look recent for ever"
            findings.append(warning("M248", message, entry.span, "add `stale: 10 s`"))
        return None, time or 0
    if "." not in written:
        return None, None
    place = _from_span(entry)
    try:
        bus, field = parted(written, buses, entry.key, place)
    except DesignError as problem:
        findings.extend(problem.findings)
        return None, None
    message_name, _, signal_name = field.partition(".")
    if node.get("stale") is None or time == 0:
        message = f"'{entry.key}' has no stale time, so its last value would look recent for ever"
        remedy = "add `stale: 500 ms`; three to five periods of its message are common practice"
        findings.append(error("M248", message, entry.span, remedy))
        return None, None
    count = _scalar(node, "count")
    # A count below 1 has been told of.
    if isinstance(count, int) and count > 0 and "{n}" not in signal_name:
        remedy = f'write `from: "{written}{{n}}"`; {{n}} stands for 1, 2, 3 ...'
        findings.append(error("M255", f"'{entry.key}' has a count, but one source", place, remedy))
    if node.get("count") is None and "{n}" in signal_name:
        remedy = "add `count:` with the number of elements"
        findings.append(error("M255", f"'{entry.key}' has {{n}} in its source, but no count", place, remedy))
    addresses = [_address(node, key) for key in ADDRESSES]
    return CanSource(message_name, signal_name, bus, *addresses), time if time else None


def _address(node: Node, key: str) -> int | None:
    written = _scalar(node, key)
    return int(written, 16) if isinstance(written, str) and written.startswith("0x") else None


# Derived signals ------------------------------------------------------------------------------


def _derive(result: SignalsFile, entries: Mapping[str, Entry], findings: list[Finding]) -> None:
    """Type the derived signals, each after those it reads; a circle breaks all in it."""
    reads = {
        name: sorted({node.name for node in walk(expression) if isinstance(node, syntax.Signal)})
        for name, expression in result.expressions.items()
    }
    state: dict[str, bool] = {}
    signals: dict[str, Declared] = {**BUILTIN, **result.signals}

    def visit(name: str, path: tuple[str, ...]) -> None:
        if name in path:
            circle = path[path.index(name) :]
            _circle(circle, entries[min(circle)].span, result, findings)
            return
        if name in state or name not in entries:
            return
        for other in reads[name]:
            visit(other, (*path, name))
        state[name] = True
        if name not in result.broken:
            _derive_one(result, signals, entries[name], result.expressions[name], findings)

    for name in entries:
        # A chain longer than this is no formula a person wrote; it would exhaust the stack.
        if len(entries) > 500 and _depth_over(name, reads, 300):
            span = entries[name].span
            findings.append(error("M245", f"'{name}' is worked out over more than 300 steps", span))
            result.broken.update(dict.fromkeys(entries, findings[-1]))
            return
        visit(name, ())


def _depth_over(name: str, reads: Mapping[str, list[str]], limit: int) -> bool:
    layer, seen = {name}, {name}
    for _ in range(limit):
        layer = {other for item in layer for other in reads.get(item, []) if other in reads} - seen
        seen |= layer
        if not layer:
            return False
    return True


def _circle(circle: tuple[str, ...], span: Span, result: SignalsFile, findings: list[Finding]) -> None:
    first = circle.index(min(circle))
    turned = (*circle[first:], *circle[:first])
    shown = " -> ".join((*turned, turned[0]))
    if not result.broken.keys() >= set(circle):
        message = f"'{turned[0]}' is worked out from itself: {shown}"
        findings.append(error("M245", message, span, "work one of them out from a signal of the vehicle"))
        for name in circle:
            result.broken.setdefault(name, findings[-1])


def _derive_one(
    result: SignalsFile,
    signals: dict[str, Declared],
    entry: Entry,
    expression: syntax.Expression,
    findings: list[Finding],
) -> None:
    """One more derived signal, of those known so far."""
    memories = dict(result.memories)
    reach = Scope(signals, broken=result.broken, memories=memories)
    try:
        value = typed(expression, reach)
    except DesignError as problem:
        findings.extend(problem.findings)
        result.broken[entry.key] = problem.cause if isinstance(problem, Told) else problem.findings[0]
        return
    mine: list[Finding] = []
    definition = _derived(entry, value, expression, mine)
    findings.extend(reach.warnings)
    if definition is None:
        result.broken[entry.key] = _why(entry, mine, Faults())
    else:
        result.signals[entry.key] = signals[entry.key] = replace(definition, formula=expression)
        result.memories = memories
    findings.extend(mine)


def _derived(
    entry: Entry, value: Typed, formula: syntax.Expression, findings: list[Finding]
) -> SignalDefinition | None:
    node, span = entry.value, formula.span
    for key in ("from", "stale", "no data", "count", "words", "every", "value", "sample", *ADDRESSES):
        place = (node.entries or {}).get(key)
        if place is not None:
            message = f"'{entry.key}' is worked out by `is`, so it has no '{key}' of its own"
            findings.append(error("M267", message, place.span, f"remove `{key}`"))
    kind = _kind_said(entry)
    if kind is not None and kind != value.kind:
        message = f"'{entry.key}' is declared as a {kind}, but its formula gives a {value.kind}"
        findings.append(error("M267", message, span, f"declare it as a {value.kind}, or change the formula"))
    for key in ("unit", "range"):
        place = (node.entries or {}).get(key)
        if place is not None and value.kind != ValueKind.NUMBER and kind == value.kind:
            message = f"'{entry.key}' is a {value.kind} and has no {key}"
            findings.append(error("M267", message, place.span, f"remove `{key}`"))
    bounds = _range_of(entry, findings)
    of = _unit_of(node, findings)
    if of is not None and value.kind == ValueKind.NUMBER and value.unit is not None:
        converted = as_unit(value, degrees(of) if value.unit.difference else of)
        if converted is None:
            message = (
                f"'{entry.key}' is declared in {of.spelling or 'no unit'}, but its formula gives "
                f"{value.unit.spelling or 'a plain number'} ({quantity_name(value.unit)})"
            )
            remedy = f"declare `unit: {value.unit.spelling}`, or correct the formula"
            findings.append(error("M212", message, span, remedy))
        value = converted or value
    if any(finding.severity is Severity.ERROR for finding in findings):
        return None
    if bounds is not None and value.kind == ValueKind.NUMBER:
        beyond = beyond_range(entry.key, formula, value, bounds, (node.entries or {})["range"].span)
        findings.extend([beyond] if beyond is not None else [])
        # Held against where the signal is read, as every other one's.
        value = replace(value, low=bounds[0], high=bounds[1])
    about = _scalar(node, "about")
    return SignalDefinition(
        entry.key,
        value.kind,
        value.unit,
        value.low,
        value.high,
        value.count,
        dict(enumerate(value.words)),
        None,
        value,
        0,
        None,
        None,
        about if isinstance(about, str) else "",
        entry.span,
    )


def _kind_said(entry: Entry) -> ValueKind | None:
    """What a derived signal says to be; its words are those of its formula."""
    keys = [key for key in ("flag", "text", "unit", "range") if entry.value.get(key) is not None]
    return _KINDS.get(keys[0], ValueKind.NUMBER) if keys else None
