"""Mistakes that have nothing to do with each other are told together, not one after the other is mended."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from hmic.compile.compiling import examine

sys.path.insert(0, str(Path(__file__).parents[1] / "check"))
from good_design import FILES, spoiled

SPEED = 'reading vehicle.speed as "0 km/h", text 90 arcmin'
AMPS = 'reading pack.current as "0.0 A", text 36 arcmin, called "Current"'
DBC = ("signals.yaml", "from: Vehicle.Speed", "from: Vehicle.Sped")
SLIP = ("road.layout", SPEED, SPEED.replace("reading", "raeding"))
UNIT = ("road.layout", SPEED, SPEED.replace("km/h", "V"))
WIDE = ("road.layout", SPEED, SPEED.replace("90", "190"))
SMALL = ("battery.layout", AMPS, AMPS.replace("36", "9"))
FAINT = ("themes.yaml", 'quiet: "#beb8b0"', 'quiet: "#39413f"')


def codes(folder: Path, files: dict[str, str]) -> set[str]:
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    _, _, found = examine(folder)
    return {item.code for item in found if item.severity.value != "note"} - {"M232"}


@pytest.mark.parametrize("wrong", [SLIP, UNIT, WIDE], ids=["words", "unit", "place"])
def test_a_mistake_in_a_sentence_hides_no_measure_of_another(
    wrong: tuple[str, str, str], tmp_path: Path
) -> None:
    alone = codes(tmp_path, spoiled(wrong))
    assert len(alone) == 1
    measured = codes(tmp_path, spoiled(SMALL, FAINT))
    assert {"C401", "C420"} <= measured
    assert codes(tmp_path, spoiled(wrong, SMALL, FAINT)) >= alone | {"C401", "C420"}


def test_what_the_dbc_lacks_is_told_without_themes_or_screens(tmp_path: Path) -> None:
    for left_out in ("themes.yaml", "road.layout"):
        folder = tmp_path / left_out
        folder.mkdir()
        files = {name: text for name, text in spoiled(DBC).items() if name != left_out}
        if left_out == "road.layout":
            del files["battery.layout"]
        assert "M261" in codes(folder, files) and len(codes(folder, files)) > 1


def test_the_good_design_has_none(tmp_path: Path) -> None:
    assert codes(tmp_path, dict(FILES)) == set()
