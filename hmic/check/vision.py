"""Colours for every eye: states, and ramps."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged
from hmic.check.colour import BRETTEL, FULL, VISIONS, Colour, difference_seen, lab, least_difference, shown
from hmic.check.edits import setting
from hmic.check.light import PHRASES, Condition, Light, lights
from hmic.check.nearest import hexadecimal, roles_of
from hmic.check.painted import Painted
from hmic.check.ramps import red_to_green, substitute
from hmic.check.state_names import state_words
from hmic.diagnostics import Finding, Mend, Severity, mended_by, told_once
from hmic.language.syntax import Phrase, PhraseKind
from hmic.model.channels import Channel, Listed, Scaled, signals_of
from hmic.model.design import Design, Ramp, ThemeDefinition
from hmic.model.limits import Limits
from hmic.model.values import ValueKind
from hmic.paint.operations import NO_CHANNEL, ink_of, leading_channel

_under = lru_cache(maxsize=4096)(Light.seen)

# More colours than this are a ramp, which C431 and C432 look at.
MOST_STATES = 8


def check(design: Design, arranged: Arranged, limits: Limits, screens: Sequence[Painted]) -> list[Finding]:
    """C430: two states that only a colour tells apart, for an eye that does not see it (Machado, Oliveira,
    Fernandes 2009, severity 1; a note where only Brettel, Vienot, Mollon 1997 say so of tritan eyes), with
    the veil of each light upon it that a theme is for; all that the same two colours spoil is one finding.
    C431: a ramp that does not rise, or fall to its middle and rise again, evenly in lightness. C432: a ramp
    whose ends look alike to some eyes."""
    by_theme = lights(design, limits)
    alike: list[tuple[Found, PieceFact]] = []
    for screen, painted in enumerate(screens):
        for piece in arranged.screens[screen].pieces:
            found = _states(piece, painted, arranged.channels, by_theme, limits)
            if found is not None and found.share < 1:
                alike.append((found, piece))
    findings = [
        told_once([_states_finding(found, piece, design, arranged, limits) for found, piece in spoiled])
        for spoiled in _by_cause(alike)
    ]
    used = {phrase.words[0] for screen in arranged.screens for phrase in _ramps(screen.pieces)}
    for theme in design.themes:
        for name, ramp in theme.ramps.items():
            if name in used:
                at = ("themes", theme.name, "ramps", name)
                ready = ", ".join(f'"{stop}"' for stop in substitute(ramp.stops))
                mend = setting(design, ramp.span.file, at, f"[{ready}]")
                findings.extend(_mended(it, mend) for it in _ramp(ramp, theme.name, limits))
    return findings


def _mended(found: Finding, mend: Mend | None) -> Finding:
    more = ", which keeps its meaning" if found.code == "C432" else ""
    return mended_by(found, mend, more or ", or stops whose lightness rises by equal steps")


class Found(NamedTuple):
    """The two states of a channel that a vision tells apart least, in a light, by so much CIEDE2000, which is
    such a share of its limit; with every two colours that tell them."""

    share: float
    amount: float
    condition: Condition
    vision: str
    theme: str
    channel: int
    states: tuple[int, int]
    colours: tuple[tuple[Colour, Colour], ...]

    @property
    def rank(self) -> tuple[bool, Found]:
        """What both models say first."""
        return self.vision == BRETTEL, self


def _by_cause(alike: list[tuple[Found, PieceFact]]) -> list[list[tuple[Found, PieceFact]]]:
    """Put together by what one edit mends: where two colours are told further apart, what they tell
    together with others is told apart too."""
    causes: list[list[tuple[Found, PieceFact]]] = []
    for found, piece in sorted(alike, key=lambda one: len(one[0].colours)):
        for cause in causes:
            first = cause[0][0]
            if first.theme == found.theme and set(first.colours) <= set(found.colours):
                cause.append((found, piece))
                break
        else:
            causes.append([(found, piece)])
    return causes


def _ramps(pieces: Sequence[PieceFact]) -> list[Phrase]:
    return [phrase for piece in pieces for phrase in piece.widget.all(PhraseKind.RAMP)]


def _states(
    piece: PieceFact,
    painted: Painted,
    channels: Sequence[Channel],
    by_theme: Mapping[str, Sequence[Light]],
    limits: Limits,
) -> Found | None:
    """Of the states that colour alone tells apart those that are told apart least."""
    groups: dict[int, list[int]] = {}
    for index in range(piece.first, piece.last):
        ink = ink_of(painted.operations[index])
        if ink is not None and ink.tint != NO_CHANNEL:
            groups.setdefault(ink.tint, []).append(index)
    worst: Found | None = None
    for channel, members in groups.items():
        count = painted.drawing.channels[channel]
        if isinstance(channels[channel].steps, Scaled) or count > MOST_STATES:
            continue
        if _second_cue(piece, painted, channel, channels):
            continue
        possible = _possible(channels[channel], count)
        for theme, light in _each_light(painted, by_theme):
            found = _nearest_states(painted, channel, possible, theme, members, light=light, limits=limits)
            if found is not None and (worst is None or found.rank < worst.rank):
                worst = found
    return worst


def _each_light(painted: Painted, by_theme: Mapping[str, Sequence[Light]]) -> Iterator[tuple[int, Light]]:
    for number, theme in enumerate(painted.drawing.themes):
        for light in by_theme[theme.name]:
            yield number, light


def _named(condition: Condition) -> str:
    """The limit of a light: in full sun only what is far apart is told apart at all."""
    return "colour distance in sun" if condition == Condition.SUN else "colour distance"


def _possible(channel: Channel, count: int) -> Sequence[int]:
    """The live steps that a channel can come to."""
    value = channel.value
    if isinstance(channel.steps, Listed) and value is not None and value.kind == ValueKind.WORD:
        return [step for step, word in enumerate(channel.steps.values) if word in value.words]
    return range(count)


def _nearest_states(
    painted: Painted,
    channel: int,
    possible: Sequence[int],
    theme: int,
    members: list[int],
    *,
    light: Light,
    limits: Limits,
) -> Found | None:
    themes = painted.drawing.themes
    firsts = [ink.first for index in members if (ink := ink_of(painted.operations[index])) is not None]
    worst: Found | None = None
    for one, other in itertools.combinations(possible, 2):
        # Where two entries are alike in every theme they are of one role: there is nothing to tell.
        entries = {
            (first + one, first + other)
            for first in firsts
            if any(each.colours[first + one] != each.colours[first + other] for each in themes)
        }
        if not entries:
            continue
        colours = themes[theme].colours
        told = tuple(sorted({(colours[a], colours[b]) for a, b in entries}))
        depth = painted.drawing.depth
        seen = [(_under(light, shown(a, depth)), _under(light, shown(b, depth))) for a, b in told]
        amounts = {vision: max(difference_seen(a, b, vision) for a, b in seen) for vision in (FULL, *VISIONS)}
        vision = min(amounts, key=amounts.__getitem__)
        limit = limits[_named(light.condition)].value
        share = amounts[vision] / limit if limit else math.inf
        found = Found(
            share, amounts[vision], light.condition, vision, themes[theme].name, channel, (one, other), told
        )
        if worst is None or found.rank < worst.rank:
            worst = found
    return worst


def _second_cue(piece: PieceFact, painted: Painted, channel: int, channels: Sequence[Channel]) -> bool:
    """Whether something else than colour changes with the channel: a shape, a place, a text."""
    signals = signals_of(channels[channel])
    for operation in painted.operations[piece.first : piece.last]:
        when, leading = operation.when, leading_channel(operation)
        if when is not None and when.channel == channel:
            return True
        if leading is not None and signals & signals_of(channels[leading]):
            return True
    return False


def _states_finding(
    found: Found, piece: PieceFact, design: Design, arranged: Arranged, limits: Limits
) -> Finding:
    theme = next(theme for theme in design.themes if theme.name == found.theme)
    eye = "any eye" if found.vision == FULL else f"an eye with {found.vision} vision"
    one, other = (state_words(piece, arranged.channels[found.channel], state) for state in found.states)
    pairs = [_pair_words(theme, *pair) for pair in found.colours]
    when = PHRASES[found.condition]
    message = (
        f"in theme '{theme.name}' {when} only colour tells {one} from {other}, and not to {eye}: "
        + "; ".join(pairs)
    )
    remedy = (
        f"choose {', or '.join(pairs)} further apart in lightness, or give one state a flashing, a text or "
        "another pictogram"
    )
    limit = limits[_named(found.condition)]
    severity = Severity.NOTE if found.vision == BRETTEL else Severity.WARNING
    return limit.finding("C430", message, piece.widget.head, remedy, found.amount, severity=severity)


def _pair_words(theme: ThemeDefinition, one: Colour, other: Colour) -> str:
    """Two colours; of two roles that have the same one both."""
    if one == other and len(roles := roles_of(theme, one)) > 1:
        return f"`{roles[0]}` and `{roles[1]}`"
    return f"{_colour_words(theme, one)} and {_colour_words(theme, other)}"


def _colour_words(theme: ThemeDefinition, colour: Colour) -> str:
    """A colour as a builder knows it: by its role, or written out."""
    roles = roles_of(theme, colour)
    return f"`{roles[0]}`" if roles else hexadecimal(colour)


def _ramp(ramp: Ramp, theme: str, limits: Limits) -> list[Finding]:
    ends, distance = least_difference(ramp.stops[0], ramp.stops[-1])[0], limits["colour distance"]
    ready = ", ".join(f'"{stop}"' for stop in substitute(ramp.stops))
    if ends < distance.value or red_to_green(ramp.stops):
        message = f"the ends of ramp '{ramp.name}' in theme '{theme}' look alike to some eyes"
        if ends >= distance.value:
            message = f"ramp '{ramp.name}' in theme '{theme}' goes from red to green, which many eyes confuse"
        remedy = f"write `{ramp.name}: [{ready}]`, which keeps its meaning"
        return [distance.finding("C432", message, ramp.span, remedy, ends)]
    even, limit = evenness(ramp.stops), limits["ramp evenness"]
    if even >= limit.value:
        return []
    message = f"ramp '{ramp.name}' in theme '{theme}' does not rise evenly in lightness"
    remedy = f"write `{ramp.name}: [{ready}]`, or stops whose lightness rises by equal steps"
    return [limit.finding("C431", message, ramp.span, remedy, even, severity=Severity.NOTE)]


def evenness(stops: Sequence[Colour]) -> float:
    """The least rise of CIELAB lightness from stop to stop as a part of the mean rise, below 0 when
    it falls somewhere. A ramp that falls is taken backwards, one with an odd number of stops may
    turn at its middle: then the less even of its halves counts."""
    lightness = [lab(stop)[0] for stop in stops]
    whole = _evenness(lightness)
    half = len(lightness) // 2
    if len(lightness) >= 5 and len(lightness) % 2:
        return max(whole, min(_evenness(lightness[: half + 1]), _evenness(lightness[half:])))
    return whole


def _evenness(lightness: list[float]) -> float:
    rises = [after - before for before, after in itertools.pairwise(lightness)]
    mean = sum(rises) / len(rises)
    # Two per cent of the scale is no rise at all.
    if abs(mean) * len(rises) < 2:
        return 0.0
    return min(rise / mean for rise in rises)
