"""A design held against a recording: what the survey measured beside what signals.yaml declares.

Everything measured is the survey's; a remedy is what a new design out of the recording would say.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from hmic.diagnostics import Finding, Severity
from hmic.model.buses import address
from hmic.model.dbc import means_no_value
from hmic.model.design import Design, SignalDefinition
from hmic.model.j1939 import source_of
from hmic.model.units import converter, convertible, unit
from hmic.model.values import SLACK, ValueKind
from hmic.number_text import number, numbers
from hmic.survey.describe import Described, Descriptions
from hmic.survey.facts import FieldSeen, MessageSeen, Survey
from hmic.survey.proposal import (
    PRESSING,
    SHORT,
    Source,
    brought,
    by_name,
    by_turns,
    failed,
    pace,
    range_of,
    rounded,
    said_time,
    stale_of,
    stale_text,
)

ENOUGH = 10
"""Values from which on it says something that they were all alike, or few of those that could be."""
LITTLE = 0.02
"""Part of a range that is next to nothing of it."""
FEW = 6
"""Identifiers, states or elements of a list that a sentence names."""


@dataclass(frozen=True)
class _Bound:
    """A signal and the fields that give it: one, or one for each element that the recording has."""

    definition: SignalDefinition
    fields: tuple[tuple[int, Source], ...]

    @property
    def seen(self) -> list[tuple[int, Source, FieldSeen]]:
        """The fields that came."""
        return [(place, each, each.seen) for place, each in self.fields if each.seen is not None]

    def elements(self, places: Sequence[int]) -> str:
        """The signal, or those elements of it, in a sentence."""
        if self.definition.count is None:
            return f"'{self.definition.name}'"
        listed = ", ".join(map(str, places[:FEW])) + (" and more" if len(places) > FEW else "")
        return f"'{self.definition.name}' ({listed})"


def absent(design: Design) -> dict[str, float]:
    """The values for none that a design declares, in the units of the descriptions, by field."""
    return {
        field: signal.no_data
        for signal in design.signals.values()
        if signal.no_data is not None and signal.source is not None
        for field in _fields(signal)
    }


def against_design(
    design: Design, descriptions: Descriptions, found: Survey, buses: Collection[str] = ("",)
) -> list[Finding]:
    """What the recording shows otherwise than the design says. ``descriptions`` are those of the design's
    buses, ``buses`` are those that were recorded."""
    described = {address(each.bus, each.message.name): each for each in reversed(descriptions.messages)}
    seen = by_name(found.messages)
    findings: list[Finding] = []
    silent: dict[str, list[tuple[str, list[SignalDefinition]]]] = {}
    heard: set[str] = set()
    for (name, sender), signals in _by_message(design).items():
        if name not in described or described[name].wire not in buses:
            continue
        bus, came = described[name].wire, brought(seen, described[name], sender)
        if not came:
            silent.setdefault(bus, []).append((name, signals))
            continue
        heard.add(bus)
        if len({each.bus for each in came}) > 1:
            findings.append(_by_two_channels(name, came, signals, found))
        elif len({source_of(each.identifier) for each in came}) > 1 and described[name].grouped:
            findings.append(_by_two_senders(name, came, signals))
        else:
            busiest = max(came, key=lambda each: each.count)
            findings += _of_message(name, described[name], busiest, signals, found)
    for bus, messages in silent.items():
        findings += _silent(bus, messages, found, bus in heard)
    return findings


def _fields(signal: SignalDefinition) -> list[str]:
    """The fields that give a signal, one for each element, as ``Message.Field`` with the bus in front."""
    assert signal.source is not None
    places = range(1, (signal.count or 1) + 1)
    written = address(signal.source.bus, f"{signal.source.message}.{signal.source.signal}")
    return [written.replace("{n}", str(place)) for place in places]


def _by_message(design: Design) -> dict[tuple[str, int | None], list[SignalDefinition]]:
    """The signals that come from CAN by the message that brings them, and the sender that they mean of a
    parameter group."""
    signals: dict[tuple[str, int | None], list[SignalDefinition]] = {}
    for signal in design.signals.values():
        if (source := signal.source) is not None:
            key = address(source.bus, source.message), source.address
            signals.setdefault(key, []).append(signal)
    return signals


# Whole messages ---------------------------------------------------------------------------------


def _silent(
    bus: str, messages: Sequence[tuple[str, list[SignalDefinition]]], found: Survey, heard: bool
) -> Iterator[Finding]:
    """One finding for each message; one for all of them where none of the bus came."""
    of = [each for each in found.messages if bus in ("", each.bus)]
    listed = ", ".join(f"{each.identifier:X}" for each in sorted(of, key=lambda each: -each.count)[:FEW])
    if not heard and len(messages) > 1:
        text = f"none of the {len(messages)} messages of the design came" + (f" on '{bus}'" if bus else "")
        remedy = "see that the recording and the DBC belong together; " + (
            f"identifiers that came most: {listed}" if listed else "no frame of that bus came"
        )
        signals = [signal for _, of_message in messages for signal in of_message]
        yield _told("S806", Severity.WARNING, text, remedy, signals)
        return
    for name, signals in messages:
        text = f"message '{name}' never came, so {_named(signals)} would never be seen"
        remedy = "record while its sender is awake, or name a message that comes; `hmic survey` lists them"
        yield _told("S806", Severity.WARNING, text, remedy, signals)


def _by_two_channels(
    name: str, came: Sequence[MessageSeen], signals: Sequence[SignalDefinition], found: Survey
) -> Finding:
    ways = sorted({each.bus for each in came})
    text = f"message '{name}' came from {' and '.join(repr(way) for way in ways)}: its values are not used"
    remedy = (
        "name the buses in design.yaml (`buses:`), or take the right channel only: "
        f"--log '{found.sources[0]}#{ways[0]}'"
    )
    return _told("S811", Severity.WARNING, text, remedy, signals)


def _by_two_senders(
    name: str, came: Sequence[MessageSeen], signals: Sequence[SignalDefinition]
) -> Finding:
    senders = [f"0x{source_of(each.identifier):02X}" for each in came]
    several = " and from ".join(sorted(set(senders)))
    text = f"message '{name}' came from address {several}: its values are not used"
    remedy = f"say beside `from` which one is meant, such as the busiest: `source address: {senders[0]}`"
    return _told("S812", Severity.WARNING, text, remedy, signals)


def _of_message(
    name: str,
    described: Described,
    came: MessageSeen,
    signals: Sequence[SignalDefinition],
    found: Survey,
) -> Iterator[Finding]:
    """What is found of the signals of a message that came."""
    fields = {field.name: field for field in came.fields}
    of_dbc = {signal.name: signal for signal in described.message.signals}
    still: list[tuple[SignalDefinition, FieldSeen]] = []
    for signal in signals:
        written = [each.removeprefix(f"{name}.") for each in _fields(signal)]
        sources = tuple(
            (place, Source(described, of_dbc[field], came, fields.get(field)))
            for place, field in enumerate(written, 1)
            if field in of_dbc
        )
        bound = _Bound(signal, sources)
        yield from _never(bound, came)
        if not bound.seen:
            continue
        if found.timed:
            yield from _age(bound)
        if signal.kind == ValueKind.NUMBER:
            yield from _number(bound)
            if _alike(bound):
                still.append((signal, bound.seen[0][2]))
        else:
            yield from _states(bound)
    if still:
        yield _still(name, came, still)


def _never(bound: _Bound, came: MessageSeen) -> Iterator[Finding]:
    lacking = [place for place, each in bound.fields if each.seen is None]
    if lacking:
        which = bound.elements(lacking)
        field = bound.fields[0][1].signal.name if bound.definition.count is None else "its fields"
        text = f"{which} never came: {came.count} frames of '{came.name}' came without '{field}'"
        if bound.definition.count is not None:
            text = f"{which} never came, though {came.count} frames of '{came.name}' did"
        remedy = "hold the DBC's lines of this message against its sender: its length, and its pages"
        yield _told("S807", Severity.WARNING, text, remedy, [bound.definition])


def _still(name: str, came: MessageSeen, still: Sequence[tuple[SignalDefinition, FieldSeen]]) -> Finding:
    said = []
    for signal, seen in still[:FEW]:
        value = _change(signal, seen.unit)(seen.low or 0.0)
        said.append(f"'{signal.name}' {_value(signal, value)}")
    more = f" and {len(still) - FEW} more" if len(still) > FEW else ""
    text = f"in {came.count} frames of '{name}' never changed: {', '.join(said)}{more}"
    remedy = "if they should have moved, see their place in the DBC; else nothing need be done"
    return _told("S808", Severity.NOTE, text, remedy, [signal for signal, _ in still])


# Ages -------------------------------------------------------------------------------------------


def _age(bound: _Bound) -> Iterator[Finding]:
    """A value that is dropped before the next one came, once or between any two."""
    definition, source = bound.definition, bound.seen[0][1]
    came = pace(source)
    if came is None or not definition.stale_after:
        return
    period, longest = came
    stale = definition.stale_after / 1000
    if stale >= period and (stale >= longest or failed(period, longest)):
        return
    name, message = definition.name, source.described.message.name
    text = f"'{name}' is stale after {stale_text(definition.stale_after)}, but "
    if stale < period:
        turn = " in turns" if by_turns(source) else ""
        text += f"'{message}' brought it{turn} every {said_time(period)}: it would flicker"
        limit = period
    else:
        text += f"'{message}' once came {longest * 1000:.5g} ms apart: it was stale then"
        limit = longest
    wanted = stale_of(source)[0]
    remedy = f"write `stale: {stale_text(wanted)}`"
    if wanted > SHORT and (source.signal.unit or "") in PRESSING:
        remedy += f"; speed and high voltage are to be dead sooner: better have it sent every {SHORT // 2} ms"
    finding = _told("S801", Severity.WARNING, text, remedy, [definition])
    yield replace(
        finding, measured=definition.stale_after, limit=limit * 1000, unit="ms", source="the recording"
    )


# Numbers ----------------------------------------------------------------------------------------


class _Came(NamedTuple):
    """The lowest and the highest that came of an element, in the signal's unit."""

    place: int
    low: float
    high: float


