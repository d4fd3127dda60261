# ruff: noqa: E501
"""Values by identifier (service 22 of ISO 14229) of several controllers, asked for and overheard.

The controllers are the package can-isotp; what they answer, and refuse, is by hand from ISO 14229-1.
"""

from __future__ import annotations

from collections import Counter, deque
from pathlib import Path
from typing import Any

import can
import isotp
import pytest
from runtime_builders import asked_of, design, signal

from hmic.cli.main import main
from hmic.model.asked import AskedSource, Controller
from hmic.model.byte_formula import byte_formula
from hmic.model.design import SignalDefinition
from hmic.model.expressions import Doubt
from hmic.model.units import unit
from hmic.runtime.adapters import Adapter
from hmic.runtime.answering import overhearing
from hmic.runtime.decoding import Reading
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.obd import SELDOM, SILENT_AFTER, SILENT_PACE, WITHIN, Asker
from hmic.runtime.replays import open_replay
from hmic.runtime.sources import LiveCan, Replay
from hmic.runtime.vehicle_time import VehicleTime, host_seconds
from hmic.sources.frame import Frame

BATTERY = Controller("battery", 0x7E6, 0x7EE)
MOTOR = Controller("motor", 0x18DA44F1, 0x18DAF144)


class Unit:
    """A controller on a bus: ``answers`` by question, both as hexadecimal payloads."""

    def __init__(self, controller: Controller, answers: dict[str, str | list[str]]) -> None:
        self.controller, self.answers = controller, answers
        self.heard: Counter[str] = Counter()
        self.alien: list[Frame] = []
        self.inbox: deque[Any] = deque()
        self.outbox: list[Any] = []
        wide = controller.request > 0x7FF
        mode = isotp.AddressingMode.Normal_29bits if wide else isotp.AddressingMode.Normal_11bits
        self.layer = isotp.TransportLayerLogic(
            rxfn=lambda timeout=0.0: self.inbox.popleft() if self.inbox else None,
            txfn=self.outbox.append,
            address=isotp.Address(mode, txid=controller.response, rxid=controller.request),
            params={"override_receiver_stmin": 0, "tx_padding": 0x55},
        )

    def take(self, frame: Frame) -> None:
        identifier, wide = self.controller.asks
        if (frame.identifier, frame.extended) != (identifier, wide):
            self.alien.append(frame)
            return
        self.inbox.append(isotp.CanMessage(identifier, len(frame.data), frame.data, extended_id=wide))

    def turn(self, now: float) -> list[Frame]:
        self.layer.process(do_rx=True, do_tx=True)
        while (asked := self.layer.recv()) is not None:
            question = bytes(asked).hex()
            self.heard[question] += 1
            said = self.answers.get(question, [])
            for answer in [said] if isinstance(said, str) else said:
                self.layer.send(bytes.fromhex(answer))
            self.layer.process(do_rx=True, do_tx=True)
        sent = [self.outbox.pop(0) for _ in range(len(self.outbox))]
        return [Frame(now, each.arbitration_id, each.is_extended_id, bytes(each.data)) for each in sent]


def asked(
    name: str, controller: Controller | None, number: int, formula: str, every: int = 200, **given: Any
) -> SignalDefinition:
    count, service, bus = given.pop("count", None), given.pop("service", 0x22), given.pop("bus", "")
    source = AskedSource(
        number, every, bus, service, controller, byte_formula(formula, count) if formula else None
    )
    fields = {"unit": unit("V"), "low": 0.0, "high": 9000.0, "count": count} | given
    return signal(name, asked=source, **fields)


CHARGE = asked("charge", BATTERY, 0x4C01, "unsigned(1, 2) / 100")
CELLS = asked(
    "cells", BATTERY, 0x0203, "unsigned(2 * n - 1, 2 * n) / 1000", count=90, every=1000, no_data=65.535
)
LOAD = asked("load", MOTOR, 0xF40A, "signed(1, 2)")


def named(*signals: SignalDefinition) -> dict[str, SignalDefinition]:
    return {each.name: each for each in signals}


VOLTS = [3500 + at for at in range(89)] + [65535]
LONG = "620203" + b"".join(value.to_bytes(2) for value in VOLTS).hex()


