"""ISO 15765-2 against the package can-isotp, both ways, and OBD values against published ones."""

from __future__ import annotations

import csv
from collections import deque
from pathlib import Path

import isotp
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from runtime_builders import signal

from hmic.diagnostics import DesignError
from hmic.model.asked import AskedSource
from hmic.model.units import unit
from hmic.runtime.decoding import Reading
from hmic.runtime.iso_tp import Transport
from hmic.runtime.obd import SILENT_AFTER, SILENT_PACE, WITHIN, Asker
from hmic.runtime.parameters import PARAMETERS
from hmic.sources.frame import Frame

REFERENCE = Path(__file__).parents[1] / "reference" / "07_obd2_mode01.csv"
LENGTHS = st.one_of(st.integers(1, 64), st.integers(1, 4095))


class Other:
    """The package's stack on the other end of two queues."""

    def __init__(self, block: int = 0, separation: int = 0) -> None:
        self.inbox: deque[bytes] = deque()
        self.outbox: deque[bytes] = deque()
        address = isotp.Address(isotp.AddressingMode.Normal_11bits, txid=0x7E0, rxid=0x7E8)
        self.layer = isotp.TransportLayerLogic(
            rxfn=self._receive,
            txfn=lambda message: self.outbox.append(bytes(message.data)),
            address=address,
            params={"blocksize": block, "stmin": separation, "override_receiver_stmin": 0},
        )

    def _receive(self, timeout: float = 0.0) -> isotp.CanMessage | None:
        if not self.inbox:
            return None
        return isotp.CanMessage(arbitration_id=0x7E8, data=self.inbox.popleft(), dlc=8)

    def turn(self) -> None:
        self.layer.process(do_rx=True, do_tx=True)


def exchange(ours: Transport, other: Other, turns: int = 4000) -> bytes | None:
    """Lets both talk; what we received."""
    now = 0.0
    for _ in range(turns):
        now += 0.005
        for frame in ours.outgoing(now):
            other.inbox.append(frame)
        other.turn()
        while other.outbox:
            payload = ours.receive(other.outbox.popleft(), now)
            if payload is not None:
                return payload
        if not ours.sending and other.layer.available():
            return None
    return None


@settings(max_examples=25)
@given(LENGTHS, st.integers(0, 12), st.randoms(use_true_random=False))
def test_the_package_reads_what_we_send(length: int, block: int, dice: object) -> None:
    payload = bytes(dice.randrange(256) for _ in range(length))  # type: ignore[attr-defined]
    ours, other = Transport(), Other(block)
    ours.send(payload, 0.0)
    exchange(ours, other)
    assert bytes(other.layer.recv()) == payload and ours.faults == 0


@settings(max_examples=25)
@given(LENGTHS, st.integers(0, 12), st.randoms(use_true_random=False))
def test_we_read_what_the_package_sends(length: int, block: int, dice: object) -> None:
    payload = bytes(dice.randrange(256) for _ in range(length))  # type: ignore[attr-defined]
    ours, other = Transport(block), Other()
    other.layer.send(payload)
    assert exchange(ours, other) == payload and ours.faults == 0


@settings(max_examples=200)
@given(st.lists(st.tuples(st.binary(max_size=8), st.floats(0, 2)), max_size=40))
@example([(b"0\x00\x01", 0.0)])
def test_any_frames_do_no_harm(frames: list[tuple[bytes, float]]) -> None:
    ours, now = Transport(), 0.0
    ours.send(bytes(50), 0.0)
    for data, wait in frames:
        now += wait
        ours.receive(data, now)
        assert all(len(frame) == 8 for frame in ours.outgoing(now))
    for later in range(1, 20):
        ours.outgoing(now + 2.0 * later)
    assert not ours.sending and ours.next_deadline() is None


def test_a_lost_frame_loses_the_payload_and_nothing_else() -> None:
    ours = Transport()
    ours.receive(bytes.fromhex("100a010203040506"), 0.0)
    assert ours.outgoing(0.0) == [bytes.fromhex("300000cccccccccc")]
    assert ours.receive(bytes.fromhex("2207080910aaaaaa"), 0.1) is None and ours.faults == 1
    assert ours.receive(bytes.fromhex("0341053c00000000"), 0.2) == bytes.fromhex("41053c")
    for count in (0, 4096):
        with pytest.raises(ValueError, match="payload"):
            Transport().send(bytes(count), 0.0)


