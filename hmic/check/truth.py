"""Whether what is shown is so: decimals, undefined values, age, and safety told."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import NamedTuple

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.edits import joined, setting, write
from hmic.check.scales import scaled_channels
from hmic.check.values_shown import is_other_speed
from hmic.diagnostics import DesignError, Finding, Mend, Severity, mended_by
from hmic.language.spelling import written
from hmic.language.syntax import (
    Call,
    Convert,
    Expression,
    Operation,
    Operator,
    Phrase,
    PhraseKind,
    Signal,
    Text,
)
from hmic.model.channels import Channel, FirstTrue, scale_of, signals_of
from hmic.model.design import Design, SignalDefinition, sources_of
from hmic.model.expressions import ValueKind, walk
from hmic.model.limits import READ, Limit, Limits
from hmic.model.units import Unit, unit
from hmic.number_text import measured_and_limit
from hmic.paint.operations import Figures, Trace


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C450 decimals beyond the source, C453 a derived value that can be undefined, C456 speed or high
    voltage too long on show, C457 safety from one source."""
    findings: list[Finding] = []
    aged: dict[str, _Aged] = {}
    for number, screen in enumerate(arranged.screens):
        operations = arranged.drawing.screens[number].operations
        for piece in screen.pieces:
            own = operations[piece.first : piece.last]
            figures = [arranged.channels[item.channel] for item in own if isinstance(item, Figures)]
            findings.extend(_decimals(piece, figures, screen, design))
            traces = [arranged.channels[item.first] for item in own if isinstance(item, Trace)]
            shown = [*figures, *scaled_channels(own, arranged), *traces]
            for name, how in _stale(shown, design, limits):
                aged.setdefault(name, _Aged(how, {})).screens[screen.name] = None
            if piece.symbol is not None and piece.symbol.states is not None:
                findings.extend(_safe(piece, arranged.channels[piece.symbol.states], screen, design, limits))
    findings.extend(_aged_finding(name, found, design) for name, found in aged.items())
    for definition in design.signals.values():
        findings.extend(_undefined(definition, design))
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
        steps, shown = scale_of(channel), channel.value.unit if channel.value is not None else None
        if steps is None or shown is None:
            continue
        resolution = definition.resolution * float(definition.unit.factor / shown.factor)
        # A source in steps of 0.25 may be shown to 0.1, as long as it is not told ten times finer.
        if steps.step < resolution * 0.39:
            step, told = measured_and_limit(steps.step, resolution)
            message = (
                f"on screen '{screen.name}' '{definition.name}' is shown in steps of {step} "
                f"{shown.spelling}, its source tells {told}"
            )
            # Without a format the number is written as its options are.
            written_by = piece.widget.one(PhraseKind.FORMAT)
            remedy = "show fewer decimals" if written_by else "write its values with fewer decimals"
            limit = Limit(resolution, shown.spelling, "the DBC's scale of the signal", READ)
            found = limit.finding("C450", message, piece.widget.head, remedy, steps.step)
            yield mended_by(found, _fewer(written_by, resolution))
            return


_NUMBER = re.compile(r"0[.,]0+")


def _fewer(form: Phrase | None, resolution: float) -> Mend | None:
    """The format with the decimals that a source of that resolution has."""
    if form is None or not isinstance(form.values[0], Text):
        return None
    decimals = max(0, math.floor(-math.log10(resolution * 0.39)))
    pattern = form.values[0].text

    def shorter(match: re.Match[str]) -> str:
        return match[0][: 2 + decimals] if decimals else "0"

    said = _NUMBER.sub(shorter, pattern)
    return None if said == pattern else write(form.span, f'as "{said}"', unasked=True)


def _undefined(definition: SignalDefinition, design: Design) -> Iterator[Finding]:
    for node in walk(definition.formula) if definition.formula is not None else ():
        if not isinstance(node, Operation) or node.operator != Operator.OVER:
            continue
        if not (_beyond(node.right, design, 1) or _beyond(node.right, design, -1)):
            message = (
                f"'{definition.name}' is divided by {written(node.right)}, which can be 0 and then leaves it "
                "out of range"
            )
            remedy = f"divide by max({written(node.right)}, ...) with the least that makes sense"
            yield Finding("C453", Severity.WARNING, message, definition.span, remedy)


def _beyond(node: Expression, design: Design, sign: int) -> bool:
    """Whether a number is always above zero (``sign`` 1), or always below (-1)."""
    if isinstance(node, Call) and node.function in ("max", "min") and len(node.arguments) > 1:
        # One that is beyond zero holds the largest above it, or the smallest below it.
        enough = any if (node.function == "max") == (sign > 0) else all
        return enough(_beyond(argument, design, sign) for argument in node.arguments)
    try:
        value = design.typings.typed(node, [])
    except DesignError:
        # What is wrong with it is the model's finding.
        return True
    return value.low > 0 if sign > 0 else value.high < 0


