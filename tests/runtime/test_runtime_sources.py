from __future__ import annotations

import gzip
import inspect
import shutil
import time
from itertools import pairwise
from pathlib import Path

import can
import cantools
import pytest
from hypothesis import given
from hypothesis import strategies as st
from runtime_builders import design, signal

from hmic.diagnostics import DesignError, Finding, Severity
from hmic.model.dbc import NO_VALUE_LABELS, read_dbc
from hmic.model.dbc_check import BusFacts, check_signals
from hmic.model.expressions import Doubt
from hmic.model.load import load
from hmic.model.units import unit
from hmic.runtime.adapters import Adapter
from hmic.runtime.decoding import Arrival, Decoder, Reading
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.recording import Recorder, RecordLog
from hmic.runtime.run import run
from hmic.runtime.sources import LIMIT, LiveCan, Replay
from hmic.runtime.vehicle_time import VehicleTime, host_seconds
from hmic.sources.frame import Frame
from hmic.sources.log import Log
from hmic.sources.log_time import AHEAD, LogTime
from tests.tools.changed import replace

DBC = """VERSION "made"
NS_ :
BS_:
BU_: Sender
BO_ 256 Pack: 8 Sender
 SG_ Voltage : 0|16@1+ (0.1,0) [0|500] "V" Sender
 SG_ Current : 16|16@1- (0.1,-5) [-1000|1000] "A" Sender
 SG_ Gear : 32|4@1+ (1,0) [0|15] "" Sender
 SG_ Closed : 36|2@1+ (1,0) [0|3] "" Sender
 SG_ Heat : 40|8@1+ (0.5,-40) [-40|87] "degC" Sender
 SG_ Lowest : 48|16@1+ (1,0) [0|65535] "mV" Sender
BO_ 257 Cells: 8 Sender
 SG_ Group M : 0|8@1+ (1,0) [0|1] "" Sender
 SG_ Cell1 m0 : 8|16@1+ (0.001,0) [0|5] "V" Sender
 SG_ Cell2 m0 : 24|16@1+ (0.001,0) [0|5] "V" Sender
 SG_ Cell3 m1 : 8|16@1+ (0.001,0) [0|5] "V" Sender
 SG_ Cell4 m1 : 24|16@1+ (0.001,0) [0|5] "V" Sender
BO_ 2147484000 Far: 2 Sender
 SG_ Speed : 0|16@1+ (0.01,0) [0|600] "km/h" Sender
VAL_ 256 Gear 0 "P" 1 "R" 2 "D" ;
VAL_ 256 Heat 254 "Fault" 255 "Not available" ;
"""

SIGNALS = [
    signal("voltage", unit=unit("V"), high=450.0, source="Pack.Voltage", no_data=6553.5),
    signal("current", unit=unit("A"), low=-400.0, high=400.0, source="Pack.Current"),
    signal("gear", kind="word", unit=None, source="Pack.Gear"),
    signal("gear_named", kind="word", unit=None, words={0: "Park", 1: "Back"}, source="Pack.Gear"),
    signal("closed", kind="flag", unit=None, source="Pack.Closed"),
    signal("heat", unit=unit("°C"), low=-40.0, high=90.0, source="Pack.Heat"),
    signal("lowest", unit=unit("V"), high=5.0, source="Pack.Lowest"),
    signal("cells", unit=unit("V"), high=5.0, count=4, source="Cells.Cell{n}"),
    signal("speed", unit=unit("km/h"), high=200.0, source="Far.Speed"),
]


@pytest.fixture
def dbc(tmp_path: Path) -> Path:
    path = tmp_path / "made.dbc"
    path.write_text(DBC)
    return path


@pytest.fixture
def decoder(dbc: Path) -> Decoder:
    return load_decoder(design(SIGNALS, dbc))


def codes(raised: pytest.ExceptionInfo[DesignError]) -> list[str]:
    for finding in raised.value.findings:
        assert finding.message and finding.remedy
    return [finding.code for finding in raised.value.findings]


