"""Where a rule begins and ends: one state, one role, one pixel, one step to each side of it.

Colours at an edge are found with coloraide, another library; the edges themselves are those that the rule's
own document or table states.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from coloraide import Color
from good_design import FILES, arranged_in, found_in, spoiled

from hmic.arrange.compose import Arranged
from hmic.check import budget, doubt_look, telltales
from hmic.check.finding_places import left_empty
from hmic.check.nearest import nearest, ordinal
from hmic.check.painted import Painted
from hmic.check.ramps import READY, red_to_green, substitute
from hmic.check.rules import check
from hmic.check.scale_form import COOL, GREEN, RED, WARM
from hmic.check.state_names import state_words
from hmic.check.vision import evenness
from hmic.diagnostics import Finding, Span, error, warning
from hmic.model.channels import Bands, Listed
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.paint.operations import LIVE, Box, Fill, Ink, When
from tests.tools.changed import replace

RGB = tuple[int, int, int]
Good = tuple[Design, Arranged]

VOLTS = 'reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"'
AMPS = 'reading pack.current as "0.0 A", text 36 arcmin, called "Current"'
LAMP = 'lamp battery, danger while pack.fault, means "Battery fault: stop and leave the vehicle"'


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Good:
    design, arranged, _ = arranged_in(tmp_path_factory.mktemp("heron"), FILES)
    return design, arranged


def found_of(tmp_path: Path, *changes: tuple[str, str, str]) -> list[Finding]:
    found: list[Finding] = found_in(tmp_path, spoiled(*changes))
    return found


NAMED = {
    WARM: "red orangered tomato orange gold crimson firebrick hotpink",
    COOL: "blue navy royalblue dodgerblue deepskyblue steelblue teal cyan",
    GREEN: "green lime limegreen forestgreen seagreen",
    RED: "red crimson firebrick darkred tomato",
}
"""Colours of CSS Color 4 that are called so."""


@pytest.mark.parametrize(("ends", "names"), NAMED.items())
def test_what_is_named_so_looks_warm_cool_green_and_red(ends: tuple[int, int], names: str) -> None:
    for name in names.split():
        hue = Color(name).convert("lch-d65")["hue"]
        assert (hue - ends[0]) % 360 <= (ends[1] - ends[0]) % 360, name


# Colours at an edge ------------------------------------------------------------------------------


def lch(colour: RGB) -> tuple[float, float, float]:
    """CIELAB lightness, chroma and hue under D65, by coloraide."""
    seen = Color("srgb", [part / 255 for part in colour]).convert("lch-d65")
    return seen["lightness"], seen["chroma"], seen["hue"] % 360


def near_hue(hue: float, sign: int, lightness: float = 60, chroma: float = 45) -> RGB:
    """A colour whose hue is less than a degree beyond an edge, on the side of ``sign``."""
    for tenths in range(1, 10):
        for light in range(0, 12):
            tried = Color("lch-d65", [lightness + light, chroma, hue + sign * tenths / 10]).convert("srgb")
            if tried.in_gamut():
                red, green, blue = (round(255 * part) for part in tried.coords())
                away = (lch((red, green, blue))[2] - hue + 180) % 360 - 180
                if 0.05 < away * sign < 0.95:
                    return red, green, blue
    raise AssertionError((hue, sign))


# As CHECKS.md and the page of C440 have it: degrees of CIELAB hue.
HUES = {"danger": (15, 50), "caution": (55, 108), "good": (120, 185), "notice": (230, 310)}


@pytest.mark.parametrize("role", HUES)
@pytest.mark.parametrize("end", [0, 1])
def test_a_role_has_its_hue_up_to_the_edge_and_not_beyond(role: str, end: int, good: Good) -> None:
    edge = HUES[role][end]
    outward = 1 if end else -1
    for sign, codes in ((-outward, []), (outward, ["C440"])):
        design = with_role(good[0], role, near_hue(edge, sign, 50, 30))
        found = telltales.check(design, good[1], Limits(design))
        assert [item.code for item in found] == codes
        assert all(item.limit == edge for item in found)


def with_role(design: Design, role: str, colour: RGB) -> Design:
    first = replace(design.themes[0], roles={**design.themes[0].roles, role: colour})
    return replace(design, themes=(first, *design.themes[1:]))


@pytest.mark.parametrize("hue", range(0, 360, 15))
@pytest.mark.parametrize("role", HUES)
def test_the_edge_that_is_told_is_the_nearer_one(role: str, hue: int, good: Good) -> None:
    colour = near_hue(hue, 1, 60, 25)
    design = with_role(good[0], role, colour)
    for item in telltales.check(design, good[1], Limits(design)):
        assert item.measured is not None and item.measured == pytest.approx(lch(colour)[2], abs=0.3)
        away = {edge: abs((item.measured - edge + 180) % 360 - 180) for edge in HUES[role]}
        assert item.limit == min(HUES[role], key=away.__getitem__)


RED, GREEN = (224, 80, 60), (76, 176, 80)


# "Hue angles 0 to 50 are called red here and 110 to 175 green" (the docstring).
@pytest.mark.parametrize(("edge", "inward", "other"), [(50, -1, GREEN), (110, 1, RED), (175, -1, RED)])
def test_red_and_green_end_at_their_hues(edge: float, inward: int, other: RGB) -> None:
    lightness = lch(other)[0]
    for sign, confused in ((inward, True), (-inward, False)):
        colour = near_hue(edge, sign, lightness + 5, 35)
        assert red_to_green((colour, other)) is confused
        assert red_to_green((other, colour)) is confused


def between(low: float, high: float, measure: Callable[[RGB], float], hue: float) -> RGB:
    """A colour near a hue whose measure is between the two, lightness 38 to 75."""
    for lightness in sorted(range(38, 75), key=lambda light: abs(light - 60)):
        for chroma in range(20, 60):
            tried = Color("lch-d65", [lightness, chroma, hue]).convert("srgb")
            if tried.in_gamut():
                red, green, blue = (round(255 * part) for part in tried.coords())
                if low < measure((red, green, blue)) < high:
                    return red, green, blue
    raise AssertionError((low, high))


def lighter(red: RGB, least: float, most: float) -> RGB:
    """A saturated green by so much lighter."""
    for tenths in range(500, 900):
        red_part, green_part, blue_part = Color("lch-d65", [tenths / 10, 40, 140]).convert("srgb").coords()
        green = (round(255 * red_part), round(255 * green_part), round(255 * blue_part))
        if least < lch(green)[0] - lch(red)[0] < most:
            return green
    raise AssertionError((red, least))


def test_red_to_green_is_of_saturated_colours_of_little_difference_in_lightness() -> None:
    """Chroma over 30, less than 25 of lightness (the docstring)."""
    assert not red_to_green((between(29.1, 29.9, lambda it: lch(it)[1], 30), GREEN))
    assert red_to_green((between(30.1, 30.9, lambda it: lch(it)[1], 30), GREEN))
    assert not red_to_green((RED, between(29.1, 29.9, lambda it: lch(it)[1], 140)))
    assert red_to_green((RED, between(30.1, 30.9, lambda it: lch(it)[1], 140)))
    red = near_hue(30, 1, 45, 40)
    assert red_to_green((red, lighter(red, 24.1, 24.9)))
    assert not red_to_green((red, lighter(red, 25.1, 25.9)))


@pytest.mark.parametrize(
    ("stops", "name", "turned"),
    [
        # Warm at both ends: orange (60 degrees) and rose (350); then one end cold.
        (((120, 60, 20), (250, 190, 150)), "warmth", False),
        (((250, 190, 150), (120, 60, 20)), "warmth", True),
        ((near_hue(90, -1), near_hue(330, 1, 75, 30)), "warmth", False),
        ((near_hue(90, 1), near_hue(330, 1, 80, 25)), "level", False),
        ((near_hue(60, 1), near_hue(330, -1, 80, 25)), "level", False),
        (((30, 60, 160), (240, 220, 90)), "level", False),
        (((240, 220, 90), (30, 60, 160)), "level", True),
        # Equal in lightness: as the ready one stands.
        (((128, 128, 128), (128, 128, 128)), "level", False),
    ],
)
def test_the_ready_ramp_keeps_meaning_and_direction(stops: tuple[RGB, ...], name: str, turned: bool) -> None:
    assert substitute(stops) == READY[name][:: -1 if turned else 1]


def grey(lightness: float) -> RGB:
    """The grey nearest to a CIELAB lightness: at most a fifth of one beside it."""
    code = min(range(256), key=lambda tried: abs(lch((tried,) * 3)[0] - lightness))
    return code, code, code


@pytest.mark.parametrize(
    ("lightness", "least", "most"),
    [
        # "Two per cent of the scale is no rise at all."
        ((40, 40.7, 41.4), 0.0, 0.0),
        ((40, 41.3, 42.6), 0.5, 1.0),
        ((42.6, 41.3, 40), 0.5, 1.0),
        # One that may turn has an odd number of stops, at least five.
        ((20, 40, 60, 40, 20), 0.95, 1.0),
        ((60, 40, 20, 40, 60), 0.95, 1.0),
        ((20, 40, 60, 50, 20), 0.48, 0.52),
        ((20, 50, 60, 40, 20), 0.45, 0.55),
        ((20, 40, 60, 80, 95), 0.84, 0.88),
        ((20, 60, 20), 0.0, 0.0),
        ((20, 40, 60, 60, 40, 30), -11.0, -9.0),
        ((20, 60, 30, 70), -2.0, -1.0),
    ],
)
def test_evenness_is_the_least_rise_over_the_mean(
    lightness: tuple[float, ...], least: float, most: float
) -> None:
    assert least - 0.02 <= evenness([grey(each) for each in lightness]) <= most + 0.02


@pytest.mark.parametrize("limit", [40, 130, 200])
def test_the_nearest_colour_meets_and_no_neighbour_is_nearer(limit: int) -> None:
    """By CIEDE2000 of coloraide: nothing one code beside it meets and is nearer."""
    colour = (90, 60, 70)
    found = nearest(colour, lambda tried: tried[1] >= limit)
    assert found is not None and found[1] >= limit

    def away(tried: RGB) -> float:
        one, other = (Color("srgb", [part / 255 for part in each]) for each in (colour, tried))
        return float(one.delta_e(other, method="2000"))

    if limit <= 60:
        assert found == colour
        return
    beside = [
        tuple(min(255, max(0, part + way)) for part, way in zip(found, ways, strict=True))
        for ways in [(r, g, b) for r in (-1, 0, 1) for g in (-1, 0, 1) for b in (-1, 0, 1)]
    ]
    assert all(away(tried) >= away(found) - 1e-3 for tried in beside if tried[1] >= limit)


def test_no_colour_is_told_where_none_meets() -> None:
    assert nearest((10, 20, 30), lambda _: False) is None
    assert nearest((10, 20, 30), lambda it: it == (255, 255, 255)) == (255, 255, 255)
    assert nearest((10, 20, 30), lambda it: it == (0, 0, 0)) == (0, 0, 0)


def test_ordinals() -> None:
    names = {1: "1st", 2: "2nd", 3: "3rd", 4: "4th", 10: "10th", 11: "11th", 12: "12th", 13: "13th"}
    names |= {20: "20th", 21: "21st", 22: "22nd", 101: "101st", 111: "111th", 113: "113th", 121: "121st"}
    assert {number: ordinal(number) for number in names} == names


# Lamps -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("states", "warns"),
    [
        (("danger",), True),
        (("caution",), False),
        (("good",), False),
        (("notice",), False),
    ],
)
def test_nothing_may_cover_a_danger_lamp_by_a_pixel(states: tuple[str, ...], warns: bool, good: Good) -> None:
    """A box over its corner, by so many columns and rows; beside it, or over another lamp, is no finding."""
    design, arranged = good
    known, drawn = arranged.screens[0], arranged.drawing.screens[0]
    piece = next(each for each in known.pieces if each.widget.kind == "lamp")
    of_state = piece.widget.all("state")[0]
    phrases = tuple(replace(of_state, words=(state,)) for state in states)
    lamp = replace(piece, widget=replace(piece.widget, phrases=phrases))
    pieces = tuple(lamp if each is piece else each for each in known.pieces)
    place = drawn.operations[piece.first].box
    for columns, rows in ((0, 5), (5, 0), (1, 1), (3, 2), (-1, -1)):
        over = Fill(Box(place.left - 10 + columns, place.top - 10 + rows, 10, 10), Ink(0))
        screens = (replace(drawn, operations=(*drawn.operations, over)), *arranged.drawing.screens[1:])
        changed = replace(
            arranged,
            drawing=replace(arranged.drawing, screens=screens),
            screens=(replace(known, pieces=pieces), *arranged.screens[1:]),
        )
        found = [item for item in telltales.check(design, changed, Limits(design)) if item.code == "C442"]
        share = 100 * columns * rows / (place.width * place.height)
        told = [pytest.approx(share)] if warns and columns > 0 < rows else []
        assert [item.measured for item in found] == told


def test_the_remedy_for_an_untold_danger_has_the_lamps_condition(tmp_path: Path) -> None:
    old = 'lamp motor, caution while motor.temperature > 110 °C, means "Motor too warm"'
    new = (
        "symbol motor, sized 8 mm\n        lamp motor, caution while motor.temperature > 110 °C, "
        'danger while motor.temperature > 140 °C, means "Motor too warm"'
    )
    (found,) = [item for item in found_of(tmp_path, ("road.layout", old, new)) if item.code == "C443"]
    assert found.remedy == (
        "show lamp motor there too, or add a screen that `comes up when motor.temperature > 140 °C`"
    )
    assert found.message == (
        "screen 'battery' can be open on the road and does not tell of motor.temperature, "
        "which lights 'motor' on 'road'"
    )


@pytest.mark.parametrize(
    ("role", "codes"), [("good", ["C457"]), ("caution", []), ("danger", []), ("notice", [])]
)
def test_only_a_lamp_that_says_all_is_well_needs_two_sources(
    role: str, codes: list[str], tmp_path: Path
) -> None:
    old = "lamp motor, caution while motor.temperature > 110 °C"
    found = found_of(tmp_path, ("road.layout", old, f"lamp motor, {role} while pack.voltage < 250 V"))
    assert [item.code for item in found if item.code == "C457"] == codes


# Doubt -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("conditions", "silent"),
    [
        ([(LIVE, LIVE + 1)], True),
        ([(LIVE, LIVE + 1), (0, LIVE - 1)], False),
        ([(LIVE, LIVE + 1), (0, LIVE - 2)], True),
        ([(LIVE, LIVE + 1), (1, LIVE - 1)], True),
        ([(LIVE, LIVE + 1), (0, 0), (1, LIVE - 1)], False),
        ([(0, LIVE)], True),
    ],
)
def test_doubt_is_told_by_what_is_shown_in_every_doubt_and_in_no_live_step(
    conditions: list[tuple[int, int]], silent: bool, good: Good
) -> None:
    """A widget of nothing but places with conditions: C455 where some doubt looks like a live step."""
    design, arranged = good
    known, drawn = arranged.screens[0], arranged.drawing.screens[0]
    piece = next(each for each in known.pieces if each.widget.kind == "lamp")
    channel = drawn.operations[piece.first].ink.tint  # type: ignore[union-attr]
    box = piece.box
    places = tuple(Fill(box, Ink(4 + at), When(channel, *each)) for at, each in enumerate(conditions))
    screen = replace(known, pieces=(replace(piece, first=0, last=len(places)),), texts=(), touches=())
    drawing = replace(arranged.drawing, screens=(replace(drawn, operations=places),))
    changed = replace(arranged, drawing=drawing, screens=(screen,))
    found = doubt_look.check(design, changed, Limits(design), (Painted(changed, 0),))
    errors = [item for item in found if item.severity.value == "error"]
    assert [item.code for item in errors] == ["C455"] * silent


# Time and memory ---------------------------------------------------------------------------------


def within(tmp_path: Path, *times: str) -> dict[str, float]:
    """(what, limit in ms) of the delays that ``shown within`` phrases of two readings of one value set."""
    texts = [f", shown within {time}" if time else "" for time in times]
    files = spoiled(
        ("battery.layout", VOLTS, VOLTS + texts[0]),
        ("battery.layout", AMPS, VOLTS.replace("Voltage", "Volts") + texts[1]),
    )
    design, arranged, _ = arranged_in(tmp_path, files)
    number = next(at for at, screen in enumerate(arranged.screens) if screen.name == "battery")
    delays = budget.screen_budget(design, arranged, number).delays
    return {delay.what: delay.limit for delay in delays if delay.piece is not None}


def test_shown_within_seconds_is_as_in_milliseconds_and_the_shortest_holds(tmp_path: Path) -> None:
    assert within(tmp_path, "2 s", "") == within(tmp_path, "2000 ms", "") == {"reading pack.voltage": 2000}
    assert within(tmp_path, "2 s", "0.5 s") == within(tmp_path, "500 ms", "2 s")
    assert within(tmp_path, "500 ms", "2 s") == {"reading pack.voltage": 500}
    assert within(tmp_path, "", "") == {}


@pytest.mark.parametrize("depth", [16, 24])
def test_memory_is_enough_to_the_byte(depth: int, good: Good) -> None:
    """PLAYER.md: 16 lines of the panel, 2 bytes a pixel at 16 bits and 3 at 24; 6 bytes a channel."""
    design, arranged = good
    arranged = replace(arranged, drawing=replace(arranged.drawing, depth=depth))
    need = budget.memory_need(arranged)
    program = need - 16 * 800 * depth // 8 - 6 * len(arranged.channels)
    assert program == budget.PLAYER_MEMORY
    for memory, codes in ((need, []), (need + 1, []), (need - 1, ["C463"])):
        small = replace(design, panel=replace(design.panel, memory=memory))
        found = budget.check(small, arranged, Limits(small))
        assert [item.code for item in found] == codes
        assert all(("colour depth of 16" in (item.remedy or "")) == (depth == 24) for item in found)


# Words and places --------------------------------------------------------------------------------


def named(steps: Any, step: int, spelling: str = "") -> str:
    value = SimpleNamespace(unit=SimpleNamespace(spelling=spelling) if spelling else None)
    channel: Any = SimpleNamespace(steps=steps, value=value)
    nothing: Any = None
    return state_words(nothing, channel, step)


def test_states_are_called_by_their_words() -> None:
    assert [named(Listed((False, True, "Low")), step) for step in range(3)] == ["'off'", "'on'", "'Low'"]
    # The order of bands is that of their looks: three bands, the last first.
    bands = Bands((10.0, 20.0), (1, 2, 0), 3)
    assert [named(bands, step, "V") for step in range(3)] == ["from 20 V", "below 10 V", "from 10 V to 20 V"]
    assert named(bands, 1) == "below 10"


def piece_on(file: str, first: int, last: int, left: int) -> Any:
    span = Span(file, first, 1, last, 9)
    return SimpleNamespace(widget=SimpleNamespace(span=span), box=Box(left, 0, 10, 10))


@pytest.mark.parametrize("line", range(2, 9))
def test_a_sentence_with_an_error_in_any_of_its_lines_leaves_its_place_empty(line: int) -> None:
    screen: Any = SimpleNamespace(
        gaps=(), pieces=[piece_on("a", 3, 5, 0), piece_on("a", 6, 7, 1), piece_on("b", 3, 5, 2)]
    )
    empty = [Box(0, 0, 10, 10)] if 3 <= line <= 5 else [Box(1, 0, 10, 10)] if 6 <= line <= 7 else []
    span = Span("a", line, 1, line, 4)
    for code in ("L101", "M201", "A301"):
        assert left_empty([error(code, "wrong", span)], screen) == empty
        assert left_empty([warning(code, "odd", span)], screen) == []
    assert left_empty([error("C401", "small", span)], screen) == []
    over = Span("a", line, 1, line + 1, 4)
    both = [Box(0, 0, 10, 10)] * (2 <= line <= 5) + [Box(1, 0, 10, 10)] * (5 <= line <= 7)
    assert left_empty([error("L101", "wrong", over)], screen) == both


# Night -------------------------------------------------------------------------------------------


def test_the_mean_of_a_screen_is_that_of_its_pixels(good: Good) -> None:
    """Luminance by coloraide of every pixel that the painter paints, the brighter of first and last steps;
    black is a 500th of white."""
    from hmic.paint.operations import Moment
    from hmic.paint.painter import Painter

    design, arranged = good
    number = next(at for at, theme in enumerate(design.themes) if theme.name == "night")
    means = []
    for screen in range(len(arranged.screens)):
        for last in (False, True):
            raw = tuple(LIVE + (steps - 1 if last else 0) for steps in arranged.drawing.channels)
            picture = Painter(arranged.drawing).paint(Moment(screen, number, raw)).convert("RGB")
            counted = picture.getcolors(1 << 20) or []
            total = sum(
                count * Color("srgb", [part / 255 for part in colour]).luminance()
                for count, colour in counted
            )
            means.append(total / (picture.width * picture.height))
    white = design.themes[number].luminance
    expected = white / 500 + white * (1 - 1 / 500) * max(means)
    told = replace(design, limits={"night mean": night(0.001)})
    (found,) = [item for item in check(told, arranged) if item.code == "C425"]
    assert found.measured == pytest.approx(expected, rel=2e-3)


def night(value: float) -> Any:
    from hmic.model.design import LimitSetting

    return LimitSetting(value, "", "of this test", Span("design.yaml", 1, 1, 1, 2))


# hmic/check/shown_themes.py: dark from 22:00 to 5:00 wherever somebody drives (common practice, no source).
@pytest.mark.parametrize(
    ("day", "night_from", "codes"),
    [
        ("5:00", "22:00", []),
        ("4:59", "22:00", ["C424", "C425"]),
        ("5:00", "22:01", ["C424", "C425"]),
    ],
)
def test_it_is_dark_from_ten_to_five(day: str, night_from: str, codes: list[str], tmp_path: Path) -> None:
    times = f"times: {{day: {day}, night: '{night_from}'}}"
    found = found_of(tmp_path, ("themes.yaml", "times: {day: 7:00, night: 19:30}", times))
    assert sorted({item.code for item in found} & {"C424", "C425", "C427"}) == codes


# Text --------------------------------------------------------------------------------------------


def test_what_hides_a_text_always_is_told_and_what_it_stands_on_is_not(good: Good) -> None:
    design, arranged = good
    known, drawn = arranged.screens[0], arranged.drawing.screens[0]
    at = next(number for number, each in enumerate(drawn.operations) if type(each).__name__ == "Run")
    box = drawn.operations[at].box
    wide = Box(box.left - 30, box.top - 30, box.width + 60, box.height + 60)
    for place, codes in ((0, []), (len(drawn.operations), ["C428"])):
        operations = list(drawn.operations)
        operations.insert(place, Fill(wide, Ink(5)))
        pieces = tuple(
            replace(each, first=each.first + (place == 0), last=each.last + (place == 0))
            for each in known.pieces
        )
        drawing = replace(
            arranged.drawing,
            screens=(replace(drawn, operations=tuple(operations)), *arranged.drawing.screens[1:]),
        )
        changed = replace(
            arranged, drawing=drawing, screens=(replace(known, pieces=pieces), *arranged.screens[1:])
        )
        found = [item for item in check(design, changed) if item.code == "C428"]
        assert sorted({item.code for item in found}) == codes


# Scales ------------------------------------------------------------------------------------------

CHART = """\
chart over 600 s
        trace pack.voltage from {} V to {} V, colour accent, called "Battery\""""
