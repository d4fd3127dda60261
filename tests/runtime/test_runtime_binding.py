from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from runtime_builders import Refused, asking, flagged, scaled, typed, value_of

from hmic.model.actions import (
    Acknowledge,
    GoTo,
    SetOutput,
    SetToRow,
    SlideOutput,
    StepOutput,
    ToggleOutput,
    TurnPage,
    ZoneAction,
)
from hmic.model.channels import LIVE, LOWER, Channel, Places, Scaled, raw_value
from hmic.model.expressions import Doubt, Value
from hmic.model.touch_progress import page_signal, touch_signal
from hmic.runtime.binding import BoundScreen, ScreenValues, Steadying
from hmic.runtime.refusals import RequestRefused
from hmic.runtime.requests import RequestMade
from hmic.runtime.rising import Sight
from hmic.runtime.touching import CONFIRM_WITHIN, ConfirmAsked, Fingers, Granted, Outcome
from tests.tools.changed import replace

PLAIN = Steadying()


class Known:
    """Values by name, for a lookup."""

    def __init__(self, **values: Value) -> None:
        self.values = {name.replace("_", "."): value for name, value in values.items()}

    def __call__(self, name: str) -> Value:
        return self.values.get(name, Doubt.UNSEEN)


def run(values: ScreenValues, readings: list[tuple[float, Value]]) -> list[int]:
    known = Known()
    out = []
    for now, value in readings:
        known.values["a"] = value
        values.touch(["a"])
        values.refresh(known, now)
        out.append(values.raw[0])
    return out


def test_noise_within_a_step_does_not_flicker() -> None:
    noise = [(at * 0.01, 20.5 + (0.45 if at % 2 else -0.45)) for at in range(500)]
    shown = run(ScreenValues([scaled("a")], PLAIN), noise)
    assert len(set(shown)) == 1
    assert len(set(run(ScreenValues([scaled("a")], None), noise))) == 2


@given(
    st.lists(
        st.tuples(
            st.floats(0.0, 0.4),
            st.one_of(
                st.floats(0, 300_000),
                st.integers(1, 29).map(lambda n: n * LOWER - 0.5),
                st.floats(-1.2, 1.2).map(lambda off: 2 * LOWER - 0.5 + off),
                st.sampled_from(list(Doubt)),
            ),
        ),
        max_size=30,
    )
)
def test_a_number_on_two_channels_is_steadied_as_on_one(readings: list[tuple[float, Value]]) -> None:
    """What both channels tell together is what one would that could tell as many steps."""
    value, whole = value_of("a"), Scaled(0.0, 1.0, 300_001)
    parts = [Channel(value, Places(whole, upper)) for upper in (True, False)]
    two, one = ScreenValues(parts, PLAIN), ScreenValues([Channel(value, whole)], PLAIN)
    known, now = Known(), 0.0
    for passes, reading in readings:
        now += passes
        known.values["a"] = reading
        for values in (two, one):
            values.touch(["a"])
            values.refresh(known, now)
        upper, lower = two.raw
        together = LIVE + (upper - LIVE) * LOWER + lower - LIVE if upper >= LIVE and lower >= LIVE else lower
        assert (upper < LIVE) == (lower < LIVE)
        assert [together] == one.raw
        assert two.settles_at() == one.settles_at()


def test_a_value_at_rest_is_rounded_exactly_once_it_has_settled() -> None:
    values = ScreenValues([scaled("a")], PLAIN)
    assert run(values, [(0.0, 20.0), (1.0, 20.7)]) == [LIVE + 20, LIVE + 20]
    assert values.settles_at() == 1.25
    known = Known(a=20.7)
    assert not values.refresh(known, 1.24)
    assert values.refresh(known, 1.25) and values.raw == [LIVE + 21]
    assert values.settles_at() is None


def test_a_whole_step_and_a_doubt_show_at_once() -> None:
    values = ScreenValues([scaled("a")], PLAIN)
    readings = [(0.0, 20.0), (0.0, 21.0), (0.0, 20.0), (0.0, Doubt.STALE), (0.0, 20.4), (0.0, 90.0)]
    assert run(values, readings) == [23, 24, 23, 1, 23, 93]


def test_the_most_urgent_are_not_steadied() -> None:
    assert run(ScreenValues([scaled("a", urgency=0)], PLAIN), [(0.0, 20.0), (0.0, 20.6)]) == [23, 24]


def test_only_what_reads_a_changed_signal_is_looked_at_again() -> None:
    asked: list[str] = []

    def lookup(name: str) -> Value:
        asked.append(name)
        return 5.0

    values = ScreenValues([scaled("a"), scaled("b"), scaled("a", count=3)], PLAIN)
    assert values.refresh(lookup, 0.0)
    asked.clear()
    values.touch(["b", "elsewhere"])
    assert not values.refresh(lookup, 1.0) and asked == ["b"]


