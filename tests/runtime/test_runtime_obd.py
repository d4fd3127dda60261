"""Answers by OBD told apart, on identifiers of 11 and of 29 bits, asked for and overheard.

The controller is the package can-isotp (its addresses of 29 bits are the "normal fixed" ones of ISO 15765-2);
the words of refusals are those of ISO 14229-1, from memory.
"""

from __future__ import annotations

from collections import deque
from pathlib import Path
from typing import Any

import isotp
import pytest
from runtime_builders import asked_of, design, signal

from hmic.model.asked import AskedSource
from hmic.model.units import unit
from hmic.runtime.answering import overhearing
from hmic.runtime.decoding import Reading
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.obd import SELDOM, SILENT_AFTER, SILENT_PACE, Asker
from hmic.runtime.replays import open_replay
from hmic.runtime.sources import Replay
from hmic.runtime.vehicle_time import VehicleTime
from hmic.sources.frame import Frame


class Controller:
    """A controller of a vehicle: what it says to each question (a payload), on one of the two kinds of
    identifiers. Questions are told by their payload."""

    def __init__(self, wide: bool, answers: dict[str, list[str]]) -> None:
        self.wide = wide
        self.answers = answers
        self.heard: list[str] = []
        self.inbox: deque[Any] = deque()
        self.outbox: list[Any] = []
        mode, all_of_it = isotp.AddressingMode, {"txid": 0x7E8, "rxid": 0x7E0}
        if wide:
            address = isotp.Address(mode.NormalFixed_29bits, source_address=0x10, target_address=0xF1)
        else:
            address = isotp.Address(mode.Normal_11bits, **all_of_it)
        self.layer = isotp.TransportLayerLogic(
            rxfn=lambda timeout=0.0: self.inbox.popleft() if self.inbox else None,
            txfn=self.outbox.append,
            address=address,
            params={"override_receiver_stmin": 0, "tx_padding": 0xAA},
        )

    def take(self, frame: Frame) -> None:
        if frame.extended is not self.wide:
            return
        everyone = 0x18DB33F1 if self.wide else 0x7DF
        if frame.identifier == everyone:
            question = frame.data[1 : 1 + frame.data[0]].hex()
            self.heard.append(question)
            for answer in self.answers.get(question, []):
                self.layer.send(bytes.fromhex(answer))
        else:
            # What is sent to this one alone: when its long answer may go on.
            alone = 0x18DA10F1 if self.wide else 0x7E0
            assert frame.identifier == alone
            self.inbox.append(isotp.CanMessage(alone, len(frame.data), frame.data, extended_id=self.wide))

    def turn(self, now: float) -> list[Frame]:
        self.layer.process(do_rx=True, do_tx=True)
        said = [self.outbox.pop(0) for _ in range(len(self.outbox))]
        return [Frame(now, each.arbitration_id, each.is_extended_id, bytes(each.data)) for each in said]


def asked(name: str, pid: int, spelling: str, every: int = 1000, bus: str = "") -> Any:
    return signal(name, unit=unit(spelling), low=-100.0, high=500.0, asked=AskedSource(pid, every, bus))


SPEED = asked("v.speed", 0x0D, "km/h", 200)
WARM = asked("v.warm", 0x05, "°C", 200)


@pytest.mark.parametrize("wide", [False, True])
def test_both_kinds_of_identifiers_are_found(wide: bool) -> None:
    asker = Asker({"v.speed": SPEED})
    controller = Controller(wide, {"010d": ["410d64"]})
    came = asked_of(asker, [controller], 5.0)
    assert {reading for _, reading in came} == {Reading("v.speed", None, 100.0)}
    assert len(came) >= 20 and came[0][0] < 0.5 and asker.answered and not asker.take_findings()


def test_a_vehicle_that_wakes_later_is_found() -> None:
    asker = Asker({"v.speed": SPEED})
    assert asked_of(asker, [], 6.0) == []
    assert [finding.code for finding in asker.take_findings()] == ["R762"] and not asker.answered
    for wide in (True, False):
        controller = Controller(wide, {"010d": ["410d64"]})
        begin = 100.0 if wide else 200.0
        first = asked_of(asker, [controller], 8.0, begin)
        # It may ask by the other kind first; while one is answered that one is kept.
        assert first and first[0][0] - begin <= 2 * SILENT_PACE + (SILENT_AFTER + 1) * 1.0, wide
        assert asker.answered


def test_while_nobody_answers_it_is_asked_once_a_second() -> None:
    asker = Asker({"v.speed": SPEED})
    sent = [now / 100 for now in range(6000) if asker.outgoing(now / 100)]
    late = [at for at in sent if at > 10.0]
    assert 35 <= len(late) <= 51


