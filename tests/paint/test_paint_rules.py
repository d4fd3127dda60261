"""The painter against the plain reference, and its arithmetic against Pillow's paste."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from hmic.paint import frame
from hmic.paint.frame import Painter, figures_of, product, reduced
from hmic.paint.hatches import HATCHES
from hmic.paint.operations import (
    NO_MASK,
    Axis,
    Box,
    Drawing,
    Figures,
    FigureSet,
    Fill,
    Frame,
    Glyph,
    Ink,
    Mask,
    Moment,
    Reveal,
    Run,
    ScreenDrawing,
    Stencil,
    Theme,
    ThresholdMap,
    When,
)
from tests.paint import reference_painter

CHANNELS = (1, 2, 5, 40, 300)
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

    channel = st.integers(0, len(CHANNELS) - 1)
    ink = st.one_of(
        st.builds(Ink, st.integers(0, COLOURS - 1)),
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
    colour = st.tuples(BYTE, BYTE, BYTE)
    theme = st.builds(
        Theme, st.just("any"), st.lists(colour, min_size=COLOURS, max_size=COLOURS).map(tuple), st.just(50)
    )
    operations = tuple(draw(st.lists(operation, min_size=1, max_size=6)))
    screen = ScreenDrawing("any", operations, tuple(range(len(CHANNELS))), ())
    depth = draw(st.sampled_from([16, 24]))
    return Drawing(
        width, height, depth, (draw(theme),), masks, maps, (draw(figure_set),), CHANNELS, (screen,), 0
    )


MOMENTS = st.builds(
    Moment,
    st.just(0),
    st.just(0),
    st.tuples(*(st.integers(0, 3 + steps) | st.integers(0, 3) for steps in CHANNELS)),
    st.integers(0, 3000),
)


def rows_of(image: Image.Image) -> list[list[tuple[int, int, int]]]:
    data = image.tobytes()
    pixels = [(data[i], data[i + 1], data[i + 2]) for i in range(0, len(data), 3)]
    return [pixels[y * image.width : (y + 1) * image.width] for y in range(image.height)]


@settings(max_examples=150, deadline=None)
@given(drawings(), st.lists(MOMENTS, min_size=1, max_size=3))
def test_painter_and_reference_agree(drawing: Drawing, moments: list[Moment]) -> None:
    painter = Painter(drawing)
    for moment in moments:
        assert rows_of(painter.paint(moment)) == reference_painter.paint(drawing, moment)


@settings(max_examples=30, deadline=None)
@given(drawings(), MOMENTS)
def test_a_painter_keeps_nothing_of_earlier_frames(drawing: Drawing, moment: Moment) -> None:
    used = Painter(drawing)
    for state in range(4):
        used.paint(Moment(0, 0, (state,) * len(CHANNELS), 500))
    assert used.paint(moment).tobytes() == Painter(drawing).paint(moment).tobytes()


@settings(max_examples=30, deadline=None)
@given(drawings(), MOMENTS)
def test_nothing_outside_the_boxes_is_painted(drawing: Drawing, moment: Moment) -> None:
    image = Painter(drawing).paint(moment)
    ground = Image.new("RGB", (1, 1), drawing.themes[0].colours[0])
    expected = (reduced(ground) if drawing.depth == 16 else ground).getpixel((0, 0))
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


def test_sixteen_bits_are_five_six_five() -> None:
    image = Image.frombytes("RGB", (256, 1), bytes(v for v in range(256) for _ in range(3)))
    expected = [(r >> 3 << 3 | r >> 5, r >> 2 << 2 | r >> 6, r >> 3 << 3 | r >> 5) for r in range(256)]
    assert rows_of(reduced(image))[0] == expected


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
    document = (Path(frame.__file__).parent / "PIXELS.md").read_text()
    _, _, table = document.partition("never seen   stale        out of range\n")
    printed = [line.split() for line in table.splitlines()[:8]]
    tiles = [["".join(f"{coverage:X}" for coverage in row) for row in tile] for tile in HATCHES]
    assert printed == [list(rows) for rows in zip(*tiles, strict=True)]
