"""From the bytes of a screen pack to its drawing, trusting nothing in them."""

from __future__ import annotations

from collections.abc import Callable

from hmic.diagnostics import DesignError, error
from hmic.pack import planes, validity
from hmic.pack.header import header
from hmic.pack.operation_records import RecordError, decode
from hmic.pack.records import (
    CHANNEL,
    COLOUR,
    CORNER,
    CRC_AT,
    FIGURE_GLYPHS,
    FIGURE_SET_SIZE,
    FIGURES_HEAD,
    GLYPH,
    HEADER,
    LARGEST_PACK,
    LARGEST_PIXELS,
    LARGEST_SIDE,
    LEAST_CORNERS,
    LETTER,
    LETTER_SET_SIZE,
    LETTERS_HEAD,
    MAGIC,
    OUTLINE,
    PICTURE,
    PLANE,
    RECORD_SIZES,
    SCREEN,
    SECTION,
    TABLE_AT,
    TABLE_END,
    THEME,
    VERSION,
    ZONE,
    Section,
    aligned,
    checksum,
)
from hmic.paint.operations import (
    Box,
    Drawing,
    FigureSet,
    Glyph,
    Image565,
    Letter,
    LetterSet,
    Mask,
    Outline,
    Run,
    ScreenDrawing,
    Theme,
    ThresholdMap,
    Zone,
)

REBUILD = "build the pack again with 'hmic build'"

Bodies = dict[Section, memoryview]
Decode = Callable[[int, bytes, int, int], bytes]


def read(data: bytes) -> Drawing:
    """The drawing in a pack.

    Raises DesignError: P501 not a pack, P502 damaged, P503 a table breaks the format, P504 packed
    masks do. Memory is bounded by ``LARGEST_PIXELS`` and a small multiple of the pack's size.
    """
    data = bytes(data)
    _check_whole(data)
    bodies = sections(data)
    head = HEADER.unpack_from(data)
    width, height, depth, theme_count, start, colours = head[5:11]
    names = _Names(bodies[Section.NAMES])
    masks, maps, pictures = _planes(bodies)
    drawing = Drawing(
        width,
        height,
        depth,
        _themes(bodies, theme_count, colours, names),
        masks,
        maps,
        _figure_sets(bodies[Section.FIGURE_SETS]),
        tuple(steps for (steps,) in CHANNEL.iter_unpack(bodies[Section.CHANNELS])),
        _screens(bodies, names),
        start,
        _outlines(bodies),
        _letter_sets(bodies),
        pictures,
        head[-2],
        100 * head[-1],
    )
    names.finish()
    for fault in validity.faults(drawing):
        raise _broken(fault)
    whole = header(drawing, len(data))
    if data[:CRC_AT] + bytes(4) + data[CRC_AT + 4 : HEADER.size] != whole:
        raise _broken("the header does not agree with what follows")
    return drawing


def sections(data: bytes) -> Bodies:
    """The sections of a whole pack by kind. Raises DesignError (P503) when the table is wrong."""
    view = memoryview(data)
    bodies: Bodies = {}
    at = aligned(TABLE_END)
    if len(data) < at or any(view[TABLE_END:at]):
        raise _broken("the section table does not end as it should")
    for place, section in enumerate(Section):
        kind, spare, offset, length, records = SECTION.unpack_from(view, TABLE_AT + place * SECTION.size)
        if kind != section or spare or offset != at:
            raise _broken(f"entry {place} of the section table is not for section {int(section)}")
        end = at + length
        at += aligned(length)
        if at > len(data):
            raise _broken(f"section {int(section)} leaves the pack")
        if records * RECORD_SIZES[section] != length:
            raise _broken(f"section {int(section)} has {length} bytes for {records} records")
        if any(view[end:at]):
            raise _broken(f"the padding after section {int(section)} is not zero")
        bodies[section] = view[offset:end]
    if at != len(data):
        raise _broken("bytes are left over after the last section")
    if bodies[Section.BLOCK_HASHES]:
        raise _broken("block hashes are not part of this version")
    return bodies


def _broken(what: str) -> DesignError:
    return DesignError([error("P503", f"the pack breaks the format: {what}", remedy=REBUILD)])


def _check_whole(data: bytes) -> None:
    if len(data) < len(MAGIC) or data[: len(MAGIC)] != MAGIC:
        remedy = "give a file written by 'hmic build'"
        raise DesignError([error("P501", "this is not a screen pack", remedy=remedy)])
    if len(data) < aligned(TABLE_END):
        message = f"the pack is cut off after {len(data)} bytes"
        raise DesignError([error("P502", message, remedy="copy or build it again")])
    version, size, total, crc = HEADER.unpack_from(data)[1:5]
    if version != VERSION or size != HEADER.size:
        message = f"the pack is of format version {version}, this program reads version {VERSION}"
        raise DesignError([error("P501", message, remedy=REBUILD)])
    if total != len(data) or total > LARGEST_PACK:
        message = f"the pack says it has {total} bytes, but {len(data)} are here"
        raise DesignError([error("P502", message, remedy="copy or build it again")])
    if checksum(data) != crc:
        message = "the pack's check sum does not agree with its bytes: it was changed or damaged"
        raise DesignError([error("P502", message, remedy="copy or build it again")])


