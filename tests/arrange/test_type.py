"""How text is set: units, decimals, degree signs, lines and rows, in pixels and by fontTools' measures."""

from __future__ import annotations

from itertools import product

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.arrange.canvas import TextFact, broken
from hmic.arrange.compose import arrange
from hmic.arrange.formats import parse_format, rendered
from hmic.arrange.widgets.counts import counts
from hmic.compile.compiling import Compiled
from hmic.diagnostics import Span
from hmic.language.parser import parse
from hmic.language.spelling import written
from hmic.language.syntax import Text
from hmic.paint.fonts import load_face
from hmic.paint.operations import LIVE, Figures, Run
from tests.paint.scenes import BOLD, REGULAR
from tests.tools.changed import replace
from tests.tools.widget_pictures import alone, dunlin, one_screen, paint

HERE = Span("x.layout", 1, 1, 1, 1)


def fact(compiled: Compiled, text: str) -> TextFact:
    return next(each for each in compiled.arranged.screens[0].texts if each.text == text)


def made(sentence: str, size: tuple[int, int] = (60, 30)) -> Compiled:
    return alone(one_screen(sentence), size)


def row(*sentences: str, size: tuple[int, int] = (150, 40)) -> Compiled:
    names = [f"a{number}" for number in range(len(sentences))]
    lines = [f"    in {name} {sentence}" for name, sentence in zip(names, sentences, strict=True)]
    return alone(
        "\n".join(['screen only "Only"', "    plan", "        " + " ".join(names), *lines, ""]), size
    )


def test_a_degree_sign_alone_is_the_figures_own_in_its_own_place() -> None:
    compiled = made('reading 30 ° as "0 °", text 40 arcmin')
    found = fact(compiled, "°")
    font = TTFont(BOLD)
    pen = BoundsPen(font.getGlyphSet())
    font.getGlyphSet()[font.getBestCmap()[ord("°")]].draw(pen)
    _, low, _, high = pen.bounds
    capital = BoundsPen(font.getGlyphSet())
    font.getGlyphSet()["H"].draw(capital)
    size = found.capital_height / capital.bounds[3]
    assert abs(found.box.height - (high - low) * size) <= 1.5
    figures = fact(compiled, "30 °")
    foot = figures.box.top + found.capital_height
    assert abs(foot - found.box.top - high * size) <= 1.5


def test_a_unit_of_degrees_stands_at_the_top_of_the_figures() -> None:
    compiled = made('reading motor.temperature as "0 °C", text 40 arcmin')
    unit, plain = fact(compiled, "°C"), fact(made('reading pack.voltage as "0 V", text 40 arcmin'), "V")
    figures = next(each for each in compiled.arranged.screens[0].texts if each.figures)
    assert abs(unit.box.top - figures.box.top) <= 2 < plain.box.top - figures.box.top


@pytest.mark.parametrize("words", ["", "tight", "raised", "tight raised"])
def test_a_unit_is_set_as_asked(words: str) -> None:
    asked = f", unit {words}" if words else ""
    compiled = made(f'reading pack.voltage as "0 V", text 40 arcmin{asked}')
    unit, figures = fact(compiled, "V"), next(e for e in compiled.arranged.screens[0].texts if e.figures)
    gap = unit.box.left - figures.box.left - figures.box.width
    assert (gap < 6) == ("tight" in words)
    assert (abs(unit.box.top - figures.box.top) <= 2) == ("raised" in words)