def test_several_controllers_each_by_its_own_identifiers() -> None:
    """A short answer, one of 183 bytes in many frames, and one of a controller with 29 bits."""
    asker = Asker(named(CHARGE, CELLS, LOAD))
    battery = Unit(BATTERY, {"224c01": "624c011F40", "220203": LONG})
    motor = Unit(MOTOR, {"22f40a": "62f40aff9c"})
    came = asked_of(asker, [battery, motor], 4.0)
    values = {(each.name, each.element): each.value for _, each in came}
    assert values["charge", None] == 80.0 and values["load", None] == -100.0
    cells = [values["cells", at] for at in range(90)]
    assert cells[:89] == pytest.approx([volts / 1000 for volts in VOLTS[:89]]) and cells[89] is Doubt.UNSEEN
    counts = Counter(each.name for _, each in came)
    assert counts["charge"] >= 15 and counts["load"] >= 15 and counts["cells"] in (3 * 90, 4 * 90)
    assert asker.take_findings() == [] and asker.answered and asker.silence == ""
    # Each got only what was for it, and nothing else was sent.
    assert {each.identifier for each in battery.alien} == {MOTOR.request}
    assert {each.identifier for each in motor.alien} == {BATTERY.request}
    assert set(battery.heard) == {"224c01", "220203"} and asker.heard == {BATTERY.answers, MOTOR.answers}


def test_states_and_flags_follow_from_bits() -> None:
    state = asked("state", MOTOR, 0x0001, "A >> 4", kind="word", unit=None, words={0: "Off", 3: "On"})
    closed = asked("closed", MOTOR, 0x0001, "A & 3", kind="flag", unit=None)
    asker = Asker(named(state, closed))
    answers = [("31", ["On", True]), ("00", ["Off", False]), ("22", [Doubt.OUT_OF_RANGE] * 2)]
    for at, (answer, words) in enumerate(answers):
        came = asked_of(asker, [Unit(MOTOR, {"220001": f"620001{answer}"})], 0.1, begin=10.0 * at)
        assert [each.value for _, each in came] == words
    split = asked("split", MOTOR, 0x0001, "10 / A")
    came = asked_of(Asker(named(split)), [Unit(MOTOR, {"220001": "62000100"})], 0.1)
    assert [each.value for _, each in came] == [Doubt.OUT_OF_RANGE]


def test_service_01_of_one_controller() -> None:
    """By the published table, and by a formula where that lacks a parameter."""
    speed = asked("speed", MOTOR, 0x0D, "", service=1, unit=unit("km/h"))
    other = asked("other", MOTOR, 0xA4, "unsigned(3, 4) / 1000", service=1)
    asker = Asker(named(speed, other))
    motor = Unit(MOTOR, {"010d": "410d64", "01a4": "41a400000bb8"})
    assert {(each.name, each.value) for _, each in asked_of(asker, [motor], 1.0)} == {
        ("speed", 100.0),
        ("other", 3.0),
    }
    assert motor.alien == []


REFUSALS = [
    ("11", "it does not know service 22"), ("31", "it does not have that identifier"), ("33", "it keeps it locked"),
    ("22", "not as the vehicle is now"), ("7f", "not in the session that it is in"), ("14", "would be too long"),
    ("ab", "its reason has the number AB"),
]  # fmt: skip


@pytest.mark.parametrize(("why", "told"), REFUSALS)
def test_refusals_are_told_apart(why: str, told: str) -> None:
    asker = Asker(named(CHARGE, LOAD))
    battery = Unit(BATTERY, {"224c01": f"7f22{why}"})
    motor = Unit(MOTOR, {"22f40a": "62f40a0001"})
    came = asked_of(asker, [battery, motor], 60.0)
    (finding,) = asker.take_findings()
    assert finding.code == "R771" and finding.message.endswith(told)
    assert "controller 'battery' refuses identifier 4C01 for 'charge'" in finding.message
    # Asked ever more seldom, at the cost of nobody else; it holds up the next question no longer than it takes.
    assert battery.heard["224c01"] <= 12 and len(came) >= 280 and asker.answered
    battery.answers["224c01"] = "624c011F40"
    later = asked_of(asker, [battery, motor], SELDOM + 1, begin=60.0)
    assert "charge" in {each.name for _, each in later}