class _Names:
    """Takes names one after the other, so that every byte belongs to exactly one."""

    def __init__(self, body: memoryview) -> None:
        self._body = body
        self._at = 0

    def take(self, offset: int, length: int) -> str:
        if offset != self._at or offset + length > len(self._body):
            raise _broken("a name is not where it should be")
        self._at += length
        try:
            return bytes(self._body[offset : offset + length]).decode()
        except UnicodeDecodeError:
            raise _broken("a name is not UTF-8") from None

    def finish(self) -> None:
        if self._at != len(self._body):
            raise _broken("bytes are left over after the last name")


def _themes(bodies: Bodies, count: int, colours: int, names: _Names) -> tuple[Theme, ...]:
    records = list(THEME.iter_unpack(bodies[Section.THEMES]))
    palette = list(COLOUR.iter_unpack(bodies[Section.COLOURS]))
    if len(records) != count or len(palette) != count * colours:
        raise _broken("the number of themes or colours is not as the header says")
    themes = []
    for number, (offset, length, brightness, spare) in enumerate(records):
        if spare:
            raise _broken(f"theme {number} has a spare byte that is not zero")
        own = tuple(palette[number * colours : (number + 1) * colours])
        themes.append(Theme(names.take(offset, length), own, brightness))
    return tuple(themes)


def _planes(bodies: Bodies) -> tuple[tuple[Mask, ...], tuple[ThresholdMap, ...], tuple[Image565, ...]]:
    masks = list(PLANE.iter_unpack(bodies[Section.MASKS]))
    maps = list(PLANE.iter_unpack(bodies[Section.MAPS]))
    pictures = list(PICTURE.iter_unpack(bodies[Section.PICTURES]))
    # Before anything is spread out, so that a small pack cannot ask for a large memory.
    if any(record[0] > LARGEST_SIDE or record[1] > LARGEST_SIDE for record in masks + maps + pictures):
        raise _broken(f"a mask, map or picture is larger than {LARGEST_SIDE} pixels a side")
    values = sum(record[0] * record[1] for record in masks + maps)
    values += sum(record[0] * record[1] * (2 if record[3] == planes.NO_PLANE else 3) for record in pictures)
    if values > LARGEST_PIXELS:
        raise _broken(f"masks, maps and pictures have more than {LARGEST_PIXELS} values in all")
    data = _PlaneData(bodies[Section.PLANES])

    def plane(what: str, record: tuple[int, ...], decode: Decode) -> bytes:
        width, height, form, spare, more, offset, length = record
        if spare or more:
            raise _broken(f"{what} has a spare byte that is not zero")
        return data.take(what, decode, (width, height), form, (offset, length))

    def picture(what: str, record: tuple[int, ...]) -> Image565:
        width, height, form, soft, spare, *places = record
        if spare:
            raise _broken(f"{what} has a spare byte that is not zero")
        pixels = data.take(what, planes.decode_pixels, (width, height), form, (places[0], places[1]))
        if soft == planes.NO_PLANE:
            if places[2:] != [0, 0]:
                raise _broken(f"{what} has no coverage, but a place for it")
            return Image565(width, height, pixels)
        soft_place = (places[2], places[3])
        coverage = data.take(what, planes.decode_mask, (width, height), soft, soft_place)
        if not coverage:
            raise _broken(f"{what} has a coverage of no pixels")
        return Image565(width, height, pixels, coverage)

    all_masks = tuple(
        Mask(record[0], record[1], plane(f"mask {number}", record, planes.decode_mask))
        for number, record in enumerate(masks)
    )
    all_maps = tuple(
        ThresholdMap(record[0], record[1], plane(f"map {number}", record, planes.decode_map))
        for number, record in enumerate(maps)
    )
    all_pictures = tuple(picture(f"picture {number}", record) for number, record in enumerate(pictures))
    data.finish()
    return all_masks, all_maps, all_pictures


