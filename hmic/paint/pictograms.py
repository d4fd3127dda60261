"""Pictograms: small drawings in text, turned into coverage masks of any size.

Each is a file of ``pictograms/``, drawn for this project; the sentences are explained in
``PICTOGRAMS.md``.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import NamedTuple, TypeVar

from hmic.paint.operations import Mask
from hmic.paint.raster import UNIT, Point, Samples, arc, bezier, divided, rounded_box, turned
from hmic.paint.remembered import remembered

# Lengths of a drawing are kept in thousandths of the grid.
PART = 1000
GRID = 48
_MIDDLE = GRID * PART // 2
_PEN = 4 * PART
_FOLDER = Path(__file__).with_name("pictograms")

_TOKEN = re.compile(r"\s*(?:(-?\d+(?:\.\d+)?),(-?\d+(?:\.\d+)?)|(-?\d+(?:\.\d+)?)|([a-z]+))(?=\s|$)")
Token = Point | int | str
T = TypeVar("T")


class DrawingError(ValueError):
    """A sentence of a pictogram file that cannot be read; the text says which and why."""


class Way(NamedTuple):
    """A start and then pieces: the controls (none, one or two) and end of each."""

    start: Point
    pieces: tuple[tuple[Point, ...], ...]
    closed: bool


class _Box(NamedTuple):
    corner: Point
    opposite: Point
    radius: int


class _Circle(NamedTuple):
    centre: Point
    radius: int


class Area(NamedTuple):
    """What closed ways enclose together, by the even-odd rule or else the non-zero rule."""

    ways: tuple[Way, ...]
    even_odd: bool


_Shape = Way | _Box | _Circle | Area


Verb = StrEnum("Verb", "DRAW FILL CLEAR")


class Sentence(NamedTuple):
    """``width`` is the pen's, None to take the inside."""

    verb: Verb
    shape: _Shape
    width: int | None


class Picture(NamedTuple):
    """A drawing as read: what it means, and its sentences in the order they paint."""

    words: str
    sentences: tuple[Sentence, ...]
    sharpened: bool = True
    """Whether the pen and straight lines move to whole pixels."""


