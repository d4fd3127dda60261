"""Signals of parameter groups of J1939 held against the description of their bus."""

from __future__ import annotations

from hmic.diagnostics import Finding, Severity, error, warning
from hmic.model.dbc import EXTENDED, DbcSignal
from hmic.model.design import SignalDefinition
from hmic.model.j1939 import NOBODY, destination_of, is_group, source_of
from hmic.model.units import Unit, converter, convertible
from hmic.number_text import numbers

ROUNDED = 0.01
"""Part of a range by which its end may be a round number beyond what is measured."""


def check_addresses(
    definition: SignalDefinition, field: DbcSignal, declared: bool | None, findings: list[Finding]
) -> None:
    """Addresses are those of parameter groups, and an identifier that nobody can send is one of a group;
    ``declared``: whether design.yaml says that those of its bus are groups."""
    source, name, last = definition.source, definition.name, source_of(field.frame)
    assert source is not None
    grouped, wide = is_group(field.group, declared), bool(field.frame & EXTENDED)
    addresses = {"source address": source.address, "destination address": source.destination}
    said = [key for key, value in addresses.items() if value is not None]
    text = ""
    if said and not grouped:
        text = f"'{name}' has a '{said[0]}', but message '{source.message}' is no parameter group of J1939"
        remedy = f"remove `{said[0]}`" + (", or write `j1939: true` in design.yaml" if wide else "")
    elif source.destination is not None and destination_of(field.frame) is None:
        text = f"'{name}' has a 'destination address', but message '{source.message}' goes to all"
        remedy = "remove `destination address`"
    if text:
        findings.append(error("M238", text, definition.span, remedy))
    elif wide and last in NOBODY and field.group is None and declared is None:
        text = (
            f"the identifier of message '{source.message}' ends in {last:02X}, which is the address of no "
            f"sender: '{name}' would never come"
        )
        remedy = "write `j1939: true` in design.yaml if its bus speaks J1939, else `j1939: false`"
        findings.append(warning("M239", text, definition.span, remedy))


def check_measured(
    definition: SignalDefinition, field: DbcSignal, given: Unit, findings: list[Finding]
) -> None:
    """Above the highest measured value a parameter of J1939 says that there is none. ``given`` is the unit of
    the field."""
    if field.measured is None or definition.unit is None or not convertible(given, definition.unit):
        return
    change = converter(given, definition.unit)
    most = change(field.measured)
    # An end that is a rounded number claims nothing.
    if change(field.high) < most or definition.high <= most + ROUNDED * (definition.high - definition.low):
        return
    spelt = f" {definition.unit.spelling}".rstrip()
    end, carried = numbers(definition.high, most)
    text = (
        f"the range of '{definition.name}' ends at {end}{spelt}, but by J1939 its field carries values up to "
        f"{carried}{spelt}; what is above stands for none"
    )
    remedy = (
        f"end the range at {carried}; if the sender uses all values, give its message in the DBC the "
        "`VFrameFormat` ExtendedCAN"
    )
    findings.append(Finding("M265", Severity.NOTE, text, definition.span, remedy))
