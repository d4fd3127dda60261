"""Contrast under real conditions, measured on the painted colours of every state."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from hmic.arrange.canvas import PieceFact
from hmic.arrange.compose import Arranged
from hmic.arrange.fitting import millimetres
from hmic.check.colour import Colour, contrast, shown
from hmic.check.edits import joined, setting, write
from hmic.check.light import PHRASES, Condition, Light, lights
from hmic.check.nearest import hexadecimal, remedy_for, roles_of_ink
from hmic.check.painted import Painted, Pair, is_area, is_symbol, is_text
from hmic.check.seen_through import blended
from hmic.diagnostics import Basis, Finding, Mend, Span, told_once
from hmic.language.spelling import written
from hmic.language.syntax import PhraseKind, WidgetKind
from hmic.model.design import Design, ThemeDefinition
from hmic.model.limits import Limits
from hmic.number_text import at_least, measured_and_limit, number
from hmic.paint.operations import NO_CHANNEL, Operation, Slide, ink_of

REFLECTANCE = "panel reflectance"
AREA = "area contrast"
"""The limit of wide places, which is the same in every light."""


@dataclass(frozen=True)
class Measure:
    """One ratio held against its limit. ``index`` is the operation's on its screen. ``ink`` is the colour of
    the palette; where no pixel has all of it, by ``strength`` 0..15, the eye sees less: ``seen``, on what the
    panel shows of ``under``, ``beneath``. ``role`` is one that has the ink, empty for a ramp's."""

    code: str
    screen: str
    piece: PieceFact | None
    index: int
    pair: Pair
    light: Light
    ink: Colour
    strength: int
    under: Colour
    ratio: float
    limit: str

    seen: Colour
    beneath: Colour
    role: str

    @property
    def web(self) -> float:
        """The second figure: the contrast of WCAG 2.2, which knows no panel and no daylight."""
        return contrast(blended(self.ink, self.under, self.strength), self.under)


def check(design: Design, arranged: Arranged, limits: Limits, screens: Sequence[Painted]) -> list[Finding]:
    """C420 text, C421 symbols, C422 filled places, C423 text on a hatch: for each widget and ink the
    worst of all conditions and states. Widgets that the same ink of a theme spoils share one finding, at the
    worst of them: one edit mends them."""
    spoilt: dict[_Cause, list[tuple[Measure, Span]]] = {}
    for painted in screens:
        worst: dict[tuple[object, ...], Measure] = {}
        for measure in measures(design, limits, painted):
            limit = limits[measure.limit].value
            if measure.ratio >= limit:
                continue
            key = (
                measure.code,
                measure.piece.first if measure.piece else -1,
                measure.light.theme,
                measure.role,
            )
            held = worst.get(key)
            if held is None or measure.ratio / limit < held.ratio / limits[held.limit].value:
                worst[key] = measure
        for measure in worst.values():
            cause = _cause(measure, painted)
            spoilt.setdefault(cause, []).append((measure, painted.screen.span))
    found = []
    for (_, _, drawn), alike in spoilt.items():
        alike.sort(key=lambda one: one[0].ratio / limits[one[0].limit].value)
        worst_of = alike[0][0]
        remedy, mend = _apart_from_drawing(worst_of, design, arranged, limits) if drawn else "", None
        if not remedy:
            ink = worst_of.light.theme, worst_of.ink
            remedy, mend = _remedy(worst_of, _stands(ink, design, screens), design, arranged, limits)
        told = told_once([_finding(measure, span, remedy, limits) for measure, span in alike])
        found.append(replace(told, mend=mend))
    return found


_Ink = tuple[str, Colour]
"""A colour of a theme."""
_Cause = tuple[str, object, tuple[str, int] | None]
"""A code, and the ink that is at fault or, where a drawing is, the sentence on it, by its screen."""


def _cause(measure: Measure, painted: Painted) -> _Cause:
    if measure.piece is not None and painted.stands_on_a_drawing(measure.index):
        return measure.code, None, (measure.screen, measure.piece.first)
    return measure.code, (measure.light.theme, measure.ink), None


def measures(design: Design, limits: Limits, painted: Painted) -> list[Measure]:
    """Every ratio on a screen that a limit holds: the worst of an operation's states for each theme
    and condition."""
    by_theme = lights(design, limits)
    known: set[tuple[object, ...]] = set()
    found: list[Measure] = []
    for index, operation in enumerate(painted.operations):
        code = _code(operation, index, painted)
        if code is None:
            continue
        piece = id(painted.pieces[index])
        key = (code, painted.pairs(index), painted.strength(index), type(operation), piece)
        if key in known:
            continue
        known.add(key)
        for place, theme in enumerate(design.themes):
            pairs = [pair for pair in painted.pairs(index) if not _unlit(painted, index, place, pair, theme)]
            roles = {colour: role for role, colour in theme.roles.items()}
            for light in by_theme[theme.name]:
                found.extend(_worst(painted, index, place, light, code, pairs=pairs, roles=roles))
    return found


