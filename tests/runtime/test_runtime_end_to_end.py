"""Both sessions joined by bytes in memory, under a clock that the test moves."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path

import can
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from runtime_builders import (
    IDENTITY,
    PANEL,
    Far,
    Refused,
    bound,
    flagged,
    scaled,
    signal,
    total_of,
    value_of,
)

from hmic.diagnostics import DesignError, Finding, error
from hmic.link.line import REOPEN
from hmic.link.memory import Faults, MemoryEnd, MemoryLine
from hmic.link.pseudo_terminal import PseudoTerminal
from hmic.link.serial_port import open_port
from hmic.model.actions import Acknowledge, GoTo, ToggleOutput, TurnPage, ZoneAction
from hmic.model.channels import LIVE, Channel, Listed, Scaled, raw_value
from hmic.model.expressions import Doubt
from hmic.model.touch_progress import TOUCH_WORDS, TouchState, touch_state
from hmic.runtime.adapters import Adapter
from hmic.runtime.binding import BoundDesign, BoundScreen
from hmic.runtime.decoding import Arrival, Decoder, Reading, Watched
from hmic.runtime.refusals import RequestRefused
from hmic.runtime.requests import RequestDone, RequestMade, Requests
from hmic.runtime.run import KEPT, LINGER, Loop, Status, Summary, run
from hmic.runtime.runtime import LinkChanged, Problem, Runtime, RuntimeEvent, ScreenChanged, mismatch
from hmic.runtime.sources import LIMIT, LiveCan, rest
from hmic.runtime.state import SignalTable
from hmic.runtime.vehicle_time import VehicleTime
from hmic.sources.frame import Frame
from hmic.wire.events import DisplayFacts, Phase
from hmic.wire.sizes import BATCH
from tests.tools.changed import replace

SIGNALS = [
    signal("speed", stale_after=500),
    signal("charge", stale_after=2000),
    signal("sum", derived=total_of("speed", "charge"), high=200.0),
    signal("fault", kind="flag", unit=None, stale_after=1000),
    signal("lock", kind="flag", unit=None, stale_after=5000),
]
CHANNELS = [
    flagged("fault", urgency=0),
    scaled("speed"),
    scaled("charge"),
    Channel(value_of("sum"), Scaled(0.0, 1.0, 201)),
    Channel(touch_state("first", 1), Listed(TOUCH_WORDS), urgency=1),
    Channel(value_of("clock.time"), Scaled(0.0, 1.0, 1440)),
]
SCREENS = [
    BoundScreen("first", (0, 1, 2, 3, 4), (ZoneAction(GoTo("second")), ZoneAction(ToggleOutput("lock")))),
    BoundScreen("second", (0, 2, 5), (ZoneAction(GoTo("first")),), swipes=(("up", "first"),)),
    BoundScreen("stop", (0,), (ZoneAction(Acknowledge()),), (), (value_of("fault", "flag"),), True),
]


def compiled() -> BoundDesign:
    return bound(SIGNALS, CHANNELS, SCREENS, order=("first", "second"), outputs=("lock",))


def values(at: float, **given: object) -> Arrival:
    return Arrival(at, tuple(Reading(name, None, value) for name, value in given.items()))  # type: ignore[arg-type]


class Script:
    """A source that gives what it was told to, when it is due."""

    def __init__(
        self, vehicle_time: VehicleTime, arrivals: Sequence[Arrival] = (), ends: bool = False
    ) -> None:
        self.frames = 0
        self.arrivals = list(arrivals)
        self.closed = False
        self._ends = ends
        self._vehicle_time = vehicle_time

    @property
    def ended(self) -> bool:
        return self._ends and not self.arrivals

    def due(self, now: float) -> list[Arrival]:
        self._vehicle_time.start(now)
        at = self._vehicle_time.at(now)
        due = [arrival for arrival in self.arrivals if arrival.at <= at][:LIMIT]
        self.arrivals = self.arrivals[len(due) :]
        self.frames += len(due)
        return due

    def wait(self, seconds: float, descriptor: int | None) -> None:
        raise AssertionError("the test moves the clock")

    def descriptor(self) -> int | None:
        return None

    health = "up"
    name = "script"

    def next_deadline(self) -> float | None:
        return self._vehicle_time.host(self.arrivals[0].at) if self.arrivals else None

    def take_findings(self) -> list[Finding]:
        return []

    def close(self) -> None:
        self.closed = True


class Bench:
    """A loop, a line and a display, stepped together."""

    def __init__(self, script: list[Arrival] | None = None, **given: object) -> None:
        self.now = 1000.0
        rate = float(given.get("baud", 115200)) / 10  # type: ignore[arg-type]
        self.line = MemoryLine(Faults(rate=rate), Faults(rate=rate))
        self.line.advance(self.now)
        self.far = given.pop("far", None) or Far()
        self.events: list[RuntimeEvent] = []
        self.statuses: list[Status] = []
        self.missing = False
        self.sent: list[RequestMade] = []
        self.deaf: str | None = None
        self.turns = 0
        vehicle_time = VehicleTime()
        self.script = Script(vehicle_time, script or (), bool(given.pop("ends", False)))
        await_display = bool(given.pop("await_display", False))
        design = given.pop("bound", None) or compiled()
        nonce = int(str(given.pop("nonce", 99)))
        self.runtime = Runtime(design, nonce, vehicle_time, **given)  # type: ignore[arg-type]
        self.loop = Loop(
            self.runtime,
            self.open,
            [self.script],
            self.events.append,
            self.statuses.append,
            await_display=await_display,
            send=self.send,
        )

    def send(self, request: RequestMade) -> str | None:
        self.sent.append(request)
        return self.deaf

    def open(self) -> MemoryEnd:
        if self.missing:
            raise DesignError([error("L999", "no such port")])
        # A closed end stays closed; a port that is opened again is a new end of the same line.
        return MemoryEnd(self.line, self.line._forth, self.line._back)

    def to(self, moment: float) -> Bench:
        """Runs to ``moment`` seconds after the start."""
        end = 1000.0 + moment
        while True:
            seconds = self.loop.turn(self.now)
            self.turns += 1
            if self.line.plugged:
                self.far.receive(self.line.far.read(), self.now)
                self.line.far.write(self.far.session.outgoing(self.now))
            if self.loop.ended or self.now >= end:
                return self
            self.now = min(end, self.now + max(seconds, 1e-4))
            self.line.advance(self.now)

    def tap(self, zone: int | None, x: int = 10, y: int = 10, to: tuple[int, int] | None = None) -> None:
        self.far.session.touch(zone, Phase.PRESS, x, y, self.now)
        self.to(self.now - 1000.0 + 0.1)
        self.far.session.touch(zone, Phase.RELEASE, *(to or (x, y)), self.now)
        self.to(self.now - 1000.0 + 0.2)

    def made(self, kind: type) -> list[RuntimeEvent]:
        return [event for event in self.events if isinstance(event, kind)]


def test_values_reach_the_display_and_turn_stale_on_time() -> None:
    bench = Bench([values(0.2, speed=40.0, charge=80.0, fault=False)]).to(0.1)
    assert bench.far.screen == 0 and bench.far.raw == (
        0,
        0,
        0,
        0,
        LIVE,
    )
    bench.to(0.4)
    assert bench.far.raw == (LIVE, LIVE + 40, LIVE + 80, LIVE + 120, LIVE)
    bench.to(0.69)
    assert bench.far.raw[1] == LIVE + 40
    bench.to(0.7 + BATCH + 0.01)
    assert bench.far.raw == (LIVE, 1, LIVE + 80, 1, LIVE)
    bench.to(4.0)
    assert bench.far.raw == (1, 1, 1, 1, LIVE)
    assert bench.runtime.table.stale_count() == 3
    assert bench.events == [LinkChanged(True)]


def test_the_rate_of_the_port_paces_what_is_sent() -> None:
    """Values that move faster than a slow line carries are sent less often, never late: a frame of them all
    takes 0.35 s here, and stands until the next has come."""
    names = [f"cell.{number}" for number in range(200)]
    channels = [scaled(name) for name in names]
    screens = [BoundScreen("first", tuple(range(len(names))), ())]
    moving = bound([signal(name) for name in names], channels, screens)

    def percent(at: float) -> float:
        return float(int(at * 20) * 37 % 101)

    script = [values(turn / 20, **dict.fromkeys(names, percent(turn / 20))) for turn in range(1, 120)]
    bench = Bench(script, bound=moving, baud=9600).to(2.0)
    for tick in range(200, 580):
        bench.to(tick / 100)
        ages = {LIVE + int(percent((tick - back) / 100)): back / 100 for back in range(90, -1, -1)}
        assert set(bench.far.raw) <= ages.keys() | {1}, f"at {tick / 100} s"
    assert len(bench.made(LinkChanged)) == 1


def test_an_urgent_change_goes_at_once_and_others_gather() -> None:
    quick = [values(1.0 + at / 1000, speed=float(at % 100), charge=50.0) for at in range(1000)]
    bench = Bench(quick).to(1.0)
    before = bench.runtime.updates
    bench.to(2.0)
    assert bench.runtime.updates - before <= 1 / BATCH + 1
    runtime = Runtime(compiled(), 1)
    far = Far()
    now = 0.0
    for _ in range(4):
        far.receive(runtime.outgoing(now), now)
        runtime.receive(far.session.outgoing(now), now)
        now += 0.1
    runtime.feed(values(0.0, speed=1.0), now)
    runtime.feed(values(0.0, speed=9.0), now + 0.001)
    runtime.feed(values(0.0, lock=True), now + 0.002)
    updates = runtime.updates
    runtime.feed(values(0.002, fault=True), now + 0.002)
    assert runtime.updates == updates + 1
    far.receive(runtime.outgoing(now + 0.002), now + 0.002)
    assert far.raw[0] == LIVE + 1 or far.screen == 2


def test_a_port_that_vanishes_is_waited_for_and_nothing_is_lost() -> None:
    script = [values(at / 10, speed=at / 2, charge=50.0, fault=False) for at in range(120)]
    bench = Bench(script).to(1.0)
    assert bench.far.raw[2] == LIVE + 50
    bench.missing = True
    bench.line.unplug()
    bench.to(4.0)
    problems = bench.made(Problem)
    assert [problem.finding.code for problem in problems] == ["R731"]  # type: ignore[union-attr]
    assert bench.made(LinkChanged) == [LinkChanged(True), LinkChanged(False)]
    assert bench.statuses[-1].link == "no port"
    bench.missing = False
    bench.line.plug()
    bench.to(4.0 + REOPEN + 2.0)
    assert bench.made(LinkChanged)[-1] == LinkChanged(True)
    bench.to(7.06)
    assert bench.far.raw[1:3] == (LIVE + 35, LIVE + 50)
    bench.to(8.0)
    assert bench.statuses[-1].link == "up" and bench.statuses[-1].frames == pytest.approx(10, abs=2)


def test_a_missing_port_costs_no_work_while_it_is_waited_for() -> None:
    bench = Bench().to(0.5)
    bench.missing = True
    bench.line.unplug()
    bench.to(1.0)
    before = bench.turns
    bench.to(11.0)
    assert bench.turns - before < 120


def test_an_idle_line_costs_little_work() -> None:
    bench = Bench().to(0.5)
    before = bench.turns
    bench.to(10.5)
    # A line in memory has no descriptor to wait on, so the loop looks every 5 ms.
    assert bench.turns - before < 2500


def test_a_display_that_restarts_is_shown_everything_again() -> None:
    bench = Bench([values(0.0, charge=70.0, lock=True)]).to(0.5)
    bench.runtime.go_to("second", bench.now)
    bench.far = Far(nonce=8)
    bench.to(1.9)
    assert bench.far.screen == 1 and bench.far.raw[1] == LIVE + 70


@pytest.mark.parametrize("leap", [86400.0 * 400, -86400.0, 3.0])
def test_a_host_s_clock_that_leaps_hurts_nothing(leap: float) -> None:
    script = [values(at / 10, speed=50.0, charge=50.0, fault=False) for at in range(20)]
    bench = Bench(script).to(1.0)
    steps = 0
    bench.loop.turn(bench.now)
    # The display's own clock does not leap, nor does the line's; only what the run is told of time.
    shown = bench.now
    skewed = bench.now + leap
    begun = time.monotonic()
    while steps < 200:
        bench.loop.turn(skewed)
        bench.far.receive(bench.line.far.read(), shown)
        bench.line.far.write(bench.far.session.outgoing(shown))
        shown, skewed, steps = shown + 0.02, skewed + 0.02, steps + 1
        bench.line.advance(shown)
    assert time.monotonic() - begun < 5.0
    # The script ended two seconds ago by any clock.
    assert bench.far.raw[1] == 1
    assert bench.statuses[-1].link == "up"


def test_a_flood_does_not_keep_the_display_waiting() -> None:
    flood = [values(1.0, speed=float(at % 100), charge=50.0) for at in range(20_000)]
    bench = Bench([*flood, values(1.5, speed=77.0, charge=50.0, fault=False)]).to(1.9)
    assert bench.far.raw == (LIVE, LIVE + 77, LIVE + 50, LIVE + 127, LIVE)
    assert bench.far.silent == 0


def test_touches_change_the_screen_and_requests_are_told() -> None:
    bench = Bench([values(0.0, lock=True)], outputs_allowed=True).to(0.5)
    bench.tap(0)
    assert bench.far.screen == 1 and bench.runtime.screen == "second"
    bench.tap(0)
    assert bench.far.screen == 0
    bench.tap(1)
    assert bench.made(RequestMade) == [RequestMade("lock", False)]
    assert bench.far.raw[4] == LIVE + TOUCH_WORDS.index("sent")
    bench.to(6.0)
    assert bench.made(RequestRefused) == [Refused("lock", "the vehicle did not follow")]
    assert bench.far.raw[4] == LIVE
    assert bench.made(ScreenChanged) == [ScreenChanged("second"), ScreenChanged("first")]


def test_a_request_is_done_when_the_vehicle_reads_it_back() -> None:
    script = [values(0.0, lock=True), values(1.5, lock=True), values(1.9, lock=False)]
    bench = Bench(script, outputs_allowed=True).to(0.5)
    bench.tap(1)
    assert bench.sent == [RequestMade("lock", False)]
    bench.to(1.8)
    assert bench.far.raw[4] == LIVE + TOUCH_WORDS.index("sent")
    bench.to(2.2)
    assert bench.far.raw[4] == LIVE
    done = bench.made(RequestDone)
    assert len(done) == 1 and done[0].seconds == pytest.approx(1.2, abs=0.15)  # type: ignore[union-attr]


def test_time_moves_once_in_a_turn_and_a_touch_is_judged_once(monkeypatch: pytest.MonkeyPatch) -> None:
    moments: list[float] = []
    advance = SignalTable.advance
    monkeypatch.setattr(
        SignalTable, "advance", lambda table, now: moments.append(now) or advance(table, now)
    )
    bench = Bench([values(0.1, speed=40.0), values(0.3, speed=50.0, lock=True)], outputs_allowed=True)
    bench.to(0.5)
    assert len(moments) == len(set(moments)) <= bench.turns + 2
    judged: list[str] = []
    judge = Requests.judge
    monkeypatch.setattr(
        Requests, "judge", lambda self, name, *rest: judged.append(name) or judge(self, name, *rest)
    )
    bench.tap(1)
    assert bench.sent == [RequestMade("lock", False)] and judged == ["lock"]


def test_a_request_that_cannot_be_sent_is_refused_at_once() -> None:
    bench = Bench([values(0.0, lock=True)], outputs_allowed=True).to(0.5)
    bench.deaf = "the bus is off"
    bench.tap(1)
    bench.to(1.0)
    assert bench.made(RequestRefused) == [Refused("lock", "the bus is off")]
    assert bench.made(RequestMade) == [], "told of what was never sent"
    assert bench.far.raw[4] == LIVE + TOUCH_WORDS.index("failed")


def test_a_touch_that_was_held_up_on_the_line_asks_for_nothing() -> None:
    bench = Bench([values(0.0, lock=True)], outputs_allowed=True).to(2.0)
    for phase in (Phase.PRESS, Phase.RELEASE):
        bench.far.session.touch(1, phase, 5, 5, bench.now - 1.5)
    bench.to(2.2)
    assert bench.sent == []
    assert bench.made(RequestRefused) == [Refused("lock", "the touch came 1.5 s late")]
    assert bench.far.raw[4] == LIVE + TOUCH_WORDS.index("failed")


def test_a_request_is_followed_even_when_its_screen_is_left() -> None:
    bench = Bench([values(0.0, lock=True)], outputs_allowed=True).to(0.5)
    bench.tap(1)
    bench.tap(0)
    assert bench.runtime.screen == "second"
    bench.to(5.0)
    assert bench.made(RequestRefused) == [Refused("lock", "the vehicle did not follow")]


def test_a_page_turns_within_its_ends_and_is_kept() -> None:
    page = "page.first.0"
    channel = Channel(value_of(page), Scaled(0.0, 1.0, 3))
    zones = (ZoneAction(TurnPage(page, 1, 2)), ZoneAction(TurnPage(page, -1, 2)), ZoneAction(GoTo("second")))
    screens = [BoundScreen("first", (0,), zones), BoundScreen("second", (), (ZoneAction(GoTo("first")),))]
    bench = Bench(bound=bound(SIGNALS, [channel], screens)).to(0.5)
    shown = [bench.far.raw[0]]
    for zone in (0, 0, 0, 1):
        bench.tap(zone)
        shown.append(bench.far.raw[0])
    assert shown == [LIVE, LIVE + 1, LIVE + 2, LIVE + 2, LIVE + 1]
    bench.tap(2)
    bench.tap(0)
    assert bench.runtime.screen == "first" and bench.far.raw == (LIVE + 1,)


def test_a_finger_on_the_glass_shows_at_once_and_a_refusal_says_why() -> None:
    bench = Bench([values(0.0, lock=True)]).to(0.5)
    bench.far.session.touch(1, Phase.PRESS, 5, 5, bench.now)
    bench.to(0.6)
    assert bench.far.raw[4] == LIVE + TOUCH_WORDS.index(TouchState.PRESSED)
    bench.far.session.touch(1, Phase.RELEASE, 5, 5, bench.now)
    bench.to(0.7)
    assert bench.made(RequestRefused) == [Refused("lock", "this run sends nothing to the vehicle")]


def test_swipes_follow_the_screen_and_the_order() -> None:
    bench = Bench().to(0.5)
    bench.tap(None, 800, 300, to=(400, 310))
    assert bench.far.screen == 1
    bench.tap(None, 800, 300, to=(400, 310))
    assert bench.far.screen == 1
    bench.tap(0, 500, 500, to=(500, 200))
    assert bench.far.screen == 0
    bench.tap(None, 400, 300, to=(800, 310))
    assert bench.far.screen == 0


def test_a_fault_brings_up_its_screen_until_it_is_acknowledged() -> None:
    script = [values(0.0, fault=False), values(0.6, fault=True), values(0.8, fault=True)]
    bench = Bench(script).to(0.64)
    assert bench.far.screen == 2 and bench.far.raw == (LIVE + 1,)
    bench.to(2.5)
    assert bench.far.screen == 2 and bench.far.raw == (1,)
    assert not bench.runtime.go_to("second", bench.now)
    bench.tap(0)
    assert bench.far.screen == 0


@pytest.mark.parametrize(
    ("far", "code", "remedy"),
    [
        (Far(identity=bytes(8)), "R721", "hmic push"),
        (Far(identity=None), "R721", "hmic push"),
        (Far(width=800, height=480), "R722", "design.yaml"),
        (Far(depth=24), "R722", "design.yaml"),
    ],
)
def test_a_display_that_cannot_show_the_design_ends_the_run(far: Far, code: str, remedy: str) -> None:
    bench = Bench([values(0.0, speed=1.0)], far=far).to(5.0)
    assert bench.loop.ended and bench.now < 1001.0
    (finding,) = bench.loop.summary().findings
    assert finding.code == code and remedy in (finding.remedy or "")
    assert bench.far.screen is None


def test_the_sources_wait_for_the_display_if_asked_to() -> None:
    bench = Bench([values(0.0, speed=30.0)], await_display=True)
    bench.line.unplug()
    bench.missing = True
    bench.to(20.0)
    assert bench.script.frames == 0
    bench.missing = False
    bench.line.plug()
    bench.to(21.0)
    assert bench.script.frames == 1 and bench.far.raw[1] in (LIVE + 30, 1)


def test_a_replay_ends_the_run_after_its_last_values() -> None:
    bench = Bench([values(0.0, charge=10.0), values(1.0, charge=20.0)], ends=True).to(9.0)
    assert bench.loop.ended
    assert bench.now - 1000.0 == pytest.approx(1.0 + LINGER, abs=0.05)
    assert bench.far.raw[2] == LIVE + 20
    bench.loop.close()
    assert bench.script.closed
    # The host has gone: by itself the display shows every value as stale.
    bench.far.receive(b"", bench.now + 3.0)
    assert bench.far.silent == 1 and set(bench.far.raw) == {1}


def test_the_time_of_day_and_the_theme() -> None:
    bench = Bench().to(0.3)
    bench.runtime.set_clock(10 * 60 + 24, bench.now)
    bench.runtime.go_to("second", bench.now)
    bench.to(0.6)
    assert bench.far.raw == (0, 0, LIVE + 624)
    assert not bench.runtime.go_to("nowhere", bench.now)


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["feed", "tick", "bytes", "noise"]),
            st.floats(-30.0, 3.0),
            st.sampled_from(["speed", "charge", "fault", "lock", "elsewhere"]),
            st.floats(-50.0, 150.0) | st.booleans() | st.sampled_from(list(Doubt)),
        ),
        max_size=80,
    )
)
def test_any_order_of_events_and_a_clock_that_jumps(moves: list[tuple[str, float, str, object]]) -> None:
    """Whatever happens, what the display has in sight in the end is what the table says, and a
    value that stopped coming does not look live, even if the clock was set back."""
    runtime, far, now, passed = Runtime(compiled(), 3), Far(), 500.0, 0.0

    def exchange() -> None:
        far.receive(runtime.outgoing(now), passed)
        runtime.receive(far.session.outgoing(passed), now)

    for kind, step, name, value in moves:
        now += step
        passed += max(0.0, step)
        if kind == "feed":
            runtime.feed(values(passed, **{name: value}), now)
        elif kind == "tick":
            runtime.tick(now)
        elif kind == "noise":
            runtime.receive(repr(value).encode() + b"\0", now)
        exchange()
    for _ in range(80):
        now += 0.1
        passed += 0.1
        runtime.tick(now)
        exchange()
    screen = runtime.bound.screens[far.screen or 0]
    assert screen.name == runtime.screen
    expected = [raw_value(runtime.bound.channels[at], runtime.table.lookup) for at in screen.channels]
    assert list(far.raw) == expected
    assert all(runtime.table.lookup(name) in (Doubt.UNSEEN, Doubt.STALE) for name in ("speed", "charge"))


def test_run_over_a_virtual_bus_until_interrupted(monkeypatch: pytest.MonkeyPatch) -> None:
    """The real loop with the real clock: a frame on a bus comes out as a value on the display."""

    class Speed(Decoder):
        def decoded(self, frame: Frame) -> tuple[tuple[Reading, ...], Frame]:
            return (Reading("speed", None, float(frame.data[0])),), frame

    vehicle_time = VehicleTime()
    line, far = MemoryLine(), Far()
    live = LiveCan(
        Adapter("runtime-run", "virtual"), Speed({("", 1, False): Watched("Speed", [])}), vehicle_time
    )
    live.start()
    statuses: list[Status] = []
    started: list[float] = []

    def time_of_day() -> float:
        """Called once a turn: plays the display, and presses Ctrl-C when it has the value."""
        now = time.monotonic()
        started.append(now)
        line.advance(now)
        far.receive(line.far.read(), now)
        line.far.write(far.session.outgoing(now))
        bus.send(can.Message(arbitration_id=1, data=[42], is_extended_id=False))
        if (len(far.raw) > 1 and far.raw[1] == LIVE + 42 and statuses) or now - started[0] > 5.0:
            raise KeyboardInterrupt
        return 600.0

    with can.Bus(channel="runtime-run", interface="virtual") as bus:
        summary = run(
            Runtime(compiled(), 5, vehicle_time),
            lambda: line.near,
            [live],
            on_status=statuses.append,
            time_of_day=time_of_day,
        )
    assert far.raw[1] == LIVE + 42
    assert isinstance(summary, Summary) and summary.frames > 0 and summary.findings == ()
    assert statuses[0].link == "up" and statuses[0].frames > 0 and statuses[0].screen == "first"
    with pytest.raises(Exception, match="closed"):
        line.near.read()


def test_what_open_line_raises_at_first_comes_through() -> None:
    def missing() -> MemoryEnd:
        raise DesignError([error("L999", "no such port")])

    with pytest.raises(DesignError, match="no such port"):
        run(Runtime(compiled(), 5), missing, [])


def test_another_panel_is_told_before_another_pack() -> None:
    design = compiled()
    other = replace(design, design=replace(design.design, panel=replace(PANEL, width=800)))
    told = DisplayFacts(1, 1024, 600, 16, bytes(8), 1, 1, 1)
    assert (mismatch(other, told) or error("", "")).code == "R722"
    assert mismatch(design, replace(told, identity=IDENTITY)) is None


def test_a_real_port_that_vanishes_and_comes_back(tmp_path: Path) -> None:
    """Over pseudo terminals: the display's end goes away, and a display that was started anew comes
    up under the same name."""
    name = tmp_path / "port"
    ends = [PseudoTerminal()]
    fars = [Far(nonce=7)]
    name.symlink_to(ends[0].path)
    events: list[RuntimeEvent] = []
    began = time.monotonic()

    def play_the_display() -> float:
        now = time.monotonic()
        if ends:
            fars[-1].receive(ends[0].read(), now)
            ends[0].write(fars[-1].session.outgoing(now))
        shown = fars[-1].raw[2:3] == (LIVE + 60,)
        if now - began > 10.0 or (shown and len(fars) == 2):
            raise KeyboardInterrupt
        if shown and ends:
            ends.pop().close()
            name.unlink()
        elif not ends and any(isinstance(event, Problem) for event in events):
            ends.append(PseudoTerminal())
            fars.append(Far(nonce=8))
            name.symlink_to(ends[0].path)
        return 0.0

    vehicle_time = VehicleTime()
    script = Lasting(vehicle_time, [values(0.0, charge=60.0)], False)
    runtime = Runtime(replace_stale(compiled()), 5, vehicle_time)
    summary = run(
        runtime,
        lambda: open_port(str(name), 115200),
        [script],
        on_event=events.append,
        time_of_day=play_the_display,
    )
    assert len(fars) == 2 and fars[-1].raw[2] == LIVE + 60
    assert [finding.code for finding in summary.findings] == ["R731"]
    assert script.closed


class Lasting(Script):
    """A script under the real clock."""

    def wait(self, seconds: float, descriptor: int | None) -> None:
        rest(min(seconds, 0.01), [descriptor], time.sleep)


def replace_stale(design: BoundDesign) -> BoundDesign:
    """The same, with a charge that stays good for a minute."""
    signals = dict(design.design.signals)
    signals["charge"] = replace(signals["charge"], stale_after=60_000)
    return replace(design, design=replace(design.design, signals=signals))


def test_a_display_that_never_answers_is_told() -> None:
    class Deaf(Far):
        def receive(self, data: bytes, now: float) -> None:
            pass

    bench = Bench([values(0.2, speed=40.0)], far=Deaf())
    bench.to(4.9)
    assert bench.made(Problem) == []
    bench.to(30.0)
    assert [event.finding.code for event in bench.made(Problem) if isinstance(event, Problem)] == ["R732"]
    assert not bench.loop.summary().answered
    heard = Bench().to(10.0)
    assert heard.made(Problem) == [] and heard.loop.summary().answered


def test_touches_meant_for_a_run_that_is_gone_are_told_as_lost() -> None:
    first = Bench().to(0.5)
    for phase in (Phase.PRESS, Phase.RELEASE):
        assert first.far.session.touch(0, phase, 10, 10, first.now)
    second = Bench(far=first.far, nonce=100).to(1.0)
    (problem,) = second.made(Problem)
    assert isinstance(problem, Problem) and problem.finding.code == "R733"
    assert "2 presses and releases" in problem.finding.message
    assert second.to(20.0).made(Problem) == [problem]


def test_a_run_of_years_keeps_few_findings_and_their_count() -> None:
    bench = Bench()
    for _ in range(1000):
        bench.loop._report(Problem(error("R999", "again", None, "look")))
    summary = bench.loop.summary()
    assert len(summary.findings) == KEPT and summary.counts == {"R999": 1000}


def test_what_one_source_held_back_is_not_lost_to_another_s_time() -> None:
    bench = Bench([values(1.5, speed=40.0)])
    other = Script(bench.script._vehicle_time, [values(0.3, charge=80.0)])
    bench.loop._sources = (bench.script, other)
    bench.to(0.1)
    bench.now += 1.9
    bench.loop.turn(bench.now)
    # It came at 0.3 s; at 2.3 s it is 2 s old.
    bench.to(2.2)
    assert bench.runtime.table.lookup("charge") == 80.0
    bench.to(2.35)
    assert bench.runtime.table.lookup("charge") is Doubt.STALE
