"""What touches do: slips, effects on the vehicle, and how far an act is away."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from hmic.arrange.canvas import TouchFact
from hmic.arrange.compose import Arranged, ArrangedScreen
from hmic.check.edits import phrase as phrase_in
from hmic.check.edits import widget_at
from hmic.check.task_time import TaskTime, task_time, while_moving
from hmic.check.touch_targets import gap
from hmic.check.values_shown import is_vehicle_speed
from hmic.check.ways import touches_away
from hmic.diagnostics import Finding, Mend, Severity, mended_by
from hmic.language.syntax import PhraseKind, Signal
from hmic.model.actions import GoTo, Within, ZoneAction
from hmic.model.channels import signals_of
from hmic.model.design import START, WAYS, Design
from hmic.model.expressions import walk
from hmic.model.limits import Limits
from hmic.number_text import measured_and_limit
from hmic.paint.operations import Box


def check(design: Design, arranged: Arranged, limits: Limits) -> list[Finding]:
    """C413: a second press at one place acts on the next screen. C414: a target that acts, over a
    reading it has nothing to do with. C415: a control with no condition, question, hold or read-back.
    C416: more touches to an act than guidance allows. C471: an act on the road that takes too long. C472: a
    step of it that one glance does not suffice for."""
    findings: list[Finding] = []
    by_name = {screen.name: screen for screen in arranged.screens}
    for number, screen in enumerate(arranged.screens):
        shown = _shown(arranged, number)
        for fact in screen.touches:
            findings.extend(_twice(fact, screen, by_name))
            findings.extend(_over(fact, screen))
            findings.extend(_unguarded(fact, screen, shown))
    findings.extend(_far(design, arranged, limits))
    return findings


def acts(action: ZoneAction) -> str | None:
    """The output that a touch asks for, None for one that stays within the display."""
    inner = action.action
    return None if isinstance(inner, Within) else inner.name


def _guarded(action: ZoneAction) -> bool:
    return action.held_ms > 0 or action.confirm is not None


def _twice(fact: TouchFact, screen: ArrangedScreen, by_name: dict[str, ArrangedScreen]) -> Iterator[Finding]:
    inner = fact.action.action
    if not isinstance(inner, GoTo) or inner.screen == screen.name:
        return
    middle = Box(fact.box.left + fact.box.width // 2, fact.box.top + fact.box.height // 2, 1, 1)
    for other in by_name[inner.screen].touches:
        name = acts(other.action)
        if name is None or _guarded(other.action) or gap(middle, other.box) >= 0:
            continue
        message = (
            f"a second press where screen '{screen.name}' leads to '{inner.screen}' asks for '{name}' there"
        )
        remedy = f"move one of them, or add confirmed by or held 1 s to the control of '{name}'"
        # A condition makes the slip harmless at least on the road.
        severity = Severity.WARNING if other.action.allowed is None else Severity.NOTE
        yield Finding("C413", severity, message, other.span, remedy)


def _over(fact: TouchFact, screen: ArrangedScreen) -> Iterator[Finding]:
    name = acts(fact.action)
    if name is None:
        return
    for text in screen.texts:
        if not text.reading or text.span.line == fact.span.line or gap(fact.box, text.box) >= 0:
            continue
        own = [piece for piece in screen.pieces if piece.widget.head.line == text.span.line]
        if any(
            isinstance(piece.widget.subject, Signal) and piece.widget.subject.name == name for piece in own
        ):
            continue
        message = f"on screen '{screen.name}' the target for '{name}' lies over the reading \"{text.text}\""
        remedy = "put the control in an area of its own, so that the finger does not cover the reading"
        yield Finding("C414", Severity.WARNING, message, fact.span, remedy)
        return


def _unguarded(fact: TouchFact, screen: ArrangedScreen, shown: frozenset[str]) -> Iterator[Finding]:
    name = acts(fact.action)
    if name is None or fact.action.allowed is not None or _guarded(fact.action) or name in shown:
        return
    message = (
        f"on screen '{screen.name}' a touch asks for '{name}' at any time, at once, and nothing there tells "
        "whether it took effect"
    )
    remedy = f"add allowed when ..., confirmed by ..., or held 1 s; or show '{name}' on this screen"
    yield Finding("C415", Severity.WARNING, message, fact.span, remedy)


def _shown(arranged: Arranged, number: int) -> frozenset[str]:
    """The signals that a screen shows, and those that its lists mark their rows by."""
    names: set[str] = set()
    for channel in arranged.drawing.screens[number].channels:
        names |= signals_of(arranged.channels[channel])
    for piece in arranged.screens[number].pieces:
        for phrase in piece.widget.all(PhraseKind.MARKED):
            for value in phrase.values:
                names |= {node.name for node in walk(value) if isinstance(node, Signal)}
    return frozenset(names)


def _far(design: Design, arranged: Arranged, limits: Limits) -> Iterator[Finding]:
    """C416, C471 and C472: one control stands for its screen."""
    away = touches_away(design, arranged)
    moving = touches_away(design, arranged, moving=True)
    most = limits["touches to an act"]
    for screen in arranged.screens:
        told = next(_long(screen, moving, design, limits), None)
        if told is not None:
            yield told
            continue
        for fact in screen.touches:
            if acts(fact.action) is None or screen.name not in away:
                continue
            count = away[screen.name] + 1 + (fact.action.confirm is not None)
            if count > most.value:
                message = f"it takes {count} touches from '{design.start}' to this control of '{screen.name}'"
                remedy = f"lead to '{screen.name}' from a screen nearer to '{design.start}'"
                yield most.finding(
                    "C416",
                    message,
                    fact.span,
                    remedy,
                    float(count),
                    severity=Severity.NOTE,
                    rests_on=(START,),
                )
                break


def _long(
    screen: ArrangedScreen, moving: Mapping[str, int], design: Design, limits: Limits
) -> Iterator[Finding]:
    """C471 an act that takes longer than eyes may be off the road, C472 one of its steps longer than a
    glance."""
    for fact, time in acts_on_the_road(screen, moving, design):
        for code, limit, seconds, what in (
            ("C471", limits["task while driving"], time.seconds, "this act of a moving vehicle takes"),
            ("C472", limits["glance while driving"], time.longest, "one step to this act takes"),
        ):
            if seconds > limit.value:
                shown, _ = measured_and_limit(seconds, limit.value)
                message = f"on screen '{screen.name}' {what} {shown} s of looking, from '{design.start}' on"
                remedy = "add allowed when, with the speed at which it may be done"
                found = limit.finding(code, message, fact.span, remedy, seconds, rests_on=(START, WAYS))
                yield mended_by(found, _standing(fact, screen, design), ", or lead there in fewer touches")


def _standing(fact: TouchFact, screen: ArrangedScreen, design: Design) -> Mend | None:
    """A condition that the vehicle stands, for a control that has none."""
    speeds = [name for name in design.signals if is_vehicle_speed(name, design)]
    widget = widget_at(fact.span, screen)
    if widget is None or len(speeds) != 1 or widget.one(PhraseKind.ALLOWED) is not None:
        return None
    return phrase_in(widget, PhraseKind.ALLOWED, f"allowed when {speeds[0]} < 1 km/h")


def acts_on_the_road(
    screen: ArrangedScreen, moving: Mapping[str, int], design: Design
) -> Iterator[tuple[TouchFact, TaskTime]]:
    """What a driver can ask for on a screen while driving, and how long it takes; ``moving`` are the touches
    that lead to each screen then."""
    for fact in screen.touches:
        if screen.name in moving and acts(fact.action) is not None and while_moving(fact, design):
            yield fact, task_time(moving[screen.name], fact.action)
