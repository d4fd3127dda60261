"""The report of the checks: one HTML file to keep with the vehicle's papers, without outside requests.

Every screen with its findings, what was measured, the limits with their sources, and cautions. It
tells what was measured; it claims no compliance with anything.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from hmic.arrange.compose import ArrangedScreen
from hmic.check.contrast import measures
from hmic.check.finding_places import places
from hmic.check.glare import AGE, ANGLE, Veil, night_veil
from hmic.check.light import PHRASES, Condition, lights
from hmic.check.painted import Painted
from hmic.check.text_amount import letters
from hmic.check.text_height import angle
from hmic.check.touch_targets import narrowest
from hmic.check.touches import acts_on_the_road
from hmic.check.ways import touches_away
from hmic.compile.compiling import Compiled
from hmic.diagnostics import Basis, Finding, by_what, counted, held_against, sorted_findings
from hmic.foreign_text import in_html as escape
from hmic.model.channels import raw_value
from hmic.model.limits import Limits
from hmic.model.samples import lookup, sample_values
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from hmic.show.marking import marked

if TYPE_CHECKING:
    from PIL.Image import Image

CAUTIONS = (
    "This is a list of measurements on a description of the screens. It is no proof of compliance with "
    "any standard, regulation or guideline, and no approval.",
    "Light, reflectance, black level and eye distance are figures of a model. Measure the panel in the "
    "vehicle, at night and in the sun, with the eyes of those who drive it.",
    f"Beside each figure stands what it is worth. Those marked '{Basis.MEMORY}' were recalled by the authors "
    f"of the tool and not checked against the document, those '{Basis.QUOTED}' were read where somebody "
    f"quotes it; those marked '{Basis.PRACTICE}' are customs, and '{Basis.CHOICE}' the authors'.",
    "Colour vision is simulated (Machado, Oliveira, Fernandes 2009, severity 1; tritan also by Brettel, "
    "Vienot, Mollon 1997), with the veil of each light on the glass, and with colours cut off at "
    "the edge of what a panel shows; people differ.",
    "Mirror images in the glass, ageing, temperature and the angle of sight are not in the model.",
)

_STYLE = """
body{font:15px/1.5 system-ui,sans-serif;max-width:76rem;margin:2rem auto;padding:0 1rem;color:#1c2226}
h1,h2,h3{line-height:1.2}h2{margin-top:3rem;border-top:2px solid #cbd2d6;padding-top:1rem}
img{max-width:100%;height:auto;display:block;margin:.5rem 0}
figure{margin:0;flex:1 1 30rem}figcaption{color:#4c565c}
.pictures{display:flex;flex-wrap:wrap;gap:1rem}
table{border-collapse:collapse;margin:1rem 0;width:100%}
th,td{text-align:left;padding:.25rem .6rem;border-bottom:1px solid #dde2e5;vertical-align:top}
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
.error{color:#a3160a;font-weight:600}.warning{color:#7a4b00;font-weight:600}.note{color:#35566e}
code{background:#eef1f3;padding:0 .25em}
li{margin:.5rem 0}.source{color:#4c565c;font-size:.9em}
@media print{h2{break-before:page}body{margin:0}}
"""


def page(compiled: Compiled) -> str:
    """The whole page. The same design gives the same bytes."""
    name = escape(compiled.design.name)
    return (
        "<!doctype html>\n<html lang='en'><meta charset='utf-8'>\n"
        f"<title>Checks of {name}</title><style>{_STYLE}</style>\n"
        f"<h1>Checks of {name}</h1>\n{contents(compiled)}\n</html>\n"
    )


def contents(compiled: Compiled, *, pictures: bool = True) -> str:
    """What stands below its head, with ``pictures`` of the screens or without."""
    design = compiled.design
    limits = Limits(design)
    findings = sorted_findings(compiled.findings)
    parts = [
        f"<p>{counted(findings) or 'Nothing found by these rules'}, in {len(compiled.arranged.screens)} "
        f"screens and {len(design.themes)} themes, over every state of every value shown.</p>",
        "<h2>Read this first</h2><ul>",
        *(f"<li>{escape(caution)}</li>" for caution in CAUTIONS),
        "</ul>",
        _panel(compiled, limits),
        _elsewhere(compiled, findings),
    ]
    for number, screen in enumerate(compiled.arranged.screens):
        figures = _figures(compiled, number, screen, findings) if pictures else ""
        parts.append(f"<h2>Screen {escape(screen.name)}</h2>{figures}")
        parts += [_found(screen, findings), _measured(compiled, number, screen, limits)]
    parts.append(_left(compiled))
    parts.append(_limits(limits))
    return "\n".join(part for part in parts if part)


def _panel(compiled: Compiled, limits: Limits) -> str:
    panel, design = compiled.design.panel, compiled.design
    rows: list[Sequence[object]] = [
        ("Panel", f"{panel.width} x {panel.height} pixels on {panel.width_mm:g} x {panel.height_mm:g} mm"),
        ("Eye distance", f"{panel.eye_distance:g} mm; one pixel is {panel.arcmin_from_pixels(1):.2f} arcmin"),
        ("Diffuse reflectance", _value(limits, "panel reflectance")),
        ("Contrast in the dark", _value(limits, "panel contrast")),
    ]
    for theme in design.themes:
        seen = lights(design, limits)[theme.name]
        told = ", ".join(f"{PHRASES[light.condition]} (veil {light.veil:.3g} cd/m2)" for light in seen)
        rows.append((f"Theme {theme.name}", f"white {theme.luminance:g} cd/m2, held against: {told}"))
    veil = night_veil(design, compiled.arranged, limits)
    if veil is not None:
        rows.append(("Veil on the road at night", _glare(veil, limits)))
    return "<h2>The panel</h2>" + _table(("", ""), rows)


def _glare(veil: Veil, limits: Limits) -> str:
    return (
        f"{veil.amount:.2g} cd/m2 from screen {veil.screen} in theme {veil.theme}, {limits[ANGLE].value:g} "
        f"degrees from the road, for a driver of {limits[AGE].value:g} years (CIE 146, age-adjusted "
        "Stiles-Holladay, by Vos 2003); no limit for displays is known"
    )


def _left(compiled: Compiled) -> str:
    rows = [(each.question, ", ".join(each.where)) for each in compiled.unjudged]
    return "<h2>Not looked at: look yourself</h2>" + _table(("question", "where"), rows) if rows else ""


def _value(limits: Limits, name: str) -> str:
    limit = limits[name]
    return f"{limit.value:g} {limit.unit} ({limit.source}; {limit.basis})"


def _elsewhere(compiled: Compiled, findings: Sequence[Finding]) -> str:
    """Findings that no frame on a screen shows."""
    shown = {number for screen in compiled.arranged.screens for number, _ in places(findings, screen)}
    rest = [(number, finding) for number, finding in enumerate(findings, 1) if number not in shown]
    return "<h2>Findings off the screens</h2>" + _list(rest) if rest else ""


def _figures(compiled: Compiled, number: int, screen: ArrangedScreen, findings: Sequence[Finding]) -> str:
    design, arranged = compiled.design, compiled.arranged
    painter = Painter(arranged.drawing)
    find = lookup(design, sample_values(design))
    raw = tuple(raw_value(channel, find) for channel in arranged.channels)
    framed = places(findings, screen)
    figures = []
    for theme, definition in enumerate(design.themes):
        picture = marked(painter.paint(Moment(number, theme, raw)), framed, design.fonts["text"])
        caption = f"{screen.name}, {definition.name}, with sample values"
        figures.append(
            f"<figure><img alt='{escape(caption)}' src='data:image/png;base64,{_png(picture)}'>"
            f"<figcaption>{escape(caption)}</figcaption></figure>"
        )
    return f"<div class='pictures'>{''.join(figures)}</div>"


def _found(screen: ArrangedScreen, findings: Sequence[Finding]) -> str:
    here = sorted({place for place, _ in places(findings, screen)})
    return _list([(place, findings[place - 1]) for place in here]) if here else "<p>Nothing found.</p>"


def _measured(compiled: Compiled, number: int, screen: ArrangedScreen, limits: Limits) -> str:
    panel = compiled.design.panel
    rows: list[Sequence[object]] = []
    painted = Painted(compiled.arranged, number)
    worst: dict[tuple[str, str, Condition, str], tuple[float, str, float]] = {}
    for measure in measures(compiled.design, limits, painted):
        key = (_KINDS[measure.code], measure.light.theme, measure.light.condition, measure.limit)
        kind = measure.piece.widget.kind if measure.piece is not None else "pipe"
        worst[key] = min(worst.get(key, (1e9, "", 0.0)), (measure.ratio, kind, measure.web))
    for (what, theme, condition, name), (ratio, kind, web) in worst.items():
        title = f"least contrast of {what}, {theme} {PHRASES[condition]}"
        told = f"{kind}; web formula {web:.2f}:1"
        told += "; below the limit" if ratio < limits[name].value else ""
        rows.append((title, f"{ratio:.2f}", f"{limits[name].value:g}", ":1", told))
    if screen.texts:
        small = min(screen.texts, key=lambda fact: fact.capital_height)
        floor = f"{limits['text floor'].value:g}"
        rows.append(("smallest text", f"{angle(small, panel):.1f}", floor, "arcmin", small.text))
    read = [fact for fact in screen.texts if fact.reading]
    if read:
        small = min(read, key=lambda fact: fact.capital_height)
        least = f"{limits['text acceptable'].value:g}"
        rows.append(("smallest reading", f"{angle(small, panel):.1f}", least, "arcmin", small.text))
    if screen.touches:
        side = min(narrowest(fact, panel) for fact in screen.touches)
        glove = limits["touch size in gloves"]
        fit = sum(narrowest(fact, panel) >= glove.value for fact in screen.touches)
        told = f"{fit} of {len(screen.touches)} also for gloves ({glove.value:g} mm)"
        rows.append(("smallest touch target", f"{side:.1f}", f"{limits['touch size'].value:g}", "mm", told))
    most = f"{limits['letters while driving'].value:g}" if screen.name == compiled.design.start else ""
    rows.append(("letters to read", str(letters(screen)), most, "letters", ""))
    rows += _acts(compiled, screen, limits)
    return "<h3>Measured</h3>" + _table(("what", "measured", "limit", "unit", "where"), rows, (1, 2))


def _acts(compiled: Compiled, screen: ArrangedScreen, limits: Limits) -> list[Sequence[object]]:
    """The act on the road that takes longest."""
    moving = touches_away(compiled.design, compiled.arranged, moving=True)
    times = [time for _, time in acts_on_the_road(screen, moving, compiled.design)]
    if not times:
        return []
    whole, step = max(time.seconds for time in times), max(time.longest for time in times)
    return [
        (title, f"{seconds:.2f}", f"{limits[name].value:g}", "s", "keystroke-level figures")
        for title, seconds, name in (
            ("longest act while driving", whole, "task while driving"),
            ("longest step of one", step, "glance while driving"),
        )
    ]


_KINDS = {
    "C420": "text",
    "C421": "symbols",
    "C422": "filled places",
    "C423": "text on a hatch of doubt",
}


def _limits(limits: Limits) -> str:
    rows = [
        (name, f"{limit.value:g}", limit.unit, limit.source, limit.basis)
        for name, limit in limits.all().items()
    ]
    own = [
        f"<li>{escape(name)}: {limit.value:g} {escape(limit.unit)}, because {escape(limit.reason)}</li>"
        for name, limit in limits.all().items()
        if limit.reason
    ]
    chosen = f"<h3>Set by this design</h3><ul>{''.join(own)}</ul>" if own else ""
    return f"<h2>Limits and their sources</h2>{chosen}" + _table(
        ("limit", "value", "unit", "held against", "which was"), rows, (1,)
    )


def _list(numbered: Iterable[tuple[int, Finding]]) -> str:
    items = []
    for number, finding in numbered:
        level = finding.severity.value
        place = f" <code>{escape(finding.span.file)}:{finding.span.line}</code>" if finding.span else ""
        lines = [f"<span class='{level}'>{level} {finding.code}</span>{place} {escape(finding.message)}"]
        if held := held_against(finding):
            lines.append(f"measured {escape(held)}")
        if finding.assumed:
            lines.append(f"assumed: {escape(finding.assumed)}")
        if finding.also:
            also = ", ".join(f"{span.file}:{span.line}" for span in finding.also)
            lines.append(f"also at <code>{escape(also)}</code>")
        if finding.remedy:
            lines.append(f"remedy: {escape(finding.remedy)}")
        if by := by_what(finding):
            lines.append(f"<span class='source'>{escape(by)}</span>")
        items.append(f"<li value='{number}'>{'<br>'.join(lines)}</li>")
    return f"<ol>{''.join(items)}</ol>"


def _table(head: Sequence[str], rows: Iterable[Sequence[object]], numbers: Sequence[int] = ()) -> str:
    def cell(tag: str, place: int, text: object) -> str:
        kind = " class='n'" if place in numbers else ""
        return f"<{tag}{kind}>{escape(str(text))}</{tag}>"

    lines = ["".join(cell("th", place, text) for place, text in enumerate(head))] if any(head) else []
    lines += ["".join(cell("td", place, text) for place, text in enumerate(row)) for row in rows]
    return "<table>" + "".join(f"<tr>{line}</tr>" for line in lines) + "</table>"


def _png(picture: Image) -> str:
    data = io.BytesIO()
    picture.save(data, "PNG", optimize=True)
    return base64.b64encode(data.getvalue()).decode("ascii")
