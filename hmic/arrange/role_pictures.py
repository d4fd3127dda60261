"""Pictures in the colours of the theme: a drawing in one role, or shaded from one role to another.

A picture in its own colours is the same in every theme. These follow the theme, since a mask is all that is
kept of them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from hmic.arrange.canvas import Canvas
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import PhraseKind, Widget
from hmic.paint.operations import Box, Mask, Stencil

if TYPE_CHECKING:
    from PIL.Image import Image


def in_roles(widget: Widget, image: Image, place: Box, canvas: Canvas) -> None:
    """What is not transparent of an RGBA image as large as its place: in one role, or from one to another by
    how light it is. Raises ``DesignError`` A302 for both and for a direction, A376 for a shape that is not
    told."""
    from PIL import ImageChops

    plain, shaded = widget.one(PhraseKind.COLOUR), widget.one(PhraseKind.SHADED)
    covered = image.getchannel("A")
    if shaded is None:
        role = canvas.role(plain)
        if covered.getextrema()[0] == 255:
            message = "nothing in the picture is transparent, so its shape is not known"
            remedy = f"make its ground transparent, or write shaded from ground to {role}"
            raise DesignError([error("A376", message, widget.head, remedy)])
        _stencil(covered, place, role, canvas)
        return
    if plain is not None:
        message, remedy = "it is shaded between two roles already", "leave out one of the two"
        raise DesignError([error("A302", message, plain.span, remedy)])
    first, last, *way = shaded.words
    if way:
        message, remedy = "a picture is shaded by how light it is", f"write shaded from {first} to {last}"
        raise DesignError([error("A302", message, shaded.span, remedy)])
    dark, light = (canvas.role(replace(shaded, words=(word,))) for word in (first, last))
    _stencil(covered, place, dark, canvas)
    _stencil(ImageChops.multiply(covered, image.convert("L")), place, light, canvas)


def _stencil(levels: Image, place: Box, role: str, canvas: Canvas) -> None:
    coverage = bytes((level * 15 + 127) // 255 for level in levels.tobytes())
    mask = canvas.artwork.mask(Mask(place.width, place.height, coverage))
    canvas.operations.append(Stencil(place, mask, canvas.artwork.ink(role)))
