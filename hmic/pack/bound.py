"""How large a pack can be at most, without writing it."""

from __future__ import annotations

from hmic.pack.planes import (
    CLEAR_COVERAGE,
    FULL_COVERAGE,
    MOST_ALIKE,
    MOST_SOME,
    PLANE_ALIGNMENT,
    ROWS_PER_START,
)
from hmic.pack.records import RECORD_SIZES, TABLE_END, Section, aligned
from hmic.paint.operations import Drawing, Run

# The kinds of pixels that the code of masks tells apart: clear, full and soft.
_CLEAR, _FULL, _SOFT = range(3)
_KINDS = bytes(
    _CLEAR if value == CLEAR_COVERAGE else _FULL if value == FULL_COVERAGE else _SOFT for value in range(256)
)
_CHANGES = tuple(bytes((a, b)) for a in range(3) for b in range(3) if a != b)


def size_bound(drawing: Drawing, enough: int) -> int:
    """No fewer bytes than ``write`` gives for the drawing. What is looked at closely, the largest masks
    first, is no more than it takes to come to ``enough`` or less."""
    sizes = [(mask.width + 1) // 2 * mask.height for mask in drawing.masks]
    total = _tables(drawing) + sum(sizes)
    total += sum(len(each.thresholds) for each in drawing.maps)
    total += sum(len(each.pixels) + len(each.coverage) for each in drawing.pictures)
    total += PLANE_ALIGNMENT * (len(sizes) + len(drawing.maps) + 2 * len(drawing.pictures))
    for number in sorted(range(len(sizes)), key=lambda at: -sizes[at]):
        if total <= enough:
            break
        mask = drawing.masks[number]
        total -= max(0, sizes[number] - _coded(mask.coverage, mask.height))
    return total


def _coded(coverage: bytes, height: int) -> int:
    """A mask in runs at most: a head for each run and each piece of it, and its soft pixels two to a
    byte. Runs end where the kind of pixel changes, or a row."""
    kinds = coverage.translate(_KINDS)
    soft = kinds.count(_SOFT)
    runs = height + sum(map(kinds.count, _CHANGES))
    pieces = runs + len(kinds) // MOST_ALIKE + soft // MOST_SOME
    return pieces + (soft + pieces) // 2 + 4 * (height // ROWS_PER_START)


def _tables(drawing: Drawing) -> int:
    """The header, and every section but the planes, filled up."""
    names = [*(theme.name for theme in drawing.themes), *(screen.name for screen in drawing.screens)]
    runs = [item for screen in drawing.screens for item in screen.operations if isinstance(item, Run)]
    counts = {
        Section.NAMES: sum(len(name.encode()) for name in names),
        Section.THEMES: len(drawing.themes),
        Section.COLOURS: sum(len(theme.colours) for theme in drawing.themes),
        Section.CHANNELS: len(drawing.channels),
        Section.MASKS: len(drawing.masks),
        Section.MAPS: len(drawing.maps),
        Section.PICTURES: len(drawing.pictures),
        Section.FIGURE_SETS: len(drawing.figure_sets),
        Section.LETTER_SETS: len(drawing.letter_sets),
        Section.LETTERS: sum(len(each.letters) + len(each.marks) for each in drawing.letter_sets),
        Section.OUTLINES: len(drawing.outlines),
        Section.CORNERS: sum(len(each.polygons) * each.points_each for each in drawing.outlines),
        Section.GLYPHS: sum(len(run.glyphs) for run in runs),
        Section.SCREENS: len(drawing.screens),
        Section.OPERATIONS: sum(len(screen.operations) for screen in drawing.screens),
        Section.SCREEN_CHANNELS: sum(len(screen.channels) for screen in drawing.screens),
        Section.ZONES: sum(len(screen.zones) for screen in drawing.screens),
    }
    filled = sum(aligned(count * RECORD_SIZES[section]) for section, count in counts.items())
    # The planes, whose bytes are not counted here, are filled up too.
    return aligned(TABLE_END) + filled + aligned(1)
