"""A whole run on python-can's virtual bus: the example van answers touches and OBD questions."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import can
import pytest
from runtime_builders import Far, Refused, signal

from hmic.cli.designs import compile_or_stop
from hmic.compile.bind import bind
from hmic.link.memory import Faults, MemoryLine
from hmic.model.actions import SetOutput
from hmic.model.asked import AskedSource
from hmic.model.units import unit
from hmic.runtime.adapters import Adapter
from hmic.runtime.binding import BoundDesign
from hmic.runtime.from_dbc import load_decoder, load_encoder
from hmic.runtime.obd import Asker
from hmic.runtime.refusals import RequestRefused
from hmic.runtime.requests import RequestDone, RequestMade
from hmic.runtime.run import Loop
from hmic.runtime.runtime import Runtime, RuntimeEvent
from hmic.runtime.sources import LiveCan
from hmic.runtime.vehicle_time import VehicleTime
from hmic.wire.events import Phase
from tests.tools.changed import replace

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
HOUSE_STATE, HOUSE_REQUEST = 1554, 1810


@pytest.fixture(scope="module")
def van() -> BoundDesign:
    return bind(compile_or_stop(DUNLIN))


class House:
    """The controller of the living part: it does what it is asked, and says so."""

    def __init__(self, channel: str) -> None:
        self.bus = can.Bus(channel=channel, interface="virtual")
        self.state = bytearray([0b0000_0100, 40, 60])
        self.asked: list[bytes] = []
        self.obd: list[bytes] = []
        self.obeys = True

    def turn(self) -> None:
        while (message := self.bus.recv(0.0)) is not None:
            if message.arbitration_id == HOUSE_REQUEST:
                self.asked.append(bytes(message.data))
                if self.obeys:
                    self.state[0], self.state[1] = message.data[0], message.data[1]
            elif message.arbitration_id == 0x7DF:
                self.obd.append(bytes(message.data))
                self.send(0x7E8, bytes.fromhex("03410d5a"))
        self.send(HOUSE_STATE, bytes(self.state))

    def send(self, identifier: int, data: bytes) -> None:
        self.bus.send(can.Message(arbitration_id=identifier, data=data, is_extended_id=False))


class Run:
    """A loop on the bus with a display in memory, under the test's clock."""

    def __init__(self, van: BoundDesign, channel: str, allowed: bool, asker: Asker | None = None) -> None:
        self.house = House(channel)
        self.now = 0.0
        clock = VehicleTime()
        decoder = load_decoder(van.design)
        self.bus = LiveCan(Adapter(channel, "virtual"), decoder, clock, lambda: self.now, asker)
        self.bus.listener.step()
        encoder = load_encoder(van.design) if allowed else None
        self.runtime = Runtime(van, 5, clock, outputs_allowed=allowed, encoder=encoder)
        panel = van.design.panel
        self.far = Far(van.identity, depth=panel.depth, width=panel.width, height=panel.height)
        self.line = MemoryLine(Faults(rate=11520.0), Faults(rate=11520.0))
        self.events: list[RuntimeEvent] = []
        self.loop = Loop(self.runtime, lambda: self.line.near, [self.bus], self.events.append, send=self.send)

    def send(self, request: RequestMade) -> str | None:
        assert request.frame is not None
        return self.bus.send(request.frame)

    def to(self, until: float) -> None:
        while self.now < until:
            self.house.turn()
            self.listen()
            self.loop.turn(self.now)
            self.far.receive(self.line.far.read(), self.now)
            self.line.far.write(self.far.session.outgoing(self.now))
            self.now += 0.02
            self.line.advance(self.now)

    def listen(self) -> None:
        """The work of the bus's thread, until there is nothing more to read."""
        self.bus.listener.step()
        while not self.bus.listener.idle:
            self.bus.listener.step()

    def touch(self, output: str, wanted: bool) -> None:
        """A short press of the field of a switch that asks for ``wanted`` of the output."""
        screen = next(each for each in self.runtime.bound.screens if each.name == self.runtime.screen)
        asks = SetOutput(output, wanted)
        zone = next(number for number, zone in enumerate(screen.zones) if zone.action == asks)
        self.far.session.touch(zone, Phase.PRESS, 5, 5, self.now)
        self.to(self.now + 0.1)
        self.far.session.touch(zone, Phase.RELEASE, 5, 5, self.now)
        self.to(self.now + 0.1)

    def close(self) -> None:
        self.loop.close()
        self.house.bus.shutdown()


@pytest.fixture
def runs(van: BoundDesign, request: pytest.FixtureRequest) -> Iterator[list[Run]]:
    made: list[Run] = []
    yield made
    for run in made:
        run.close()


def test_a_touch_becomes_one_frame_and_the_answer_is_seen(van: BoundDesign, runs: list[Run]) -> None:
    run = Run(van, "van-1", allowed=True)
    runs.append(run)
    run.runtime.go_to("parked", 0.0)
    run.to(0.6)
    assert run.far.screen is not None
    run.touch("house.lights", True)
    run.to(run.now + 0.3)
    # Lights on, heater and fridge as they read, dimmer 40 %.
    assert run.house.asked == [bytes([0b0000_0101, 40])]
    assert [type(event) for event in run.events if isinstance(event, RequestMade | RequestDone)] == [
        RequestMade,
        RequestDone,
    ]
    assert run.runtime.table.lookup("house.lights") is True
    run.house.obeys = False
    run.touch("house.fridge", False)
    run.to(run.now + 4.0)
    assert run.house.asked[1:] == [bytes([0b0000_0001, 40])]
    assert [event for event in run.events if isinstance(event, RequestRefused)] == [
        Refused("house.fridge", "the vehicle did not follow")
    ]


def test_nothing_at_all_is_sent_unless_it_was_allowed(van: BoundDesign, runs: list[Run]) -> None:
    run = Run(van, "van-2", allowed=False)
    runs.append(run)
    run.runtime.go_to("parked", 0.0)
    run.to(0.6)
    run.touch("house.lights", True)
    assert run.house.asked == [] and run.house.obd == []
    assert [event for event in run.events if isinstance(event, RequestRefused)] == [
        Refused("house.lights", "this run sends nothing to the vehicle")
    ]


def test_values_are_asked_for_by_obd_at_their_rate(van: BoundDesign, runs: list[Run]) -> None:
    speed = signal("vehicle.pace", unit=unit("km/h"), high=255.0, asked=AskedSource(0x0D, 200))
    design = replace(van.design, signals={**van.design.signals, "vehicle.pace": speed})
    run = Run(replace(van, design=design), "van-3", True, Asker({"vehicle.pace": speed}))
    runs.append(run)
    run.to(2.0)
    assert run.runtime.table.lookup("vehicle.pace") == 90.0
    assert 8 <= len(run.house.obd) <= 11 and set(run.house.obd) == {bytes.fromhex("02010dcccccccccc")}
    assert run.bus.health == "up"