def rows() -> list[dict[str, str]]:
    with REFERENCE.open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['pid']}-{row['data_hex']}")
def test_published_values_of_parameters(row: dict[str, str]) -> None:
    """tests/reference/07_obd2_mode01.csv names its sources."""
    parameter = PARAMETERS[int(row["pid"], 16)]
    data = bytes.fromhex(row["data_hex"])
    assert len(data) == parameter.length
    assert parameter.value(data) == pytest.approx(float(row["value"]), rel=1e-7)
    assert unit(parameter.unit) == unit(row["unit"])


def asked(name: str, pid: int, spelling: str, every: int = 1000):  # type: ignore[no-untyped-def]
    return signal(name, unit=unit(spelling), low=-100.0, high=500.0, asked=AskedSource(pid, every))


def answer(pid: int, data: str, identifier: int = 0x7E8) -> Frame:
    payload = bytes([0x41, pid]) + bytes.fromhex(data)
    return Frame(0.0, identifier, False, bytes([len(payload)]) + payload)


def test_questions_take_turns_and_answers_come_in_the_declared_unit() -> None:
    signals = [asked("v.speed", 0x0D, "mph", 200), asked("v.warm", 0x05, "°C"), asked("v.hot", 0x05, "°F")]
    asker = Asker({definition.name: definition for definition in signals})
    first = asker.outgoing(0.0)
    assert [(frame.identifier, frame.data[:3].hex()) for frame in first] == [(0x7DF, "020105")]
    assert asker.outgoing(0.01) == []
    assert asker.take(answer(0x0D, "64"), 0.02) == ()
    assert asker.take(answer(0x05, "7b", 0x7EA), 0.03) == (
        Reading("v.warm", None, 83.0),
        Reading("v.hot", None, pytest.approx(181.4)),  # type: ignore[arg-type]
    )
    assert asker.outgoing(0.03)[0].data[:3].hex() == "02010d"
    assert asker.take(answer(0x0D, "64"), 0.04)[0].value == pytest.approx(62.1371, rel=1e-5)
    assert asker.outgoing(0.05) == [] and asker.next_deadline() == pytest.approx(0.23)


def test_nobody_answers() -> None:
    asker = Asker({"v.speed": asked("v.speed", 0x0D, "km/h", 100)})
    now, sent = 0.0, 0
    while not (told := asker.take_findings()):
        sent += len(asker.outgoing(now))
        now += 0.01
    assert [finding.code for finding in told] == ["R762"] and not asker.answered
    assert sent == SILENT_AFTER and now == pytest.approx(SILENT_AFTER * WITHIN, abs=0.1)
    assert asker.outgoing(now + SILENT_PACE)
    asker.take(answer(0x0D, "00"), now + SILENT_PACE)
    assert asker.answered


def test_what_cannot_be_asked_for() -> None:
    with pytest.raises(DesignError) as raised:
        Asker({"a.a": asked("a.a", 0x77, "V"), "a.b": asked("a.b", 0x0D, "V")})
    assert [finding.code for finding in raised.value.findings] == ["R760", "R761"]


@pytest.mark.parametrize("babble", ["3000000000000000", "2100000000000000", "1010010203040506"])
def test_a_controller_that_babbles_stops_no_questions_and_is_told(babble: str) -> None:
    asker = Asker({"v.speed": asked("v.speed", 0x0D, "km/h", 100)})
    sent = 0
    told = []
    for step in range(300):
        now = step / 10
        sent += sum(frame.identifier == 0x7DF for frame in asker.outgoing(now))
        asker.take(Frame(now, 0x7E9, False, bytes.fromhex(babble)), now + 0.01)
        told += [finding.code for finding in asker.take_findings()]
    assert sent > 5 and told == ["R762"] and not asker.answered
    # Another that answers is heard all the same.
    while not asker.outgoing(now):
        now += 0.05
    assert asker.take(answer(0x0D, "64"), now + 0.01) == (Reading("v.speed", None, 100.0),)
