"""Milliseconds a frame: 435 glyphs and 120 boxes at 1024 x 600.

Run from the repository's folder: python -m tests.bench.paint
"""

from __future__ import annotations

import time
from statistics import median

from hmic.paint.fonts import load_face
from hmic.paint.operations import Axis, Box, Fill, Ink, Moment, Reveal
from hmic.paint.painter import Painter
from tests.paint.scenes import ACCENT, BOLD, INK, QUIET, REGULAR, Scene, rounded_corner

FRAMES = 200


def full_scene() -> Scene:
    """96 tinted fills and 24 masked reveals, 60 readings of 5 figures, 15 texts of 9 glyphs."""
    scene = Scene(1024, 600)
    for index in range(96):
        tint = scene.channel(3 + index % 3, 3)
        box = Box(10 + index % 16 * 62, 10 + index // 16 * 30, 58, 26)
        scene.operations.append(Fill(box, Ink(QUIET, tint)))
    mask = scene.mask(rounded_corner(38))
    for index in range(24):
        box = Box(10 + index * 42, 200, 38, 38)
        value = scene.channel(3 + index, 39)
        scene.operations.append(Reveal(box, value, Axis.UPWARD, 0, mask, Ink(ACCENT)))
    small, large = load_face(REGULAR, 14), load_face(BOLD, 18)
    for index in range(60):
        left, top = 10 + index % 10 * 100, 250 + index // 10 * 46
        scene.number(large if index % 10 < 5 else small, 3 + index * 7, 10000, left, top, Ink(INK), places=5)
    for index in range(15):
        scene.text(small, "Nine here", 10 + index % 5 * 200, 530 + index // 5 * 22, Ink(INK))
        scene.text(small, "x", 120 + index % 5 * 200, 530 + index // 5 * 22, Ink(INK))
    return scene


def main() -> None:
    scene = full_scene()
    for depth in (24, 16):
        painter = Painter(scene.drawing(depth))
        raw = tuple(scene.raw)
        painter.paint(Moment(0, 0, raw))
        times = []
        for frame in range(FRAMES):
            begun = time.perf_counter()
            painter.paint(Moment(0, frame % 2, raw, frame * 33))
            times.append(1000 * (time.perf_counter() - begun))
        print(f"depth {depth}: median {median(times):.2f} ms, slowest {max(times):.2f} ms a frame")
    doubtful = Painter(scene.drawing())
    stale = tuple(1 for _ in scene.raw)
    first = time.perf_counter()
    doubtful.paint(Moment(0, 0, stale))
    print(f"all stale, first frame: {1000 * (time.perf_counter() - first):.2f} ms")


if __name__ == "__main__":
    main()
