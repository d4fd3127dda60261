"""The colours that the checks reason about are those that a display paints."""

import random
from pathlib import Path

import pytest
from good_design import FILES
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.arrange.compose import arrange
from hmic.check.colour import difference
from hmic.check.light import Light
from hmic.check.nearest import nearest
from hmic.check.painted import Painted, is_symbol, is_text
from hmic.check.rules import check
from hmic.model.load import load
from hmic.paint.operations import (
    DOUBT,
    LIVE,
    NO_CHANNEL,
    STALE,
    Figures,
    Fill,
    Frame,
    Ink,
    Moment,
    Reveal,
    Run,
    Stencil,
    Trace,
    When,
)
from hmic.paint.painter import Painter
from tests.tools.changed import replace
from tests.tools.widget_pictures import alone, one_screen

ROOT = Path(__file__).parents[2]
colours = st.tuples(*[st.integers(0, 255)] * 3)


@pytest.fixture(scope="module", params=["heron", "dunlin"])
def arranged(request, tmp_path_factory):
    folder = ROOT / "layouts" / "dunlin"
    if request.param == "heron":
        folder = tmp_path_factory.mktemp("heron")
        for name, text in FILES.items():
            (folder / name).write_text(text, encoding="utf-8")
    design, _ = load(folder)
    result, _ = arrange(design)
    return result


def test_every_painted_change_of_colour_is_a_known_pair(arranged):
    """For random states: painting an operation changes pixels only from a colour that its pairs know
    to lie beneath, to the ink that goes with it. Exact colours, found by real painting."""
    chance = random.Random(4)
    seen = 0
    for number, screen in enumerate(arranged.drawing.screens):
        painted = Painted(arranged, number)
        for _ in range(1):
            # Touches rest: what is pressed lies under the finger and is no pair.
            raw = tuple(
                LIVE + (chance.randrange(count) if painted.tells(channel) else 0)
                for channel, count in enumerate(arranged.drawing.channels)
            )
            chosen = chance.sample(range(len(screen.operations)), min(4, len(screen.operations)))
            for index in chosen:
                operation = screen.operations[index]
                # Random values make a thicket of two traces, which in truth cross in points.
                if isinstance(operation, Trace):
                    continue
                if not (is_text(operation) or is_symbol(operation) or isinstance(operation, Fill | Reveal)):
                    continue
                seen += _changes(arranged, number, index, painted, raw)
    assert seen > 5


def _changes(arranged, number, index, painted, raw):
    """How many pixels of pure ink were found on a plain colour, each a known pair."""
    drawing, screen = arranged.drawing, arranged.drawing.screens[number]
    frames = []
    for last in (index, index + 1):
        shown = replace(screen, operations=screen.operations[:last])
        screens = (*drawing.screens[:number], shown, *drawing.screens[number + 1 :])
        frames.append(Painter(replace(drawing, screens=screens)).paint(Moment(number, 0, raw)))
    box = screen.operations[index].box
    corners = (box.left, box.top, box.left + box.width, box.top + box.height)
    entries = drawing.themes[0].colours
    known = {(entries[pair.ink], entries[pair.under]) for pair in painted.pairs(index) if not pair.doubt}
    inks = {ink for ink, _ in known}
    before, after = (_pixels(frame.crop(corners)) for frame in frames)
    hits = [(b, a) for a, b in zip(before, after, strict=True) if a != b and b in inks and a in set(entries)]
    if len(hits) < 0.05 * len(before):
        return 0
    counted = {}
    for pair in hits:
        counted[pair] = counted.get(pair, 0) + 1
    common = [pair for pair, count in counted.items() if count > 0.25 * len(hits)]
    for ink, under in common:
        assert (ink, under) in known, (screen.name, index, ink, under)
    return len(common)


def _pixels(picture):
    data = picture.tobytes()
    return [tuple(data[at : at + 3]) for at in range(0, len(data), 3)]


lights = st.builds(
    Light,
    st.just("day"),
    st.just("sun"),
    st.floats(0.01, 2),
    st.floats(20, 1000),
    st.floats(0, 500),
)


@settings(max_examples=60)
@given(colours, colours, lights, st.floats(1.5, 6))
def test_the_nearest_colour_meets_the_limit_and_its_neighbours_are_no_nearer(colour, under, light, ratio):
    def meets(tried):
        return light.ratio(tried, under) >= ratio

    found = nearest(colour, meets)
    if found is None:
        assert not meets((0, 0, 0)) and not meets((255, 255, 255))
        return
    assert meets(found)
    if meets(colour):
        assert found == colour
    for place in range(3):
        for way in (-1, 1):
            near = tuple(min(255, max(0, part + way * (at == place))) for at, part in enumerate(found))
            assert not meets(near) or difference(colour, near) >= difference(colour, found) - 1e-9


@given(colours, colours, lights, st.floats(0, 500))
def test_a_veil_never_helps(one, other, light, more):
    veiled = replace(light, veil=light.veil + more)
    assert 1 <= veiled.ratio(one, other) <= light.ratio(one, other) + 1e-9


RED, GREEN, BLACK = (255, 0, 0), (0, 255, 0), (0, 0, 0)


