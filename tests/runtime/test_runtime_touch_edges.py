"""Touches and requests at the edges of their times and ways: at the last moment that counts, and past it.

The figures are those that ``touching.py`` and ``requests.py`` publish (common practice, no source); binary
fractions stand for them where a sum of times must be exact.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from runtime_builders import Refused, asking, bound, design, scaled, signal, value_of

from hmic.model.actions import (
    Acknowledge,
    Action,
    GoTo,
    SetOutput,
    SetToRow,
    SlideOutput,
    StepOutput,
    ToggleOutput,
    TurnPage,
    ZoneAction,
)
from hmic.model.channels import LIVE, Channel
from hmic.model.expressions import Doubt, Value
from hmic.model.terms import Memory
from hmic.model.touch_progress import HOLD_STEPS, TouchState, hold_signal, touch_signal
from hmic.runtime.binding import BoundScreen, ScreenValues, Steadying
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.refusals import Refusal, RequestRefused
from hmic.runtime.requests import RequestDone, RequestMade, Requests
from hmic.runtime.state import LEAP, Freshness, SignalTable
from hmic.runtime.touching import (
    CONFIRM_WITHIN,
    LATE,
    READ_WITHIN,
    SHOW_REFUSED,
    SWIPE_MM,
    ConfirmAsked,
    Fingers,
    Granted,
    Outcome,
)

HAIR = 1 / 1024
CLEAR = SetOutput("clear", True)
PAGES = "page.first.0"


def test_the_figures_are_those_that_are_published() -> None:
    """hmic/runtime/touching.py and requests.py: common practice, no source."""
    from hmic.runtime.requests import FOLLOW_WITHIN

    assert (LATE, CONFIRM_WITHIN, READ_WITHIN, SHOW_REFUSED, SWIPE_MM) == (1, 5, 0.5, 1, 15)
    assert (FOLLOW_WITHIN, LEAP) == (3, 600)


class Touching:
    """Zones of one screen of 0.125 mm pixels: a swipe is 120 of them."""

    def __init__(self, *zones: ZoneAction | Action, **known: Value) -> None:
        self.known = {name.replace("_", "."): value for name, value in known.items()}
        self.states: dict[str, str | float] = {}
        listed = tuple(zone if isinstance(zone, ZoneAction) else ZoneAction(zone) for zone in zones)
        self.requests = asking(["limit", "pick"], ["clear"])
        self.fingers = Fingers("first", listed, 0.125, self.requests, self.states.__setitem__)

    def lookup(self, name: str) -> Value:
        return self.known.get(name, Doubt.UNSEEN)

    def state(self, zone: int = 0) -> str | float:
        return self.states[touch_signal("first", zone)]

    def tap(
        self,
        zone: int | None = 0,
        at: float = 8.0,
        held: float = 0.125,
        way: tuple[int, int] = (0, 0),
        late: float = 0.0,
        seen: float | None = None,
    ) -> Outcome | str | None:
        """Pressed at ``at`` (or since ``seen``) and lifted ``held`` later, which is told ``late``."""
        self.fingers.press(zone, 500, 500, at, seen)
        lifted = at + held
        x, y = 500 + way[0], 500 + way[1]
        return self.fingers.release(zone, x, y, self.lookup, lifted + late, earliest=lifted)


# Swipes ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("way", "swipe"),
    [
        ((120, 0), "right"),
        ((-120, 0), "left"),
        ((0, 120), "down"),
        ((0, -120), "up"),
        ((119, 0), None),
        ((-119, 0), None),
        ((0, 119), None),
        ((0, -119), None),
        # Mostly along one axis: twice as far, or more.
        ((120, 60), "right"),
        ((-120, 60), "left"),
        ((120, -61), None),
        ((60, 120), "down"),
        ((-60, -120), "up"),
        ((61, 120), None),
        ((400, 400), None),
    ],
)
def test_a_swipe_is_fifteen_millimetres_along_one_axis(way: tuple[int, int], swipe: str | None) -> None:
    """What is no swipe is a touch of the zone that it began and ended on."""
    assert Touching(CLEAR).tap(way=way) == (swipe or RequestMade("clear", True))
    assert Touching(CLEAR).tap(zone=None, way=way) == swipe


def test_a_swipe_that_is_told_late_is_none() -> None:
    assert Touching(CLEAR).tap(way=(200, 0), late=LATE) == "right"
    touching = Touching(CLEAR)
    assert touching.tap(way=(200, 0), late=LATE + HAIR) is None
    assert touching.state() == TouchState.IDLE


def test_a_slider_is_slid_and_not_swiped_away() -> None:
    slide = SlideOutput("limit", 0.0, 100.0, 5.0, 500, 200, False)
    assert Touching(slide).tap(way=(200, 0)) == RequestMade("limit", 100.0)
    assert Touching(slide, CLEAR).tap(zone=1, way=(200, 0)) == "right"


# Time --------------------------------------------------------------------------------------------


def test_a_held_touch_counts_from_its_time_on() -> None:
    zone = ZoneAction(CLEAR, held_ms=2000)
    assert Touching(zone).tap(held=2.0) == RequestMade("clear", True)
    touching = Touching(zone)
    assert touching.tap(held=2.0 - HAIR) == Refused("clear", "must be held for 2 s")
    assert touching.state() == TouchState.FAILED
    # The pause of a host that reads late is no holding.
    assert Touching(zone).tap(held=2.0 - HAIR, late=0.5) == Refused("clear", "must be held for 2 s")


@pytest.mark.parametrize("action", [GoTo("next"), Acknowledge(), TurnPage(PAGES, 1, 3)])
def test_a_touch_within_the_display_that_is_told_late_does_nothing(
    action: GoTo | Acknowledge | TurnPage,
) -> None:
    assert Touching(action).tap(late=LATE) == Granted(action)
    touching = Touching(action)
    assert touching.tap(late=LATE + HAIR) is None and touching.state() == TouchState.IDLE


def test_a_touch_that_asks_too_late_is_refused() -> None:
    assert Touching(CLEAR).tap(late=LATE) == RequestMade("clear", True)
    touching = Touching(CLEAR)
    assert touching.tap(late=LATE + HAIR) == Refused("clear", "the touch came 1.0 s late")
    assert touching.state() == TouchState.FAILED


def test_a_refusal_is_shown_for_its_second() -> None:
    touching = Touching(ZoneAction(CLEAR, value_of("still", "flag")), still=False)
    assert touching.tap(at=8.0, held=0.0) == Refused("clear", "not allowed now")
    assert touching.state() == TouchState.REFUSED and touching.fingers.next_deadline() == 8.0 + SHOW_REFUSED
    touching.fingers.tick(8.0 + SHOW_REFUSED - HAIR)
    assert touching.state() == TouchState.REFUSED
    touching.fingers.tick(8.0 + SHOW_REFUSED)
    assert touching.state() == TouchState.IDLE and touching.fingers.next_deadline() is None


@pytest.mark.parametrize("still", [True, False, Doubt.STALE, Doubt.UNSEEN])
@pytest.mark.parametrize("action", [CLEAR, GoTo("next"), Acknowledge(), TurnPage(PAGES, 1, 3)])
def test_only_a_condition_that_is_true_beyond_doubt_lets_a_touch_act(action: Action, still: Value) -> None:
    touching = Touching(ZoneAction(action, value_of("still", "flag")), still=still)
    outcome = touching.tap()
    if still is True:
        assert isinstance(outcome, RequestMade | Granted)
        return
    assert not isinstance(outcome, RequestMade | Granted)
    assert touching.state() == (TouchState.REFUSED if still is False else TouchState.FAILED)


# Questions ---------------------------------------------------------------------------------------


def asked(at: float = 8.0) -> Touching:
    """A zone that has asked its question at that time, and knows that all else is well."""
    touching = Touching(ZoneAction(CLEAR, confirm="Clear it?"), GoTo("next"))
    assert touching.tap(at=at, held=0.0) == ConfirmAsked("clear", "Clear it?")
    assert touching.state() == TouchState.ASKED
    return touching


def test_a_question_is_answered_once_it_can_have_been_read_and_until_it_lapses() -> None:
    assert asked().tap(at=8.0 + READ_WITHIN) == RequestMade("clear", True)
    early = asked()
    assert early.tap(at=8.0 + READ_WITHIN - HAIR) == ConfirmAsked("clear", "Clear it?")
    # It was first asked then: from that the time to read it counts.
    assert early.tap(at=8.0 + READ_WITHIN) == RequestMade("clear", True)
    assert asked().tap(at=8.0 + CONFIRM_WITHIN - 0.25 - HAIR, held=0.25) == RequestMade("clear", True)
    lapsed = asked()
    assert lapsed.tap(at=8.0 + CONFIRM_WITHIN - 0.25, held=0.25) == ConfirmAsked("clear", "Clear it?")


def test_a_finger_that_may_have_come_before_the_question_does_not_answer_it() -> None:
    assert asked().tap(at=9.0, seen=8.0 + READ_WITHIN) == RequestMade("clear", True)
    assert asked().tap(at=9.0, seen=8.0 + READ_WITHIN - HAIR) == ConfirmAsked("clear", "Clear it?")


def test_a_question_lapses_with_a_touch_elsewhere_and_not_with_one_beside_all_zones() -> None:
    touching = asked()
    touching.fingers.press(1, 0, 0, 9.0)
    assert [touching.state(0), touching.state(1)] == [TouchState.IDLE, TouchState.PRESSED]
    for nowhere in (None, 2, -1):
        touching = asked()
        touching.fingers.press(nowhere, 0, 0, 9.0)
        assert touching.state() == TouchState.IDLE
        assert touching.fingers.release(nowhere, 0, 0, touching.lookup, 9.1) is None
    touching = asked()
    touching.fingers.press(0, 0, 0, 9.0)
    assert touching.state() == TouchState.ASKED
    touching.fingers.cancel()
    assert touching.state() == TouchState.ASKED


def test_a_question_lapses_when_the_display_is_out_of_sight() -> None:
    touching = asked()
    touching.fingers.lose_sight()
    assert touching.state() == TouchState.IDLE and touching.fingers.next_deadline() is None
    assert touching.tap(at=9.0) == ConfirmAsked("clear", "Clear it?")


def test_a_held_question_needs_no_second_holding() -> None:
    touching = Touching(ZoneAction(CLEAR, held_ms=1000, confirm="Clear it?"))
    assert touching.tap(held=1.0) == ConfirmAsked("clear", "Clear it?")
    assert touching.tap(at=10.0, held=0.0) == RequestMade("clear", True)


def test_a_question_of_a_screen_change_is_asked_too() -> None:
    touching = Touching(ZoneAction(GoTo("next"), confirm="Leave?"))
    assert touching.tap(at=8.0, held=0.0) == ConfirmAsked("next", "Leave?")
    assert touching.tap(at=9.0) == Granted(GoTo("next"))


# Zones -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("held_ms", [300, 2000])
@pytest.mark.parametrize("step", [0.001, 0.033, 0.25])
def test_a_hold_is_told_as_it_goes_and_is_full_when_it_counts(held_ms: int, step: float) -> None:
    """Whatever the moments of the ticks: it never goes back, and is full exactly when a finger that lifts now
    has been long enough."""
    control = ZoneAction(SetOutput("limit", 5.0), held_ms=held_ms)
    name, end = hold_signal("first", 0), held_ms / 1000
    number = 0
    while number * step < end + 0.3:
        touching = Touching(control, CLEAR)
        assert touching.states[name] == 0.0 and hold_signal("first", 1) not in touching.states
        touching.fingers.press(0, 500, 500, 8.0)
        before = 0.0
        for tick in range(number + 1):
            touching.fingers.tick(8.0 + tick * step)
            now = touching.states[name]
            assert isinstance(now, float) and before <= now <= 1.0
            assert now == pytest.approx(min(1.0, tick * step / end), abs=1 / HOLD_STEPS)
            before = now
        lifted = 8.0 + number * step
        outcome = touching.fingers.release(0, 500, 500, touching.lookup, lifted)
        short = isinstance(outcome, RequestRefused) and outcome.why is Refusal.HELD_TOO_SHORT
        assert short == (before < 1.0), (number, before)
        assert touching.states[name] == 0.0
        number += max(1, round(0.09 / step))


def test_a_hold_that_is_lost_is_empty_again() -> None:
    touching = Touching(ZoneAction(SetOutput("limit", 5.0), held_ms=1000), CLEAR)
    name = hold_signal("first", 0)
    for lose in (touching.fingers.cancel, lambda: touching.fingers.press(1, 9, 5, 9.0)):
        touching.fingers.press(0, 500, 500, 8.0)
        due = touching.fingers.next_deadline()
        assert due == pytest.approx(8.0 + 1 / HOLD_STEPS)
        touching.fingers.tick(8.5)
        assert touching.states[name] == 0.5
        lose()
        assert touching.states[name] == 0.0
        touching.fingers.tick(9.5)
        assert touching.states[name] == 0.0
        assert touching.fingers.next_deadline() is None


def test_a_finger_must_lift_where_it_came_down() -> None:
    touching = Touching(CLEAR, GoTo("next"))
    touching.fingers.press(0, 5, 5, 1.0)
    assert touching.state() == TouchState.PRESSED
    assert touching.fingers.release(1, 9, 5, touching.lookup, 1.1) is None
    assert touching.state() == TouchState.IDLE
    touching.fingers.press(0, 5, 5, 2.0)
    assert touching.fingers.release(None, 9, 5, touching.lookup, 2.1) is None
    # Lifted without having come down, and once more.
    assert touching.fingers.release(0, 5, 5, touching.lookup, 3.0) is None
    touching.fingers.press(0, 5, 5, 4.0)
    touching.fingers.press(1, 9, 5, 4.1)
    assert [touching.state(0), touching.state(1)] == [TouchState.IDLE, TouchState.PRESSED]
    assert touching.fingers.release(0, 5, 5, touching.lookup, 4.2) is None


def test_every_zone_is_idle_at_first_and_hears_only_its_own_answer() -> None:
    touching = Touching(CLEAR, SetOutput("limit", 5.0), SetOutput("pick", 1.0))
    assert touching.states == {touch_signal("first", zone): TouchState.IDLE for zone in range(3)}
    for zone in range(3):
        touching.tap(zone)
    touching.fingers.answer("limit", True, 10.0)
    assert [touching.state(zone) for zone in range(3)] == [TouchState.SENT, TouchState.IDLE, TouchState.SENT]


def test_what_is_sent_is_shown_until_it_is_answered() -> None:
    touching = Touching(CLEAR, SetOutput("limit", 5.0))
    touching.tap(0)
    touching.tap(1)
    assert [touching.state(0), touching.state(1)] == [TouchState.SENT, TouchState.SENT]
    assert touching.fingers.next_deadline() is None
    # A finger on a zone that awaits its answer does not hide that.
    touching.fingers.press(0, 5, 5, 9.0)
    assert touching.state(0) == TouchState.SENT
    touching.fingers.cancel()
    assert touching.state(0) == TouchState.SENT
    touching.fingers.answer("clear", True, 10.0)
    assert [touching.state(0), touching.state(1)] == [TouchState.IDLE, TouchState.SENT]
    touching.fingers.answer("limit", False, 10.0)
    assert touching.state(1) == TouchState.FAILED
    touching.fingers.tick(10.0 + SHOW_REFUSED - HAIR)
    assert touching.state(1) == TouchState.FAILED
    touching.fingers.tick(10.0 + SHOW_REFUSED)
    assert touching.state(1) == TouchState.IDLE
    # Shown as failed it awaits nothing more.
    touching.fingers.answer("limit", False, 12.0)
    assert touching.state(1) == TouchState.IDLE


# What is asked for -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reads", "by", "wanted"),
    [
        (50.0, 5.0, 55.0),
        (95.0, 5.0, 100.0),
        (98.0, 5.0, 100.0),
        (100.0, 5.0, None),
        (120.0, 5.0, None),
        (120.0, -5.0, 100.0),
        (20.0, -5.0, 15.0),
        (12.0, -5.0, 10.0),
        (10.0, -5.0, None),
        (4.0, -5.0, None),
        (4.0, 5.0, 10.0),
    ],
)
def test_a_step_leads_where_it_points_and_stays_within_its_ends(
    reads: float, by: float, wanted: float | None
) -> None:
    outcome = Touching(StepOutput("limit", by, 10.0, 100.0), limit=reads).tap()
    if wanted is None:
        assert outcome == Refused("limit", "it is at its end already")
    else:
        assert outcome == RequestMade("limit", wanted)


@pytest.mark.parametrize("reads", [Doubt.STALE, Doubt.UNSEEN, Doubt.OUT_OF_RANGE, "word", True, (1.0, 2.0)])
def test_nothing_follows_from_a_reading_that_is_no_number(reads: Value) -> None:
    for action, name in (
        (StepOutput("limit", 1.0, 0.0, 9.0), "limit"),
        (SetToRow("pick", "limit", 5, 2), "pick"),
    ):
        outcome = Touching(action, limit=reads).tap()
        assert isinstance(outcome, type(Touching(action).tap())) and not isinstance(outcome, RequestMade), (
            name
        )


@pytest.mark.parametrize("reads", [1.0, "on", Doubt.STALE])
def test_only_a_flag_is_turned(reads: Value) -> None:
    assert not isinstance(Touching(ToggleOutput("clear"), clear=reads).tap(), RequestMade)
    for flag in (True, False):
        assert Touching(ToggleOutput("clear"), clear=flag).tap() == RequestMade("clear", not flag)


@pytest.mark.parametrize(
    ("page", "row", "element"), [(0.0, 0, 1.0), (0.0, 4, 5.0), (1.0, 0, 6.0), (3.0, 2, 18.0)]
)
def test_elements_are_counted_from_one_over_the_pages(page: float, row: int, element: float) -> None:
    touching = Touching(SetToRow("pick", PAGES, 5, row))
    touching.known[PAGES] = page
    assert touching.tap() == RequestMade("pick", element)


def test_a_list_that_has_just_turned_takes_no_touch() -> None:
    for seen, taken in ((9.0 + READ_WITHIN, True), (9.0 + READ_WITHIN - HAIR, False)):
        touching = Touching(TurnPage(PAGES, 1, 3), SetToRow("pick", PAGES, 5, 0))
        touching.known[PAGES] = 1.0
        assert touching.tap(0, at=9.0, held=0.0) == Granted(TurnPage(PAGES, 1, 3))
        outcome = touching.tap(1, at=9.75, seen=seen)
        assert outcome == (RequestMade("pick", 6.0) if taken else Refused("pick", "the list had just turned"))


def slid(x: int, step: float = 10.0, length: int = 100, upright: bool = False, high: float = 100.0) -> float:
    slide = SlideOutput("limit", 20.0, high, step, 400, length, upright)
    touching = Touching(slide)
    touching.fingers.press(0, 400, 400, 1.0)
    at = (450, x) if upright else (x, 450)
    made = touching.fingers.release(0, *at, touching.lookup, 1.1)
    assert isinstance(made, RequestMade) and isinstance(made.value, float)
    return made.value


def test_a_slider_gives_the_nearest_step_between_its_ends() -> None:
    """From 20 to 100 over 100 px in steps of 10: 12.5 px a step, the half goes up."""
    expected = {0: 20, 400: 20, 406: 20, 407: 30, 418: 30, 419: 40, 494: 100, 493: 90, 500: 100, 900: 100}
    assert {x: slid(x) for x in expected} == expected
    assert {x: slid(x, upright=True) for x in (400, 406, 407, 500, 0, 900)} == {
        400: 100,
        406: 100,
        407: 90,
        500: 20,
        0: 100,
        900: 20,
    }
    # The last step ends at the scale's end; without steps there is only its beginning; one pixel is a switch.
    assert slid(500, step=30.0) == 100
    assert slid(470, step=30.0) == 80
    assert slid(500, step=0.0) == 20
    assert [slid(x, length=1) for x in (400, 401)] == [20, 100]
    assert [slid(x, length=0) for x in (400, 401)] == [20, 100]


# Requests ----------------------------------------------------------------------------------------


class Answering:
    """Requests to the pipe, and how many readings of each signal have come."""

    def __init__(self, resolution: float | None, every: int = 0) -> None:
        from dataclasses import replace

        built = design([signal("limit", resolution=resolution, low=-100.0)], outputs=["limit"])
        outputs = {name: replace(output, every=every) for name, output in built.outputs.items()}
        self.counts, self.reads = 0, 0.0
        self.requests = Requests(replace(built, outputs=outputs), True, lambda _: self.counts)

    def ask(self, value: float, now: float) -> object:
        return self.requests.ask("limit", value, lambda _: self.reads, now)

    def tick(self, now: float) -> Sequence[object]:
        return self.requests.tick(lambda _: self.reads, now)


@pytest.mark.parametrize("resolution", [None, 0.0, 0.5])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_reading_follows_within_half_of_what_its_field_tells_apart(
    resolution: float | None, sign: int
) -> None:
    """Half the resolution, at least a millionth of the range's larger end."""
    slack = 0.25 if resolution else 1e-4
    for off, follows in ((0.0, True), (slack * 0.999, True), (slack * 1.001, False)):
        answering = Answering(resolution)
        answering.ask(50.0, 8.0)
        answering.counts, answering.reads = 1, 50.0 + sign * off
        assert answering.tick(8.5) == ([RequestDone("limit", 50.0, 0.5)] if follows else [])


