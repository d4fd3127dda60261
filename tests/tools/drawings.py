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
    Zone,
)
from tests.tools.changed import replace

names = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=12)


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


STRAIGHT = (Axis.RIGHTWARD, Axis.LEFTWARD, Axis.UPWARD, Axis.DOWNWARD)

Point = tuple[int, int]


def hull(points: list[Point]) -> list[Point]:
    """The convex hull, clockwise as seen (Andrew's monotone chain)."""
    order = sorted(set(points))
    chains: list[list[Point]] = []
    for way in (order, order[::-1]):
        chain: list[Point] = []
        for x, y in way:
            while len(chain) > 1:
                (ax, ay), (bx, by) = chain[-2:]
                if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                    break
                chain.pop()
            chain.append((x, y))
        chains.append(chain[:-1])
    return chains[0] + chains[1]


@st.composite
def polygons(draw: st.DrawFn, corners: int, most: int) -> tuple[Point, ...]:
    """A convex polygon, its last corner repeated where it has too few."""
    part = st.integers(0, most)
    scattered = draw(st.lists(st.tuples(part, part), min_size=1, max_size=corners))
    points = hull(scattered)
    if len(points) < 3:
        x, y = scattered[0]
        points = [(x, y), (x + 1 + draw(part), y), (x, y + 1 + draw(part))]
    return tuple(points + points[-1:] * (corners - len(points)))


@st.composite
def outlines(draw: st.DrawFn, most: int = 700) -> Outline:
    """Outlines of a few polygons, none at all too."""
    corners = draw(st.integers(3, 6))
    return Outline(corners, tuple(draw(st.lists(polygons(corners, most), max_size=6))))


