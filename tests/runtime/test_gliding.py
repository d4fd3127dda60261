"""What glides, against the mean worked out from the whole record; doubt and colours never wait for it."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from runtime_builders import Far, bound, design, signal, value_of

from hmic.arrange.compose import Arranged
from hmic.check.budget import screen_budget
from hmic.model.channels import LIVE, Bands, Channel, Scaled
from hmic.model.expressions import Doubt
from hmic.paint.operations import Pointer, Reveal
from hmic.runtime.binding import BoundScreen
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.gliding import FRAME
from hmic.runtime.retrace import Onlooker
from hmic.runtime.runtime import Runtime
from hmic.runtime.vehicle import Vehicle
from hmic.runtime.vehicle_time import VehicleTime
from tests.arrange.test_within_its_place import arranged
from tests.tools.changed import replace
from tests.tools.widget_pictures import dunlin

WITHIN = 0.3
STEPS = Scaled(0.0, 1.0, 101)
SIGNALS = [signal("a", stale_after=500), signal("b", stale_after=0)]
VALUES = {name: value_of(name) for name in ("a", "b")}
GLIDING = Channel(VALUES["b"], STEPS, glide=WITHIN)
MORTAL = Channel(VALUES["a"], STEPS, glide=WITHIN)
TURNING = Channel(VALUES["b"], STEPS, glide=WITHIN, turn=100)
COLOUR = Channel(VALUES["b"], Bands((80.0,), (0, 1), 2))


def told(at: float, name: str, value: object) -> Arrival:
    return Arrival(at, (Reading(name, None, value),))  # type: ignore[arg-type]


def vehicle(*channels: Channel) -> Vehicle:
    return Vehicle(design(SIGNALS), channels)


def along(car: Vehicle, start: float, end: float, each: float = 0.01) -> list[int]:
    found = []
    for number in range(1, round((end - start) / each) + 1):
        car.pass_time(start + number * each)
        found.append(car.raw()[0])
    return found


def test_a_jump_becomes_an_even_motion_that_ends_in_time() -> None:
    car = vehicle(GLIDING)
    car.feed(told(1.0, "b", 10.0))
    assert car.raw() == (LIVE + 10,)
    car.feed(told(2.0, "b", 90.0))
    seen = [car.raw()[0] - LIVE, *(raw - LIVE for raw in along(car, 2.0, 2.0 + WITHIN))]
    assert seen[0] == 10 and seen[-1] == 90
    assert seen == sorted(seen)
    moved = [step for step in dict.fromkeys(seen) if 10 < step < 90]
    assert len(moved) >= 7
    # Even: each look goes about as far as the others.
    gaps = [b - a for a, b in pairwise(moved)]
    assert max(gaps) - min(gaps) <= 2, gaps


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.001, 0.4), st.integers(0, 100)), min_size=1, max_size=25),
    st.lists(st.floats(0.01, 8.0), max_size=20),
)
def test_it_is_the_mean_of_what_arrived_and_not_of_when_it_was_asked(
    steps: list[tuple[float, int]], asked: list[float]
) -> None:
    """Within a step of the mean at the last multiple of a thirtieth of a second, exact at rest, and never
    beyond what was in that time."""
    record, now = [], 0.0
    for wait, value in steps:
        now += wait
        record.append((now, float(value)))
    one, two = vehicle(GLIDING), vehicle(GLIDING)
    moments = sorted([(at, None) for at in asked] + record, key=lambda pair: pair[0])
    for at, value in moments:
        if value is None:
            two.pass_time(at)
        else:
            one.feed(told(at, "b", value))
            two.feed(told(at, "b", value))
    end = max([now, *asked]) + 0.1
    one.pass_time(end)
    two.pass_time(end)
    assert one.raw() == two.raw()
    shown = one.raw()[0] - LIVE
    look = math.floor(end / FRAME + 1e-6) * FRAME
    start = look - (WITHIN - FRAME)
    during = [value for at, value in record if at <= look]
    recent = [value for at, value in record if start < at <= look]
    before = [value for at, value in record if at <= start] or [record[0][1]]
    window = [before[-1], *recent]
    assert min(window) <= shown <= max(window) or not during
    changes = [(at, value) for at, value in record if at <= look]
    edges = [start, *(at for at, _ in changes if at > start), look]
    mean = sum(
        (b - a) * next((v for at, v in reversed(changes) if at <= a + 1e-12), record[0][1])
        for a, b in pairwise(edges)
    ) / (look - start)
    if during:
        assert abs(shown - mean) <= 1.01
    one.pass_time(end + WITHIN)
    assert one.raw() == (LIVE + int(record[-1][1]),)


def test_doubt_is_shown_at_once_both_ways_and_no_stale_value_glides() -> None:
    car = vehicle(MORTAL)
    car.feed(told(1.0, "a", 10.0))
    car.feed(told(1.4, "a", 90.0))
    car.pass_time(1.55)
    assert LIVE + 10 < car.raw()[0] < LIVE + 90
    car.feed(told(1.56, "a", 500.0))
    assert car.raw() == (int(Doubt.OUT_OF_RANGE),)
    car.feed(told(1.6, "a", 40.0))
    assert car.raw() == (LIVE + 40,)
    assert set(along(car, 1.6, 2.0)) == {LIVE + 40}
    car.feed(told(2.05, "a", 80.0))
    car.pass_time(2.05 + 0.5)
    assert car.raw() == (int(Doubt.STALE),)
    assert car.history.next_due() is None
    car.feed(told(3.0, "a", 5.0))
    assert car.raw() == (LIVE + 5,)


WAYS = [(95.0, 7.0), (7.0, 95.0), (60.0, 5.0), (5.0, 60.0), (99.0, 0.0)]


@pytest.mark.parametrize(("before", "after"), WAYS)
def test_a_closed_scale_goes_the_short_way(before: float, after: float) -> None:
    car = vehicle(TURNING)
    car.feed(told(1.0, "b", before))
    car.feed(told(2.0, "b", after))
    seen = [int(before), *(raw - LIVE for raw in along(car, 2.0, 2.4))]
    way = sum(abs((b - a + 50) % 100 - 50) for a, b in pairwise(seen))
    assert seen[-1] == after
    assert way == min(abs(before - after), 100 - abs(before - after))


def test_many_turns_are_followed() -> None:
    car = vehicle(TURNING)
    for number in range(400):
        car.feed(told(1.0 + number * 0.05, "b", float(number * 13 % 100)))
    car.pass_time(40.0)
    assert car.raw() == (LIVE + 399 * 13 % 100,)


def test_a_colour_by_limits_is_no_later_than_without() -> None:
    """In the run's own steps, as they are sent: the colour with the next update, the needle later."""
    run = a_run([(0.0, 10.0), (0.5, 95.0)], 1.1)
    came = run.heard[1].at
    turned = next(at for at, raw in run.seen if raw[1] == LIVE + 1)
    arrived = next(at for at, raw in run.seen if raw[0] == LIVE + 95)
    assert turned <= came + 2 * FRAME and turned < arrived <= came + WITHIN + 2 * FRAME


