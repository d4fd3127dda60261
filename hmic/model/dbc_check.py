"""The signals and outputs of a design held against its DBC file."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from hmic.diagnostics import Finding, Severity, Span, Subject, did_you_mean, error, warning
from hmic.model.buses import address
from hmic.model.dbc import DbcSignal, Facts, lost_line, means_no_value
from hmic.model.design import (
    OUTPUTS,
    FieldSteps,
    MessageCheck,
    OutputDefinition,
    SignalDefinition,
    carried_subject,
)
from hmic.model.j1939 import NOBODY, is_group, source_of
from hmic.model.j1939_check import check_addresses, check_measured
from hmic.model.signals_file import SignalsFile
from hmic.model.unit_words import says_no_unit, says_plain_number
from hmic.model.units import PLAIN, Unit, converter, convertible, unit
from hmic.model.values import SLACK, ValueKind
from hmic.number_text import number, numbers


@dataclass(frozen=True)
class BusFacts:
    """What the description of a bus says, and the name of its file. ``elsewhere`` are the messages of
    all buses, with the first bus that has each; ``j1939`` whether design.yaml says that its messages are
    parameter groups."""

    name: str
    facts: Facts
    file: str
    elsewhere: Mapping[str, str] = field(default_factory=dict)
    j1939: bool | None = None


def check_signals(
    signals: Mapping[str, SignalDefinition], bus: BusFacts, findings: list[Finding]
) -> dict[str, SignalDefinition]:
    """The signals, those of the bus with the resolution of their source filled in."""
    return {
        name: _checked(definition, bus, findings)
        if definition.source is not None and definition.source.bus == bus.name
        else definition
        for name, definition in signals.items()
    }


def check_outputs(read: SignalsFile, bus: BusFacts, findings: list[Finding]) -> None:
    """Each output of the bus needs its message and field, and something that sets the message's other fields.
    Its range ends where its field has a value."""
    by_message: dict[str, list[OutputDefinition]] = {}
    received = {
        each.source.message: each.name
        for each in read.signals.values()
        if each.source is not None and each.source.bus == bus.name
    }
    for output in list(read.outputs.values()):
        if not output.message or output.bus != bus.name:
            continue
        if output.message in received:
            message = (
                f"'{output.name}' would be asked for by message '{output.message}', which is received: "
                f"'{received[output.message]}' is read from it"
            )
            remedy = "name the message that asks for it: two senders of one message disturb the bus"
            findings.append(error("M298", message, output.span, remedy))
            continue
        found = _field(output.name, output.message, output.field, output.span, bus, findings=findings)
        if found is not None:
            by_message.setdefault(output.message, []).append(output)
            read.outputs[output.name] = _in_steps(output, found, findings)
    for name, carried in by_message.items():
        _settable(bus, carried, read.messages.get(address(bus.name, name)), findings)


def _in_steps(output: OutputDefinition, field: DbcSignal, findings: list[Finding]) -> OutputDefinition:
    """The output with the steps of its field. What is asked for must read back within the range: a value
    beyond it would be shown in doubt, and bar what goes in the same message."""
    steps = _steps(output.signal, field)
    if steps is None:
        return output
    low, high = output.low, output.high
    ends = steps.within(low, high)
    of = output.signal.unit.spelling if output.signal.unit is not None else ""
    if ends is None:
        told = numbers(low, high, steps.step, steps.closest(low))
        message = (
            f"'{output.name}' may be asked for from {told[0]} to {told[1]} {of}".rstrip()
            + f", but its field carries nothing between: it has steps of {told[2]} {of}".rstrip()
        )
        remedy = f"write a range with a value of the field in it, such as {told[3]} {of}".rstrip()
        findings.append(error("M283", message, output.span, remedy))
        return output
    slack = SLACK * (high - low)
    if ends[0] - low > slack or high - ends[1] > slack:
        told = numbers(low, high, *ends)
        message = (
            f"'{output.name}' may be asked for from {told[0]} to {told[1]} {of}".rstrip()
            + f"; of that its field can carry {told[2]} to {told[3]} {of}".rstrip()
        )
        remedy = f"write `range: [{told[2]}, {told[3]}]` for it, or correct the scale in the DBC"
        rests_on = (carried_subject(output.name),)
        findings.append(Finding("M282", Severity.NOTE, message, output.span, remedy, rests_on=rests_on))
    return replace(output, low=max(low, ends[0]), high=min(high, ends[1]), steps=steps)


def _steps(signal: SignalDefinition, field: DbcSignal) -> FieldSteps | None:
    """The values of a field in the unit of the signal; None where they are no whole steps, or no number
    is asked for."""
    whole = field.scale > 0 and math.isfinite(field.low) and math.isfinite(field.high)
    if signal.kind != ValueKind.NUMBER or not whole:
        return None
    change: Callable[[float], float] = float
    given = unit(field.unit) if field.unit else None
    if given is not None and signal.unit is not None and convertible(signal.unit, given):
        change = converter(given, signal.unit)
    low, high = sorted((change(field.low), change(field.high)))
    count = (1 << field.length) - 1
    return FieldSteps(low, (high - low) / count, count + 1) if count and high > low else None


def _settable(
    bus: BusFacts, carried: list[OutputDefinition], check: MessageCheck | None, findings: list[Finding]
) -> None:
    """Whether all fields of the message of some outputs are known when one of them is asked for."""
    name = address(bus.name, carried[0].message)
    fields = bus.facts[carried[0].message]
    known = {output.field for output in carried}
    if check is not None:
        known |= {check.counter or "", check.checksum or ""}
    lacking = [key for key, field in fields.items() if key not in known and not field.begins]
    first = next(iter(fields.values()))
    grouped = is_group(first.group, bus.j1939)
    if grouped and (first.bytes > 8 or source_of(first.frame) in NOBODY):
        what, remedy = "it takes several frames, which are only listened to", "ask by a message of 8 bytes"
        if first.bytes <= 8:
            what = "its identifier has no source address of a sender"
            remedy = "give it in the DBC the address that this computer may send by"
    elif any(field.selected for field in fields.values()):
        what, remedy = "it is multiplexed", "name a message whose fields always mean the same"
    elif lacking:
        what = f"nothing sets its field '{lacking[0]}'"
        remedy = (
            f"declare an output `to: {name}.{lacking[0]}` too, or give the field a start value in the DBC"
        )
    else:
        return
    message = f"'{carried[0].name}' cannot be asked for by message '{name}': {what}"
    # An output that is left out for its error may set it.
    findings.append(error("M286", message, carried[0].span, remedy, rests_on=(OUTPUTS,)))


def check_messages(messages: Mapping[str, MessageCheck], bus: BusFacts, findings: list[Finding]) -> None:
    """Each checked message of the bus needs its counter and its checksum, the latter a byte."""
    for check in messages.values():
        for name in (check.counter, check.checksum) if check.bus == bus.name else ():
            if name is None:
                continue
            found = _field(check.message, check.message, name, check.span, bus, findings=findings)
            if found is not None and name == check.checksum and found.length != 8:
                message = f"the checksum '{name}' of '{check.message}' has {found.length} bits"
                remedy = "only checksums of one byte are known here; leave it out"
                findings.append(error("M285", message, check.span, remedy))


def _field(
    name: str, message: str, field: str, span: Span, bus: BusFacts, *, findings: list[Finding]
) -> DbcSignal | None:
    fields, file = bus.facts.get(message), bus.file
    if fields is None:
        text = f"'{name}' names message '{message}', which '{file}' does not have"
        remedy = did_you_mean(message, bus.facts, "messages")
        if message in bus.elsewhere:
            remedy = f"it is on another bus: write `{address(bus.elsewhere[message], f'{message}.{field}')}`"
        elif "/" in message and not bus.name:
            remedy = "design.yaml names no buses: leave out what stands before '/', or write `buses:`"
        findings.append(error("M260", text, span, remedy))
        return None
    found = fields.get(field)
    if found is None:
        text = f"'{name}' names '{field}', which message '{message}' of '{file}' does not have"
        findings.append(error("M261", text, span, did_you_mean(field, fields, "fields")))
    elif found.lost is not None:
        findings.append(lost_line(found.lost, file))
        return None
    elif found.trouble and not any(each.code == "M288" and each.span == span for each in findings[-1:]):
        text = f"'{name}' names '{message}.{field}', of which '{file}' says what cannot be: {found.trouble}"
        remedy = "correct the DBC by what its sender sends; until then a wrong number may be shown"
        findings.append(warning("M288", text, span, remedy))
    return found


def _checked(definition: SignalDefinition, bus: BusFacts, findings: list[Finding]) -> SignalDefinition:
    source = definition.source
    if source is None:
        return definition
    places = range(1, (definition.count or 1) + 1)
    found: list[DbcSignal] = []
    for place in places:
        field = source.signal.replace("{n}", str(place))
        one = _field(definition.name, source.message, field, definition.span, bus, findings=findings)
        if one is None:
            # The other elements of a list lack for the same reason.
            return definition
        found.append(one)
    first = found[0]
    _whole(definition, bus, findings)
    _age(definition, first, source.message, findings)
    grouped = is_group(first.group, bus.j1939)
    check_addresses(definition, first, bus.j1939, findings)
    if definition.kind == ValueKind.WORD:
        _words(definition, first, findings)
        return definition
    if definition.kind != ValueKind.NUMBER or definition.unit is None:
        return definition
    given = _unit(definition, definition.unit, first, findings)
    _reach(definition, first, given, findings)
    if grouped:
        check_measured(definition, first, given, findings)
    _no_data(definition, first, given, findings)
    if not first.scale or not convertible(given, definition.unit):
        return definition
    step = abs(converter(given, definition.unit)(first.scale) - converter(given, definition.unit)(0.0))
    return replace(definition, resolution=step)


def _whole(definition: SignalDefinition, bus: BusFacts, findings: list[Finding]) -> None:
    """A list that ends before the fields of its message do: nobody would see what those hold."""
    source, last = definition.source, definition.count or 0
    if source is None or "{n}" not in source.signal:
        return
    fields = bus.facts[source.message]
    while source.signal.replace("{n}", str(last + 1)) in fields:
        last += 1
    if last > (definition.count or 0):
        left = source.signal.replace("{n}", str(last))
        message = f"'{definition.name}' has {definition.count} elements, and leaves out fields up to '{left}'"
        remedy = f"write `count: {last}`, if the others are of no other kind"
        findings.append(Finding("M299", Severity.NOTE, message, definition.span, remedy))


def _age(definition: SignalDefinition, field: DbcSignal, message: str, findings: list[Finding]) -> None:
    """A value that is dropped before the next one can come flickers between a number and none."""
    if 0 < definition.stale_after < field.cycle:
        text = (
            f"'{definition.name}' is stale after {definition.stale_after} ms, "
            f"but the DBC gives '{message}' a period of {field.cycle} ms"
        )
        remedy = f"write `stale: {_time(3 * field.cycle)}`; three to five periods are common practice"
        found = Finding("M294", Severity.WARNING, text, definition.span, remedy)
        findings.append(
            replace(found, measured=definition.stale_after, limit=field.cycle, unit="ms", source="the DBC")
        )


def _time(milliseconds: int) -> str:
    return f"{milliseconds} ms" if milliseconds % 1000 else f"{milliseconds // 1000} s"


def _unit(definition: SignalDefinition, declared: Unit, field: DbcSignal, findings: list[Finding]) -> Unit:
    """The unit of the DBC, or the declared one where the DBC says nothing that can be compared."""
    if says_no_unit(field.unit) or (says_plain_number(field.unit) and declared == PLAIN):
        return declared
    given = unit(field.unit)
    name = definition.name
    if given is None:
        message = (
            f"'{name}' is declared in {declared.spelling or 'no unit'}; the DBC spells it '{field.unit}'"
        )
        remedy = "see that both mean the same: the number is taken as declared, whatever the DBC means"
        findings.append(warning("M262", message, definition.span, remedy))
        return declared
    if convertible(given, declared):
        return given
    message = (
        f"'{name}' is declared in {declared.spelling or 'no unit'}, but the DBC gives it in {field.unit}"
    )
    quoted = given.spelling if re.fullmatch(r"[^\W\d].*", given.spelling) else f'"{given.spelling}"'
    remedy = f"write `unit: {quoted}`, or name another source"
    findings.append(warning("M262", message, definition.span, remedy))
    return declared


def _reach(definition: SignalDefinition, field: DbcSignal, given: Unit, findings: list[Finding]) -> None:
    """A range that the field's bits can never meet hides a wrong source or a wrong scale."""
    if definition.unit is None or not convertible(given, definition.unit):
        return
    change = converter(given, definition.unit)
    low, high = change(field.low), change(field.high)
    if high < definition.low or low > definition.high:
        spelt = definition.unit.spelling
        least, most, lowest, highest = numbers(definition.low, definition.high, low, high)
        message = (
            f"'{definition.name}' is true from {least} to {most} {spelt}, "
            f"but its field carries {lowest} to {highest} {spelt}"
        )
        remedy = "correct the range, or the scale in the DBC"
        findings.append(warning("M265", message, definition.span, remedy))
        return
    step = abs(change(field.scale) - change(0.0))
    if step and given.factor != definition.unit.factor:
        _coarse(definition, (definition.high - definition.low) / step, given, findings)