class _PlaneData:
    """Takes planes one after the other, each where the data so far end or within them."""

    def __init__(self, body: memoryview) -> None:
        self._body = body
        self._fresh = 0

    def take(
        self, what: str, decode: Decode, size: tuple[int, int], form: int, place: tuple[int, int]
    ) -> bytes:
        offset, length = place
        end = offset + length
        filled = end + -end % planes.PLANE_ALIGNMENT
        if length and offset == self._fresh and filled <= len(self._body):
            self._fresh = filled
            if any(self._body[end:filled]):
                raise _broken(f"what fills up the data of {what} is not zero")
        elif offset % planes.PLANE_ALIGNMENT or end > self._fresh or (offset and not length):
            raise _broken(f"the data of {what} are not where they should be")
        try:
            return decode(form, bytes(self._body[offset : offset + length]), *size)
        except planes.PlaneError as reason:
            message = f"the data of {what} break the format: {reason}"
            raise DesignError([error("P504", message, remedy=REBUILD)]) from None

    def finish(self) -> None:
        if self._fresh != len(self._body):
            raise _broken("bytes are left over after the last mask, map or picture")


def _letter_sets(bodies: Bodies) -> tuple[LetterSet, ...]:
    letters = _letters(bodies[Section.LETTERS])
    body = bodies[Section.LETTER_SETS]
    sets: list[LetterSet] = []
    used = 0
    for at in range(0, len(body), LETTER_SET_SIZE):
        height, count, first = LETTERS_HEAD.unpack_from(body, at)
        if first != used or used + count > len(letters):
            raise _broken(f"the letters of set {len(sets)} are not where they should be")
        used += count
        one, two, three = _letters(body[at + LETTERS_HEAD.size : at + LETTER_SET_SIZE])
        sets.append(LetterSet(height, letters[first:used], (one, two, three)))
    if used != len(letters):
        raise _broken("letters are left over after the last set")
    return tuple(sets)


def _letters(body: memoryview) -> tuple[Letter, ...]:
    return tuple(
        Letter(Glyph(mask, left, top), advance) for mask, left, top, advance in LETTER.iter_unpack(body)
    )


def _outlines(bodies: Bodies) -> tuple[Outline, ...]:
    corners: list[tuple[int, int]] = list(CORNER.iter_unpack(bodies[Section.CORNERS]))
    outlines: list[Outline] = []
    used = 0
    for each, count, first in OUTLINE.iter_unpack(bodies[Section.OUTLINES]):
        # Without corners a few bytes would stand for many polygons.
        if first != used or used + each * count > len(corners) or each < LEAST_CORNERS:
            raise _broken(f"the corners of outline {len(outlines)} are not where they should be")
        used += each * count
        polygons = tuple(tuple(corners[at : at + each]) for at in range(first, used, each))
        outlines.append(Outline(each, polygons))
    if used != len(corners):
        raise _broken("corners are left over after the last outline")
    return tuple(outlines)


def _figure_sets(body: memoryview) -> tuple[FigureSet, ...]:
    sets = []
    for at in range(0, len(body), FIGURE_SET_SIZE):
        advance, point_advance, height = FIGURES_HEAD.unpack_from(body, at)
        glyphs = _glyphs(body[at + FIGURES_HEAD.size : at + FIGURE_SET_SIZE])
        assert len(glyphs) == FIGURE_GLYPHS
        sets.append(FigureSet(advance, point_advance, height, glyphs))
    return tuple(sets)


def _glyphs(body: memoryview) -> tuple[Glyph, ...]:
    return tuple(Glyph(*record) for record in GLYPH.iter_unpack(body))


def _screens(bodies: Bodies, names: _Names) -> tuple[ScreenDrawing, ...]:
    glyphs = _glyphs(bodies[Section.GLYPHS])
    records = bytes(bodies[Section.OPERATIONS])
    size = RECORD_SIZES[Section.OPERATIONS]
    operations = []
    used = 0
    for at in range(0, len(records), size):
        try:
            operation = decode(records[at : at + size], glyphs, used)
        except RecordError as reason:
            raise _broken(f"operation record {at // size} {reason}") from None
        operations.append(operation)
        used += len(operation.glyphs) if isinstance(operation, Run) else 0
    if used != len(glyphs):
        raise _broken("glyphs are left over after the last text")
    channels = tuple(channel for (channel,) in CHANNEL.iter_unpack(bodies[Section.SCREEN_CHANNELS]))
    zones = tuple(Zone(Box(*record)) for record in ZONE.iter_unpack(bodies[Section.ZONES]))
    screens = []
    next_operation = next_channel = next_zone = 0
    for number, record in enumerate(SCREEN.iter_unpack(bodies[Section.SCREENS])):
        offset, length, operation_count, first, first_channel, channel_count, zone_count, first_zone = record
        if (first, first_channel, first_zone) != (next_operation, next_channel, next_zone):
            raise _broken(f"the records of screen {number} are not where they should be")
        next_operation += operation_count
        next_channel += channel_count
        next_zone += zone_count
        screens.append(
            ScreenDrawing(
                names.take(offset, length),
                tuple(operations[first:next_operation]),
                channels[first_channel:next_channel],
                zones[first_zone:next_zone],
            )
        )
    if (next_operation, next_channel, next_zone) != (len(operations), len(channels), len(zones)):
        raise _broken("the screens do not add up to the operations, channels or zones")
    return tuple(screens)