def pack_frame(dbc: Path, at: float = 0.0, **values: float) -> Frame:
    given = {"Voltage": 390.1, "Current": -12.3, "Gear": 2, "Closed": 1, "Heat": 21.5, "Lowest": 3456}
    database = cantools.database.load_file(dbc)
    return Frame(at, 256, False, database.encode_message("Pack", given | values, strict=False))


def test_values_come_in_the_declared_unit_and_words(dbc: Path, decoder: Decoder) -> None:
    readings = {reading.name: reading.value for reading in decoder.readings(pack_frame(dbc))}
    assert readings == {
        "voltage": pytest.approx(390.1),
        "current": pytest.approx(-12.3),
        "gear": "D",
        "gear_named": Doubt.OUT_OF_RANGE,
        "closed": True,
        "heat": 21.5,
        "lowest": pytest.approx(3.456),
    }
    assert readings["closed"] is True


def test_no_data_is_never_a_number(dbc: Path, decoder: Decoder) -> None:
    frame = pack_frame(dbc, Voltage=6553.5, Heat=87.5, Closed=3, Gear=9)
    readings = {reading.name: reading.value for reading in decoder.readings(frame)}
    assert readings["voltage"] is Doubt.UNSEEN
    assert readings["heat"] is Doubt.UNSEEN
    assert readings["closed"] is Doubt.OUT_OF_RANGE
    assert readings["gear"] is Doubt.OUT_OF_RANGE


def test_a_label_in_the_range_of_a_number_is_none(dbc: Path) -> None:
    """254 reads 87 °C by scale and offset: the DBC says that it is a fault."""
    heat = signal("heat", unit=unit("°C"), low=-40.0, high=90.0, source="Pack.Heat")
    decoder = load_decoder(design([heat], dbc))
    values = [decoder.readings(pack_frame(dbc, Heat=value))[0].value for value in (86.5, 87.0, 87.5)]
    assert values == [86.5, Doubt.OUT_OF_RANGE, Doubt.UNSEEN]


KCD = """<NetworkDefinition xmlns="http://kayak.2codeornot2code.org/1.0"><Document/><Bus name="car">
<Message id="0x120" length="8" name="Pack State (new)"><Signal name="Voltage, mean" offset="0" length="16">
<Value slope="0.1" unit="V"/></Signal></Message></Bus></NetworkDefinition>"""


def test_names_with_blanks_can_be_bound(tmp_path: Path) -> None:
    shutil.copytree(Path(__file__).parents[2] / "hmic" / "cli" / "pages" / "base", tmp_path / "van")
    folder = tmp_path / "van"
    (folder / "van.kcd").write_text(KCD)
    (folder / "design.yaml").write_text((folder / "design.yaml").read_text().replace("van.dbc", "van.kcd"))
    voltage = '{unit: V, range: [0, 500], from: "Pack State (new).Voltage, mean", stale: 1 s}'
    speed = "{unit: km/h, range: [0, 140], from: pipe, stale: 1 s}"
    text = f"signals:\n  pack.voltage: {voltage}\n  vehicle.speed: {speed}\n"
    (folder / "signals.yaml").write_text(text)
    loaded, _ = load(folder)
    assert loaded is not None and loaded.signals["pack.voltage"].resolution == pytest.approx(0.1)
    (reading,) = load_decoder(loaded).readings(Frame(0.0, 0x120, False, bytes.fromhex("3C0F000000000000")))
    assert (reading.name, reading.value) == ("pack.voltage", pytest.approx(390.0))


def test_a_multiplexed_message_brings_only_its_group(decoder: Decoder) -> None:
    frame = Frame(0.0, 257, False, bytes([1]) + (3500).to_bytes(2, "little") + (3600).to_bytes(2, "little"))
    readings = decoder.readings(frame)
    assert [(reading.name, reading.element) for reading in readings] == [("cells", 2), ("cells", 3)]
    assert [reading.value for reading in readings] == [pytest.approx(3.5), pytest.approx(3.6)]