@cache
def names() -> tuple[str, ...]:
    """All pictograms, in alphabetical order."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.path")))


def words(name: str) -> str:
    """What the picture means, in plain words. KeyError when there is no such pictogram."""
    return _picture(name).words


@remembered
def draw(name: str, width: int, height: int) -> Mask:
    """The pictogram as large as fits in ``width`` by ``height`` pixels, centred.

    The pen is a whole number of pixels, and straight upright and level lines lie on whole pixels,
    so that they stay sharp at every size. KeyError when there is no such pictogram.
    """
    return draw_picture(_picture(name), width, height)


def draw_picture(picture: Picture, width: int, height: int) -> Mask:
    """A drawing as large as fits in ``width`` by ``height`` pixels, centred."""
    fit = _fit(width, height, picture.sharpened)
    samples = Samples(width, height)
    for sentence in picture.sentences:
        layer = samples if sentence.verb != Verb.CLEAR else Samples(width, height)
        _paint(layer, sentence, fit)
        if layer is not samples:
            samples.remove(layer)
    return samples.mask()


class _Fit(NamedTuple):
    """The grid on the mask: ``extent`` pixels square, its middle at ``x``, ``y`` in units."""

    extent: int
    x: int
    y: int

    def length(self, parts: int) -> int:
        return divided(parts * self.extent * UNIT, GRID * PART)

    def pen(self, parts: int) -> int:
        """A pen's width in units: whole pixels of the extent's parity, at least one pixel."""
        wish = self.length(parts)
        if self.extent % 2:
            return max(1, 2 * divided(wish - UNIT, 2 * UNIT) + 1) * UNIT
        return max(2, 2 * divided(wish, 2 * UNIT)) * UNIT

    def place(self, point: Point, sharp: tuple[bool, bool] = (False, False), on_edge: bool = False) -> Point:
        """A point of the grid in units; a sharp coordinate goes to the nearest place where a pen
        (or with ``on_edge`` the edge of an area) falls on whole pixels."""
        return (
            self.x + self._away(point[0] - _MIDDLE, sharp[0], on_edge),
            self.y + self._away(point[1] - _MIDDLE, sharp[1], on_edge),
        )

    def _away(self, parts: int, sharp: bool, on_edge: bool) -> int:
        away = self.length(parts)
        if not sharp:
            return away
        if on_edge and self.extent % 2:
            return (2 * divided(abs(away) - UNIT // 2, UNIT) + 1) * (UNIT // 2) * (1 if away >= 0 else -1)
        return divided(away, UNIT) * UNIT


def _fit(width: int, height: int, sharpened: bool) -> _Fit:
    extent = min(width, height)
    pen = divided(extent * _PEN, GRID * PART)
    if sharpened and extent > 12 and (extent - pen) % 2:
        extent -= 1
    left, top = (width - extent) // 2, (height - extent) // 2
    return _Fit(extent, left * UNIT + extent * UNIT // 2, top * UNIT + extent * UNIT // 2)


def _paint(samples: Samples, sentence: Sentence, fit: _Fit) -> None:
    shape, width = sentence.shape, sentence.width
    pen = None if width is None else fit.pen(width)
    if isinstance(shape, _Circle):
        centre, radius = fit.place(shape.centre), fit.length(shape.radius)
        if pen is None:
            samples.disc(centre, radius)
        else:
            samples.ring(centre, radius + pen // 2, radius - pen // 2)
        return
    if isinstance(shape, _Box):
        left, top = fit.place(shape.corner, (True, True), pen is None)
        right, bottom = fit.place(shape.opposite, (True, True), pen is None)
        radius, half = fit.length(shape.radius), (pen or 0) // 2
        outlines = [rounded_box(left - half, top - half, right + half, bottom + half, radius + half)]
        if pen is not None:
            outlines.append(rounded_box(left + half, top + half, right - half, bottom - half, radius - half))
        samples.polygon(outlines, even_odd=True)
        return
    if isinstance(shape, Area):
        samples.polygon([_as_drawn(way, fit) for way in shape.ways], shape.even_odd)
        return
    outline = _outline(shape, fit, pen is None)
    if pen is None:
        samples.polygon([outline])
    else:
        samples.stroke(outline, pen, shape.closed)


def _outline(path: Way, fit: _Fit, on_edge: bool) -> list[Point]:
    """The path's points in units, curves broken into short lines."""
    knots = [path.start, *(piece[-1] for piece in path.pieces)]
    straight = [(a, b) for a, b, piece in zip(knots, knots[1:], path.pieces, strict=False) if len(piece) == 1]
    if path.closed:
        straight.append((knots[-1], knots[0]))
    upright = {
        point for line in straight if line[0][0] == line[1][0] and line[0] != line[1] for point in line
    }
    level = {point for line in straight if line[0][1] == line[1][1] and line[0] != line[1] for point in line}

    def placed(point: Point) -> Point:
        return fit.place(point, (point in upright, point in level), on_edge)

    return _points(path, fit.place, placed)


def _as_drawn(path: Way, fit: _Fit) -> list[Point]:
    return _points(path, fit.place, fit.place)


def _points(path: Way, control: Callable[[Point], Point], knot: Callable[[Point], Point]) -> list[Point]:
    points = [knot(path.start)]
    for piece in path.pieces:
        if len(piece) == 1:
            points.append(knot(piece[0]))
        else:
            points += bezier([points[-1], *(control(each) for each in piece[:-1]), knot(piece[-1])])[1:]
    return points


@cache
def _picture(name: str) -> Picture:
    if name not in names():
        raise KeyError(name)
    return read(name, (_FOLDER / f"{name}.path").read_text(encoding="utf-8"))


def read(name: str, text: str) -> Picture:
    """The drawing that a file's text describes. DrawingError names the line that is wrong."""
    meaning = ""
    sentences: list[Sentence] = []
    for number, line in enumerate(text.splitlines(), 1):
        said = line.split("#")[0].strip()
        try:
            if said.startswith("means "):
                meaning = said.removeprefix("means ").strip()
            elif said:
                sentences += _Reader(said).sentences()
        except DrawingError as wrong:
            raise DrawingError(f"{name}.path line {number}: {wrong}") from None
    if not meaning or not sentences:
        raise DrawingError(f"{name}.path: a pictogram needs a 'means' line and at least one drawing sentence")
    return Picture(meaning, tuple(sentences))


