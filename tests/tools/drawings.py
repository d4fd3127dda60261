"""Hypothesis strategies for whole drawings that a pack can hold, and for moments of them."""

from __future__ import annotations

from hypothesis import strategies as st

from hmic.paint.operations import (
    COLON,
    COMMA,
    FULL_STOP,
    LIVE,
    NO_CHANNEL,
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
    Operation,
    Reveal,
    Run,
    ScreenDrawing,
    Stencil,
    Theme,
    ThresholdMap,
    When,
    Zone,
)

names = st.text(st.characters(min_codepoint=32, exclude_categories=("Cs",)), min_size=1, max_size=12)


@st.composite
def coverages(draw: st.DrawFn, most: int = 24) -> Mask:
    """Masks with runs and with edges, empty ones too."""
    width = draw(st.integers(0, most))
    height = draw(st.integers(0, most + 16))
    pattern = draw(st.binary(min_size=1, max_size=12))
    stretch = draw(st.integers(1, 9))
    pixels = width * height
    stretched = b"".join(bytes((value & 15,)) * stretch for value in pattern)
    return Mask(width, height, (stretched * (pixels // len(stretched) + 1))[:pixels])


@st.composite
def threshold_maps(draw: st.DrawFn, most: int = 24) -> ThresholdMap:
    """Maps that rise along rows, columns or not at all."""
    width = draw(st.integers(0, most))
    height = draw(st.integers(0, most + 16))
    across, down, first = draw(st.tuples(*[st.integers(0, 40)] * 3))
    values = bytes((first + x * across + y * down) & 255 for y in range(height) for x in range(width))
    return ThresholdMap(width, height, values)


@st.composite
def boxes(draw: st.DrawFn, width: int, height: int) -> Box:
    """Boxes inside a panel."""
    left = draw(st.integers(0, width))
    top = draw(st.integers(0, height))
    return Box(left, top, draw(st.integers(0, width - left)), draw(st.integers(0, height - top)))


@st.composite
def inks(draw: st.DrawFn, colours: int, steps: tuple[int, ...], reach: tuple[int, ...]) -> Ink:
    """Plain inks, and tinted ones where the palette is long enough."""
    fitting = [channel for channel in reach if steps[channel] <= colours]
    if fitting and draw(st.booleans()):
        tint = draw(st.sampled_from(fitting))
        return Ink(draw(st.integers(0, colours - steps[tint])), tint)
    return Ink(draw(st.integers(0, colours - 1)), NO_CHANNEL)


@st.composite
def conditions(draw: st.DrawFn, reach: tuple[int, ...]) -> When | None:
    """Conditions on a channel in reach, or none."""
    if not reach or draw(st.booleans()):
        return None
    low, high = sorted((draw(st.integers(0, 12)), draw(st.integers(0, 12))))
    return When(draw(st.sampled_from(reach)), low, high)


@st.composite
def glyphs(draw: st.DrawFn, masks: int) -> Glyph:
    """A glyph near its corner."""
    return Glyph(draw(st.integers(0, masks - 1)), draw(st.integers(-20, 40)), draw(st.integers(-20, 40)))


@st.composite
def operations(draw: st.DrawFn, drawing: Drawing, reach: tuple[int, ...]) -> Operation:
    """Any operation for a drawing whose tables stand, with the channels of its screen."""
    box = draw(boxes(drawing.width, drawing.height))
    ink = draw(inks(len(drawing.themes[0].colours), drawing.channels, reach))
    when = draw(conditions(reach))
    mask = st.integers(0, len(drawing.masks) - 1)
    kinds = ["fill", "stencil", "run", "frame"] + (["figures", "reveal"] if reach else [])
    match draw(st.sampled_from(kinds)):
        case "fill":
            return Fill(box, ink, when)
        case "stencil":
            return Stencil(box, draw(mask), ink, when, draw(st.booleans()))
        case "run":
            texts = st.lists(glyphs(len(drawing.masks)), max_size=5).map(tuple)
            return Run(box, draw(texts), ink, when)
        case "frame":
            return Frame(box, draw(mask), ink, when)
        case "figures":
            return Figures(
                box,
                draw(st.sampled_from(reach)),
                draw(st.integers(0, len(drawing.figure_sets) - 1)),
                draw(st.integers(-100000, 100000)),
                draw(st.integers(-1000, 1000)),
                draw(st.integers(0, 4)),
                draw(st.integers(1, 6)),
                draw(st.sampled_from((0, FULL_STOP, COMMA, COLON))),
                draw(st.integers(0, 3)),
                draw(st.booleans()),
                draw(st.booleans()),
                ink,
                when,
            )
        case _:
            axis = draw(st.sampled_from(Axis))
            plane = draw(st.integers(0, len(drawing.maps) - 1))
            return Reveal(
                box,
                draw(st.sampled_from(reach)),
                axis,
                draw(st.integers(0, 80)),
                draw(st.one_of(mask, st.just(NO_MASK))),
                ink,
                plane if axis is Axis.MAPPED else NO_MASK,
                draw(st.integers(0, 40)),
                draw(st.integers(1, 40)),
                when,
            )


@st.composite
def drawings(draw: st.DrawFn, most_screens: int = 3) -> Drawing:
    """Small drawings with every kind of operation."""
    colours = draw(st.integers(2, 9))
    part = st.integers(0, 255)
    palette = st.lists(st.tuples(part, part, part), min_size=colours, max_size=colours).map(tuple)
    theme_names = draw(st.lists(names, min_size=1, max_size=3, unique=True))
    themes = tuple(Theme(name, draw(palette), draw(st.integers(0, 100))) for name in theme_names)
    masks = tuple(draw(st.lists(coverages(), min_size=1, max_size=5)))
    glyph = glyphs(len(masks))
    sets = st.builds(
        FigureSet,
        st.integers(0, 30),
        st.integers(0, 12),
        st.integers(0, 40),
        st.lists(glyph, min_size=18, max_size=18).map(tuple),
    )
    bare = Drawing(
        draw(st.integers(1, 80)),
        draw(st.integers(1, 60)),
        draw(st.sampled_from((16, 24))),
        themes,
        masks,
        tuple(draw(st.lists(threshold_maps(), min_size=1, max_size=2))),
        tuple(draw(st.lists(sets, min_size=1, max_size=2))),
        tuple(draw(st.lists(st.integers(1, 60), max_size=6))),
        (),
        0,
    )
    screens = []
    for name in draw(st.lists(names, min_size=1, max_size=most_screens, unique=True)):
        reach = tuple(draw(st.permutations(range(len(bare.channels)))))
        reach = reach[: draw(st.integers(0, len(reach)))]
        listed = tuple(draw(st.lists(operations(bare, reach), max_size=6)))
        zones = tuple(Zone(box) for box in draw(st.lists(boxes(bare.width, bare.height), max_size=3)))
        screens.append(ScreenDrawing(name, listed, reach, zones))
    start = draw(st.integers(0, len(screens) - 1))
    return Drawing(
        bare.width,
        bare.height,
        bare.depth,
        bare.themes,
        bare.masks,
        bare.maps,
        bare.figure_sets,
        bare.channels,
        tuple(screens),
        start,
    )


@st.composite
def moments(draw: st.DrawFn, drawing: Drawing) -> Moment:
    """A moment of a drawing: any screen and theme, any raw value a channel may have."""
    raw = tuple(draw(st.integers(0, LIVE + steps - 1)) for steps in drawing.channels)
    return Moment(
        draw(st.integers(0, len(drawing.screens) - 1)),
        draw(st.integers(0, len(drawing.themes) - 1)),
        raw,
        draw(st.integers(0, 5000)),
    )
