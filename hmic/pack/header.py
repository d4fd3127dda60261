"""The header of a pack: from it alone a display knows whether it can hold and draw the rest."""

from __future__ import annotations

from hmic.pack.operation_records import kind_of
from hmic.pack.records import HEADER, MAGIC, VERSION, Section
from hmic.paint.operations import Drawing


def header(drawing: Drawing, total: int) -> bytes:
    """The header of a valid drawing's pack of ``total`` bytes, its check sum still zero."""
    sizes = [(mask.width, mask.height) for mask in drawing.masks]
    sizes += [(plane.width, plane.height) for plane in drawing.maps]
    sizes += [(picture.width, picture.height) for picture in drawing.pictures]
    kinds = 0
    for screen in drawing.screens:
        for operation in screen.operations:
            kinds |= 1 << kind_of(operation)
    return HEADER.pack(
        MAGIC,
        VERSION,
        HEADER.size,
        total,
        0,
        drawing.width,
        drawing.height,
        drawing.depth,
        len(drawing.themes),
        drawing.start,
        len(drawing.themes[0].colours),
        len(drawing.channels),
        len(drawing.masks),
        len(drawing.maps),
        len(drawing.figure_sets),
        len(drawing.screens),
        max((width for width, _ in sizes), default=0),
        max((height for _, height in sizes), default=0),
        max(len(screen.operations) for screen in drawing.screens),
        max(len(screen.channels) for screen in drawing.screens),
        max(len(screen.zones) for screen in drawing.screens),
        kinds,
        len(Section),
        len(drawing.pictures),
        len(drawing.letter_sets),
        len(drawing.outlines),
        drawing.first_theme,
        drawing.baud // 100,
    )
