"""The byte tables of FORMAT.md as data: sizes, section kinds and record shapes, all little endian."""

from __future__ import annotations

import hashlib
import struct
import zlib
from enum import IntEnum

MAGIC = b"hmic\xd9\n\x00\xff"
VERSION = 1
ALIGNMENT = 64
BLOCK = 256

# A display sizes its offsets by these; a reader's memory is bounded by them.
LARGEST_PACK = 1 << 26
LARGEST_SIDE = 4096
LARGEST_PIXELS = 1 << 24
LONGEST_NAME = 255
MOST_PLACES = 16
FIGURE_GLYPHS = 18
LARGEST_STEPS = 65533
LEAST_CORNERS = 3
MOST_CORNERS = 16
# Of 16 a pixel.
FURTHEST_CORNER = 32767
# With it, no product of a flow leaves 32 bits.
LONGEST_PITCH = 1024

# magic, version, header size, total, crc, width, height, depth, themes, start, colours, channels,
# masks, maps, figure sets, screens, largest mask width and height, most operations, channels and
# zones of a screen, operation kinds used, sections, pictures, letter sets, outlines, first theme,
# line rate
HEADER = struct.Struct("<8sHHIIHHBBHHHHHHHHHHHHHHHHHHH")
CRC_AT = 16

# kind, spare, offset, length, records
SECTION = struct.Struct("<HHIII")


class Section(IntEnum):
    """Section kinds, in the order they stand in a pack."""

    NAMES = 1
    THEMES = 2
    COLOURS = 3
    CHANNELS = 4
    MASKS = 5
    MAPS = 6
    PICTURES = 7
    PLANES = 8
    FIGURE_SETS = 9
    LETTER_SETS = 10
    LETTERS = 11
    OUTLINES = 12
    CORNERS = 13
    GLYPHS = 14
    SCREENS = 15
    OPERATIONS = 16
    SCREEN_CHANNELS = 17
    ZONES = 18
    BLOCK_HASHES = 19


TABLE_AT = HEADER.size
TABLE_END = TABLE_AT + SECTION.size * len(Section)

THEME = struct.Struct("<IHBB")  # name offset, name length, brightness, spare
COLOUR = struct.Struct("<3B")
CHANNEL = struct.Struct("<H")
PLANE = struct.Struct("<HHBBHII")  # width, height, form, spare, spare, offset, length
# width, height, form of the pixels, form of the coverage, spare, then offset and length of each
PICTURE = struct.Struct("<HHBBHIIII")
GLYPH = struct.Struct("<Hhh")  # mask, left, top
LETTER = struct.Struct("<HhhH")  # mask, left, top, advance
LETTERS_HEAD = struct.Struct("<HHI")  # height, letters, first letter
LETTER_SET_SIZE = LETTERS_HEAD.size + 3 * LETTER.size
OUTLINE = struct.Struct("<HHI")  # corners each, polygons, first corner
CORNER = struct.Struct("<HH")
FIGURES_HEAD = struct.Struct("<HHH")  # advance, point advance, height
FIGURE_SET_SIZE = FIGURES_HEAD.size + FIGURE_GLYPHS * GLYPH.size
# name offset, name length, operations, first operation, first channel, channels, zones, first zone
SCREEN = struct.Struct("<IHHIIHHI")
ZONE = struct.Struct("<4H")
# kind, flags, box, ink first, ink tint, when channel, low, high; then 16 bytes by kind
OPERATION_HEAD = struct.Struct("<BB4HHHHHH")
OPERATION_SIZE = OPERATION_HEAD.size + 16
FILL_TAIL = struct.Struct("<16x")
MASK_TAIL = struct.Struct("<H14x")
RUN_TAIL = struct.Struct("<IH10x")  # first glyph, glyphs
FIGURES_TAIL = struct.Struct("<HHiiBBBB")  # channel, set, offset, scale, least, places, point, point after
REVEAL_TAIL = struct.Struct("<HBxHHHHH2x")  # channel, axis, zero, mask, map, gain, edge
SLIDE_TAIL = struct.Struct("<HBxH10x")  # channel, axis, mask
POINTER_TAIL = struct.Struct("<HH12x")  # channel, outline
TRACE_TAIL = struct.Struct("<HHHHH6x")  # first channel, columns, head, levels, thickness
FLOW_TAIL = struct.Struct("<HBxHHHH4x")  # channel, axis, offset, pitch, mark, pace
LETTERS_TAIL = struct.Struct("<HHH10x")  # first channel, letters, letter set

RECORD_SIZES: dict[Section, int] = {
    Section.NAMES: 1,
    Section.THEMES: THEME.size,
    Section.COLOURS: COLOUR.size,
    Section.CHANNELS: CHANNEL.size,
    Section.MASKS: PLANE.size,
    Section.MAPS: PLANE.size,
    Section.PICTURES: PICTURE.size,
    Section.PLANES: 1,
    Section.FIGURE_SETS: FIGURE_SET_SIZE,
    Section.LETTER_SETS: LETTER_SET_SIZE,
    Section.LETTERS: LETTER.size,
    Section.OUTLINES: OUTLINE.size,
    Section.CORNERS: CORNER.size,
    Section.GLYPHS: GLYPH.size,
    Section.SCREENS: SCREEN.size,
    Section.OPERATIONS: OPERATION_SIZE,
    Section.SCREEN_CHANNELS: CHANNEL.size,
    Section.ZONES: ZONE.size,
    Section.BLOCK_HASHES: 4,
}


class Kind(IntEnum):
    """Operation kinds."""

    FILL = 1
    STENCIL = 2
    RUN = 3
    FRAME = 4
    FIGURES = 5
    REVEAL = 6
    SLIDE = 7
    POINTER = 8
    TRACE = 9
    FLOW = 10
    PICTURE = 11
    LETTERS = 12


FLASH = 1
PLUS = 1
SIXTIES = 2
SMALL = 4


def aligned(offset: int) -> int:
    """The next multiple of the section alignment."""
    return -(-offset // ALIGNMENT) * ALIGNMENT


def checksum(data: bytes | bytearray) -> int:
    """CRC-32/ISO-HDLC of a whole pack, its own field taken as zero."""
    crc = zlib.crc32(data[:CRC_AT])
    crc = zlib.crc32(bytes(4), crc)
    return zlib.crc32(memoryview(data)[CRC_AT + 4 :], crc)


def identity(data: bytes) -> bytes:
    """The 8 bytes that stand for a pack: the first of the SHA-256 of all its bytes."""
    return hashlib.sha256(data).digest()[:8]
