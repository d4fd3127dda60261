"""Which theme is shown when, and what a change costs on the wire."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from runtime_builders import Far, bound, scaled, signal

from hmic.model.builtin import CLOCK
from hmic.model.design import ByClock, BySignal, ThemeChoice
from hmic.model.expressions import Doubt, Value
from hmic.runtime.binding import BoundDesign, BoundScreen
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.runtime import Runtime
from hmic.runtime.theming import Theming
from tests.tools.changed import replace

DAY, DUSK, NIGHT = 0, 1, 2
BY_LIGHT = BySignal("light", ((0.0, NIGHT), (50.0, DUSK), (400.0, DAY)), 0.2, 2000, 60_000)


class Followed:
    """A chooser with a light that the test sets."""

    def __init__(self, choice: ThemeChoice | None, by_hand: int | None = None) -> None:
        self.theming = Theming(choice, by_hand)
        self.now = 100.0

    def at(self, value: Value, seconds: float = 0.0) -> int:
        """The theme ``seconds`` after the value came."""
        self.theming.follow(lambda name: value, self.now)
        self.now += seconds
        self.theming.follow(lambda name: value, self.now)
        return self.theming.theme


def test_the_first_reading_counts_at_once() -> None:
    assert Followed(BY_LIGHT).at(3.0) == NIGHT
    assert Followed(BY_LIGHT).at(60.0) == DUSK
    assert Followed(BY_LIGHT).at(Doubt.UNSEEN, 1000.0) == DAY


def test_a_level_is_left_only_below_its_hysteresis_and_after_the_wait() -> None:
    followed = Followed(BY_LIGHT)
    assert followed.at(500.0) == DAY
    assert followed.at(330.0, 60.0) == DAY  # 400 lx less 20 % is 320 lx
    assert followed.at(319.0, 1.9) == DAY
    assert followed.at(500.0) == DAY
    assert followed.at(319.0, 2.0) == DUSK
    assert followed.at(399.0, 60.0) == DUSK
    assert followed.at(400.0, 2.0) == DAY
    assert followed.at(10.0, 2.0) == NIGHT
    assert followed.at(-5.0, 60.0) == NIGHT


def test_doubt_keeps_the_theme_then_shows_the_first() -> None:
    followed = Followed(BY_LIGHT)
    assert followed.at(3.0) == NIGHT
    assert followed.at(Doubt.STALE, 59.9) == NIGHT
    assert followed.theming.next_deadline() == pytest.approx(160.0)
    assert followed.at(Doubt.STALE, 0.2) == DAY
    assert followed.theming.next_deadline() is None
    assert followed.at(3.0) == NIGHT


def test_the_clock() -> None:
    followed = Followed(ByClock(((7 * 60, DAY), (19 * 60 + 30, NIGHT))))
    assert followed.at(Doubt.UNSEEN) == DAY
    for minutes, theme in ((0, NIGHT), (419, NIGHT), (420, DAY), (1169, DAY), (1170, NIGHT), (1439, NIGHT)):
        assert followed.at(float(minutes)) == theme


def test_by_hand_overrides_until_it_is_taken_back() -> None:
    followed = Followed(BY_LIGHT, by_hand=DUSK)
    assert followed.at(3.0, 10.0) == DUSK
    followed.theming.by_hand = None
    assert followed.theming.theme == NIGHT
    assert Followed(None).at(3.0) == DAY


@given(st.lists(st.tuples(st.floats(0, 1000) | st.sampled_from(list(Doubt)), st.floats(0, 100)), max_size=30))
def test_it_settles_and_a_deadline_is_never_missed(moves: list[tuple[float | Doubt, float]]) -> None:
    """Nothing changes between deadlines: looking at every one is enough."""
    lazy, eager = Theming(BY_LIGHT), Theming(BY_LIGHT)
    now = 0.0
    for value, lasting in moves:
        end = now + lasting
        lazy.follow(lambda name, value=value: value, now)  # type: ignore[misc]
        while (due := lazy.next_deadline()) is not None and due <= end:
            lazy.follow(lambda name, value=value: value, due)  # type: ignore[misc]
        for part in range(5):
            eager.follow(lambda name, value=value: value, now + lasting * part / 5)  # type: ignore[misc]
        now = end
        lazy.follow(lambda name, value=value: value, now)  # type: ignore[misc]
        eager.follow(lambda name, value=value: value, now)  # type: ignore[misc]
        if isinstance(value, float) and lasting > 10:
            assert eager.theme == lazy.theme


def themed(choose: ThemeChoice) -> BoundDesign:
    made = bound(
        [signal("light", high=1000.0)], [scaled("light")] * 40, [BoundScreen("first", tuple(range(40)))]
    )
    day = made.design.themes[0]
    themes = (day, replace(day, name="dusk", brightness=30), replace(day, name="night", brightness=5))
    return replace(made, design=replace(made.design, themes=themes, choose=choose))


class Joined:
    """A runtime and a display's session joined in memory, bytes counted."""

    def __init__(self, choose: ThemeChoice, theme: int | None = None) -> None:
        self.runtime = Runtime(themed(choose), 5, theme=theme)
        self.far = Far()
        self.now = 10.0
        self.sent = 0

    def to(self, until: float, light: float | None = None) -> None:
        while self.now < until:
            if light is not None:
                self.runtime.feed(Arrival(self.now - 10.0, (Reading("light", None, light),)), self.now)
            out = self.runtime.outgoing(self.now)
            self.sent += len(out)
            self.far.receive(out, self.now)
            self.runtime.receive(self.far.session.outgoing(self.now), self.now)
            self.now += 0.05
            self.runtime.tick(self.now)


def test_a_theme_change_costs_under_32_bytes_on_the_wire() -> None:
    joined = Joined(BY_LIGHT)
    joined.to(14.0, 500.0)
    assert joined.runtime.theme == DAY
    # Hold the values still; what a quiet second costs is signs of life alone.
    begun = joined.sent
    joined.to(15.0, 500.0)
    quiet = joined.sent - begun
    before, begun = joined.far.raw, joined.sent
    joined.runtime.choose_theme(NIGHT, joined.now)
    joined.to(16.0, 500.0)
    assert joined.runtime.theme == NIGHT and joined.far.raw == before
    assert 0 < joined.sent - begun - quiet < 32
    joined.runtime.choose_theme(None, joined.now)
    joined.to(16.2, 500.0)
    assert joined.runtime.theme == DAY


def test_the_display_follows_the_light_with_its_brightness() -> None:
    joined = Joined(BY_LIGHT)
    joined.to(12.0, 500.0)
    joined.to(13.9, 3.0)
    assert joined.runtime.theme == DAY
    joined.to(14.3, 3.0)
    assert joined.runtime.theme == NIGHT
    # The light is silent: kept for a minute, then the first theme.
    joined.to(73.0)
    assert joined.runtime.theme == NIGHT
    joined.to(76.0)
    assert joined.runtime.theme == DAY


def test_a_theme_by_hand_stays() -> None:
    joined = Joined(BY_LIGHT, theme=DUSK)
    joined.to(15.0, 3.0)
    assert joined.runtime.theme == DUSK


def test_by_the_clock() -> None:
    joined = Joined(ByClock(((420, DAY), (1200, NIGHT))))
    joined.runtime.set_clock(1300.0, joined.now)
    assert joined.runtime.theme == NIGHT
    joined.runtime.set_clock(500.0, joined.now)
    assert joined.runtime.theme == DAY
    assert joined.runtime.table.lookup(CLOCK) == 500.0
