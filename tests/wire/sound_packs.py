"""Sound packs around any content, for tests of the line that care for bytes only."""

from __future__ import annotations

from functools import cache

from hmic.pack.writer import write
from hmic.paint.operations import Drawing, ScreenDrawing, Theme

SCREENS = {0: 7, 1: 40, 2: 120, 3: 1, 4: 0}
"""How many channels each screen lists."""

GLASS = (40, 20, 16)
MOST_COLOURS = 60_000


@cache
def pack_of(content: bytes = b"") -> bytes:
    """A pack with these bytes as colours of its themes, for a panel of ``GLASS``. Longer than the content by
    some kilobytes at most, and the same for the same content."""
    themes = max(2, -(-len(content) // (3 * MOST_COLOURS)))
    each = max(2, -(-len(content) // (3 * themes)))
    content = content.ljust(3 * each * themes, b"\0")
    colours = [(content[at], content[at + 1], content[at + 2]) for at in range(0, len(content), 3)]
    shades = tuple(
        Theme(f"theme {number}", tuple(colours[number * each : (number + 1) * each]), 80)
        for number in range(themes)
    )
    screens, first = [], 0
    for number, count in SCREENS.items():
        screens.append(ScreenDrawing(f"screen {number}", (), tuple(range(first, first + count)), ()))
        first += count
    return write(Drawing(*GLASS, shades, (), (), (), (60_000,) * first, tuple(screens), 0))