POWER = 'reading pack.power as "0.0 kW", text 36 arcmin, called "Power"'
PIPED = """freely
        symbol pump named pump at 8 mm across 12 mm down, sized 10 mm
        symbol motor named motor at 40 mm across 12 mm down, sized 10 mm
        pipe from pump.right to motor.left
            filled by ramp charge of motor.temperature from {} °C to {} °C"""
PHRASE = 14
"""The line of that phrase in the second screen's file."""
HEAT = """reading motor.temperature as "0 °C", text 36 arcmin, called "Motor"
        caution above 110 °C, danger above 130 °C"""


@pytest.mark.parametrize(
    ("low", "high", "told", "codes"),
    [
        # The voltage goes from 200 to 420 V. Beside a figure a quarter of that is enough, and no less.
        (300, 355, True, []),
        (300, 354, True, ["C451"]),
        (300, 355, False, ["C451"]),
        (200, 420, False, []),
        (205, 420, False, ["C451"]),
        (200, 415, False, ["C451"]),
    ],
)
def test_a_trace_shows_all_or_a_quarter_beside_a_figure(
    low: int, high: int, told: bool, codes: list[str], tmp_path: Path
) -> None:
    found = found_of(
        tmp_path,
        ("battery.layout", "power  heat   mode", "power  power  mode"),
        ("battery.layout", POWER, CHART.format(low, high)),
        ("battery.layout", "    in heat     " + HEAT + "\n", ""),
        ("battery.layout", VOLTS, VOLTS if told else 'label "Heron"'),
    )
    clipped = [item for item in found if item.code == "C451"]
    assert [item.code for item in clipped] == codes
    for item in clipped:
        # The end that hides more: 220 less the scale below, or above.
        assert (item.measured, item.limit) in [(200, pytest.approx(low)), (420, pytest.approx(high))]
        assert ("add a reading" in (item.remedy or "")) != told


