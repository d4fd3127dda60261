"""What a design asks of its line and of the display's memory, against what there is.

Delays are from the moment a step changes (for the runtime) to the last byte of the frame that brings it, with
every channel of the screen moving; ``line_delays.py`` says how.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import ceil, inf
from typing import NamedTuple

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.line_delays import LineDelays, Moves, calm_seconds, line_of, moves_of
from hmic.diagnostics import Finding, Severity, Span
from hmic.language.spelling import written
from hmic.language.syntax import PhraseKind, Quantity
from hmic.model.channels import Channel, Spelt, scale_of
from hmic.model.design import Design
from hmic.model.limits import PRACTICE, SHOWN_WITHIN, TEXT_WITHIN, USUALLY_WITHIN, Limits
from hmic.number_text import measured_and_limit
from hmic.paint.operations import Figures, Run, ScreenDrawing, Trace, channels_of, row_of
from hmic.player.written import BAND_LINES, STACK, STATE, band_bytes, memory
from hmic.wire.banks import flash_need
from hmic.wire.bounds import MOST_LOAD, push_seconds
from hmic.wire.sizes import URGENT

PROMPT_MS = 200
CALM_MS = 400
"""A channel to be shown within less than these is sent at once, or with what moves."""

PLAYER_MEMORY = STATE + STACK

CONTRIBUTORS = 3


class Delay(NamedTuple):
    """The worst of some channels of a screen: ``milliseconds`` (None: no bound) against ``limit``, and while
    a pack is pushed. ``piece`` is what shows it."""

    what: str
    milliseconds: float | None
    limit: float
    piece: PieceFact | None
    pushed: float | None


class ScreenBudget(NamedTuple):
    """``batch`` is the time in seconds between two updates, ``load`` the part of the line that values take
    when everything moves, ``longest`` the bytes of the longest update, ``anew`` the seconds that all values
    of the screen take at most when they all change. ``contributors`` are (what, bytes of that), the largest
    first."""

    name: str
    batch: float
    load: float
    longest: int
    anew: float
    delays: tuple[Delay, ...]
    contributors: tuple[tuple[str, int], ...]


class Budget(NamedTuple):
    """All of it. Bytes of flash for two banks, bytes of working memory, seconds of a full push (not
    squeezed, framing included)."""

    screens: tuple[ScreenBudget, ...]
    flash: int
    memory: int
    push_seconds: float


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C460: a value that may come later than it has to, or for which there is no bound. C461: more to
    send than the line takes. C463: too little working memory. (C462, the flash, needs the pack:
    ``check_flash``.)"""
    findings: list[Finding] = []
    for number, screen in enumerate(arranged.screens):
        found = screen_budget(design, arranged, number)
        largest = _listed(found.contributors)
        if found.load > MOST_LOAD:
            asked, _ = measured_and_limit(100 * found.load, 100 * MOST_LOAD)
            message = f"screen '{screen.name}' asks for {asked} % of the line when all of it moves"
            remedy = f"a faster line (`baud` in design.yaml), or less on the screen; the largest: {largest}"
            held = (100 * found.load, 100 * MOST_LOAD, "%")
            findings.append(_finding("C461", message, screen.span, remedy, held))
        findings.extend(_late(found, screen, largest, design.panel.baud))
    need = memory_need(arranged)
    if need > design.panel.memory:
        message = "the display has too little working memory for this design"
        band = band_bytes(arranged.drawing)
        shares = [
            ("the display's program", PLAYER_MEMORY),
            (f"{BAND_LINES} lines of pixels", band),
            ("all channels", need - PLAYER_MEMORY - band),
        ]
        less = "fewer channels" if arranged.drawing.depth == 16 else "fewer channels, or a colour depth of 16"
        remedy = f"a panel with more memory, {less}; the largest: {_listed(shares)}"
        span = arranged.screens[0].span
        findings.append(_finding("C463", message, span, remedy, (need, design.panel.memory, "bytes")))
    return findings


def _late(found: ScreenBudget, screen: ArrangedScreen, largest: str, baud: int) -> Iterator[Finding]:
    """C460 for each ``shown within`` that is not kept; and one for the rest, which a faster line mends all
    at once."""
    late = sorted((delay for delay in found.delays if _excess(delay)[0] > 0), key=_excess, reverse=True)
    own = [[delay] for delay in late if delay.piece is not None]
    rest = [delay for delay in late if delay.piece is None]
    for worst, *others in [*own, *([rest] if rest else [])]:
        span = worst.piece.widget.head if worst.piece else screen.span
        how = f"without a bound at {baud} Bd"
        if worst.milliseconds is not None:
            how = f"{measured_and_limit(worst.milliseconds, worst.limit)[0]} ms late"
        beside = f" (and {', '.join(delay.what for delay in others)})" if others else ""
        message = f"on screen '{screen.name}', {worst.what}{beside} may come {how}"
        remedy = f"a faster line, a longer `shown within`, or less on the screen; the largest: {largest}"
        yield _finding("C460", message, span, remedy, (worst.milliseconds, worst.limit, "ms"))


