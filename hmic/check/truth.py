"""Whether what is shown is so: decimals, scales, undefined values, age, and safety told."""

from __future__ import annotations

import math
from collections.abc import Iterator

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.limits import Limits
from hmic.check.touches import signals_of
from hmic.diagnostics import Finding, Severity
from hmic.language.syntax import Convert, Signal
from hmic.model.channels import Channel, FirstTrue, Scaled
from hmic.model.design import Design, SignalDefinition
from hmic.model.expressions import Doubt, Typed, Value
from hmic.model.units import unit
from hmic.paint.operations import NO_CHANNEL, Figures, Reveal, ink_of, leading_channel


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C450 decimals beyond the source, C451 a scale that hides values, C453 a derived value that can
    be undefined, C456 speed or high voltage too long on show, C457 safety from one source."""
    findings: list[Finding] = []
    for number, screen in enumerate(arranged.screens):
        operations = arranged.drawing.screens[number].operations
        for piece in screen.pieces:
            own = operations[piece.first : piece.last]
            figures = [arranged.channels[item.channel] for item in own if isinstance(item, Figures)]
            findings.extend(_decimals(piece, figures, screen, design))
            findings.extend(_clipped(piece, own, arranged, screen))
            findings.extend(_aged(piece, figures, screen, design, limits))
            if piece.widget.kind == "lamp":
                ink = ink_of(operations[piece.first])
                if ink is not None and ink.tint != NO_CHANNEL:
                    findings.extend(_safe(piece, arranged.channels[ink.tint], screen, design, limits))
    for definition in design.signals.values():
        if definition.derived is not None:
            findings.extend(_undefined(definition, definition.derived, design))
    return findings


def _decimals(
    piece: PieceFact, figures: list[Channel], screen: ArrangedScreen, design: Design
) -> Iterator[Finding]:
    subject = piece.widget.subject
    while isinstance(subject, Convert):
        subject = subject.value
    if not isinstance(subject, Signal):
        return
    definition = design.signals.get(subject.name)
    if definition is None or definition.resolution is None or definition.unit is None:
        return
    for channel in figures:
        steps, shown = channel.steps, channel.value.unit if channel.value is not None else None
        if not isinstance(steps, Scaled) or shown is None:
            continue
        resolution = definition.resolution * float(definition.unit.factor / shown.factor)
        # A source in steps of 0.25 may be shown to 0.1, as long as it is not told ten times finer.
        if steps.step < resolution * 0.39:
            message = (
                f"on screen '{screen.name}' '{definition.name}' is shown in steps of {steps.step:g} "
                f"{shown.spelling}, its source tells {resolution:g}"
            )
            remedy = "show fewer decimals"
            source = "the DBC's scale of the signal"
            yield Finding(
                "C450",
                Severity.WARNING,
                message,
                piece.widget.head,
                remedy,
                steps.step,
                resolution,
                shown.spelling,
                source,
            )
            return


def _clipped(
    piece: PieceFact, own: tuple[object, ...], arranged: Arranged, screen: ArrangedScreen
) -> Iterator[Finding]:
    """A figure beside the scale tells the value that the scale cannot."""
    if any(isinstance(item, Figures) for item in own):
        return
    for item in own:
        if not isinstance(item, Reveal):
            continue
        leading = leading_channel(item)
        channel = arranged.channels[leading] if leading is not None else None
        if channel is None or channel.value is None or not isinstance(channel.steps, Scaled):
            continue
        steps, value = channel.steps, channel.value
        low, high = sorted((steps.low, steps.low + steps.step * (steps.count - 1)))
        slack = abs(steps.step) * 1.5
        if value.low >= low - slack and value.high <= high + slack:
            continue
        spelt = value.unit.spelling if value.unit else ""
        message = (
            f"on screen '{screen.name}' this {piece.widget.kind} ends at {low:g} and {high:g} {spelt}, the value "
            f"goes from {value.low:g} to {value.high:g}"
        )
        remedy = 'widen the scale, or add the figure: as "0"'
        worst, limit = (value.low, low) if low - value.low > value.high - high else (value.high, high)
        yield Finding(
            "C451", Severity.WARNING, message, piece.widget.head, remedy, worst, limit, spelt or None
        )
        return


def _undefined(definition: SignalDefinition, derived: Typed, design: Design) -> Iterator[Finding]:
    """Tries the ends, zero and the middle of every input, alone and together."""
    inputs = _inputs(derived, design, frozenset())
    for values in _trials(inputs, design):
        if isinstance(derived.evaluate(_lookup(values, design)), Doubt):
            told = ", ".join(f"{name} is {_told(value)}" for name, value in sorted(values.items()))
            message = f"'{definition.name}' has no value when {told}"
            remedy = (
                "narrow the range of what it is divided by, so that it is never 0; until then it shows as "
                "out of range"
            )
            yield Finding("C453", Severity.WARNING, message, definition.span, remedy)
            return


def _inputs(derived: Typed, design: Design, above: frozenset[str]) -> frozenset[str]:
    """The signals from outside that a derived value is worked out from."""
    found: set[str] = set()
    for name in derived.signals - above:
        definition = design.signals.get(name)
        if definition is None:
            continue
        if definition.derived is None:
            found.add(name)
        else:
            found |= _inputs(definition.derived, design, above | {name})
    return frozenset(found)


def _trials(inputs: frozenset[str], design: Design) -> Iterator[dict[str, Value]]:
    ways = ("low", "zero", "high", "middle")
    numbers = [name for name in sorted(inputs) if design.signals[name].kind == "number"]
    for way in ways:
        yield {name: _at(design.signals[name], way) for name in sorted(inputs)}
    for name in numbers:
        for way in ways[:3]:
            values = {other: _at(design.signals[other], "middle") for other in sorted(inputs)}
            yield {**values, name: _at(design.signals[name], way)}


def _at(definition: SignalDefinition, way: str) -> Value:
    value: Value
    if definition.kind == "flag":
        value = way == "high"
    elif definition.kind == "word":
        value = next(iter(definition.words.values()), "")
    elif definition.kind == "text":
        value = ""
    else:
        middle = (definition.low + definition.high) / 2
        zero = min(max(0.0, definition.low), definition.high)
        value = {"low": definition.low, "high": definition.high, "zero": zero}.get(way, middle)
    return value if definition.count is None else (value,) * definition.count


def _told(value: Value) -> str:
    first = value[0] if isinstance(value, tuple) else value
    return f"{first:g}" if isinstance(first, float) else str(first)


class _lookup:
    """Looks values up, derived ones worked out."""

    def __init__(self, values: dict[str, Value], design: Design) -> None:
        self._values, self._design = values, design

    def __call__(self, name: str) -> Value:
        if name in self._values:
            return self._values[name]
        definition = self._design.signals.get(name)
        if definition is None or definition.derived is None:
            return 0.0
        return definition.derived.evaluate(self)


def _aged(
    piece: PieceFact, figures: list[Channel], screen: ArrangedScreen, design: Design, limits: Limits
) -> Iterator[Finding]:
    for channel in figures:
        for name in sorted(signals_of(channel)):
            definition = design.signals.get(name)
            kind = _guarded_kind(definition, limits) if definition is not None else None
            if definition is None or kind is None or definition.source is None:
                continue
            limit = limits[f"stale of {kind}"]
            if 0 < definition.stale_after <= limit.value:
                continue
            message = (
                f"on screen '{screen.name}' '{name}' stays on show for {definition.stale_after} ms after its source "
                "fell silent"
            )
            remedy = f"write `stale: {limit.value:g} ms` or less for {name} in signals.yaml"
            yield Finding(
                "C456",
                Severity.WARNING,
                message,
                definition.span,
                remedy,
                float(definition.stale_after),
                limit.value,
                limit.unit,
                limit.source,
            )


def _guarded_kind(definition: SignalDefinition, limits: Limits) -> str | None:
    """``speed`` of the vehicle or ``high voltage``, by unit and range; None for anything else."""
    if definition.unit is None or definition.kind != "number":
        return None
    for spelling, kind in (("km/h", "speed"), ("V", "high voltage")):
        like = unit(spelling)
        if like is not None and definition.unit.dimension == like.dimension:
            highest = definition.high * float(definition.unit.factor / like.factor)
            if kind == "speed" or (math.isfinite(highest) and highest > limits["high voltage"].value):
                return kind
    return None


def _safe(
    piece: PieceFact, channel: Channel, screen: ArrangedScreen, design: Design, limits: Limits
) -> Iterator[Finding]:
    if not isinstance(channel.steps, FirstTrue):
        return
    for phrase, condition in zip(piece.widget.all("state"), channel.steps.conditions, strict=True):
        names = [name for name in condition.signals if name in design.signals]
        if phrase.words[0] != "good" or len(names) != 1:
            continue
        definition = design.signals[names[0]]
        if _guarded_kind(definition, limits) == "high voltage":
            message = f"on screen '{screen.name}' this lamp tells of safety by '{definition.name}' alone"
            remedy = "add a second, independent signal: good while ... and ..."
            yield Finding("C457", Severity.WARNING, message, phrase.span, remedy)