@pytest.mark.parametrize(("low", "high", "codes"), [(0, 100, []), (0, 98, ["C451"]), (62, 160, ["C451"])])
def test_the_colour_of_a_pipe_tells_half_of_what_can_be(
    low: int, high: int, codes: list[str], tmp_path: Path
) -> None:
    """The temperature goes from -40 to 160 °C; the finding stands at the pipe's phrase."""
    found = found_of(
        tmp_path,
        ("battery.layout", VOLTS, PIPED.format(low, high)),
        ("battery.layout", "volts  amps   heater", "volts  volts  heater"),
        ("battery.layout", f"    in amps     {AMPS}\n", ""),
        ("battery.layout", HEAT, 'label "Heron"'),
    )
    clipped = [item for item in found if item.code == "C451"]
    assert [item.code for item in clipped] == codes
    for item in clipped:
        assert item.measured == (160 if high < 160 else -40)
        assert item.limit == pytest.approx(high if high < 160 else low)
        assert item.span is not None and item.span.line == PHRASE


# Colours that tell states apart ------------------------------------------------------------------


@pytest.mark.parametrize("accent", ["#4a595f", "#4c5b61", "#4b5a60"])
def test_both_colours_are_told_whichever_is_the_brighter(accent: str, tmp_path: Path) -> None:
    """The edge of a pressed control is in `accent`, that of one at rest in `line`, "#4b5a60" by day."""
    found = found_of(tmp_path, ("themes.yaml", 'accent: "#8fd3f4"', f'accent: "{accent}"'))
    told = [item for item in found if item.code == "C430"]
    assert told and all("`accent`" in item.message and "`line`" in item.message for item in told)
    assert all("`accent`" in (item.remedy or "") for item in told) and len(told[0].also) == 2


ASKING_LIKE_PRESSED = ("themes.yaml", 'accent: "#8fd3f4"', 'accent: "#ffcf50"')
REFUSED_LIKE_PRESSED = ("themes.yaml", 'accent: "#8fd3f4"', 'accent: "#ff4e33"')


@pytest.mark.parametrize("alike", [ASKING_LIKE_PRESSED, REFUSED_LIKE_PRESSED])
def test_a_state_that_a_control_cannot_come_to_is_not_told_apart(
    alike: tuple[str, str, str], tmp_path: Path
) -> None:
    """A button that only shows another screen asks nothing and is never sent or refused."""
    assert "C430" not in {item.code for item in found_of(tmp_path, alike)}