def test_an_answer_may_come_until_three_seconds_have_passed() -> None:
    answering = Answering(None)
    answering.ask(50.0, 8.0)
    assert answering.requests.next_deadline() == 11.0
    assert answering.tick(11.0 - HAIR) == []
    # At the very end a reading that follows is still the answer.
    answering.counts, answering.reads = 1, 50.0
    assert answering.tick(11.0) == [RequestDone("limit", 50.0, 3.0)]
    assert answering.tick(11.0) == [] and answering.requests.next_deadline() is None
    answering.ask(40.0, 12.0)
    assert answering.tick(15.0) == [Refused("limit", "the vehicle did not follow")]


def test_a_request_waits_its_time_and_no_longer() -> None:
    answering = Answering(None, every=500)
    assert isinstance(answering.ask(50.0, 8.0), RequestMade)
    assert answering.ask(51.0, 8.5 - HAIR) == Refused("limit", "it was asked for less than 0.5 s ago")
    assert isinstance(answering.ask(51.0, 8.5), RequestMade)


@pytest.mark.parametrize(
    ("value", "taken"), [(-100.0, True), (100.0, True), (-100.001, False), (100.001, False)]
)
def test_a_request_may_be_at_either_end_of_its_range(value: float, taken: bool) -> None:
    outcome = Answering(None).ask(value, 8.0)
    assert isinstance(outcome, RequestMade) == taken
    assert taken or outcome == Refused("limit", "it takes -100 to 100 %")