def turns_at(measure: Measure, limits: Limits) -> float | None:
    """The reflectance in % at which a contrast is just its limit; None where none is, as at night, when there
    is no light to be sent back."""
    limit, light = limits[measure.limit].value, measure.light
    lux = limits[f"light {PHRASES[light.condition]}"].value
    if limit <= 1 or not lux:
        return None
    if abs(light.ratio(measure.seen, measure.beneath) - measure.ratio) > 1e-9:
        # Of two sides that it stands between the other counts.
        return None
    # ratio = (high + veil) / (low + veil), both by the panel alone; Lambert's law gives the veil.
    one, other = (light.luminance(colour) - light.veil for colour in (measure.seen, measure.beneath))
    veil = (max(one, other) - limit * min(one, other)) / (limit - 1)
    return veil * math.pi / lux * 100 if veil > 0 else None


def _worst(
    painted: Painted,
    index: int,
    theme: int,
    light: Light,
    code: str,
    *,
    pairs: Sequence[Pair],
    roles: Mapping[Colour, str],
) -> Iterator[Measure]:
    """The lowest ratio of each code and role; the colours of a ramp stand together."""
    entries = painted.drawing.themes[theme].colours
    lowest: dict[tuple[bool, str], tuple[float, Pair]] = {}
    for pair in pairs:
        if _limit(code, pair.hatched, light.condition) is not None:
            found = (_ratio(painted, index, theme, light, pair), pair)
            key = (pair.hatched, roles.get(entries[pair.ink], ""))
            lowest[key] = min(found, lowest.get(key, found))
    for (hatched, role), (ratio, pair) in sorted(lowest.items()):
        held = _limit(code, hatched, light.condition)
        assert held is not None
        yield Measure(
            held[0],
            painted.screen.name,
            painted.pieces[index],
            index,
            pair,
            light,
            entries[pair.ink],
            painted.strength(index),
            painted.beneath(pair, theme),
            ratio,
            held[1],
            *painted.colours(pair, index, theme),
            role,
        )


def _ratio(painted: Painted, index: int, theme: int, light: Light, pair: Pair) -> float:
    if not isinstance(painted.operations[index], Slide):
        return light.ratio(*painted.colours(pair, index, theme))
    # It stands between two sides; standing out from one of them is enough.
    return max(light.ratio(*painted.colours(other, index, theme)) for other in painted.pairs(index))


def _unlit(painted: Painted, index: int, place: int, pair: Pair, theme: ThemeDefinition) -> bool:
    """Whether it is a lamp or band that is not lit, in the role that is meant to stand back."""
    operation = painted.operations[index]
    if pair.doubt or not is_symbol(operation):
        return False
    own = ink_of(operation)
    tinted = own is not None and own.tint != NO_CHANNEL
    return tinted and painted.drawing.themes[place].colours[pair.ink] == theme.roles["line"]


def _code(operation: Operation, index: int, painted: Painted) -> str | None:
    if is_text(operation):
        return "C420"
    if is_area(operation):
        return "C422"
    if painted.ends_a_filling(index):
        return None
    # What others are painted on, or may be, is a bed, told from its surroundings by what stands on it.
    piece = painted.pieces[index]
    drawing = piece is not None and piece.widget.kind == WidgetKind.PICTURE
    bed = index in painted.beds or painted.is_behind(index) or drawing
    return "C421" if is_symbol(operation) and not bed else None


def _limit(code: str, hatched: bool, condition: Condition) -> tuple[str, str] | None:
    """(code, name of the limit) that holds for a pair under a condition."""
    if hatched:
        return ("C423", AREA) if code == "C420" else None
    name = _named(_LIMITS[code], condition)
    return None if name is None else (code, name)


_LIMITS = {"C420": "text contrast", "C421": "symbol contrast", "C422": AREA}
_WHAT: dict[str, str] = {
    "C420": "its text",
    "C421": "its symbol",
    "C422": "its filled part",
    "C423": "its text on the hatch of a value in doubt",
}


def _finding(measure: Measure, span: Span, remedy: str, limits: Limits) -> Finding:
    limit = limits[measure.limit]
    piece = measure.piece
    kind = piece.widget.kind if piece is not None else "pipe"
    state = " while its value is in doubt" if measure.pair.doubt else ""
    when = PHRASES[measure.light.condition]
    message = (
        f"on screen '{measure.screen}', theme '{measure.light.theme}' {when}, this {kind} keeps "
        f"{measured_and_limit(measure.ratio, limit.value)[0]}:1 for {_WHAT[measure.code]}{state} "
        f"(web formula {measure.web:.2g}:1)"
    )
    place = piece.widget.head if piece is not None else span
    found = limit.finding(measure.code, message, place, remedy, measure.ratio)
    guess, turn = limits[REFLECTANCE], turns_at(measure, limits)
    if guess.basis is Basis.DESIGN or turn is None:
        return found
    assumed = (
        f"the glass sends back {number(guess.value)} % ({guess.basis}); it holds above {at_least(turn, 3)} %"
    )
    return replace(found, assumed=assumed)


