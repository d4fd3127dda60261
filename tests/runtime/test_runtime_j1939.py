"""Parameter groups of J1939 on a bus: read whoever sends them, put together of several frames, never mixed.

Senders and receivers are the package `can-j1939`; what an identifier is, is cantools' word.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import cantools
import j1939
import pytest
from cantools.j1939 import frame_id_pack, pgn_from_frame_id
from hypothesis import given, settings
from hypothesis import strategies as st
from runtime_builders import design, signal

from hmic.diagnostics import Finding
from hmic.model.design import CanSource, SignalDefinition
from hmic.model.expressions import Doubt
from hmic.model.units import unit
from hmic.runtime.decoding import Decoder, Reading
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.grouped import OTHERS
from hmic.runtime.recording import Recorder, RecordLog
from hmic.runtime.replays import open_replay
from hmic.runtime.sources import Replay
from hmic.runtime.transfers import ANSWERED, BETWEEN, LONGEST, MOST, Transfers
from hmic.runtime.vehicle_time import VehicleTime
from hmic.sources.frame import Frame
from tests.tools.changed import replace

# An invented van: a group to all, one to one receiver, and a long one.
TO_ALL, TO_ONE, LONG = 0xFEF1, 0xEF00, 0xFEE3
DBC = f"""VERSION ""
BU_: Engine Van
BO_ {1 << 31 | 0x18FEF1FE} Road: 8 Engine
 SG_ Speed : 8|16@1+ (0.00390625,0) [0|250.996] "km/h" Van
 SG_ Brake : 28|2@1+ (1,0) [0|3] "" Van
 SG_ Mode : 32|4@1+ (1,0) [0|15] "" Van
 SG_ Trim : 40|8@1- (1,0) [-128|127] "%" Van
BO_ {1 << 31 | 0x18EF0011} Own: 8 Engine
 SG_ Volts : 0|16@1+ (0.05,0) [0|3212.75] "V" Van
BO_ {1 << 31 | 0x18FEE3FE} Long: 20 Engine
 SG_ First : 0|16@1+ (0.125,0) [0|8031.875] "rpm" Van
 SG_ Last : 144|8@1+ (1,-125) [-125|125] "%" Van
 SG_ Count : 152|8@1+ (1,0) [0|250] "" Van