def test_smaller_decimals_stand_on_the_line_of_the_figures_and_are_measured() -> None:
    plain, small = (
        made(f'reading pack.voltage as "0.00 V", text 40 arcmin{more}') for more in ("", ", decimals small")
    )
    shown = next(each for each in small.arranged.screens[0].texts if each.figures)
    height = next(each for each in plain.arranged.screens[0].texts if each.figures).capital_height
    assert height * 0.6 - 1 <= shown.capital_height <= height * 0.65
    drawing = small.arranged.drawing
    one = next(each for each in drawing.screens[0].operations if isinstance(each, Figures))
    large, less = drawing.figure_sets[one.figure_set : one.figure_set + 2]
    for digit in (1, 2, 7):  # flat at the foot
        feet = [
            held.glyphs[digit].top + drawing.masks[held.glyphs[digit].mask].height for held in (large, less)
        ]
        assert abs(feet[0] - feet[1]) <= 1
    wide = load_face(BOLD, height), load_face(BOLD, shown.capital_height)
    assert (
        one.box.width == 3 * wide[0].cells.advance + 2 * wide[1].cells.advance + wide[1].cells.point_advance
    )


def test_letters_stand_apart_by_what_is_said_in_pixels() -> None:
    plain, apart = (made(f'label "ABC", text 40 arcmin{more}') for more in ("", ", spaced 20 %"))
    height = fact(plain, "ABC").capital_height
    assert fact(apart, "ABC").box.width - fact(plain, "ABC").box.width == 2 * round(height * 0.2)


def test_captions_and_units_take_fonts_of_their_own() -> None:
    design = replace(
        dunlin(), fonts={**dunlin().fonts, "captions": BOLD, "units": BOLD}, spaced={"captions": 10.0}
    )
    layout, _ = parse(one_screen('reading pack.voltage as "0 V", called "PACK"'), "x.layout")
    arranged, found = arrange(replace(design, screens={"only": layout.screens[0]}, start="only"))
    assert arranged is not None, found
    fonts = {each.text: each.font for each in arranged.screens[0].texts}
    assert fonts["PACK"] == "captions" and fonts["V"] == "units"


def lit(compiled: Compiled, **values: float) -> tuple[int, int]:
    """Left and right end of the ink in the rows of the figures."""
    figures = [each for each in compiled.arranged.screens[0].texts if each.figures]
    image = paint(compiled, **{name.replace("_", "."): value for name, value in values.items()}).convert("L")
    top = figures[0].box.top
    part = image.crop((0, top, image.width, top + figures[0].capital_height)).point(lambda v: 255 * (v > 90))
    found = part.getbbox()
    assert found is not None
    return found[0], found[2]


@pytest.mark.parametrize("value", [8.0, 88.8, 150.0, -8.0])
def test_in_the_middle_a_number_stands_by_what_it_shows(value: float) -> None:
    compiled = made('reading pack.current as "0.0 A", text 30 arcmin, called "I", aligned centre')
    left, right = lit(compiled, pack_current=abs(value))
    assert abs(left + right - compiled.design.panel.width) <= 10
    if value < 0:
        assert lit(compiled, pack_current=value)[1] == right


@pytest.mark.parametrize("value", [8.0, 88.8, 150.0])
def test_at_the_left_a_number_begins_where_its_caption_does(value: float) -> None:
    compiled = made('reading pack.current as "0.0 A", text 30 arcmin, aligned left')
    assert lit(compiled, pack_current=value)[0] <= dunlin().panel.pixels_from_mm(2) + 6


def test_from_one_value_to_the_next_of_as_many_figures_nothing_moves() -> None:
    compiled = made('reading pack.current as "0.0 A", text 30 arcmin, aligned centre')
    operations = compiled.arranged.drawing.screens[0].operations
    places: dict[int, set[tuple[int, int]]] = {}
    for value in (-399.9, -99.9, -10.0, -9.9, -0.1, 0.0, 0.1, 9.9, 10.0, 99.9, 100.0, 499.9):
        step = LIVE + round((value + 400) * 10)
        shown = [e for e in operations if e.when is not None and e.when.low <= step <= e.when.high]
        assert [type(each) for each in shown] == [Figures, Run]
        ends = shown[0].box.left + shown[0].box.width, shown[1].box.left
        places.setdefault(len(f"{abs(value):.1f}"), set()).add(ends)
    assert all(len(ends) == 1 for ends in places.values()) and len(places) == 3


