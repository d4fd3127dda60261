"""Pictures of what an eye gets: the screen in its surroundings, and as other eyes see its colours.

``seen_at`` follows ``light``: each pixel's luminance with the veil of the glass. The eye is taken to
be adapted to the brighter of the screen's white and of surroundings that send back 20 % of the
light (common practice, no source); that luminance becomes white in the picture, and what is brighter
is cut off. A rim in the luminance of the surroundings is added. A picture on another screen shows
how contrast shrinks, not how bright it is.
"""

from __future__ import annotations

import math

from PIL import Image

from hmic.check.colour import (
    LUMINANCE,
    VISIONS,
    Colour,
    Triple,
    encoded,
    linear,
    relative_luminance,
    seen_by,
    vision_rows,
)
from hmic.check.light import PHRASES, Light
from hmic.model.limits import Limits

SURROUND = 0.2
RIM = 24

EYES = (*VISIONS, "grey")
"""What ``as_seen`` knows: the simulated deficiencies, and no colour at all."""


def seen_at(picture: Image.Image, light: Light, limits: Limits) -> Image.Image:
    """An RGB picture, a rim larger on each side, of a screen under a light."""
    codes, rim = codes_at(light, limits)
    size = (picture.width + 2 * RIM, picture.height + 2 * RIM)
    framed = Image.new("RGB", size, (rim, rim, rim))
    framed.paste(picture.point(codes * 3), (RIM, RIM))
    return framed


def codes_at(light: Light, limits: Limits) -> tuple[list[int], int]:
    """What becomes of each of the 256 codes of a part of a colour under a light, and the code of the rim."""
    surround = SURROUND * limits[f"light {PHRASES[light.condition]}"].value / math.pi
    white = max(light.white + light.veil, surround)
    codes = [
        encoded((light.black + (light.white - light.black) * linear(code) + light.veil) / white)
        for code in range(256)
    ]
    return codes, encoded(surround / white)


def rows_of(eye: str) -> tuple[Triple, Triple, Triple]:
    """What linear red, green and blue become to one of ``EYES``, for each the parts of all three."""
    return (LUMINANCE, LUMINANCE, LUMINANCE) if eye == "grey" else vision_rows(eye)


def as_seen(picture: Image.Image, eye: str) -> Image.Image:
    """An RGB picture in the colours that one of ``EYES`` makes of it (Machado, Oliveira, Fernandes
    2009, severity 1); ``grey`` keeps each pixel's relative luminance."""
    data = picture.tobytes()
    known: dict[bytes, bytes] = {}
    pieces = []
    for start in range(0, len(data), 3):
        pixel = data[start : start + 3]
        seen = known.get(pixel)
        if seen is None:
            seen = known[pixel] = bytes(_seen((pixel[0], pixel[1], pixel[2]), eye))
        pieces.append(seen)
    return Image.frombytes("RGB", picture.size, b"".join(pieces))


def _seen(colour: Colour, eye: str) -> Colour:
    if eye != "grey":
        return seen_by(colour, eye)
    grey = encoded(relative_luminance(colour))
    return (grey, grey, grey)
