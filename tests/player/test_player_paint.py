"""The player's pixels against the Python painter's."""

from __future__ import annotations

import random
from functools import cache

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from hmic.pack.reader import read
from hmic.pack.writer import write
from hmic.paint.operations import LIVE, Drawing, Figures, Moment, channels_of
from hmic.paint.painter import Painter
from tests.tools.changed import replace
from tests.tools.designs import example_pack
from tests.tools.drawings import drawings, moments
from tests.tools.player import PlayerPainter, as_rgb

EXAMPLES = ("dunlin", "roost", "plover")
STATES = 200
DRAWINGS, MOMENTS = 600, 8


@cache
def example(name: str) -> tuple[bytes, Drawing, PlayerPainter, Painter]:
    data = example_pack(name)
    drawing = read(data)
    return data, drawing, PlayerPainter(data), Painter(drawing)


SCREENS = [(name, screen) for name in EXAMPLES for screen in range(len(example(name)[1].screens))]


def random_raw(chance: random.Random, drawing: Drawing) -> tuple[int, ...]:
    """Mostly live values, one in sixteen in doubt or beyond its steps."""
    return tuple(
        chance.choice((0, 1, 2, LIVE + steps)) if chance.random() < 0.06 else LIVE + chance.randrange(steps)
        for steps in drawing.channels
    )


def expected(painter: Painter, moment: Moment) -> bytes:
    return painter.paint(moment).tobytes()


@pytest.mark.parametrize(("name", "screen"), SCREENS)
def test_every_screen_in_every_theme_and_doubt(name: str, screen: int) -> None:
    _, drawing, player, painter = example(name)
    for theme in range(len(drawing.themes)):
        for state in range(4):
            moment = Moment(screen, theme, (state,) * len(drawing.channels), 700 * state)
            assert as_rgb(player.frame(moment, 16), player.pixel) == expected(painter, moment), (theme, state)


@pytest.mark.parametrize(("name", "screen"), SCREENS)
def test_every_screen_in_random_states(name: str, screen: int) -> None:
    """Whole frames, and the same brought about by changed areas only."""
    _, drawing, player, painter = example(name)
    chance = random.Random(f"{name} {screen}")
    before, frame = None, b""
    for number in range(STATES):
        theme = number // 75 % len(drawing.themes)
        raw = random_raw(chance, drawing)
        if before is not None and number % 3:
            # A few channels only, as it is in use.
            kept = list(before.raw)
            for channel in chance.sample(range(len(raw)), min(len(raw), chance.randrange(1, 6))):
                kept[channel] = raw[channel]
            raw = tuple(kept)
        moment = Moment(screen, theme, raw, chance.randrange(1 << 32) if number % 7 == 0 else 40 * number)
        if before is None or before.theme != theme:
            frame = player.frame(moment)
        else:
            frame = player.mended(frame, before, moment)
        before = moment
        assert as_rgb(frame, player.pixel) == expected(painter, moment), number
        if number % 20 == 0:
            assert player.frame(moment, 16) == frame


# Drawing so many takes half a minute of a core, which a busy machine may not give for long.
@pytest.mark.timeout(1500)
@settings(
    max_examples=DRAWINGS,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.generate],
)
@given(st.data())
def test_random_drawings_in_bands_and_by_changed_areas(data: st.DataObject) -> None:
    drawing = data.draw(drawings(most_screens=1))
    painter, player = Painter(drawing), PlayerPainter(write(drawing))
    before = data.draw(moments(drawing))
    frame = player.frame(before)
    assert as_rgb(frame, player.pixel) == expected(painter, before)
    assert all(player.frame(before, lines) == frame for lines in (1, 7, 16))
    chance = random.Random(data.draw(st.integers(0, 1 << 32)))
    for _ in range(MOMENTS):
        raw = list(before.raw)
        for channel in range(len(raw)):
            if chance.random() < 0.5:
                raw[channel] = chance.randrange(0, 4 + drawing.channels[channel])
        after = replace(before, raw=tuple(raw), clock=before.clock + chance.choice((0, 33, 500, 7000)))
        frame = player.mended(frame, before, after)
        before = after
        assert as_rgb(frame, player.pixel) == expected(painter, before)


def test_a_changed_reading_is_a_small_part_of_a_frame() -> None:
    """One step of one channel, each of those that the first screen lists: how much is painted anew."""
    _, drawing, player, _ = example("dunlin")
    chance = random.Random(5)
    raw = list(random_raw(chance, drawing))
    shares = []
    for channel in drawing.screens[0].channels:
        one, two = Moment(0, 0, tuple(raw)), list(raw)
        two[channel] = LIVE if raw[channel] != LIVE else LIVE + drawing.channels[channel] // 2
        areas = player.changed(one, Moment(0, 0, tuple(two)))
        shares.append(sum((a.right - a.left) * (a.bottom - a.top) for a in areas))
    panel = drawing.width * drawing.height
    assert 0 < sum(shares) / len(shares) < panel / 20


def test_of_a_reading_only_the_figures_that_changed_are_painted_anew() -> None:
    """One step that changes the last figure alone, of each reading whose channel nothing else shows: not more
    than the larger of two masks of its figures, whatever the reading's box."""
    tried = 0
    for name, number in SCREENS:
        _, drawing, player, _ = example(name)
        shown = [channel for one in drawing.screens[number].operations for channel in channels_of(one)]
        for one in drawing.screens[number].operations:
            if not isinstance(one, Figures) or shown.count(one.channel) > 1 or one.scale != 1:
                continue
            step = next(
                at for at in range(drawing.channels[one.channel]) if (one.offset + at) % 10 in range(1, 9)
            )
            raw = [LIVE] * len(drawing.channels)
            raw[one.channel] = LIVE + step
            before = Moment(number, 0, tuple(raw))
            raw[one.channel] += 1
            areas = player.changed(before, Moment(number, 0, tuple(raw)))
            digits = [drawing.masks[glyph.mask] for glyph in drawing.figure_sets[one.figure_set].glyphs[:10]]
            most = 1.2 * max(mask.width for mask in digits) * max(mask.height for mask in digits)
            assert 0 < sum((a.right - a.left) * (a.bottom - a.top) for a in areas) <= most, (
                name,
                number,
                one,
            )
            tried += 1
    assert tried >= 5