class Stand(NamedTuple):
    """Something that is painted in an ink: by which limits, on what, and how strongly."""

    kind: str
    under: Colour
    strength: int


def _stands(ink: _Ink, design: Design, screens: Sequence[Painted]) -> list[Stand]:
    """All that is painted in an ink, whatever it stands on, on all screens."""
    name, colour = ink
    place = next(number for number, theme in enumerate(design.themes) if theme.name == name)
    found: dict[Stand, None] = {}
    for painted in screens:
        entries = painted.drawing.themes[place].colours
        for index, operation in enumerate(painted.operations):
            code = _code(operation, index, painted)
            if code is None or isinstance(operation, Slide):
                continue
            for pair in painted.pairs(index):
                if entries[pair.ink] != colour or pair.hatched:
                    continue
                if not _unlit(painted, index, place, pair, design.themes[place]):
                    under = painted.beneath(pair, place)
                    found[Stand(_LIMITS[code], under, painted.strength(index))] = None
    return list(found)


def _apart_from_drawing(worst: Measure, design: Design, arranged: Arranged, limits: Limits) -> str:
    """What to do about something that a plain ground shows well, but not the drawing that it stands on: the
    colour is not at fault. Nothing where no ground does it either."""
    piece = worst.piece
    if piece is None:
        return ""
    box, panel = piece.symbol.box if piece.symbol is not None else piece.box, design.panel
    around = f"sized {millimetres(max(box.width, box.height) * 5 // 4, panel)}"
    figure = "disc"
    if piece.symbol is None:
        figure = "box, corner 2 mm"
        wide, high = box.width + 2 * box.height // 3, box.height * 5 // 4
        around = f"sized {millimetres(wide, panel, across=True)} by {millimetres(high, panel)}"
    at = piece.widget.one(PhraseKind.AT)
    place = f", at {written(at.values[0])} across {written(at.values[1])} down" if at is not None else ""
    for role in ("ground", "surface"):
        if all(
            _meets(drawn.colours[worst.pair.ink], theme, role, worst, design=design, limits=limits)
            for drawn, theme in zip(arranged.drawing.themes, design.themes, strict=True)
        ):
            between = f"shape {figure}, colour {role}, behind{place}, {around}"
            return f"change the drawing there, not the colour, or write right below its line `{between}`"
    return ""


def _meets(
    ink: Colour, theme: ThemeDefinition, role: str, worst: Measure, *, design: Design, limits: Limits
) -> bool:
    """Whether an ink meets its limits on a role of its theme in every light."""
    depth, under = design.panel.depth, theme.roles[role]
    seen = shown(blended(ink, under, worst.strength), depth), shown(under, depth)
    every = lights(design, limits)[theme.name]
    named = [(light, _named(_LIMITS[worst.code], light.condition)) for light in every]
    return all(light.ratio(*seen) >= limits[name].value for light, name in named if name is not None)


def _remedy(
    worst: Measure, every_stand: Sequence[Stand], design: Design, arranged: Arranged, limits: Limits
) -> tuple[str, Mend | None]:
    """Another colour for the ink: one for all that is painted in it or, where there is none, for the
    worst."""
    if worst.code == "C423":
        return (
            "keep the text out of the doubt: colour it by no value, or put it beside the coloured place",
            None,
        )
    theme = next(theme for theme in design.themes if theme.name == worst.light.theme)
    every = lights(design, limits)[theme.name]
    roles = roles_of_ink(design, arranged.drawing, worst.pair.ink, worst.pair.under)

    depth = arranged.drawing.depth

    def meets(ink: Colour, stand: Stand) -> bool:
        seen, beneath = shown(blended(ink, stand.under, stand.strength), depth), shown(stand.under, depth)
        return all(
            light.ratio(seen, beneath) >= limits[name].value
            for light in every
            for name in [_named(stand.kind, light.condition)]
            if name is not None
        )

    own = Stand(_LIMITS[worst.code], worst.under, worst.strength)
    for wanted in ([own, *every_stand], [own]):

        def meets_all(ink: Colour, wanted: Sequence[Stand] = wanted) -> bool:
            return all(meets(ink, each) for each in wanted)

        found = remedy_for(theme, roles, worst.ink, meets_all)
        if found is not None:
            code, file = f'"{hexadecimal(found.colour)}"', theme.span.file
            # One colour of a ramp is not changed without its neighbours.
            whole = roles and joined([setting(design, file, path, code) for path in found.paths])
            return found.says, whole or None
    if not roles and worst.piece is not None and worst.piece.widget.one(PhraseKind.COLOUR) is not None:
        mend = write(worst.piece.widget.all(PhraseKind.COLOUR)[0].span, "colour ink")
        return f"{mend.says}, or another that is no ground", mend
    return (
        f"no colour does it on this; change what lies beneath, or raise the luminance of '{theme.name}'",
        None,
    )


def _named(kind: str, condition: Condition) -> str | None:
    if kind == AREA:
        # A wide place is made out at less than a letter; in full sun only what is written must be.
        return None if condition == Condition.SUN else kind
    return f"{kind} {PHRASES[condition]}"