def test_frames_that_do_not_fit_give_what_they_hold_or_nothing(decoder: Decoder) -> None:
    assert [r.name for r in decoder.readings(Frame(0.0, 256, False, bytes(4)))] == ["voltage", "current"]
    assert decoder.readings(Frame(0.0, 257, False, b"")) == ()
    assert decoder.readings(Frame(0.0, 257, False, bytes([7]) + bytes(7))) == ()
    assert decoder.readings(Frame(0.0, 352, False, bytes(2))) == ()
    assert decoder.readings(Frame(0.0, 352, True, b"\x10\x27"))[0].value == pytest.approx(100.0)
    assert decoder.undecoded == 3
    told = decoder.take_findings()
    assert [finding.code for finding in told] == ["R718", "R718"]
    assert "a frame of 'Pack' without 'Gear' (it is too short" in told[0].message
    assert decoder.health() == "1 of Pack undecoded, 2 of Cells undecoded"


def test_a_message_from_two_buses_is_not_used(dbc: Path, tmp_path: Path) -> None:
    decoder = load_decoder(design(SIGNALS, dbc))
    own = replace(pack_frame(dbc, Voltage=390.0), channel="0")
    foreign = replace(pack_frame(dbc, Voltage=12.0), channel="1")
    assert decoder.readings(own) and decoder.readings(own)
    assert decoder.readings(Frame(0.0, 352, True, b"\x10\x27", "1"))
    for each in (foreign, own, foreign, replace(own, channel=None)):
        assert decoder.readings(each) == ()
    assert decoder.readings(Frame(0.0, 352, True, b"\x10\x27", "1"))
    (finding,) = decoder.take_findings()
    assert finding.code == "R717" and "message 'Pack' comes from '0' and '1'" in finding.message
    # The channels of a log, in each form that says them.
    for suffix in (".log", ".asc", ".blf", ".csv"):
        path = tmp_path / f"two{suffix}"
        with can.Logger(path) as logger:
            for at, channel in enumerate((0, 1, 0, 1)):
                message = can.Message(0.1 * at, 256, False, data=own.data, channel=channel)
                logger.on_message_received(message)
        replay = Replay(Log(path), load_decoder(design(SIGNALS, dbc)), VehicleTime(None))
        told = suffix != ".csv"
        given = [arrival.readings[0].value for arrival in replay.due(0.0)]
        # From the second bus's first frame on nothing of either is believed.
        assert given == ([390.0, Doubt.STALE] if told else [390.0] * 4), suffix
        assert [finding.code for finding in replay.take_findings()] == ["R717"] * told


def test_what_the_dbc_lacks_is_named_all_at_once(dbc: Path) -> None:
    wrong = [
        signal("a", source="Pak.Voltage"),
        signal("b", source="Pack.Voltag"),
        signal("c", count=5, source="Cells.Cell{n}"),
    ]
    with pytest.raises(DesignError) as raised:
        load_decoder(design(wrong, dbc))
    assert codes(raised) == ["R706", "R707", "R707"]
    assert "did you mean 'Pack'" in (raised.value.findings[0].remedy or "")
    assert "Cell5" in raised.value.findings[2].message


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("gone.dbc", None, "R701"),
        ("made.txt", DBC, "R705"),
        ("broken.dbc", "VERY OLD ((", "R705"),
    ],
)
def test_a_dbc_that_cannot_be_used(tmp_path: Path, name: str, content: str | None, code: str) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_text(content)
    with pytest.raises(DesignError) as raised:
        load_decoder(design(SIGNALS, path))
    assert codes(raised) == [code]


def test_no_dbc(tmp_path: Path) -> None:
    with pytest.raises(DesignError) as raised:
        load_decoder(design(SIGNALS))
    assert codes(raised) == ["R708"]
    assert load_decoder(design([signal("kept")])).readings(Frame(0.0, 1, False, b"")) == ()


