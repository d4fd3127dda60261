from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st
from runtime_builders import signal, total_of

from hmic.model.expressions import Doubt
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.state import SignalTable
from hmic.runtime.vehicle_time import Steady, VehicleTime


def table() -> SignalTable:
    signals = [
        signal("a", stale_after=500),
        signal("b", stale_after=300),
        signal("cells", count=3, stale_after=1000),
        signal("sum", derived=total_of("a", "b"), high=150.0),
        signal("again", derived=total_of("sum", "a"), high=1000.0),
    ]
    return SignalTable({definition.name: definition for definition in signals})


def arrival(at: float, name: str, value: object, element: int | None = None) -> Arrival:
    return Arrival(at, (Reading(name, element, value),))  # type: ignore[arg-type]


def test_a_value_is_live_until_its_stale_time_and_not_at_it() -> None:
    state = table()
    state.advance(10.0)
    state.feed(arrival(10.0, "a", 40.0))
    assert state.lookup("a") == 40.0
    assert state.next_stale() == 10.5
    state.advance(10.499999)
    assert state.lookup("a") == 40.0 and state.stale_count() == 0
    state.advance(10.5)
    assert state.lookup("a") is Doubt.STALE and state.stale_count() == 1
    assert state.next_stale() is None


def test_unseen_out_of_range_and_no_data() -> None:
    state = table()
    assert state.lookup("a") is Doubt.UNSEEN
    assert state.lookup("nobody") is Doubt.UNSEEN
    state.feed(arrival(0.0, "a", 100.0 * (1 + 1e-12)))
    assert state.lookup("a") == 100.0 * (1 + 1e-12)
    state.feed(arrival(0.0, "a", 100.5))
    assert state.lookup("a") is Doubt.OUT_OF_RANGE
    state.feed(arrival(0.0, "a", float("nan")))
    assert state.lookup("a") is Doubt.OUT_OF_RANGE
    state.feed(arrival(0.0, "a", Doubt.UNSEEN))
    state.advance(9.0)
    assert state.lookup("a") is Doubt.UNSEEN and state.stale_count() == 0


def test_arrays_are_doubted_element_by_element() -> None:
    state = table()
    assert state.lookup("cells") == (Doubt.UNSEEN,) * 3
    state.feed(arrival(0.0, "cells", 5.0, 0))
    state.advance(0.6)
    state.feed(arrival(0.6, "cells", 6.0, 2))
    assert state.lookup("cells") == (5.0, Doubt.UNSEEN, 6.0)
    state.advance(1.0)
    assert state.lookup("cells") == (Doubt.STALE, Doubt.UNSEEN, 6.0)
    state.feed(arrival(1.0, "cells", 7.0, 3))
    assert state.next_stale() == 1.6


def test_derived_values_follow_through_other_derived_values() -> None:
    state = table()
    state.feed(arrival(0.0, "a", 50.0))
    assert state.lookup("again") is Doubt.UNSEEN
    state.feed(arrival(0.0, "b", 20.0))
    assert state.take_changed() == {"a", "b", "sum", "again"}
    assert (state.lookup("sum"), state.lookup("again")) == (70.0, 120.0)
    state.advance(0.3)
    assert state.take_changed() == {"b", "sum", "again"}
    assert state.lookup("again") is Doubt.STALE
    state.feed(arrival(0.3, "a", 90.0))
    state.feed(arrival(0.3, "b", 90.0))
    assert state.lookup("sum") is Doubt.OUT_OF_RANGE


def test_a_stale_time_of_nothing_means_that_it_does_not_age() -> None:
    state = SignalTable({"told": signal("told", kind="text", unit=None, stale_after=0)})
    state.feed(arrival(0.0, "told", "Bread and milk"))
    state.advance(1e9)
    assert state.lookup("told") == "Bread and milk" and state.next_stale() is None


def test_a_value_that_came_back_turns_stale_again() -> None:
    """Whether it had turned stale, or was told to be unknown, before."""
    state = table()
    for at, told in ((0.0, 1.0), (2.0, 2.0), (4.0, Doubt.UNSEEN), (6.0, 3.0), (8.0, 200.0), (10.0, 4.0)):
        state.advance(at)
        state.feed(arrival(at, "a", told))
        state.take_changed()
        assert state.next_stale() == (None if told is Doubt.UNSEEN else at + 0.5)
        state.advance(at + 0.5)
        assert state.lookup("a") is (Doubt.UNSEEN if told is Doubt.UNSEEN else Doubt.STALE)
        assert state.take_changed() == (set() if told is Doubt.UNSEEN else {"a", "sum", "again"})
        assert state.next_stale() is None and state.stale_count() == (told is not Doubt.UNSEEN)


