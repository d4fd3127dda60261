"""One cause, one finding, with every place that it spoils; and what a finding names stands in the files."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from good_design import THEMES, arranged_in, found_in, spoiled

from hmic.arrange.compose import arrange
from hmic.check.finding_places import places
from hmic.check.rules import check
from hmic.cli.main import main
from hmic.diagnostics import Finding, Severity, Span, as_json, as_text
from hmic.editor.project import by_file
from hmic.model.load import load

ROOT = Path(__file__).parents[2]
DAY, NIGHT = THEMES.split("  night:")
SPEED = 'reading vehicle.speed as "0 km/h", text 90 arcmin'
VOLTS = 'reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"'


LEVEL = 'level pack.charge from 0 % to 100 %, shaped battery, filled by ramp charge, as "0 %"'
FAINT = '\n      faint: "#5c6468"\n    ramps:'
RAMP = '["#aa6647", "#b6804b", "#b2a054", "#90c37e", "#7adfb7"]'


def day(old: str, new: str) -> tuple[str, str, str]:
    assert old in DAY
    return "themes.yaml", THEMES, DAY.replace(old, new, 1) + "  night:" + NIGHT


def of(found: list[Finding], code: str) -> list[Finding]:
    return [item for item in found if item.code == code]


def test_every_control_that_a_colour_spoils_is_told_at_once(tmp_path: Path) -> None:
    """Two roles alike in the example: each control of each screen shows how a touch fares by them."""
    for path in (ROOT / "layouts" / "dunlin").rglob("*.*"):
        target = tmp_path / path.relative_to(ROOT / "layouts" / "dunlin")
        if path.suffix in (".yaml", ".layout", ".dbc", ".png"):
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(path.read_bytes())
    themes = (tmp_path / "themes.yaml").read_text(encoding="utf-8")
    changed = themes.replace('accent: "#8fd3f4"', 'accent: "#4c5b61"', 1)
    assert changed != themes
    (tmp_path / "themes.yaml").write_text(changed, encoding="utf-8")
    design, _ = load(tmp_path)
    assert design is not None
    arranged, _ = arrange(design)
    assert arranged is not None
    (one,) = of(check(design, arranged), "C430")
    assert one.span is not None and len(one.also) > 8 and one.span not in one.also
    assert one.message == (
        "in theme 'day' by day only colour tells rest from '\"Calm\"', and not to an eye with deutan vision: "
        "`line` and `accent`"
    )
    assert "`line` and `accent`" in (one.remedy or "")
    screens = {span.file for span in (one.span, *one.also)}
    assert len(screens) > 4


def test_states_are_named_by_their_words(tmp_path: Path) -> None:
    lamp = 'lamp motor, caution while motor.temperature > 110 °C, good while heat.on, means "Motor too warm"'
    files = spoiled(
        ("road.layout", 'lamp motor, caution while motor.temperature > 110 °C, means "Motor too warm"', lamp),
        day('good: "#44a074"', 'good: "#ffd04b"'),
    )
    (one,) = of(found_in(tmp_path, files), "C430")
    assert "tells 'caution while motor.temperature > 110 °C' from 'good while heat.on'" in one.message


@pytest.mark.parametrize(
    ("code", "changes", "screens"),
    [
        (
            "C420",
            [
                ("road.layout", SPEED, 'label "Heron", text 40 arcmin, colour faint'),
                ("battery.layout", VOLTS, 'label "Heron", text 40 arcmin, colour faint'),
                ("themes.yaml", THEMES, THEMES.replace("\n    ramps:", FAINT)),
            ],
            {"road.layout", "battery.layout"},
        ),
        (
            "C455",
            [
                (
                    "design.yaml",
                    "dbc: car.dbc",
                    'dbc: car.dbc\nlimits: {"doubt distance": {limit: 40, because: so that it fails}}',
                ),
                ("battery.layout", VOLTS, LEVEL),
            ],
            {"road.layout", "battery.layout"},
        ),
        (
            "C443",
            [
                ("battery.layout", "    in lamps    lamp battery", "    in lamps    lamp motor"),
                ("road.layout", "danger while pack.fault", "danger while pack.fault or heat.on"),
            ],
            {"battery.layout"},
        ),
    ],
)
def test_what_one_edit_mends_is_one_finding(
    code: str, changes: list[tuple[str, str, str]], screens: set[str], tmp_path: Path
) -> None:
    found = of(found_in(tmp_path, spoiled(*changes)), code)
    causes = {(item.message, item.remedy) for item in found}
    assert len(found) == len(causes) == len({item.remedy for item in found}), found
    assert any({span.file for span in (item.span, *item.also) if span} == screens for item in found), found


def test_a_source_that_stays_on_show_is_told_with_its_screens(tmp_path: Path) -> None:
    files = spoiled(
        ("signals.yaml", "from: Vehicle.Speed, stale: 500 ms", "from: Vehicle.Speed, stale: 3 s"),
        ("battery.layout", VOLTS, 'reading vehicle.speed as "0 km/h", text 36 arcmin, called "Speed"'),
    )
    (one,) = of(found_in(tmp_path, files), "C456")
    assert one.message.startswith("on screens 'battery', 'road' 'vehicle.speed' stays on show for 3000 ms")


@pytest.mark.parametrize("stops", ['["#20292d", "#2a3338", "#303a3f"]', '["#1c2529", "#25423e"]'])
def test_a_remedy_names_the_colours_that_stand_in_the_file(stops: str, tmp_path: Path) -> None:
    """A level in a ramp whose colours are lost on what lies beneath; pasted as often as it is told."""
    themes = DAY.replace(RAMP, stops) + "  night:" + NIGHT
    told = 0
    for turn in range(12):
        folder = tmp_path / str(turn)
        folder.mkdir()
        found = of(found_in(folder, spoiled(("themes.yaml", THEMES, themes))), "C422")
        if not found:
            break
        for item in found[:1]:
            told += 1
            said = re.search(r'place of its \d\w\w colour, ("#\w{6}"), write ("#\w{6}")$', item.remedy or "")
            assert said is not None, item.remedy
            assert said[1] in themes
            themes = themes.replace(said[1], said[2], 1)
    assert told and not found


def test_every_rendering_has_all_places() -> None:
    spans = [Span("a.layout", line, 5, line, 9) for line in (3, 7, 9)]
    item = Finding("C430", Severity.WARNING, "x", spans[0], "y", also=tuple(spans[1:]))
    assert as_text([item], {}).endswith("\nalso at       a.layout:7:5, a.layout:9:5")
    (record,) = json.loads(as_json([item]))
    assert [(place["line"], place["end_column"]) for place in record["also"]] == [(7, 9), (9, 9)]
    assert [each.span for each in by_file([item])["a.layout"]] == spans
    many = Finding("C430", Severity.WARNING, "x", spans[0], also=tuple(spans[1:]) * 20)
    assert as_text([many], {}).endswith("and 10 places more")


def test_each_place_is_framed_and_in_the_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = spoiled(day('accent: "#8fd3f4"', 'accent: "#4c5b61"'))
    design, arranged, _ = arranged_in(tmp_path, files)
    found = check(design, arranged)
    (one,) = of(found, "C430")
    framed = [len(places([one], screen)) for screen in arranged.screens]
    assert all(framed) and sum(framed) == 1 + len(one.also)
    page = tmp_path / "report.html"
    assert main(["check", str(tmp_path), "--report", str(page)]) == 0
    assert "also at <code>" in page.read_text(encoding="utf-8")
    assert "\nalso at       " in capsys.readouterr().out


def test_the_rows_of_a_list_are_too_small_once(tmp_path: Path) -> None:
    """At the smallest, and with the room that all of them need together."""
    rows = 'list media.titles, showing {} rows, sets media.title to row, text 16 arcmin'
    media = """\
  media.titles: {text: true, count: 20, from: pipe, stale: 2 s}
  media.title: {range: [0, 20], unit: "", from: pipe, stale: 2 s}
outputs:
  media.title: {to: pipe}
"""
    many = spoiled(
        ("signals.yaml", "outputs:\n", media),
        ("battery.layout", "rows 14 mm, 1, 1", "rows 14 mm, 38 mm, 1"),
        ("battery.layout", VOLTS, rows.format(4)),
    )
    (one,) = of(found_in(tmp_path, many), "C410")
    way = r"make the place of all 4 of them ([\d.]+) mm higher, or have fewer"
    said = re.fullmatch(way, one.remedy or "")
    assert said is not None
    higher = {**many, "battery.layout": many["battery.layout"].replace("38 mm", f"{38 + float(said[1])} mm")}
    assert of(found_in(tmp_path, higher), "C410") == []
