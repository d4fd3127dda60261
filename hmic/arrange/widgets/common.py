"""What several widgets share: a caption above, and a colour that follows the value."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from hmic.arrange.artwork import RAMP_STEPS, Key
from hmic.arrange.canvas import (
    Alignment,
    Canvas,
    Line,
    aligned,
    alignment,
    bounded,
    broken,
    inset,
    on_one_line,
    phrase_text,
    reach,
    scale,
    standing,
)
from hmic.arrange.fitting import ACCEPTABLE
from hmic.arrange.formats import Format, extent, localised, parse_format, rendered, step_size, usual
from hmic.arrange.unit import Unit, forms_of, set_unit
from hmic.diagnostics import DesignError, Finding, Span, error, warning
from hmic.language.spelling import written
from hmic.language.syntax import Expression, Phrase, PhraseKind, Quantity, Widget
from hmic.model.channels import (
    LIVE,
    LOWER,
    LOWER_PLACES,
    MOST_STEPS,
    Bands,
    Channel,
    FirstTrue,
    Places,
    Scaled,
    gravity,
)
from hmic.model.expressions import Typed
from hmic.model.limits import Limits
from hmic.number_text import at_least, at_most, numbers
from hmic.number_text import number as number_text
from hmic.paint.fonts import Face, Sized
from hmic.paint.operations import COMMA, Box, Figures, Ink, When

# Under half the figures, so that the number leads; never too small to read, never shouting.
UNIT_PERCENT, UNIT_ARCMIN = 45, (14, 24)
# Smaller decimals, in percent of the figures before the point: an eye takes them for less, and reads them
# still (common practice, no source).
SMALL, SMALL_PERCENT = "small", 62
# Between a text and the edge of its place, and below a caption.
EDGE_MM = 0.5
CAPTION_GAP_MM = 1.5
# Of what glides, in s (common practice, no source).
SHORTEST_GLIDE, LONGEST_GLIDE = 0.1, 0.5
# Lines that a caption is broken into where nobody says so.
MOST_CAPTION_ROWS = 2
URGENCY = {"danger": 0, "caution": 1}
# (above or below, limit in the value's unit, role)
Limit = tuple[PhraseKind, float, str]
# One step for every value: a channel that only tells whether the value is known.
KNOWN = Scaled(0.0, 1e30, 1)


def captioned(widget: Widget, box: Box, canvas: Canvas, legend: str = "") -> Box:
    """Draws the ``called`` caption along the top, with a legend behind it where there is room, and
    gives the box that is left."""
    caption(widget, box, box, canvas, legend)
    return below_caption(widget, box, canvas)


@dataclass(frozen=True)
class LinePlace:
    """Where a line of text stands below its caption: its place, the top of its capitals, that of the
    caption's, and the text with which the piece begins."""

    place: Box
    top: int
    caption: int | None
    rows: int
    first: int

    def line(self, height: int, below: int, box: Box, canvas: Canvas) -> Line:
        """What is told of a line in ``box`` that reaches ``below`` its foot."""
        lowest = box.top + box.height - height - below
        return Line(height, self.top, lowest, self.caption, self.rows, (self.first, len(canvas.texts)))


