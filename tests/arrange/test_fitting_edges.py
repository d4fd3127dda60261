"""What is told of a misfit, at the edges of each way out: a panel of 800 x 480 px, 0.1 mm each, at
700 mm from the eye. Sizes are worked out from that by hand; the least heights are what the checks publish."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import pytest

from hmic.arrange.fitting import ACCEPTABLE, Need, millimetres, misfit, sized_to
from hmic.diagnostics import Finding, Severity, Span
from hmic.model.design import LimitSetting, Panel

PANEL = Panel(800, 480, 80.0, 48.0, 700.0, 24, 115200, 1 << 20, 1 << 17)
SPAN = Span("a.layout", 3, 1, 3, 9)


def told(need: Need, limit: float | None = None) -> Finding:
    limits = {} if limit is None else {ACCEPTABLE: LimitSetting(limit, "arcmin", "so that it fits", SPAN)}
    design: Any = SimpleNamespace(panel=PANEL, limits=limits)
    return misfit(need, "the thing", SPAN, design)


def arcmin(pixels: float) -> float:
    """FHWA-RD-98-057 equation 3, of 0.1 mm a pixel at 700 mm."""
    return math.degrees(math.atan(pixels * 0.1 / 700)) * 60


@pytest.mark.parametrize(
    ("height", "least", "code", "way", "how"),
    [
        (False, False, "A350", "wide", "may be"),
        (True, False, "A351", "high", "may be"),
        (False, True, "A350", "wide", "is at least"),
        (True, True, "A351", "high", "is at least"),
    ],
)
def test_both_sizes_are_told(height: bool, least: bool, code: str, way: str, how: str) -> None:
    found = told(Need(100, 60, height, least=least))
    assert found.code == code and found.severity is Severity.ERROR and found.span == SPAN
    assert found.message.startswith(f"the thing {how} 100 px")
    assert f" {way}, its place is 60 px" in found.message and found.message.endswith(f" {way}")
    assert (found.measured, found.limit, found.unit) == (100.0, 60.0, "px")
    assert told(Need(100, 60, height, why="of its words")).message.endswith(f" {way}: of its words")


def test_a_place_that_is_less_than_nothing_is_told_as_nothing() -> None:
    assert "its place is 0 px" in told(Need(100, -5, False)).message
    assert "its place is 1 px" in told(Need(100, 1, False)).message


@pytest.mark.parametrize(
    ("ways", "shorter", "remedy"),
    [
        ((), "", "make its place 4 mm wider"),
        (("do this",), "", "do this, or make its place 4 mm wider"),
        ((), "say less", "say less, or make its place 4 mm wider"),
        (("do this",), "say less", "do this, say less, or make its place 4 mm wider"),
        (("do this", "do that"), "say less", "do this, do that, say less, or make its place 4 mm wider"),
    ],
)
def test_the_ways_stand_in_their_order(ways: tuple[str, ...], shorter: str, remedy: str) -> None:
    assert told(Need(100, 60, False, ways=ways, shorter=shorter)).remedy == remedy


@pytest.mark.parametrize(
    ("need", "remedy"),
    [
        # The panel is 800 wide and 480 high: a place may grow up to all of it.
        (Need(800, 60, False), "make its place 74 mm wider"),
        (Need(801, 60, False), "leave it out: the whole panel is 800 px"),
        (Need(480, 60, True), "make its place 42 mm higher"),
        (Need(481, 60, True), "leave it out: the whole panel is 480 px"),
        (Need(100, -20, False), "make its place 12 mm wider"),
        (Need(799, -1, False), "make its place 80 mm wider"),
        (Need(800, -1, False), "leave it out"),
        # One of three columns: each of the three grows.
        (Need(100, 60, False, share=3), "make its place 12 mm wider"),
        (Need(266, 60, False, share=3), "make its place 61.8 mm wider"),
        (Need(267, 60, False, share=3), "leave it out"),
    ],
)
def test_a_place_can_grow_to_the_whole_panel(need: Need, remedy: str) -> None:
    assert (told(need).remedy or "").startswith(remedy)


@pytest.mark.parametrize(("there", "fixed"), [(60, 0), (61, 1), (90, 30)])
@pytest.mark.parametrize("letters", [60, 61, 62, 65, 70, 80])
def test_smaller_text_is_told_down_to_the_least_height(letters: int, there: int, fixed: int) -> None:
    """Of 100 px there are 60 for the text: so much smaller, less a pixel for rounding, in whole minutes."""
    need = Need(100 + fixed, there, False, letters=letters, fixed=fixed)
    fits = math.floor(arcmin(letters * 60 / 100 - 1))
    way = f"write text {fits} arcmin, or make its place"
    remedy = told(need).remedy or ""
    assert remedy.startswith(way if fits >= 16 else "make its place")
    assert ("; smaller text is no way out, 16 arcmin is the least" in remedy) == (fits < 16)
    own = told(need, limit=fits).remedy or ""
    assert own.startswith(way) and "no way out" not in own
    above = told(need, limit=fits + 1).remedy or ""
    assert above.endswith(
        f"; smaller text is no way out, {fits + 1} arcmin is the least (limit '{ACCEPTABLE}')"
    )


def test_smaller_text_helps_only_what_its_size_makes_large() -> None:
    assert told(Need(100, 60, False)).remedy == "make its place 4 mm wider"
    # Where nothing is fixed, all of it: 80 px of letters may be 48, less one for rounding, 23.08 arcmin.
    assert (told(Need(100, 60, False, letters=80)).remedy or "").startswith("write text 23 arcmin")
    # 40 px of it are text, and have their 40; what is fixed is too large.
    fixed = told(Need(100, 60, False, letters=80, fixed=60)).remedy or ""
    assert fixed.endswith("; smaller text is no way out, 16 arcmin is the least (limit 'text acceptable')")
    assert told(Need(60, 60, False, letters=80)).remedy == "make its place 0 mm wider"
    assert "no way out" in (told(Need(61, 60, False, letters=20)).remedy or "")
    none = told(Need(100, 60, False, letters=30, fixed=70)).remedy or ""
    assert "write text" not in none and "no way out" in none


@pytest.mark.parametrize(("pixels", "text"), [(0, "0 mm"), (1, "0.1 mm"), (10, "1 mm"), (123, "12.3 mm")])
def test_a_length_is_rounded_up_to_a_tenth(pixels: int, text: str) -> None:
    assert millimetres(pixels, PANEL) == text
    finer = Panel(800, 480, 79.2, 47.52, 700.0, 24, 115200, 1 << 20, 1 << 17)
    up = math.ceil(pixels * 0.99 - 1e-9) / 10
    assert millimetres(pixels, finer) == f"{up:g} mm"


def test_a_pictogram_is_told_smaller_down_to_seven_tenths_of_a_degree() -> None:
    """86 px are 42.23 arcmin, 85 px 41.74 (0.7 degrees: search times, see CHECKS.md)."""
    assert arcmin(85) < 42 < arcmin(86)
    assert sized_to(86, PANEL) == ("write sized 8.6 mm",)
    assert sized_to(85, PANEL) == ()
    finer = Panel(800, 480, 79.2, 47.52, 700.0, 24, 115200, 1 << 20, 1 << 17)
    # 100 px are 9.9 mm, 101 px 9.999: rounded down.
    assert sized_to(101, finer) == ("write sized 9.9 mm",)
    assert sized_to(100, finer) == ("write sized 9.9 mm",)