class _Witness:
    """What a run heard and showed, by vehicle time."""

    def __init__(self) -> None:
        self.heard: list[Arrival] = []
        self.seen: list[tuple[float, tuple[int, ...]]] = []

    def arrived(self, arrival: Arrival) -> None:
        self.heard.append(arrival)

    def clock(self, at: float, minutes: float) -> None: ...
    def link(self, at: float, up: bool) -> None: ...

    def showed(self, at: float, screen: str, theme: str, raw: object) -> None:
        self.seen.append((at, tuple(raw)))  # type: ignore[arg-type]


def a_run(record: list[tuple[float, float]], end: float) -> _Witness:
    """The needle and the colour that a run sends to a display, with vehicle times."""
    witness = _Witness()
    whole = bound(SIGNALS, [GLIDING, COLOUR], [BoundScreen("first", (0, 1), moving=(2, 1))])
    runtime = Runtime(whole, 1, VehicleTime(), witness=witness)
    far, now = Far(), 100.0
    rest = list(record)
    while now < 100.0 + end:
        while rest and 100.0 + rest[0][0] <= now + 1e-9:
            at, value = rest.pop(0)
            runtime.feed(told(at, "b", value), now)
        runtime.tick(now)
        far.receive(runtime.outgoing(now), now)
        runtime.receive(far.session.outgoing(now), now)
        now += 0.005
    return witness


