"""Touches that come late, or are read by a host that was held up: what the finger cannot have meant."""

from __future__ import annotations

from runtime_builders import Far, Refused, bound, flagged, signal, value_of

from hmic.model.actions import Acknowledge, SetOutput, ZoneAction
from hmic.model.channels import Channel, Listed
from hmic.model.touch_progress import TOUCH_WORDS, touch_state
from hmic.runtime.binding import BoundScreen
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.refusals import RequestRefused
from hmic.runtime.requests import RequestMade
from hmic.runtime.runtime import Runtime
from hmic.runtime.touching import ConfirmAsked
from hmic.runtime.vehicle_time import VehicleTime
from hmic.wire.events import Phase

SIGNALS = [signal(name, kind="flag", unit=None, stale_after=0) for name in ("clear", "hot", "leak")]
CHANNELS = [
    Channel(touch_state("first", 0), Listed(TOUCH_WORDS), urgency=1),
    flagged("hot", 0),
    flagged("leak", 0),
]


class Pair:
    """A runtime and a display, with a clock that the test moves."""

    def __init__(self, zone: ZoneAction) -> None:
        causes = (value_of("hot", "flag"), value_of("leak", "flag"))
        stop = BoundScreen("stop", (1, 2), (ZoneAction(Acknowledge()),), (), causes, True)
        screens = [BoundScreen("first", (0, 1, 2), (zone,)), stop]
        design = bound(SIGNALS, CHANNELS, screens, outputs=("clear",))
        self.runtime, self.far, self.now = Runtime(design, 1, VehicleTime(), outputs_allowed=True), Far(), 0.0
        self.pass_time(0.4)

    def pass_time(self, seconds: float) -> None:
        for _ in range(round(seconds / 0.05)):
            self.far.receive(self.runtime.outgoing(self.now), self.now)
            self.runtime.receive(self.far.session.outgoing(self.now), self.now)
            self.now += 0.05
            self.runtime.tick(self.now)

    def finger(self, *moves: tuple[float, Phase]) -> bytes:
        """What the display says of these moves, not yet read."""
        for later, phase in moves:
            self.far.session.touch(0, phase, 5, 5, self.now + later)
        return self.far.session.outgoing(self.now + moves[-1][0])

    def feed(self, **given: bool) -> None:
        readings = tuple(Reading(name, None, value) for name, value in given.items())
        self.runtime.feed(Arrival(self.now, readings), self.now)

    def said(self, *kinds: type) -> list[object]:
        return [event for event in self.runtime.take_events() if isinstance(event, kinds)]


def test_two_taps_read_in_one_go_are_one_question() -> None:
    pair = Pair(ZoneAction(SetOutput("clear", True), confirm="Clear it?"))
    taps = [(0.0, Phase.PRESS), (0.05, Phase.RELEASE), (0.15, Phase.PRESS), (0.2, Phase.RELEASE)]
    pair.runtime.receive(pair.finger(*taps), pair.now + 0.2)
    assert {type(event) for event in pair.said(ConfirmAsked, RequestMade)} == {ConfirmAsked}


def test_a_host_that_was_held_up_does_not_count_its_pause_as_holding() -> None:
    pair = Pair(ZoneAction(SetOutput("clear", True), held_ms=2000))
    pair.runtime.receive(pair.finger((0.0, Phase.PRESS)), pair.now)
    short = pair.finger((0.1, Phase.RELEASE))
    pair.runtime.receive(short, pair.now + 2.3)
    assert pair.said(RequestMade, RequestRefused) == [Refused("clear", "must be held for 2 s")]


def test_a_finger_that_holds_long_enough_is_believed() -> None:
    pair = Pair(ZoneAction(SetOutput("clear", True), held_ms=2000))
    pair.runtime.receive(pair.finger((0.0, Phase.PRESS)), pair.now)
    pair.pass_time(2.1)
    pair.runtime.receive(pair.finger((0.0, Phase.RELEASE)), pair.now)
    assert len(pair.said(RequestMade)) == 1


def test_a_late_acknowledgement_answers_nothing() -> None:
    pair = Pair(ZoneAction(SetOutput("clear", True)))
    pair.feed(hot=True, leak=False)
    pair.pass_time(0.4)
    assert pair.runtime.screen == "stop"
    late = pair.finger((0.0, Phase.PRESS), (0.1, Phase.RELEASE))
    pair.now += 1.5
    pair.runtime.receive(late, pair.now)
    assert pair.runtime.screen == "stop"


def test_a_cause_that_comes_under_the_finger_is_not_acknowledged() -> None:
    pair = Pair(ZoneAction(SetOutput("clear", True)))
    pair.feed(hot=True, leak=False)
    pair.pass_time(0.4)
    pair.runtime.receive(pair.finger((0.0, Phase.PRESS)), pair.now)
    pair.feed(leak=True)
    pair.runtime.receive(pair.finger((0.2, Phase.RELEASE)), pair.now + 0.2)
    assert pair.runtime.screen == "stop"
    pair.pass_time(0.4)
    pair.runtime.receive(pair.finger((0.0, Phase.PRESS), (0.1, Phase.RELEASE)), pair.now)
    assert pair.runtime.screen == "first"