@given(
    st.lists(
        st.tuples(st.floats(0.0, 0.4), st.floats(-20.0, 120.0) | st.sampled_from(list(Doubt))),
        min_size=1,
        max_size=60,
    )
)
def test_what_is_shown_is_never_a_step_off_and_right_in_the_end(moves: list[tuple[float, Value]]) -> None:
    channel = scaled("a")
    values = ScreenValues([channel], PLAIN)
    known = Known()
    now = 0.0
    for passed, value in moves:
        now += passed
        known.values["a"] = value
        values.touch(["a"])
        values.refresh(known, now)
        exact = raw_value(channel, known)
        if exact < LIVE:
            assert values.raw == [exact]
        elif isinstance(value, float) and 0 <= value <= 100:
            assert values.raw[0] >= LIVE and abs(values.raw[0] - LIVE - value) < 1.0
    values.refresh(known, now + PLAIN.settle)
    assert values.raw == [raw_value(channel, known)]


# Screens that come up by themselves.


def sight(*, yields: bool) -> Sight:
    # Unless it says so a screen needs no acknowledging.
    stop = BoundScreen("stop", (), rises=(value_of("fault", "flag"),))
    if yields:
        stop = replace(stop, yields_when_acknowledged=True)
    return Sight([BoundScreen("first", ()), stop, BoundScreen("other", ())], 0)


def test_a_risen_screen_stays_until_acknowledged() -> None:
    seen, known = sight(yields=True), Known(fault=Doubt.UNSEEN)
    seen.weigh(known)
    assert seen.screen == 0
    known.values["fault"] = True
    seen.weigh(known)
    assert seen.screen == 1
    assert not seen.go_to(2, known)
    for value in (Doubt.STALE, False):
        known.values["fault"] = value
        seen.weigh(known)
        assert seen.screen == 1
    assert seen.acknowledge(known) and seen.screen == 0
    known.values["fault"] = True
    seen.weigh(known)
    assert seen.screen == 1
    assert seen.acknowledge(known)
    seen.weigh(known)
    assert seen.screen == 0 and seen.go_to(2, known) and seen.screen == 2
    assert not seen.acknowledge(known)


def test_a_risen_screen_that_needs_no_acknowledging_goes_with_its_condition() -> None:
    seen, known = sight(yields=False), Known(fault=True)
    seen.weigh(known)
    assert seen.screen == 1
    known.values["fault"] = False
    seen.weigh(known)
    assert seen.screen == 0
    known.values["fault"] = True
    seen.weigh(known)
    assert seen.go_to(2, known) and seen.screen == 2


def two_causes() -> Sight:
    causes = (value_of("hot", "flag"), value_of("leak", "flag"))
    stop = BoundScreen("stop", (), rises=causes, yields_when_acknowledged=True)
    return Sight([BoundScreen("first", ()), stop], 0)


def test_a_cause_comes_again_though_the_other_is_silent_all_the_while() -> None:
    seen, known = two_causes(), Known(hot=Doubt.UNSEEN, leak=True)
    seen.weigh(known)
    assert seen.screen == 1 and seen.acknowledge(known) and seen.screen == 0
    for value, screen in ((Doubt.STALE, 0), (True, 0), (False, 0), (True, 1)):
        known.values["leak"] = value
        seen.weigh(known)
        assert seen.screen == screen, "a signal that was late is no second leak, one that ended is"


def test_a_second_cause_is_not_hidden_behind_the_first() -> None:
    seen, known = two_causes(), Known(hot=False, leak=True)
    seen.weigh(known)
    assert seen.acknowledge(known) and seen.screen == 0
    known.values["hot"] = True
    seen.weigh(known)
    assert seen.screen == 1
    assert seen.acknowledge(known) and seen.screen == 0
    known.values["leak"] = False
    seen.weigh(known)
    assert seen.screen == 0


# Touches.

ALLOWED = typed(["speed"], lambda lookup: lookup("speed"), "flag")
ZONES = (
    ZoneAction(GoTo("other")),
    ZoneAction(SetOutput("limit", 80.0), allowed=ALLOWED),
    ZoneAction(ToggleOutput("lock")),
    ZoneAction(StepOutput("speed.limit", 10.0, 30.0, 120.0)),
    ZoneAction(SetOutput("clear", True), held_ms=2000, confirm="Clear it?"),
    ZoneAction(Acknowledge()),
)