def check_flash(design: Design, arranged: Arranged, sections: Mapping[str, int]) -> list[Finding]:
    """C462: two banks of this pack do not fit in the panel's flash. ``sections`` are the pack's, in
    bytes."""
    need = flash_need(sum(sections.values()))
    if need <= design.panel.flash:
        return []
    largest = sorted(sections.items(), key=lambda pair: -pair[1])
    remedy = (
        "a panel with more flash, fewer sizes of text or fewer pictures; the largest sections: "
        + _listed(largest)
    )
    message = "the display cannot keep this pack and the next one beside it"
    held = (need, design.panel.flash, "bytes")
    return [_finding("C462", message, arranged.screens[0].span, remedy, held)]


def budget(design: Design, arranged: Arranged, pack_size: int) -> Budget:
    """Everything that ``hmic build`` tells."""
    screens = tuple(screen_budget(design, arranged, number) for number in range(len(arranged.screens)))
    line = line_of(design.panel.baud, design.panel.half_duplex)
    seconds = push_seconds(pack_size, line.rate)
    return Budget(screens, flash_need(pack_size), memory_need(arranged), seconds)


def memory_need(arranged: Arranged) -> int:
    """Bytes of working memory: the player's own, a band of pixels, the channels, and the stack."""
    return memory(arranged.drawing) + STACK


def declared(screen: ArrangedScreen, drawing: ScreenDrawing) -> dict[int, tuple[int, PieceFact]]:
    """The channels of a screen, by number, that a ``shown within`` speaks of: milliseconds and the
    piece that says so, the shortest of several."""
    found: dict[int, tuple[int, PieceFact]] = {}
    for piece in screen.pieces:
        phrase = piece.widget.one(PhraseKind.WITHIN)
        value = phrase.values[0] if phrase is not None and phrase.values else None
        if not isinstance(value, Quantity) or value.unit not in ("ms", "s"):
            continue
        limit = round(value.number * (1000 if value.unit == "s" else 1))
        for operation in drawing.operations[piece.first : piece.last]:
            for channel in channels_of(operation):
                if channel not in found or limit < found[channel][0]:
                    found[channel] = (limit, piece)
    return found


def calm_channels(drawing: ScreenDrawing, within: Mapping[int, tuple[int, PieceFact]]) -> frozenset[int]:
    """The channels, by number, that feed figures and nothing that moves or is coloured by them, and that
    need not be shown sooner. Where figures and their unit stand may follow from them."""
    figures: set[int] = set()
    others = {channel for channel, (limit, _) in within.items() if limit < CALM_MS}
    for operation in drawing.operations:
        if isinstance(operation, Figures):
            figures.add(operation.channel)
            others.add(operation.ink.tint)
            if operation.when is not None and operation.when.channel != operation.channel:
                others.add(operation.when.channel)
        elif isinstance(operation, Run):
            others.add(operation.ink.tint)
        else:
            others.update(channels_of(operation))
    return frozenset(figures - others)


def prompt_channels(within: Mapping[int, tuple[int, PieceFact]]) -> frozenset[int]:
    """The channels, by number, that must be sent as soon as they change."""
    return frozenset(channel for channel, (limit, _) in within.items() if limit <= PROMPT_MS)


def past_channels(drawing: ScreenDrawing) -> frozenset[int]:
    """The columns of charts, by channel number, but for one of each trace: time writes one at a time."""
    return frozenset(
        channel
        for operation in drawing.operations
        if isinstance(operation, Trace)
        for channel in row_of(operation)[1:]
    )


def screen_moves(
    drawing: ScreenDrawing, channels: Sequence[Channel], prompt: frozenset[int] = frozenset()
) -> Moves:
    """The steps by which the channels of a screen's list move; ``prompt`` by channel number."""
    past = past_channels(drawing)
    traced = {op.first for op in drawing.operations if isinstance(op, Trace)}
    return moves_of(
        channels,
        [at in past for at in drawing.channels],
        [at in traced for at in drawing.channels],
        frozenset(place for place, at in enumerate(drawing.channels) if at in prompt),
    )