# The table of signals ----------------------------------------------------------------------------


def fed(*readings: tuple[float, int | None, Value]) -> SignalTable:
    table = SignalTable({"cells": signal("cells", count=2), "one": signal("one")})
    table.advance(100.0)
    for at, element, value in readings:
        name = "one" if element is None else "cells"
        table.feed(Arrival(at, (Reading(name, element, value),)))  # type: ignore[arg-type]
    return table


def test_freshness_counts_what_came_and_tells_the_latest() -> None:
    assert fed().freshness("one") == fed().freshness("nobody") == Freshness(None, 0)
    table = fed(
        (99.0, 0, 1.0),
        (98.0, 1, 1.0),
        (99.5, 1, 2.0),
        (97.0, 0, 5.0),
        (99.75, 2, 1.0),
        (99.75, -1, 1.0),
        (99.75, 9, 1.0),
    )
    # What is older than what is held was dropped, and an element that is none is none.
    assert table.freshness("cells") == Freshness(99.5, 3)
    assert fed((99.0, None, 1.0)).freshness("one") == Freshness(99.0, 1)
    assert fed((101.0, None, 1.0)).freshness("one") == Freshness(100.0, 1)
    assert fed((99.75, None, 1.0), (99.75, None, 2.0)).lookup("one") == 2.0