def _number(bound: _Bound) -> Iterator[Finding]:
    definition = bound.definition
    yield from _undeclared(bound)
    came = [
        _Came(place, *sorted(map(_change(definition, seen.unit), (seen.low, seen.high))))
        for place, _, seen in bound.seen
        if seen.low is not None and seen.high is not None
    ]
    if not came:
        return
    low, high = min(each.low for each in came), max(each.high for each in came)
    slack = SLACK * (definition.high - definition.low)
    begins, stops = definition.low - slack, definition.high + slack
    beyond = [each for each in came if each.low < begins or each.high > stops]
    if not beyond:
        yield from _hardly(bound, low, high)
    elif all(each.high < begins or each.low > stops for each in came):
        text = "is true from {begins} to {stops}, but what came was {came}"
        wanted = rounded(*_in_unit(definition, bound.seen[0][1]))
        remedy = f"see its field, its unit and its scale; by the recording `range: [{_ends(*wanted)}]`"
        yield _measured("S803", text, remedy, bound, _Came(0, low, high), beyond=beyond)
    else:
        text = "came as {came}, beyond its range of {begins} to {stops}"
        wanted = rounded(min(low, definition.low), max(high, definition.high))
        remedy = f"write `range: [{_ends(*wanted)}]` if that can be true; else see its unit and scale"
        yield _measured("S802", text, remedy, bound, _Came(0, low, high), beyond=beyond)


