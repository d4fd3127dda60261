"""What signals.yaml says of values that are asked for: controllers, services, formulas over bytes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from hmic.diagnostics import DesignError, Finding, Span, Subject, did_you_mean, error
from hmic.model.asked import ASKED, BY_IDENTIFIER, CURRENT, AskedSource, Controller
from hmic.model.buses import address, parted
from hmic.model.byte_formula import ByteFormula, Unusable, byte_formula
from hmic.model.design_file import milliseconds
from hmic.model.values import ValueKind
from hmic.model.yaml_source import Entry, Node

USUAL = 1000
"""Milliseconds between two questions for a value where nothing is said."""


Controllers = Mapping[str, Controller]
"""Those that signals.yaml declares, by their address."""


def is_asked(written: object) -> bool:
    """Whether a source is a question: `obd 0D`, `battery 22 4C01`."""
    return isinstance(written, str) and ASKED.fullmatch(written) is not None


def read_controllers(node: Node | None, buses: Sequence[str] | None, findings: list[Finding]) -> Controllers:
    """The controllers that are asked alone; ``buses`` are those with a name, None where they are not known.
    What the schema found wrong is left out silently."""
    result: dict[str, Controller] = {}
    answering: dict[tuple[str, int], str] = {}
    for entry in node.each() if node is not None else ():
        try:
            bus, name = parted(entry.key, buses, entry.key, entry.span)
            controller = _controller(name, entry)
            if controller is not None:
                _told_apart(bus, controller, answering, entry)
                result[address(bus, name)] = controller
        except DesignError as problem:
            findings.extend(problem.findings)
    return result


def _controller(name: str, entry: Entry) -> Controller | None:
    """None where the schema has told what is wrong. Raises DesignError: M236, M296."""
    if "/" in name:
        message = f"'{name}' names a bus, and design.yaml names none"
        meant = name.rpartition("/")[2]
        unknown = (Subject(entry.span.file, ("controllers", meant)),)
        raise DesignError([error("M296", message, entry.span, f"write '{meant}'", breaks=unknown)])
    request, said = _identifier(entry.value.get("request")), entry.value.get("response")
    if request is None:
        return None
    response = _usual_response(request) if said is None else _identifier(said)
    if response is not None:
        return Controller(name, request, response)
    if said is None:
        message = f"controller '{name}' does not say by which identifier it answers"
        remedy = "add `response: 0x7E8` with the identifier of its answers"
        raise DesignError([error("M236", message, entry.span, remedy)])
    return None


def _identifier(node: Node | None) -> int | None:
    if node is None or not isinstance(node.scalar, str) or not node.scalar.startswith("0x"):
        return None
    return int(node.scalar, 16)


def _usual_response(request: int) -> int | None:
    """By which identifier an answer usually comes (ISO 15765-4: 8 above, or the two addresses exchanged)."""
    if request <= 0x7F7:
        return request + 8
    if request >> 16 == 0x18DA:
        return 0x18DA0000 | (request & 0xFF) << 8 | request >> 8 & 0xFF
    return None


def _told_apart(
    bus: str, controller: Controller, answering: dict[tuple[str, int], str], entry: Entry
) -> None:
    if controller.request == controller.response:
        message = f"controller '{controller.name}' is asked and answers by one identifier"
        remedy = "write the identifier of its answers as `response`"
        raise DesignError([error("M236", message, entry.span, remedy)])
    other = answering.setdefault((bus, controller.response), controller.name)
    if other != controller.name:
        message = f"'{controller.name}' and '{other}' answer by one identifier, 0x{controller.response:X}"
        remedy = "keep one of them, or correct its `response`"
        raise DesignError([error("M236", message, entry.span, remedy)])


def read_asked(
    entry: Entry,
    kind: ValueKind | None,
    buses: Sequence[str] | None,
    controllers: Controllers,
    findings: list[Finding],
) -> AskedSource | None:
    """`from: obd 0D`, `from: car/battery 22 4C01`, with `every: 500 ms` and `value: "A / 2"`."""
    node = entry.value
    written = node.get("from")
    if written is None or not isinstance(written.scalar, str) or not is_asked(written.scalar) or kind is None:
        return None
    try:
        bus, asked = parted(written.scalar, buses, entry.key, written.span)
        found = ASKED.fullmatch(asked)
        if found is None:
            return None
        controller = _named(found["controller"], bus, controllers, entry.key, written.span)
        service = BY_IDENTIFIER if found["identifier"] else CURRENT
        formula = _formula(entry, kind, service)
    except DesignError as problem:
        findings.extend(problem.findings)
        return None
    every = node.get("every")
    period = milliseconds(every.scalar) if every is not None and isinstance(every.scalar, str) else None
    number = int(found["identifier"] or found["parameter"] or found["obd"], 16)
    return AskedSource(number, period or USUAL, bus, service, controller, formula)


def _named(
    name: str | None, bus: str, controllers: Controllers, signal: str, span: Span
) -> Controller | None:
    """Raises DesignError: M237."""
    if name is None:
        return None
    at = address(bus, name)
    if at not in controllers:
        remedy = did_you_mean(at, controllers, "controllers")
        if not controllers:
            remedy = f"write `controllers: {{{name}: {{request: 0x7E6, response: 0x7EE}}}}` in signals.yaml"
        message = f"'{signal}' asks the controller '{at}', which signals.yaml does not have"
        cause = Subject(span.file, ("controllers", at))
        raise DesignError([error("M237", message, span, remedy, rests_on=(cause,))])
    return controllers[at]


def _formula(entry: Entry, kind: ValueKind, service: int) -> ByteFormula | None:
    """Raises DesignError: M235, M255, M284."""
    written, count = entry.value.get("value"), entry.value.get("count")
    elements = count.scalar if count is not None and isinstance(count.scalar, int) else None
    if kind == ValueKind.TEXT:
        message = f"'{entry.key}' is a text; what is asked for is a number, a flag or one of some words"
        raise DesignError([error("M284", message, entry.span, "give it a unit and a range")])
    if written is not None and isinstance(written.scalar, str):
        try:
            return byte_formula(written.scalar, elements)
        except Unusable as fault:
            at = written.span
            # A quoted formula starts one column after its quote.
            quote = 1 if written.quoted else 0
            column = at.column + quote + fault.column
            span = Span(at.file, at.line, column, at.line, max(column + 1, at.end_column - quote))
            message = f"the formula of '{entry.key}' cannot be used: {fault.reason}"
            raise DesignError([error("M235", message, span, fault.remedy)]) from None
    if service == BY_IDENTIFIER:
        message = f"'{entry.key}' does not say how its value follows from the bytes of the answer"
        remedy = 'add, say, `value: "(256 * A + B) / 10"`: A is the first byte behind the identifier'
        raise DesignError([error("M235", message, entry.span, remedy)])
    if kind != ValueKind.NUMBER:
        message = f"'{entry.key}' is a {kind}; what is asked for by OBD is a number"
        raise DesignError([error("M284", message, entry.span, "give it a unit and a range")])
    if elements is not None:
        message = f"'{entry.key}' has a count, but its answer holds one value"
        raise DesignError(
            [error("M255", message, entry.span, "remove `count`, or say a `value` with n in it")]
        )
    return None
