"""The shape of letters: as thick as its limit is thick enough; no remedy names the font that is there."""

from __future__ import annotations

from pathlib import Path

from good_design import FILES, found_in

DESIGN = FILES["design.yaml"].replace("[154.1 mm, 85.9 mm]", "[200 mm, 120 mm]")
ONLY_A_UNIT = """\
screen road "Road"
    plan
        speed
    in speed    reading vehicle.speed as "0 km/h", text 5 mm
"""
"""Of the font for texts there are the letters of ``km/h``, with stems of 0.9 px under an ascender of 9."""


def test_stems_of_a_tenth_are_no_thinner_than_a_tenth(tmp_path: Path) -> None:
    layouts = {name: "" for name in FILES if name.endswith(".layout")}
    first, *_ = layouts
    found = found_in(tmp_path, {**FILES, **layouts, "design.yaml": DESIGN, first: ONLY_A_UNIT})
    codes = {each.code for each in found}
    assert "C404" not in codes and "C405" in codes
    assert not any("such as B612-Regular" in str(each.remedy) for each in found)