def _coarse(definition: SignalDefinition, steps: float, given: Unit, findings: list[Finding]) -> None:
    """M265: a range in another unit than the DBC's of which the field has hardly a value."""
    if steps >= FEWEST_STEPS or definition.unit is None:
        return
    least, most = numbers(definition.low, definition.high)
    message = (
        f"'{definition.name}' is true from {least} to {most} {definition.unit.spelling}: at most "
        f"{math.floor(steps) + 1} of the values that its field has in {given.spelling}"
    )
    remedy = f"write `unit: {given.spelling}`, or correct the range"
    findings.append(warning("M265", message, definition.span, remedy))


FEWEST_STEPS = 10
"""Values of a field that a range in another unit holds, below which the unit is taken for a slip (common
practice, no source)."""


def _no_data(definition: SignalDefinition, field: DbcSignal, given: Unit, findings: list[Finding]) -> None:
    """The value for "not available" must be one that the field can carry and that is never true;
    else it would be shown as a number, or a true number as missing."""
    absent, declared = definition.no_data, definition.unit
    if absent is None or declared is None or not convertible(given, declared):
        return
    name, half = definition.name, field.scale / 2
    if not field.low - half <= absent <= field.high + half:
        said, lowest, highest = numbers(absent, field.low, field.high)
        message = (
            f"'no data' of '{name}' is {said}, which its field never carries "
            f"({lowest} to {highest} {given.spelling}".rstrip()
            + ")"
        )
        remedy = f"write the value in the DBC's unit; all bits set is {highest}"
        findings.append(warning("M266", message, definition.span, remedy))
    elif definition.low <= converter(given, declared)(absent) <= definition.high:
        message = f"'no data' of '{name}' is {number(absent)}, which its range counts as true"
        remedy = "end the range before it"
        findings.append(warning("M266", message, definition.span, remedy))


def _words(definition: SignalDefinition, field: DbcSignal, findings: list[Finding]) -> None:
    lacking = [raw for raw in sorted(field.choices) if raw not in definition.words]
    # "No value" entries of a value table are no state.
    lacking = [raw for raw in lacking if not means_no_value(field.choices[raw])]
    if lacking and definition.no_data is not None:
        lacking = [raw for raw in lacking if raw != definition.no_data]
    if lacking:
        raw = lacking[0]
        word = field.choices[raw]
        message = f"the DBC has a state {raw} ('{word}') for '{definition.name}' that has no word here"
        remedy = f"add `{raw}: {word}` to its words; until then it shows as out of range"
        words = (Subject("signals.yaml", ("signals", definition.name, "words")),)
        findings.append(warning("M264", message, definition.span, remedy, rests_on=words))