class Touching:
    def __init__(self, outputs_allowed: bool = True) -> None:
        self.states: dict[str, str] = {}
        self.fingers = Fingers(
            "first",
            ZONES,
            0.17,
            asking(["limit", "speed.limit"], ["lock", "clear"], outputs_allowed),
            self.states.__setitem__,
        )

    def state(self, zone: int) -> str:
        return self.states[touch_signal("first", zone)]

    def tap(self, zone: int, known: Known, now: float = 0.0, held: float = 0.1) -> Outcome | str | None:
        self.fingers.press(zone, 10, 10, now)
        return self.fingers.release(zone, 12, 11, known, now + held)


def test_a_touch_acts_when_lifted_inside_its_zone() -> None:
    touching = Touching()
    assert touching.tap(0, Known()) == Granted(GoTo("other"))
    assert touching.tap(5, Known()) == Granted(Acknowledge())
    touching.fingers.press(0, 10, 10, 0.0)
    assert touching.state(0) == "pressed"
    assert touching.fingers.release(1, 20, 10, Known(), 0.1) is None
    assert touching.state(0) == "idle"
    assert touching.fingers.release(0, 10, 10, Known(), 0.2) is None
    touching.fingers.press(0, 10, 10, 0.0)
    touching.fingers.cancel()
    assert touching.fingers.release(0, 10, 10, Known(), 0.2) is None


def test_a_condition_that_is_false_or_in_doubt_refuses() -> None:
    touching = Touching()
    assert touching.tap(1, Known(speed=True)) == RequestMade("limit", 80.0)
    refused = touching.tap(1, Known(speed=False))
    assert refused == Refused("limit", "not allowed now") and touching.state(1) == "refused"
    for doubt in Doubt:
        outcome = touching.tap(1, Known(speed=doubt))
        assert isinstance(outcome, RequestRefused) and "not known" in outcome.reason


def test_what_is_asked_follows_from_what_is_read() -> None:
    touching = Touching()
    assert touching.tap(2, Known(lock=True)) == RequestMade("lock", False)
    assert isinstance(touching.tap(2, Known(lock=Doubt.STALE)), RequestRefused)
    assert touching.tap(3, Known(speed_limit=50.0)) == RequestMade("speed.limit", 60.0)
    assert touching.tap(3, Known(speed_limit=118.0)) == RequestMade("speed.limit", 120.0)
    assert isinstance(touching.tap(3, Known(speed_limit=Doubt.UNSEEN)), RequestRefused)


def test_nothing_is_asked_of_a_vehicle_that_may_not_be_asked() -> None:
    touching = Touching(outputs_allowed=False)
    for zone in (1, 2, 3, 4):
        outcome = touching.tap(zone, Known(speed=True, lock=True, speed_limit=50.0), held=3.0)
        assert isinstance(outcome, RequestRefused) and "sends nothing" in outcome.reason
    assert touching.tap(0, Known()) == Granted(GoTo("other"))


def test_hold_and_question() -> None:
    touching = Touching()
    short = touching.tap(4, Known(), held=1.99)
    assert isinstance(short, RequestRefused) and "held for 2 s" in short.reason
    assert touching.tap(4, Known(), 10.0, 2.0) == ConfirmAsked("clear", "Clear it?")
    assert touching.state(4) == "asked"
    assert touching.tap(4, Known(), 13.0, 2.0) == RequestMade("clear", True)


def test_a_question_lapses_with_time_and_with_another_touch() -> None:
    touching = Touching()
    touching.tap(4, Known(), 10.0, 2.0)
    assert touching.fingers.next_deadline() == 12.0 + CONFIRM_WITHIN
    touching.fingers.tick(12.0 + CONFIRM_WITHIN)
    assert touching.state(4) == "idle"
    assert isinstance(touching.tap(4, Known(), 20.0, 2.0), ConfirmAsked)
    touching.tap(0, Known(), 22.5)
    assert touching.state(4) == "idle"
    assert isinstance(touching.tap(4, Known(), 23.0, 2.0), ConfirmAsked)


def test_a_request_is_shown_until_the_vehicle_follows_or_does_not() -> None:
    touching, known = Touching(), Known(lock=False)
    touching.tap(2, known, 0.0)
    assert touching.state(2) == "sent"
    touching.fingers.tick(60.0)
    assert touching.state(2) == "sent" and touching.fingers.next_deadline() is None
    touching.fingers.answer("lock", True, 60.0)
    assert touching.state(2) == "idle"
    touching.tap(2, known, 62.0, 0.0)
    touching.fingers.answer("lock", False, 63.0)
    assert touching.state(2) == "failed"
    touching.fingers.tick(69.0)
    assert touching.state(2) == "idle" and touching.fingers.next_deadline() is None


def test_a_double_tap_does_not_answer_a_question_that_nobody_can_have_read() -> None:
    touching = Touching()
    assert isinstance(touching.tap(4, Known(), 10.0, 2.0), ConfirmAsked)
    assert isinstance(touching.tap(4, Known(), 12.1, 2.0), ConfirmAsked)
    assert isinstance(touching.tap(4, Known(), 12.4, 2.0), ConfirmAsked)
    assert touching.tap(4, Known(), 12.6, 2.0) == RequestMade("clear", True)