def _said(definition: SignalDefinition, text: str, low: float, high: float) -> str:
    """A sentence of what came and of the range, with the unit."""
    least, most, begins, stops = numbers(low, high, definition.low, definition.high)
    of = f" {definition.unit.spelling}" if definition.unit is not None and definition.unit.spelling else ""
    came = f"{least} to {most}{of}" if low < high else f"{least}{of}"
    return text.format(came=came, begins=begins, stops=f"{stops}{of}")


def _measured(
    code: str, text: str, remedy: str, bound: _Bound, came: _Came, *, beyond: Sequence[_Came]
) -> Finding:
    """A finding with the end that went beyond the range, and the range's end on that side."""
    definition = bound.definition
    above = came.high - definition.high >= definition.low - came.low
    named = bound.elements([each.place for each in beyond])
    text = f"{named} {_said(definition, text, came.low, came.high)}"
    return replace(
        _told(code, Severity.WARNING, text, remedy, [definition]),
        measured=came.high if above else came.low,
        limit=definition.high if above else definition.low,
        unit=definition.unit.spelling if definition.unit is not None else "",
        source="the recording",
    )


def _hardly(bound: _Bound, low: float, high: float) -> Iterator[Finding]:
    """A scale that is wrong by a hundred shows in this."""
    definition, count = bound.definition, sum(seen.count for *_, seen in bound.seen)
    wide = definition.high - definition.low
    if count < ENOUGH or not 0 < high - low < LITTLE * wide:
        return
    text = "came as {came}, next to nothing of its range of {begins} to {stops}"
    remedy = "see that the values are what the vehicle showed then; else its scale or unit is wrong"
    said = f"'{definition.name}' {_said(definition, text, low, high)}"
    yield _told("S810", Severity.NOTE, said, remedy, [definition])


def _undeclared(bound: _Bound) -> Iterator[Finding]:
    """Values apart from all others, at the end of what the bits can carry."""
    definition = bound.definition
    for _, source, seen in bound.seen:
        for each in seen.sentinels:
            # What the description labels counts by itself, and what is declared has been asked for.
            if each.label or definition.no_data is not None:
                continue
            value = _change(definition, seen.unit)(each.value)
            times = "once" if each.count == 1 else f"{each.count} times"
            true = definition.low <= value <= definition.high
            text = (
                f"'{source.signal.name}' came {times} as {number(each.value)}, apart from all other values: "
                f"'{definition.name}' would " + ("show that as true" if true else "be out of range then")
            )
            remedy = f"if its sender means that there is no value, add `no data: {number(each.value, 12)}`"
            weight = Severity.WARNING if true else Severity.NOTE
            yield _told("S809", weight, text, remedy, [definition])
            return