def test_a_controller_that_is_silent_hinders_no_other() -> None:
    asker = Asker(named(CHARGE, CELLS, LOAD))
    motor = Unit(MOTOR, {"22f40a": "62f40a0001"})
    sent: list[float] = []
    came = []
    for step in range(6000):
        now = step / 100
        for frame in asker.outgoing(now):
            sent += [now] * (frame.identifier == BATTERY.request)
            motor.take(frame)
        came += [reading for frame in motor.turn(now) for reading in asker.take(frame, now)]
    (finding,) = asker.take_findings()
    assert finding.code == "R762" and "'battery' does not answer what is asked by 0x7E6" in finding.message
    assert asker.silence == "battery does not answer OBD" and not asker.answered
    # It is asked once a second or less, and each time the others wait for as long as an answer may take.
    late = [at for at in sent if at > 10.0]
    assert 30 <= len(late) <= 51 and len(came) >= 180
    battery = Unit(BATTERY, {"224c01": "624c011F40", "220203": LONG})
    later = asked_of(asker, [battery, motor], 5.0, begin=60.0)
    first = next(at for at, each in later if each.name == "charge") - 60.0
    assert first <= SILENT_PACE + SILENT_AFTER * WITHIN and asker.answered


def test_an_answer_is_of_the_controller_that_was_asked() -> None:
    """The same bytes by another identifier, of another width, or to another question are none."""
    asker = Asker(named(CHARGE))
    assert asker.outgoing(0.0) == [Frame(0.0, 0x7E6, False, bytes.fromhex("03224c01cccccccc"))]
    answer = bytes.fromhex("05624c011f400000")
    for frame in (
        Frame(0.01, 0x7ED, False, answer),
        Frame(0.01, 0x7EE, True, answer),
        Frame(0.01, 0x7EE, False, bytes.fromhex("056201021f400000")),
        Frame(0.01, 0x7EE, False, bytes.fromhex("037f010100000000")),
    ):
        assert asker.take(frame, 0.01) == ()
    assert asker.take(Frame(0.02, 0x7EE, False, answer), 0.02) == (Reading("charge", None, 80.0),)
    # One that nobody asked for, in many frames, gets no permission to go on.
    assert asker.take(Frame(0.03, 0x7EE, False, bytes.fromhex("10b7620203112233")), 0.03) == ()
    assert asker.outgoing(0.04) == []


def test_an_answer_with_too_few_bytes_is_told() -> None:
    asker = Asker(named(CHARGE, CELLS))
    battery = Unit(BATTERY, {"224c01": "624c011F", "220203": LONG[:-4]})
    came = asked_of(asker, [battery], 6.0)
    assert {each.name for _, each in came} == {"cells"} and max(each.element or 0 for _, each in came) == 88
    told = asker.take_findings()
    assert {each.code for each in told} == {"R775"}
    assert "the answer to identifier 4C01 has 1 bytes, 'charge' takes 2" in {each.message for each in told}
    assert len(told) == 3 and asker.answered


def test_of_several_that_answer_all_one_is_heard() -> None:
    """Two controllers have the parameter that all are asked for: their values never alternate."""
    speed = signal("speed", unit=unit("km/h"), high=255.0, asked=AskedSource(0x0D, 200))
    asker, came = Asker(named(speed)), []
    for turn in range(20):
        now = turn * 0.25
        assert asker.outgoing(now)
        frames = [Frame(now, 0x7E8 + at, False, bytes([3, 0x41, 0x0D, 50 + at, 0, 0, 0, 0])) for at in (0, 1)]
        # Either may be the faster one.
        for frame in frames if turn % 2 == 0 else reversed(frames):
            came += [each.value for each in asker.take(frame, now)]
    assert came == [50.0] * 20
    # When it is gone the other is heard.
    later = []
    for turn in range(8):
        now = 10.0 + turn * 0.25
        asker.outgoing(now)
        later += asker.take(Frame(now, 0x7E9, False, bytes([3, 0x41, 0x0D, 51, 0, 0, 0, 0])), now)
    assert later and {each.value for each in later} == {51.0}
    overheard = load_decoder(design([speed]), overhearing(design([speed])))
    read = [
        overheard.readings(Frame(0.0, 0x7E8 + at % 2, False, bytes([3, 0x41, 0x0D, at, 0, 0, 0, 0])))
        for at in range(9)
    ]
    assert [each[0].value for each in read if each] == [0.0, 2.0, 4.0, 6.0, 8.0]


# Recordings