@given(
    st.integers(-3000, 3000), st.integers(0, 3000), st.sampled_from(["0", "0.0", "00.00", "+0", "0:00 min"])
)
@settings(max_examples=150, deadline=None)
def test_counts_split_a_range_by_how_its_numbers_look(first: int, more: int, pattern: str) -> None:
    form = parse_format(pattern, HERE)
    seen: list[int] = []
    for count in counts(form, first, first + more):
        for number in {count.first, count.last, (count.first + count.last) // 2}:
            text = rendered(form, number)
            assert sum(map(str.isdigit, text)) == count.places and (not text[0].isdigit()) == count.sign
        seen += range(count.first, count.last + 1)
    assert sorted(seen) == list(range(first, first + more + 1))


WORDS = st.lists(st.text("abil", min_size=1, max_size=9), min_size=1, max_size=6)


@given(WORDS, st.integers(60, 400))
@settings(max_examples=60, deadline=None)
def test_lines_are_as_few_as_can_be_and_then_as_even(words: list[str], width: int) -> None:
    """Against every way to break the words."""
    face = load_face(REGULAR, 12)
    rows = broken(" ".join(words), face, width)
    assert " ".join(rows) == " ".join(words)
    ways = []
    for cuts in product((False, True), repeat=len(words) - 1):
        lines = [[words[0]]]
        for cut, word in zip(cuts, words[1:], strict=True):
            lines.append([word]) if cut else lines[-1].append(word)
        wide = [face.measure(" ".join(line)) for line in lines]
        # A word wider than the place stands alone, whatever else.
        if all(each <= width or len(line) == 1 for each, line in zip(wide, lines, strict=True)):
            ways.append((len(lines), max(wide)))
    assert (len(rows), max(map(face.measure, rows))) == min(ways)


def test_a_label_takes_the_lines_that_it_says_and_those_that_it_needs() -> None:
    said = made('label "Drive\\nloop", text 20 arcmin')
    assert [each.text for each in said.arranged.screens[0].texts] == ["Drive", "loop"]
    needs = made('label "Traction battery coolant", text 20 arcmin', (34, 24))
    assert len(needs.arranged.screens[0].texts) > 1


def test_a_new_line_is_written_back_as_it_was() -> None:
    assert written(Text('a\nb "c" \\n', HERE)) == r'"a\nb \"c\" \\n"'


def test_side_by_side_texts_of_one_size_share_a_baseline_and_captions_a_height() -> None:
    compiled = row(
        '   reading pack.voltage as "0 V", text 30 arcmin, called "Pack"',
        '   label "Agy", text 30 arcmin',
        "   words vehicle.gear, text 30 arcmin",
        '   reading pack.current as "0 A", text 20 arcmin, called "Peak"',
    )
    texts = compiled.arranged.screens[0].texts
    inked = [fact(compiled, text).box for text in ("Pack", "Peak")]
    assert abs(inked[0].top - inked[1].top) <= 1
    drawing = compiled.arranged.drawing
    runs = {one.box: one for one in drawing.screens[0].operations if isinstance(one, Run)}
    label = next(each for each in texts if each.text == "Agy")
    figures = next(each for each in texts if each.figures)
    first = runs[label.box].glyphs[0]  # the A stands on the baseline
    foot = label.box.top + first.top + drawing.masks[first.mask].height
    assert abs(foot - figures.box.top - figures.capital_height) <= 2


def test_a_caption_stands_near_its_value() -> None:
    compiled = made('reading pack.voltage as "0 V", text 20 arcmin, called "Pack"', (60, 60))
    caption, figures = (
        fact(compiled, "Pack"),
        next(e for e in compiled.arranged.screens[0].texts if e.figures),
    )
    between = figures.box.top - caption.box.top - caption.capital_height
    assert 0 < between <= 1.5 * caption.capital_height + 2
    above, below = caption.box.top, compiled.design.panel.height - figures.box.top - figures.capital_height
    assert abs(above - below) <= 4
