"""How bright a screen is at night: the brightest place, and the whole."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.arrange.compose import Arranged
from hmic.check.colour import linear
from hmic.check.light import Light, lights
from hmic.check.limits import Limit, Limits
from hmic.check.lit import lit
from hmic.check.painted import Painted
from hmic.diagnostics import Finding, Severity, Span
from hmic.model.channels import LIVE
from hmic.model.design import Design
from hmic.number_text import MEASURED, at_most, measured_and_limit
from hmic.paint.operations import Moment, Operation, ink_of

_WEIGHTS = (0.2126, 0.7152, 0.0722)


def check(design: Design, arranged: Arranged, limits: Limits, screens: Sequence[Painted]) -> list[Finding]:
    """C424: the brightest colour of a screen. C425: its mean over all pixels, the higher of every
    channel at its first and at its last step. Both in cd/m2, in the themes that are for the night,
    without the veil, which is not the screen's."""
    by_theme = lights(design, limits)
    findings: list[Finding] = []
    for number, theme in enumerate(design.themes):
        night = next((light for light in by_theme[theme.name] if light.condition == "night"), None)
        if night is None:
            continue
        peaks, means = [], [(0.0, "")]
        for screen, painted in enumerate(screens):
            name = arranged.screens[screen].name
            brightest = [_brightest(painted, operation, number, night) for operation in painted.operations]
            ground = night.luminance(painted.drawing.themes[number].colours[0]) - night.veil
            peaks.append((max([ground, *brightest]), name))
            # Painting takes time; most screens are far below even if all were lit that can be.
            if _most(painted, brightest, ground) > limits["night mean"].value:
                means.append((_mean(arranged, screen, number, night), name))
        findings.extend(_held("C424", "its brightest place", max(peaks), theme.span, limits["night peak"]))
        findings.extend(_held("C425", "the whole of it", max(means), theme.span, limits["night mean"]))
    return findings


def _brightest(painted: Painted, operation: Operation, theme: int, night: Light) -> float:
    """The brightest colour of an operation in cd/m2, of a picture white."""
    ink = ink_of(operation)
    if ink is None:
        return night.white
    entries = painted.drawing.themes[theme].colours
    steps = painted.steps(operation)
    return max((night.luminance(entries[ink.first + step]) for step in steps), default=0.0) - night.veil


def _most(painted: Painted, brightest: list[float], ground: float) -> float:
    """An upper bound of the mean. A soft edge is blended in sRGB codes, whose luminance is convex: it is
    no brighter than its part of the ink."""
    drawing, operations = painted.drawing, painted.operations
    light = sum(lit(drawing, operations, index) * each for index, each in enumerate(brightest))
    return ground + light / (drawing.width * drawing.height)


def _mean(arranged: Arranged, screen: int, theme: int, night: Light) -> float:
    from hmic.paint.frame import Painter

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
    return [
        Finding(
            code,
            Severity.WARNING,
            message,
            span,
            remedy,
            measured,
            limit.value,
            limit.unit,
            limit.source,
        )
    ]


_LINEAR = tuple(linear(code) for code in range(256))