def line_place(
    widget: Widget,
    box: Box,
    canvas: Canvas,
    reaches: tuple[int, int, int],
    what: str,
    *,
    letters: int | None = None,
    align: Alignment | None = None,
) -> LinePlace:
    """Draws the caption, and gives the place of one line below it, that ``reaches`` so many rows above its
    capitals, of these, and below. Where there is room both stand together in the middle: a caption far
    from what it names is read as another thing. Raises ``DesignError`` A351."""
    first, operations = len(canvas.texts), len(canvas.operations)
    above, height, below = reaches
    place = below_caption(widget, box, canvas)
    canvas.fit(above + height + below, place.height, what, widget.head, height=True, letters=letters)
    top, said = standing(place, height, above, below), _set_caption(widget, box.width, canvas)
    if said is None:
        return LinePlace(place, top, None, 0, first)
    capitals, gap = box.top + said.drop, canvas.px(CAPTION_GAP_MM)
    apart = max(gap, min(height * 2 // 3, said.face.capital_height * 3 // 2))
    if top - capitals - said.height > apart:
        capitals = box.top + max(said.drop, (box.height - said.height - apart - height) // 2)
        top = capitals + said.height + apart
    moved = capitals - said.drop - box.top
    at = inset(box, 0, moved, 0, 0)
    caption(widget, at, at, canvas, align=align)
    drawn = len(canvas.operations) - operations
    return LinePlace(place, top, capitals if drawn else None, drawn, first)


@dataclass(frozen=True)
class _Caption:
    """The lines of a caption; ``drop`` is how far below the top of its place its capitals begin."""

    rows: tuple[str, ...]
    face: Face
    drop: int

    @property
    def height(self) -> int:
        """From the top of the first line's capitals to the foot of the last one's."""
        return self.face.capital_height + self.face.line_height * (len(self.rows) - 1)


def _set_caption(widget: Widget, width: int, canvas: Canvas) -> _Caption | None:
    """The ``called`` caption in one line, or in a few where it is wider than its place or says so."""
    text = phrase_text(widget.one(PhraseKind.CALLED))
    if not text:
        return None
    face = canvas.face("captions", canvas.small())
    rows = broken(text, face, width)
    if len(rows) > MOST_CAPTION_ROWS and "\n" not in text:
        rows = [text]
    return _Caption(tuple(rows), face, max(canvas.px(EDGE_MM), reach(rows[:1], face)[0]))


def caption(
    widget: Widget, box: Box, about: Box, canvas: Canvas, legend: str = "", *, align: Alignment | None = None
) -> None:
    """Draws the ``called`` caption along the top of ``box``. One in the middle stands in the middle of
    ``about``, as far as there is room: the axis of what it names."""
    phrase, said = widget.one(PhraseKind.CALLED), _set_caption(widget, box.width, canvas)
    if phrase is None or said is None:
        return
    rows, face = list(said.rows), said.face
    if legend and len(rows) == 1 and face.measure(f"{rows[0]}   {legend}") <= box.width:
        rows = [f"{rows[0]}   {legend}"]
    width = max(map(face.measure, rows))
    canvas.fit(width, box.width, f'the caption "{on_one_line(phrase_text(phrase))}"', phrase.span)
    align = align or alignment(widget)
    left = box.left + aligned(width, box.width, align)
    if align == Alignment.CENTRE:
        left = centred(width, about, box)
    at, quiet = (left, box.top + said.drop), canvas.artwork.ink("quiet")
    canvas.rows(rows, face, at, width, ink=quiet, span=phrase.span, align=align)


def below_caption(widget: Widget, box: Box, canvas: Canvas) -> Box:
    """The box that the ``called`` caption leaves."""
    said = _set_caption(widget, box.width, canvas)
    if said is None:
        return box
    used = said.drop + said.height + canvas.px(CAPTION_GAP_MM)
    return inset(box, 0, min(used, box.height - 1), 0, 0)


def text_size(texts: Sequence[str], face: Face) -> tuple[int, int]:
    """Width and height of a line in which one of the texts stands."""
    above, below = reach(texts, face)
    boxes = [face.ink_box(text) for text in texts]
    over = max(max(0, -box[0], box[2] - face.measure(text)) for text, box in zip(texts, boxes, strict=True))
    return max(map(face.measure, texts)) + 2 * over, above + face.capital_height + below


def under_caption(widget: Widget, size: tuple[int, int], canvas: Canvas) -> tuple[int, int]:
    """The size of a place that has room for the ``called`` caption too."""
    text = phrase_text(widget.one(PhraseKind.CALLED))
    if not text:
        return size
    wide = max(size[0], text_size(text.split("\n"), canvas.face("captions", canvas.small()))[0])
    tall = size[1] + canvas.design.panel.height
    return wide, size[1] + tall - below_caption(widget, Box(0, 0, wide, tall), canvas).height


def number_size(number: Number, align: Alignment) -> tuple[int, int]:
    """Width and height of a place for a number; one in the middle has as much room at the right as a rarer
    longer number takes at the left."""
    spare = number.width - number.usual_width if align == Alignment.CENTRE else 0
    return number.width + spare, number.tall


def centred(width: int, about: Box, within: Box) -> int:
    """The left edge that puts ``width`` in the middle of ``about``, or as near to it as it stays in
    ``within``."""
    left = about.left + aligned(width, about.width)
    return max(within.left, min(left, within.left + within.width - width))


@dataclass(frozen=True)
class Number:
    """A format with the faces and extent it is shown in, measured; ``small`` is that of smaller decimals."""

    form: Format
    value: Typed
    face: Face
    small: Face | None
    unit: Unit
    offset: int
    count: int
    places: int
    width: int
    figures_width: int
    usual_width: int

    @property
    def height(self) -> int:
        """Height of the figures in px."""
        return self.face.capital_height

    @property
    def above(self) -> int:
        """Rows of ink above the figures' capitals: round figures, a bracket of the unit."""
        return max(self.face.cells.rise, self.unit.above)

    @property
    def below(self) -> int:
        """Rows of ink below the figures' foot: round figures, a comma, tails of the unit."""
        cells = self.face.cells
        figures = cells.height + _tail(self.form, self.face) - cells.rise - self.height
        return max(figures, self.unit.below)

    @property
    def tall(self) -> int:
        """All rows of ink."""
        return self.above + self.height + self.below

    def standing(self, place: Box) -> int:
        """The top of the figures in the middle of a place."""
        return standing(place, self.height, self.above, self.below)


def measured(
    node: Expression,
    pattern: str,
    span: Span,
    capital_height: int,
    canvas: Canvas,
    *,
    with_unit: bool = True,
    widget: Widget | None = None,
) -> Number:
    """A reading measured at its longest, the most places and sign its range can need, and as most of its
    range, or scale, shows it. What the ``widget`` says of scale, font, unit and decimals is done."""
    form = localised(parse_format(pattern, span), canvas.design.locale)
    value = canvas.number(node, form.value_unit)
    form = form if with_unit else replace(form, unit="")
    bounded(value, node, canvas)
    reach = extent(form, value.low, value.high)
    unit_form, decimals, scale_ends = (
        widget.one(kind) if widget is not None else None
        for kind in (PhraseKind.UNIT, PhraseKind.DECIMALS, PhraseKind.SCALE)
    )
    use = "figures" if widget is None else canvas.font_of(widget, "figures")
    face = canvas.face(use, capital_height, sized=None if widget is None else Sized())
    small = None if decimals is None else _small(decimals, use, form, capital_height, canvas)
    units = Sized(UNIT_PERCENT, *map(canvas.small, UNIT_ARCMIN))
    unit_face = canvas.face("units", units.height(capital_height), sized=None if widget is None else units)
    unit = set_unit(form.unit, face, unit_face, forms_of(unit_form))
    figures = figures_width(form, face, small, reach.places, reach.sign)
    first, last = _shown(form, value, scale_ends, canvas)
    often = min(figures, figures_width(form, face, small, *usual(form, first, last)))
    return Number(
        form,
        value,
        face,
        small,
        unit,
        reach.offset,
        reach.count,
        reach.places,
        figures + unit.width,
        figures,
        often + unit.width,
    )


def number_of(widget: Widget, arcmin: float, canvas: Canvas) -> Number | None:
    """The number that a widget shows beside its scale, so high unless it says otherwise; None without one."""
    phrase = widget.one(PhraseKind.FORMAT)
    if phrase is None:
        return None
    assert widget.subject is not None
    height = canvas.capital_height(widget, arcmin)
    return measured(widget.subject, phrase_text(phrase), phrase.span, height, canvas, widget=widget)


def with_text(widget: Widget, arcmin: int) -> Widget:
    """The widget with another ``text``."""
    phrases = tuple(each for each in widget.phrases if each.kind != PhraseKind.TEXT)
    size = Quantity(Fraction(arcmin), "arcmin", widget.head)
    return replace(widget, phrases=(*phrases, Phrase(PhraseKind.TEXT, (), (size,), widget.head)))


def smaller_text(number: Number | None, fits: Callable[[int], bool], canvas: Canvas) -> tuple[str, ...]:
    """The way by the largest ``text`` of whole arcmin that ``fits`` and can be acted on, where one does."""
    if number is None:
        return ()
    panel, least = canvas.design.panel, Limits(canvas.design)[ACCEPTABLE].value
    part = SMALL_PERCENT / 100 if number.small is not None else 1
    first, last = math.ceil(least / part), math.ceil(panel.arcmin_from_pixels(number.height))
    # The larger the text the less it fits.
    count = bisect_left(range(first, last), True, key=lambda arcmin: not fits(arcmin))
    return (f"write text {first + count - 1} arcmin",) if count > 0 else ()


def figures_width(form: Format, face: Face, small: Face | None, places: int, sign: bool) -> int:
    """The room of so many places, with a sign or without."""
    last = (small or face).cells
    after = form.decimals * last.advance + last.point_advance if form.decimals else 0
    return (places - form.decimals + (1 if sign else 0)) * face.cells.advance + after


def _small(phrase: Phrase, use: str, form: Format, capital_height: int, canvas: Canvas) -> Face | None:
    """The face of smaller decimals, never too small to read. Raises ``DesignError`` A353."""
    if phrase.words != (SMALL,):
        message = f"decimals are not set '{phrase.words[0]}'"
        raise DesignError([error("A353", message, phrase.span, f"write `decimals {SMALL}`, or leave it out")])
    if not form.decimals or form.sixties:
        message = "this number shows no decimals that could be smaller"
        raise DesignError([error("A353", message, phrase.span, 'leave it out, or show some: as "0.0"')])
    sized = Sized(SMALL_PERCENT, canvas.small(UNIT_ARCMIN[0]))
    return canvas.face(use, min(sized.height(capital_height), capital_height), sized=sized)


def _shown(form: Format, value: Typed, ends: Phrase | None, canvas: Canvas) -> tuple[int, int]:
    """The first and last integer of the part of the value's range that a scale shows, or of all."""
    low, high = value.low, value.high
    if ends is not None:
        first, last = (canvas.limit(end, value) for end in ends.values)
        if max(first, low) < min(last, high):
            low, high = max(first, low), min(last, high)
    reach = extent(form, low, high)
    return reach.offset, reach.offset + reach.count - 1


def _tail(form: Format, face: Face) -> int:
    """Rows of a comma below the figures' cells."""
    return face.cells.tail if form.decimals and form.point == COMMA else 0


def foot_room(number: Number, canvas: Canvas) -> int:
    """What is left free below the figures' foot at the lower edge of a place."""
    return max(canvas.px(EDGE_MM), number.below)


def number_left(number: Number, about: Box, within: Box) -> int:
    """The left edge that puts the number as most of the range shows it, with its unit, in the middle
    of ``about``. The room of a rarer longer one, or of a minus, hangs out to the left of that, as
    far as ``within`` has room, so that no figure ever moves."""
    right = about.left + aligned(number.usual_width, about.width) + number.usual_width
    return max(within.left, min(right, within.left + within.width) - number.width)


def fit_width(number: Number, there: int, what: str, span: Span, canvas: Canvas, *, share: int = 1) -> None:
    """Raises ``DesignError`` A350 when the number is wider than its place."""
    # The unit may be as small as it can be already.
    fixed = number.width - number.figures_width
    fewer = "show fewer decimals" if number.form.decimals and not number.form.sixties else ""
    why = "the longest that its range can show"
    letters = number.height
    canvas.fit(
        number.width, there, what, span, letters=letters, fixed=fixed, shorter=fewer, why=why, share=share
    )


def longest(number: Number) -> str:
    """The longest text the number can be, to name in a finding."""
    low, high = number.offset, number.offset + number.count - 1
    widest = max((rendered(number.form, low), rendered(number.form, high)), key=len)
    return f"{widest} {number.form.unit}".rstrip()


def place_number(
    number: Number,
    at: tuple[int, int],
    ink: Ink,
    span: Span,
    canvas: Canvas,
    *,
    urgency: int = 2,
    when: When | None = None,
    reading: bool | None = None,
) -> int:
    """Figures and unit with their left edge and capital top at ``at``. Gives the channel. With a
    ``when`` they belong to a caption, if they are not said to be a ``reading``."""
    left, top = at
    form = number.form
    cells = number.face.cells
    box = Box(left, top - cells.rise, number.figures_width, cells.height + _tail(form, number.face))
    figures = Figures(
        box,
        0,
        canvas.artwork.figure_set(number.face, number.small),
        number.offset,
        1,
        form.least,
        min(number.places, max(1, number.figures_width // cells.advance)),
        form.point if form.decimals else 0,
        form.decimals,
        form.plus,
        form.sixties,
        ink,
        when,
        number.small is not None,
    )
    if number.count > MOST_STEPS:
        channel = _in_two_parts(number, figures, span, canvas, urgency)
    else:
        steps = Scaled(number.offset * step_size(form), step_size(form), number.count)
        channel = canvas.channel(Channel(number.value, steps, urgency=urgency))
        canvas.operations.append(replace(figures, channel=channel))
    reading = when is None if reading is None else reading
    canvas.note_text(span, longest(number), number.small or number.face, box, reading, figures=True)
    place_unit(number.unit, (left + number.figures_width, top), span, canvas, when=when)
    return channel


def place_unit(
    unit: Unit, at: tuple[int, int], span: Span, canvas: Canvas, *, when: When | None = None
) -> None:
    """A unit behind figures that end, with the top of their capitals, at ``at``."""
    if unit.text:
        quiet = canvas.artwork.ink("quiet")
        canvas.set_glyphs(unit.text, unit.face, unit.placed, at, ink=quiet, span=span, when=when)


def _in_two_parts(number: Number, whole: Figures, span: Span, canvas: Canvas, urgency: int) -> int:
    """The figures of a number with more steps than one channel can tell, on two: the last four places, and
    what stands before them, which is only painted while it is not zero. Gives the channel of the last."""
    form = number.form
    one = number.offset < 0 or form.sixties or form.decimals >= LOWER_PLACES or whole.when is not None
    most = MOST_STEPS if one else MOST_STEPS * LOWER
    if max(number.count, number.offset + number.count) > most:
        step, below = number_text(step_size(form)), " of a number below zero" if number.offset < 0 else ""
        message = f"{longest(number)} in steps of {step} has {number.count} steps, {most} can be sent{below}"
        raise DesignError([error("A346", message, span, "show fewer decimals or narrow the range")])
    scale = Scaled(0.0, step_size(form), number.offset + number.count)
    parts = [Channel(number.value, Places(scale, upper), urgency=urgency) for upper in (False, True)]
    lower, upper = map(canvas.channel, parts)
    doubt, short = When(upper, 0, LIVE - 1), When(upper, LIVE, LIVE)
    long = When(upper, LIVE + 1, LIVE + MOST_STEPS)
    width = figures_width(form, number.face, number.small, LOWER_PLACES, sign=False)
    box = whole.box
    first = Box(box.left, box.top, box.width - width, box.height)
    rest = Box(first.left + first.width, box.top, width, box.height)
    whole = replace(whole, channel=lower, offset=0, when=short)
    last = replace(whole, box=rest, least=LOWER_PLACES, places=LOWER_PLACES, plus=False, when=long)
    before = replace(
        whole,
        box=first,
        channel=upper,
        least=max(1, form.least - LOWER_PLACES),
        places=number.places - LOWER_PLACES,
        point=0,
        point_after=0,
        when=long,
        small=False,
    )
    # Parts that come one after the other never show the last places alone.
    unknown = replace(whole, channel=upper, when=doubt)
    canvas.operations += [unknown, whole, before, last]
    return lower


def colouring(widget: Widget, value: Typed, base: str, canvas: Canvas, urgency: int = 2) -> Ink:
    """The ink that the widget's ``colour``, ``filled by ramp``, ``above`` and ``below`` ask for.

    Where limits overlap, the gravest counts, see ``beyond``. A value at a limit counts as beyond an
    ``above`` and not yet beyond a ``below``.
    """
    limits = limits_of(widget, value, canvas)
    base = canvas.role(widget.one(PhraseKind.COLOUR), base)
    if widget.one(PhraseKind.RAMP) is None and not limits:
        return canvas.artwork.ink(base)
    entries, edges = _base_entries(widget, value, base, canvas)
    cuts = sorted({*edges, *(limit for _, limit, _ in limits)})
    palette: list[Key] = []
    order: list[int] = []
    for band in range(len(cuts) + 1):
        inside = _inside(cuts, band)
        role = beyond(limits, inside)
        key = canvas.artwork.role_entry(role) if role else entries[sum(inside >= edge for edge in edges)]
        if key not in palette:
            palette.append(key)
        order.append(palette.index(key))
    steps = Bands(tuple(cuts), tuple(order), len(palette))
    return canvas.artwork.entries(palette, canvas.channel(Channel(value, steps, urgency=urgency)))


def glide_of(widget: Widget, canvas: Canvas) -> float:
    """Seconds within which a needle or filling glides to its value; 0 where it jumps. Raises ``DesignError``
    A389."""
    phrase = widget.one(PhraseKind.GLIDES)
    if phrase is None:
        return 0.0
    seconds = canvas.constant(phrase.values[0], "s")
    if SHORTEST_GLIDE <= seconds <= LONGEST_GLIDE:
        return seconds
    message = f"what glides within {written(phrase.values[0])} shows too much of what was"
    if seconds < SHORTEST_GLIDE:
        message = f"nobody sees anything glide within {written(phrase.values[0])}"
    least, most = 1000 * SHORTEST_GLIDE, 1000 * LONGEST_GLIDE
    remedy = f"write glides within 300 ms, or another time from {least:g} ms to {most:g} ms"
    raise DesignError([error("A389", message, phrase.span, remedy)])


def states_of(widget: Widget, canvas: Canvas) -> tuple[int, list[str]]:
    """The channel of the widget's ``while`` phrases, step 0 where none holds, and the role of each."""
    phrases = widget.all(PhraseKind.STATE)
    roles = [canvas.role(phrase) for phrase in phrases]
    conditions = tuple(canvas.flag(phrase.values[0]) for phrase in phrases)
    urgency = min(URGENCY.get(role, 2) for role in roles)
    steps = FirstTrue(conditions, tuple(map(gravity, roles)))
    return canvas.channel(Channel(None, steps, urgency=urgency)), roles


def text_ink(widget: Widget, canvas: Canvas) -> Ink:
    """The ink of words: their colour, or that of the gravest state that holds. Raises ``DesignError``
    A302 for a flashing one."""
    base = canvas.role(widget.one(PhraseKind.COLOUR), "ink")
    for phrase in widget.all(PhraseKind.STATE):
        if "flashing" in phrase.words:
            remedy = f"write {written_phrase(phrase)}, or add a lamp: a lamp can flash"
            raise DesignError([error("A302", f"{widget.kind} do not flash", phrase.span, remedy)])
    if not widget.all(PhraseKind.STATE):
        return canvas.artwork.ink(base)
    channel, roles = states_of(widget, canvas)
    return canvas.artwork.inks([base, *roles], channel)


def written_phrase(phrase: Phrase) -> str:
    """A ``while`` phrase as it would be without flashing."""
    role = next(word for word in phrase.words if word != "flashing")
    return f"{role} while {written(phrase.values[0])}"


def number_ink(widget: Widget, canvas: Canvas) -> Ink:
    """The ink of a bar's or level's figures: limits colour them, a ramp or plain colour does not."""
    assert widget.subject is not None
    limits = tuple(phrase for phrase in widget.phrases if phrase.kind in (PhraseKind.ABOVE, PhraseKind.BELOW))
    return colouring(replace(widget, phrases=limits), canvas.number(widget.subject), "ink", canvas)


def limits_of(widget: Widget, value: Typed, canvas: Canvas) -> list[Limit]:
    """(``above`` or ``below``, limit in the value's unit, role) of each limit phrase. Those that make
    no difference are told."""
    phrases = [phrase for phrase in widget.phrases if phrase.kind in (PhraseKind.ABOVE, PhraseKind.BELOW)]
    limits = [(phrase.kind, canvas.limit(phrase.values[0], value), canvas.role(phrase)) for phrase in phrases]
    for limit, phrase in zip(limits, phrases, strict=True):
        found = _without_difference(limit, phrase, limits, value)
        # A widget may ask for its limits twice, for a bar and for its figures.
        if found is not None and found not in canvas.findings:
            canvas.findings.append(found)
    return limits


def _without_difference(limit: Limit, phrase: Phrase, limits: list[Limit], value: Typed) -> Finding | None:
    """M211: a limit that the value is always or never beyond, or where a graver one always holds."""
    kind, number, role = limit
    unit, said = value.unit.spelling if value.unit else "", written(phrase.values[0])
    always, never = (number < value.low, number > value.high)
    if kind == PhraseKind.BELOW:
        always, never = (number > value.high, number <= value.low)
    if always or never:
        held = "always" if always else "never"
        low, high = numbers(value.low, value.high)
        message = f"the value is {held} {kind} {said}: it goes from {low} to {high} {unit}"
        remedy = f"use a limit from {at_least(value.low)} to {at_most(value.high)} {unit}"
        return warning("M211", message.rstrip(), phrase.span, remedy.rstrip())
    side = 1 if kind == PhraseKind.ABOVE else -1
    for other_kind, other, graver in limits:
        if other_kind == kind and gravity(graver) > gravity(role) and side * other <= side * number:
            message = (
                f"'{graver} {kind} {number_text(other)} {unit}".rstrip()
                + f"' holds wherever '{role} {kind} {said}' does"
            )
            way = "below" if kind == PhraseKind.ABOVE else "above"
            remedy = f"set the limit of {role} {way} {number_text(other)} {unit}"
            return warning("M211", message, phrase.span, remedy.rstrip())
    return None


def _base_entries(widget: Widget, value: Typed, base: str, canvas: Canvas) -> tuple[list[Key], list[float]]:
    phrase = widget.one(PhraseKind.RAMP)
    if phrase is None:
        return [canvas.artwork.role_entry(base)], []
    low, high = scale(widget, value, canvas)
    entries = canvas.artwork.ramp_entries(phrase.words[0], RAMP_STEPS, phrase.span)
    return entries, [low + (high - low) * i / RAMP_STEPS for i in range(1, RAMP_STEPS)]


def _inside(cuts: list[float], band: int) -> float:
    """A value inside a band between cuts."""
    if band == 0:
        return cuts[0] - 1
    if band == len(cuts):
        return cuts[-1] + 1
    return (cuts[band - 1] + cuts[band]) / 2


def beyond(limits: list[Limit], value: float) -> str | None:
    """The role that counts of the limits which a value is beyond: the gravest, whatever its side; of
    those as grave the one furthest out, above before below."""
    sides = [(kind == PhraseKind.ABOVE, at, role) for kind, at, role in limits]
    above = [(gravity(role), at, role) for is_above, at, role in sides if is_above and value >= at]
    below = [(gravity(role), -at, role) for is_above, at, role in sides if not is_above and value < at]
    held = [max(side) for side in (above, below) if side]
    return max(held, key=lambda one: one[0])[2] if held else None
