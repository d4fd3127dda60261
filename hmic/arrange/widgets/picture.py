"""picture: a PNG of the design, in its own colours."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.arrange.canvas import Canvas
from hmic.diagnostics import DesignError, error
from hmic.language.syntax import Text, Widget
from hmic.model.files import LARGEST
from hmic.paint.operations import Box, Image565, Picture
from hmic.plain_files import read_plain

if TYPE_CHECKING:
    from PIL.Image import Image

SUBJECT = "text"
PHRASES = frozenset({"means", "sized", "at"})


def draw(widget: Widget, box: Box, canvas: Canvas) -> None:
    """Made smaller to fit its place, never larger, aspect kept, centred."""
    assert isinstance(widget.subject, Text)
    image = _opened(canvas.design.root, widget.subject)
    scale = min(1.0, box.width / image.width, box.height / image.height)
    size = (max(1, int(image.width * scale)), max(1, int(image.height * scale)))
    number = canvas.artwork.picture(_scaled(image, size))
    left = box.left + (box.width - size[0]) // 2
    top = box.top + (box.height - size[1]) // 2
    canvas.operations.append(Picture(Box(left, top, *size), number))


def _scaled(image: Image, size: tuple[int, int]) -> Image565:
    from PIL import Image as pillow

    from hmic.paint.pictures import picture_of

    whole = image.convert("RGBA")
    return picture_of(whole if whole.size == size else whole.resize(size, pillow.Resampling.LANCZOS))


def _opened(root: Path, subject: Text) -> Image:
    """Raises ``DesignError`` A376 for a file that is not a picture inside the design's folder."""
    from PIL import Image as pillow
    from PIL import UnidentifiedImageError

    try:
        path = (root / subject.text).resolve()
    except (OSError, ValueError, RuntimeError):
        raise DesignError(
            [error("A376", "no file can have this name", subject.span, "write the name of a PNG")]
        ) from None
    remedy = "put a PNG into the design's folder and write its path from there"
    if not path.is_relative_to(root.resolve()):
        raise DesignError(
            [error("A376", "the picture lies outside the design's folder", subject.span, remedy)]
        )
    if path.suffix.lower() != ".png":
        raise DesignError([error("A376", "a picture must be a PNG file", subject.span, remedy)])
    try:
        image = pillow.open(BytesIO(read_plain(path, LARGEST)))
        image.load()
    except FileNotFoundError:
        message = f"there is no picture {subject.text}"
    except (OSError, UnidentifiedImageError, ValueError, SyntaxError, pillow.DecompressionBombError):
        message = f"{subject.text} cannot be read as a picture"
    else:
        return image
    raise DesignError([error("A376", message, subject.span, remedy)])