@st.composite
def pictures(draw: st.DrawFn, most: int = 12) -> Image565:
    """Pictures of few colours, with coverage or without, empty ones too."""
    width, height = draw(st.integers(0, most)), draw(st.integers(0, most + 10))
    size = width * height
    words = draw(st.lists(st.binary(min_size=2, max_size=2), min_size=1, max_size=3))
    run = b"".join(word * draw(st.integers(1, 9)) for word in words)
    soft = bytes(draw(st.lists(st.integers(0, 15), min_size=1, max_size=9)))
    coverage = (soft * (size // len(soft) + 1))[:size] if draw(st.booleans()) else b""
    return Image565(width, height, (run * (2 * size // len(run) + 1))[: 2 * size], coverage)


@st.composite
def letter_sets(draw: st.DrawFn, masks: int) -> LetterSet:
    """Sets of a few letters, none at all too."""
    letter = st.builds(Letter, glyphs(masks), st.integers(0, 20))
    letters = tuple(draw(st.lists(letter, max_size=8)))
    return LetterSet(draw(st.integers(0, 40)), letters, draw(st.tuples(letter, letter, letter)))


def series(steps: tuple[int, ...], reach: tuple[int, ...], most: int) -> list[tuple[int, int]]:
    """First channel and length of every row of channels in reach with at most so many steps."""
    fit = {channel for channel in reach if steps[channel] <= most}
    found = []
    for first in fit:
        length = 1
        while first + length - 1 in fit:
            found.append((first, length))
            length += 1
    return sorted(found)


@st.composite
def moving(draw: st.DrawFn, drawing: Drawing, reach: tuple[int, ...]) -> Operation | None:
    """An operation of those that move or come over the line, None where none fits."""
    box = draw(boxes(drawing.width, drawing.height))
    ink = draw(inks(len(drawing.themes[0].colours), drawing.channels, reach))
    when = draw(conditions(reach))
    channel, steps = draw(st.sampled_from(reach)), drawing.channels
    match draw(st.sampled_from(("slide", "pointer", "trace", "flow", "letters"))):
        case "slide":
            mask = draw(st.integers(0, len(drawing.masks) - 1))
            return Slide(box, channel, draw(st.sampled_from(STRAIGHT)), mask, ink, when)
        case "pointer":
            number = draw(st.integers(0, len(drawing.outlines) - 1))
            fit = [c for c in reach if steps[c] <= len(drawing.outlines[number].polygons)]
            return Pointer(box, draw(st.sampled_from(fit)), number, ink, when) if fit else None
        case "trace":
            levels = draw(st.integers(1, 80))
            rows = [row for row in series(steps, reach, levels) if row[1] <= box.width]
            if not rows or not box.height:
                return None
            first, columns = draw(st.sampled_from(rows))
            heads = [c for c in reach if steps[c] <= columns]
            thickness = draw(st.integers(1, min(4, box.height)))
            if not heads:
                return None
            return Trace(box, first, columns, draw(st.sampled_from(heads)), levels, thickness, ink, when)
        case "flow":
            pitch = draw(st.integers(1, 40))
            pace = draw(st.integers(0, 3 * pitch // max(1, steps[channel] - 1)))
            numbers = (draw(st.integers(0, 90)), pitch, draw(st.integers(1, pitch)), pace)
            return Flow(box, draw(st.sampled_from(STRAIGHT)), channel, *numbers, ink, when)
        case _:
            number = draw(st.integers(0, len(drawing.letter_sets) - 1))
            rows = series(steps, reach, len(drawing.letter_sets[number].letters) + 1)
            return Letters(box, *draw(st.sampled_from(rows)), number, ink, when) if rows else None


@st.composite
def operations(draw: st.DrawFn, drawing: Drawing, reach: tuple[int, ...]) -> Operation:
    """Any operation for a drawing whose tables stand, with the channels of its screen."""
    box = draw(boxes(drawing.width, drawing.height))
    ink = draw(inks(len(drawing.themes[0].colours), drawing.channels, reach))
    when = draw(conditions(reach))
    mask = st.integers(0, len(drawing.masks) - 1)
    if reach and draw(st.booleans()):
        chosen = draw(moving(drawing, reach))
        if chosen is not None:
            return chosen
    kinds = ["fill", "stencil", "run", "frame", "picture"] + (["figures", "reveal"] if reach else [])
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
        case "picture":
            return Picture(box, draw(st.integers(0, len(drawing.pictures) - 1)), when)
        case "figures":
            number = draw(st.integers(0, len(drawing.figure_sets) - 1))
            return Figures(
                box,
                draw(st.sampled_from(reach)),
                number,
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
                number + 1 < len(drawing.figure_sets) and draw(st.booleans()),
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
        tuple(draw(st.lists(st.integers(1, 60) | st.integers(1, 8), max_size=9))),
        (),
        0,
        tuple(draw(st.lists(outlines(), min_size=1, max_size=2))),
        tuple(draw(st.lists(letter_sets(len(masks)), min_size=1, max_size=2))),
        tuple(draw(st.lists(pictures(), min_size=1, max_size=3))),
    )
    screens = []
    for name in draw(st.lists(names, min_size=1, max_size=most_screens, unique=True)):
        reach = tuple(draw(st.permutations(range(len(bare.channels)))))
        reach = reach[: draw(st.integers(0, len(reach)))]
        listed = tuple(draw(st.lists(operations(bare, reach), max_size=6)))
        zones = tuple(Zone(box) for box in draw(st.lists(boxes(bare.width, bare.height), max_size=3)))
        screens.append(ScreenDrawing(name, listed, reach, zones))
    start = draw(st.integers(0, len(screens) - 1))
    first = draw(st.integers(0, len(themes) - 1))
    baud = draw(st.sampled_from((0, 115200, 6553500)))
    return replace(bare, screens=tuple(screens), start=start, first_theme=first, baud=baud)


@st.composite
def moments(draw: st.DrawFn, drawing: Drawing) -> Moment:
    """A moment of a drawing: any screen and theme, any raw value a channel may have."""
    raw = tuple(draw(st.integers(0, LIVE + steps - 1)) for steps in drawing.channels)
    return Moment(
        draw(st.integers(0, len(drawing.screens) - 1)),
        draw(st.integers(0, len(drawing.themes) - 1)),
        raw,
        draw(st.integers(0, 5000) | st.integers(0, 1 << 34)),
    )
