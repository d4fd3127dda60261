"""What a scale is like: where it ends, how it is divided, which way it goes, and what its colours say."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.colour import lab
from hmic.check.edits import joined, setting, write
from hmic.check.edits import phrase as phrase_in
from hmic.check.ramps import hue
from hmic.check.scales import scaled_channels
from hmic.check.values_shown import HEATS, amount, low_is_bad
from hmic.diagnostics import DesignError, Finding, Severity, Span, mended_by
from hmic.language.spelling import written
from hmic.language.syntax import Expression, Phrase, PhraseKind, Pipe, Quantity, Widget, WidgetKind
from hmic.model.channels import Channel, Scaled
from hmic.model.design import Design, Ramp
from hmic.model.expressions import Typed
from hmic.model.limits import READ, Limit, Limits
from hmic.number_text import number, numbers
from hmic.paint.operations import Operation, Trace

STEPS = Limit(0, "", "MIL-HDBK-759B 5.2.2.3.1.4.1: scales go by 1, 2 or 5 times a power of ten", READ)
_SIXTIES = frozenset(("s", "min", "h", "°"))
"""Units that are divided by twelves and sixties."""
_SCALES = frozenset((WidgetKind.BAR, WidgetKind.LEVEL, WidgetKind.DIAL))
WARM, COOL, GREEN, RED = (330, 110), (180, 320), (110, 185), (0, 75)
"""CIELAB hue angles that look so (our own choice)."""
LEAST_CHROMA = 15


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C452 a limit that lies beyond its scale, C454 a scale of which little is used, C458 marks at odd
    steps, C459 a scale that grows downwards, C466 a ramp against its meaning, C473 a zero that nothing
    shows."""
    findings: list[Finding] = []
    for number_, screen in enumerate(arranged.screens):
        operations = arranged.drawing.screens[number_].operations
        for piece in screen.pieces:
            own = operations[piece.first : piece.last]
            shown = _shown(piece, own, arranged)
            for scale in shown:
                findings.extend(_used(scale, limits))
            findings.extend(_zero(piece, shown, screen))
            findings.extend(_limits_of(piece, shown, design))
            findings.extend(_steps(piece.widget))
            findings.extend(_direction(piece.widget, shown))
            findings.extend(_ramps(piece.widget, design))
        findings.extend(_pipes(screen, design))
    return findings


class Shown(NamedTuple):
    """A scale on a screen: where it stands, its ends, and what goes along it."""

    kind: str
    widget: Widget
    low: float
    high: float
    value: Typed

    @property
    def span(self) -> Span:
        """Where it stands in the layout."""
        return self.widget.head

    @property
    def spelt(self) -> str:
        """The unit of the scale."""
        return self.value.unit.spelling if self.value.unit is not None else ""


def _shown(piece: PieceFact, own: tuple[Operation, ...], arranged: Arranged) -> list[Shown]:
    widget = piece.widget
    if widget.kind == WidgetKind.CHART:
        traces = [item for item in own if isinstance(item, Trace)]
        pairs = zip(widget.children, traces, strict=False)
        found = [(child, arranged.channels[item.first]) for child, item in pairs]
        return [
            it for child, channel in found if (it := _scale(WidgetKind.TRACE, child, channel)) is not None
        ]
    if widget.kind not in _SCALES:
        return []
    for channel in scaled_channels(own, arranged):
        scale = _scale(widget.kind, widget, channel)
        if scale is not None:
            return [scale]
    return []


def _scale(kind: str, widget: Widget, channel: Channel) -> Shown | None:
    steps, value = channel.steps, channel.value
    if value is None or not isinstance(steps, Scaled):
        return None
    low, high = sorted((steps.low, steps.low + steps.step * (steps.count - 1)))
    return Shown(kind, widget, low, high, value)


def _used(scale: Shown, limits: Limits) -> Iterator[Finding]:
    limit = limits["scale used"]
    value = scale.value
    if not (math.isfinite(value.low) and math.isfinite(value.high)) or scale.high <= scale.low:
        return
    used = (min(value.high, scale.high) - max(value.low, scale.low)) / (scale.high - scale.low)
    if 0 <= used < limit.value:
        low, high, lowest, highest = numbers(scale.low, scale.high, value.low, value.high)
        message = (
            f"this {scale.kind} goes from {low} to {high} {scale.spelt}, its value only from {lowest} to "
            f"{highest} {scale.spelt}"
        )
        found = limit.finding("C454", message, scale.span, "", used)
        ends = f"from {lowest} {scale.spelt} to {highest} {scale.spelt}"
        yield mended_by(found, phrase_in(scale.widget, PhraseKind.SCALE, ends))


