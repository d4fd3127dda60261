"""Each limit at what is measured, just inside and just outside it; its published figure; and whatever a
design may set it to.

What is found is asked of ``check``, with the limit moved to the design's own measure: a figure is held, its
limit itself is within (the documents say "minimum", "at most"), what is rounded to pixels has half a pixel.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from good_design import FILES, arranged_in, spoiled

from hmic.arrange.compose import Arranged
from hmic.check.light import light
from hmic.check.rules import check
from hmic.diagnostics import Finding, Span
from hmic.model.design import Design, LimitSetting, Panel
from hmic.model.limits import DEFAULTS, Limits
from tests.tools.changed import replace

REFERENCE = Path(__file__).parents[1] / "reference"
LARGEST = 999_999_999.999_999
"""The largest number that design.yaml takes for a limit."""
HAIR = 1e-6
"""Of a limit: so near to it are just inside and just outside."""

VOLTS = 'reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"'
TITLES = """screen titles "Titles"
    plan
        back
        rows
    rows 10 mm, 1
    in back     button "Back", goes to road
    in rows     list media.titles, showing {} rows, marked by media.title, sets media.title to row
"""
MEDIA = """\
  media.titles: {text: true, count: 20, from: pipe, stale: 2 s}
  media.title: {unit: "", range: [1, 20], from: pipe, stale: 2 s}
