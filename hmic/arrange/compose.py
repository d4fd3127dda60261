"""A whole design arranged: every screen as drawing operations, with what feeds and answers it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from types import ModuleType
from typing import Any

from hmic.arrange import expand, lengths, plan
from hmic.arrange.artwork import Artwork
from hmic.arrange.canvas import (
    Canvas,
    GapFact,
    Line,
    PieceFact,
    PipeFact,
    Relied,
    SymbolFact,
    TextFact,
    TouchFact,
    inset,
)
from hmic.arrange.during import only_while
from hmic.arrange.oblong import as_square, put_back
from hmic.arrange.phrases import check_together, of_touch, of_widget
from hmic.arrange.placing import PLACED, Placed, placed_in
from hmic.arrange.plan import share_out
from hmic.arrange.rows import bring_together
from hmic.arrange.schematic import Port, draw_pipe, ports_of, upright
from hmic.arrange.subjects import wrong_subject
from hmic.arrange.touch import zone_action
from hmic.arrange.widgets import WIDGETS
from hmic.arrange.widgets.shape import SURFACE
from hmic.causes import nobody_told
from hmic.diagnostics import (
    DesignError,
    Finding,
    Sentence,
    Severity,
    Span,
    Told,
    closest,
    did_you_mean,
    error,
    lacking,
    warning,
)
from hmic.language import syntax
from hmic.language.design_bounds import MOST_OF_EACH
from hmic.language.spelling import written
from hmic.language.syntax import (
    Area,
    Content,
    Each,
    Expression,
    Joint,
    Name,
    Part,
    Phrase,
    PhraseKind,
    Pipe,
    Plan,
    Screen,
    Surface,
    Use,
    Widget,
    WidgetKind,
    roles_of,
)
from hmic.model.actions import ZoneAction
from hmic.model.channels import Channel, Scaled, Spelt
from hmic.model.design import GLASS, Design, first_theme, part_subject
from hmic.model.expressions import Typed, joined
from hmic.paint.operations import (
    Box,
    Drawing,
    Operation,
    ScreenDrawing,
    Zone,
    channels_of,
)

DEEPEST_PART = 8
RIM_MM = 1.5
"""Between the edge of a surface and what stands on it."""


@dataclass(frozen=True)
class ArrangedScreen:
    """One screen with what the runtime and the checks need beside its drawing. ``rises`` are the
    causes for which it comes up by itself: the conditions that its own joins by ``or``."""

    name: str
    span: Span
    zones: tuple[ZoneAction, ...]
    swipes: tuple[tuple[syntax.Side, str], ...]
    rises: tuple[Typed, ...]
    yields_when_acknowledged: bool
    texts: tuple[TextFact, ...]
    touches: tuple[TouchFact, ...]
    pieces: tuple[PieceFact, ...] = ()
    gaps: tuple[GapFact, ...] = ()
    pipes: tuple[PipeFact, ...] = ()


@dataclass(frozen=True)
class Arranged:
    """A design ready to paint and to pack. Screens stand in the same order as in the drawing. ``relied``
    are the sentences that show nothing for what was told before."""

    drawing: Drawing
    channels: tuple[Channel, ...]
    screens: tuple[ArrangedScreen, ...]
    relied: tuple[Relied, ...] = ()


def arrange(design: Design) -> tuple[Arranged | None, list[Finding]]:
    """Arranges every screen. With an error among the findings there is no result."""
    arranged, findings = arrange_with_gaps(design)
    if any(finding.severity is Severity.ERROR for finding in findings):
        return None, findings
    return arranged, findings


def arrange_with_gaps(design: Design) -> tuple[Arranged, list[Finding]]:
    """Arranges every screen as far as it goes, to be looked at: the place of what has an error is left
    empty, and told as a gap."""
    artwork = Artwork(design)
    findings: list[Finding] = list(artwork.pictograms.findings)
    typed = _typer(design, findings)
    composed = []
    for screen in design.screens.values():
        canvas = Canvas(design, artwork, typed, screen.name)
        composed.append(_screen(screen, canvas))
        findings.extend(canvas.findings)
    channels = artwork.channels
    drawings = tuple(
        ScreenDrawing(
            screen.name,
            tuple(canvas.operations),
            _channels_of(canvas.operations, channels),
            tuple(Zone(touch.box) for touch in canvas.touches),
        )
        for screen, canvas in composed
    )
    names = [screen.name for screen, _ in composed]
    panel = design.panel
    drawing = Drawing(
        panel.width,
        panel.height,
        panel.depth,
        artwork.themes(),
        artwork.masks,
        artwork.maps,
        artwork.figure_sets,
        tuple(channel.steps.count for channel in channels),
        drawings,
        names.index(design.start),
        artwork.outlines,
        artwork.letter_sets,
        artwork.pictures,
        first_theme(design),
        # The pack has room for hundreds of Bd, which is what all usual rates are.
        0 if panel.baud % 100 else panel.baud,
    )
    relied = tuple(each for _, canvas in composed for each in canvas.relied)
    return Arranged(drawing, channels, tuple(screen for screen, _ in composed), relied), findings


def _typer(design: Design, warnings: list[Finding]) -> Callable[[Expression], Typed]:
    known: dict[str, Typed] = {}

    def typed(node: Expression) -> Typed:
        key = written(node)
        if key not in known:
            known[key] = design.typings.typed(node, warnings)
        return known[key]

    return typed


def _screen(screen: Screen, canvas: Canvas) -> tuple[ArrangedScreen, Canvas]:
    panel = canvas.design.panel
    whole = Box(0, 0, panel.width, panel.height)
    places: dict[str, Box] = {}
    findings, relied = len(canvas.findings), len(canvas.relied)
    with _collecting(canvas, screen.name_span, GapFact(screen.name_span, whole)):
        places = _areas(screen, whole, {}, canvas, 0)
    for touch in screen.touches:
        with _collecting(canvas, touch.span):
            if not places:
                raise canvas.since(findings, relied)
            if touch.area not in places:
                raise DesignError([_no_area(touch.area, screen.plan, touch.span, places)])
            check_together(of_touch(touch.phrases, touch.span, canvas))
            canvas.touch(places[touch.area], zone_action(touch.phrases, touch.span, canvas), touch.span)
    bring_together(canvas)
    rises: tuple[Typed, ...] = ()
    if screen.rises is not None:
        with _collecting(canvas, screen.rises.span):
            canvas.flag(screen.rises)
            rises = tuple(canvas.flag(cause) for cause in joined(screen.rises, "or"))
    arranged = ArrangedScreen(
        screen.name,
        screen.span,
        tuple(touch.action for touch in canvas.touches),
        # One to a screen that is not there has been told by loading.
        tuple(
            (swipe.direction, swipe.screen)
            for swipe in screen.swipes
            if swipe.screen in canvas.design.screens
        ),
        rises,
        screen.yields_when_acknowledged,
        tuple(canvas.texts),
        tuple(canvas.touches),
        tuple(canvas.pieces),
        tuple(canvas.gaps),
        tuple(canvas.pipes),
    )
    return arranged, canvas


class _collecting:
    """Turns a ``DesignError`` inside the block into findings, so that the next piece goes on; one without
    findings is noted with the ``span`` of the sentence. What the block had put on the canvas goes again,
    and its ``place``, if it has one, is left as a gap."""

    def __init__(self, canvas: Canvas, span: Span, place: GapFact | None = None) -> None:
        self._canvas = canvas
        self._span = span
        self._place = place
        self._lists: tuple[list[Any], ...] = (canvas.operations, canvas.texts, canvas.touches, canvas.pieces)

    def __enter__(self) -> None:
        self._sizes = [len(each) for each in self._lists]

    def __exit__(self, kind: type | None, raised: BaseException | None, trace: object) -> bool:
        if not isinstance(raised, DesignError):
            return False
        self._canvas.findings.extend(raised.findings)
        if isinstance(raised, Told):
            self._canvas.relied.append(Relied(self._span, raised.cause))
        elif not raised.findings:
            self._canvas.findings.append(nobody_told(self._span))
        if self._place is not None:
            for each, size in zip(self._lists, self._sizes, strict=True):
                del each[size:]
            self._canvas.gaps.append(self._place)
        return True


def _areas(
    of: Screen | Part, within: Box, bindings: Mapping[str, Expression], canvas: Canvas, depth: int
) -> dict[str, Box]:
    """Draws the areas of a screen or part; gives their boxes."""
    drawn, areas, span = of.plan, of.areas, of.name_span
    if drawn is None or not drawn.rows:
        remedy = "draw its areas: a line `plan`, below it rows of area names"
        canvas.findings.append(lacking("A305", "there is no plan", span, remedy))
        canvas.gaps.append(GapFact(span, within))
        return {}
    canvas.hold(len(drawn.rows) + len(areas), span)
    places: dict[str, Box] = {}
    with _collecting(canvas, drawn.span, GapFact(drawn.span, within)):
        canvas.hold(len({name for row in drawn.rows for name in row.cells}), drawn.span)
        places = plan.boxes(drawn, within, canvas.design.panel, inner=depth > 0)
        _unfilled(drawn, areas, span, canvas)
    standing, laid = dict(places), dict[str, str]()
    for surface in drawn.surfaces if places else ():
        with _collecting(canvas, surface.span):
            _lay(surface, places, standing, canvas)
            laid.update(dict.fromkeys(surface.areas, _trough(surface)))
    for area in areas:
        with _collecting(canvas, area.span, _gap_of(area, places)):
            if places and area.name not in places:
                raise DesignError([_no_area(area.name, drawn, area.name_span, places)])
            if not area.body:
                message = f"nothing is written for area '{area.name}'"
                remedy = f'write what stands in it, such as `in {area.name} label "..."`, or remove the line'
                raise DesignError([lacking("A335", message, area.name_span, remedy)])
            if places:
                around, canvas.trough = canvas.trough, laid.get(area.name, canvas.trough)
                try:
                    _contents(area, standing[area.name], bindings, canvas, depth)
                finally:
                    canvas.trough = around
    return places


def _trough(surface: Surface) -> str:
    """The role of an empty scale that is seen on a surface."""
    said = [role for phrase in surface.phrases if phrase.kind != PhraseKind.EDGE for role in roles_of(phrase)]
    return "ground" if not said or "surface" in said else "surface"


def _lay(surface: Surface, places: Mapping[str, Box], standing: dict[str, Box], canvas: Canvas) -> None:
    """A surface under its areas, which become smaller by its rim. Raises ``DesignError`` A303 for an area
    that is not there, A315 for areas that are no rectangle."""
    for name, span in zip(surface.areas, surface.area_spans, strict=True):
        if name not in places:
            remedy = did_you_mean(name, places, "areas")
            raise DesignError([error("A303", f"the plan has no area '{name}'", span, remedy)])
    whole = plan.around([places[name] for name in surface.areas])
    others = [name for name, box in places.items() if name not in surface.areas and plan.meet(box, whole)]
    if others:
        message = f"with these areas the surface reaches under '{others[0]}' too"
        remedy = f"add {others[0]} to them, or write two surfaces"
        raise DesignError([error("A315", message, surface.span, remedy)])
    behind = Phrase(PhraseKind.BEHIND, (), (), surface.span)
    phrases, span = (*surface.phrases, behind), surface.span
    _widget(Widget(WidgetKind.SHAPE, SURFACE, None, phrases, (), span, span), whole, canvas, PLACED)
    rim = canvas.px(RIM_MM)
    inside = inset(whole, rim, rim, rim, rim)
    standing.update((name, plan.common(standing[name], inside)) for name in surface.areas)


def _no_area(name: str, drawn: Plan | None, span: Span, places: Mapping[str, Box]) -> Finding:
    """A303, if the sentence and the rows of the plan could be read."""
    read = (Sentence(span), *((Sentence(drawn.span),) if drawn is not None else ()))
    remedy = did_you_mean(name, places, "areas")
    return error("A303", f"the plan has no area '{name}'", span, remedy, rests_on=read)


def _gap_of(area: Area, places: Mapping[str, Box]) -> GapFact | None:
    """The place of an area, or the one that was meant."""
    meant = area.name if area.name in places else closest(area.name, places)
    return GapFact(area.span, places[meant]) if meant is not None else None


def _unfilled(drawn: Plan, areas: tuple[Area, ...], within: Span, canvas: Canvas) -> None:
    """A304 for what no line of the screen, or part, ``within`` fills."""
    read = (Sentence(drawn.span), Sentence(within))
    drawn_names = {name for row in drawn.rows for name in row.cells}
    # A misspelt area is told where it is filled; the one that was meant is not empty.
    filled = {area.name if area.name in drawn_names else closest(area.name, drawn_names) for area in areas}
    seen: set[str] = set()
    for row in drawn.rows:
        for name, span in zip(row.cells, row.cell_spans, strict=True):
            if name != "." and name not in filled and name not in seen:
                seen.add(name)
                meant = closest(name, drawn_names & {each for each in filled if each})
                remedy = f"add a line `in {name} ...`, or draw '.' for an empty place"
                if meant is not None:
                    remedy = f"did you mean '{meant}'?"
                empty = warning("A304", f"nothing stands in area '{name}'", span, remedy, rests_on=read)
                canvas.findings.append(empty)


def _contents(area: Area, box: Box, bindings: Mapping[str, Expression], canvas: Canvas, depth: int) -> None:
    findings, relied = len(canvas.findings), len(canvas.relied)
    items = list(_unrolled(area.body, bindings, canvas))
    if not items:  # each of them has told why
        raise canvas.since(findings, relied)
    if area.flow == syntax.Flow.FREELY:
        _freely(items, box, canvas, depth)
        return
    places = _split(box, area.flow, len(items), items[0][0].span, canvas)
    for (item, bound), place in zip(items, places, strict=True):
        with _collecting(canvas, item.span, GapFact(item.span, place)):
            _one(item, bound, place, canvas, depth)


Bound = tuple[Content, Mapping[str, Expression]]


def _unrolled(body: tuple[Content, ...], bindings: Mapping[str, Expression], canvas: Canvas) -> list[Bound]:
    """What stands in a place, with every ``each`` written out."""
    result: list[Bound] = []
    for item in body:
        with _collecting(canvas, item.span):
            # All of one each or nothing: the mistake in it is told once.
            result += list(_repeated(item, bindings, item.span, canvas))
    return result


def _repeated(
    item: Content, bindings: Mapping[str, Expression], outermost: Span, canvas: Canvas
) -> Iterator[Bound]:
    """A piece, or all that an each stands for. Raises DesignError A331, A332, A333."""
    if not isinstance(item, Each):
        canvas.hold(1, outermost)
        yield item, bindings
        return
    first = expand.whole_number(item.first, bindings)
    last = expand.whole_number(item.last, bindings)
    if not 0 <= last - first < MOST_OF_EACH:
        message = f"each from {first} to {last} stands for {last - first + 1} pieces"
        remedy = f"count upwards, at most {MOST_OF_EACH} pieces"
        raise DesignError([error("A332", message, item.span, remedy)])
    if not item.body:
        remedy = "write the pieces that it repeats below it, further in"
        raise DesignError([lacking("A335", "this each repeats nothing", item.span, remedy)])
    for number in range(first, last + 1):
        counted = {**bindings, item.name: expand.counter(number, item.span)}
        for inner in item.body:
            yield from _repeated(inner, counted, outermost, canvas)


def _split(box: Box, flow: syntax.Flow, count: int, span: Span, canvas: Canvas) -> list[Box]:
    gap = canvas.px(plan.DEFAULT_GAP_MM)
    total = (box.width if flow == syntax.Flow.ACROSS else box.height) - gap * (count - 1)
    if total < count:
        message = f"{count} pieces do not fit in {lengths.described(total, canvas.design.panel)}"
        raise DesignError([error("A313", message, span, "make the area larger", rests_on=GLASS)])
    result = []
    start = 0
    for size in share_out(total, [None] * count, [Fraction(1)] * count):
        if flow == syntax.Flow.ACROSS:
            result.append(Box(box.left + start, box.top, size, box.height))
        else:
            result.append(Box(box.left, box.top + start, box.width, size))
        start += size + gap
    return result


def _one(item: Content, bindings: Mapping[str, Expression], box: Box, canvas: Canvas, depth: int) -> None:
    match item:
        case Widget():
            try:
                _widget(expand.widget(item, bindings, canvas.design.locale), box, canvas)
            except Told:
                raise
            except DesignError as raised:
                raise DesignError([_passed(found, item) for found in raised.findings]) from None
        case Use():
            _use(item, bindings, box, canvas, depth)
        case Joint() | Pipe():
            remedy = "write `in AREA freely` and place symbols, joints and pipes below it"
            raise DesignError([error("A306", "joints and pipes need free placement", item.span, remedy)])


def _widget(
    widget: Widget, box: Box, canvas: Canvas, beside: frozenset[PhraseKind] = frozenset()
) -> None:
    """Draws a widget in its place, which lets it take phrases ``beside`` its own."""
    module = WIDGETS[widget.kind]
    _check_sentence(widget, module, canvas, beside)
    first, facts = len(canvas.operations), len(canvas.texts)
    place, way = as_square(widget.kind, box, canvas)
    try:
        told = module.draw(widget, place, canvas)
    except Told:
        raise
    except DesignError as raised:
        # A font knows no place in a layout file.
        placed = [found if found.span else replace(found, span=widget.head) for found in raised.findings]
        raise DesignError(placed) from None
    if way is not None:
        back = put_back(way, first, facts, canvas)
        told = told._replace(box=back(told.box)) if isinstance(told, SymbolFact) else told
    only_while(widget, first, canvas)
    _held_within(widget, box, canvas.operations[first:], canvas)
    symbol, line = told if isinstance(told, SymbolFact) else None, told if isinstance(told, Line) else None
    canvas.pieces.append(PieceFact(widget, box, first, len(canvas.operations), symbol, line))


def _held_within(widget: Widget, box: Box, operations: Sequence[Operation], canvas: Canvas) -> None:
    """Raises ``DesignError`` A350 or A351 for a widget that paints outside its place, which it has not
    seen itself: by letters of an unusual font, or where its place is next to nothing."""
    for height in (False, True):
        start, size = (box.top, box.height) if height else (box.left, box.width)
        spans = [
            (each.box.top, each.box.height) if height else (each.box.left, each.box.width)
            for each in operations
        ]
        beyond = max((max(start - at, at + long - start - size, -long) for at, long in spans), default=0)
        if beyond > 0:
            canvas.fit(size + 2 * beyond, size, f"all of the {widget.kind}", widget.head, height, least=True)


def _check_sentence(
    widget: Widget, module: ModuleType, canvas: Canvas, beside: frozenset[PhraseKind]
) -> None:
    """Raises ``DesignError`` with what is wrong in a sentence by its words alone."""
    takes = module.PHRASES | beside
    taken = replace(widget, phrases=tuple(each for each in widget.phrases if each.kind in takes))
    wrong = [*_wrong_phrases(widget, takes, freely=bool(beside)), *wrong_subject(widget, module.SUBJECT)]
    check_together(of_widget(taken, canvas), wrong)


def _wrong_phrases(widget: Widget, kinds: frozenset[PhraseKind], *, freely: bool) -> Iterator[Finding]:
    takes = ", ".join(sorted(PHRASE_WORDS.get(kind, kind) for kind in kinds))
    said: set[str] = set()
    for phrase in widget.phrases:
        kind, word = phrase.kind, PHRASE_WORDS.get(phrase.kind, phrase.kind)
        if not freely and (kind in (PhraseKind.AT, PhraseKind.BEHIND) or kind in PLACED - kinds):
            message = f"`{word}` counts only where things are placed freely"
            remedy = "leave it out, or write `in AREA freely` and give each thing its place"
            yield error("A306", message, phrase.span, remedy)
        elif kind not in kinds:
            remedy = f"leave it out; `{widget.kind}` takes: {takes}"
            yield error("A302", f"`{widget.kind}` does not take `{word}`", phrase.span, remedy)
        elif kind in said and kind not in ("state", "above", "below", "zone", "way"):
            yield error("A307", f"`{word}` is said twice", phrase.span, "keep one of them")
        said.add(kind)


# How a phrase begins, to name it in findings.
PHRASE_WORDS: Mapping[str, str] = {
    "format": "as",
    "scale": "from ... to ...",
    "marks": "marks every",
    "steps": "in steps of",
    "peak": "peak held",
    "ramp": "filled by ramp",
    "state": "ROLE while",
    "above": "ROLE above",
    "below": "ROLE below",
    "direction": "upward or rightward",
    "rows": "rows of",
    "difference": "difference from mean within",
    "goes": "goes to",
    "by": "steps ... by",
    "allowed": "allowed when",
    "confirmed": "confirmed by",
    "refused": "refused with",
    "options": "of ... or ...",
    "flow": "flowing by",
    "turned": "turned by",
    "marked": "marked by",
    "hands": "with hands",
    "arc": "with arc",
    "hidden": "otherwise hidden",
    "within": "shown within",
    "during": "shown while",
    "sweep": "sweep from ... to ...",
    "fine": "fine marks every",
    "unmarked": "without marks",
    "segments": "segments every",
    "zone": "zone ROLE from ... to ...",
    "zones": "with zones",
    "rounded": "with round ends",
    "growing": "with growing arc",
    "glides": "glides within",
    "off": "off as",
    "on": "on as",
    "pictogram": "with pictogram",
    "way": "SCREEN",
}


def _use(item: Use, bindings: Mapping[str, Expression], box: Box, canvas: Canvas, depth: int) -> None:
    parts = canvas.design.parts
    faults = canvas.design.faults
    if item.part not in parts:
        raise faults.told(item.span)
    circle = faults.of(part_subject(parts[item.part]))
    if circle is not None:
        raise Told(circle)
    if depth >= DEEPEST_PART:
        message = f"parts are used inside parts more than {DEEPEST_PART} deep"
        raise DesignError([error("A334", message, item.span, "use fewer parts inside each other")])
    part = parts[item.part]
    bound = _arguments(item, part, bindings, canvas.design)
    before = len(canvas.findings)
    _areas(part, box, bound, canvas, depth + 1)
    canvas.findings[before:] = [_used(finding, item) for finding in canvas.findings[before:]]


def _passed(finding: Finding, item: Widget) -> Finding:
    """What a part takes over from where it is used is mended there."""
    remedy = finding.remedy or ""
    for phrase in item.phrases:
        if phrase.kind in (PhraseKind.TEXT, PhraseKind.SIZED) and isinstance(phrase.values[0], Name):
            pattern = rf"write {phrase.kind} (\S+ (?:arcmin|mm))"
            remedy = re.sub(pattern, rf"write {phrase.values[0].name} \1 where the part is used", remedy)
    caption = item.one(PhraseKind.CALLED)
    worded = caption.values[0] if caption and caption.span == finding.span else item.subject
    if isinstance(worded, Name):
        remedy = remedy.replace("shorten it", f"shorten {worded.name} where the part is used")
    return finding if remedy == (finding.remedy or "") else replace(finding, remedy=remedy)


def _used(finding: Finding, item: Use) -> Finding:
    place = f"{item.span.file}:{item.span.line}"
    if f"used at {place}" in finding.message:
        return finding
    return replace(finding, message=f"{finding.message} (part '{item.part}' used at {place})")


def _arguments(
    item: Use, part: Part, bindings: Mapping[str, Expression], design: Design
) -> dict[str, Expression]:
    given = dict(item.arguments)
    bound: dict[str, Expression] = {}
    for name, default in part.parameters:
        value = given.get(name, default)
        if value is None:
            raise design.faults.told(item.span)
        bound[name] = expand.expression(value, bindings if name in given else {}, design.locale)
    return bound


def _freely(items: list[Bound], box: Box, canvas: Canvas, depth: int) -> None:
    """Free placement: what lies behind, pipes, then the other pieces in the order written."""
    joints = [item for item, _ in items if isinstance(item, Joint)]
    placed: list[Placed] = []
    told = len(canvas.findings) + len(canvas.relied)
    for item, bindings in items:
        if isinstance(item, Widget):
            with _collecting(canvas, item.span):
                widget = expand.widget(item, bindings, canvas.design.locale)
                _check_sentence(widget, WIDGETS[widget.kind], canvas, PLACED)
                placed.append(placed_in(widget, box, canvas))
        elif isinstance(item, Use):
            message = "a part cannot be placed freely"
            remedy = "give the part an area of its own in the plan"
            canvas.findings.append(error("A306", message, item.span, remedy))
    ports: dict[str, Port] = {}
    with _collecting(canvas, items[0][0].span):
        ports = ports_of(joints, placed, box, canvas)
    canvas.upright = upright(item for item, _ in items if isinstance(item, Pipe))
    _stand([each for each in placed if each.behind], canvas)
    # A piece that cannot be placed has told why; a pipe to it is wrong for that alone.
    wanting = len(canvas.findings) + len(canvas.relied) > told
    for item, bindings in items:
        if isinstance(item, Pipe) and (ports or not wanting):
            with _collecting(canvas, item.span):
                first = len(canvas.operations)
                draw_pipe(expand.pipe(item, bindings), ports, box, canvas)
                canvas.pipes.append(PipeFact(item.span, first, len(canvas.operations)))
    _stand([each for each in placed if not each.behind], canvas)


def _stand(placed: Sequence[Placed], canvas: Canvas) -> None:
    """Draws pieces in their places."""
    for widget, _, whole in placed:
        with _collecting(canvas, widget.span, GapFact(widget.span, whole)):
            _widget(widget, whole, canvas, PLACED)


def _channels_of(operations: list[Operation], channels: tuple[Channel, ...]) -> tuple[int, ...]:
    """Channels a screen needs, the most urgent first, text last of those alike. Of others alike the finest
    scale is first: it moves most often, and what stands near the start of the list is sent in fewest bits."""
    used: dict[int, None] = {}
    for operation in operations:
        for number in channels_of(operation):
            used[number] = None

    def order(number: int) -> tuple[int, bool, int, int]:
        channel = channels[number]
        steps = channel.steps
        fine = steps.count if isinstance(steps, Scaled) and channel.kept is None else 0
        return channel.urgency, isinstance(steps, Spelt), -fine, number

    return tuple(sorted(used, key=order))