def write_log(path: Path, frames: list[Frame]) -> None:
    with can.Logger(path) as logger:
        for frame in frames:
            logger.on_message_received(
                can.Message(
                    timestamp=1000.0 + frame.at,
                    arbitration_id=frame.identifier,
                    is_extended_id=frame.extended,
                    data=frame.data,
                    channel=1,
                )
            )


@pytest.mark.parametrize("suffix", [".log", ".asc", ".blf", ".csv", ".trc", ".db"])
def test_every_kind_of_log_gives_the_same_frames(tmp_path: Path, dbc: Path, suffix: str) -> None:
    frames = [pack_frame(dbc, at / 4, Voltage=300.0 + at) for at in range(8)]
    frames.append(Frame(2.0, 352, True, b"\x10\x27"))
    path = tmp_path / f"drive{suffix}"
    write_log(path, frames)
    log = Log(path)
    read = list(log)
    assert [(f.identifier, f.extended, f.data) for f in read] == [
        (f.identifier, f.extended, f.data) for f in frames
    ]
    assert [f.at for f in read] == pytest.approx([f.at for f in frames], abs=1e-3)
    assert log.findings == []


def test_a_packed_text_log(tmp_path: Path, dbc: Path) -> None:
    write_log(tmp_path / "drive.log", [pack_frame(dbc)] * 3)
    packed = tmp_path / "drive.log.gz"
    packed.write_bytes(gzip.compress((tmp_path / "drive.log").read_bytes()))
    assert len(list(Log(packed))) == 3


@pytest.mark.parametrize("suffix", [".log", ".asc", ".blf", ".csv", ".trc", ".db", ".log.gz"])
def test_a_log_cut_at_any_byte_is_played_as_far_as_it_goes(tmp_path: Path, dbc: Path, suffix: str) -> None:
    frames = [pack_frame(dbc, at / 4, Voltage=300.0 + at) for at in range(6)]
    whole = tmp_path / f"whole{suffix.removesuffix('.gz')}"
    write_log(whole, frames)
    content = whole.read_bytes()
    if suffix.endswith(".gz"):
        content = gzip.compress(content)
    cut = tmp_path / f"cut{suffix}"
    stride = max(1, len(content) // 120)
    for length in range(0, len(content), stride):
        cut.write_bytes(content[:length])
        try:
            log = Log(cut)
            read = list(log)
        except DesignError as fault:
            known = {"R702", "R703", "R704", "R712", "R713", "R719"}
            assert {finding.code for finding in fault.findings} <= known
            continue
        expected = [frame.data for frame in frames]
        assert [frame.data for frame in read] == expected[: len(read)]


def test_a_bad_line_costs_itself_and_is_counted(tmp_path: Path, dbc: Path) -> None:
    path = tmp_path / "drive.log"
    write_log(path, [pack_frame(dbc, at / 4) for at in range(6)])
    spoilt = "(1002.0) vcan0 nonsense\n(1002.1) vcan0 1FF#0\n"
    path.write_text(path.read_text() + spoilt + "(1003.0) vcan0 100#00\n")
    log = Log(path)
    assert [frame.data for frame in log][5:] == [pack_frame(dbc).data, b"\0"]
    (finding,) = log.findings
    assert finding.code == "R713" and finding.severity is Severity.WARNING
    assert "has 2 lines or frames that cannot be read; the first is line 7: it is no line of candump" in (
        finding.message
    )


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("gone.log", None, "R701"),
        ("folder.log", "", "R701"),
        ("drive.wav", b"RIFF", "R702"),
        ("drive", b"nothing of a bus\n" * 9, "R702"),
        ("empty.asc", b"", "R703"),
        (
            "remark.asc",
            b"date Mon Jan 1 00:00:00 2024\nbase hex  timestamps absolute\n// no frames\n",
            "R703",
        ),
        ("noise.blf", b"LOGG" + bytes(range(252)) * 4, "R704"),
        ("noise.db", b"SQLite format 3\0" + bytes(range(256)) * 4, "R704"),
        ("noise.log", bytes(range(128, 256)) * 4, "R702"),
    ],
)
def test_logs_that_cannot_be_used(tmp_path: Path, name: str, content: bytes | str | None, code: str) -> None:
    path = tmp_path / name
    if isinstance(content, str):
        path.mkdir()
    elif content is not None:
        path.write_bytes(content)
    with pytest.raises(DesignError) as raised:
        Log(path)
    assert codes(raised) == [code]