def _zero(piece: PieceFact, shown: list[Shown], screen: ArrangedScreen) -> Iterator[Finding]:
    """C473, of scales whose values go to both sides of zero, as a power does; a temperature's zero is one
    of many."""
    for scale in shown:
        if (
            scale.kind == WidgetKind.TRACE
            or scale.spelt in HEATS
            or not scale.value.low < 0 < scale.value.high
        ):
            continue
        if scale.low > 0 or scale.high < 0:
            low, high, _ = numbers(scale.low, scale.high, 0)
            message = (
                f"this {scale.kind} goes from {low} to {high} {scale.spelt}, and its value to both sides of 0"
            )
            least, most = number(min(scale.low, 0)), number(max(scale.high, 0))
            ends = f"from {least} {scale.spelt} to {most} {scale.spelt}"
            found = Finding("C473", Severity.WARNING, message, scale.span)
            yield mended_by(found, phrase_in(scale.widget, PhraseKind.SCALE, ends))
        elif scale.low < 0 < scale.high and scale.kind in _MARKED and not _zero_marked(piece, screen):
            message = f"nothing marks 0 on this {scale.kind}, whose value goes to both sides of it"
            every = f"marks every {number(_usual_step(scale))} {scale.spelt}".rstrip()
            found = Finding("C473", Severity.WARNING, message, scale.span)
            said = scale.widget.one(PhraseKind.UNMARKED)
            mend = phrase_in(scale.widget, PhraseKind.MARKS, every, unasked=True)
            yield mended_by(found, mend if said is None else write(said.span, every, unasked=True))


_MARKED = (WidgetKind.BAR, WidgetKind.DIAL)


def _zero_marked(piece: PieceFact, screen: ArrangedScreen) -> bool:
    """Whether a figure of its marks is 0; marks without figures stand at zero too."""
    figures = [fact.text for fact in screen.texts if fact.span == piece.widget.head and not fact.reading]
    if piece.widget.one(PhraseKind.MARKS) is not None:
        return True
    return any(re.fullmatch(r"0([.,]0+)?", text) for text in figures)


def _usual_step(scale: Shown) -> float:
    """1, 2 or 5 times a power of ten, a fourth of the scale or less."""
    return float(_nearest_step(Fraction((scale.high - scale.low) / 4)))


def _limits_of(piece: PieceFact, shown: list[Shown], design: Design) -> Iterator[Finding]:
    """C452. A limit that the value never reaches has been told by arranging."""
    widget = piece.widget
    subject = widget.subject
    phrases = [*widget.all(PhraseKind.ABOVE), *widget.all(PhraseKind.BELOW)]
    if subject is None or not phrases:
        return
    value = shown[0].value if shown else _typed(subject, design)
    if value is None:
        return
    for phrase in phrases:
        at = _at(phrase, value, design)
        if at is None:
            continue
        above = phrase.kind == PhraseKind.ABOVE
        said = f"{phrase.words[0]} {'above' if above else 'below'} {written(phrase.values[0])}"
        never = at >= value.high if above else at <= value.low
        if shown and not never and not shown[0].low <= at <= shown[0].high:
            low, high, _ = numbers(shown[0].low, shown[0].high, at)
            message = f"`{said}` lies beyond this {widget.kind}, which ends at {low} and {high}"
            least, most = number(min(shown[0].low, at)), number(max(shown[0].high, at))
            ends = f"from {least} {shown[0].spelt} to {most} {shown[0].spelt}"
            remedy = f"let the scale reach {written(phrase.values[0])}, or correct the limit"
            found = Finding("C452", Severity.WARNING, message, phrase.span, remedy)
            yield mended_by(found, phrase_in(widget, PhraseKind.SCALE, ends), ", or correct the limit")


def _typed(subject: Expression, design: Design) -> Typed | None:
    try:
        return design.typings.typed(subject, [])
    except DesignError:
        return None


def _at(phrase: Phrase, value: Typed, design: Design) -> float | None:
    if value.unit is not None and value.unit.difference:
        return None
    try:
        return amount(phrase.values[0], value.unit, design)
    except DesignError:
        return None


