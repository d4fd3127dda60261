"""A value in doubt must not look like a live one: compared in painted colours."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged
from hmic.check.colour import Colour, difference
from hmic.check.nearest import hexadecimal
from hmic.check.painted import Painted, Pair
from hmic.diagnostics import Finding, Severity, told_once
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.paint.operations import DOUBT, LIVE, NO_CHANNEL, InDoubt, Operation, ink_of, leading_channel

Key = tuple[type, frozenset[Pair], int]

_between = lru_cache(maxsize=4096)(difference)


def check(design: Design, arranged: Arranged, limits: Limits, screens: Sequence[Painted]) -> list[Finding]:
    """C455: a widget whose look in doubt is that of a live value, or which shows no doubt at all.

    A filled place in doubt is a hatch of the doubt ink on what lies beneath. It differs from a live
    look when the ink or what lies beneath differs from the live ink; a bar or level also when the
    hatch can be told from an empty one. Text in doubt is in the doubt ink; figures and words that
    come over the line turn into marks, another shape.
    """
    findings: list[Finding] = []
    causes: dict[tuple[str, Colour], list[Finding]] = {}
    known: dict[Key, float] = {}
    for painted in screens:
        worst: dict[int, tuple[float, str, Colour]] = {}
        for index in range(len(painted.operations)):
            piece = painted.pieces[index]
            if piece is None:
                continue
            for theme in range(len(design.themes)):
                found = _least(painted, index, theme, known)
                if found is not None and found < worst.get(piece.first, (found[0] + 1, "", found[2])):
                    worst[piece.first] = found
        name = painted.screen.name
        for piece in painted.screen.pieces:
            if _silent(painted, piece):
                message = (
                    f"on screen '{name}' this {piece.widget.kind} looks the same while its value is in doubt"
                )
                remedy = "show the value as a reading or words beside it, which tell of doubt"
                findings.append(Finding("C455", Severity.ERROR, message, piece.widget.head, remedy))
                continue
            measured, theme_name, stale = worst.get(piece.first, (1000.0, "", (0, 0, 0)))
            limit = limits["doubt distance"]
            if measured < limit.value:
                message = (
                    f"on screen '{name}', theme '{theme_name}', this {piece.widget.kind} in doubt looks "
                    "like a live one"
                )
                remedy = (
                    f'choose another colour for `stale` than "{hexadecimal(stale)}" in theme {theme_name}'
                )
                alike = causes.setdefault((theme_name, stale), [])
                alike.append(
                    limit.finding(
                        "C455", message, piece.widget.head, remedy, measured, severity=Severity.ERROR
                    )
                )
    return findings + [told_once(alike) for alike in causes.values()]


def _least(
    painted: Painted, index: int, theme: int, known: dict[Key, float]
) -> tuple[float, str, Colour] | None:
    """(CIEDE2000, theme, doubt ink) of the live look nearest to the look in doubt."""
    operation = painted.operations[index]
    ink = ink_of(operation)
    feeds = {leading_channel(operation), ink.tint if ink is not None else None} - {None, NO_CHANNEL}
    if not any(channel is not None and painted.tells(channel) for channel in feeds):
        return None
    if operation.in_doubt not in (InDoubt.HATCH, InDoubt.INK):
        return None
    entries = painted.drawing.themes[theme].colours
    stale = entries[DOUBT]
    key = (type(operation), painted.pairs(index), theme)
    if key not in known:
        known[key] = min(
            (
                _distance(operation, entries[pair.ink], painted.beneath(pair, theme), stale)
                for pair in painted.pairs(index)
                if not pair.doubt and not pair.hatched
            ),
            default=1000.0,
        )
    least = known[key]
    return least, painted.drawing.themes[theme].name, stale


def _distance(operation: Operation, live: Colour, under: Colour, stale: Colour) -> float:
    if operation.in_doubt is InDoubt.INK:
        return _between(live, stale)
    hatched = max(_between(live, stale), _between(live, under))
    return min(hatched, _between(stale, under)) if operation.moves else hatched


def _silent(painted: Painted, piece: PieceFact) -> bool:
    """Whether some channel of the vehicle changes this widget but its doubt does not."""
    told: set[int] = set()
    used: set[int] = set()
    in_doubt: dict[int, set[int]] = {}
    for operation in painted.operations[piece.first : piece.last]:
        leading, ink, when = leading_channel(operation), ink_of(operation), operation.when
        feeds = {leading} - {None} | ({ink.tint} - {NO_CHANNEL} if ink is not None else set())
        numbers = {channel for channel in feeds if channel is not None and painted.tells(channel)}
        used |= numbers
        # A pointer, slide or flow vanishes, and no live step leaves it out.
        told |= numbers
        if when is not None and painted.tells(when.channel):
            used.add(when.channel)
            in_doubt.setdefault(when.channel, set()).update(
                raw for raw in range(LIVE) if when.low <= raw <= when.high < LIVE
            )
    told |= {channel for channel, raws in in_doubt.items() if len(raws) == LIVE}
    # Two channels of one widget often follow the same signal; one that tells is enough.
    return bool(used) and not told
