"""list: the titles of a media source, a page at a time; a touch asks for a row."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from hmic.arrange.canvas import Canvas, inset
from hmic.arrange.letters import text_line
from hmic.arrange.plan import share_out
from hmic.arrange.subjects import SubjectKind
from hmic.arrange.touch import control, guarded, output, sign_room
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Name, PhraseKind, Quantity, Widget, phrase_kinds
from hmic.model.actions import SetToRow, TurnPage, ZoneAction
from hmic.model.channels import Channel, Listed
from hmic.model.expressions import Lookup, Typed, Value, ValueKind
from hmic.model.shown import chosen_in_row, title_in_row
from hmic.model.touch_progress import page_signal
from hmic.paint import shapes
from hmic.paint.operations import Box, Frame, Stencil

SUBJECT = SubjectKind.VALUE
PHRASES = phrase_kinds("showing marked sets text allowed refused")
LIST_ARCMIN = 18
TURN_MM = 11.0
LEAST_MM = 2.0
MOST_ROWS = 12


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Rows of titles at the left, the targets that turn the page at the right."""
    assert widget.subject is not None
    value = canvas.typed(widget.subject)
    if value.kind != ValueKind.TEXT or value.count is None:
        message = "a list needs an array of texts"
        raise DesignError(
            [error("A374", message, widget.subject.span, "declare it with text: true and a count")]
        )
    rows = _rows(widget)
    pages = page_signal(canvas.screen, canvas.count_list())
    gap, turn = canvas.px(1.2), canvas.px(TURN_MM)
    body = Box(box.left, box.top, box.width - turn - gap, box.height)
    canvas.fit(turn, body.width, "a title of the list", widget.head, least=True)
    least = rows * (canvas.px(LEAST_MM) + gap) - gap
    canvas.fit(least, box.height, f"the list with {rows} rows", widget.head, height=True, least=True)
    heights = share_out(body.height - gap * (rows - 1), [None] * rows, [Fraction(1)] * rows)
    face = canvas.lettering(widget, LIST_ARCMIN)
    letters, room = face.capital_height, min(heights) - canvas.px(1)
    canvas.fit(face.line_height, room, "a row of the list", widget.head, height=True, letters=letters)
    top = body.top
    for row, height in enumerate(heights):
        place = Box(body.left, top, body.width, height)
        _row(widget, value, (pages, rows, row), place, canvas)
        top += height + gap
    last = max(0, -(-value.count // rows) - 1)
    _turns(widget, Box(box.left + box.width - turn, box.top, turn, box.height), (pages, last), canvas)


def _rows(widget: Widget) -> int:
    phrase = widget.one(PhraseKind.SHOWING)
    count = phrase.values[0] if phrase else None
    whole = isinstance(count, Quantity) and not count.unit and count.number.denominator == 1
    if isinstance(count, Quantity) and whole and 1 <= count.number <= MOST_ROWS:
        return int(count.number)
    span = phrase.span if phrase else widget.head
    raise DesignError([error("A375", f"a list shows 1 to {MOST_ROWS} rows", span, "add showing 5 rows")])


def _row(widget: Widget, value: Typed, row: tuple[str, int, int], place: Box, canvas: Canvas) -> None:
    pages, rows, number = row
    phrase = widget.one(PhraseKind.SETS)
    if phrase is not None:
        target, what = phrase.values
        if not (isinstance(what, Name) and what.name == "row"):
            raise DesignError(
                [error("A375", "a list sets its output to row", phrase.span, "sets NAME to row")]
            )
        action = guarded(SetToRow(output(target, canvas).name, pages, rows, number), widget.phrases, canvas)
        with control(widget.phrases, place, action, widget.head, canvas):
            _title(widget, value, row, inset(place, 0, 0, sign_room(canvas), 0), canvas)
    else:
        _title(widget, value, row, inset(place, 0, 0, canvas.px(2), 0), canvas)


def _title(widget: Widget, value: Typed, row: tuple[str, int, int], place: Box, canvas: Canvas) -> None:
    inner = inset(place, canvas.px(3.5), 0, 0, 0)
    marked = widget.one(PhraseKind.MARKED)
    if marked is not None:
        _mark(canvas.number(marked.values[0]), row, place, canvas)
    face = canvas.lettering(widget, LIST_ARCMIN)
    text_line(
        _titled(value, row),
        None,
        face,
        place=inner,
        ink=canvas.artwork.ink("ink"),
        widget=widget,
        canvas=canvas,
    )


def _mark(chosen: Typed, row: tuple[str, int, int], place: Box, canvas: Canvas) -> None:
    """A bar at the left edge of the row that is chosen; nothing while that is in doubt."""
    channel = canvas.channel(Channel(_chosen(chosen, row), Listed((False, True))))
    edge = canvas.px(1.2)
    pad = canvas.px(0.8)
    bar = Box(place.left + pad, place.top + pad, edge, place.height - 2 * pad)
    corner = canvas.rounded(shapes.corner(max(1, edge // 2)))
    canvas.operations.append(Frame(bar, corner, canvas.artwork.inks(["surface", "accent"], channel)))


def _titled(value: Typed, row: tuple[str, int, int]) -> Typed:
    """The title in a row of the page in sight; an empty text beyond the last."""
    return _made(ValueKind.TEXT, value.signals | {row[0]}, title_in_row(value.evaluate, *row))


def _chosen(chosen: Typed, row: tuple[str, int, int]) -> Typed:
    return _made(ValueKind.FLAG, chosen.signals | {row[0]}, chosen_in_row(chosen.evaluate, *row))


def _made(kind: ValueKind, signals: frozenset[str], evaluate: Callable[[Lookup], Value]) -> Typed:
    return Typed(kind, None, None, 0.0, 0.0, (), signals, evaluate)


def _turns(widget: Widget, column: Box, turning: tuple[str, int], canvas: Canvas) -> None:
    pages, last = turning
    gap = canvas.px(1.2)
    height = (column.height - gap) // 2
    side = canvas.px(5)
    for degrees, by, top in ((0, -1, column.top), (180, 1, column.top + column.height - height)):
        target = Box(column.left, top, column.width, height)
        action = ZoneAction(TurnPage(pages, by, last))
        place = Box(target.left + (target.width - side) // 2, top + (height - side) // 2, side, side)
        mask = canvas.artwork.mask(shapes.arrowhead(side, degrees))
        with control(widget.phrases, target, action, widget.head, canvas):
            canvas.operations.append(Stencil(place, mask, canvas.artwork.ink("ink")))