def test_replay_at_a_speed_by_an_explicit_clock(tmp_path: Path, dbc: Path, decoder: Decoder) -> None:
    path = tmp_path / "drive.log"
    write_log(path, [pack_frame(dbc, float(at), Voltage=300.0 + at) for at in range(4)])
    replay = Replay(Log(path), decoder, VehicleTime(2.0))
    assert [arrival.at for arrival in replay.due(50.0)] == [0.0]
    assert replay.next_deadline() == 50.5
    assert replay.due(50.49) == []
    assert [arrival.at for arrival in replay.due(51.2)] == [1.0, 2.0]
    assert not replay.ended and replay.take_findings() == []
    assert [arrival.at for arrival in replay.due(99.0)] == [3.0]
    assert replay.ended and replay.next_deadline() is None and replay.take_findings() == []


def test_a_replay_that_is_left_early_lets_go_of_its_log(tmp_path: Path, dbc: Path, decoder: Decoder) -> None:
    path = tmp_path / "drive.log"
    write_log(path, [pack_frame(dbc, float(at)) for at in range(9)])
    log = Log(path)
    replay = Replay(log, decoder, VehicleTime())
    assert len(replay.due(0.0)) == 1
    replay.close()
    assert list(log) == [] and log.findings == []


def test_replay_as_fast_as_possible_comes_in_bites(tmp_path: Path, dbc: Path, decoder: Decoder) -> None:
    path = tmp_path / "drive.csv"
    write_log(path, [pack_frame(dbc, at * 1.0) for at in range(LIMIT + 7)])
    replay = Replay(Log(path), decoder, VehicleTime(None))
    assert len(replay.due(0.0)) == LIMIT
    assert replay.next_deadline() == float("-inf")
    assert len(replay.due(0.0)) == 7 and replay.ended


def test_a_log_whose_clock_jumps_back_goes_on(tmp_path: Path, dbc: Path, decoder: Decoder) -> None:
    path = tmp_path / "joined.log"
    first, second = pack_frame(dbc, 5.0), pack_frame(dbc, 0.0)
    text = ""
    for frame in (first, pack_frame(dbc, 6.0), second, pack_frame(dbc, 1.0)):
        text += f"({frame.at:.6f}) vcan0 100#{frame.data.hex()}\n"
    path.write_text(text)
    log = Log(path)
    assert [frame.at for frame in log] == [0.0, 1.0, 1.0, 2.0]
    assert [finding.code for finding in log.findings] == ["R716"]
    assert "after 1.000 s: back by 6.0 s" in log.findings[0].message


def candump(path: Path, *lines: tuple[float, str, str]) -> Log:
    path.write_text("".join(f"({1.7e9 + at:.6f}) {channel} {frame}\n" for at, channel, frame in lines))
    return Log(path)


@pytest.mark.parametrize("apart", [0.0007, 0.3, 5.0, 40.0, 3600.0])
@pytest.mark.parametrize("other", ["can1", "can0"])
def test_interfaces_whose_stamps_differ_do_not_stretch_a_log(
    tmp_path: Path, apart: float, other: str
) -> None:
    """A minute of driving is one, whatever the distance between the clocks of two interfaces."""
    lines: list[tuple[float, str, str]] = []
    for each in range(3000):
        at = each / 50
        lines += [(at + apart, other, "7A0#00"), (at, "can0", "100#00")]
    log = candump(tmp_path / "two.log", *lines)
    times = [frame.at for frame in log]
    assert times == sorted(times)
    assert times[-1] == pytest.approx(59.98, abs=1.1)
    assert len(log.findings) == (apart > 1)