class _Reader:
    """Reads one sentence, token by token."""

    def __init__(self, text: str) -> None:
        self._tokens: list[Token] = []
        at = 0
        while at < len(text):
            match = _TOKEN.match(text, at)
            if match is None:
                raise DrawingError(f"cannot read '{text[at:].strip()}'")
            x, y, number, word = match.groups()
            self._tokens.append(word or (_parts(number) if number else (_parts(x), _parts(y))))
            at = match.end()

    def sentences(self) -> list[Sentence]:
        word = self._word()
        if word not in set(Verb):
            raise DrawingError(f"a sentence begins with draw, fill or clear, not '{word}'")
        verb = Verb(word)
        shape = self._shape()
        width = _PEN if verb == Verb.DRAW else None
        shapes = [shape]
        while self._tokens:
            word = self._word()
            if word == "wide" and verb != Verb.FILL:
                width = self._number()
            elif word == "mirrored":
                shapes += [_mapped(each, _mirror) for each in shapes]
            elif word == "turned":
                shapes = _around(shapes, self._number() // PART, self._centre())
            else:
                raise DrawingError(f"'{word}' says nothing here")
        return [Sentence(verb, each, width) for each in shapes]

    def _shape(self) -> _Shape:
        kind = self._word()
        if kind == "box":
            corner, opposite = self._point(), self._after("to", self._point)
            return _Box(corner, opposite, self._after("rounded", self._number) if self._is("rounded") else 0)
        if kind == "circle":
            return _Circle(self._point(), self._after("radius", self._number))
        if kind == "arc":
            centre, radius = self._point(), self._after("radius", self._number)
            start, end = self._after("from", self._number), self._after("to", self._number)
            points = arc(centre, radius, start // PART, end // PART)
            return Way(points[0], tuple((point,) for point in points[1:]), False)
        if kind == "path":
            return self._path()
        raise DrawingError(f"a shape is a path, box, circle or arc, not '{kind}'")

    def _path(self) -> Way:
        start = self._point()
        pieces: list[tuple[Point, ...]] = []
        while self._is("to") or self._is("by"):
            piece: list[Point] = []
            while self._is("by") and len(piece) < 2:
                piece.append(self._after("by", self._point))
            piece.append(self._after("to", self._point))
            pieces.append(tuple(piece))
        closed = self._is("closed")
        if closed:
            self._word()
        return Way(start, tuple(pieces), closed)

    def _centre(self) -> Point:
        self._after("times", lambda: None)
        return self._after("about", self._point) if self._is("about") else (_MIDDLE, _MIDDLE)

    def _is(self, word: str) -> bool:
        return bool(self._tokens) and self._tokens[0] == word

    def _after(self, word: str, read: Callable[[], T]) -> T:
        if not self._is(word):
            raise DrawingError(f"'{word}' is missing")
        self._tokens.pop(0)
        return read()

    def _word(self) -> str:
        token = self._tokens.pop(0) if self._tokens else None
        if not isinstance(token, str):
            raise DrawingError("a word is missing")
        return token

    def _number(self) -> int:
        token = self._tokens.pop(0) if self._tokens else None
        if not isinstance(token, int):
            raise DrawingError("a number is missing")
        return token

    def _point(self) -> Point:
        token = self._tokens.pop(0) if self._tokens else None
        if not isinstance(token, tuple):
            raise DrawingError("a point such as 24,8 is missing")
        return token


def _parts(number: str) -> int:
    whole, _, decimals = number.partition(".")
    parts = abs(int(whole)) * PART + int((decimals + "000")[:3])
    return -parts if number.startswith("-") else parts


def _mirror(point: Point) -> Point:
    return GRID * PART - point[0], point[1]


def _around(shapes: list[_Shape], times: int, centre: Point) -> list[_Shape]:
    """The shapes and their copies, ``times`` in all, evenly around the centre."""
    if times < 1 or 360 % times:
        raise DrawingError("'turned' needs a number of times that divides 360")

    def copy(shape: _Shape, i: int) -> _Shape:
        return _mapped(shape, lambda point: turned(point, centre, 360 // times * i))

    if any(isinstance(shape, _Box) for shape in shapes):
        raise DrawingError("a box cannot be turned: write it as a closed path")
    return [copy(shape, i) if i else shape for i in range(times) for shape in shapes]


def _mapped(shape: _Shape, move: Callable[[Point], Point]) -> _Shape:
    if isinstance(shape, _Circle):
        return _Circle(move(shape.centre), shape.radius)
    if isinstance(shape, _Box):
        (x0, y0), (x1, y1) = move(shape.corner), move(shape.opposite)
        return _Box((min(x0, x1), min(y0, y1)), (max(x0, x1), max(y0, y1)), shape.radius)
    if isinstance(shape, Area):
        return Area(tuple(_moved(way, move) for way in shape.ways), shape.even_odd)
    return _moved(shape, move)


def _moved(shape: Way, move: Callable[[Point], Point]) -> Way:
    pieces = tuple(tuple(move(point) for point in piece) for piece in shape.pieces)
    return Way(move(shape.start), pieces, shape.closed)