def screen_budget(design: Design, arranged: Arranged, number: int) -> ScreenBudget:
    """The budget of one screen."""
    drawing, screen = arranged.drawing.screens[number], arranged.screens[number]
    channels = [arranged.channels[at] for at in drawing.channels]
    within = declared(screen, drawing)
    moves = screen_moves(drawing, channels, prompt_channels(within))
    line = line_of(design.panel.baud, design.panel.half_duplex)
    shown = [channels_of(operation) for operation in drawing.operations]
    # Most widgets have nothing that changes together.
    places = dict.fromkeys(_shown_together(screen, drawing, channels, shown))
    jumps = [moves.jump(each) for each in places]
    batch = line.batch(moves.moving)
    return ScreenBudget(
        screen.name,
        batch,
        line.load(moves.moving),
        max((moves.size(jump, line.room) for jump in jumps), default=0),
        moves.size(moves.ranges, line.room) / line.rate,
        _classes(drawing, channels, within, batch, line.delays(moves, jumps)),
        _contributors(screen, drawing, shown, moves.ranges),
    )


def _shown_together(
    screen: ArrangedScreen,
    drawing: ScreenDrawing,
    channels: Sequence[Channel],
    shown: Sequence[Sequence[int]],
) -> list[tuple[int, ...]]:
    """For each widget the positions that change together when it shows something else: words and flags,
    and what time writes into a chart; values on a scale move one by one. ``shown`` are the channels of each
    operation."""
    place = {at: position for position, at in enumerate(drawing.channels)}
    found: list[tuple[int, ...]] = [()]
    for piece in screen.pieces:
        own: set[int] = set()
        for index in range(piece.first, piece.last):
            operation = drawing.operations[index]
            if isinstance(operation, Trace):
                own.add(operation.first)
            else:
                own.update(at for at in shown[index] if scale_of(channels[place[at]]) is None)
        found.append(tuple(sorted(place[at] for at in own)))
    return found


def _classes(
    drawing: ScreenDrawing,
    channels: Sequence[Channel],
    within: Mapping[int, tuple[int, PieceFact]],
    batch: float,
    lines: Sequence[LineDelays],
) -> tuple[Delay, ...]:
    """The worst of each class, without a push and with one."""
    calm = calm_channels(drawing, within)
    prompt = prompt_channels(within)
    found: dict[str, Delay] = {}
    for place, (number, channel) in enumerate(zip(drawing.channels, channels, strict=True)):
        at_once = channel.urgency <= 1 or number in prompt
        sampling = 0.0 if at_once else calm_seconds(batch) if number in calm else batch
        alone, pushed = (
            None if line is None else 1000 * (sampling + line + channel.glide)
            for line in (
                each.rest if place >= URGENT else each.at_once if at_once else each.first for each in lines
            )
        )
        usual = TEXT_WITHIN if isinstance(channel.steps, Spelt) else USUALLY_WITHIN
        limit, piece = within.get(number, (SHOWN_WITHIN.get(channel.urgency, usual), None))
        name = (
            "what is danger"
            if channel.urgency == 0
            else "caution or the answer to a touch"
            if channel.urgency == 1
            else "a figure"
            if number in calm
            else "text"
            if isinstance(channel.steps, Spelt)
            else "what moves"
        )
        if piece is not None:
            name = _named(piece)
        delay = Delay(name, alone, float(limit), piece, pushed)
        if name not in found or _excess(delay) > _excess(found[name]):
            found[name] = delay
    return tuple(found.values())


def _excess(delay: Delay) -> tuple[float, float]:
    """By how much it is too late: what has no bound the most, then what has least time."""
    late = inf if delay.milliseconds is None else delay.milliseconds
    return late - delay.limit, -delay.limit


def _contributors(
    screen: ArrangedScreen, drawing: ScreenDrawing, shown: Sequence[Sequence[int]], changed: Sequence[int]
) -> tuple[tuple[str, int], ...]:
    """What of a screen makes its longest update long. A channel counts for the first that shows it."""
    bits = {
        number: 2 * value.bit_length() + 1 if value else 1
        for number, value in zip(drawing.channels, changed, strict=True)
    }
    shares: dict[str, int] = {}
    for piece in screen.pieces:
        own = {channel for index in range(piece.first, piece.last) for channel in shown[index]}
        share = sum(bits.pop(channel, 0) for channel in sorted(own))
        if share:
            shares[_named(piece)] = shares.get(_named(piece), 0) + share
    ordered = sorted(shares.items(), key=lambda pair: (-pair[1], pair[0]))
    return tuple((name, ceil(share / 8)) for name, share in ordered)


def _named(piece: PieceFact) -> str:
    widget = piece.widget
    subject = widget.word or (written(widget.subject) if widget.subject is not None else "")
    return f"{widget.kind} {subject}".strip()


def _listed(shares: Sequence[tuple[str, int]]) -> str:
    return ", ".join(f"{name} ({size} bytes)" for name, size in shares[:CONTRIBUTORS])


def _finding(
    code: str, message: str, span: Span, remedy: str, held: tuple[float | None, float, str]
) -> Finding:
    """``held``: what was measured, its limit and their unit."""
    return Finding(code, Severity.ERROR, message, span, remedy, *held, basis=PRACTICE)