outputs:
  media.title: {to: pipe}"""


def none(_: Panel) -> float:
    return 0.0


def half_a_pixel(panel: Panel) -> float:
    """In mm on the glass."""
    return panel.pitch / 2


def half_a_pixel_seen(panel: Panel) -> float:
    """In minutes of arc, at the eye."""
    return panel.arcmin_from_pixels(0.5)


# (limit, code, whether what is measured may not be below it, what rounding forgives in its unit).
HELD: list[tuple[str, str, bool, Callable[[Panel], float]]] = [
    ("text floor", "C401", True, half_a_pixel_seen),
    ("text acceptable", "C402", True, half_a_pixel_seen),
    ("text comfortable", "C403", True, half_a_pixel_seen),
    ("stroke least", "C404", True, none),
    ("stroke most", "C404", False, none),
    ("figure stroke most", "C404", False, none),
    ("width least", "C405", True, none),
    ("width most", "C405", False, none),
    ("gap least", "C406", True, none),
    ("line gap least", "C407", True, none),
    ("text clearance", "C428", True, none),
    ("letters while driving", "C408", False, none),
    ("pictogram size", "C445", True, half_a_pixel_seen),
    ("text contrast at night", "C420", True, none),
    ("text contrast at dusk", "C420", True, none),
    ("text contrast by day", "C420", True, none),
    ("text contrast in sun", "C420", True, none),
    ("symbol contrast at night", "C421", True, none),
    ("symbol contrast at dusk", "C421", True, none),
    ("symbol contrast by day", "C421", True, none),
    ("symbol contrast in sun", "C421", True, none),
    ("area contrast", "C422", True, none),
    ("night peak", "C424", False, none),
    ("night mean", "C425", False, none),
    ("colour distance", "C430", True, none),
    ("colour distance", "C432", True, none),
    ("colour distance in sun", "C430", True, none),
    ("doubt distance", "C455", True, none),
    ("ramp evenness", "C431", True, none),
    ("touch size", "C410", True, half_a_pixel),
    ("touch gap", "C411", True, half_a_pixel),
    ("touch edge", "C412", True, half_a_pixel),
    ("touches to an act", "C416", False, none),
    ("stale of speed", "C456", False, none),
    ("stale of high voltage", "C456", False, none),
]
# These are no bounds of what is measured: light and panel go into it, one tells a voltage, one is told;
# nothing hides anything here (test_check_stands_on.py), and no act is one on the road
# (test_check_measures.py).
OTHER = {
    *(f"light {when}" for when in ("at night", "at dusk", "by day", "in sun")),
    "panel reflectance",
    "panel contrast",
    "touch size in gloves",
    "high voltage",
    "rows while driving",
    "values while driving",
    "colours at once",
    "flashing at once",
    "lamps of one cause",
    "scale used",
    "warning seen",
    "glyph distance",
    "angle to the road",
    "age of the driver",
    "task while driving",
    "glance while driving",
    "hidden part",
}


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> tuple[Design, Arranged]:
    design, arranged, _ = arranged_in(tmp_path_factory.mktemp("heron"), FILES)
    return design, arranged


def limited(design: Design, name: str, value: float) -> Design:
    setting = LimitSetting(value, "", "a limit of this test", Span("design.yaml", 1, 1, 1, 2))
    return replace(design, limits={**design.limits, name: setting})


def against(good: tuple[Design, Arranged], name: str, value: float, code: str) -> list[Finding]:
    """What is found under ``code`` when the design sets the limit to ``value``."""
    design, arranged = good
    found = [item for item in check(limited(design, name, value), arranged) if item.code == code]
    assert all(item.limit == value for item in found)
    return found


def test_every_limit_is_tried_here() -> None:
    held = {name for name, *_ in HELD}
    assert held | OTHER == set(DEFAULTS) and not held & OTHER


@pytest.mark.parametrize(("name", "code", "least", "rounding"), HELD)
def test_a_limit_is_held_from_just_outside_it(
    name: str,
    code: str,
    least: bool,
    rounding: Callable[[Panel], float],
    good: tuple[Design, Arranged],
) -> None:
    found = against(good, name, min(LARGEST, DEFAULTS[name].most) if least else HAIR * HAIR, code)
    told = (DEFAULTS[name].unit, "this design: a limit of this test")
    assert found and {(item.unit, item.source) for item in found} == {told}
    measures = [item.measured for item in found if item.measured is not None]
    worst = min(measures) if least else max(measures)
    edge = worst + rounding(good[0].panel) if least else worst
    within = edge * (1 - HAIR) if least else edge * (1 + HAIR)
    beyond = edge * (1 + HAIR) if least else edge * (1 - HAIR)
    assert against(good, name, within, code) == []
    assert against(good, name, edge, code) == []
    assert worst in [item.measured for item in against(good, name, beyond, code)]


@pytest.mark.parametrize("value", [0.0, 1e-6, 1.0, 100.0, LARGEST])
@pytest.mark.parametrize("name", DEFAULTS)
def test_whatever_a_limit_is_set_to_the_check_ends(
    name: str, value: float, good: tuple[Design, Arranged]
) -> None:
    """Without a traceback, and soon: the most that a file can say, and nothing at all."""
    design, arranged = good
    for item in check(limited(design, name, value), arranged):
        assert item.limit is None or math.isfinite(item.limit)
        assert item.measured is None or math.isfinite(item.measured)


# A contrast below 1:1 is none, more than all light does not come back, and with a clearance of more than a
# letter's own height nothing could stand beside it.
@pytest.mark.parametrize(
    ("name", "taken", "refused", "remedy"),
    [
        ("panel contrast", 1, 1 - HAIR, "write `limit: 1`"),
        ("panel reflectance", 100, 100 + HAIR, "write `limit: 100`"),
        ("text clearance", 1, 1 + HAIR, "write `limit: 1`"),
    ],
)
def test_a_limit_beyond_what_can_be_is_refused_and_not_held(
    name: str, taken: float, refused: float, remedy: str, good: tuple[Design, Arranged]
) -> None:
    design, arranged = good
    assert "C499" not in {item.code for item in check(limited(design, name, taken), arranged)}
    assert Limits(limited(design, name, taken))[name].value == taken
    told = limited(design, name, refused)
    assert [(item.code, item.remedy) for item in check(told, arranged)] == [("C499", remedy)]
    assert Limits(told)[name] == DEFAULTS[name]


@cache
def published() -> dict[tuple[str, str, str], str]:
    """tests/reference/04: the value by document, clause and rule."""
    lines = (REFERENCE / "04_legibility.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {(row["document"], row["clause_or_topic"], row["rule"]): row["value"] for row in rows}


GUIDANCE = "NHTSA driver-vehicle interface guidance"
BEFORE_2017 = "ISO 15008 (2003/2009)"


@pytest.mark.parametrize(
    ("names", "key"),
    [
        (["text floor"], (GUIDANCE, "text height", "absolute minimum")),
        (["text acceptable"], (GUIDANCE, "text height", "minimum for time-critical text")),
        (["text comfortable"], (GUIDANCE, "text height", "optimal")),
        (["width least", "width most"], ("ISO 15008:2017", "4.5.3", "width of H / height of H")),
        (["stroke least", "stroke most"], ("ISO 15008:2017", "4.5.4", "stem width / height")),
        (["gap least"], ("ISO 15008:2017", "4.5.5", 'gap between vertical strokes ("ll") / stem')),
        (["line gap least"], ("ISO 15008:2017", "4.5.5", "gap descender to next ascender")),
        (["symbol contrast at night"], ("FHWA-RD-98-057 ch.3", "symbol contrast Lmax/Lmin", "minimum")),
        (["symbol contrast at dusk"], ("FHWA-RD-98-057 ch.3", "symbol contrast Lmax/Lmin", "minimum")),
        (["symbol contrast by day"], ("FHWA-RD-98-057 ch.3", "symbol contrast Lmax/Lmin", "minimum")),
        (
            [f"text contrast {when}" for when in ("at night", "at dusk", "by day", "in sun")],
            (BEFORE_2017, "contrast", "night 5:1"),
        ),
    ],
)
def test_a_limit_is_the_published_figure(names: list[str], key: tuple[str, str, str]) -> None:
    (value,) = [value for row, value in published().items() if all(map(str.startswith, row, key))]
    figures = value.removeprefix(">=").split(" ")[0].replace("..", "/").split("/")
    assert [DEFAULTS[name].value for name in names] == [float(figure) for figure in figures][: len(names)]


@pytest.mark.parametrize(
    ("condition", "lux", "theme"), [("night", 10, 1), ("dusk", 250, 1), ("day", 5000, 0), ("sun", 45000, 0)]
)
def test_the_light_of_a_condition_comes_back_by_lamberts_law(
    condition: str, lux: float, theme: int, good: tuple[Design, Arranged]
) -> None:
    """A veil of E * R / pi, R 1 %; black is a 500th of white: worked by the law, not by the code."""
    design = good[0]
    white = design.themes[theme].luminance
    lit = light(design.themes[theme], condition, Limits(design))
    veil = lux * 0.01 / math.pi
    assert lit.ratio((255, 255, 255), (0, 0, 0)) == pytest.approx((white + veil) / (white / 500 + veil))


@pytest.mark.parametrize(("low", "high", "codes"), [(0, 59.9, []), (0, 60, []), (0, 60.1, ["C456"])])
def test_a_voltage_is_high_above_its_limit(low: float, high: float, codes: list[str], tmp_path: Path) -> None:
    """UN R100 (from memory): high voltage is above 60 V DC; at 60 V it is none."""
    signal = f"  aux.voltage: {{unit: V, range: [{low}, {high}], from: pipe, stale: 3 s}}\n  pack.fault:"
    files = spoiled(
        ("signals.yaml", "  pack.fault:", signal),
        ("battery.layout", VOLTS, 'reading aux.voltage as "0.0 V", text 36 arcmin, called "Aux"'),
    )
    design, arranged, _ = arranged_in(tmp_path, files)
    assert [item.code for item in check(design, arranged)] == codes


@pytest.mark.parametrize(("rows", "codes"), [(6, []), (7, []), (8, ["C409"])])
def test_a_list_has_at_most_so_many_rows(rows: int, codes: list[str], tmp_path: Path) -> None:
    files = spoiled(("signals.yaml", "outputs:", MEDIA))
    design, arranged, _ = arranged_in(tmp_path, {**files, "titles.layout": TITLES.format(rows)})
    assert [item.code for item in check(design, arranged) if item.unit == "rows"] == codes
    own = limited(design, "rows while driving", rows)
    assert [item.code for item in check(own, arranged) if item.unit == "rows"] == []
    own = limited(design, "rows while driving", rows - HAIR)
    assert [item.code for item in check(own, arranged) if item.unit == "rows"] == ["C409"]
