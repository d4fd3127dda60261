"""Faces: sizes, advances, figures, coverage, and the masks themselves by hash."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.diagnostics import DesignError
from hmic.paint import fonts
from hmic.paint.charmap import characters
from hmic.paint.codes import CODES
from hmic.paint.fonts import load_face
from hmic.paint.operations import COMMA, FULL_STOP, MARK_UNSEEN
from tests.paint.scenes import BOLD, FALLBACK, REGULAR

ALL = (REGULAR, BOLD, FALLBACK)
SAMPLE = "".join(map(chr, range(33, 127))) + "°·–−ΩäöüßéÅ"

# SHA-256 over the masks, places and advances of SAMPLE and the figures. FreeType 2.13.2 (Pillow
# 11.0), 2.14.1 (Pillow 12.0) and 2.14.3 (Pillow 13.0) agree on them.
HASHES = {
    ("B612-Regular.otf", 12): "bc0911d1a302f90d",
    ("B612-Regular.otf", 24): "4ff373e5f9846488",
    ("B612-Regular.otf", 60): "b6a9d42922b0d457",
    ("B612-Bold.otf", 12): "05b00df1ad73a857",
    ("B612-Bold.otf", 24): "afa2259f0796e7e4",
    ("B612-Bold.otf", 60): "5547d9114b22a24e",
}


def digest(face: fonts.Face) -> str:
    state = hashlib.sha256()
    for char in SAMPLE:
        state.update(f"{char} {face.measure(char)} ".encode())
        for mask, left, top in face.glyphs(char):
            state.update(f"{mask.width} {mask.height} {left} {top} ".encode() + mask.coverage)
    for mask, left, top in face.cells.glyphs:
        state.update(f"{mask.width} {mask.height} {left} {top} ".encode() + mask.coverage)
    return state.hexdigest()[:16]


@pytest.mark.parametrize("name, height", HASHES)
def test_masks_are_the_kept_ones(name: str, height: int) -> None:
    assert digest(load_face(REGULAR.parent / name, height)) == HASHES[name, height]


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_capitals_have_the_height_asked_for(path: Path) -> None:
    for height in (*range(6, 50), 77, 120, 200):
        face = load_face(path, height)
        (mask, _, top), *_ = face.glyphs("H")
        assert (face.capital_height, mask.height, top) == (height, height, 0)
        assert face.line_height == face.ascent + face.descent >= height


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_a_line_holds_its_letters(path: Path) -> None:
    for height in (9, 14, 31, 60, 126):
        face = load_face(path, height)
        _, top, _, bottom = face.ink_box("ÅÉÖ|gjpqy,")
        assert height - face.ascent <= top and bottom <= height + face.descent


def test_the_size_is_the_largest_that_has_the_height() -> None:
    for height in (9, 24, 61):
        face = load_face(REGULAR, height)
        above = fonts.Face("any", REGULAR.read_bytes(), face.size + 0.25)
        assert above.capital_height > height


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_figures_are_equally_wide_and_in_their_cells(path: Path) -> None:
    for height in (9, 12, 16, 24, 40, 80, 120):
        cells = load_face(path, height).cells
        assert len(cells.glyphs) == 18
        for index, (mask, left, top) in enumerate(cells.glyphs):
            wide = cells.advance if index < FULL_STOP else cells.point_advance
            assert mask.width > 0 and left >= 0 and left + mask.width <= wide, (height, index)
            tail = cells.tail if index == COMMA else 0
            assert top >= 0 and top + mask.height <= cells.height + tail, (height, index)
            assert max(mask.coverage) >= 10, "no figure is faint"


def test_marks_are_told_apart_by_shape() -> None:
    for height in (9, 12, 24, 80):
        cells = load_face(BOLD, height).cells
        dot, dash, call = cells.glyphs[MARK_UNSEEN : MARK_UNSEEN + 3]
        assert dot[0].width == dot[0].height
        assert dash[0].width >= 2 * dash[0].height
        assert call[0].height >= height - 1 > 2 * call[0].width
        for mask, _, top in (dot, dash):
            assert abs(2 * (top - cells.rise) + mask.height - height) <= 1, "at half the height"


def test_digit_advance_is_the_font_designers() -> None:
    # tests/reference/10_b612_metrics.csv: 1300 of 2000 units, all figures alike.
    for height in (24, 60, 120):
        face = load_face(REGULAR, height)
        assert face.cells.advance == round(face.size * 1300 / 2000)


def test_a_texts_width_is_the_sum_of_its_letters() -> None:
    face = load_face(REGULAR, 18)
    assert face.measure("AVAWA") == sum(face.measure(char) for char in "AVAWA")
    placed = face.glyphs("AV A")
    alone = face.glyphs("A")[0]
    assert len(placed) == 3
    assert placed[2] == (alone[0], alone[1] + face.measure("AV "), alone[2])


def test_composed_and_combining_letters_are_one() -> None:
    face = load_face(REGULAR, 18)
    assert face.glyphs("e\u0301") == face.glyphs("\u00e9")


def test_ink_box_holds_every_glyph() -> None:
    face = load_face(REGULAR, 30)
    left, top, right, bottom = face.ink_box("jÅg/f")
    assert left <= face.glyphs("j")[0][1] and top < 0 and bottom > 30 and right > 60
    assert face.ink_box("  ") == (0, 0, 0, 0)


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_characters_are_those_that_fonttools_reads(path: Path) -> None:
    with TTFont(path) as font:
        assert characters(path.read_bytes()) == frozenset(font.getBestCmap())


def test_a_lacking_glyph_comes_from_the_fallback_or_is_a_finding() -> None:
    plain, backed = load_face(REGULAR, 20), load_face(REGULAR, 20, FALLBACK)
    assert not plain.has("\u0416") and backed.has("\u0416")
    assert backed.glyphs("\u0416") == load_face(FALLBACK, 20).glyphs("\u0416")
    assert backed.glyphs("H") == plain.glyphs("H")
    with pytest.raises(DesignError) as caught:
        plain.measure("x\u0416")
    (finding,) = caught.value.findings
    assert finding.code == "A392" and "U+0416" in finding.message and finding.remedy


def test_bad_files_and_heights_are_findings(tmp_path: Path) -> None:
    (tmp_path / "text.ttf").write_text("not a font, but long enough to be read as one")
    (tmp_path / "folder.ttf").mkdir()
    (tmp_path / "cut.otf").write_bytes(REGULAR.read_bytes()[:20000])
    cases = [("none.ttf", 12, "A390"), ("text.ttf", 12, "A391"), ("cut.otf", 12, "A391")]
    cases += [("folder.ttf", 12, "A391")]
    for name, height, code in cases:
        with pytest.raises(DesignError) as caught:
            load_face(tmp_path / name, height)
        assert [finding.code for finding in caught.value.findings] == [code]
        assert name in caught.value.findings[0].message
    for height in (-1, 0, 1001):
        with pytest.raises(DesignError) as caught:
            load_face(REGULAR, height)
        assert caught.value.findings[0].code == "A393"
    assert set(CODES) >= {"A390", "A391", "A392", "A393"}


@settings(max_examples=60)
@given(st.data())
def test_a_damaged_font_is_used_or_refused(data: st.DataObject) -> None:
    whole = bytearray(REGULAR.read_bytes())
    for _ in range(data.draw(st.integers(1, 8))):
        reach = data.draw(st.sampled_from([300, 6000, len(whole)]))
        whole[data.draw(st.integers(0, reach - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.sampled_from([len(whole), 40, 1000, 30000]))
    try:
        size = fonts._size_for("damaged", bytes(whole[:cut]), 14)
        face = fonts.Face("damaged", bytes(whole[:cut]), size)
        face.glyphs("Hg0")
    except DesignError as refusal:
        assert {finding.code for finding in refusal.findings} <= {"A391", "A392", "A393"}
    else:
        assert face.capital_height <= 14
