"""What each byte of a pack is for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from hmic.pack import reader
from hmic.pack.operation_records import kind_of
from hmic.pack.planes import NO_PLANE, PLANE_ALIGNMENT
from hmic.pack.records import (
    CORNER,
    FIGURE_SET_SIZE,
    HEADER,
    LETTER,
    PICTURE,
    PLANE,
    RECORD_SIZES,
    SECTION,
    TABLE_AT,
    TABLE_END,
    Section,
    aligned,
)
from hmic.paint.operations import Drawing, Run

PADDING = "padding"
FORMS = ("plain", "runs", "PackBits")


@dataclass(frozen=True)
class Entry:
    """``length`` bytes from ``offset``: the section they stand in and what they are."""

    offset: int
    length: int
    section: str
    what: str


def section_name(section: Section) -> str:
    """A section's name in words."""
    return section.name.lower().replace("_", " ")


def account(data: bytes, drawing: Drawing) -> list[Entry]:
    """Every byte of a pack exactly once, in order; ``drawing`` is what ``reader.read`` gives for it."""
    bodies = reader.sections(data)
    entries = [Entry(0, HEADER.size, "header", "header")]
    for place, section in enumerate(Section):
        at = TABLE_AT + place * SECTION.size
        entries.append(Entry(at, SECTION.size, "section table", section_name(section)))
    entries += _padding(TABLE_END, "section table")
    at = aligned(TABLE_END)
    for section in Section:
        body = bodies[section]
        start = at
        for length, what in _parts(section, drawing, bodies):
            entries.append(Entry(at, length, section_name(section), what))
            at += length
        assert at == start + len(body)
        entries += _padding(at, section_name(section))
        at = aligned(at)
    return entries


def section_sizes(data: bytes) -> dict[str, int]:
    """Bytes of each section of a whole pack that has any, in order, what fills it up included."""
    sizes = {"header": HEADER.size, "section table": aligned(TABLE_END) - HEADER.size}
    for section, body in reader.sections(data).items():
        sizes[section_name(section)] = aligned(len(body))
    return {name: size for name, size in sizes.items() if size}


def totals(entries: list[Entry]) -> list[tuple[str, int, int]]:
    """Section, number of records and bytes, padding counted as a section of its own."""
    sums: dict[str, tuple[int, int]] = {}
    for entry in entries:
        name = PADDING if entry.what == PADDING else entry.section
        count, size = sums.get(name, (0, 0))
        sums[name] = count + 1, size + entry.length
    return [(name, count, size) for name, (count, size) in sums.items()]


def _padding(at: int, section: str) -> list[Entry]:
    length = aligned(at) - at
    return [Entry(at, length, section, PADDING)] if length else []


def _parts(section: Section, drawing: Drawing, bodies: reader.Bodies) -> Iterator[tuple[int, str]]:
    size = RECORD_SIZES[section]
    match section:
        case Section.NAMES:
            named = [(f"theme {number}", theme.name) for number, theme in enumerate(drawing.themes)]
            named += [(f"screen {number}", screen.name) for number, screen in enumerate(drawing.screens)]
            for what, name in named:
                yield len(name.encode()), f"name of {what}: {name}"
        case Section.THEMES:
            for theme in drawing.themes:
                yield size, f"theme {theme.name}, brightness {theme.brightness} %"
        case Section.COLOURS:
            for theme in drawing.themes:
                yield size * len(theme.colours), f"{len(theme.colours)} colours of theme {theme.name}"
        case Section.CHANNELS:
            for number, steps in enumerate(drawing.channels):
                yield size, f"channel {number}, {steps} steps"
        case Section.MASKS:
            for number, mask in enumerate(drawing.masks):
                yield size, f"mask {number}, {mask.width} x {mask.height}"
        case Section.MAPS:
            for number, plane in enumerate(drawing.maps):
                yield size, f"map {number}, {plane.width} x {plane.height}"
        case Section.PICTURES:
            for number, picture in enumerate(drawing.pictures):
                yield size, f"picture {number}, {picture.width} x {picture.height}"
        case Section.PLANES:
            yield from _planes(bodies)
        case Section.FIGURE_SETS:
            for number, figures in enumerate(drawing.figure_sets):
                yield FIGURE_SET_SIZE, f"figure set {number}, {figures.height} high"
        case Section.LETTER_SETS:
            for number, held in enumerate(drawing.letter_sets):
                yield size, f"letter set {number}, {held.height} high, with its marks"
        case Section.LETTERS:
            for number, held in enumerate(drawing.letter_sets):
                if held.letters:
                    count = len(held.letters)
                    yield LETTER.size * count, f"{count} letters of letter set {number}"
        case Section.OUTLINES:
            for number, outline in enumerate(drawing.outlines):
                yield size, f"outline {number}, {len(outline.polygons)} polygons"
        case Section.CORNERS:
            for number, outline in enumerate(drawing.outlines):
                if outline.polygons:
                    count = outline.points_each * len(outline.polygons)
                    yield CORNER.size * count, f"{count} corners of outline {number}"
        case Section.SCREENS:
            for screen in drawing.screens:
                yield size, f"screen {screen.name}"
        case Section.BLOCK_HASHES:
            return
        case _:
            yield from _screen_parts(section, drawing)


def _planes(bodies: reader.Bodies) -> Iterator[tuple[int, str]]:
    placed = [
        (f"{kind} {number}", record[2], record[5], record[6])
        for kind, section in (("mask", Section.MASKS), ("map", Section.MAPS))
        for number, record in enumerate(PLANE.iter_unpack(bodies[section]))
    ]
    for number, record in enumerate(PICTURE.iter_unpack(bodies[Section.PICTURES])):
        placed.append((f"picture {number}", record[2], record[5], record[6]))
        if record[3] != NO_PLANE:
            placed.append((f"the coverage of picture {number}", record[3], record[7], record[8]))
    at = 0
    for what, form, offset, length in placed:
        if offset == at and length:
            at += length
            yield length, f"data of {what}, {FORMS[form]}"
            filling = -length % PLANE_ALIGNMENT
            if filling:
                at += filling
                yield filling, PADDING


def _screen_parts(section: Section, drawing: Drawing) -> Iterator[tuple[int, str]]:
    size = RECORD_SIZES[section]
    for screen in drawing.screens:
        if section == Section.GLYPHS:
            for place, operation in enumerate(screen.operations):
                if isinstance(operation, Run) and operation.glyphs:
                    count = len(operation.glyphs)
                    yield size * count, f"{count} glyphs of operation {place} of screen {screen.name}"
        elif section == Section.OPERATIONS:
            for place, operation in enumerate(screen.operations):
                yield size, f"operation {place} of screen {screen.name}: {kind_of(operation).name.lower()}"
        elif section == Section.SCREEN_CHANNELS:
            for channel in screen.channels:
                yield size, f"screen {screen.name} needs channel {channel}"
        elif section == Section.ZONES:
            for place, zone in enumerate(screen.zones):
                box = zone.box
                what = f"zone {place} of screen {screen.name}: {box.width} x {box.height}"
                yield size, f"{what} at {box.left}, {box.top}"