def _alike(bound: _Bound) -> bool:
    """Whether nothing of it ever changed."""
    seen = [each for *_, each in bound.seen]
    return min(each.count for each in seen) >= ENOUGH and all(
        each.low is not None and each.low == each.high for each in seen
    )


def _in_unit(definition: SignalDefinition, source: Source) -> tuple[float, float]:
    """The range that a new design would have, in the unit of this one."""
    change = _change(definition, source.signal.unit)
    low, high = sorted(map(change, range_of(source, definition.no_data)))
    return low, high


def _change(definition: SignalDefinition, written: str | None) -> Callable[[float], float]:
    """From the unit of the description to the declared one, as a run does it."""
    given = unit(written) if written else None
    if given is None or definition.unit is None or not convertible(given, definition.unit):
        return float
    return converter(given, definition.unit)


# States -----------------------------------------------------------------------------------------


def _states(bound: _Bound) -> Iterator[Finding]:
    definition, (_, source, seen) = bound.definition, bound.seen[0]
    labels = {int(raw): str(label) for raw, label in (source.signal.choices or {}).items()}
    known = set(definition.words) or {0, 1} if definition.kind != ValueKind.TEXT else set(labels)
    known |= {raw for raw, label in labels.items() if means_no_value(label)}
    came = {raw: count for raw, _, count in seen.states} or _ends_of(source, seen)
    new = [raw for raw in sorted(came) if raw not in known and not _is_absent(definition, source, raw)]
    # That a state of the description has no word is told without a recording.
    new = [raw for raw in new if definition.kind != ValueKind.WORD or raw not in labels]
    if new:
        yield _new(definition, source, new)
    never = [word for raw, word in definition.words.items() if raw not in came]
    if seen.states and never and seen.count >= ENOUGH:
        listed = ", ".join(f"'{word}'" for word in never[:FEW]) + (" and more" if len(never) > FEW else "")
        text = f"'{definition.name}' was never {listed} in {seen.count} frames"
        remedy = "try these states on the vehicle before you trust their words"
        yield _told("S805", Severity.NOTE, text, remedy, [definition])


def _new(definition: SignalDefinition, source: Source, new: Sequence[int]) -> Finding:
    listed = ", ".join(map(str, new[:FEW])) + (" and more" if len(new) > FEW else "")
    text = f"'{definition.name}' came as {listed}, "
    if definition.kind == ValueKind.FLAG:
        text += "which is neither 0 nor 1: it would be out of range then"
        remedy = 'see its field, or declare what it can be: `words: {0: "Off", 1: "On", '
        remedy += ", ".join(f'{raw}: "?"' for raw in new[:FEW]) + "}`"
    elif definition.kind == ValueKind.WORD:
        text += "for which it has no word: it would be out of range then"
        entries = ", ".join(f'{raw}: "?"' for raw in new[:FEW])
        remedy = f"add `{entries}` to its words, with what it means"
    else:
        text += f"of which the DBC has no label for '{source.signal.name}'"
        remedy = "add the label to its value table (`VAL_`) in the DBC"
    return _told("S804", Severity.WARNING, text, remedy, [definition])


def _ends_of(source: Source, seen: FieldSeen) -> dict[int, int]:
    """The lowest and the highest raw value, of a field of which so many came that they were not counted."""
    scale, offset = float(source.signal.scale), float(source.signal.offset)
    return {round((end - offset) / scale): 0 for end in (seen.low, seen.high) if end is not None and scale}


def _is_absent(definition: SignalDefinition, source: Source, raw: int) -> bool:
    """Whether a raw value is the declared one for none."""
    scale, offset = float(source.signal.scale), float(source.signal.offset)
    return definition.no_data is not None and abs(raw * scale + offset - definition.no_data) <= abs(scale) / 2


# Words ------------------------------------------------------------------------------------------


def _told(
    code: str, severity: Severity, text: str, remedy: str, signals: Sequence[SignalDefinition]
) -> Finding:
    """A finding at the first of the signals, the others beside it."""
    first, *others = signals
    return Finding(code, severity, text, first.span, remedy, also=tuple(each.span for each in others))


def _named(signals: Sequence[SignalDefinition]) -> str:
    names = ", ".join(f"'{each.name}'" for each in signals[:FEW])
    return names + (f" and {len(signals) - FEW} more" if len(signals) > FEW else "")


def _value(definition: SignalDefinition, value: float) -> str:
    of = definition.unit.spelling if definition.unit is not None else ""
    return f"{number(value)} {of}".rstrip()


def _ends(low: float, high: float) -> str:
    return f"{low:.12g}, {high:.12g}"
