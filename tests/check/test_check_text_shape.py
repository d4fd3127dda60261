"""The shape of letters: as thick as its limit is thick enough; no remedy names the font that is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from good_design import FILES, found_in, spoiled

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


def told(tmp_path: Path, files: dict[str, str]) -> dict[str, str]:
    """Remedies by code of what is said of the shape of letters."""
    found = found_in(tmp_path, files)
    return {each.code: each.remedy for each in found if "C404" <= each.code <= "C407"}


def test_too_few_pixels_are_mended_by_more(tmp_path: Path) -> None:
    layouts = {name: "" for name in FILES if name.endswith(".layout")}
    first, *_ = layouts
    files = {**FILES, **layouts, "design.yaml": DESIGN, first: ONLY_A_UNIT}
    said = re.search(r"write it larger, such as (text \d+ arcmin)", told(tmp_path, files)["C405"])
    assert said is not None
    # The unit is the text that is measured; it is smaller than the figures that it follows.
    grown = ONLY_A_UNIT.replace("text 5 mm", "text 40 mm")
    assert "C405" not in told(tmp_path, {**files, first: grown})


@pytest.mark.parametrize(
    ("code", "name", "limit"),
    [
        ("C404", "stroke least", "0.2"),
        ("C405", "width least", "0.75"),
        ("C405", "width most", "0.6"),
        ("C406", "gap least", "4"),
        ("C407", "line gap least", "20"),
    ],
)
def test_a_limit_that_no_font_keeps_is_mended_itself(
    code: str, name: str, limit: str, tmp_path: Path
) -> None:
    first = limit
    setting = f'limits: {{"{name}": {{limit: {limit}, because: of this test}}}}'
    files = spoiled(
        ("design.yaml", "dbc: car.dbc", f"dbc: car.dbc\n{setting}"),
        ("design.yaml", "figures: B612-Bold", "figures: B612-Regular"),
    )
    for _ in "text", "figures":
        remedy = told(tmp_path, files).get(code)
        if remedy is None:
            break
        said = re.search(r"limits, write `limit: ([\d.]+) [^`]*` for '(.*?)'", remedy)
        if said is None:
            # Beside a limit that the other font keeps, this one has too few pixels.
            assert remedy.startswith("write it larger, such as text ")
            break
        assert said[2] == name
        mended = setting.replace(f"limit: {limit}", f"limit: {said[1]}")
        files = {**files, "design.yaml": files["design.yaml"].replace(setting, mended)}
        setting, limit = mended, said[1]
    assert limit != first


def test_another_font_is_proposed_where_it_helps(tmp_path: Path) -> None:
    files = spoiled(("design.yaml", "text: B612-Regular", "text: B612-Bold"))
    (said,) = set(told(tmp_path, files).values())
    assert said == "choose another font for `text` in design.yaml, such as B612-Regular"
    assert told(tmp_path, dict(FILES)) == {}


@pytest.mark.parametrize(
    ("name", "limit", "codes"), [("width least", "0.75", {"C405"}), ("text floor", "16", {"C401"})]
)
def test_a_caption_is_never_to_be_written_larger(
    name: str, limit: str, codes: set[str], tmp_path: Path
) -> None:
    """No phrase sizes it: what is said instead names what there is, and mends."""
    setting = f'limits: {{"{name}": {{limit: {limit}, because: of this test}}}}'
    files = spoiled(
        ("design.yaml", "figures: B612-Bold", "figures: B612-Bold\n  captions: B612-Regular"),
        ("design.yaml", "dbc: car.dbc", f"dbc: car.dbc\n{setting}"),
    )
    found = [
        each
        for each in found_in(tmp_path, files)
        if each.code in codes and ("for captions" in each.message or '"Motor"' in each.message)
    ]
    assert found
    for each in found:
        said = re.search(r"limits, write `limit: ([\d.]+) [^`]*` for '(.*?)'", str(each.remedy))
        assert said is not None and said[2] == name
        assert "larger" not in str(each.remedy)
        design = files["design.yaml"].replace(f"limit: {limit}", f"limit: {said[1]}")
        mended = {**files, "design.yaml": design}
        left = {(it.code, it.message) for it in found_in(tmp_path, mended)}
        assert (each.code, each.message) not in left