def test_what_the_runtime_keeps_changes_by_value_and_kind() -> None:
    table = fed()
    for value, changes in ((1.0, True), (1.0, False), (True, True), (True, False), (1.0, True), (2.0, True)):
        table.keep("clock", value)
        assert table.take_changed() == ({"clock"} if changes else set())
        assert table.lookup("clock") is value or table.lookup("clock") == value


def test_what_is_remembered_follows_what_the_runtime_keeps_at_once() -> None:
    late = Memory("late", "hysteresis", value_of("clock"), on=50.0, off=40.0)
    shown = signal("shown", kind="flag", unit=None, derived=value_of("late", "flag"))
    table = SignalTable({"shown": shown}, [late])
    for clock, reads in ((60.0, True), (45.0, True), (39.0, False), (45.0, False)):
        before = table.lookup("shown")
        table.take_changed()
        table.keep("clock", clock)
        assert table.lookup("shown") is reads
        assert reads is before or "shown" in table.take_changed()


# What a screen shows -----------------------------------------------------------------------------


def test_a_design_starts_with_its_start_screen_or_the_first() -> None:
    screens = [BoundScreen(name, (0,)) for name in ("other", "first", "last")]
    assert bound([signal("a")], [scaled("a")], screens).start == 1
    assert bound([signal("a")], [scaled("a")], screens[::2]).start == 0


