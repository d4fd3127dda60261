"""switch: asks for on or off, and shows what the vehicle says it is."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas, aligned, live, phrase_text
from hmic.arrange.fitting import millimetres
from hmic.arrange.touch import control, guarded, output
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import PhraseKind, Signal, Widget, phrase_kinds
from hmic.model.actions import ToggleOutput
from hmic.model.builtin import OFF, ON
from hmic.model.channels import Channel, Listed
from hmic.model.expressions import Typed, ValueKind
from hmic.paint import shapes
from hmic.paint.operations import Box, Stencil, When

SUBJECT = "signal"
PHRASES = phrase_kinds("text called allowed held confirmed refused")
TRACK_MM = (13.0, 7.0)
SWITCH_ARCMIN = 18
WORD_ARCMIN = 14
MOST_MM = (90.0, 34.0)


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Caption, and a knob that stands at the end that the read-back signal says."""
    assert isinstance(widget.subject, Signal)
    name = output(widget.subject, canvas).name
    typed = canvas.typed(widget.subject)
    if typed.kind != ValueKind.FLAG:
        message = f"a switch needs a flag, '{name}' is a {typed.kind}"
        raise DesignError([error("A349", message, widget.subject.span, "use choice, stepper or slider")])
    action = guarded(ToggleOutput(name), widget.phrases, canvas)
    body = _body(box, canvas)
    with control(widget.phrases, body, action, widget.head, canvas):
        _content(widget, typed, body, canvas)


def _body(box: Box, canvas: Canvas) -> Box:
    """The middle of a place that is larger than a switch needs."""
    width, height = (
        min(canvas.px(most), size) for most, size in zip(MOST_MM, (box.width, box.height), strict=True)
    )
    return Box(box.left + (box.width - width) // 2, box.top + (box.height - height) // 2, width, height)


def _content(widget: Widget, typed: Typed, box: Box, canvas: Canvas) -> None:
    channel = canvas.channel(Channel(typed, Listed((False, True))))
    caption = phrase_text(widget.one(PhraseKind.CALLED))
    face = canvas.face("text", canvas.capital_height(widget, SWITCH_ARCMIN))
    width, height = (canvas.px(side) for side in TRACK_MM)
    gap = canvas.px(2.5)
    words = canvas.face("text", canvas.small(WORD_ARCMIN))
    beside = max(words.measure(canvas.said(word)) for word in (OFF, ON)) + gap
    what, letters = f'the switch "{caption}"', face.capital_height
    _fit_track(widget, width, beside, box.width - 2 * gap, canvas)
    canvas.fit(face.measure(caption), box.width - 2 * gap, what, widget.head, letters=letters)
    above = letters + gap if caption else 0
    room, fixed = box.height - canvas.px(2), height + gap
    panel = canvas.design.panel
    why = f"{millimetres(above, panel)} for the caption, {millimetres(height, panel)} for the track"
    scaled = letters if caption else None
    canvas.fit(height + above, room, what, widget.head, True, letters=scaled, fixed=fixed, why=why)
    total = height + above
    top = box.top + (box.height - total) // 2
    if caption:
        left = box.left + aligned(face.measure(caption), box.width)
        canvas.text(caption, face, (left, top), canvas.artwork.ink("ink"), widget.head)
        top += face.capital_height + gap
    track = Box(box.left + (box.width - width - beside) // 2, top, width, height)
    _track(track, channel, canvas)
    middle = top + (height - words.capital_height) // 2
    for step, word in enumerate((OFF, ON)):
        when = When(channel, live(step), live(step))
        at = (track.left + width + gap, middle)
        canvas.text(canvas.said(word), words, at, canvas.artwork.ink("quiet"), widget.head, when=when)


def _fit_track(widget: Widget, width: int, beside: int, there: int, canvas: Canvas) -> None:
    """Raises ``DesignError`` A350 when the track and the longer of its words are wider than there is
    room for."""
    words = canvas.face("text", canvas.small(WORD_ARCMIN))
    word = max((OFF, ON), key=lambda word: words.measure(canvas.said(word)))
    panel = canvas.design.panel
    why = (
        f"{millimetres(width, panel)} for the track, {millimetres(beside, panel)} for the word "
        f'"{canvas.said(word)}"'
    )
    ways = (f'say "{word}" by a shorter word in words/',) if canvas.said(word) != word else ()
    canvas.fit(width + beside, there, "the switch", widget.head, shorter="", least=True, why=why, ways=ways)


def _track(track: Box, channel: int, canvas: Canvas) -> None:
    mask = canvas.artwork.mask(shapes.rounded(track.width, track.height, track.height // 2))
    canvas.operations.append(Stencil(track, mask, canvas.artwork.inks(["line", "good"], channel)))
    margin = max(2, canvas.px(0.6))
    side = track.height - 2 * margin
    knob = canvas.artwork.mask(shapes.disc(side))
    places = ((track.left + margin, "ink"), (track.left + track.width - margin - side, "ground"))
    for step, (left, role) in enumerate(places):
        place = Box(left, track.top + margin, side, side)
        when = When(channel, live(step), live(step))
        canvas.operations.append(Stencil(place, knob, canvas.artwork.ink(role), when))