def test_a_recording_of_questions_and_answers_replays(tmp_path: Path) -> None:
    """A tester of its own (can-isotp) asks a battery; the recording has both sides, and plays without any."""
    battery = Unit(BATTERY, {"224c01": "624c011F40", "220203": LONG, "220104": "7f2231"})
    tester = Unit(Controller("tester", BATTERY.response, BATTERY.request), {})
    frames: list[Frame] = []
    for at, question in enumerate(("224c01", "220203", "220104", "224c01")):
        tester.layer.send(bytes.fromhex(question))
        for step in range(80):
            now = 100.0 + at + step / 100
            for one, other in ((tester, battery), (battery, tester)):
                for frame in one.turn(now):
                    frames.append(frame)
                    other.take(frame)
    assert len(frames) > 30
    path = tmp_path / "asked.log"
    path.write_text(
        "".join(f"({each.at:.6f}) can0 {each.identifier:03X}#{each.data.hex()}\n" for each in frames)
    )
    made = design([CHARGE, CELLS, LOAD])
    source = Replay(open_replay(made, [str(path)]), load_decoder(made, overhearing(made)), VehicleTime(None))
    came: list[Reading] = []
    while not source.ended:
        came += [reading for arrival in source.due(0.0) for reading in arrival.readings]
    assert [each.name for each in came] == ["charge", *["cells"] * 90, "charge"]
    assert came[0].value == came[-1].value == 80.0 and came[1].value == pytest.approx(3.5)
    assert source.take_findings() == []


def test_answers_are_overheard_of_their_own_controller_and_bus_only() -> None:
    made = design([asked("charge", BATTERY, 0x4C01, "unsigned(1, 2) / 100", bus="car")])
    decoder = load_decoder(made, overhearing(made))
    answer = bytes.fromhex("05624c011f400000")
    for identifier, bus in ((0x7EE, "drive"), (0x7ED, "car"), (0x7E6, "car")):
        assert decoder.readings(Frame(0.0, identifier, False, answer, bus=bus)) == ()
    assert decoder.readings(Frame(0.0, 0x7EE, False, answer, bus="car")) == (Reading("charge", None, 80.0),)


# On a bus


def test_two_buses_are_asked_each_for_its_own() -> None:
    """Live, by python-can: what is asked on a bus, and what for."""
    there = [can.Bus(f"identifiers-{at}", interface="virtual") for at in range(2)]
    units = [Unit(BATTERY, {"224c01": "624c011F40"}), Unit(MOTOR, {"22f40a": "62f40aff9c"})]
    signals = [
        asked("charge", BATTERY, 0x4C01, "unsigned(1, 2) / 100", bus="car"),
        asked("load", MOTOR, 0xF40A, "signed(1, 2)", bus="drive"),
    ]
    made, time = design(signals), VehicleTime()
    sources = [
        LiveCan(
            Adapter(f"identifiers-{at}", "virtual"),
            load_decoder(made),
            time,
            asker=Asker(made.signals, bus),
            bus=bus,
        )
        for at, bus in enumerate(("car", "drive"))
    ]
    for source in sources:
        source.start()
        source.await_open(host_seconds() + 3.0)
    try:
        came: dict[str, Any] = {}
        until = host_seconds() + 5.0
        while len(came) < 2 and host_seconds() < until:
            for source, bus, far in zip(sources, there, units, strict=True):
                came |= {each.name: each.value for due in source.due(host_seconds()) for each in due.readings}
                while (heard := bus.recv(0.001)) is not None:
                    far.take(Frame(0.0, heard.arbitration_id, heard.is_extended_id, bytes(heard.data)))
                for frame in far.turn(0.0):
                    bus.send(
                        can.Message(
                            arbitration_id=frame.identifier, is_extended_id=frame.extended, data=frame.data
                        )
                    )
        assert came == {"charge": 80.0, "load": -100.0} and [source.health for source in sources] == [
            "up",
            "up",
        ]
        assert all(far.alien == [] for far in units)
    finally:
        for each in (*sources,):
            each.close()
        for bus in there:
            bus.shutdown()


def test_nothing_is_asked_without_leave(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Service 22 asks as service 01 does: by --obd, and that needs --allow-outputs."""
    for given in (["--obd"], ["--obd", "--can", "virtual:leave"], ["--obd", "--allow-outputs"]):
        assert main(["run", str(tmp_path), "--port", "/dev/null", *given]) == 2
        assert "U934" in capsys.readouterr().err
