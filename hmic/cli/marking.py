"""Findings drawn on pictures, as numbered frames that match their list."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from hmic.paint.operations import Box

FRAME = (255, 0, 200)
PLATE = (0, 0, 0)


def marked(picture: Image.Image, places: Sequence[tuple[int, Box]], font: Path) -> Image.Image:
    """A copy with a frame around each box and its number in the frame's top left corner; numbers of
    one place stand in a row."""
    copy = picture.copy()
    pen = ImageDraw.Draw(copy)
    face = ImageFont.truetype(str(font), 16)
    by_box: dict[Box, list[int]] = {}
    for number, box in places:
        by_box.setdefault(box, []).append(number)
    for box, numbers in by_box.items():
        left, top = box.left, box.top
        right = min(copy.width - 1, left + box.width)
        bottom = min(copy.height - 1, top + box.height)
        pen.rectangle((left, top, max(left, right - 1), max(top, bottom - 1)), outline=FRAME, width=2)
        text = " ".join(str(number) for number in numbers)
        width = int(pen.textlength(text, face)) + 8
        pen.rectangle((left, top, left + width, top + 20), fill=PLATE, outline=FRAME)
        pen.text((left + 4, top + 1), text, FRAME, face)
    return copy
