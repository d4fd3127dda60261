"""Which pixels an operation lights, found by painting it alone: no rule of the checks is asked."""

from __future__ import annotations

from PIL import Image, ImageChops

from hmic.paint.operations import LIVE, Drawing, Moment
from hmic.paint.painter import Painter
from tests.tools.changed import replace


def lit(drawing: Drawing, screen: int, index: int, raw: tuple[int, ...] | None = None) -> Image.Image:
    """An image of mode L, 255 where operation ``index`` of a screen changes the ground at all: with every
    channel at its first step, or at ``raw``."""
    return levels(drawing, screen, index, raw).point([0] + [255] * 255)


def levels(drawing: Drawing, screen: int, index: int, raw: tuple[int, ...] | None = None) -> Image.Image:
    """The same with the level 0 to 255 of each pixel."""
    shown = drawing.screens[screen]
    alone = replace(shown, operations=(shown.operations[index],))
    screens = (*drawing.screens[:screen], alone, *drawing.screens[screen + 1 :])
    # Every entry white but the ground: an ink of the ground's colour is seen too.
    theme = replace(
        drawing.themes[0], colours=((0, 0, 0), *[(255, 255, 255)] * (len(drawing.themes[0].colours) - 1))
    )
    painter = Painter(replace(drawing, screens=screens, themes=(theme,)))
    at = raw if raw is not None else (LIVE,) * len(drawing.channels)
    return painter.paint(Moment(screen, 0, at)).convert("L")


def touch(one: Image.Image, other: Image.Image) -> bool:
    """Whether some pixel of both is lit."""
    return ImageChops.darker(one, other).getbbox() is not None
