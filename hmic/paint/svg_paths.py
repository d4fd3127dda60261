"""Pictograms out of SVG files: paths of one colour, and nothing else of SVG.

What would be drawn otherwise than by filling a path is refused with its place, so that no lamp lacks a piece
that its drawing has. Elements and attributes that draw nothing (titles, names, what drawing programs note for
themselves) are passed over. Nothing is fetched, and no entity is taken: a DOCTYPE is refused.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import NamedTuple, NoReturn
from xml.parsers import expat

from hmic.paint.pictograms import GRID, PART, Area, Picture, Sentence, Verb, Way, draw_picture
from hmic.paint.raster import Point

LARGEST_SVG = 64_000
"""Letters of a file: a pictogram is a few kB, a traced photograph is not."""
MOST_PIECES = 4_000
"""Lines and curves of a pictogram, so that it is painted in a moment."""
LEAST_SEEN = 24
"""Pixels of side at which something of a pictogram has to show."""

_SPACE = "http://www.w3.org/2000/svg"
_FARTHEST = 1e6
_SLACK = 0.005  # of the view's side: drawing programs round


MOST_REFUSED = 6
"""What is refused of a file before the rest of it is left unread."""


class Refused(ValueError):
    """What of a file is no pictogram: where it is (from which letter, how many), why, and the remedy; and
    what ``more`` of it is not."""

    def __init__(self, place: int, length: int, message: str, remedy: str) -> None:
        super().__init__(message)
        self.place, self.length, self.message, self.remedy = place, length, message, remedy
        self.more: tuple[Refused, ...] = ()


class _Style(NamedTuple):
    """What is inherited of how an area is filled; without a ``colour`` it is not."""

    colour: str | None = "black"
    even_odd: bool = False


class _View(NamedTuple):
    """The part of the plane that is the pictogram's square, or lies in the middle of it."""

    left: float
    top: float
    width: float
    height: float

    def placed(self, point: complex) -> Point:
        """A point in thousandths of the grid."""
        scale = GRID * PART / max(self.width, self.height)
        across = (point.real - self.left - self.width / 2) * scale
        down = (point.imag - self.top - self.height / 2) * scale
        return round(across) + GRID * PART // 2, round(down) + GRID * PART // 2

    def holds(self, point: complex) -> bool:
        """Whether a point lies in it, but for what is rounded."""
        slack = _SLACK * max(self.width, self.height)
        return (
            -slack <= point.real - self.left <= self.width + slack
            and -slack <= point.imag - self.top <= self.height + slack
        )


def read_svg(text: str) -> Picture:
    """The pictogram that the text of an SVG file draws. Raises ``Refused``."""
    if len(text) > LARGEST_SVG:
        message = f"it has {len(text)} letters, a pictogram at most {LARGEST_SVG}"
        raise Refused(0, 1, message, "draw it with fewer points")
    picture = _Reading(text).picture()
    coverage = draw_picture(picture, LEAST_SEEN, LEAST_SEEN).coverage
    if max(coverage) < 15:
        raise Refused(0, 1, "nothing of it would be seen", "let the drawing fill its viewBox")
    if min(coverage) == 15:
        raise Refused(0, 1, "it fills its whole square", "leave its background out")
    return picture


@dataclass(frozen=True)
class _Said:
    """An attribute or declaration: its value, and where it stands."""

    value: str
    place: int
    length: int
    verbatim: bool
    """Whether each letter of the value is one of the file's."""


