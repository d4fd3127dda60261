"""Texts that come over the line: letter sets, and a line of them."""

from __future__ import annotations

from hmic.arrange.canvas import Canvas
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Widget
from hmic.model.channels import Channel, Lettering, Spelt
from hmic.model.expressions import Typed
from hmic.paint.fonts import Face
from hmic.paint.operations import Box, Glyph, Ink, Letter, Letters, LetterSet
from hmic.paint.scripts import unset

ELLIPSIS, UNKNOWN = "…", "?"
MOST_LETTERS = 64
# Narrowest letter a title is made of, in parts of the capital height; bounds the letters a line needs.
NARROW = 0.42
MARKS = ("·", "–", "!")


def text_line(
    value: Typed,
    element: int | None,
    face: Face,
    *,
    place: Box,
    ink: Ink,
    widget: Widget,
    canvas: Canvas,
) -> int:
    """A line of changing text in ``place``, cut with an ellipsis where it is too long. Gives the
    number of its first channel. Raises ``DesignError`` A394 for letters that cannot be set."""
    _check_letters(widget, canvas)
    letters = "".join(sorted(set(canvas.design.letters) - {ELLIPSIS, UNKNOWN})) + UNKNOWN + ELLIPSIS
    advances = tuple(face.measure(letter) + face.spacing for letter in letters)
    most = min(MOST_LETTERS, max(4, int(place.width / (NARROW * face.capital_height))))
    lettering = Lettering(letters, advances, place.width, most)
    channels = [Channel(value, Spelt(lettering, number), element) for number in range(most)]
    first = canvas.artwork.channels_in_row(channels)
    number = canvas.artwork.letter_set(letter_set(letters, face, canvas))
    rise = face.ascent - face.capital_height
    top = place.top + (place.height - face.capital_height) // 2 - rise
    box = Box(place.left, max(0, top), place.width, face.line_height)
    canvas.operations.append(Letters(box, first, most, number, ink))
    canvas.note_text(widget.head, "a text", face, box)
    return first


def _check_letters(widget: Widget, canvas: Canvas) -> None:
    wrong = [found for found in map(unset, canvas.design.letters) if found is not None]
    if wrong:
        message = f"of the letters that this text can have, {wrong[0].message}"
        remedy = "take its range out of `letters` in design.yaml; a letter that is not among them shows as ?"
        raise DesignError([error("A394", message, widget.head, remedy)])


def letter_set(letters: str, face: Face, canvas: Canvas) -> LetterSet:
    """The glyphs of ``letters`` and of the marks of doubt; glyph tops count from the ascent."""
    rise = face.ascent - face.capital_height

    def letter(char: str) -> Letter:
        placed, advance = face.glyphs(char), face.measure(char) + face.spacing
        if not placed:
            return Letter(Glyph(canvas.artwork.blank(), 0, 0), advance)
        mask, left, top = placed[0]
        return Letter(Glyph(canvas.artwork.mask(mask), left, top + rise), advance)

    unseen, stale, out = (letter(mark) for mark in MARKS)
    return LetterSet(face.line_height, tuple(letter(char) for char in letters), (unseen, stale, out))