def test_pages_are_the_built_in_signals_that_channels_read() -> None:
    channels = [scaled("a"), scaled("page.music.0"), scaled("page.music.1"), scaled("touch.music.0")]
    assert bound([signal("a")], channels, []).pages == {"page.music.0", "page.music.1"}


def values_of(*channels: Channel, numbers: Sequence[int] = (), **sets: frozenset[int]) -> ScreenValues:
    return ScreenValues(channels, Steadying(), numbers=numbers, **sets)


def test_what_is_urgent_or_prompt_is_brought_up_to_date_by_itself_and_what_is_calm_waits() -> None:
    """Urgency 0 and 1, and the prompt ones, before the others; the calm ones when they are asked for."""
    channels = [scaled("a", 0), scaled("b", 1), scaled("c", 2), scaled("d", 2), scaled("e", 2)]
    values = values_of(
        *channels, numbers=(10, 11, 12, 13, 14), prompt=frozenset({13}), calm=frozenset({11, 13, 14})
    )
    known = dict.fromkeys("abcde", 5.0)
    assert values.dirty and values.refresh_urgent(known.__getitem__, 0.0)
    live = LIVE + 5
    assert values.raw == [live, live, 0, live, 0]
    assert not values.refresh_urgent(known.__getitem__, 0.0)
    # Calm is only what is neither urgent nor prompt.
    assert values.refresh(known.__getitem__, 0.0, calm=False) and values.raw == [live, live, live, live, 0]
    assert values.dirty
    assert values.refresh(known.__getitem__, 0.0) and values.raw == [live] * 5
    assert not values.dirty and not values.refresh(known.__getitem__, 0.0)
    values.touch(["nobody"])
    assert not values.dirty
    values.touch(["e"])
    assert values.dirty


