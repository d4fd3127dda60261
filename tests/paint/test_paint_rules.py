"""The painter against the plain reference, and its arithmetic against Pillow's paste."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from hmic.paint import painter
from hmic.paint.hatches import HATCHES
from hmic.paint.operations import (
    NO_CHANNEL,
    NO_MASK,
    Axis,
    Box,
    Drawing,
    Figures,
    FigureSet,
    Fill,
    Flow,
    Frame,
    Glyph,
    Image565,
    Ink,
    Letter,
    Letters,
    LetterSet,
    Mask,
    Moment,
    Operation,
    Outline,
    Picture,
    Pointer,
    Reveal,
    Run,
    ScreenDrawing,
    Slide,
    Stencil,
    Theme,
    ThresholdMap,
    Trace,
    When,
    channels_of,
)
from hmic.paint.outlines import levels, reach, side
from hmic.paint.painter import Painter, figures_of, product
from hmic.paint.pictures import colours, picture_of
from hmic.paint.traces import spans_of as line_spans
from hmic.paint.traces import strokes
from tests.paint import reference_painter
from tests.tools.changed import replace
from tests.tools.drawings import STRAIGHT, outlines, pictures, polygons

CHANNELS = (1, 2, 5, 40, 300, 3, 6, 6, 6, 4, 4, 4, 4)
# Of these, the first five feed anything, the others the columns of traces and lines of letters.
ANY, HEAD, COLUMNS, SPELT = range(5), 5, (6, 7, 8), (9, 10, 11, 12)
LETTERS = 4
COLOURS = 9
BYTE = st.integers(0, 255)


@st.composite
def planes(draw: st.DrawFn, most: int) -> tuple[int, int, bytes]:
    width, height = draw(st.integers(0, 9)), draw(st.integers(0, 9))
    size = width * height
    return width, height, bytes(draw(st.lists(st.integers(0, most), min_size=size, max_size=size)))


@st.composite
def drawings(draw: st.DrawFn) -> Drawing:
    width, height = draw(st.integers(1, 24)), draw(st.integers(1, 20))
    masks = tuple(Mask(*draw(planes(15))) for _ in range(3))
    maps = tuple(ThresholdMap(*draw(planes(255))) for _ in range(2))
    near = st.integers(-3, 6)
    glyph = st.builds(Glyph, st.integers(0, 2), near, near)
    figure_set = st.builds(
        FigureSet,
        st.integers(0, 6),
        st.integers(0, 4),
        st.integers(0, 9),
        st.lists(glyph, min_size=18, max_size=18).map(tuple),
    )

    @st.composite
    def boxes(draw: st.DrawFn) -> Box:
        left, top = draw(st.integers(0, width)), draw(st.integers(0, height))
        return Box(left, top, draw(st.integers(0, width - left)), draw(st.integers(0, height - top)))

    channel = st.sampled_from(ANY)
    corners = draw(st.integers(3, 6))
    outline = Outline(corners, tuple(draw(polygons(corners, 400)) for _ in range(CHANNELS[2])))
    letter = st.builds(Letter, glyph, st.integers(0, 7))
    letters = st.lists(letter, min_size=LETTERS, max_size=LETTERS).map(tuple)
    letter_set = draw(st.builds(LetterSet, st.just(9), letters, st.tuples(letter, letter, letter)))
    ink = st.one_of(
        st.builds(Ink, st.integers(0, COLOURS - 1), st.just(NO_CHANNEL)),
        st.builds(Ink, st.integers(0, COLOURS - 5), st.integers(0, 2)),
        st.builds(Ink, st.integers(0, COLOURS - 1), st.just(0)),
    )
    raw_bound = st.integers(0, 6)
    when = st.none() | st.builds(When, channel, raw_bound, raw_bound | st.just(0xFFFF))
    mask = st.integers(0, 2)
    flag = st.booleans()
    operation = st.one_of(
        st.builds(Fill, boxes(), ink, when),
        st.builds(Stencil, boxes(), mask, ink, when, flag),
        st.builds(Run, boxes(), st.lists(glyph, max_size=4).map(tuple), ink, when),
        st.builds(Frame, boxes(), mask, ink, when),
        st.builds(
            Figures,
            boxes(),
            channel,
            st.just(0),
            st.integers(-400, 400),
            st.integers(-60, 60),
            st.integers(0, 4),
            st.integers(1, 4),
            st.sampled_from([0, 15, 16, 17]),
            st.integers(0, 3),
            flag,
            flag,
            ink,
            when,
        ),
        st.builds(
            Reveal,
            boxes(),
            channel,
            st.sampled_from(list(Axis)),
            st.integers(0, 30),
            mask | st.just(NO_MASK),
            ink,
            st.integers(0, 1),
            st.integers(0, 12),
            st.integers(1, 20) | st.integers(1, 0xFFFF),
            when,
        ),
    )
    straight = st.sampled_from(STRAIGHT)
    later = st.one_of(
        st.builds(Slide, boxes(), channel, straight, mask, ink, when),
        st.builds(Pointer, boxes(), st.integers(0, 2), st.just(0), ink, when),
        flows(boxes(), straight, channel, ink, when),
        st.builds(Picture, boxes(), st.integers(0, 1), when),
        lines(boxes(), ink, when),
    )
    traced = [traces(width, height, ink, when)] if width > 2 else []
    operation = st.one_of(operation, later, *traced)
    colour = st.tuples(BYTE, BYTE, BYTE)
    theme = st.builds(
        Theme, st.just("any"), st.lists(colour, min_size=COLOURS, max_size=COLOURS).map(tuple), st.just(50)
    )
    operations = tuple(draw(st.lists(operation, min_size=1, max_size=6)))
    screen = ScreenDrawing("any", operations, tuple(range(len(CHANNELS))), ())
    depth = draw(st.sampled_from([16, 24]))
    themes = (draw(theme),)
    shown = (draw(pictures(9)), draw(pictures(9)))
    sets = (draw(figure_set),)
    tables = (themes, masks, maps, sets, CHANNELS, (screen,), 0, (outline,), (letter_set,), shown)
    return Drawing(width, height, depth, *tables)


@st.composite
def flows(
    draw: st.DrawFn,
    box: st.SearchStrategy[Box],
    axis: st.SearchStrategy[Axis],
    channel: st.SearchStrategy[int],
    ink: st.SearchStrategy[Ink],
    when: st.SearchStrategy[When | None],
) -> Flow:
    pitch, fed = draw(st.integers(1, 30)), draw(channel)
    pace = draw(st.integers(0, 3 * pitch // max(1, CHANNELS[fed] - 1)))
    mark = draw(st.integers(1, pitch))
    return Flow(
        draw(box), draw(axis), fed, draw(st.integers(0, 70)), pitch, mark, pace, draw(ink), draw(when)
    )


@st.composite
def traces(
    draw: st.DrawFn,
    width: int,
    height: int,
    ink: st.SearchStrategy[Ink],
    when: st.SearchStrategy[When | None],
) -> Trace:
    wide, high = draw(st.integers(3, width)), draw(st.integers(1, height))
    box = Box(draw(st.integers(0, width - wide)), draw(st.integers(0, height - high)), wide, high)
    columns = draw(st.integers(1, 3))
    heads = [number for number in (*ANY, HEAD) if CHANNELS[number] <= columns]
    first = draw(st.integers(COLUMNS[0], COLUMNS[-1] - columns + 1))
    thickness, levels = draw(st.integers(1, min(5, high))), draw(st.integers(6, 12))
    return Trace(box, first, columns, draw(st.sampled_from(heads)), levels, thickness, draw(ink), draw(when))


@st.composite
def lines(
    draw: st.DrawFn,
    box: st.SearchStrategy[Box],
    ink: st.SearchStrategy[Ink],
    when: st.SearchStrategy[When | None],
) -> Letters:
    first = draw(st.sampled_from(SPELT))
    count = draw(st.integers(1, SPELT[-1] - first + 1))
    return Letters(draw(box), first, count, 0, draw(ink), draw(when))


MOMENTS = st.builds(
    Moment,
    st.just(0),
    st.just(0),
    st.tuples(*(st.integers(0, 3 + steps) | st.integers(0, 3) for steps in CHANNELS)),
    st.integers(0, 3000) | st.integers(0, 1 << 34),
)


def rows_of(image: Image.Image) -> list[list[tuple[int, int, int]]]:
    data = image.tobytes()
    pixels = [(data[i], data[i + 1], data[i + 2]) for i in range(0, len(data), 3)]
    return [pixels[y * image.width : (y + 1) * image.width] for y in range(image.height)]


@settings(max_examples=150)
@given(drawings(), st.lists(MOMENTS, min_size=1, max_size=3))
def test_painter_and_reference_agree(drawing: Drawing, moments: list[Moment]) -> None:
    painter = Painter(drawing)
    for moment in moments:
        assert rows_of(painter.paint(moment)) == reference_painter.paint(drawing, moment)


@settings(max_examples=30)
@given(drawings(), MOMENTS)
def test_a_painter_keeps_nothing_of_earlier_frames(drawing: Drawing, moment: Moment) -> None:
    used = Painter(drawing)
    for state in range(4):
        used.paint(Moment(0, 0, (state,) * len(CHANNELS), 500))
    assert used.paint(moment).tobytes() == Painter(drawing).paint(moment).tobytes()


@settings(max_examples=30)
@given(drawings(), MOMENTS)
def test_nothing_outside_the_boxes_is_painted(drawing: Drawing, moment: Moment) -> None:
    image = Painter(drawing).paint(moment)
    red, green, blue = drawing.themes[0].colours[0]
    expected = (red, green, blue) if drawing.depth == 24 else shown_on_16_bits(red, green, blue)
    boxes = [operation.box for operation in drawing.screens[0].operations]
    for y in range(image.height):
        for x in range(image.width):
            if not any(0 <= x - box.left < box.width and 0 <= y - box.top < box.height for box in boxes):
                assert image.getpixel((x, y)) == expected


def test_blend_is_pillows_masked_paste_for_every_input() -> None:
    ramp = Image.frombytes("L", (256, 256), bytes(x for _ in range(256) for x in range(256)))
    levels = Image.frombytes("L", (256, 256), bytes(y for y in range(256) for _ in range(256)))
    for ink in range(256):
        image = Image.merge("RGB", (ramp, ramp, ramp))
        image.paste((ink, ink, ink), (0, 0, 256, 256), levels)
        expected = bytearray()
        for level in range(256):
            lift = ink * level + 128
            expected += (
                bytes((t + (t >> 8)) >> 8 for t in range(lift, lift + 256 * (255 - level), 255 - level))
                if level < 255
                else bytes([ink]) * 256
            )
        assert image.getchannel(1).tobytes() == bytes(expected), ink


def test_product_rounds_as_the_blend_does_for_every_input() -> None:
    ramp = Image.frombytes("L", (256, 256), bytes(x for _ in range(256) for x in range(256)))
    levels = Image.frombytes("L", (256, 256), bytes(y for y in range(256) for _ in range(256)))
    expected = bytes(reference_painter.divide(x * y) for y in range(256) for x in range(256))
    assert product(ramp, levels).tobytes() == expected


def shown_on_16_bits(red: int, green: int, blue: int) -> tuple[int, int, int]:
    return red >> 3 << 3 | red >> 5, green >> 2 << 2 | green >> 6, blue >> 3 << 3 | blue >> 5


def test_sixteen_bits_are_five_six_five() -> None:
    theme = Theme("any", ((0, 0, 0), (0, 0, 0), *((v, v, v) for v in range(256))), 50)
    screen = ScreenDrawing("any", tuple(Fill(Box(v, 0, 1, 1), Ink(2 + v)) for v in range(256)), (), ())
    drawing = Drawing(256, 1, 16, (theme,), (), (), (), (), (screen,), 0)
    assert rows_of(Painter(drawing).paint(Moment(0, 0, ())))[0] == [
        shown_on_16_bits(v, v, v) for v in range(256)
    ]


def test_a_soft_edge_on_sixteen_bits_is_the_nearest_word() -> None:
    """Each part of a blended word is within half a step of the exact mixture of the two words."""
    greys = ((16, 12, 20), (0, 0, 0), (235, 200, 90))
    levels = Mask(16, 1, bytes(range(16)))
    screen = ScreenDrawing("any", (Stencil(Box(0, 0, 16, 1), 0, Ink(2)),), (), ())
    drawing = Drawing(16, 1, 16, (Theme("any", greys, 50),), (levels,), (), (), (), (screen,), 0)
    row = rows_of(Painter(drawing).paint(Moment(0, 0, ())))[0]
    for coverage, shown in enumerate(row):
        for under, ink, seen, bits in zip(greys[0], greys[2], shown, (5, 6, 5), strict=True):
            cut = 8 - bits
            exact = ((under >> cut) * (15 - coverage) + (ink >> cut) * coverage) / 15
            assert abs((seen >> cut) - exact) <= 0.5
    assert (2 * (255 - 119) + 29 * 119 + 127) // 255 == 15 == row[7][0] >> 3


def one(
    operation: object, raw: int, steps: int = 100, clock: int = 0, masks: tuple[Mask, ...] = ()
) -> Image.Image:
    theme = Theme("any", ((0, 0, 0), (0, 0, 255), (255, 255, 255)), 50)
    screen = ScreenDrawing("any", (operation,), (0,), ())  # type: ignore[arg-type]
    drawing = Drawing(16, 16, 24, (theme,), masks, (), (), (steps,), (screen,), 0)
    return Painter(drawing).paint(Moment(0, 0, (raw,), clock))


def test_a_raw_value_above_the_steps_is_out_of_range() -> None:
    fill = Fill(Box(0, 0, 16, 16), Ink(2, 0))
    beyond, out = one(fill, raw=4, steps=1), one(fill, raw=2, steps=1)
    assert beyond.tobytes() == out.tobytes()
    assert (0, 0, 255) in rows_of(beyond)[0]


def test_a_flash_is_lit_half_of_each_second_and_doubt_does_not_flash() -> None:
    masks = (Mask(2, 2, bytes([15] * 4)),)
    lamp = Stencil(Box(4, 4, 2, 2), 0, Ink(2), flash=True)
    seen = [one(lamp, 3, clock=clock, masks=masks).getpixel((4, 4)) for clock in (0, 499, 500, 999, 1000)]
    assert seen == [(255,) * 3, (255,) * 3, (0,) * 3, (0,) * 3, (255,) * 3]
    tinted = Stencil(Box(0, 0, 2, 2), 0, Ink(2, 0), flash=True)
    dark, bright = (one(tinted, 1, clock=clock, masks=masks) for clock in (500, 0))
    assert dark.tobytes() == bright.tobytes()
    assert dark.getpixel((0, 0)) == (0, 0, 255)


def test_doubt_looks_differ_and_leave_what_lies_between() -> None:
    pictures = [one(Fill(Box(0, 0, 16, 16), Ink(2, 0)), raw) for raw in range(4)]
    assert len({picture.tobytes() for picture in pictures}) == 4
    for picture in pictures[:3]:
        shares = picture.getchannel(2).histogram()
        assert shares[0] > 64, "a quarter of the ground stays"
        assert shares[255] >= 10, "and the hatch is there in full ink"


def test_worked_examples_of_the_document() -> None:
    assert reference_painter.blend((16, 16, 16), (235, 235, 235), 17 * 7) == (118, 118, 118)
    clock = Figures(Box(0, 0, 16, 16), 0, 0, 7509, 1, 3, 5, 17, 2, False, True, Ink(2))
    assert figures_of(clock, 7509) == [9, 0, 17, 5, 2, 1]


def test_div255_rounds_to_the_nearest() -> None:
    assert all(reference_painter.divide(t) == (2 * t + 255) // 510 for t in range(255 * 255 + 1))


def test_hatches_of_the_document_are_those_painted() -> None:
    document = (Path(painter.__file__).parent / "PIXELS.md").read_text()
    _, _, table = document.partition("never seen   stale        out of range\n")
    printed = [line.split() for line in table.splitlines()[:8]]
    tiles = [["".join(f"{coverage:X}" for coverage in row) for row in tile] for tile in HATCHES]
    assert printed == [list(rows) for rows in zip(*tiles, strict=True)]


def pixels_on(image: Image.Image, colour: tuple[int, int, int] = (255, 255, 255)) -> set[tuple[int, int]]:
    return {(x, y) for y, row in enumerate(rows_of(image)) for x, held in enumerate(row) if held == colour}


def shown(operation: Operation, raw: tuple[int, ...], clock: int = 0, **tables: object) -> Image.Image:
    theme = Theme("any", ((0, 0, 0), (0, 0, 255), (255, 255, 255)), 50)
    screen = ScreenDrawing("any", (operation,), tuple(range(len(raw))), ())
    steps = (100,) * len(raw)
    drawing = Drawing(24, 16, 24, (theme,), (Mask(2, 2, b"\x0f" * 4),), (), (), steps, (screen,), 0)
    return Painter(replace(drawing, **tables)).paint(Moment(0, 0, raw, clock))  # type: ignore[arg-type]


SQUARE = Outline(4, (((32, 32), (96, 32), (96, 96), (32, 96)),))
MARK = Letter(Glyph(0, 0, 0), 3)
SET = LetterSet(4, (MARK,), (MARK, MARK, MARK))


def test_what_stands_beside_its_doubt_vanishes_with_it() -> None:
    box = Box(0, 0, 24, 16)
    for operation in (
        Slide(box, 0, Axis.RIGHTWARD, 0, Ink(2)),
        Pointer(box, 0, 0, Ink(2)),
        Flow(box, Axis.RIGHTWARD, 0, 0, 6, 3, 0, Ink(2)),
    ):
        assert pixels_on(shown(operation, (3,), outlines=(SQUARE,)))
        for state in range(3):
            assert set(rows_of(shown(operation, (state,), outlines=(SQUARE,)))[4]) == {(0, 0, 0)}


def test_a_slide_stands_step_pixels_from_where_its_axis_starts() -> None:
    corners = {Axis.RIGHTWARD: (7, 1), Axis.LEFTWARD: (15, 1), Axis.DOWNWARD: (2, 6), Axis.UPWARD: (2, 8)}
    for axis, (left, top) in corners.items():
        picture = shown(Slide(Box(2, 1, 20, 14), 0, axis, 0, Ink(2)), (3 + 5,))
        assert min(pixels_on(picture)) == (left, top) and len(pixels_on(picture)) == 4


def test_a_pointer_covers_whole_pixels_exactly_and_shares_of_others() -> None:
    image = shown(Pointer(Box(1, 1, 8, 8), 0, 0, Ink(2)), (3,), outlines=(SQUARE,))
    assert pixels_on(image) == {(x, y) for x in range(3, 7) for y in range(3, 7)}
    half = Outline(3, (((0, 0), (128, 0), (0, 128)),))
    image = shown(Pointer(Box(0, 0, 8, 8), 0, 0, Ink(2)), (3,), outlines=(half,))
    # 10 of 16 samples of a pixel on the slanted edge: those on it count.
    assert image.getpixel((3, 4)) == (17 * ((10 * 15 + 8) // 16),) * 3


def test_a_trace_is_worked_out_as_in_the_document() -> None:
    trace = Trace(Box(0, 0, 10, 7), 1, 3, 0, 4, 1, Ink(2))
    # The head names column 1 of the ring as the newest, so channel 3 is the oldest.
    image = shown(trace, (3 + 1, 3 + 3, 3 + 1, 3 + 0))
    covered = [(0, 16)] * 3 + [(4, 44), (36, 76), (68, 108), (78, 108), (57, 86), (36, 65)]
    for x, (low, high) in enumerate(covered):
        for q in range(7):
            within = max(0, min(high, 16 * q + 16) - max(low, 16 * q))
            assert image.getpixel((x, 6 - q)) == ((within * 255 + 8) // 16,) * 3
    assert [image.getpixel((7, 6 - q))[0] for q in (3, 4, 5)] == [112, 255, 96]  # type: ignore[index]


def test_a_trace_is_within_a_sixteenth_of_the_straight_line() -> None:
    """The quick slopes against exact fractions, and the ends of each column exactly."""
    sizes = ((4096, 1, 65533, 4096), (97, 3, 41, 7), (50, 1, 2, 1), (9, 2, 1, 13))
    for height, thick, heights, width in sizes:
        trace = Trace(Box(0, 0, 2 * width, height), 1, 2, 0, heights, thick, Ink(2))
        for one, two in ((0, heights - 1), (heights - 1, 0), (heights // 3, heights // 2), (heights // 2, 0)):
            span = [Fraction(16 * (height - thick) * step, max(1, heights - 1)) for step in (one, two)]
            held = line_spans(trace, (3 + one, 3 + two))[1]
            assert held is not None
            assert all(abs(a - b) < 1 for a, b in zip(held, span, strict=True))
            for part, (low, high) in enumerate(strokes((held[0], held[1]), width, 1)):
                ends = [held[0] + Fraction((held[1] - held[0]) * at, width) for at in (part, part + 1)]
                steep = abs(ends[1] - ends[0])
                wider = max(16 - steep, 8)
                assert abs(low - (min(ends) + 8 - wider / 2)) <= 2
                assert abs(high - low - steep - wider) <= 2


def test_a_gap_in_a_trace_is_marked_and_not_bridged() -> None:
    trace = Trace(Box(0, 0, 24, 16), 1, 3, 0, 16, 1, Ink(2))
    image = shown(trace, (3 + 2, 3 + 15, 1, 3 + 0))
    assert pixels_on(image) == {(x, 0) for x in range(8)} | {(x, 15) for x in range(16, 24)}
    marked = pixels_on(image, (0, 0, 255))
    assert marked and all(8 <= x < 16 and y >= 8 for x, y in marked)
    whole = pixels_on(shown(trace, (1, 3, 3, 3)), (0, 0, 255))
    assert not pixels_on(shown(trace, (1, 3, 3, 3))) and {x for x, _ in whole} == set(range(24))


def test_a_long_trace_moves_on_as_the_reference_does() -> None:
    """Many columns, in the pieces that the painter keeps from one frame to the next."""
    theme = Theme("any", ((0, 0, 0), (0, 0, 255), (255, 255, 255)), 50)
    trace = Trace(Box(1, 0, 205, 20), 1, 100, 0, 40, 2, Ink(2))
    screen = ScreenDrawing("any", (trace,), tuple(range(101)), ())
    steps = (100,) + (40,) * 100
    drawing = Drawing(210, 20, 24, (theme,), (), (), (), steps, (screen,), 0)
    painter = Painter(drawing)
    raw = [3, *(place * place % 43 for place in range(100))]
    for head in (0, 1, 2, 3, 17, 98, 99, 0, 50):
        raw[0] = 3 + head
        raw[1 + head] = 3 + head * 7 % 40 if head != 17 else 1
        moment = Moment(0, 0, tuple(raw))
        assert rows_of(painter.paint(moment)) == reference_painter.paint(drawing, moment)


def test_a_flow_moves_by_the_clock_stands_at_zero_and_joins() -> None:
    def marks(step: int, clock: int, offset: int = 0, axis: Axis = Axis.RIGHTWARD) -> set[int]:
        flow = Flow(Box(0, 0, 24, 1), axis, 0, offset, 12, 4, 2, Ink(2))
        return {x for x, _ in pixels_on(shown(flow, (3 + step,), clock))}

    still = {0, 1, 2, 3, 12, 13, 14, 15}
    assert marks(0, 0) == marks(0, 61234) == marks(5, 61234) == still
    assert marks(5, 100) == {x + 1 for x in still}
    assert marks(5, 100, axis=Axis.LEFTWARD) == {22 - x for x in still}
    joined = marks(3, 777) | {24 + x for x in marks(3, 777, offset=24)}
    assert joined == {x for x in range(48) if (x - 777 * 3 * 2 // 1000) % 12 < 4}
    assert marks(5, 2**32 + 100) == marks(5, 100)


def test_letters_end_at_the_first_end_and_show_doubt() -> None:
    operation = Letters(Box(0, 0, 24, 4), 0, 5, 0, Ink(2))

    def spelt(*raw: int) -> tuple[set[int], set[int]]:
        image = shown(operation, raw, letter_sets=(SET,))
        white, blue = pixels_on(image), pixels_on(image, (0, 0, 255))
        return {x for x, _ in white}, {x for x, _ in blue}

    assert spelt(4, 4, 3, 4, 4) == ({0, 1, 3, 4}, set())
    assert spelt(4, 4, 1, 4, 4) == ({0, 1, 3, 4}, {6, 7})
    assert spelt(2, 4, 4, 4, 4) == (set(), {0, 1, 3, 4, 6, 7})
    assert spelt(3, 4, 4, 4, 4) == (set(), set())


def test_a_picture_keeps_its_colours_in_every_theme() -> None:
    words = b"".join(word.to_bytes(2, "little") for word in (0xFFFF, 0xF800, 0x07E0, 0x001F))
    image = shown(Picture(Box(1, 1, 4, 4), 0), (0,), pictures=(Image565(2, 2, words, b"\x0f\x0f\x0f\x08"),))
    assert [image.getpixel(at) for at in ((1, 1), (2, 1), (1, 2), (3, 3))] == [
        *((255, 255, 255), (255, 0, 0), (0, 255, 0), (0, 0, 0)),
    ]
    assert image.getpixel((2, 2)) == (0, 0, 17 * 8)


def test_a_picture_from_an_image_is_the_nearest_words() -> None:
    ramp = Image.frombytes("RGBA", (256, 1), bytes(part for v in range(256) for part in (v, v, v, v)))
    held = picture_of(ramp)
    seen = rows_of(shown(Picture(Box(0, 0, 24, 1), 0), (0,), pictures=(held,)))[0]
    assert len(held.coverage) == 256 and seen[0] == (0, 0, 0)
    solid = picture_of(ramp.convert("RGB"))
    assert solid.coverage == b""
    for value in range(256):
        red, green, blue = colours(solid).getpixel((value, 0))  # type: ignore[misc]
        assert red == blue and abs(red - value) <= 5 and abs(green - value) <= 3
        assert held.coverage[value] == (value + 8) // 17


def test_a_number_without_places_after_the_point_has_no_point() -> None:
    whole = Figures(Box(0, 0, 16, 16), 0, 0, 0, 1, 1, 3, 15, 0, False, False, Ink(2))
    assert figures_of(whole, 87) == [7, 8]


def test_channels_of_an_operation() -> None:
    box, when = Box(0, 0, 24, 16), When(7, 3, 3)
    assert channels_of(Fill(box, Ink(2))) == ()
    assert channels_of(Fill(box, Ink(2, 4), when)) == (4, 7)
    assert channels_of(Slide(box, 9, Axis.UPWARD, 0, Ink(2, 9))) == (9,)
    assert channels_of(Pointer(box, 1, 0, Ink(2), when)) == (1, 7)
    assert channels_of(Trace(box, 10, 3, 2, 4, 1, Ink(2, 1), when)) == (1, 2, 7, 10, 11, 12)
    assert channels_of(Flow(box, Axis.UPWARD, 3, 0, 6, 3, 0, Ink(2))) == (3,)
    assert channels_of(Picture(box, 0, when)) == (7,)
    assert channels_of(Letters(box, 5, 2, 0, Ink(2))) == (5, 6)


@settings(max_examples=60)
@given(outlines())
def test_polygon_samples_are_those_inside(outline: Outline) -> None:
    """The span of a row against asking each sample, with boxes that cut the polygon."""
    for polygon in outline.polygons:
        part = reach(polygon, 30, 30)
        if not (part.width and part.height):
            continue
        held = levels(polygon, part)
        edges = list(zip(polygon, polygon[1:] + polygon[:1], strict=True))
        for x, y in ((0, 0), (part.width // 2, part.height // 3), (part.width - 1, part.height - 1)):
            samples = [
                (16 * (x + part.left) + 4 * i + 2, 16 * (y + part.top) + 4 * j + 2)
                for i in range(4)
                for j in range(4)
            ]
            count = sum(all(side(a, b, sample) >= 0 for a, b in edges) for sample in samples)
            assert held.getpixel((x, y)) == 17 * ((count * 15 + 8) // 16)