def test_a_clock_set_on_the_way_holds_up_nothing_and_is_told_as_it_happens(
    tmp_path: Path, dbc: Path, decoder: Decoder
) -> None:
    lines = [(each / 10 + 86400.0 * (each >= 50), f"can{each % 2}", "7A0#00") for each in range(100)]
    replay = Replay(candump(tmp_path / "set.log", *lines), decoder, VehicleTime())
    told = []
    for turn in range(1000):
        replay.due(turn / 10)
        told += [(turn, finding.message) for finding in replay.take_findings()]
        if replay.ended:
            break
    assert turn == pytest.approx(98, abs=2)
    # The frame after it is read as soon as the one of 4.9 s is given, by rounding in the turn of 5.0 s.
    assert told[0][0] <= 50
    assert told[0][1] == "the times of 'set.log' jump after 4.900 s: 86400.1 s ahead; that counts as no time"
    assert [message for _, message in told[1:]] == [
        "none of the 100 frames of 'set.log' is of a message of the design"
    ]


@given(
    st.lists(
        st.tuples(st.floats(-1e6, 1e9), st.sampled_from([None, "can0", "can1"])), min_size=1, max_size=60
    )
)
def test_the_time_of_any_log_is_bounded_and_never_runs_back(stamps: list[tuple[float, str | None]]) -> None:
    times = LogTime()
    given_times = [times(*each)[0] for each in stamps]
    assert given_times[0] == 0.0 and given_times == sorted(given_times)
    assert all(after - before <= AHEAD + 1e-6 for before, after in pairwise(given_times))


def test_a_text_log_with_times_from_line_to_line(tmp_path: Path) -> None:
    path = tmp_path / "relative.asc"
    line = "1  100             Rx   d 2 01 02\n"
    head = "date Mon Jan 1 00:00:00 2024\nbase hex  timestamps relative\ninternal events logged\n"
    path.write_text(head + f"0.5 {line}0.25 {line}1.0 {line}0.0 {line}")
    assert [frame.at for frame in Log(path)] == [0.0, 0.25, 1.25, 1.25]


def test_a_log_of_one_cut_line_holds_nothing(tmp_path: Path) -> None:
    path = tmp_path / "cut.log"
    path.write_text("(1.0) vcan0 100#0102")
    with pytest.raises(DesignError) as raised:
        Log(path)
    assert codes(raised) == ["R712", "R703"]


def test_a_log_of_another_vehicle_is_noticed(tmp_path: Path, decoder: Decoder) -> None:
    path = tmp_path / "other.log"
    write_log(path, [Frame(0.0, 5, False, b"\0")])
    replay = Replay(Log(path), decoder, VehicleTime())
    assert replay.due(0.0) == []
    assert [finding.code for finding in replay.take_findings()] == ["R711"]
    assert replay.take_findings() == []


def read_all(live: LiveCan, steps: int = 2 * LIMIT) -> None:
    """Does the work of the channel's thread until there is nothing left to do."""
    for _ in range(steps):
        frames = live.frames
        if live.listener.step() > 0.0 or (live.frames == frames and live.listener.idle):
            return


def test_live_can_over_a_virtual_bus(dbc: Path, decoder: Decoder) -> None:
    now = [100.0]
    live = LiveCan(Adapter("runtime-live", "virtual"), decoder, VehicleTime(), clock=lambda: now[0])
    frame = pack_frame(dbc)
    read_all(live)
    with can.Bus(channel="runtime-live", interface="virtual") as bus:
        assert live.due(100.0) == []
        now[0] = 102.5
        read_all(live)
        for _ in range(LIMIT + 1):
            bus.send(can.Message(arbitration_id=256, is_extended_id=False, data=frame.data))
        read_all(live)
        live.wait(10.0, None)
        arrivals = live.due(102.5)
        assert len(arrivals) == LIMIT and {arrival.at for arrival in arrivals} == {2.5}
        assert arrivals[0].readings[0].value == pytest.approx(390.1)
        assert live.next_deadline() == float("-inf")
        # What waits keeps the time at which it came.
        assert [arrival.at for arrival in live.due(109.0)] == [2.5]
        assert live.next_deadline() is None
    live.close()
    assert live.ended and live.due(103.0) == [] and live.frames == LIMIT + 1


