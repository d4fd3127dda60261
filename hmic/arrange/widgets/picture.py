"""picture: a PNG of the design, in its own colours or in roles of the theme."""

from __future__ import annotations

import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.arrange.canvas import Canvas
from hmic.arrange.role_pictures import in_roles
from hmic.arrange.subjects import SubjectKind
from hmic.diagnostics import DesignError, error
from hmic.language.design_bounds import MOST_PICTURE, MOST_PIXELS
from hmic.language.syntax import PhraseKind, Text, Widget, phrase_kinds
from hmic.model.files import LARGEST
from hmic.paint.operations import Box, Picture
from hmic.plain_files import read_plain

if TYPE_CHECKING:
    from PIL.Image import Image

SUBJECT = SubjectKind.TEXT
PHRASES = phrase_kinds("means colour shaded sized behind during")


def natural(widget: Widget, canvas: Canvas, width: int | None) -> tuple[int, int]:
    """The picture's own size, or as high as its width asks for."""
    assert isinstance(widget.subject, Text)
    with _read(widget.subject, canvas) as data:
        own, high = _size(data)
        width = own if width is None else width
        return width, max(1, -(-width * high // own))


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Made smaller to fit its place, never larger, aspect kept, centred."""
    from hmic.paint.pictures import picture_of

    assert isinstance(widget.subject, Text)
    image = _opened(canvas, widget.subject)
    scale = min(1.0, box.width / image.width, box.height / image.height)
    size = (max(1, int(image.width * scale)), max(1, int(image.height * scale)))
    left, top = box.left + (box.width - size[0]) // 2, box.top + (box.height - size[1]) // 2
    place, whole = Box(left, top, *size), _scaled(image, size)
    if widget.one(PhraseKind.COLOUR) is not None or widget.one(PhraseKind.SHADED) is not None:
        in_roles(widget, whole, place, canvas)
        return
    canvas.operations.append(Picture(place, canvas.artwork.picture(picture_of(whole))))


def _scaled(image: Image, size: tuple[int, int]) -> Image:
    from PIL import Image as pillow

    whole = image.convert("RGBA")
    return whole if whole.size == size else whole.resize(size, pillow.Resampling.LANCZOS)


def _opened(canvas: Canvas, subject: Text) -> Image:
    """Raises ``DesignError`` A376 for a file that is no picture inside the folder of its layout, the design's
    or a shared part's, or too large."""
    from PIL.PngImagePlugin import PngImageFile

    with _read(subject, canvas) as data:
        _look_at_size(data, subject, canvas)
        # Whatever the library has to say of a file, it says to nobody.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image = PngImageFile(BytesIO(data))
            image.load()
        return image


@contextmanager
def _read(subject: Text, canvas: Canvas) -> Iterator[bytes]:
    """The bytes of a picture's file. Raises ``DesignError`` A376 for one that is not there or lies outside,
    or when what the block reads in it is no picture."""
    root = canvas.design.root / Path(subject.span.file).parent
    remedy = "put a PNG into the design's folder and write its path from there"
    try:
        path = (root / subject.text).resolve()
    except (OSError, ValueError, RuntimeError):
        message, remedy = "no file can have this name", "write the name of a PNG"
    else:
        message = "the picture lies outside the design's folder"
        if path.is_relative_to(root.resolve()):
            message = "a picture must be a PNG file"
            if path.suffix.lower() == ".png":
                try:
                    yield read_plain(path, LARGEST)
                except FileNotFoundError:
                    message = f"there is no picture {subject.text}"
                except (OSError, ValueError, SyntaxError, struct.error):
                    message = f"{subject.text} cannot be read as a picture"
                else:
                    return
    raise DesignError([error("A376", message, subject.span, remedy)])


def _size(data: bytes) -> tuple[int, int]:
    """Width and height: the first chunk of a PNG begins with them. Raises ValueError or struct.error for
    something else."""
    width, height = struct.unpack_from(">II", data, data.index(b"IHDR", 12, 16) + 4)
    if not width or not height:
        raise ValueError("no pixels")
    return width, height


def _look_at_size(data: bytes, subject: Text, canvas: Canvas) -> None:
    """Raises ``DesignError`` A376 for more pixels than there is room for."""
    width, height = _size(data)
    remedy = "make it as small as its place on the screen"
    if max(width, height) > MOST_PICTURE:
        message = f"{subject.text} has {width} x {height} pixels, more than {MOST_PICTURE} a side"
        raise DesignError([error("A376", message, subject.span, remedy)])
    if not canvas.artwork.unpacks(width * height):
        message = f"with {subject.text} the pictures of the design have more than {MOST_PIXELS} pixels"
        raise DesignError([error("A376", message, subject.span, remedy)])