def test_a_copy_knows_the_same_and_goes_on_by_itself() -> None:
    state = table()
    state.feed(arrival(0.0, "a", 50.0))
    state.feed(arrival(0.0, "b", 20.0))
    state.keep("clock", 7.0)
    assert state.lookup("again") == 120.0
    twin = state.copied()
    assert [twin.lookup(name) for name in ("a", "again", "clock")] == [50.0, 120.0, 7.0]
    assert twin.take_changed() == state.take_changed() != set()
    assert twin.freshness("a") == state.freshness("a") and twin.next_stale() == state.next_stale() == 0.3
    twin.advance(0.4)
    twin.feed(arrival(0.4, "a", 60.0))
    twin.keep("clock", 8.0)
    assert (twin.lookup("a"), twin.lookup("again"), twin.next_stale()) == (60.0, Doubt.STALE, 0.9)
    assert [state.lookup(name) for name in ("a", "again", "clock")] == [50.0, 120.0, 7.0]
    assert (state.now, state.next_stale(), state.stale_count()) == (0.0, 0.3, 0)
    assert state.freshness("a").count == 1 and state.take_changed() == set()
    state.advance(0.6)
    assert state.lookup("a") is Doubt.STALE and twin.lookup("a") == 60.0


def test_the_same_value_again_changes_nothing_but_its_time() -> None:
    state = table()
    state.feed(arrival(0.0, "a", 1.0))
    state.take_changed()
    state.advance(0.4)
    state.feed(arrival(0.4, "a", 1.0))
    assert state.take_changed() == set()
    state.advance(0.5)
    assert state.lookup("a") == 1.0 and state.next_stale() == 0.9


steps = st.lists(
    st.tuples(
        st.sampled_from(["a", "b", "cells", "advance"]),
        st.floats(-5.0, 50.0),
        st.integers(-10, 120).map(float) | st.just(Doubt.UNSEEN),
        st.integers(0, 2),
    ),
    max_size=60,
)


@given(steps)
def test_any_order_of_events_agrees_with_a_plain_record(events: list[tuple[str, float, object, int]]) -> None:
    """Against the definition itself: the newest reading of each element, judged at each moment."""
    state = table()
    now = 0.0
    newest: dict[tuple[str, int], tuple[float, object]] = {}
    stale_after = {"a": 0.5, "b": 0.3, "cells": 1.0}
    for name, at, value, element in events:
        if name == "advance":
            now = max(now, at)
            state.advance(at)
        else:
            place = element if name == "cells" else 0
            seen = min(at, now)
            if (name, place) not in newest or seen >= newest[name, place][0]:
                newest[name, place] = (seen, value)
            state.feed(arrival(at, name, value, place))
        for (signal_name, place), (seen, held) in newest.items():
            got = state.lookup(signal_name)
            got = got[place] if isinstance(got, tuple) else got
            if held is Doubt.UNSEEN:
                expected = held
            elif seen + stale_after[signal_name] <= now:
                expected = Doubt.STALE
            else:
                expected = held if 0.0 <= held <= 100.0 else Doubt.OUT_OF_RANGE  # type: ignore[operator]
            assert got == expected and type(got) is type(expected)
        upcoming = [
            seen + stale_after[signal_name]
            for (signal_name, _), (seen, held) in newest.items()
            if seen + stale_after[signal_name] > now and held is not Doubt.UNSEEN
        ]
        assert state.next_stale() == min(upcoming, default=None)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40))
def test_a_steady_clock_never_runs_back_and_keeps_every_step_forward(readings: list[float]) -> None:
    steady = Steady()
    out = [steady(reading) for reading in readings]
    for (before, after), (x, y) in zip(itertools.pairwise(readings), itertools.pairwise(out), strict=True):
        assert y >= x
        assert abs((y - x) - max(0.0, after - before)) < 1e-6
    assert abs(steady.outer(out[-1]) - readings[-1]) < 1e-6


def test_vehicle_time_runs_at_its_rate_both_ways() -> None:
    ten = VehicleTime(10.0)
    assert ten.at(5.0) == 0.0 and ten.host(1.0) is None
    ten.start(100.0)
    ten.start(200.0)
    assert ten.at(101.0) == 10.0 and ten.host(10.0) == 101.0
    fast = VehicleTime(None)
    fast.start(100.0)
    fast.note(3.0)
    fast.note(2.0)
    assert fast.at(1e9) == 3.0 and fast.host(9.0) is None
