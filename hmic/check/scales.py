"""Scales that end before their values do: dials, bars, levels, sliders, cells, pipes and traces."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.diagnostics import Finding, Severity, Span
from hmic.language.spelling import written
from hmic.language.syntax import Expression, Pipe, Signal, WidgetKind
from hmic.model.channels import Channel, Scaled, signals_of
from hmic.model.design import Design, sources_of
from hmic.model.expressions import walk
from hmic.model.limits import Limits
from hmic.number_text import at_least, at_most, numbers
from hmic.paint.operations import Figures, Trace, channels_of
from hmic.paint.operations import Operation as Shown

LEAST_OF_COLOUR = 0.5
"""The share of what a value can be that the colour of a pipe tells apart (common practice, no source)."""

LEAST_OF_RANGE = 0.25
"""The share of what a value can be that a trace shows even beside a figure (common practice, no
source)."""


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C451: a scale that hides values which no figure tells."""
    findings: list[Finding] = []
    for number, screen in enumerate(arranged.screens):
        operations = arranged.drawing.screens[number].operations
        for piece in screen.pieces:
            own = operations[piece.first : piece.last]
            findings.extend(_clipped(piece, own, design, arranged, screen))
            findings.extend(_clipped_traces(piece, own, arranged, number))
        findings.extend(_clipped_pipes(design, arranged, number))
    return findings


def _clipped(
    piece: PieceFact, own: tuple[Shown, ...], design: Design, arranged: Arranged, screen: ArrangedScreen
) -> Iterator[Finding]:
    """A figure beside the scale tells the value that the scale cannot."""
    if any(isinstance(item, Figures) for item in own):
        return
    for channel in scaled_channels(own, arranged):
        ends = _hidden(channel)
        if ends is None:
            continue
        remedy = 'widen the scale, or add the figure: as "0"'
        if piece.widget.kind == WidgetKind.CELLS:
            if _in_figures(channel, design, arranged, screen):
                continue
            remedy = "widen the scale, or add readings of the lowest and the highest to the screen"
        this = (f"this {piece.widget.kind}", piece.widget.head)
        yield _clipped_finding(this, channel, ends, screen, remedy)
        return


def _clipped_pipes(design: Design, arranged: Arranged, number: int) -> Iterator[Finding]:
    """Pipes coloured or moved by a value beyond the ends of their scale, of which no figure tells."""
    screen = arranged.screens[number]
    within = {at for piece in screen.pieces for at in range(piece.first, piece.last)}
    operations = arranged.drawing.screens[number].operations
    rest = tuple(item for at, item in enumerate(operations) if at not in within)
    for channel in scaled_channels(rest, arranged):
        ends = _hidden(channel)
        if ends is None or _in_figures(channel, design, arranged, screen):
            continue
        assert channel.value is not None
        # A colour is no measure: it must tell apart most of what can be.
        if ends[1] - ends[0] >= LEAST_OF_COLOUR * (channel.value.high - channel.value.low):
            continue
        span = _pipe_span(channel, design, screen)
        remedy = "widen the scale, or add a reading of it to the screen"
        yield _clipped_finding(("the scale of this pipe", span), channel, ends, screen, remedy)


def _pipe_span(channel: Channel, design: Design, screen: ArrangedScreen) -> Span:
    """The pipe phrase that names the channel's value, or the screen for one within a part."""
    assert channel.value is not None
    for area in design.screens[screen.name].areas:
        for pipe in area.body:
            for phrase in pipe.phrases if isinstance(pipe, Pipe) else ():
                for value in phrase.values[:1]:
                    names = {node.name for node in walk(value) if isinstance(node, Signal)}
                    if names and names == channel.value.signals:
                        return phrase.span
    return screen.span


def scaled_channels(own: Iterable[Shown], arranged: Arranged) -> Iterator[Channel]:
    """The channels with a scale whose place, length or colour some operations show, each once. Traces
    are told apart; a difference from the mean has no ends of its own."""
    numbers = dict.fromkeys(
        channel for item in own if item.clips and not isinstance(item, Trace) for channel in channels_of(item)
    )
    for number in numbers:
        channel = arranged.channels[number]
        steps = channel.steps
        if (
            channel.value is not None
            and isinstance(steps, Scaled)
            and steps.count > 1
            and not channel.centred
        ):
            yield channel


def _hidden(channel: Channel) -> tuple[float, float] | None:
    """Both ends of a scale beyond which its value can go, None where it holds all."""
    steps, value = channel.steps, channel.value
    assert value is not None and isinstance(steps, Scaled)
    low, high = sorted((steps.low, steps.low + steps.step * (steps.count - 1)))
    slack = abs(steps.step) * 1.5
    if value.low >= low - slack and value.high <= high + slack:
        return None
    return low, high


def _in_figures(channel: Channel, design: Design, arranged: Arranged, screen: ArrangedScreen) -> bool:
    """Whether figures on the screen are worked out from the same signals."""
    number = arranged.screens.index(screen)
    shown = [item for item in arranged.drawing.screens[number].operations if isinstance(item, Figures)]
    names = sources_of(signals_of(channel), design)
    return any(names <= sources_of(signals_of(arranged.channels[item.channel]), design) for item in shown)


def _clipped_finding(
    this: tuple[str, Span],
    channel: Channel,
    ends: tuple[float, float],
    screen: ArrangedScreen,
    remedy: str,
    *,
    subject: str = "the value",
) -> Finding:
    (what, span), value, (low, high) = this, channel.value, ends
    assert value is not None
    spelt = value.unit.spelling if value.unit else ""
    low_end, high_end, lowest, highest = numbers(low, high, value.low, value.high)
    message = (
        f"on screen '{screen.name}' {what} ends at {low_end} and {high_end} {spelt}, "
        f"{subject} goes from {lowest} to {highest}"
    )
    worst, limit = (value.low, low) if low - value.low > value.high - high else (value.high, high)
    return Finding("C451", Severity.WARNING, message, span, remedy, worst, limit, spelt or None)


def _clipped_traces(
    piece: PieceFact, own: tuple[Shown, ...], arranged: Arranged, number: int
) -> Iterator[Finding]:
    """Traces that stop at the edge of their scale; a figure on the screen tells what such a one cannot,
    unless its scale is but a sliver."""
    screen = arranged.screens[number]
    traces = [item for item in own if isinstance(item, Trace)]
    for child, item in zip(piece.widget.children, traces, strict=False):
        channel = arranged.channels[item.first]
        value = channel.value
        assert value is not None and child.subject is not None
        ends = _hidden(channel)
        if ends is None:
            continue
        told = _told(child.subject, arranged, number)
        if told and ends[1] - ends[0] >= LEAST_OF_RANGE * (value.high - value.low):
            continue
        spelt = value.unit.spelling if value.unit else ""
        remedy = (
            f"widen the scale, such as from {at_most(value.low)} {spelt} to {at_least(value.high)} {spelt}"
        )
        remedy += "" if told else ", or add a reading of it to the screen"
        this, subject = ("this trace", child.head), written(child.subject)
        yield _clipped_finding(this, channel, ends, screen, remedy, subject=subject)


def _told(subject: Expression, arranged: Arranged, number: int) -> bool:
    """Whether a figure of the value stands on the screen."""
    operations = arranged.drawing.screens[number].operations
    return any(
        piece.widget.subject is not None
        and written(piece.widget.subject) == written(subject)
        and any(isinstance(item, Figures) for item in operations[piece.first : piece.last])
        for piece in arranged.screens[number].pieces
    )
