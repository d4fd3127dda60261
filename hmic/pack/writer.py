"""From a drawing to the bytes of a screen pack."""

from __future__ import annotations

from hmic.diagnostics import DesignError, error
from hmic.pack import planes, validity
from hmic.pack.header import header, kind_of
from hmic.pack.records import (
    CHANNEL,
    COLOUR,
    CRC_AT,
    FIGURES_HEAD,
    FIGURES_TAIL,
    FILL_TAIL,
    FLASH,
    GLYPH,
    LARGEST_PACK,
    MASK_TAIL,
    OPERATION_HEAD,
    PLANE,
    PLUS,
    RECORD_SIZES,
    REVEAL_TAIL,
    RUN_TAIL,
    SCREEN,
    SECTION,
    SIXTIES,
    TABLE_END,
    THEME,
    ZONE,
    Section,
    aligned,
    checksum,
)
from hmic.paint.operations import (
    NO_CHANNEL,
    Drawing,
    Figures,
    Fill,
    Frame,
    Glyph,
    Operation,
    Reveal,
    Run,
    Stencil,
)

# A drawing with many faults has one cause more often than many.
MOST_FINDINGS = 20


def write(drawing: Drawing) -> bytes:
    """The pack of a drawing: the same bytes for the same drawing, always.

    Raises DesignError (P505) for a drawing that a display could not draw, (P506) for one that
    comes out larger than ``LARGEST_PACK``.
    """
    found = []
    for fault in validity.faults(drawing):
        found.append(error("P505", f"the drawing cannot be packed: {fault}"))
        if len(found) == MOST_FINDINGS:
            break
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
        raise DesignError([error("P506", message, remedy="use smaller texts, shapes and pictures")])
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
    coverage = bytearray()
    placed: dict[tuple[int, bytes], int] = {}
    for section, tables in (
        (
            Section.MASKS,
            [(m.width, m.height, *planes.encode_mask(m.coverage, m.width)) for m in drawing.masks],
        ),
        (
            Section.MAPS,
            [(m.width, m.height, *planes.encode_map(m.thresholds, m.width)) for m in drawing.maps],
        ),
    ):
        bodies[section] = b"".join(_plane(*table, coverage, placed) for table in tables)
    bodies[Section.COVERAGE] = bytes(coverage)
    bodies[Section.FIGURE_SETS] = b"".join(
        FIGURES_HEAD.pack(figures.advance, figures.point_advance, figures.height) + _glyphs(figures.glyphs)
        for figures in drawing.figure_sets
    )
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
            operations += _operation(operation, glyphs)
        for channel in screen.channels:
            channels += CHANNEL.pack(channel)
        for zone in screen.zones:
            zones += ZONE.pack(zone.box.left, zone.box.top, zone.box.width, zone.box.height)
    bodies[Section.SCREENS] = bytes(screens)
    bodies[Section.OPERATIONS] = bytes(operations)
    bodies[Section.SCREEN_CHANNELS] = bytes(channels)
    bodies[Section.ZONES] = bytes(zones)
    bodies[Section.GLYPHS] = bytes(glyphs)


def _plane(
    width: int,
    height: int,
    form: int,
    data: bytes,
    coverage: bytearray,
    placed: dict[tuple[int, bytes], int],
) -> bytes:
    at = placed.get((form, data))
    if at is None:
        at = placed[form, data] = len(coverage)
        coverage += data
    return PLANE.pack(width, height, form, 0, 0, at, len(data))


def _glyphs(glyphs: tuple[Glyph, ...]) -> bytes:
    return b"".join(GLYPH.pack(glyph.mask, glyph.left, glyph.top) for glyph in glyphs)


def _operation(operation: Operation, glyphs: bytearray) -> bytes:
    flags = 0
    match operation:
        case Fill():
            tail = FILL_TAIL.pack()
        case Stencil():
            flags = FLASH if operation.flash else 0
            tail = MASK_TAIL.pack(operation.mask)
        case Run():
            tail = RUN_TAIL.pack(len(glyphs) // GLYPH.size, len(operation.glyphs))
            glyphs += _glyphs(operation.glyphs)
        case Frame():
            tail = MASK_TAIL.pack(operation.corner)
        case Figures():
            flags = (PLUS if operation.plus else 0) | (SIXTIES if operation.sixties else 0)
            tail = FIGURES_TAIL.pack(
                operation.channel,
                operation.figure_set,
                operation.offset,
                operation.scale,
                operation.least,
                operation.places,
                operation.point,
                operation.point_after,
            )
        case Reveal():
            tail = REVEAL_TAIL.pack(
                operation.channel,
                operation.axis,
                operation.zero,
                operation.mask,
                operation.map,
                operation.gain,
                operation.edge,
            )
    box, when = operation.box, operation.when
    head = OPERATION_HEAD.pack(
        kind_of(operation),
        flags,
        box.left,
        box.top,
        box.width,
        box.height,
        operation.ink.first,
        operation.ink.tint,
        when.channel if when else NO_CHANNEL,
        when.low if when else 0,
        when.high if when else 0,
    )
    return head + tail