BA_DEF_ "ProtocolType" STRING ;
BA_DEF_DEF_ "ProtocolType" "";
BA_ "ProtocolType" "J1939";
"""


def of(name: str, spelling: str, message: str, **said: int) -> SignalDefinition:
    source = CanSource(message, name.capitalize(), **said)  # type: ignore[arg-type]
    return signal(name, unit=unit(spelling), low=-200.0, high=9000.0, source=source)


SPEED = of("speed", "km/h", "Road")
BRAKE = signal("brake", kind="flag", unit=None, source="Road.Brake")
MODE = signal("mode", kind="word", unit=None, words={0: "Eco", 1: "Sport", 14: "Towed"}, source="Road.Mode")
TRIM = of("trim", "%", "Road")
VOLTS = of("volts", "V", "Own")
FIRST, LAST = of("first", "rpm", "Long"), of("last", "%", "Long")


@pytest.fixture
def dbc(tmp_path: Path) -> Path:
    path = tmp_path / "van.dbc"
    path.write_text(DBC)
    return path


def decoder_of(dbc: Path, *signals: SignalDefinition, j1939: bool | None = None) -> Decoder:
    said = {} if j1939 is None else {"": j1939}
    return load_decoder(replace(design(signals, dbc), j1939=said))


def road(source: int, data: str = "FF0050FFFFFFFFFF", priority: int = 6, at: float = 0.0) -> Frame:
    return Frame(at, frame_id_pack(priority, 0, 0, 0xFE, 0xF1, source), True, bytes.fromhex(data))


def values(readings: Iterable[Reading]) -> dict[str, Any]:
    return {each.name: each.value for each in readings}


# By group


@given(st.integers(0, 7), st.integers(0, 0xFD))
def test_a_group_is_read_whoever_sends_it(
    tmp_path_factory: pytest.TempPathFactory, priority: int, source: int
) -> None:
    path = tmp_path_factory.getbasetemp() / "whoever.dbc"
    path.write_text(DBC)
    assert decoder_of(path, SPEED).readings(road(source, priority=priority)) == (
        Reading("speed", None, 80.0),
    )


@given(st.integers(0, 0x1FFFFFFF), st.booleans())
def test_no_other_frame_is_taken_for_it(
    tmp_path_factory: pytest.TempPathFactory, identifier: int, extended: bool
) -> None:
    path = tmp_path_factory.getbasetemp() / "other.dbc"
    path.write_text(DBC)
    decoder = decoder_of(path, SPEED)
    frame = Frame(0.0, identifier if extended else identifier & 0x7FF, extended, bytes(8))
    mine = extended and pgn_from_frame_id(identifier) == TO_ALL
    assert bool(decoder.readings(frame)) == mine
    assert ((frame.identifier, extended) in decoder.wanted()) == (
        mine or (extended and pgn_from_frame_id(identifier) in (0xEC00, 0xEB00))
    )


def test_without_a_word_an_identifier_is_what_it_is(tmp_path: Path) -> None:
    path = tmp_path / "plain.dbc"
    path.write_text(DBC.partition("BA_DEF_")[0].replace(str(1 << 31 | 0x18FEF1FE), str(1 << 31 | 0x18FEF10B)))
    plain = decoder_of(path, SPEED)
    assert (
        not plain.readings(road(0x0C))
        and plain.readings(road(0x0B))
        and not plain.readings(road(0x0B, priority=3))
    )
    assert decoder_of(path, SPEED, j1939=True).readings(road(0x0B, priority=3))
    assert not decoder_of(path, SPEED, j1939=True).readings(road(0x0C))


def test_a_destination_is_masked(dbc: Path) -> None:
    decoder = decoder_of(dbc, VOLTS)
    assert values(decoder.readings(Frame(0.0, 0x1CEF2711, True, b"\x40\x1f" + bytes(6)))) == {"volts": 400.0}
    assert decoder.readings(Frame(0.0, 0x1CEF2712, True, bytes(8))) == ()


# Raw values that are none


RAW = [
    # Bytes, what they say of the speed, the brake and the mode; the trim has a sign.
    ("FF00505FF1FFFFFF", 80.0, True, "Sport", -1.0),
    ("FFFFFAFFFFFFFFFF", 0xFAFF / 256, Doubt.UNSEEN, Doubt.UNSEEN, -1.0),
    ("FF00FBEFFEFEFFFF", Doubt.OUT_OF_RANGE, Doubt.OUT_OF_RANGE, "Towed", -2.0),
    ("FFFFFDEFF2FFFFFF", Doubt.OUT_OF_RANGE, Doubt.OUT_OF_RANGE, Doubt.OUT_OF_RANGE, -1.0),
    ("FF00FECFF0FDFFFF", Doubt.OUT_OF_RANGE, False, "Eco", -3.0),
    ("FFFFFECFF0FDFFFF", Doubt.OUT_OF_RANGE, False, "Eco", -3.0),
    ("FF00FFCFF0FDFFFF", Doubt.UNSEEN, False, "Eco", -3.0),
    ("FFFFFFFFFFFFFFFF", Doubt.UNSEEN, Doubt.UNSEEN, Doubt.UNSEEN, -1.0),
]


@pytest.mark.parametrize(("data", "speed", "brake", "mode", "trim"), RAW)
def test_what_stands_for_none_is_no_number(
    dbc: Path, data: str, speed: object, brake: object, mode: object, trim: object
) -> None:
    """The ranges of J1939-71; `no_measure` itself is held against published vectors in tests/model."""
    decoder = decoder_of(dbc, SPEED, BRAKE, MODE, TRIM)
    assert values(decoder.readings(road(0, data))) == {
        "speed": speed,
        "brake": brake,
        "mode": mode,
        "trim": trim,
    }


@settings(max_examples=200)
@given(st.binary(min_size=8, max_size=8))
def test_where_a_number_is_shown_it_is_the_one_of_cantools(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "numbers.dbc"
    path.write_text(DBC)
    read = values(decoder_of(path, SPEED).readings(road(0, data.hex())))["speed"]
    said = cantools.database.load_file(path).decode_message("Road", data, decode_choices=False)["Speed"]
    if data[2] <= 0xFA:
        assert read == pytest.approx(said)
    else:
        assert isinstance(read, Doubt)


# Several senders


def test_two_senders_of_a_group_never_mix(dbc: Path) -> None:
    decoder = decoder_of(dbc, SPEED)
    assert decoder.readings(road(0x00)) and decoder.readings(road(0x00))
    assert decoder.refused(1.0) == ()
    assert decoder.readings(road(0x0B, "FF0010FFFFFFFFFF")) == ()
    (doubted,) = decoder.refused(2.0)
    assert values(doubted.readings) == {"speed": Doubt.STALE} and doubted.at == 2.0
    assert decoder.readings(road(0x00)) == () and decoder.readings(road(0x31)) == ()
    (finding,) = decoder.take_findings()
    assert finding.code == "R772" and "0x00 and from 0x0B" in finding.message
    assert "source address: 0x00" in str(finding.remedy) and decoder.health() == "Road from two senders"


def test_each_sender_that_is_named_is_its_own(dbc: Path) -> None:
    front, rear = of("front", "km/h", "Road", address=0x0B), of("rear", "km/h", "Road", address=0x31)
    front, rear = (replace(each, source=replace(each.source, signal="Speed")) for each in (front, rear))
    decoder = decoder_of(dbc, front, rear)
    assert values(decoder.readings(road(0x0B))) == {"front": 80.0}
    assert values(decoder.readings(road(0x31, "FF0010FFFFFFFFFF"))) == {"rear": 16.0}
    assert decoder.readings(road(0x00)) == () and not decoder.take_findings()


def test_two_receivers_never_mix_either(dbc: Path) -> None:
    decoder = decoder_of(dbc, VOLTS)
    to = [
        Frame(0.0, 0x18EF0011 | each << 8, True, bytes([each, 1, 0, 0, 0, 0, 0, 0])) for each in (0x27, 0x31)
    ]
    assert decoder.readings(to[0]) and decoder.readings(to[1]) == () == decoder.readings(to[0])
    (finding,) = decoder.take_findings()
    assert finding.code == "R772" and "0x11 to 0x27" in finding.message
    assert "destination address" in str(finding.remedy)
    named = decoder_of(dbc, of("volts", "V", "Own", destination=0x31))
    assert named.readings(to[0]) == () and named.readings(to[1]) and not named.take_findings()


def test_another_sender_than_the_one_that_is_meant_is_told(dbc: Path) -> None:
    decoder = decoder_of(dbc, of("speed", "km/h", "Road", address=0x0B))
    for _ in range(OTHERS):
        assert not decoder.readings(road(0x31)) and len(decoder.take_findings()) <= 1
    decoder = decoder_of(dbc, of("speed", "km/h", "Road", address=0x0B))
    told = [
        each for _ in range(3 * OTHERS) for each in (decoder.readings(road(0x31)), decoder.take_findings())[1]
    ]
    assert [each.code for each in told] == ["R773"] and "0x31, and not from 0x0B" in told[0].message
    decoder = decoder_of(dbc, of("speed", "km/h", "Road", address=0x0B))
    assert decoder.readings(road(0x0B))
    for _ in range(3 * OTHERS):
        decoder.readings(road(0x31))
    assert decoder.take_findings() == []


# More than 8 bytes, sent by can-j1939


class Bus:
    """What several controllers of the package say, each hearing the others."""

    def __init__(self, addresses: Iterable[int], most: int = 255) -> None:
        self.frames: list[Frame] = []
        self._lock = threading.Lock()
        self.units = {}
        for address in addresses:
            sender = self._sender(address)
            made = j1939.ElectronicControlUnit(max_cmdt_packets=most, send_message=sender)
            name = j1939.Name(identity_number=address)
            made.add_ca(
                controller_application=j1939.ControllerApplication(name, address, bypass_address_claim=True)
            )
            self.units[address] = made

    def _sender(self, address: int) -> Callable[..., None]:
        def send(can_id: int, extended_id: bool, data: Any, fd_format: bool = False) -> None:
            with self._lock:
                self.frames.append(Frame(time.time(), can_id, True, bytes(data)))
            for other, hearing in self.units.items():
                if other != address:
                    hearing.notify(can_id, bytearray(data), time.time())

        return send

    def send(self, group: int, source: int, destination: int, payload: bytes) -> None:
        low = group & 0xFF if group >> 8 >= 240 else destination
        self.units[source].send_pgn(group >> 16, group >> 8 & 0xFF, low, 6, source, list(payload))

    def rest(self, frames: int) -> None:
        until = time.time() + 10.0
        while len(self.frames) < frames and time.time() < until:
            time.sleep(0.01)
        assert len(self.frames) >= frames
        time.sleep(0.02)

    def stop(self) -> None:
        for each in self.units.values():
            each.stop()


def overheard(frames: Iterable[Frame]) -> tuple[list[tuple[int, int, bytes]], Transfers]:
    transfers = Transfers(lambda group, source: True)
    whole = [each for frame in frames if (each := transfers.take(frame)) is not None]
    return [
        (pgn_from_frame_id(each.identifier), each.identifier & 0xFF, each.data) for each in whole
    ], transfers


@pytest.mark.parametrize("size", [9, 14, 15, 100])
def test_what_the_package_sends_to_all_is_put_together(size: int) -> None:
    bus = Bus([0x00, 0x0B])
    payloads = {
        0x00: bytes(at * 7 & 0xFF for at in range(size)),
        0x0B: bytes(at * 3 & 0xFF for at in range(size)),
    }
    try:
        for source, payload in payloads.items():
            bus.send(LONG, source, 0xFF, payload)
        bus.rest(2 * (1 + -(-size // 7)))
    finally:
        bus.stop()
    # Two senders at a time, their packets in each other's gaps.
    whole, transfers = overheard(bus.frames)
    assert sorted(whole) == sorted((LONG, source, payload) for source, payload in payloads.items())
    assert transfers.broken == {}


@pytest.mark.parametrize(("size", "most"), [(9, 1), (20, 1), (100, 4), (LONGEST, 255)])
def test_what_the_package_sends_to_one_is_put_together(size: int, most: int) -> None:
    bus = Bus([0x11, 0x27], most)
    payload = bytes(at * 5 & 0xFF for at in range(size))
    try:
        bus.send(TO_ONE, 0x11, 0x27, payload)
        packets = -(-size // 7)
        bus.rest(1 + packets + -(-packets // most) + 1)
    finally:
        bus.stop()
    whole, transfers = overheard(bus.frames)
    assert whole == [(TO_ONE, 0x11, payload)] and transfers.broken == {}
    assert {each.data[0] for each in bus.frames if each.identifier & 0xFF == 0x27} == {17, 19}


def test_the_bits_of_a_long_message_are_those_of_cantools(dbc: Path) -> None:
    message = cantools.database.load_file(dbc).get_message_by_name("Long")
    payload = message.encode({"First": 1234.5, "Last": 88, "Count": 7})
    decoder = decoder_of(dbc, FIRST, LAST)
    came = [values(decoder.readings(each)) for each in announced(LONG, 0x21, payload)]
    assert came == [{}, {}, {}, {"first": 1234.5, "last": 88.0}]
    assert decoder.undecoded == 0 and decoder.take_findings() == [] and decoder.unmet("log") == []


# Transfers by hand, by the words of J1939-21


def announced(group: int, source: int, payload: bytes, at: float = 0.0, gap: float = 0.05) -> list[Frame]:
    packets = -(-len(payload) // 7)
    head = bytes([32, *len(payload).to_bytes(2, "little"), packets, 255, *group.to_bytes(3, "little")])
    frames = [Frame(at, frame_id_pack(7, 0, 0, 0xEC, 0xFF, source), True, head)]
    for number in range(packets):
        part = payload[7 * number : 7 * number + 7].ljust(7, b"\xff")
        data = bytes([number + 1]) + part
        frames.append(Frame(at + gap * (number + 1), frame_id_pack(7, 0, 0, 0xEB, 0xFF, source), True, data))
    return frames


PAYLOAD = bytes(range(1, 21))


def test_a_transfer_that_breaks_off_is_left_out_and_told(dbc: Path) -> None:
    good = announced(LONG, 0x21, PAYLOAD, 10.0)
    for spoilt in (
        announced(LONG, 0x21, PAYLOAD)[:3],
        [*announced(LONG, 0x21, PAYLOAD)[:2], announced(LONG, 0x21, PAYLOAD)[3]],
        [each for each in announced(LONG, 0x21, PAYLOAD) for _ in range(2)],
        announced(LONG, 0x21, PAYLOAD, gap=BETWEEN + 0.01),
    ):
        decoder = decoder_of(dbc, LAST)
        assert not any(decoder.readings(each) for each in spoilt)
        assert [bool(decoder.readings(each)) for each in good] == [False, False, False, True]
        told = decoder.take_findings()
        assert [each.code for each in told] == ["R774"] and "'Long' of address 0x21 did not come" in told[
            0
        ].message
    # Told ever more rarely.
    decoder = decoder_of(dbc, LAST)
    told = []
    for turn in range(105):
        for each in announced(LONG, 0x21, PAYLOAD, turn * 1.0)[:3]:
            decoder.readings(each)
        told += decoder.take_findings()
    assert len(told) == 3 and told[-1].message.endswith("100 times")


def connection(kind: int, size: int, packets: int, fourth: int, group: int = LONG) -> bytes:
    return bytes([kind, *size.to_bytes(2, "little"), packets, fourth, *group.to_bytes(3, "little")])


ASKS, ANSWERS, PACKETS = (
    frame_id_pack(7, 0, 0, 0xEC, 0x27, 0x11),
    frame_id_pack(7, 0, 0, 0xEC, 0x11, 0x27),
    frame_id_pack(7, 0, 0, 0xEB, 0x27, 0x11),
)


def cleared(packets: int, first: int) -> bytes:
    return bytes([17, packets, first, 255, 255, *LONG.to_bytes(3, "little")])


def packet(number: int) -> bytes:
    return bytes([number]) + PAYLOAD[7 * (number - 1) : 7 * number].ljust(7, b"\xff")


def told_by(steps: Iterable[tuple[int, bytes]], gap: float = 0.1) -> tuple[list[bytes], Transfers]:
    frames = [Frame(gap * at, identifier, True, data) for at, (identifier, data) in enumerate(steps)]
    whole, transfers = overheard(frames)
    return [data for *_, data in whole], transfers


ASKED = (ASKS, connection(16, 20, 3, 255))


def test_a_receiver_may_want_packets_again_and_may_wait() -> None:
    steps = [
        ASKED,
        (ANSWERS, cleared(2, 1)),
        (PACKETS, packet(1)),
        (PACKETS, packet(2)),
        (ANSWERS, cleared(0, 2)),
        (ANSWERS, cleared(2, 2)),
        (PACKETS, packet(2)),
        (PACKETS, packet(3)),
        (ANSWERS, connection(19, 20, 3, 255)),
    ]
    whole, transfers = told_by(steps)
    assert whole == [PAYLOAD] and transfers.broken == {}
    # A pause of the length that the standard allows, and a longer one.
    assert told_by(steps, ANSWERED - 0.01)[0] == [PAYLOAD] and told_by(steps, ANSWERED + 0.01)[0] == []


@pytest.mark.parametrize("who", [ASKS, ANSWERS])
def test_either_may_end_a_transfer(who: int) -> None:
    steps = [ASKED, (ANSWERS, cleared(3, 1)), (PACKETS, packet(1)), (who, connection(255, 0xFFFF, 255, 255))]
    whole, transfers = told_by([*steps, (PACKETS, packet(2)), (PACKETS, packet(3))])
    assert whole == [] and transfers.broken == {(LONG, 0x11): 1}
    # An end of another group is none of this one.
    steps[-1] = who, connection(255, 0xFFFF, 255, 255, TO_ALL)
    assert told_by([*steps, (PACKETS, packet(2)), (PACKETS, packet(3))])[0] == [PAYLOAD]


@pytest.mark.parametrize(
    "head",
    [
        connection(16, 8, 2, 255), connection(16, LONGEST + 1, 256 & 0xFF, 255), connection(16, 20, 2, 255),
        connection(16, 20, 4, 255), connection(32, 20, 3, 255), connection(16, 20, 3, 255)[:7], b"",
    ],
)  # fmt: skip
def test_what_is_no_transfer_is_passed_over(head: bytes) -> None:
    whole, transfers = told_by([(ASKS, head), *((PACKETS, packet(number)) for number in (1, 2, 3))])
    assert whole == [] and transfers.broken == {}


ADDRESSES = st.sampled_from([0xFF, 0x27, 0x11, 0x00])
HEADS = st.builds(
    connection, st.sampled_from([16, 17, 19, 32, 255]), st.integers(0, 40), st.integers(0, 6), st.just(255)
)
BYTES = st.one_of(st.binary(max_size=8), HEADS, st.builds(packet, st.integers(1, 3)))
STEPS = st.tuples(st.sampled_from([0xEC, 0xEB]), ADDRESSES, ADDRESSES, BYTES, st.floats(0, 1))


@settings(max_examples=300)
@given(st.lists(STEPS, max_size=60))
def test_any_frames_do_no_harm(frames: list[tuple[int, int, int, bytes, float]]) -> None:
    """Whatever comes: what is put together is as long as its head said, and afterwards all works."""
    transfers, now = Transfers(lambda group, source: True), 0.0
    for form, destination, source, data, gap in frames:
        now += gap
        whole = transfers.take(Frame(now, frame_id_pack(7, 0, 0, form, destination, source), True, data))
        assert whole is None or 9 <= len(whole.data) <= LONGEST
    came = [transfers.take(each) for each in announced(LONG, 0x42, PAYLOAD, now + 9.0)]
    assert [each.data for each in came if each is not None] == [PAYLOAD]


def test_transfers_under_way_are_bounded_and_only_what_is_wanted_is_kept() -> None:
    transfers = Transfers(lambda group, source: group == LONG)
    for at in range(10 * MOST):
        head = connection(16, 20, 3, 255, LONG if at % 2 else TO_ALL)
        identifier = frame_id_pack(7, 0, 0, 0xEC, at % 200, at // 200)
        transfers.take(Frame(at / 1000, identifier, True, head))
    assert len(transfers._open) == MOST and transfers.broken.keys() <= {(LONG, each) for each in range(4)}


# Logs and records


def candump(frames: Iterable[Frame]) -> str:
    return "".join(f"({each.at:.6f}) can0 {each.identifier:08X}#{each.data.hex()}\n" for each in frames)


def test_a_log_of_long_messages_is_played_and_its_record_too(dbc: Path, tmp_path: Path) -> None:
    made = design([SPEED, FIRST, LAST], dbc)
    path = tmp_path / "truck.log"
    frames = [road(0, at=100.0), *announced(LONG, 0x21, PAYLOAD, 100.1), road(0, at=101.0)]
    path.write_text(candump(frames))

    def played(log: Any) -> tuple[list[tuple[float, dict[str, Any]]], list[Any], list[Finding]]:
        source, came, arrivals = Replay(log, load_decoder(made), VehicleTime(None)), [], []
        while not source.ended:
            for arrival in source.due(0.0):
                came.append((round(arrival.at, 3), values(arrival.readings)))
                arrivals.append(arrival)
        return came, arrivals, source.take_findings()

    came, arrivals, told = played(open_replay(made, [str(path)]))
    assert came == [(0.0, {"speed": 80.0}), (0.25, {"first": 64.125, "last": -106.0}), (1.0, {"speed": 80.0})]
    assert told == []
    # What a run writes of it, played again, says the same: a long message is one line.
    recorder = Recorder(tmp_path / "van.record", "made", bytes(8), 1 << 20)
    for arrival in arrivals:
        recorder.arrived(arrival)
    recorder.showed(1.0, "first", "day", (1,))
    recorder.close()
    again, _, told = played(RecordLog(tmp_path / "van.record"))
    assert again == came and told == []
