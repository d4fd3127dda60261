"""What charts and held peaks show, against the definition worked out from the whole record."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from runtime_builders import Far, bound, design, scaled, signal, value_of

from hmic.model.channels import LIVE, Channel, Kept, RingHead, Scaled
from hmic.model.expressions import Doubt
from hmic.model.terms import Memory
from hmic.runtime.binding import BoundScreen
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.runtime import Runtime
from hmic.runtime.vehicle import Vehicle
from hmic.runtime.vehicle_time import VehicleTime
from tests.tools.changed import replace

SLOTS, PERIOD = 5, 2.0
STEPS = Scaled(0.0, 1.0, 101)
SIGNALS = [signal("a", stale_after=500), signal("b", stale_after=0)]
# One object a signal, as the arranger makes it.
VALUES = {name: value_of(name) for name in ("a", "b")}
HEAD = Channel(None, RingHead(SLOTS, PERIOD))


def ring(name: str) -> list[Channel]:
    return [Channel(VALUES[name], STEPS, kept=Kept(SLOTS, PERIOD, slot)) for slot in range(SLOTS)]


def told(at: float, name: str, value: object) -> Arrival:
    return Arrival(at, (Reading(name, None, value),))  # type: ignore[arg-type]


def vehicle(channels: list[Channel]) -> Vehicle:
    return Vehicle(design(SIGNALS), channels)


def test_slots_fill_one_by_one_with_doubt_as_it_was_and_the_oldest_go() -> None:
    car = vehicle([HEAD, *ring("b")])
    assert car.raw() == (LIVE, 0, 0, 0, 0, 0)
    car.feed(told(1.0, "b", 10.0))
    car.pass_time(2.0)
    assert car.raw() == (LIVE + 1, 0, LIVE + 10, 0, 0, 0)
    car.feed(told(3.0, "b", 200.0))
    car.pass_time(5.0)
    assert car.raw() == (LIVE + 2, 0, LIVE + 10, int(Doubt.OUT_OF_RANGE), 0, 0)
    car.feed(told(5.5, "b", 30.0))
    car.pass_time(13.9)
    assert car.raw() == (LIVE + 1, LIVE + 30, LIVE + 30, 2, LIVE + 30, LIVE + 30)


def test_a_sleep_of_a_day_costs_no_more_than_one_round() -> None:
    car = vehicle([HEAD, *ring("a")])
    car.feed(told(1.0, "a", 10.0))
    car.pass_time(86400.0)
    assert car.raw() == (LIVE + 43200 % SLOTS, 1, 1, 1, 1, 1)


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.floats(0.01, 3.0), st.integers(-5, 105)), max_size=25),
    st.lists(st.floats(0.01, 40.0), max_size=10),
)
def test_the_past_depends_on_what_arrived_not_on_when_it_was_asked(
    steps: list[tuple[float, int]], asked: list[float]
) -> None:
    record, now = [], 0.0
    for wait, value in steps:
        now += wait
        record.append((now, float(value)))
    one, two = vehicle([HEAD, *ring("a")]), vehicle([HEAD, *ring("a")])
    moments = sorted([(at, None) for at in asked] + record, key=lambda pair: pair[0])
    for at, value in moments:
        if value is None:
            two.pass_time(at)
        else:
            one.feed(told(at, "a", value))
            two.feed(told(at, "a", value))
    end = max([now, *asked]) + 0.5
    one.pass_time(end)
    two.pass_time(end)
    newest = math.floor(end / PERIOD)
    expected = [LIVE + newest % SLOTS, *[0] * SLOTS]
    for number in range(max(1, newest - SLOTS + 1), newest + 1):
        before = [(at, value) for at, value in record if at < number * PERIOD]
        if before:
            at, value = before[-1]
            raw = LIVE + int(value) if 0 <= value <= 100 else 2
            expected[1 + number % SLOTS] = 1 if at + 0.5 <= number * PERIOD else raw
    assert one.raw() == two.raw() == tuple(expected)


def test_a_peak_is_held_falls_by_itself_and_doubt_shows() -> None:
    car = vehicle([Channel(value_of("a"), STEPS, peak=2.0), Channel(value_of("b"), STEPS, peak=2.0)])

    def at(now: float) -> tuple[int, ...]:
        car.pass_time(now)
        return car.raw()

    for moment, value in ((0.0, 20.0), (0.4, 90.0), (0.8, 50.0), (1.0, 30.0)):
        car.feed(told(moment, "b", value))
        car.take_changed()
    assert at(2.7) == (0, LIVE + 90)
    assert car.next_due() == 2.8
    assert at(2.8) == (0, LIVE + 50)
    assert at(3.0) == (0, LIVE + 30)
    car.feed(told(3.1, "a", 60.0))
    assert at(3.2) == (LIVE + 60, LIVE + 30)
    assert at(3.6) == (1, LIVE + 30)


def test_the_past_is_kept_while_another_screen_is_in_sight_and_moves_alone() -> None:
    channels = [scaled("b"), HEAD, *ring("b")]
    screens = [BoundScreen("first", (0,)), BoundScreen("chart", tuple(range(1, 2 + SLOTS)))]
    runtime = Runtime(bound(SIGNALS, channels, screens), 1, VehicleTime())
    far, now = Far(), 100.0
    runtime.feed(told(0.0, "b", 10.0), now)
    while now < 105.0:
        runtime.tick(now)
        far.receive(runtime.outgoing(now), now)
        runtime.receive(far.session.outgoing(now), now)
        now += 0.05
    runtime.go_to("chart", now)
    far.receive(runtime.outgoing(now), now)
    assert far.raw == (LIVE + 2, 0, LIVE + 10, LIVE + 10, 0, 0)
    due = runtime.next_deadline()
    assert due is not None and due <= 106.0
    updates = runtime.updates
    while now < 106.2:
        runtime.tick(now)
        far.receive(runtime.outgoing(now), now)
        runtime.receive(far.session.outgoing(now), now)
        now += 0.05
    assert far.raw == (LIVE + 3, 0, LIVE + 10, LIVE + 10, LIVE + 10, 0)
    assert runtime.updates == updates + 1


@pytest.mark.parametrize("step", [0.01, 0.05, 0.25, 3.0, 100.0])
def test_a_peak_does_not_depend_on_how_often_one_looks(step: float) -> None:
    signals = [
        signal("x", stale_after=0),
        signal("y", stale_after=1300),
        signal("r", derived=value_of("rate(x)"), low=-1000.0, high=1000.0),
    ]
    memory = Memory("rate(x)", "rate", value_of("x"), seconds=1.0)
    made = replace(design(signals), memories={"rate(x)": memory})
    steps = Scaled(0.0, 1.0, 200)
    channels = [Channel(value_of("r"), steps, peak=30.0), Channel(value_of("y"), steps, peak=4.0)]
    car = Vehicle(made, channels)

    def to(start: float, end: float) -> None:
        while start < end:
            start = min(end, start + step)
            car.pass_time(start)
            car.take_changed()

    car.feed(Arrival(0.0, (Reading("x", None, 0.0), Reading("y", None, 70.0))))
    to(0.0, 5.0)
    car.feed(Arrival(5.0, (Reading("x", None, 80.0), Reading("y", None, 10.0))))
    # The peak of 70 was seen until 1.3 s, and held for 4 s from there.
    shown = []
    for start, end in ((5.0, 5.2), (5.2, 5.4), (5.4, 10.0)):
        to(start, end)
        shown.append(car.raw())
    assert [raw[1] for raw in shown] == [LIVE + 70, LIVE + 10, 1]
    assert shown[-1][0] == LIVE + 80