def _steps(widget: Widget) -> Iterator[Finding]:
    for phrase in (*widget.all(PhraseKind.MARKS), *widget.all(PhraseKind.FINE)):
        step = phrase.values[0] if phrase.values else None
        if not isinstance(step, Quantity) or step.unit in _SIXTIES or step.number <= 0:
            continue
        # A whole is halved and quartered.
        if _leading(step.number) in (1, 2, 5) or (step.unit == "%" and step.number == 25):
            continue
        near = _nearest_step(step.number)
        message = f"the marks of this {widget.kind} are {written(step)} apart, which is hard to count in"
        found = STEPS.finding("C458", message, phrase.span, "", None, severity=Severity.NOTE)
        fine = "fine " if phrase.kind == PhraseKind.FINE else ""
        every = f"{fine}marks every {number(float(near))} {step.unit}".rstrip()
        yield mended_by(found, write(phrase.span, every, unasked=True))


def _leading(of: Fraction) -> Fraction:
    while of >= 10:
        of /= 10
    while of < 1:
        of *= 10
    return of


def _nearest_step(of: Fraction) -> Fraction:
    """The nearest below it, so that no fewer marks are there."""
    lead = _leading(of)
    return of / lead * max(step for step in (1, 2, 5) if step <= lead)


def _direction(widget: Widget, shown: list[Shown]) -> Iterator[Finding]:
    phrase = widget.one(PhraseKind.DIRECTION)
    backwards = phrase is not None and phrase.words and phrase.words[0] in ("downward", "leftward")
    if phrase is not None and backwards and shown and shown[0].high > 0 and shown[0].low >= 0:
        other = {"downward": "upward", "leftward": "rightward"}[phrase.words[0]]
        message = f"this {widget.kind} grows {phrase.words[0]}s: more is looked for above, or on the right"
        found = Finding("C459", Severity.WARNING, message, phrase.span)
        yield mended_by(found, write(phrase.span, other, unasked=True))
    sweep = widget.one(PhraseKind.SWEEP)
    ends = [each.number for each in sweep.values if isinstance(each, Quantity)] if sweep is not None else []
    if sweep is not None and len(ends) == 2 and ends[0] > ends[1]:
        message = "this dial turns against the clock: more is looked for the way the clock goes"
        found = Finding("C459", Severity.WARNING, message, sweep.span)
        turned = f"sweep from {number(float(ends[1]))}° to {number(float(ends[0]))}°"
        yield mended_by(found, write(sweep.span, turned, unasked=True))


def _ramps(widget: Widget, design: Design) -> Iterator[Finding]:
    if widget.subject is not None:
        for phrase in widget.all(PhraseKind.RAMP):
            yield from _ramp(phrase, phrase.words[0], widget.subject, design)


def _pipes(screen: ArrangedScreen, design: Design) -> Iterator[Finding]:
    for area in design.screens[screen.name].areas:
        for pipe in area.body:
            for phrase in pipe.phrases if isinstance(pipe, Pipe) else ():
                if phrase.kind == PhraseKind.RAMP and phrase.values:
                    yield from _ramp(phrase, phrase.words[0], phrase.values[0], design)


def _ramp(phrase: Phrase, name: str, subject: Expression, design: Design) -> Iterator[Finding]:
    value = _typed(subject, design)
    if value is None:
        return
    heat = value.unit is not None and value.unit.spelling in HEATS
    how = ""
    mends = []
    for theme in design.themes:
        ramp = theme.ramps.get(name)
        if ramp is None:
            continue
        if heat and _looks(ramp, 0, WARM) and _looks(ramp, -1, COOL):
            how = "cold is painted warm, and heat cold"
        elif low_is_bad(subject) and _looks(ramp, 0, GREEN) and _looks(ramp, -1, RED):
            how = "little of it is green, and much of it red"
        else:
            continue
        turned = ", ".join(f'"#{red:02x}{green:02x}{blue:02x}"' for red, green, blue in ramp.stops[::-1])
        mends.append(setting(design, ramp.span.file, ("themes", theme.name, "ramps", name), f"[{turned}]"))
    if mends:
        message = f"ramp '{name}' is against the meaning of {written(subject)}: {how}"
        found = Finding("C466", Severity.WARNING, message, phrase.span, "turn its colours round")
        yield mended_by(found, joined(mends))


def _looks(ramp: Ramp, stop: int, hues: tuple[float, float]) -> bool:
    colour = ramp.stops[stop]
    if math.hypot(*lab(colour)[1:]) < LEAST_CHROMA:
        return False
    low, high = hues
    angle = hue(colour)
    return low <= angle <= high if low <= high else angle >= low or angle <= high
