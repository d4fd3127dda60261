"""Small drawings of what moves, what has a past, and what comes over the line."""

from __future__ import annotations

from math import cos, radians, sin

from hmic.paint.fonts import load_face
from hmic.paint.operations import (
    NO_CHANNEL,
    NO_MASK,
    Axis,
    Box,
    Fill,
    Flow,
    Frame,
    Image565,
    Ink,
    Letters,
    Outline,
    Picture,
    Pointer,
    Reveal,
    Slide,
    Stencil,
    Trace,
)
from hmic.paint.shapes import corner, disc, ring, rounded
from tests.paint.scenes import ACCENT, BOLD, CAUTION, DANGER, FALLBACK, INK, QUIET, REGULAR, Scene

STEPS = 97


def needle(side: int, steps: int, tip: int, half: int) -> Outline:
    """A tapered needle over three quarters of a turn about the middle of a square."""
    middle = 8 * side
    polygons = []
    for step in range(steps):
        angle = radians(-135 + 270 * step / (steps - 1))
        polygon = []
        for along, aside in ((-tip // 4, -half), (tip, -8), (tip, 8), (-tip // 4, half)):
            x = along * sin(angle) + aside * cos(angle)
            y = -along * cos(angle) + aside * sin(angle)
            polygon.append((middle + round(x), middle + round(y)))
        polygons.append(tuple(polygon))
    return Outline(4, tuple(polygons))


def sunset(size: int) -> Image565:
    """A disc over bands, with a soft round edge: made up for this test."""
    words, shape = bytearray(), disc(size)
    for y in range(size):
        for x in range(size):
            sun = (2 * x - size) ** 2 + (2 * y - size) ** 2 < (size * 2 // 3) ** 2
            red, green, blue = (31, 40, 6) if sun and y < size * 5 // 8 else (31 * y // size, 10, 20)
            words += (red << 11 | green << 5 | blue).to_bytes(2, "little")
    return Image565(size, size, bytes(words), shape.coverage)


def moving_scene(raw: int, clock: int = 0) -> Scene:
    """One of each, all on channels of one raw value, with a caption each."""
    scene = Scene(520, 330)
    small = load_face(REGULAR, 11)

    def caption(text: str, left: int, top: int) -> None:
        scene.text(small, text, left, top, Ink(INK))

    value = scene.channel(raw, STEPS)
    _slide(scene, value, raw)
    _dial(scene, value)
    _chart(scene, raw)
    _pipes(scene, raw)
    scene.pictures.append(sunset(72))
    scene.operations.append(Picture(Box(432, 40, 72, 72), 0))
    _texts(scene, raw)
    for text, left, top in (
        ("slide", 16, 14),
        ("pointer", 160, 14),
        ("flow", 300, 14),
        ("picture", 440, 14),
        ("trace", 16, 156),
        ("letters", 300, 156),
    ):
        caption(text, left, top)
    return scene


def _slide(scene: Scene, value: int, raw: int) -> None:
    level, peak = (scene.channel(min(raw, 3 + most), 61) for most in (32, 48))
    round_end, knob, hole = (scene.mask(mask) for mask in (corner(4), disc(20), disc(12)))
    scene.operations += [
        Frame(Box(22, 56, 108, 8), round_end, Ink(QUIET)),
        Reveal(Box(28, 56, 96, 8), value, Axis.RIGHTWARD, 0, NO_MASK, Ink(ACCENT)),
        Slide(Box(18, 50, 116, 20), value, Axis.RIGHTWARD, knob, Ink(INK)),
        Slide(Box(22, 54, 108, 12), value, Axis.RIGHTWARD, hole, Ink(ACCENT)),
        Reveal(Box(40, 84, 10, 60), level, Axis.UPWARD, 0, NO_MASK, Ink(ACCENT)),
        Slide(Box(34, 81, 22, 63), peak, Axis.UPWARD, scene.mask(rounded(22, 3, 1)), Ink(CAUTION)),
    ]


def _dial(scene: Scene, value: int) -> None:
    box = Box(150, 36, 109, 109)
    scene.outlines.append(needle(109, STEPS, 44 * 16, 3 * 16))
    scene.operations += [
        Stencil(box, scene.mask(ring(109, 4)), Ink(QUIET)),
        Pointer(box, value, 0, Ink(DANGER)),
        Stencil(Box(box.left + 47, box.top + 47, 15, 15), scene.mask(disc(15)), Ink(INK)),
    ]
    scene.number(load_face(BOLD, 14), scene.raw[value], 0, 173, 118, Ink(INK))


def _chart(scene: Scene, raw: int) -> None:
    """Two lines of 120 columns, one with a hole; in doubt the head is, once."""
    field = Box(16, 180, 240, 120)
    scene.operations.append(Fill(field, Ink(QUIET)))
    head = scene.channel(min(raw, 3) + (40 if raw >= 3 else 0), 120)
    for ink, swing, hole in ((ACCENT, 50, ()), (CAUTION, 22, (1, 0, 2))):
        first = len(scene.channels)
        for place in range(120):
            age = (place - 41) % 120
            step = round(60 + swing * sin(age / 9) + (age * 7 % 13 if ink == CAUTION else 0))
            lost = hole[(age - 60) // 10] if hole and 60 <= age < 90 else None
            scene.channel(3 + step if lost is None else lost, 128)
        scene.operations.append(Trace(field, first, 120, head, 128, 2, Ink(ink)))


def _pipes(scene: Scene, raw: int) -> None:
    """Three pieces of one pipe: right, down, left."""
    rate = scene.channel(min(raw, 8), 6)
    pieces = ((Box(296, 44, 100, 8), Axis.RIGHTWARD), (Box(388, 52, 8, 84), Axis.DOWNWARD))
    gone = 0
    for box, axis in (*pieces, (Box(296, 136, 100, 8), Axis.LEFTWARD)):
        scene.operations.append(Fill(box, Ink(ACCENT)))
        scene.operations.append(Flow(box, axis, rate, gone, 20, 8, 12, Ink(INK)))
        gone += box.height if axis is Axis.DOWNWARD else box.width


def _texts(scene: Scene, raw: int) -> None:
    """A whole title; one cut by its box; one that has lost its end; one in doubt by its tint."""
    face = load_face(REGULAR, 14, FALLBACK)
    titles = ("Łódź – Ζάκυνθος", "A long title that its box cuts off", "Lost after her")
    steps = scene.letters(face, "".join(sorted(set("".join(titles)))))
    tint = scene.channel(min(raw, 3), 1)
    for number, title in enumerate(titles):
        first = len(scene.channels)
        for place, character in enumerate(title):
            scene.channel(min(raw, 3) + steps[character] if raw >= 3 or place else raw, len(steps) + 1)
        scene.channel(1 if number == 2 else 3, len(steps) + 1)
        box = Box(300, 184 + number * 30, 200, 22)
        ink = Ink(ACCENT if number == 1 else INK, tint if number == 1 else NO_CHANNEL)
        scene.operations.append(Letters(box, first, len(title) + 1, 0, ink))