def test_a_can_channel_that_cannot_be_opened(decoder: Decoder) -> None:
    live = LiveCan(Adapter("none", "no such interface"), decoder, VehicleTime())
    live.start()
    with pytest.raises(DesignError) as raised:
        live.await_open(host_seconds() + 60.0)
    assert codes(raised) == ["R709"]
    live.close()


def test_a_can_channel_that_fails_is_opened_again(decoder: Decoder) -> None:
    now = [10.0]
    live = LiveCan(Adapter("runtime-fails", "virtual"), decoder, VehicleTime(), clock=lambda: now[0])
    read_all(live)
    live.listener._bus.shutdown()
    read_all(live)
    assert live.due(10.0) == []
    assert "R710" in [finding.code for finding in live.take_findings()]
    assert live.health == "down" and live.listener.step() == 1.0
    now[0] = 11.0
    read_all(live)
    with can.Bus(channel="runtime-fails", interface="virtual") as bus:
        bus.send(can.Message(arbitration_id=352, is_extended_id=True, data=b"\x10\x27"))
        read_all(live)
        assert len(live.due(11.5)) == 1 and live.health == "up"
    live.close()


class DownBus:
    """An interface that is down: it opens, and fails as soon as it is read."""

    up = False

    def __init__(self, **given: object) -> None:
        pass

    def recv(self, seconds: float) -> None:
        if not DownBus.up:
            raise OSError(100, "Network is down")

    def shutdown(self) -> None:
        pass