def test_a_refusal_is_no_silence() -> None:
    asker = Asker({"v.speed": SPEED, "v.warm": WARM})
    controller = Controller(False, {"010d": ["410d64"], "0105": ["7f0112"]})
    came = asked_of(asker, [controller], 120.0)
    told = asker.take_findings()
    assert [finding.code for finding in told] == ["R771"] and asker.answered
    assert "controller 7E8 refuses parameter 05 for 'v.warm'" in told[0].message
    assert "does not have that parameter" in told[0].message
    # It is asked for ever more seldom, and the other no less often for it.
    assert controller.heard.count("0105") <= 12 and len(came) > 500
    controller.answers["0105"] = ["410564"]
    later = [each for _, each in asked_of(asker, [controller], SELDOM + 1, 120.0)]
    assert Reading("v.warm", None, 60.0) in later


def test_another_controller_may_have_what_one_refuses() -> None:
    asker = Asker({"v.speed": SPEED})
    refuses, gives = Controller(False, {"010d": ["7f0111"]}), Controller(False, {"010d": ["410d64"]})
    came = asked_of(asker, [refuses, gives], 3.0)
    assert len(came) > 10 and not asker.take_findings()


def test_an_answer_that_is_put_off_is_waited_for() -> None:
    asker = Asker({"v.speed": SPEED})
    controller = Controller(False, {"010d": ["7f0178"]})
    frames = asker.outgoing(0.0)
    controller.take(frames[0])
    for frame in controller.turn(0.0):
        assert asker.take(frame, 0.05) == ()
    # Nothing else is asked meanwhile, and the answer counts when it comes.
    assert not any(asker.outgoing(at / 100) for at in range(6, 450))
    answer = Frame(4.5, 0x7E8, False, bytes.fromhex("03410d64"))
    assert asker.take(answer, 4.5) == (Reading("v.speed", None, 100.0),)
    # One that never comes is told as that, and is no silence.
    asked_of(asker, [controller], 60.0, 5.0)
    told = asker.take_findings()
    assert [finding.code for finding in told] == ["R771"] and "put off" in told[0].message and asker.answered


def test_a_controller_that_puts_off_for_ever_holds_up_nothing() -> None:
    asker = Asker({"v.speed": SPEED, "v.warm": WARM})
    begun, asked_for = 0.0, []
    for step in range(12000):
        begun = step / 100
        for frame in asker.outgoing(begun):
            asked_for.append(frame.data[2])
        asker.take(Frame(begun, 0x7E8, False, bytes.fromhex("037f0178")), begun)
    assert {0x05, 0x0D} <= set(asked_for)


# Overheard


def log_of(folder: Path, wide: bool) -> tuple[Path, int]:
    """A recording of a tester that asks a controller for two values in one question."""
    controller = Controller(wide, {"010d05": ["410d640564420bb8"]})
    everyone = 0x18DB33F1 if wide else 0x7DF
    lines, now = [], 100.0
    question = Frame(now, everyone, wide, bytes.fromhex("03010d05cccccccc"))
    frames = [question]
    controller.take(question)
    for _ in range(20):
        now += 0.01
        for frame in controller.turn(now):
            frames.append(frame)
            if frame.data[0] >> 4 == 1:
                alone = 0x18DA10F1 if wide else 0x7E0
                go = Frame(now, alone, wide, bytes.fromhex("300000cccccccccc"))
                frames.append(go)
                controller.take(go)
    width = 8 if wide else 3
    lines = [f"({each.at:.6f}) can0 {each.identifier:0{width}X}#{each.data.hex()}" for each in frames]
    path = folder / "asked.log"
    path.write_text("\n".join(lines) + "\n")
    return path, len(frames)


@pytest.mark.parametrize("wide", [False, True])
def test_a_recording_of_questions_and_answers_replays(tmp_path: Path, wide: bool) -> None:
    made = design([SPEED, WARM, asked("v.net", 0x42, "V")])
    path, count = log_of(tmp_path, wide)
    assert count >= 4
    source = Replay(open_replay(made, [str(path)]), load_decoder(made, overhearing(made)), VehicleTime(None))
    came: list[Reading] = []
    while not source.ended:
        came += [reading for arrival in source.due(0.0) for reading in arrival.readings]
    assert came == [
        Reading("v.speed", None, 100.0), Reading("v.warm", None, 60.0), Reading("v.net", None, 3.0)
    ]  # fmt: skip
    assert source.take_findings() == []


def test_answers_are_overheard_on_their_own_bus_only(tmp_path: Path) -> None:
    made = design([asked("v.speed", 0x0D, "km/h", bus="car")])
    decoder = load_decoder(made, overhearing(made))
    answer = bytes.fromhex("03410d64")
    assert decoder.readings(Frame(0.0, 0x7E8, False, answer, bus="drive")) == ()
    assert decoder.readings(Frame(0.0, 0x7E8, False, answer, bus="car")) == (Reading("v.speed", None, 100.0),)
    # The same bytes on an identifier of no controller are none.
    assert decoder.readings(Frame(0.0, 0x6E8, False, answer, bus="car")) == ()