def test_a_text_on_the_hatch_of_another_value_is_a_known_pair(arranged):
    """Each text stands on a place tinted by a channel that is in doubt: where a display then paints its live
    ink (red) beside the doubt ink (green), the pair is known, and else it is not."""
    met = set()
    # Of a text that comes over the line step 0 is the end, and step 1 a space.
    live = [LIVE + min(20, steps - 1) for steps in arranged.drawing.channels]
    for number, screen in enumerate(arranged.drawing.screens):
        beds = (item for item in screen.operations if isinstance(item, Fill | Frame | Stencil))
        inks = dict.fromkeys(item.ink for item in beds)
        places = [ink for ink in inks if ink.tint != NO_CHANNEL and Painted(arranged, number).tells(ink.tint)]
        texts = [item for item in screen.operations if is_text(item) and item.when is None]
        for text in texts[::4]:
            if text.ink.tint != NO_CHANNEL:
                continue
            for place in places[:2]:
                one = with_screen(arranged, number, replace(screen, operations=(Fill(text.box, place), text)))
                known = any(pair.hatched and not pair.doubt for pair in Painted(one, number).pairs(1))
                raw = tuple(STALE if at == place.tint else value for at, value in enumerate(live))
                entries = len(one.drawing.themes[0].colours)
                colours = tuple({text.ink.first: RED, DOUBT: GREEN}.get(at, BLACK) for at in range(entries))
                theme = replace(one.drawing.themes[0], colours=colours)
                drawing = replace(one.drawing, themes=(theme,), depth=24)
                box = text.box
                shown = Painter(drawing).paint(Moment(number, 0, raw))
                shown = shown.crop((box.left, box.top, box.left + box.width, box.top + box.height))
                seen = {colour for _, colour in shown.getcolors(box.width * box.height)}
                assert known is ({RED, GREEN} <= seen), (screen.name, text, place)
                met.add((type(text), known))
    assert {(Run, True), (Figures, True)} <= met


def with_screen(arranged, number, screen):
    """The same with other operations, of which none is a widget's."""
    screens = arranged.drawing.screens
    drawing = replace(arranged.drawing, screens=(*screens[:number], screen, *screens[number + 1 :]))
    facts = replace(arranged.screens[number], pieces=())
    return replace(
        arranged,
        drawing=drawing,
        screens=(*arranged.screens[:number], facts, *arranged.screens[number + 1 :]),
    )


ARC = 'dial motor.power from -60 kW to 100 kW, with arc, as "0 kW"'
BAR = 'bar motor.power from -60 kW to 100 kW, as "0 kW"'


@pytest.mark.parametrize(
    ("sentence", "found"),
    [
        (ARC, set()),
        (ARC.replace("with arc", "with growing arc"), set()),
        (ARC + ", colour surface", {"C422"}),
        (BAR + ", figures inside, marks every 20 kW", set()),
        (BAR + ", figures inside, marks every 20 kW, colour surface", {"C422"}),
        (BAR + ", colour surface, with round ends", {"C422"}),
    ],
)
def test_a_filling_is_told_from_what_it_leaves(sentence, found):
    """An arc that is covered again up to zero, and figures on a filling and beside it, are no finding; a
    filling in the colour of its bed is one."""
    compiled = alone(one_screen(sentence), (90, 90))
    codes = {each.code for each in check(compiled.design, compiled.arranged)}
    assert codes & {"C420", "C421", "C422"} == found


def test_figures_inside_a_bar_are_measured_on_what_they_lie_on():
    """Dark ones on the filling in each of its colours, light ones on the track."""
    sentence = BAR + ", figures inside, marks every 20 kW, danger above 60 kW"
    compiled = alone(one_screen(sentence), (90, 30))
    painted, theme = Painted(compiled.arranged, 0), compiled.design.themes[0]
    roles = {colour: name for name, colour in reversed(theme.roles.items())}
    entries = compiled.arranged.drawing.themes[0].colours
    reveals = [at for at, each in enumerate(painted.operations) if isinstance(each, Reveal)]
    _, dark, *light = [
        {
            (roles[entries[pair.ink]], roles[entries[pair.under]])
            for pair in painted.pairs(at)
            if not pair.doubt and not pair.hatched
        }
        for at in reveals
    ]
    assert dark == {("ground", "accent"), ("ground", "danger")}
    assert light == [{("ink", "surface")}] * 2


def test_an_arc_shows_nothing_of_its_colour_in_doubt():
    """Neither above zero nor below, where it is painted whole and covered again."""
    compiled = alone(one_screen(ARC + ", without marks"), (90, 90))
    drawing, accent = compiled.arranged.drawing, compiled.design.themes[0].roles["accent"]
    for doubt in range(LIVE):
        image = Painter(drawing).paint(Moment(0, 0, (doubt,) * len(drawing.channels)))
        assert accent not in {colour for _, colour in image.getcolors(1 << 20)}


def test_a_text_in_doubt_is_seen_on_all_that_can_lie_beneath(arranged):
    """A place that comes and goes hides what is below it only sometimes; one that stays does always."""
    screen = arranged.drawing.screens[0]
    text = next(item for item in screen.operations if isinstance(item, Run))
    own, other = [at for at in screen.channels if Painted(arranged, 0).tells(at)][:2]
    below, goes = Fill(text.box, Ink(3)), Fill(text.box, Ink(4), When(other, LIVE, LIVE))
    inked = replace(text, ink=Ink(5, own), when=None)
    stays = replace(goes, when=None)
    for beneath, unders in (((below, goes), {3, 4}), ((below,), {3}), ((below, stays), {4})):
        one = with_screen(arranged, 0, replace(screen, operations=(*beneath, inked)))
        found = Painted(one, 0).pairs(len(beneath))
        assert {pair.under for pair in found if pair.doubt} == unders
        assert {pair.under for pair in found if not pair.doubt} == unders
