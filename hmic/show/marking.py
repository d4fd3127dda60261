"""Findings drawn on pictures, as numbered frames that match their list; and the places that an error
left empty."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageChops, ImageDraw, ImageFont

from hmic.arrange.canvas import FALLBACK
from hmic.model.design import Design
from hmic.paint.hatches import HATCHES, PERIOD
from hmic.paint.operations import OUT_OF_RANGE, Box
from hmic.places import fonts_folder

Colour = tuple[int, int, int]

BAND = 8
"""Pixels: the hatched edge of a place left empty. Nothing that a display paints has one."""
FRAME = (255, 0, 200)
PLATE = (0, 0, 0)


RIM = (58, 58, 58)
"""What surrounds round glass in a picture."""
FINE = 4


def behind_round_glass(picture: Image.Image) -> Image.Image:
    """A copy of which only the circle is seen."""
    width, height = picture.size
    seen = Image.new("L", (width * FINE, height * FINE))
    ImageDraw.Draw(seen).ellipse((0, 0, width * FINE - 1, height * FINE - 1), fill=255)
    framed = Image.new("RGB", picture.size, RIM)
    framed.paste(picture, mask=seen.resize(picture.size, Image.Resampling.BOX))
    return framed


def lettering(design: Design) -> Path:
    """The font for what is written beside the pictures: the design's, where it has one."""
    given = design.fonts.get("text")
    try:
        if given is not None:
            ImageFont.truetype(str(given), 16)
            return given
    except OSError:
        pass
    return fonts_folder() / FALLBACK


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


def with_gaps(picture: Image.Image, gaps: Sequence[Box], ground: Colour, doubt: Colour) -> Image.Image:
    """A copy with each place that an error left empty cleared, and hatched along its edge."""
    copy = picture.copy()
    tile = Image.frombytes(
        "L", (PERIOD, PERIOD), bytes(17 * level for row in HATCHES[OUT_OF_RANGE] for level in row)
    )
    hatch = Image.new("L", copy.size)
    for top in range(0, copy.height, PERIOD):
        for left in range(0, copy.width, PERIOD):
            hatch.paste(tile, (left, top))
    edges = Image.new("L", copy.size)
    pen = ImageDraw.Draw(edges)
    for box in gaps:
        right, bottom = box.left + box.width - 1, box.top + box.height - 1
        if right >= box.left and bottom >= box.top:
            copy.paste(ground, (box.left, box.top, right + 1, bottom + 1))
            pen.rectangle((box.left, box.top, right, bottom), outline=255, width=BAND)
    copy.paste(doubt, mask=ImageChops.multiply(edges, hatch))
    return copy
