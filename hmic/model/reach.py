"""What a panel without touch cannot do: controls nobody can press, screens nothing leads to."""

from __future__ import annotations

from collections.abc import Iterator

from hmic.diagnostics import Finding, error, warning
from hmic.language import syntax
from hmic.language.syntax import CONTROLS
from hmic.model.design import WAYS, Design


def check_reach(design: Design) -> list[Finding]:
    """Nothing for a panel with touch."""
    if design.panel.touch:
        return []
    findings = []
    holders: list[syntax.Screen | syntax.Part] = [*design.screens.values(), *design.parts.values()]
    for holder in holders:
        for widget in syntax.pieces(item for area in holder.areas for item in area.body):
            if isinstance(widget, syntax.Widget) and widget.kind in CONTROLS:
                message = f"nobody can press this {widget.kind}: design.yaml says that the panel has no touch"
                remedy = "show the value with a reading, words or a lamp"
                findings.append(error("M277", message, widget.head, remedy))
    for screen in design.screens.values():
        for touch in screen.touches:
            message = "nobody can touch this: design.yaml says that the panel has no touch"
            findings.append(error("M277", message, touch.span, "take the line out"))
        if screen.yields_when_acknowledged:
            message = f"nobody can acknowledge '{screen.name}': the panel has no touch"
            remedy = "take out `gives way when acknowledged`; it then gives way when its cause is gone"
            findings.append(error("M277", message, screen.name_span, remedy))
    return [*findings, *_unreached(design)]


def _unreached(design: Design) -> Iterator[Finding]:
    reached = {design.start, *(name for name, screen in design.screens.items() if screen.rises is not None)}
    if design.panel.knob:
        if design.start in design.order:
            reached.update(design.order)
        for _ in design.screens:
            for name in sorted(reached):
                reached.update(swipe.screen for swipe in design.screens[name].swipes)
            reached &= design.screens.keys()
    through = ", ".join(dict.fromkeys((*(design.order or (design.start,)), *design.screens)))
    remedy = f"write `swipe through {through}`"
    if not design.panel.knob:
        remedy = "set `knob: true` under panel in design.yaml and " + remedy
    left = {name: screen.name_span for name, screen in design.screens.items() if name not in reached}
    if left:
        several = "s" if len(left) > 1 else ""
        message = f"nothing leads to the screen{several} " + ", ".join(f"'{name}'" for name in left)
        first, *others = left.values()
        yield warning("M278", message, first, remedy, rests_on=(WAYS,), also=tuple(others))
