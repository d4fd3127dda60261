"""From a drawing to the bytes of a screen pack."""

from __future__ import annotations

from hmic.diagnostics import DesignError, error
from hmic.pack import planes
from hmic.pack.header import header
from hmic.pack.operation_records import encode
from hmic.pack.records import (
    CHANNEL,
    COLOUR,
    CORNER,
    CRC_AT,
    FIGURES_HEAD,
    GLYPH,
    LARGEST_PACK,
    LETTER,
    LETTERS_HEAD,
    OUTLINE,
    PICTURE,
    PLANE,
    RECORD_SIZES,
    SCREEN,
    SECTION,
    TABLE_END,
    THEME,
    ZONE,
    Section,
    aligned,
    checksum,
)
from hmic.pack.validity import SMALLER, refusals
from hmic.paint.operations import Drawing, Glyph, Image565, Letter, Run


def write(drawing: Drawing) -> bytes:
    """The pack of a drawing: the same bytes for the same drawing, always.

    Raises DesignError for what ``refusals`` tells, and (P506) for a pack larger than ``LARGEST_PACK``.
    """
    found = refusals(drawing)
    if found:
        raise DesignError(found)
    bodies = _bodies(drawing)
    table = bytearray()
    body = bytearray()
    at = aligned(TABLE_END)
    for section in Section:
        content = bodies[section]
        table += SECTION.pack(section, 0, at, len(content), len(content) // RECORD_SIZES[section])
        body += content + bytes(aligned(len(content)) - len(content))
        at += aligned(len(content))
    if at > LARGEST_PACK:
        message = f"the pack would have {at} bytes; {LARGEST_PACK} are possible"
        raise DesignError([error("P506", message, remedy=SMALLER)])
    gap = bytes(aligned(TABLE_END) - TABLE_END)
    whole = bytearray(header(drawing, at) + table + gap + body)
    whole[CRC_AT : CRC_AT + 4] = checksum(whole).to_bytes(4, "little")
    return bytes(whole)


def _bodies(drawing: Drawing) -> dict[Section, bytes]:
    bodies = dict.fromkeys(Section, b"")
    names = bytearray()
    themes = bytearray()
    for theme in drawing.themes:
        name = theme.name.encode()
        themes += THEME.pack(len(names), len(name), theme.brightness, 0)
        names += name
    bodies[Section.THEMES] = bytes(themes)
    bodies[Section.COLOURS] = b"".join(
        COLOUR.pack(*colour) for theme in drawing.themes for colour in theme.colours
    )
    bodies[Section.CHANNELS] = b"".join(CHANNEL.pack(steps) for steps in drawing.channels)
    stored = _Planes()
    bodies[Section.MASKS] = b"".join(
        PLANE.pack(m.width, m.height, *stored.place(*planes.encode_mask(m.coverage, m.width)))
        for m in drawing.masks
    )
    bodies[Section.MAPS] = b"".join(
        PLANE.pack(m.width, m.height, *stored.place(*planes.encode_map(m.thresholds, m.width)))
        for m in drawing.maps
    )
    bodies[Section.PICTURES] = b"".join(_picture(picture, stored) for picture in drawing.pictures)
    bodies[Section.PLANES] = bytes(stored.data)
    bodies[Section.FIGURE_SETS] = b"".join(
        FIGURES_HEAD.pack(figures.advance, figures.point_advance, figures.height) + _glyphs(figures.glyphs)
        for figures in drawing.figure_sets
    )
    _letter_sets(drawing, bodies)
    _outlines(drawing, bodies)
    _screens(drawing, names, bodies)
    bodies[Section.NAMES] = bytes(names)
    return bodies


def _screens(drawing: Drawing, names: bytearray, bodies: dict[Section, bytes]) -> None:
    screens, operations, channels, zones, glyphs = (bytearray() for _ in range(5))
    for screen in drawing.screens:
        name = screen.name.encode()
        screens += SCREEN.pack(
            len(names),
            len(name),
            len(screen.operations),
            len(operations) // RECORD_SIZES[Section.OPERATIONS],
            len(channels) // CHANNEL.size,
            len(screen.channels),
            len(screen.zones),
            len(zones) // ZONE.size,
        )
        names += name
        for operation in screen.operations:
            operations += encode(operation, len(glyphs) // GLYPH.size)
            if isinstance(operation, Run):
                glyphs += _glyphs(operation.glyphs)
        for channel in screen.channels:
            channels += CHANNEL.pack(channel)
        for zone in screen.zones:
            zones += ZONE.pack(zone.box.left, zone.box.top, zone.box.width, zone.box.height)
    bodies[Section.SCREENS] = bytes(screens)
    bodies[Section.OPERATIONS] = bytes(operations)
    bodies[Section.SCREEN_CHANNELS] = bytes(channels)
    bodies[Section.ZONES] = bytes(zones)
    bodies[Section.GLYPHS] = bytes(glyphs)


class _Planes:
    """Data of masks, maps and pictures one after the other, filled up to their alignment, equal ones once."""

    def __init__(self) -> None:
        self.data = bytearray()
        self._placed: dict[tuple[int, bytes], int] = {}

    def place(self, form: int, data: bytes) -> tuple[int, int, int, int, int]:
        """The fields of a record after width and height."""
        at = self._placed.get((form, data)) if data else 0
        if at is None:
            at = self._placed[form, data] = len(self.data)
            self.data += data + bytes(-len(data) % planes.PLANE_ALIGNMENT)
        return form, 0, 0, at, len(data)


def _picture(picture: Image565, stored: _Planes) -> bytes:
    form, _, _, *pixels = stored.place(*planes.encode_pixels(picture.pixels, picture.width))
    soft_form, coverage = planes.NO_PLANE, [0, 0]
    if picture.coverage:
        soft_form, _, _, *coverage = stored.place(*planes.encode_mask(picture.coverage, picture.width))
    return PICTURE.pack(picture.width, picture.height, form, soft_form, 0, *pixels, *coverage)


def _letter_sets(drawing: Drawing, bodies: dict[Section, bytes]) -> None:
    sets, letters = bytearray(), bytearray()
    for held in drawing.letter_sets:
        sets += LETTERS_HEAD.pack(held.height, len(held.letters), len(letters) // LETTER.size)
        sets += _letters(held.marks)
        letters += _letters(held.letters)
    bodies[Section.LETTER_SETS], bodies[Section.LETTERS] = bytes(sets), bytes(letters)


def _outlines(drawing: Drawing, bodies: dict[Section, bytes]) -> None:
    outlines, corners = bytearray(), bytearray()
    for held in drawing.outlines:
        outlines += OUTLINE.pack(held.points_each, len(held.polygons), len(corners) // CORNER.size)
        corners += b"".join(CORNER.pack(*corner) for polygon in held.polygons for corner in polygon)
    bodies[Section.OUTLINES], bodies[Section.CORNERS] = bytes(outlines), bytes(corners)


def _letters(letters: tuple[Letter, ...]) -> bytes:
    return b"".join(
        LETTER.pack(letter.glyph.mask, letter.glyph.left, letter.glyph.top, letter.advance)
        for letter in letters
    )


def _glyphs(glyphs: tuple[Glyph, ...]) -> bytes:
    return b"".join(GLYPH.pack(glyph.mask, glyph.left, glyph.top) for glyph in glyphs)
