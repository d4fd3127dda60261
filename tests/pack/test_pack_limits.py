"""Every limit of FORMAT.md's tables at it, and one beyond: what is at its limit can be drawn, what is beyond
is told with its place and the limit. The figures here are the document's."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from hmic.pack import validity
from hmic.pack.validity import faults, refusals
from hmic.paint.operations import (
    Box,
    Drawing,
    FigureSet,
    Fill,
    Glyph,
    Image565,
    Ink,
    Letter,
    Letters,
    LetterSet,
    Mask,
    Outline,
    ScreenDrawing,
    Theme,
    ThresholdMap,
    Trace,
    Zone,
)
from tests.tools.changed import replace

FORMAT = (Path(validity.__file__).parent / "FORMAT.md").read_text(encoding="utf-8")
BLACK = (0, 0, 0)
THEME = Theme("day", (BLACK, BLACK), 80)
NOTHING = Mask(0, 0, b"")
GLYPH = Glyph(0, 0, 0)
LETTER = Letter(GLYPH, 3)
FIGURES = FigureSet(6, 3, 9, (GLYPH,) * 18)
LETTERS = LetterSet(5, (LETTER,), (LETTER,) * 3)
SQUARE = ((0, 0), (64, 0), (64, 64), (0, 64))
SCREEN = ScreenDrawing("all", (), (0,), ())
EMPTY = Drawing(40, 20, 24, (THEME,), (NOTHING,), (), (), (3,), (SCREEN,), 0)
LONG = 65535


def theme(**change: Any) -> dict[str, Any]:
    return {"themes": (replace(THEME, **change),)}


def screen(**change: Any) -> dict[str, Any]:
    return {"screens": (replace(SCREEN, **change),)}


def figures(**change: Any) -> dict[str, Any]:
    return {"figure_sets": (replace(FIGURES, **change),)}


def letters(**change: Any) -> dict[str, Any]:
    return {"letter_sets": (replace(LETTERS, **change),)}


def outline(*corners: tuple[int, int], count: int = 1) -> dict[str, Any]:
    return {"outlines": (Outline(len(corners), (corners,) * count),)}


def polygon(corners: int) -> dict[str, Any]:
    """A convex one, clockwise: up and down again along a parabola."""
    up = [(10 * at, 1000 - 10 * at * (corners - at)) for at in range(corners - 1)]
    return outline(*up, (10 * (corners - 1), 1000))


def glyph(left: int, top: int, mask: int = 0) -> dict[str, Any]:
    return figures(glyphs=(Glyph(mask, left, top), *(GLYPH,) * 17))


def mask(width: int, height: int, *values: int) -> dict[str, Any]:
    return {"masks": (NOTHING, Mask(width, height, bytes(values)))}


def each(table: str, one: object, count: int) -> dict[str, Any]:
    return {table: (one,) * count}


STRIP = Mask(4096, 1, bytes(4096))
SHORT = Mask(4095, 1, bytes(4095))
HALF = Image565(4096, 2048, bytes(1 << 24))
THIRD = Image565(4095, 1365, bytes(2 * 4095 * 1365), bytes(4095 * 1365))
# 4095 x 1365 x 3 and 8191 are 2^24.
FULL = {"masks": (STRIP, SHORT), "pictures": (THIRD,)}

# (at the limit, one beyond it, what is told then).
LIMITS: list[tuple[dict[str, Any], dict[str, Any], str]] = [
    ({"width": 1}, {"width": 0}, "the panel is 0 pixels wide; 1 to 4096"),
    ({"width": 4096}, {"width": 4097}, "the panel is 4097 pixels wide; 1 to 4096"),
    ({"height": 1}, {"height": 0}, "the panel is 0 pixels high; 1 to 4096"),
    ({"height": 4096}, {"height": 4097}, "the panel is 4097 pixels high; 1 to 4096"),
    ({"depth": 16}, {"depth": 15}, "depth is 15"),
    ({"depth": 16}, {"depth": 17}, "depth is 17"),
    ({"depth": 24}, {"depth": 23}, "depth is 23"),
    ({"depth": 24}, {"depth": 25}, "depth is 25"),
    (each("themes", THEME, 1), {"themes": ()}, "0 themes; 1 to 255"),
    (
        {"themes": tuple(replace(THEME, name=str(at)) for at in range(255))},
        {"themes": tuple(replace(THEME, name=str(at)) for at in range(256))},
        "256 themes; 1 to 255",
    ),
    (theme(colours=(BLACK,) * 2), theme(colours=(BLACK,)), "1 colours; 2 to 65535"),
    (theme(colours=(BLACK,) * LONG), theme(colours=(BLACK,) * (LONG + 1)), "65536 colours; 2 to 65535"),
    (
        {"themes": (THEME, replace(THEME, name="night"))},
        {"themes": (replace(THEME, colours=(BLACK,)), replace(THEME, name="night"))},
        "there are 1 colours; 2 to 65535",
    ),
    (theme(brightness=0), theme(brightness=-1), "theme 0 has a brightness of -1"),
    (theme(brightness=100), theme(brightness=101), "theme 0 has a brightness of 101"),
    (theme(colours=(BLACK, (0, 0, 0))), theme(colours=(BLACK, (0, 0, -1))), "theme 0 has a colour outside"),
    (
        theme(colours=(BLACK, (255, 255, 255))),
        theme(colours=(BLACK, (255, 256, 255))),
        "theme 0 has a colour outside 0 to 255",
    ),
    (
        {"themes": (THEME, replace(THEME, name="night"))},
        {"themes": (THEME, replace(THEME, name="night", colours=(BLACK,) * 3))},
        "theme 1 has another number of colours",
    ),
    (theme(name="a"), theme(name=""), "theme 0 has a name of 0 bytes; 1 to 255"),
    (theme(name="é" * 127 + "e"), theme(name="é" * 128), "theme 0 has a name of 256 bytes"),
    (theme(name="\ud7ff"), theme(name="\ud800"), "theme 0 has a name that is no Unicode text"),
    (theme(name=" "), theme(name="\x1f"), "theme 0 has a control character"),
    (theme(name="~"), theme(name="\x7f"), "theme 0 has a control character"),
    (theme(name="\xa0"), theme(name="\x9f"), "theme 0 has a control character"),
    (screen(name="a" * 255), screen(name="a" * 256), "screen 0 has a name of 256 bytes"),
    ({"channels": (1,)}, {"channels": (0,)}, "channel 0 has 0 steps; 1 to 65533"),
    ({"channels": (65533,)}, {"channels": (65534,)}, "channel 0 has 65534 steps; 1 to 65533"),
    (each("channels", 1, LONG - 1), each("channels", 1, LONG), "65535 channels; 65534"),
    (each("masks", NOTHING, LONG - 1), each("masks", NOTHING, LONG), "65535 masks; 65534"),
    (
        each("maps", ThresholdMap(0, 0, b""), LONG - 1),
        each("maps", ThresholdMap(0, 0, b""), LONG),
        "65535 maps; 65534",
    ),
    (
        each("pictures", Image565(0, 0, b""), LONG - 1),
        each("pictures", Image565(0, 0, b""), LONG),
        "65535 pictures; 65534",
    ),
    (each("figure_sets", FIGURES, LONG - 1), each("figure_sets", FIGURES, LONG), "65535 figure sets; 65534"),
    (each("letter_sets", LETTERS, LONG - 1), each("letter_sets", LETTERS, LONG), "65535 letter sets; 65534"),
    (
        each("outlines", Outline(4, ()), LONG - 1),
        each("outlines", Outline(4, ()), LONG),
        "65535 outlines; 65534",
    ),
    (each("screens", SCREEN, LONG - 1), each("screens", SCREEN, LONG), "65535 screens; 65534"),
    ({"start": 0}, {"start": -1}, "start screen -1 does not exist"),
    ({"screens": (SCREEN,) * 2, "start": 1}, {"screens": (SCREEN,) * 2, "start": 2}, "start screen 2"),
    (mask(1, 1, 15), mask(1, 1, 16), "mask 1 has a value above 15"),
    (mask(1, 2, 0, 1), mask(1, 2, 0), "mask 1 has 1 values for 1 x 2"),
    (mask(2, 1, 0, 1), mask(2, 1, 0, 0, 0), "mask 1 has 3 values for 2 x 1"),
    (mask(0, 4096), mask(0, 4097), "mask 1 is 0 x 4097 pixels; 4096 a side"),
    (mask(4096, 0), mask(4097, 0), "mask 1 is 4097 x 0 pixels"),
    (mask(0, 0), mask(-1, 0), "mask 1 is -1 x 0 pixels"),
    (mask(0, 0), mask(0, -1), "mask 1 is 0 x -1 pixels"),
    (
        {"maps": (ThresholdMap(1, 1, b"\xff"),)},
        {"maps": (ThresholdMap(1, 1, b"\xff\0"),)},
        "map 0 has 2 values for 1 x 1",
    ),
    (
        {"pictures": (Image565(1, 1, b"\xff\xff", b"\x0f"),)},
        {"pictures": (Image565(1, 1, b"\xff\xff", b"\x10"),)},
        "coverage of picture 0 has a value above 15",
    ),
    (
        {"pictures": (Image565(1, 1, b"\xff\xff"),)},
        {"pictures": (Image565(1, 1, b"\xff"),)},
        "picture 0 has 1 values for 1 x 1",
    ),
    (
        {"pictures": (HALF,)},
        {"pictures": (HALF,), "masks": (Mask(1, 1, b"\0"),)},
        "more than 16777216 values",
    ),
    (FULL, {**FULL, "masks": (STRIP, STRIP)}, "more than 16777216 values in all"),
    (
        {**FULL, "maps": (ThresholdMap(0, 9, b""),)},
        {**FULL, "maps": (ThresholdMap(1, 1, b"\0"),)},
        "more than 16777216 values in all",
    ),
    (figures(advance=0), figures(advance=-1), "figure set 0 has a number -1; 0 to 65535"),
    (figures(advance=LONG), figures(advance=LONG + 1), "figure set 0 has a number 65536"),
    (figures(point_advance=LONG), figures(point_advance=LONG + 1), "figure set 0 has a number 65536"),
    (figures(height=LONG), figures(height=LONG + 1), "figure set 0 has a number 65536"),
    (figures(glyphs=(GLYPH,) * 18), figures(glyphs=(GLYPH,) * 17), "figure set 0 has 17 glyphs; 18"),
    (figures(glyphs=(GLYPH,) * 18), figures(glyphs=(GLYPH,) * 19), "figure set 0 has 19 glyphs; 18"),
    (glyph(0, 0), glyph(0, 0, -1), "figure set 0 has a glyph with mask -1"),
    (glyph(0, 0, 0), glyph(0, 0, 1), "figure set 0 has a glyph with mask 1"),
    (glyph(-32768, -32768), glyph(-32769, 0), "glyph at -32769, 0"),
    (glyph(-32768, -32768), glyph(0, -32769), "glyph at 0, -32769"),
    (glyph(32767, 32767), glyph(32768, 0), "glyph at 32768, 0"),
    (glyph(32767, 32767), glyph(0, 32768), "glyph at 0, 32768"),
    (letters(height=LONG), letters(height=LONG + 1), "letter set 0 has a number 65536"),
    (letters(height=0), letters(height=-1), "letter set 0 has a number -1"),
    (
        letters(letters=(Letter(GLYPH, LONG),)),
        letters(letters=(Letter(GLYPH, LONG + 1),)),
        "letter set 0 has a number 65536",
    ),
    (
        letters(marks=(LETTER, LETTER, Letter(GLYPH, LONG))),
        letters(marks=(LETTER, LETTER, Letter(GLYPH, LONG + 1))),
        "letter set 0 has a number 65536",
    ),
    (
        letters(marks=(LETTER, LETTER, Letter(GLYPH, 0))),
        letters(marks=(LETTER, LETTER, Letter(Glyph(1, 0, 0), 0))),
        "letter set 0 has a glyph with mask 1",
    ),
    (letters(letters=(LETTER,) * 65532), letters(letters=(LETTER,) * 65533), "65533 letters; 65532"),
    (letters(marks=(LETTER,) * 3), letters(marks=(LETTER,) * 2), "2 marks; 3"),
    (letters(marks=(LETTER,) * 3), letters(marks=(LETTER,) * 4), "4 marks; 3"),
    (polygon(3), outline((0, 0), (9, 9)), "corners of each, has a number 2; 3 to 16"),
    (polygon(16), polygon(17), "corners of each, has a number 17; 3 to 16"),
    (
        outline(*SQUARE[:3], count=LONG),
        outline(*SQUARE[:3], count=LONG + 1),
        "outline 0 has 65536 polygons; 65535",
    ),
    (
        {"outlines": (Outline(4, (SQUARE, SQUARE)),)},
        {"outlines": (Outline(4, (SQUARE, SQUARE[:3])),)},
        "3 corners in polygon 1, not 4",
    ),
    (
        outline((0, 0), (32767, 0), (32767, 32767)),
        outline((0, 0), (32768, 0), (32767, 32767)),
        "outside 0 to 32767 in polygon 0",
    ),
    (
        outline((0, 0), (32767, 0), (32767, 32767)),
        outline((0, 0), (32767, 0), (32767, 32768)),
        "outside 0 to 32767 in polygon 0",
    ),
    (outline((0, 0), (9, 0), (9, 9)), outline((-1, 0), (9, 0), (9, 9)), "outside 0 to 32767"),
    (outline((0, 0), (9, 0), (9, 9)), outline((0, 0), (9, -1), (9, 9)), "outside 0 to 32767"),
    # On the line of an edge, then a hair within it; a corner twice; no area at all.
    (
        outline((0, 0), (50, 0), (99, 0), (99, 99)),
        outline((0, 0), (50, 1), (99, 0), (99, 99)),
        "polygon 0 is not convex",
    ),
    (outline((0, 0), (9, 0), (9, 0), (9, 9)), outline((9, 9), (9, 0), (9, 0), (0, 0)), "clockwise"),
    (outline((0, 0), (9, 9), (8, 9)), outline((0, 0), (9, 9), (3, 3)), "not convex and clockwise"),
    (outline((0, 0), (9, 9), (8, 9)), outline((5, 5), (5, 5), (5, 5)), "not convex and clockwise"),
    (
        screen(operations=(Fill(Box(0, 0, 40, 20), Ink(0)),) * LONG),
        screen(operations=(Fill(Box(0, 0, 40, 20), Ink(0)),) * (LONG + 1)),
        "screen 0 has a number 65536; 0 to 65535",
    ),
    (
        screen(zones=(Zone(Box(0, 0, 40, 20)),) * LONG),
        screen(zones=(Zone(Box(0, 0, 40, 20)),) * (LONG + 1)),
        "screen 0 has a number 65536; 0 to 65535",
    ),
    (screen(channels=(0,)), screen(channels=(0, 0)), "screen 0 lists a channel twice"),
    (screen(channels=(0,)), screen(channels=(1,)), "screen 0 lists a channel that does not exist"),
    (screen(channels=(0,)), screen(channels=(-1,)), "screen 0 lists a channel that does not exist"),
    (screen(zones=(Zone(Box(0, 0, 40, 20)),)), screen(zones=(Zone(Box(0, 0, 41, 20)),)), "screen 0, zone 0"),
    (screen(zones=(Zone(Box(0, 0, 40, 20)),)), screen(zones=(Zone(Box(0, 1, 40, 20)),)), "screen 0, zone 0"),
    (screen(zones=(Zone(Box(0, 0, 40, 20)),)), screen(zones=(Zone(Box(-1, 0, 9, 9)),)), "screen 0, zone 0"),
]


@pytest.mark.parametrize("number", range(len(LIMITS)))
def test_what_is_at_a_limit_can_be_drawn_and_beyond_it_is_told(number: int) -> None:
    within, beyond, words = LIMITS[number]
    assert list(faults(replace(EMPTY, **within))) == []
    told = list(faults(replace(EMPTY, **beyond)))
    assert [each for each in told if words in each], told
    if "values" not in words:
        assert {finding.code for finding in refusals(replace(EMPTY, **beyond))} == {"P505"}


def test_columns_and_letters_of_a_screen_count_together() -> None:
    """FORMAT.md: 65535 in all, however often a channel is among them."""
    channels, drawn = (1,) * 4096, tuple(range(4096))
    row = Trace(Box(0, 0, 4096, 20), 0, 4095, 0, 3, 1, Ink(0))
    rest = Letters(Box(0, 0, 9, 9), 0, 15, 0, Ink(0))
    assert LONG == 16 * 4095 + 15
    many = {"width": 4096, "channels": channels, "letter_sets": (LETTERS,)}
    full = screen(operations=(row,) * 16 + (rest,), channels=drawn)
    assert list(faults(replace(EMPTY, **many, **full))) == []
    over = screen(operations=(row,) * 16 + (replace(rest, count=16),), channels=drawn)
    assert list(faults(replace(EMPTY, **many, **over))) == [
        "screen 0 has 65536 columns and letters in all; 65535 are possible"
    ]


def test_more_pixels_than_the_format_has_room_for_are_their_own_finding() -> None:
    assert refusals(replace(EMPTY, **FULL)) == []
    (finding,) = refusals(replace(EMPTY, **{**FULL, "masks": (STRIP, STRIP)}))
    assert finding.code == "P506" and "16777217 pixels in all; 16777216 are possible" in finding.message


def test_of_many_faults_twenty_are_told() -> None:
    """One cause more often than many (hmic/pack/validity.py)."""
    for count, told in ((19, 19), (20, 20), (21, 20), (300, 20)):
        assert len(refusals(replace(EMPTY, channels=(0,) * count))) == told


def test_two_screens_or_two_themes_of_one_name_cannot_be_told_apart() -> None:
    other = replace(SCREEN, name="other")
    assert refusals(replace(EMPTY, screens=(SCREEN, other))) == []
    (finding,) = refusals(replace(EMPTY, screens=(SCREEN, other, SCREEN)))
    assert "two screens have the same name" in finding.message
    (finding,) = refusals(replace(EMPTY, themes=(THEME, THEME)))
    assert "two themes have the same name" in finding.message


def test_the_document_has_these_figures() -> None:
    said = {int(number) for number in re.findall(r"(?<![\w^])\d+", FORMAT)}
    for words in ("2^24 values", "2^26 bytes"):
        assert words in FORMAT
    assert {1, 2, 3, 16, 24, 100, 255, 4096, 32767, 65532, 65533, 65534, 65535} <= said