def test_a_list_that_has_just_turned_takes_no_row() -> None:
    pages = page_signal("first", 0)
    zones = (ZoneAction(TurnPage(pages, 1, 5)), ZoneAction(SetToRow("pick", pages, 5, 0)))
    fingers = Fingers("first", zones, 0.17, asking(["pick"]), lambda name, state: None)
    known = Known(**{pages: 1.0})
    for zone, at, expected in (
        (0, 1.0, Granted(TurnPage(pages, 1, 5))),
        (1, 1.2, Refused("pick", "the list had just turned")),
        (1, 1.8, RequestMade("pick", 6.0)),
    ):
        fingers.press(zone, 10, 10, at)
        assert fingers.release(zone, 10, 10, known, at + 0.1) == expected


@pytest.mark.parametrize(
    ("reads", "by", "asked"),
    [
        (50.0, 10.0, 60.0),
        (118.0, 10.0, 120.0),
        (10.0, 10.0, 30.0),
        (200.0, -10.0, 120.0),
        (120.0, 10.0, None),
        (10.0, -10.0, None),
        (150.0, 10.0, None),
        (30.0, -10.0, None),
    ],
)
def test_a_step_never_leads_the_other_way(reads: float, by: float, asked: float | None) -> None:
    step = ZoneAction(StepOutput("limit", by, 30.0, 120.0))
    fingers = Fingers("first", (step,), 0.17, asking(["limit"]), lambda name, state: None)
    fingers.press(0, 10, 10, 0.0)
    outcome = fingers.release(0, 10, 10, Known(limit=reads), 0.1)
    assert outcome == (
        Refused("limit", "it is at its end already") if asked is None else RequestMade("limit", asked)
    )


def test_swipes_are_told_from_touches() -> None:
    touching = Touching()
    for (x, y), expected in {
        (300, 20): "right",
        (-300, 0): "left",
        (10, 200): "down",
        (0, -200): "up",
    }.items():
        touching.fingers.press(None, 500, 300, 0.0)
        assert touching.fingers.release(0, 500 + x, 300 + y, Known(), 0.2) == expected
    touching.fingers.press(0, 500, 300, 0.0)
    assert touching.fingers.release(None, 700, 480, Known(), 0.2) is None


def test_flags_bind_to_their_step() -> None:
    values = ScreenValues([flagged("fault", urgency=0)], PLAIN)
    values.refresh(Known(fault=True), 0.0)
    assert values.raw == [LIVE + 1]
    values.touch(["fault"])
    assert values.refresh_urgent(Known(fault=False), 0.0) and values.raw == [LIVE]


def test_a_slider_asks_for_the_value_under_the_finger() -> None:
    states: dict[str, str] = {}
    across = SlideOutput("regen", 0.0, 100.0, 5.0, start=100, length=400, upright=False)
    upright = SlideOutput("dimmer", 10.0, 20.0, 1.0, start=100, length=200, upright=True)
    zones = (ZoneAction(across), ZoneAction(upright))
    fingers = Fingers("first", zones, 0.17, asking(["regen", "dimmer"]), states.__setitem__)
    for x, value in {100: 0.0, 90: 0.0, 300: 50.0, 309: 50.0, 311: 55.0, 500: 100.0, 900: 100.0}.items():
        fingers.press(0, 120, 50, 0.0)
        assert fingers.release(0, x, 50, Known(), 0.5) == RequestMade("regen", value)
    for y, value in {300: 10.0, 100: 20.0, 200: 15.0}.items():
        fingers.press(1, 700, 290, 0.0)
        assert fingers.release(1, 700, y, Known(), 0.5) == RequestMade("dimmer", value)


def test_a_row_of_a_list_is_counted_over_its_pages() -> None:
    states: dict[str, str] = {}
    row = SetToRow("media.title", "page.music.0", rows=5, row=2)
    turn = TurnPage("page.music.0", 1, 7)
    zones = (ZoneAction(row), ZoneAction(turn))
    fingers = Fingers("music", zones, 0.17, asking(["media.title"]), states.__setitem__)
    known = Known()
    fingers.press(0, 5, 5, 0.0)
    assert isinstance(fingers.release(0, 5, 5, known, 0.1), RequestRefused)
    known.values["page.music.0"] = 3.0
    fingers.press(0, 5, 5, 0.0)
    assert fingers.release(0, 5, 5, known, 0.1) == RequestMade("media.title", 18.0)
    fingers.press(1, 5, 5, 0.0)
    assert fingers.release(1, 5, 5, known, 0.1) == Granted(turn)
