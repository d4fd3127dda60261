"""Small drawings for the kept pictures and the bench."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from PIL import Image

from hmic.paint.fonts import Face, load_face
from hmic.paint.operations import (
    MARK_UNSEEN,
    NO_MASK,
    Axis,
    Box,
    Drawing,
    Figures,
    FigureSet,
    Fill,
    Frame,
    Glyph,
    Image565,
    Ink,
    Letter,
    LetterSet,
    Mask,
    Moment,
    Operation,
    Outline,
    Reveal,
    Run,
    ScreenDrawing,
    Stencil,
    Theme,
    ThresholdMap,
)
from hmic.paint.painter import Painter

FONTS = Path(__file__).parents[2] / "fonts_open"
REGULAR, BOLD, FALLBACK = (
    FONTS / name for name in ("B612-Regular.otf", "B612-Bold.otf", "DejaVuSansCondensed.ttf")
)

GROUND, DOUBT, INK, QUIET, ACCENT, CAUTION, DANGER = range(7)
NIGHT = Theme(
    "night",
    (
        (14, 17, 21),
        (150, 154, 163),
        (236, 236, 228),
        (60, 66, 75),
        (88, 176, 214),
        (240, 178, 48),
        (232, 76, 61),
    ),
    60,
)
DAY = Theme(
    "day",
    (
        (240, 240, 236),
        (104, 108, 116),
        (22, 25, 30),
        (196, 199, 204),
        (0, 98, 148),
        (160, 96, 0),
        (176, 24, 16),
    ),
    100,
)


@dataclass
class Scene:
    """Collects operations and tables; every channel has one raw value to begin with."""

    width: int
    height: int
    operations: list[Operation] = field(default_factory=list)
    masks: dict[Mask, int] = field(default_factory=dict)
    maps: list[ThresholdMap] = field(default_factory=list)
    figure_sets: dict[FigureSet, int] = field(default_factory=dict)
    channels: list[int] = field(default_factory=list)
    raw: list[int] = field(default_factory=list)
    outlines: list[Outline] = field(default_factory=list)
    letter_sets: list[LetterSet] = field(default_factory=list)
    pictures: list[Image565] = field(default_factory=list)

    def mask(self, mask: Mask) -> int:
        return self.masks.setdefault(mask, len(self.masks))

    def channel(self, raw: int, steps: int = 60000) -> int:
        self.channels.append(steps)
        self.raw.append(raw)
        return len(self.channels) - 1

    def text(self, face: Face, text: str, left: int, top: int, ink: Ink) -> None:
        x0, y0, x1, y1 = face.ink_box(text)
        glyphs = tuple(Glyph(self.mask(m), x - x0, y - y0) for m, x, y in face.glyphs(text))
        self.operations.append(Run(Box(left + x0, top + y0, x1 - x0, y1 - y0), glyphs, ink))

    def number(
        self, face: Face, raw: int, offset: int, left: int, top: int, ink: Ink, **options: int | bool
    ) -> int:
        """Paints figures and gives the left edge of what may follow them."""
        cells = face.cells
        glyphs = tuple(Glyph(self.mask(m), x, y) for m, x, y in cells.glyphs)
        held = FigureSet(cells.advance, cells.point_advance, cells.height, glyphs)
        number = self.figure_sets.setdefault(held, len(self.figure_sets))
        settings: dict[str, int | bool] = {
            "least": 1,
            "places": 3,
            "point": 0,
            "point_after": 0,
            "plus": False,
            "sixties": False,
        }
        settings |= options
        width = cells.advance * (int(settings["places"]) + 1) + (
            cells.point_advance if settings["point"] else 0
        )
        box = Box(left, top - cells.rise, width, cells.height + cells.tail)
        channel = self.channel(raw)
        self.operations.append(Figures(box, channel, number, offset, 1, ink=ink, **settings))  # type: ignore[arg-type]
        return left + width

    def letters(self, face: Face, characters: str) -> dict[str, int]:
        """Adds a letter set of these characters; gives the step of each."""
        letters = []
        for character in characters:
            held = face.glyphs(character)
            mask, left, top = held[0] if held else (Mask(0, 0, b""), 0, 0)
            letters.append(Letter(Glyph(self.mask(mask), left, top), face.drawn(character).advance))
        cells = face.cells
        marks = tuple(
            Letter(Glyph(self.mask(mask), left, top), cells.advance)
            for mask, left, top in cells.glyphs[MARK_UNSEEN : MARK_UNSEEN + 3]
        )
        one, two, three = marks
        self.letter_sets.append(LetterSet(cells.height + cells.tail, tuple(letters), (one, two, three)))
        return {character: place + 1 for place, character in enumerate(characters)}

    def drawing(self, depth: int = 24) -> Drawing:
        screen = ScreenDrawing("scene", tuple(self.operations), tuple(range(len(self.channels))), ())
        return Drawing(
            self.width,
            self.height,
            depth,
            (NIGHT, DAY),
            tuple(self.masks),
            tuple(self.maps),
            tuple(self.figure_sets),
            tuple(self.channels),
            (screen,),
            0,
            tuple(self.outlines),
            tuple(self.letter_sets),
            tuple(self.pictures),
        )

    def picture(self, theme: int = 0, depth: int = 24, clock: int = 0) -> Image.Image:
        return Painter(self.drawing(depth)).paint(Moment(0, theme, tuple(self.raw), clock))


def rounded_corner(radius: int) -> Mask:
    """The top left quarter of a disc, by counting 8 x 8 subsamples."""
    span = radius * 8
    coverage = bytearray()
    for y in range(radius):
        for x in range(radius):
            inside = sum(
                (2 * (span - x * 8 - i) - 1) ** 2 + (2 * (span - y * 8 - j) - 1) ** 2 <= (2 * span) ** 2
                for i in range(8)
                for j in range(8)
            )
            coverage.append((inside * 15 + 32) // 64)
    return Mask(radius, radius, bytes(coverage))


def drop(size: int) -> Mask:
    """A drop of water: a disc with a point above."""
    coverage = bytearray()
    for y in range(size):
        for x in range(size):
            inside = 0
            for i in range(8):
                for j in range(8):
                    u, v = (x + (i + 0.5) / 8) / size - 0.5, (y + (j + 0.5) / 8) / size
                    disc = u * u + (v - 0.66) ** 2 <= 0.32**2
                    point = v <= 0.5 and abs(u) <= 0.5774 * (v - 0.02)
                    inside += disc or point
            coverage.append((inside * 15 + 32) // 64)
    return Mask(size, size, bytes(coverage))


def ring(size: int, width: int) -> tuple[Mask, ThresholdMap]:
    """A ring of three quarters, open below, with thresholds that grow clockwise."""
    from math import atan2, hypot, tau

    middle = size / 2
    coverage, thresholds = bytearray(), bytearray()
    for y in range(size):
        for x in range(size):
            inside = 0
            for i in range(4):
                for j in range(4):
                    u, v = x + (i + 0.5) / 4 - middle, y + (j + 0.5) / 4 - middle
                    turn = (atan2(u, -v) / tau + 0.375) % 1
                    inside += middle - width <= hypot(u, v) <= middle and turn <= 0.75
            coverage.append((inside * 15 + 8) // 16)
            turn = (atan2(x + 0.5 - middle, middle - y - 0.5) / tau + 0.375) % 1
            thresholds.append(min(255, int(turn / 0.75 * 248)) if turn <= 0.875 else 0)
    return Mask(size, size, bytes(coverage)), ThresholdMap(size, size, bytes(thresholds))


def operations_scene(raw: int) -> Scene:
    """One of each operation, all on channels of one raw value."""
    scene = Scene(420, 220)
    small, large = load_face(REGULAR, 11), load_face(BOLD, 34)
    corner, symbol = scene.mask(rounded_corner(10)), scene.mask(drop(44))
    gauge, turn = ring(84, 12)
    scene.maps.append(turn)
    tint = scene.channel(min(raw, 3), 1)
    value = scene.channel(raw, 400)

    def caption(text: str, left: int, top: int) -> None:
        scene.text(small, text, left, top, Ink(INK))

    scene.operations.append(Fill(Box(16, 34, 72, 44), Ink(ACCENT, tint)))
    caption("fill", 16, 14)
    scene.operations.append(Frame(Box(106, 34, 72, 44), corner, Ink(QUIET)))
    scene.operations.append(Frame(Box(108, 36, 68, 40), scene.mask(rounded_corner(8)), Ink(ACCENT, tint)))
    caption("frame", 106, 14)
    scene.operations.append(Stencil(Box(206, 34, 44, 44), symbol, Ink(CAUTION, tint)))
    caption("stencil", 206, 14)
    scene.text(load_face(REGULAR, 24), "Run", 276, 44, Ink(INK, tint))
    caption("run", 276, 14)
    scene.number(large, raw, -100, 0, 120, Ink(INK), least=2, places=3, point=15, point_after=1)
    caption("figures", 16, 98)
    scene.operations.append(Fill(Box(16, 190, 220, 18), Ink(QUIET)))
    scene.operations.append(Reveal(Box(16, 190, 220, 18), value, Axis.RIGHTWARD, 60, NO_MASK, Ink(ACCENT)))
    caption("reveal, straight", 16, 172)
    scene.operations.append(Stencil(Box(206, 108, 44, 44), symbol, Ink(QUIET)))
    scene.operations.append(Reveal(Box(206, 108, 44, 44), value, Axis.UPWARD, 0, symbol, Ink(ACCENT)))
    caption("masked", 206, 160)
    dial = scene.mask(gauge)
    box = Box(324, 104, 84, 84)
    scene.operations.append(Stencil(box, dial, Ink(QUIET)))
    scene.operations.append(Reveal(box, value, Axis.MAPPED, 0, dial, Ink(ACCENT), map=0, gain=1, edge=6))
    caption("mapped", 344, 194)
    return scene


def figures_scene(path: Path, heights: tuple[int, ...], width: int) -> Scene:
    """Readings at several heights: signs, points and the three doubts."""
    scene = Scene(width, 12 + sum(height * 17 // 10 for height in heights))
    top = 12
    for height in heights:
        face, left = load_face(path, height), 10
        gap = height // 2
        for raw, offset, options in (
            (3, -428, {"point": 15, "point_after": 1}),
            (3, 1690, {"places": 4, "plus": True, "point": 16, "point_after": 2}),
            (3, 753, {"places": 4, "least": 4, "sixties": True, "point": 17, "point_after": 2}),
            (0, 0, {}),
            (1, 0, {}),
            (2, 0, {}),
        ):
            left = gap + scene.number(face, raw, offset, left, top, Ink(INK), **options)  # type: ignore[arg-type]
        top += height * 17 // 10
    return scene
