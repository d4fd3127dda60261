"""How bright a screen is at night: the brightest place, and the whole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from hmic.arrange.compose import Arranged
from hmic.check.colour import linear
from hmic.check.light import Condition, Light, light, lights
from hmic.check.lit import lit
from hmic.check.painted import Painted
from hmic.check.shown_themes import at_night, while_silent
from hmic.diagnostics import Finding, Span
from hmic.model.channels import LIVE
from hmic.model.design import Design
from hmic.model.limits import Limit, Limits
from hmic.number_text import MEASURED, at_most, measured_and_limit
from hmic.paint.operations import GROUND, Moment, Operation, ink_of

_WEIGHTS = (0.2126, 0.7152, 0.0722)


def check(design: Design, arranged: Arranged, limits: Limits, screens: Sequence[Painted]) -> list[Finding]:
    """C424: the brightest colour of a screen. C425: its mean over all pixels, the higher of every
    channel at its first and at its last step. Both in cd/m2, in the themes that are for the night,
    without the veil, which is not the screen's. C429: the same of the theme that is shown at night only
    while a sensor is silent; the first that is beyond its limit."""
    by_theme = lights(design, limits)
    findings: list[Finding] = []
    for number, theme in enumerate(design.themes):
        night = next((light for light in by_theme[theme.name] if light.condition == Condition.NIGHT), None)
        if night is not None:
            findings.extend(_dazzles(arranged, limits, screens, number, night, span=theme.span))
    if while_silent(design) is not None and not {0} & at_night(design):
        findings.extend(_first(design, arranged, limits, screens))
    return findings


def _dazzles(
    arranged: Arranged, limits: Limits, screens: Sequence[Painted], number: int, night: Light, *, span: Span
) -> Iterator[Finding]:
    """C424 and C425 of a theme, each measured when it is asked for."""
    names = [screen.name for screen in arranged.screens]
    known: dict[tuple[int, range], float] = {}
    brightest = [
        [_brightest(painted, operation, number, night, known) for operation in painted.operations]
        for painted in screens
    ]
    ground = night.luminance(arranged.drawing.themes[number].colours[GROUND]) - night.veil
    peaks = [max([ground, *each]) for each in brightest]
    yield from _held(
        "C424", "its brightest place", max(zip(peaks, names, strict=True)), span, limits["night peak"]
    )
    # Painting takes time; most screens are far below even if all were lit that can be.
    most = limits["night mean"]
    means = [
        (mean_luminance(arranged, screen, number, night), names[screen])
        for screen, painted in enumerate(screens)
        if _most(painted, brightest[screen], ground) > most.value
    ]
    yield from _held("C425", "the whole of it", max(means, default=(0.0, "")), span, most)


def _first(
    design: Design, arranged: Arranged, limits: Limits, screens: Sequence[Painted]
) -> Iterator[Finding]:
    first = design.themes[0]
    night = light(first, Condition.NIGHT, limits)
    found = next(_dazzles(arranged, limits, screens, 0, night, span=first.span), None)
    if found is None:
        return
    fit = [number for number in sorted(at_night(design)) if _fit(design, arranged, limits, screens, number)]
    dim = f"theme '{design.themes[fit[0]].name}'" if fit else "a theme that is made for the night"
    message = (
        f"while '{while_silent(design)}' is silent, for a moment at the start or for ever, theme "
        f"'{first.name}' is shown, the first: {found.message}"
    )
    yield replace(found, code="C429", message=message, remedy=f"put {dim} first in themes.yaml")


def _fit(design: Design, arranged: Arranged, limits: Limits, screens: Sequence[Painted], number: int) -> bool:
    theme = design.themes[number]
    night = light(theme, Condition.NIGHT, limits)
    dazzled = _dazzles(arranged, limits, screens, number, night, span=theme.span)
    return next(dazzled, None) is None


def _brightest(
    painted: Painted, operation: Operation, theme: int, night: Light, known: dict[tuple[int, range], float]
) -> float:
    """The brightest colour of an operation in cd/m2, of a picture white. ``known``: that of steps from an
    entry of the palette."""
    ink = ink_of(operation)
    if ink is None:
        return night.white
    steps = painted.steps(operation)
    if (ink.first, steps) not in known:
        entries = painted.drawing.themes[theme].colours
        lit = (night.luminance(entries[ink.first + step]) for step in steps)
        known[ink.first, steps] = max(lit, default=0.0) - night.veil
    return known[ink.first, steps]


def _most(painted: Painted, brightest: list[float], ground: float) -> float:
    """An upper bound of the mean. A soft edge is blended in sRGB codes, whose luminance is convex: it is
    no brighter than its part of the ink."""
    drawing, operations = painted.drawing, painted.operations
    light = sum(lit(drawing, operations, index) * each for index, each in enumerate(brightest))
    return ground + light / (drawing.width * drawing.height)


def mean_luminance(arranged: Arranged, screen: int, theme: int, night: Light) -> float:
    from hmic.paint.painter import Painter

    painter = Painter(arranged.drawing)
    highest = 0.0
    for top in (False, True):
        raw = tuple(LIVE + (count - 1 if top else 0) for count in arranged.drawing.channels)
        counts = painter.paint(Moment(screen, theme, raw)).histogram()
        total = sum(counts[:256])
        light = sum(
            weight * sum(_LINEAR[code] * counts[256 * part + code] for code in range(256))
            for part, weight in enumerate(_WEIGHTS)
        )
        highest = max(highest, light / total)
    return night.black + (night.white - night.black) * highest


def _held(code: str, what: str, worst: tuple[float, str], span: Span, limit: Limit) -> list[Finding]:
    measured, screen = worst
    if measured <= limit.value:
        return []
    shown, _ = measured_and_limit(measured, limit.value)
    message = f"at night screen '{screen}' is {shown} cd/m2 for {what}, which dazzles"
    share = at_most(100 * limit.value / measured, MEASURED)
    remedy = f"lower this theme's brightness and luminance to {share} % of what they are"
    return [limit.finding(code, message, span, remedy, measured)]


_LINEAR = tuple(linear(code) for code in range(256))