@pytest.mark.parametrize("sign", [1, -1])
def test_a_step_is_left_at_a_whole_step_or_after_it_has_settled(sign: int) -> None:
    """1/2 + 1/2 steps off at once; less only when it has rounded elsewhere for 0.25 s without a break."""
    for off, at_once in ((0.6, False), (0.99, False), (1.0, True), (1.01, True)):
        values, known = values_of(scaled("a")), {"a": 50.0}
        values.refresh(known.__getitem__, 8.0)
        known["a"] = 50.0 + sign * off
        values.touch(["a"])
        assert values.refresh(known.__getitem__, 9.0) == at_once
        assert values.settles_at() == (None if at_once else 9.25)
        assert values.refresh(known.__getitem__, 9.25 - HAIR) is False
        assert values.refresh(known.__getitem__, 9.25) == (not at_once)
        assert values.raw == [LIVE + 50 + sign] and values.settles_at() is None


def test_a_break_begins_the_settling_anew_and_doubt_is_shown_at_once() -> None:
    values, known = values_of(scaled("a")), {"a": 50.0}
    values.refresh(known.__getitem__, 8.0)
    for now, reads, raw in (
        (9.0, 50.7, 50),
        (9.2, 50.3, 50),
        (9.3, 50.7, 50),
        (9.5, 50.7, 50),
        (9.55, 50.7, 51),
        (9.6, Doubt.STALE, 1 - LIVE),
        (9.7, 50.7, 51),
        (9.8, 50.2, 51),
        (9.9, Doubt.UNSEEN, -LIVE),
    ):
        known["a"] = reads  # type: ignore[assignment]
        values.touch(["a"])
        values.refresh(known.__getitem__, now)
        assert values.raw == [LIVE + raw], now
