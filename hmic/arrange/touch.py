"""Touch: from the phrases of a control to what it asks and when it may."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import NamedTuple

from hmic.arrange.canvas import Canvas, inset, live, phrase_text, rising
from hmic.arrange.steps import asked_step
from hmic.diagnostics import DesignError, Span, Subject, did_you_mean, error, lacking, warning
from hmic.language.syntax import Expression, Name, Phrase, PhraseKind, Signal, Text, phrase_kinds
from hmic.model.actions import (
    Acknowledge,
    Action,
    Asking,
    GoTo,
    SetOutput,
    StepOutput,
    ToggleOutput,
    ZoneAction,
)
from hmic.model.builtin import NOT_NOW
from hmic.model.channels import Channel, Listed, Scaled
from hmic.model.design import TWICE, OutputDefinition, carried_subject
from hmic.model.expressions import Doubt, Scalar, Typed, ValueKind, accountable
from hmic.model.touch_progress import HOLD_STEPS, TOUCH_WORDS, TouchState
from hmic.number_text import at_least, at_most, numbers
from hmic.paint import shapes
from hmic.paint.operations import Axis, Box, Frame, Mask, Reveal, Stencil, When

ACTION_PHRASES = phrase_kinds("goes sets toggles by acknowledges")
CORNER_MM = 2.0
EDGE_MM = 0.4
REASON_ARCMIN = 14
WORDS_MM = 1.2
SIGN_MM = 2.6
# Of the ring that fills while a control is held, and the thresholds of its map for each step.
RING_MM = 1.0
RING_GAIN = 4

_EDGES = {
    TouchState.IDLE: "line",
    TouchState.PRESSED: "accent",
    TouchState.ASKED: "caution",
    TouchState.SENT: "accent",
    TouchState.REFUSED: "danger",
    TouchState.FAILED: "danger",
    TouchState.BARRED: "line",
}


def zone_action(phrases: Sequence[Phrase], span: Span, canvas: Canvas) -> ZoneAction:
    """What a touch asks for. Raises ``DesignError`` A360 unless exactly one thing is asked."""
    asking = [phrase for phrase in phrases if phrase.kind in ACTION_PHRASES]
    if len(asking) != 1:
        message = "this touch asks for nothing" if not asking else "this touch asks for two things"
        remedy = "say one of: goes to SCREEN, sets SIGNAL to VALUE, toggles SIGNAL, steps SIGNAL by VALUE"
        raise DesignError([lacking("A360", message, span if not asking else asking[1].span, remedy)])
    return guarded(_action(asking[0], canvas), phrases, canvas)


def guarded(action: Action, phrases: Sequence[Phrase], canvas: Canvas) -> ZoneAction:
    """An action with the conditions that the phrases put on it."""
    said = {phrase.kind: phrase.values[0] for phrase in phrases if phrase.values}
    node, question = said.get(PhraseKind.ALLOWED), said.get(PhraseKind.CONFIRMED)
    allowed = accountable(node, canvas.flag(node), canvas.typed) if node is not None else None
    held = round(1000 * canvas.constant(said[PhraseKind.HELD], "s")) if PhraseKind.HELD in said else 0
    return ZoneAction(action, allowed, held, question.text if isinstance(question, Text) else None)


def output(signal: Expression, canvas: Canvas) -> OutputDefinition:
    """The output that a control asks through. Raises ``DesignError`` A361."""
    if not isinstance(signal, Signal):
        remedy = "write the dotted name of an output of signals.yaml"
        raise DesignError([error("A361", "this must be the name of an output", signal.span, remedy)])
    outputs = canvas.design.outputs
    if signal.name in outputs:
        return outputs[signal.name]
    message = f"'{signal.name}' is not an output, so a touch cannot ask for it"
    remedy = f"declare `{signal.name}: {{to: Message.Signal}}` under outputs in signals.yaml"
    if signal.name not in canvas.design.signals:
        remedy = f"{did_you_mean(signal.name, outputs, 'outputs')}; or {remedy}"
    declared = tuple(Subject("signals.yaml", (group, signal.name)) for group in ("outputs", "signals"))
    raise DesignError([error("A361", message, signal.span, remedy, rests_on=declared)])


@contextmanager
def control(
    phrases: Sequence[Phrase],
    box: Box,
    action: ZoneAction,
    span: Span,
    canvas: Canvas,
    *,
    reasons: bool = True,
) -> Iterator[int]:
    """A touch target with its body; what the block paints stands on it. Gives the channel that says
    how the touch fares. While it waits for a second touch the question covers what the block
    painted, and while it is refused the reason does, unless ``tell_reasons`` says it elsewhere. A sign
    in the corner says that a request is on its way, or that a touch would be refused."""
    state = canvas.touch(box, action, span)
    channel = canvas.channel(Channel(state, Listed(TOUCH_WORDS), urgency=1))
    asks = isinstance(action.action, Asking)
    barred = bool(canvas.conditions(action))
    inside = _body(box, channel, (asks, barred), canvas)
    hold = canvas.held_part(action) if action.held_ms else None
    yield channel
    if hold is not None:
        _ring(box, channel, hold, canvas)
    cover = _Cover(inside, _corner(inside.left - box.left, canvas), channel, canvas)
    asked = next((phrase for phrase in phrases if phrase.kind == PhraseKind.CONFIRMED), None)
    if asked is not None:
        _say(phrase_text(asked), "question", asked.span, TouchState.ASKED, cover)
    if reasons:
        _reasons(phrases, action, span, cover)
    if asks:
        _sign(shapes.dots, TouchState.SENT, "accent", cover)
    if barred:
        _sign(shapes.barred, TouchState.BARRED, "quiet", cover)


def _reasons(phrases: Sequence[Phrase], action: ZoneAction, span: Span, cover: _Cover) -> None:
    if action.allowed is None and not isinstance(action.action, Asking):
        return
    # The builder's reason is told only where it is the reason.
    refused = next((phrase for phrase in phrases if phrase.kind == PhraseKind.REFUSED), None)
    if refused is not None:
        _say(phrase_text(refused), "reason", refused.span, TouchState.REFUSED, cover)
    first = TouchState.FAILED if refused else TouchState.REFUSED
    _say(cover.canvas.said(NOT_NOW), "reason", span, first, cover, last=TouchState.FAILED)


def tell_reasons(
    phrases: Sequence[Phrase],
    over: tuple[Box, int],
    touched: Sequence[tuple[int, ZoneAction]],
    span: Span,
    canvas: Canvas,
) -> None:
    """Why a touch was refused, over all of a box that holds several targets, each with its channel. The box
    comes with the radius of its corners."""
    box, radius = over
    edge = max(2, canvas.px(EDGE_MM))
    outer, inner = (canvas.rounded(shapes.corner(max(1, radius - less))) for less in (0, edge))
    for channel, action in touched:
        first, last = (live(TOUCH_WORDS.index(each)) for each in (TouchState.REFUSED, TouchState.FAILED))
        when = When(channel, first, last)
        canvas.operations.append(Frame(box, outer, canvas.artwork.ink(_EDGES[TouchState.REFUSED]), when))
        _reasons(phrases, action, span, _Cover(inset(box, edge, edge, edge, edge), inner, channel, canvas))


class _Cover(NamedTuple):
    """The ground of a control, which words may cover while its touch is in a state."""

    inside: Box
    corner: int
    channel: int
    canvas: Canvas


def _body(box: Box, channel: int, can: tuple[bool, bool], canvas: Canvas) -> Box:
    """Its edge and ground show how the touch of ``channel`` fares. Gives the ground's box. ``can``: be
    sent, be barred; a state that never comes looks like rest."""
    sent, barred = can
    edges = _EDGES | ({} if sent else {TouchState.SENT: _EDGES[TouchState.IDLE]})
    flat = (TouchState.PRESSED, TouchState.BARRED) if barred else (TouchState.PRESSED,)
    edge = max(2, canvas.px(EDGE_MM))
    outer = canvas.artwork.inks(list(edges.values()), channel)
    inner = canvas.artwork.inks(["ground" if word in flat else "surface" for word in _EDGES], channel)
    inside = inset(box, edge, edge, edge, edge)
    canvas.operations.append(Frame(box, _corner(0, canvas), outer))
    canvas.operations.append(Frame(inside, _corner(edge, canvas), inner))
    return inside


def _ring(box: Box, channel: int, hold: Typed, canvas: Canvas) -> None:
    """A ring inside the edge, full when the finger has stayed long enough: all around the control, where the
    finger does not hide it."""
    thick = max(3, canvas.px(RING_MM))
    radius = canvas.px(CORNER_MM)
    line = canvas.filling(box.width, lambda wide: shapes.border(wide, box.height, radius, thick))
    mask = canvas.artwork.mask(line)
    around = canvas.artwork.map(shapes.around(line, HOLD_STEPS * RING_GAIN))
    steps = canvas.channel(Channel(hold, Scaled(0.0, 1 / HOLD_STEPS, HOLD_STEPS + 1)))
    pressed = live(TOUCH_WORDS.index(TouchState.PRESSED))
    ink, when = canvas.artwork.ink("accent"), When(channel, pressed, pressed)
    ring = Reveal(box, steps, Axis.MAPPED, 0, mask, ink, around, RING_GAIN, shapes.AROUND_EDGE, when)
    canvas.operations.append(ring)


def _corner(edge: int, canvas: Canvas) -> int:
    return canvas.rounded(shapes.corner(max(0, canvas.px(CORNER_MM) - edge)))


def _say(
    text: str, what: str, span: Span, state: TouchState, cover: _Cover, *, last: TouchState | None = None
) -> None:
    """Words over the whole control while its touch is in ``state``, or one up to ``last``."""
    canvas = cover.canvas
    first = live(TOUCH_WORDS.index(state))
    when = When(cover.channel, first, live(TOUCH_WORDS.index(last or state)))
    canvas.operations.append(Frame(cover.inside, cover.corner, canvas.artwork.ink("surface"), when))
    pad = canvas.px(WORDS_MM)
    face = canvas.face("text", canvas.small(REASON_ARCMIN))
    place = inset(cover.inside, pad, pad, pad, pad)
    canvas.lines(text, face, place, canvas.artwork.ink("ink"), span, what=f'the {what} "{text}"', when=when)


SAYING = (PhraseKind.CONFIRMED, PhraseKind.REFUSED)
"""What a control may say over itself."""


def said_width(phrases: Sequence[Phrase], canvas: Canvas, kinds: Sequence[PhraseKind] = SAYING) -> int:
    """How wide a control has to be, in px, for the longest word of what it may say over itself."""
    said = [phrase_text(each) for each in phrases if each.kind in kinds]
    face = canvas.face("text", canvas.small(REASON_ARCMIN))
    widest = max((face.measure(word) for text in said for word in text.split()), default=0)
    return widest + 2 * (canvas.px(WORDS_MM) + max(2, canvas.px(EDGE_MM))) if widest else 0


def sign_room(canvas: Canvas) -> int:
    """What a sign takes of the right end of a control, with what is left free on both its sides, in px."""
    side, gap = _sign_size(canvas)
    return max(2, canvas.px(EDGE_MM)) + side + 2 * gap


def _sign_size(canvas: Canvas) -> tuple[int, int]:
    """(width and height, distance from the edge of the control's ground), in px."""
    return max(11, canvas.px(SIGN_MM)), max(2, canvas.px(0.8))


def _sign(shape: Callable[[int], Mask], state: TouchState, role: str, cover: _Cover) -> None:
    """A small shape in the corner while the touch is in ``state``."""
    canvas = cover.canvas
    side, gap = _sign_size(canvas)
    step = live(TOUCH_WORDS.index(state))
    drawn = canvas.narrow(shape(side))
    right = cover.inside.left + cover.inside.width - gap
    place = Box(right - drawn.width, cover.inside.top + gap, drawn.width, side)
    mask = canvas.artwork.mask(drawn)
    canvas.operations.append(Stencil(place, mask, canvas.artwork.ink(role), When(cover.channel, step, step)))


def ends(target: OutputDefinition, typed: Typed) -> tuple[float, float]:
    """The least and the most that an output may be asked for, in its signal's unit."""
    return max(typed.low, target.low), min(typed.high, target.high)


def scale_ends(
    phrase: Phrase | None, target: OutputDefinition, typed: Typed, canvas: Canvas
) -> tuple[float, float]:
    """The least and the most that a control asks for: the ends of its scale, or all that may be asked for.
    Raises ``DesignError`` A344 or A362."""
    if phrase is None:
        return ends(target, typed)
    low, high = rising(phrase.values, typed, phrase.span, canvas)
    for end, node in zip((low, high), phrase.values, strict=True):
        within_ends(end, target, typed, node.span)
    return low, high


def within_ends(value: float, target: OutputDefinition, typed: Typed, span: Span) -> float:
    """The value. Raises ``DesignError`` A362 when the output may not be asked for it."""
    low, high = ends(target, typed)
    if low <= value <= high:
        return value
    unit = f" {typed.unit.spelling}" if typed.unit and typed.unit.spelling else ""
    said, *_ = numbers(value, low, high)
    may = f"{at_least(low)}{unit} to {at_most(high)}{unit}"
    message = f"{said}{unit} is outside what '{target.name}' may be asked for, {may}"
    remedy = f"choose a value from {may}"
    if target.steps is not None and not target.steps.carries(value):
        message = f"{said}{unit} is outside what the field of '{target.name}' can carry, {may}"
        remedy += ", or correct the scale in the DBC"
    raise DesignError([error("A362", message, span, remedy, breaks=(carried_subject(target.name),))])


def tell_what_is_asked(
    value: Scalar, target: OutputDefinition, typed: Typed, span: Span, canvas: Canvas
) -> None:
    """A388: the field of an output cannot carry a value, so that another is asked for."""
    if target.steps is None or isinstance(value, bool | str):
        return
    asked = target.steps.closest(value)
    if abs(asked - value) <= target.steps.step * UNSEEN:
        return
    unit = f" {typed.unit.spelling}" if typed.unit and typed.unit.spelling else ""
    said, nearest = numbers(value, asked)
    message = f"the field of '{target.name}' cannot carry {said}{unit}: {nearest}{unit} would be asked for"
    found = warning("A388", message, span, f"write {nearest}{unit}")
    if found not in canvas.findings:
        canvas.findings.append(found)


UNSEEN = 0.01
"""Part of a step of a field that a value in another unit may be beside it: common practice, no source."""


def set_value(target: OutputDefinition, typed: Typed, node: Expression, canvas: Canvas) -> float | bool | str:
    """A fixed value that an output may be asked for. Raises ``DesignError`` A362."""
    if typed.kind == ValueKind.NUMBER:
        return within_ends(canvas.limit(node, typed), target, typed, node.span)
    if isinstance(node, Text) and typed.kind == ValueKind.WORD:
        if node.text in typed.words:
            return node.text
        message = f'the signal has no word "{node.text}"'
        remedy = did_you_mean(node.text, typed.words, "words")
        declared = (Subject("signals.yaml", ("signals", target.name, "words")),)
        raise DesignError([error("A362", message, node.span, remedy, rests_on=declared)])
    given = canvas.typed(node)
    result = given.evaluate(lambda name: Doubt.UNSEEN)
    if given.kind != typed.kind or given.signals or isinstance(result, Doubt | tuple):
        message = f"the output is a {typed.kind}, this is not a fixed {typed.kind}"
        raise DesignError([error("A362", message, node.span, "write on or off for a flag")])
    return result


def _action(phrase: Phrase, canvas: Canvas) -> Action:
    match phrase.kind:
        case PhraseKind.GOES:
            return _goes(phrase, canvas)
        case PhraseKind.ACKNOWLEDGES:
            return Acknowledge()
        case PhraseKind.TOGGLES:
            return ToggleOutput(output(phrase.values[0], canvas).name)
        case PhraseKind.SETS:
            target, value = phrase.values
            definition = output(target, canvas)
            if isinstance(value, Name):
                message = f"'{value.name}' has a value only in a list"
                raise DesignError([lacking("A363", message, value.span, "write a value, such as 80 %")])
            typed = canvas.typed(target)
            wanted = set_value(definition, typed, value, canvas)
            tell_what_is_asked(wanted, definition, typed, value.span, canvas)
            return SetOutput(definition.name, wanted)
        case _:
            definition = output(phrase.values[0], canvas)
            typed = canvas.number(phrase.values[0])
            low, high = ends(definition, typed)
            by = asked_step(phrase, definition, typed, (low, high), canvas)
            return StepOutput(definition.name, by, low, high)


def _goes(phrase: Phrase, canvas: Canvas) -> GoTo:
    name = phrase.words[0]
    if name not in canvas.design.screens:
        raise canvas.design.faults.told(phrase.span, TWICE)
    return GoTo(name)