def test_trace_agrees_with_run() -> None:
    run = a_run([(0.0, 10.0), (0.5, 95.0), (0.6, 60.0), (0.82, 61.0), (1.2, 3.0), (1.25, 4.0)], 2.1)
    whole = bound(SIGNALS, [GLIDING, COLOUR], [BoundScreen("first", (0, 1), moving=(2, 1))])
    looker = Onlooker(whole)
    rest = list(run.heard)
    for at, raw in run.seen:
        while rest and rest[0].at <= at:
            looker.take(rest.pop(0))
        looker.pass_time(at)
        assert looker.vehicle.raw() == raw, at
    assert len(run.seen) > 12


# -- what a design says


def made(sentence: str) -> Arranged:
    result, found = arranged(sentence, (300, 300), 0.17, 500.0)
    assert not [each for each in found if each.severity.value == "error"], found
    return result


@pytest.mark.parametrize(
    ("sentence", "kind", "turn"),
    [
        ("dial motor.power from -60 kW to 100 kW", Pointer, False),
        ("dial vehicle.speed from 0 km/h to 360 km/h, sweep from 0° to 360°", Pointer, True),
        ("dial motor.power from -60 kW to 100 kW, with arc", Reveal, False),
        ("bar motor.power from -60 kW to 100 kW", Reveal, False),
        ("level pack.charge from 0 % to 100 %", Reveal, False),
    ],
)
def test_a_design_says_what_glides(sentence: str, kind: type, turn: bool) -> None:
    more = ', glides within 300 ms, danger above 90 km/h, as "0 km/h"'
    unit = sentence.split(" from ")[1].split(" to ")[1].split(",")[0].split(" ")[1]
    result = made(sentence + more.replace("km/h", unit))
    operations = result.drawing.screens[0].operations
    shown = {each.channel for each in operations if isinstance(each, kind)}
    assert shown
    for number, channel in enumerate(result.channels):
        assert (channel.glide == 0.3) == (number in shown)
        assert bool(channel.turn) == (turn and number in shown)
    plain = made(sentence + more.replace("km/h", unit).replace("glides within 300 ms, ", ""))
    assert plain.drawing == result.drawing


def test_the_budget_of_the_line_counts_what_glides() -> None:
    sentence = "bar motor.power from -60 kW to 100 kW, shown within 200 ms"
    plain, gliding = (made(sentence + more) for more in ("", ", glides within 100 ms"))
    design_of = replace(dunlin(), screens={"only": next(iter(dunlin().screens.values()))})
    loads = [screen_budget(design_of, each, 0) for each in (plain, gliding)]
    assert loads[1].load > loads[0].load
    late = [max(each.milliseconds or 0.0 for each in load.delays) for load in loads]
    assert late[1] == pytest.approx(late[0] + 100, abs=30)


@pytest.mark.parametrize("time", ["2 s", "10 ms", "0 s", "501 ms"])
def test_a_glide_has_a_fit_time(time: str) -> None:
    sentence = f"bar motor.power from -60 kW to 100 kW, glides within {time}"
    _, found = arranged(sentence, (300, 300), 0.17, 500.0)
    assert [each.code for each in found] == ["A389"] and found[0].remedy