class _Reading:
    """One file while it is read, element by element."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._data = text.encode("utf-8", "replace")
        self._styles: list[_Style] = []
        self._silent = 0  # how deep in what draws nothing
        self._titled = False
        self._title = ""
        self._view: _View | None = None
        self._colour: str | None = None
        self._areas: list[Area] = []
        self._pieces = 0
        self._refused: list[Refused] = []
        self._parser = expat.ParserCreate("utf-8", " ")
        self._parser.StartElementHandler = self._begin
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._letters
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._parser.ProcessingInstructionHandler = self._instruction

    def picture(self) -> Picture:
        try:
            self._parse()
        except Refused as last:
            self._refused += [last] if last not in self._refused else []
        if self._refused:
            first, *more = self._refused
            first.more = tuple(more)
            raise first
        if not self._areas:
            raise Refused(0, 1, "it draws nothing", "draw a `path` with a fill")
        sentences = tuple(Sentence(Verb.FILL, area, None) for area in self._areas)
        return Picture(self._title.strip(), sentences, sharpened=False)

    def _parse(self) -> None:
        try:
            self._parser.Parse(self._data, True)
        except expat.ExpatError as wrong:
            lines = self._text.split("\n")
            place = sum(len(line) + 1 for line in lines[: wrong.lineno - 1]) + wrong.offset
            why = expat.errors.messages[wrong.code]
            remedy = "save it anew as SVG"
            raise Refused(min(place, len(self._text)), 1, f"it is no XML: {why}", remedy) from None

    def _refuse(self, message: str, remedy: str, said: _Said | None = None) -> NoReturn:
        """At an attribute, or at what the parser reads."""
        if said is not None:
            raise Refused(said.place, said.length, message, remedy)
        found = _OPENING.search(self._text, self._here())
        assert found is not None
        raise Refused(found.start(), len(found.group()), message, remedy)

    def _here(self) -> int:
        return len(self._data[: self._parser.CurrentByteIndex].decode("utf-8"))

    def _doctype(self, *_: object) -> None:
        place = self._text.find(_DOCTYPE)
        raise Refused(place, len(_DOCTYPE), "it has a DOCTYPE", "remove it: nothing of it is needed")

    def _instruction(self, target: str, _: str) -> None:
        self._refuse(f"it has an instruction '{target}'", "remove it")

    def _letters(self, letters: str) -> None:
        if self._titled:
            self._title += letters
        elif not self._silent and letters.strip():
            self._refuse("it has text outside its drawing", "remove the text")

    def _end(self, _: str) -> None:
        self._titled = False
        if self._silent:
            self._silent -= 1
        else:
            self._styles.pop()

    def _begin(self, element: str, attributes: dict[str, str]) -> None:
        space, _, name = element.rpartition(" ")
        if space == _SPACE and name == "style":
            self._refuse("it has a style sheet", "give each path its `fill` by itself")
        if self._silent or (self._styles and (space != _SPACE or name in _SILENT)):
            self._titled = name == "title" and len(self._styles) == 1 and not self._silent
            self._silent += 1
            return
        if (space, name) == (_SPACE, "svg") and not self._styles:
            self._view = self._view_of(attributes)
        elif not self._styles:
            self._refuse("it is no SVG", f'begin with `<svg xmlns="{_SPACE}" viewBox="0 0 24 24">`')
        above = self._styles[-1] if self._styles else _Style()
        self._styles.append(above)
        try:
            self._styles[-1] = self._read(name, attributes, above)
        except Refused as why:
            # What else is wrong is told with it, but nothing of what stands within another element.
            self._refused.append(why)
            if len(self._refused) == MOST_REFUSED:
                raise
            if name not in ("svg", "g", "path"):
                self._styles.pop()
                self._silent += 1

    def _read(self, name: str, attributes: dict[str, str], above: _Style) -> _Style:
        """What an element draws, and the style of those within it."""
        if len(self._styles) > 1 and name not in ("g", "path"):
            self._refuse(f"it has a `{name}`; only paths are read", "convert it to a path, or remove it")
        said = self._said(attributes)
        style = self._style(said, above)
        if name == "path" and "d" in said and style.colour is not None:
            self._fill(said["d"], style)
        return style

    # Attributes ---------------------------------------------------------------------------------

    def _said(self, attributes: dict[str, str]) -> dict[str, _Said]:
        """What an element says, by attributes and by declarations of its ``style``, which win."""
        tag = self._text[self._here() :]
        places = {}
        at = len(re.match(r"<[^\s/>]+", tag).group())  # type: ignore[union-attr]
        while (found := _ATTRIBUTE.match(tag, at)) is not None:
            places[found[1]] = (self._here() + found.start(2) + 1, found[2][1:-1])
            at = found.end()
        said = {}
        for name, value in attributes.items():
            place, written = places.get(name, (self._here(), ""))
            verbatim = len(written) == len(value) and "&" not in written
            said[name] = _Said(value, place, max(1, len(written)), verbatim)
        for declaration in said["style"].value.split(";") if "style" in said else ():
            key, _, value = declaration.partition(":")
            if key.strip():
                said[key.strip()] = replace(said["style"], value=value.strip(), verbatim=False)
        return said

    def _style(self, said: dict[str, _Said], above: _Style) -> _Style:
        for name, each in said.items():
            value = each.value.strip()
            if name in _MEANT:
                if value not in _MEANT[name]:
                    message = f"`{name}` is '{value[:40]}'; only what is filled whole is read"
                    self._refuse(message, _PLAINLY, each)
            elif name not in _OWN and not name.startswith(_WITHOUT_EFFECT) and " " not in name:
                self._refuse(f"`{name}` is not read", _PLAINLY, each)
        fill, rule = said.get("fill"), said.get("fill-rule")
        colour = above.colour if fill is None else self._colour_of(fill)
        return _Style(colour, above.even_odd if rule is None else rule.value.strip() == "evenodd")

    def _colour_of(self, said: _Said) -> str | None:
        from PIL import ImageColor

        value = said.value.strip()
        if value in ("none", "currentColor"):
            return None if value == "none" else value
        try:
            return str(ImageColor.getrgb(value))
        except ValueError:
            self._refuse(f"'{value[:40]}' is no plain colour", "fill it with one colour, as `#000`", said)

    def _view_of(self, attributes: dict[str, str]) -> _View:
        said = self._said(attributes)
        if "viewBox" in said:
            numbers = re.split(r"[\s,]+", said["viewBox"].value.strip())
        else:
            numbers = ["0", "0", *(said[side].value.removesuffix("px") for side in _SIDES if side in said)]
        try:
            left, top, width, height = map(float, numbers)
        except ValueError:
            left = top = width = height = math.nan
        if not (min(width, height) > 0 and max(map(abs, (left, top, width, height))) < _FARTHEST):
            remedy = 'write `viewBox="0 0 24 24"`: its left, top, width and height'
            self._refuse("it does not say which part of the plane it draws", remedy, said.get("viewBox"))
        if max(width, height) > 8 * min(width, height):
            remedy = "draw it in a square"
            self._refuse("it is more than eight times as long as wide", remedy, said.get("viewBox"))
        return _View(left, top, width, height)

    # Paths --------------------------------------------------------------------------------------

    def _fill(self, data: _Said, style: _Style) -> None:
        assert self._view is not None
        if self._colour and style.colour != self._colour:
            self._refuse("it has a second colour", "fill all of it with one: a state gives the colour")
        self._colour = style.colour
        wrong = _first_wrong(data.value)
        if wrong is not None:
            at, why = wrong
            found = replace(data, place=data.place + at, length=1) if data.verbatim else data
            self._refuse(why, "write the path as SVG 2, section 9.3, has it", found)
        ways, seen = _ways(data.value, self._view)
        self._pieces += sum(len(way.pieces) for way in ways)
        if self._pieces > MOST_PIECES:
            remedy = "draw it with fewer points"
            self._refuse(f"it has more than {MOST_PIECES} lines and curves", remedy, data)
        if not all(map(self._view.holds, seen)):
            remedy = "move it inside, or make the viewBox larger"
            self._refuse("this path leaves the viewBox", remedy, data)
        if ways:
            self._areas.append(Area(tuple(ways), style.even_odd))


_DOCTYPE = "<!DOCTYPE"
_OPENING = re.compile(r"<[?!]?[\w:.-]+|\S")
_SIDES = ("width", "height")
_SILENT = ("title", "desc", "metadata", "defs")
_PLAINLY = "draw it as filled paths, without it"
_ATTRIBUTE = re.compile(r"\s+([^\s=]+)\s*=\s*(\"[^\"]*\"|'[^']*')")
_OWN = frozenset(
    (
        "d", "fill", "fill-rule", "viewBox", "width", "height", "x", "y", "id", "class", "style", "version",
        "baseProfile", "role", "lang", "focusable", "tabindex", "color", "clip-rule", "overflow",
        "enable-background", "isolation", "paint-order",
    )
)  # fmt: skip
"""Attributes that are read, or have no effect on paths without strokes."""
_WITHOUT_EFFECT = (
    "aria-", "data-", "stroke-", "font-", "text-", "line-", "-inkscape", "shape-", "white-", "color-",
    "image-", "solid-",
)  # fmt: skip
_ALL = ("1", "1.0", "100%", "")
_NONE = ("none", "")
_MEANT = {
    "stroke": _NONE,
    "transform": _NONE,
    "clip-path": _NONE,
    "mask": _NONE,
    "filter": _NONE,
    "opacity": _ALL,
    "fill-opacity": _ALL,
    "display": ("inline", "block", ""),
    "visibility": ("visible", ""),
    "mix-blend-mode": ("normal", ""),
    "preserveAspectRatio": ("xMidYMid", "xMidYMid meet", ""),
}
"""Attributes that may only say what is so anyway."""

_ARGUMENTS = {"M": "nn", "L": "nn", "H": "n", "V": "n", "C": "nnnnnn", "S": "nnnn", "Q": "nnnn", "T": "nn"}
_ARGUMENTS |= {"A": "uunffnn", "Z": ""}
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_FORMS = {"n": _NUMBER, "u": re.compile(r"(?!-)" + _NUMBER.pattern), "f": re.compile("[01]")}
_WANTED = {"n": "a number", "u": "a radius, which is not negative,", "f": "a flag, 0 or 1,"}
_OF_NUMBERS = tuple("+-.0123456789")
_BETWEEN = re.compile(r"[ \t\r\n\f]*,?[ \t\r\n\f]*")


def _first_wrong(data: str) -> tuple[int, str] | None:
    """Where path data leave the grammar of SVG 2, 9.3.9, and why; or None."""
    at = _after(data, 0)
    if at < len(data) and data[at] not in "Mm":
        return at, "a path begins with M or m"
    while at < len(data):
        wanted = _ARGUMENTS.get(data[at].upper())
        if wanted is None:
            return at, f"'{data[at]}' is no command of a path"
        at = _after(data, at + 1)
        begun = True
        while wanted and (begun or data[at : at + 1] in _OF_NUMBERS):
            for form in wanted:
                found = _FORMS[form].match(data, at)
                if found is None:
                    return min(at, max(0, len(data) - 1)), f"{_WANTED[form]} is missing here"
                if abs(float(found.group())) > _FARTHEST:
                    return at, f"a number beyond {_FARTHEST:.0f}"
                at = _after(data, found.end())
            begun = False
    return None


def _after(data: str, at: int) -> int:
    found = _BETWEEN.match(data, at)
    return at if found is None else found.end()


def _ways(data: str, view: _View) -> tuple[list[Way], list[complex]]:
    """The closed ways of path data that hold to the grammar, and points on them."""
    from svg.path import Arc, Close, CubicBezier, Move, QuadraticBezier, parse_path

    ways: list[Way] = []
    seen: list[complex] = []
    pieces: list[tuple[Point, ...]] = []
    start = 0j

    def close() -> None:
        if pieces:
            ways.append(Way(view.placed(start), tuple(pieces), True))
        pieces.clear()

    for each in parse_path(data):
        if isinstance(each, Move | Close):
            close()
            start = each.end
            continue
        if isinstance(each, Arc):
            steps = max(1, math.ceil(abs(getattr(each, "delta", 0)) / _ARC_STEP))
            points = [each.point(step / steps) for step in range(1, steps + 1)]
            pieces += [(view.placed(point),) for point in points]
        elif isinstance(each, CubicBezier | QuadraticBezier):
            bends = (each.control,) if isinstance(each, QuadraticBezier) else (each.control1, each.control2)
            pieces.append(tuple(map(view.placed, (*bends, each.end))))
            points = [each.point(step / 8) for step in range(1, 9)]
        else:
            pieces.append((view.placed(each.end),))
            points = [each.end]
        seen += [each.start, *points]
    close()
    return ways, seen


_ARC_STEP = 5  # degrees, as the rasteriser's own arcs
