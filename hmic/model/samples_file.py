"""What signals.yaml says of the values that pictures without a vehicle show."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from hmic.causes import WORDS
from hmic.diagnostics import Finding, Severity, Subject, did_you_mean, error
from hmic.model.design import SIGNALS, Sample, SignalDefinition
from hmic.model.expressions import ValueKind
from hmic.model.samples import STATE_WORDS
from hmic.model.yaml_source import Node
from hmic.number_text import number


def read_sample(definition: SignalDefinition, node: Node | None, findings: list[Finding]) -> Sample | None:
    """A sample of a signal, of a list one for each element from the first on; None where it is not said or,
    with a finding, cannot be."""
    if node is None:
        return None
    if node.items is None:
        return _one(definition, node, findings)
    if definition.count is None or len(node.items) > definition.count:
        room = f"{definition.count} values" if definition.count else "one value"
        message = f"'{definition.name}' has {room}, and {len(node.items)} samples"
        findings.append(error("M293", message, node.span, f"write a sample for {room} at most"))
        return None
    found = tuple(_one(definition, item, findings) for item in node.items)
    return tuple(each for each in found if each is not None) if None not in found else None


def _one(
    definition: SignalDefinition, node: Node, findings: list[Finding]
) -> float | bool | str | None:
    said, kind = node.scalar, definition.kind
    if said in STATE_WORDS and kind != ValueKind.TEXT:
        return str(said)
    if kind == ValueKind.NUMBER and isinstance(said, int | float) and not isinstance(said, bool):
        if definition.low <= said <= definition.high:
            return float(said)
        remedy = f"write one from {number(definition.low)} to {number(definition.high)}"
    elif isinstance(said, bool if kind == ValueKind.FLAG else str if kind == ValueKind.TEXT else ()):
        return said
    elif kind == ValueKind.WORD and said in definition.words.values():
        return str(said)
    else:
        forms = {ValueKind.NUMBER: "a number in its unit", ValueKind.FLAG: "true or false"}
        words = "one of " + ", ".join(definition.words.values())
        remedy = f"write {forms.get(kind, words if definition.words else 'a text in quotes')}"
    shown = str(said).lower() if isinstance(said, bool) else said
    message = f"'{definition.name}' cannot be '{shown}', so no picture can show it"
    declared = ("words", "range", "unit", "flag", "text")
    of = (Subject(definition.span.file, ("signals", definition.name, key)) for key in declared)
    findings.append(error("M293", message, node.span, remedy, rests_on=tuple(of)))
    return None


def read_moments(
    node: Node | None,
    signals: Mapping[str, SignalDefinition],
    broken: Collection[str],
    screens: Collection[str],
    findings: list[Finding],
) -> dict[str, dict[str, Sample]]:
    """By screen what its pictures show in place of the signals' samples."""
    moments: dict[str, dict[str, Sample]] = {}
    for moment in node.each() if node is not None else ():
        if moment.key not in screens:
            # Nothing is wrong with what a display shows, so it is no error, and a screen may be unreadable.
            message = f"nothing shows the samples of '{moment.key}': there is no such screen"
            remedy = did_you_mean(moment.key, screens, "screens")
            findings.append(Finding("M247", Severity.NOTE, message, moment.span, remedy, rests_on=(WORDS,)))
        found = moments.setdefault(moment.key, {})
        for entry in moment.value.each():
            if entry.key in signals:
                sample = read_sample(signals[entry.key], entry.value, findings)
                found |= {entry.key: sample} if sample is not None else {}
            elif entry.key not in broken:
                remedy = did_you_mean(entry.key, signals, "signals")
                message = f"there is no signal '{entry.key}'"
                findings.append(error("M292", message, entry.span, remedy, rests_on=(SIGNALS,)))
    return moments
