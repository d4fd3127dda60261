"""signals.yaml beyond the signals: what a touch may ask for, and how a message shows that it lives."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from hmic.diagnostics import DesignError, Finding, Severity, did_you_mean, error
from hmic.language.parser import parse_expression
from hmic.language.renaming import renamed
from hmic.language.syntax import Expression
from hmic.model.builtin import BUILTIN
from hmic.model.buses import address, parted
from hmic.model.checksums import NAMED, Crc8, Method
from hmic.model.design import MessageCheck, OutputDefinition, SignalDefinition
from hmic.model.design_file import milliseconds
from hmic.model.expressions import Scope, Typed, Typings, ValueKind, accountable, condition
from hmic.model.yaml_source import Entry, Node
from hmic.number_text import at_least, at_most

EVERY = 200
"""Milliseconds at least between two requests of one output (common practice, no source)."""
METHODS = tuple(NAMED)


def read_outputs(
    node: Node | None,
    signals: Mapping[str, SignalDefinition],
    broken: Mapping[str, Finding],
    findings: list[Finding],
    *,
    buses: Sequence[str] | None = (),
) -> dict[str, OutputDefinition]:
    """The outputs by name; one with an error is left out. ``buses`` are those with a name."""
    result: dict[str, OutputDefinition] = {}
    typings = Typings(Scope({**BUILTIN, **signals}, broken=broken))
    for entry in node.each() if node is not None else ():
        signal = signals.get(entry.key)
        if signal is None:
            if entry.key not in broken:
                message = f"the output '{entry.key}' is read back by no signal of that name"
                remedy = did_you_mean(entry.key, signals, "signals")
                findings.append(error("M256", message, entry.span, remedy))
            continue
        if signal.derived is not None or signal.count is not None:
            what = "a list" if signal.count is not None else "worked out"
            remedy = "read it back by a signal of the vehicle"
            message = f"'{entry.key}' is {what}; nothing can ask for it"
            findings.append(error("M256", message, entry.span, remedy))
            continue
        mine: list[Finding] = []
        allowed = _condition(entry.value.get("allowed"), typings, mine)
        output = _output(entry, signal, allowed, buses, mine)
        findings.extend(mine)
        if output is not None and not any(finding.severity is Severity.ERROR for finding in mine):
            other = next((each.name for each in result.values() if _same_field(each, output)), None)
            if other is None:
                result[entry.key] = output
                continue
            field = address(output.bus, f"{output.message}.{output.field}")
            message = f"'{entry.key}' asks by {field}, and so does '{other}'"
            remedy = "each would send the other's value: give each a field of its own, or keep one of them"
            findings.append(error("M295", message, entry.span, remedy))
    return result


def _same_field(one: OutputDefinition, other: OutputDefinition) -> bool:
    mine, theirs = ((each.bus, each.message, each.field) for each in (one, other))
    return bool(one.message) and mine == theirs


def _output(
    entry: Entry,
    signal: SignalDefinition,
    allowed: Typed | None,
    buses: Sequence[str] | None,
    findings: list[Finding],
) -> OutputDefinition | None:
    target = _scalar(entry.value, "to")
    if not isinstance(target, str) or (target != "pipe" and "." not in target):
        return None
    bus, message, field = "", "", ""
    if target != "pipe":
        place = entry.span if entry.value.entries is None else entry.value.entries["to"].value.span
        try:
            bus, target = parted(target, buses, entry.key, place)
        except DesignError as problem:
            findings.extend(problem.findings)
            return None
        message, _, field = target.partition(".")
    low, high = signal.low, signal.high
    limits = entry.value.get("range")
    if limits is not None:
        ends = [item.scalar for item in limits.items or ()]
        numbers = [float(end) for end in ends if isinstance(end, int | float) and not isinstance(end, bool)]
        if signal.kind != ValueKind.NUMBER:
            findings.append(error("M283", f"'{entry.key}' is no number and has no range", limits.span))
        elif len(numbers) == 2 and signal.low <= numbers[0] < numbers[1] <= signal.high:
            low, high = numbers
        else:
            text = f"the range of the output '{entry.key}' is not within the signal's"
            remedy = f"write a range within [{at_least(signal.low)}, {at_most(signal.high)}]"
            if len(numbers) == 2 and numbers[0] >= numbers[1]:
                text = f"the range of the output '{entry.key}' does not rise"
                remedy = "write the lower end first, and the two apart"
            findings.append(error("M283", text, limits.span, remedy))
    every = _scalar(entry.value, "every")
    period = milliseconds(every) if isinstance(every, str) else None
    return OutputDefinition(
        entry.key,
        signal,
        message,
        field,
        entry.span,
        low,
        high,
        EVERY if period is None else period,
        allowed,
        bus=bus,
    )


def _condition(node: Node | None, typings: Typings, findings: list[Finding]) -> Typed | None:
    if node is None or not isinstance(node.scalar, str):
        return None
    expression, wrong = read_formula(node)
    findings.extend(wrong)
    if expression is None:
        return None
    try:
        warnings: list[Finding] = []
        result = condition(expression, typings.typed(expression, warnings))
        result = accountable(expression, result, lambda each: typings.typed(each, []))
    except DesignError as problem:
        findings.extend(problem.findings)
        return None
    findings.extend(warnings)
    return result


def read_formula(node: Node) -> tuple[Expression | None, list[Finding]]:
    """The expression that a scalar of a YAML file holds, and what is wrong with it."""
    # A quoted formula starts one column after its quote.
    column = node.span.column + (1 if node.quoted else 0)
    expression, findings = parse_expression(str(node.scalar), node.span.file, node.span.line, column)
    if expression is not None and node.renamed is not None:
        expression = renamed(expression, *node.renamed)
    return expression, findings


def read_messages(
    node: Node | None, findings: list[Finding], buses: Sequence[str] | None = ()
) -> dict[str, MessageCheck]:
    """The checks of messages by address; ``buses`` are those with a name. What the schema found wrong is left
    out silently."""
    result: dict[str, MessageCheck] = {}
    for entry in node.each() if node is not None else ():
        try:
            bus, name = parted(entry.key, buses, entry.key, entry.span)
        except DesignError as problem:
            findings.extend(problem.findings)
            continue
        counter, checksum = _scalar(entry.value, "counter"), _scalar(entry.value, "checksum")
        method, crc = entry.value.get("method"), entry.value.get("crc")
        if method is not None and crc is not None:
            message = f"the checksum of '{entry.key}' is told twice, by 'method' and by 'crc'"
            findings.append(error("M285", message, crc.span, "keep one of them"))
        result[address(bus, name)] = MessageCheck(
            name,
            counter if isinstance(counter, str) else None,
            checksum if isinstance(checksum, str) else None,
            _crc(crc) if crc is not None else _named(method),
            _scalar(entry.value, "with identifier") is True,
            entry.span,
            bus,
        )
    return result


def _named(node: Node | None) -> Method:
    said = None if node is None else node.scalar
    return NAMED.get(said if isinstance(said, str) else "", NAMED[METHODS[0]])


def _crc(node: Node) -> Method:
    polynomial, start, final = (_byte(_scalar(node, key)) for key in ("polynomial", "start", "final"))
    return Crc8(polynomial, start, _scalar(node, "reflected") is True, final)


def _byte(said: object) -> int:
    return int(said, 16) if isinstance(said, str) and re.fullmatch("0x[0-9A-Fa-f]{1,2}", said) else 0


def _scalar(node: Node, key: str) -> object:
    value = node.get(key)
    return None if value is None else value.scalar