Stays = tuple[str, str, str, float | None, Limit]
"""What is shown of a signal, how long it stays on show in silence, the remedy, that time in ms (None: for
ever) and the limit."""


class _Aged(NamedTuple):
    """A signal that stays on show too long, and the screens that show it, in order."""

    how: Stays
    screens: dict[str, None]


def _stale(channels: list[Channel], design: Design, limits: Limits) -> Iterator[tuple[str, Stays]]:
    """Each source of the channels that stays on show too long."""
    for channel in channels:
        assert channel.value is not None
        kind = _guarded_kind(channel.value.kind, channel.value.unit, channel.value.high, limits)
        names = signals_of(channel)
        if kind == "speed" and all(map(is_other_speed, names)):
            kind = None
        guarded = {name for name in names if _own_kind(name, design, limits)}
        for name in sorted(sources_of(names if kind else guarded, design)):
            found = _stays(name, kind or _own_kind(name, design, limits), design, limits)
            if found is not None:
                via = f"'{name}'"
                if name not in names:
                    via = f"'{', '.join(sorted(names))}' (worked out from '{name}')"
                yield name, (via, *found)


def _aged_finding(name: str, found: _Aged, design: Design) -> Finding:
    shown, how, remedy, measured, limit = found.how
    screens = ", ".join(f"'{screen}'" for screen in found.screens)
    message = (
        f"on screen{'s' * (len(found.screens) > 1)} {screens} {shown} stays on show {how} after its source "
        "fell silent"
    )
    span = design.signals[name].span
    told = limit.finding("C456", message, span, remedy, measured)
    least = math.floor(limit.value)
    definition = design.signals[name]
    mends = [setting(design, span.file, ("signals", name, "stale"), f"{least} ms")]
    if definition.asked is not None and definition.asked.every > limit.value / 2:
        mends.append(setting(design, span.file, ("signals", name, "every"), f"{least // 2} ms"))
    often = f"; for that its message has to come every {least // 2} ms or more often"
    return mended_by(told, joined(mends), often if definition.source is not None else "")


def _stays(
    name: str, kind: str | None, design: Design, limits: Limits
) -> tuple[str, str, float | None, Limit] | None:
    """How long a signal stays on show in silence, with the remedy, in ms (None: for ever) and the limit;
    None where that is not too long."""
    definition = design.signals.get(name)
    # A setting that is read back is not the vehicle's speed.
    if definition is None or kind is None or name in design.outputs:
        return None
    limit = limits[f"stale of {kind}"]
    if 0 < definition.stale_after <= limit.value:
        return None
    most = math.floor(limit.value)
    remedy = f"write `stale: {most} ms` or less for {name} in signals.yaml"
    if definition.source is not None:
        remedy += f"; for that its message has to come every {most // 2} ms or more often"
    if definition.asked is not None and definition.asked.every > limit.value / 2:
        remedy = f"write `every: {most // 2} ms, stale: {most} ms` for {name} in signals.yaml"
    age = definition.stale_after
    return (f"for {age} ms", remedy, float(age), limit) if age else ("for ever", remedy, None, limit)


def _own_kind(name: str, design: Design, limits: Limits) -> str | None:
    definition = design.signals.get(name)
    if definition is None:
        return None
    kind = _guarded_kind(definition.kind, definition.unit, definition.high, limits)
    return None if kind == "speed" and is_other_speed(name) else kind


def _guarded_kind(kind: str, of: Unit | None, high: float, limits: Limits) -> str | None:
    """``speed`` of the vehicle or ``high voltage``, by unit and range; None for anything else."""
    if of is None or kind != ValueKind.NUMBER:
        return None
    for spelling, guarded in (("km/h", "speed"), ("V", "high voltage")):
        like = unit(spelling)
        if like is not None and of.dimension == like.dimension:
            highest = high * float(of.factor / like.factor)
            if guarded == "speed" or (math.isfinite(highest) and highest > limits["high voltage"].value):
                return guarded
    return None


def _safe(
    piece: PieceFact, channel: Channel, screen: ArrangedScreen, design: Design, limits: Limits
) -> Iterator[Finding]:
    if not isinstance(channel.steps, FirstTrue):
        return
    for phrase, condition in zip(piece.widget.all(PhraseKind.STATE), channel.steps.conditions, strict=True):
        names = [name for name in condition.signals if name in design.signals]
        if phrase.words[0] != "good" or len(names) != 1:
            continue
        if _own_kind(names[0], design, limits) == "high voltage":
            message = f"on screen '{screen.name}' this lamp tells of safety by '{names[0]}' alone"
            remedy = "add a second, independent signal: good while ... and ..."
            yield Finding("C457", Severity.WARNING, message, phrase.span, remedy)