def test_an_interface_that_is_down_is_told_once_and_once_when_it_is_back(
    decoder: Decoder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(can, "Bus", DownBus)
    now = [0.0]
    live = LiveCan(Adapter("can0", "made"), decoder, VehicleTime(), clock=lambda: now[0])
    told = []
    for up, until in ((False, 60.0), (True, 120.0), (False, 180.0)):
        monkeypatch.setattr(DownBus, "up", up)
        while now[0] < until:
            read_all(live)
            live.due(now[0])
            told += [finding.code for finding in live.take_findings()]
            now[0] += 0.25
    # It brings nothing while it is up, either.
    assert told == ["R710", "R715", "R727", "R710"] and live.health == "down"
    live.close()


class TimedBus:
    """Frames with times of the bus's own clock, as a queue gives them."""

    state = can.BusState.ACTIVE

    def __init__(self) -> None:
        self.waiting: list[can.Message] = []

    def frame(self, at: float) -> None:
        self.waiting.append(can.Message(timestamp=at, arbitration_id=352, data=b"\x10\x27"))

    def recv(self, seconds: float) -> can.Message | None:
        return self.waiting.pop(0) if self.waiting else None

    def shutdown(self) -> None:
        pass


def test_what_waited_while_the_loop_was_held_up_is_as_old_as_it_is(
    decoder: Decoder, monkeypatch: pytest.MonkeyPatch
) -> None:
    bus = TimedBus()
    monkeypatch.setattr(can, "Bus", lambda **given: bus)
    clock = [0.0]
    live = LiveCan(Adapter("can0", "made"), decoder, VehicleTime(), clock=lambda: clock[0])

    def ages(now: float, *times: float) -> list[float]:
        clock[0] = now
        for at in times:
            bus.frame(at)
        read_all(live)
        return [round(now - arrival.at, 6) for arrival in live.due(now)]

    assert ages(0.0) == ages(0.9) == []
    # The bus's clock is 1000 s ahead, and frames are read 10 ms after they came.
    assert ages(1.01, 1001.0) == [0.0] and ages(1.9) == [] and ages(2.01, 1002.0) == [0.0]
    # The loop stands still from 2.01 to 5.01.
    assert ages(5.01, 1002.5, 1004.0, 1005.0) == [2.5, 1.0, 0.0]
    # Its clock is set back by an hour: no frame is older than the last look, none comes from later.
    assert ages(5.11, 1005.1 - 3600) == [0.1] and ages(5.21, 1005.2 - 3600) == [0.1]
    # And forward by a day.
    assert ages(5.31, 1005.3 + 86400) == [0.0] and ages(7.31, 1006.0 + 86400, 1007.3 + 86400) == [1.3, 0.0]
    # Without a time of its own it counts as it is read, while the loop turns.
    assert ages(7.5, 0.0) == [0.0]
    live.close()


@pytest.mark.parametrize("stamps", ["none", "as read"])
def test_without_times_of_the_bus_a_frame_is_as_old_as_a_standstill_may_have_made_it(
    decoder: Decoder, monkeypatch: pytest.MonkeyPatch, stamps: str
) -> None:
    """``as read``: the driver stamps with the host's clock as it hands a frame over."""
    bus = TimedBus()
    monkeypatch.setattr(can, "Bus", lambda **given: bus)
    clock = [0.0]
    live = LiveCan(Adapter("can0", "made"), decoder, VehicleTime(), clock=lambda: clock[0])

    def ages(now: float, count: int) -> list[float]:
        clock[0] = now
        for each in range(count):
            bus.frame(0.0 if stamps == "none" else 5e8 + now + each * 1e-6)
        read_all(live)
        return [round(now - arrival.at, 2) for arrival in live.due(now)]

    assert ages(0.0, 0) == []
    for turn in range(1, 9):
        assert ages(turn / 4, 1) == [0.0]
    # Stopped from 2.00 s; then it goes on.
    assert ages(8.0, 3) == [6.0, 6.0, 6.0]
    assert ages(8.01, 2) == [0.0, 0.0]
    # So many that one turn does not take them all.
    assert ages(14.01, LIMIT + 2) == [6.0] * LIMIT
    assert [round(14.02 - arrival.at, 2) for arrival in live.due(14.02)] == [6.01, 6.01]
    assert ages(14.1, 1) == [0.0]
    live.close()


def test_seconds_of_a_suspended_board_count() -> None:
    assert inspect.signature(run).parameters["clock"].default is host_seconds
    if hasattr(time, "CLOCK_BOOTTIME"):
        assert abs(host_seconds() - time.clock_gettime(time.CLOCK_BOOTTIME)) < 1.0


def test_a_log_without_frames_is_of_no_other_vehicle(tmp_path: Path, decoder: Decoder) -> None:
    path = tmp_path / "x.record"
    recorder = Recorder(path, "made", bytes(8))
    recorder.arrived(Arrival(0.5, (Reading("told", None, 1.0),)))
    recorder.close()
    replay = Replay(RecordLog(path), decoder, VehicleTime())
    replay.due(0.0)
    replay.due(1.0)
    assert replay.ended and replay.take_findings() == []


@pytest.mark.parametrize("label", sorted(NO_VALUE_LABELS))
def test_a_label_for_no_value_is_one_for_check_and_run(tmp_path: Path, label: str) -> None:
    path = tmp_path / "x.dbc"
    path.write_text(
        'VERSION ""\nNS_ :\nBS_:\nBU_: A\nBO_ 100 M: 1 A\n SG_ S : 0|8@1+ (1,0) [0|0] "" A\n'
        f'VAL_ 100 S 1 "On" 7 "{label.upper()}" 9 "Off" ;\n'
    )
    state = signal("m.s", kind="word", unit=None, words={1: "On", 9: "Off"}, source="M.S")
    decoder = load_decoder(design([state], path))
    readings = decoder.readings(Frame(0.0, 100, False, b"\x07"))
    assert [reading.value for reading in readings] == [Doubt.UNSEEN]
    facts, _ = read_dbc(path.read_bytes(), path.name, None)
    assert facts is not None
    findings: list[Finding] = []
    check_signals({"m.s": state}, BusFacts("", facts, path.name), findings)
    assert findings == []
