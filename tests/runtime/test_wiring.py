"""Several buses while it runs: frames of equal identifiers never mix, what is given for the buses is whole,
and requests go out where they belong.

Outside oracle: cantools, which decodes each bus by that bus's own file.
"""

from __future__ import annotations

import argparse
import random
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import can
import cantools
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from runtime_builders import host_for

from hmic.cli import run_command as command
from hmic.cli.main import main
from hmic.diagnostics import DesignError
from hmic.model.design import Design
from hmic.model.load import load
from hmic.runtime.decoding import Arrival
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.recording import Recorder, RecordLog
from hmic.runtime.replays import open_replay
from hmic.runtime.requests import RequestMade
from hmic.runtime.sources import LiveCan, Replay
from hmic.runtime.vehicle_time import VehicleTime
from hmic.runtime.wanted import Wanted
from hmic.runtime.wiring import Wire, wires
from hmic.sources.frame import Frame

BASE = Path(__file__).parents[2] / "hmic" / "cli" / "pages" / "base"
LAYOUT = """screen drive "Drive"
    plan
        a
    in a  reading {} as "0", text 40 arcmin
"""


class Described:
    """A bus with random messages: its file, and the fields that a design takes."""

    def __init__(self, name: str, dice: random.Random, identifiers: list[int]) -> None:
        self.name = name
        self.fields: list[tuple[str, str, str]] = []
        lines = ['VERSION ""', ""]
        for identifier in identifiers:
            message = f"M{dice.randrange(1000)}x{identifier}"
            lines.append(f"BO_ {identifier} {message}: 8 A")
            start = 0
            for at in range(dice.randrange(1, 4)):
                length = dice.choice((4, 8, 12, 16))
                sign, scale = dice.choice("+-"), dice.choice(("1", "0.5", "0.1"))
                offset = dice.choice(("0", "-40", "7"))
                lines.append(f' SG_ F{at} : {start}|{length}@1{sign} ({scale},{offset}) [0|0] "" B')
                self.fields.append((f"{name}.s{len(self.fields)}", message, f"F{at}"))
                start += length
            lines.append("")
        self.text = "\n".join(lines)
        self.database: Any = cantools.database.load_string(self.text, "dbc")


def folder_of(path: Path, buses: list[Described]) -> Path:
    """A design that takes every field of the buses."""
    path.mkdir(parents=True, exist_ok=True)
    names = ", ".join(f"{bus.name}: {bus.name}.dbc" for bus in buses)
    text = (BASE / "design.yaml").read_text(encoding="utf-8")
    (path / "design.yaml").write_text(text.replace("dbc: van.dbc", f"buses: {{{names}}}"), encoding="utf-8")
    shutil.copy(BASE / "themes.yaml", path)
    lines = ["signals:"]
    for bus in buses:
        (path / f"{bus.name}.dbc").write_text(bus.text)
        for name, message, field in bus.fields:
            source = f"{bus.name}/{message}.{field}"
            lines.append(f'  {name}: {{unit: "", range: [-30000, 30000], from: {source}, stale: 1 s}}')
    (path / "signals.yaml").write_text("\n".join(lines) + "\n")
    (path / "drive.layout").write_text(LAYOUT.format(buses[0].fields[0][0]))
    return path


def loaded(path: Path) -> Design:
    design, findings = load(path)
    assert design is not None
    assert [finding for finding in findings if finding.code not in ("M247", "M265")] == []
    return design


def two_buses(seed: int) -> list[Described]:
    """Two random buses that share most of their identifiers."""
    dice = random.Random(seed)
    shared = dice.sample(range(1, 0x7FF), 3)
    return [Described(name, dice, [*shared, dice.randrange(1, 0x7FF)][: dice.randrange(2, 5)])
            for name in ("car", "drive")]  # fmt: skip


def expected(buses: list[Described], sent: list[tuple[str, int, bytes]]) -> dict[str, float]:
    """The last value of each signal, by cantools, each bus by its own file."""
    values: dict[str, float] = {}
    for bus in buses:
        for on, identifier, data in sent:
            messages = {message.frame_id: message for message in bus.database.messages}
            if on != bus.name or identifier not in messages:
                continue
            decoded = messages[identifier].decode(data, decode_choices=False)
            for name, message, field in bus.fields:
                if message == messages[identifier].name:
                    values[name] = float(decoded[field])
    return values


@given(st.integers(0, 1 << 32))
@settings(max_examples=40, deadline=None)
def test_each_value_is_only_ever_of_its_own_bus(tmp_path_factory: pytest.TempPathFactory, seed: int) -> None:
    buses = two_buses(seed)
    folder = folder_of(tmp_path_factory.mktemp("two"), buses)
    design = loaded(folder)
    dice = random.Random(seed + 1)
    identifiers = sorted({each.frame_id for bus in buses for each in bus.database.messages} | {5})
    sent = [
        (dice.choice(("car", "drive")), dice.choice(identifiers), dice.randbytes(8))
        for _ in range(dice.randrange(1, 60))
    ]
    lines = [
        f"({100 + at / 100:.6f}) {'can0' if bus == 'car' else 'can1'} {identifier:03X}#{data.hex()}"
        for at, (bus, identifier, data) in enumerate(sent)
    ]
    log = folder / "trip.log"
    log.write_text("\n".join(lines) + "\n")
    decoder = load_decoder(design)
    got: dict[str, Any] = {}
    for frame in open_replay(design, [f"car={log}#can0", f"drive={log}#can1"]):
        assert isinstance(frame, Frame)
        for reading in decoder.readings(frame):
            assert reading.name.startswith(f"{frame.bus}.")
            got[reading.name] = reading.value
    assert got == pytest.approx(expected(buses, sent))
    assert [each.code for each in decoder.take_findings()] == []


GIVEN = [
    (["can0", "can1"], "R764", "--can car=can0 or --can drive=can0"),
    (["car=can0"], "R766", "--can drive=none"),
    (["car=can0", "rear=can1"], "R763", "car, drive"),
    (["car=can0", "drvie=can1"], "R763", "did you mean 'drive'?"),
    (["car=can0", "drive=can0"], "R765", "each with a source of its own"),
    (["car=can0", "car=can1", "drive=can2"], "R765", "once for each bus"),
]


@pytest.mark.parametrize(("words", "code", "remedy"), GIVEN)
def test_what_is_given_for_the_buses_is_whole(
    tmp_path: Path, words: list[str], code: str, remedy: str, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = folder_of(tmp_path / "van", two_buses(3))
    with pytest.raises(DesignError) as raised:
        wires(loaded(folder), words, "--can")
    assert [finding.code for finding in raised.value.findings] == [code]
    assert remedy in str(raised.value.findings[0].remedy)
    given = [word for each in words for word in ("--can", each)]
    assert main(["run", str(folder), "--port", "/dev/null", *given]) == 2
    assert code in capsys.readouterr().err


def test_what_is_right_for_the_buses(tmp_path: Path) -> None:
    design = loaded(folder_of(tmp_path / "van", two_buses(3)))
    assert wires(design, ["drive=can1", "car=slcan:/dev/ttyACM0@500000"], "--can") == [
        Wire("drive", "can1"), Wire("car", "slcan:/dev/ttyACM0@500000")
    ]  # fmt: skip
    assert wires(design, ["car=can0", "drive=none"], "--can") == [Wire("car", "can0")]
    # A file that is called so is one.
    odd = tmp_path / "car=a#1.log"
    odd.write_text("(1.0) can0 001#00\n")
    with pytest.raises(DesignError) as raised:
        open_replay(design, [str(odd)])
    assert raised.value.findings[0].code == "R764"
    assert [frame.at for frame in open_replay(design, [f"car={odd}", "drive=none"])] == [0.0]


def played(design: Design, given: list[str]) -> tuple[list[tuple[float, str, int]], list[str]]:
    log = open_replay(design, given)
    frames = [(round(each.at, 3), each.bus, each.identifier) for each in log if isinstance(each, Frame)]
    return frames, [finding.code for finding in log.findings]


def test_two_logs_play_by_their_times(tmp_path: Path) -> None:
    design = loaded(folder_of(tmp_path / "van", two_buses(3)))
    one, two, other = tmp_path / "one.log", tmp_path / "two.log", tmp_path / "other.log"
    one.write_text("(1700000000.5) can0 001#00\n(1700000001.5) can0 002#00\n")
    two.write_text("(1700000000.0) can7 003#00\n(1700000001.0) can7 004#00\n(1700000002.0) can7 005#00\n")
    frames, codes = played(design, [f"car={one}", f"drive={two}"])
    assert codes == [] and frames == [
        (0.0, "drive", 3), (0.5, "car", 1), (1.0, "drive", 4), (1.5, "car", 2), (2.0, "drive", 5)
    ]  # fmt: skip
    other.write_text("(5.0) can7 003#00\n(6.0) can7 004#00\n")
    frames, codes = played(design, [f"car={one}", f"drive={other}"])
    assert codes == ["R769"] and sorted(frames) == [
        (0.0, "car", 1), (0.0, "drive", 3), (1.0, "car", 2), (1.0, "drive", 4)
    ]  # fmt: skip


def test_logs_of_two_clocks_begin_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    buses = two_buses(3)
    folder = folder_of(tmp_path / "van", buses)
    one, other = tmp_path / "one.log", tmp_path / "other.log"
    identifier = buses[0].database.messages[0].frame_id
    one.write_text(f"(1700000000.5) can0 {identifier:03X}#0000000000000000\n(1700000009.5) can0 002#00\n")
    other.write_text("(5.0) can7 003#00\n(6.0) can7 004#00\n")
    words = ["trace", str(folder), "--replay", f"car={one}", "--replay", f"drive={other}"]
    assert main([*words, "--at", "2", "--out", str(tmp_path / "then.png")]) == 0
    told = capsys.readouterr().err
    assert "R769" in told and "R711" in told and "'one.log and other.log' on drive" in told
    assert (tmp_path / "then.png").exists()


def test_a_channel_that_a_log_does_not_have(tmp_path: Path) -> None:
    design = loaded(folder_of(tmp_path / "van", two_buses(3)))
    log = tmp_path / "trip.log"
    log.write_text("(1.0) can0 001#00\n(2.0) can2 002#00\n")
    opened = open_replay(design, [f"car={log}#can0", f"drive={log}#can1"])
    assert [each.at for each in opened] == [0.0]
    (finding,) = opened.findings
    assert finding.code == "R768" and "'can1'" in finding.message and "can0, can2" in str(finding.remedy)


def test_a_log_is_given_once_for_each_bus(tmp_path: Path) -> None:
    design = loaded(folder_of(tmp_path / "van", two_buses(3)))
    log, second = tmp_path / "trip.log", tmp_path / "more.log"
    for each in (log, second):
        each.write_text("(1.0) can0 001#00\n")
    for words in (
        [f"car={log}", f"drive={log}"],
        [f"car={log}", f"drive={log}#can0"],
        [f"car={log}#can0", f"drive={log}#can0"],
    ):
        with pytest.raises(DesignError) as raised:
            open_replay(design, words)
        assert [finding.code for finding in raised.value.findings] == ["R765"], words


def test_two_logs_of_one_bus_are_not_mixed(tmp_path: Path) -> None:
    (bus,) = two_buses(5)[:1]
    design = loaded(folder_of(tmp_path / "van", [bus]))
    one, two = tmp_path / "one.log", tmp_path / "two.log"
    for each in (one, two):
        each.write_text("(1.0) can0 001#00\n")
    with pytest.raises(DesignError) as raised:
        open_replay(design, [str(one), str(two)])
    assert [finding.code for finding in raised.value.findings] == ["R765"]
    assert [each.bus for each in open_replay(design, [str(one)]) if isinstance(each, Frame)] == ["car"]


def test_a_record_is_played_alone(tmp_path: Path) -> None:
    buses = two_buses(3)
    design = loaded(folder_of(tmp_path / "van", buses))
    sent = [
        ("car", buses[0].database.messages[0].frame_id, b"\1" * 8),
        ("drive", buses[0].database.messages[0].frame_id, b"\2" * 8),
    ]
    decoder = load_decoder(design)
    path = tmp_path / "van.record"
    recorder = Recorder(path, design.name, b"\0" * 8)
    for at, (bus, identifier, data) in enumerate(sent):
        frame = Frame(float(at), identifier, False, data, bus=bus)
        recorder.arrived(Arrival(frame.at, decoder.readings(frame), frame))
    recorder.close()
    opened = open_replay(design, [str(path)])
    assert isinstance(opened, RecordLog)
    assert [(each.bus, each.data) for each in opened if isinstance(each, Frame)] == [
        (bus, data) for bus, _, data in sent
    ]
    with pytest.raises(DesignError) as raised:
        open_replay(design, [str(path), f"drive={path}"])
    assert raised.value.findings[0].code == "R767"


# Live, on python-can's virtual buses


@pytest.fixture
def lines() -> Iterator[tuple[Any, Any]]:
    car, drive = (can.Bus(channel=f"wiring-{name}", interface="virtual") for name in ("car", "drive"))
    yield car, drive
    car.shutdown()
    drive.shutdown()


def arguments(folder: Path, *words: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    command.add_arguments(parser)
    channels = ["--can", "car=virtual:wiring-car", "--can", "drive=virtual:wiring-drive"]
    return parser.parse_args([str(folder), "--port", "x", *channels, *words])


def test_live_channels_are_read_by_their_own_description(tmp_path: Path, lines: tuple[Any, Any]) -> None:
    buses = two_buses(3)
    folder = folder_of(tmp_path / "van", buses)
    design = loaded(folder)
    sources = command.open_sources(host_for(design), arguments(folder), VehicleTime(), frozenset())
    identifier = buses[0].database.messages[0].frame_id
    sent = [("car", identifier, b"\1" * 8), ("drive", identifier, b"\2" * 8)]
    try:
        for (_, number, data), line in zip(sent, lines, strict=True):
            line.send(can.Message(arbitration_id=number, is_extended_id=False, data=data))
        got: dict[str, Any] = {}
        until = time.monotonic() + 5.0
        while len(got) < len(expected(buses, sent)) and time.monotonic() < until:
            for source in sources:
                for arrival in source.due(time.monotonic()):
                    got |= {reading.name: reading.value for reading in arrival.readings}
            time.sleep(0.01)
        assert got == pytest.approx(expected(buses, sent))
        assert [source.name for source in sources] == ["car=virtual:wiring-car", "drive=virtual:wiring-drive"]
        assert all(source.health == "up" for source in sources)
    finally:
        for source in sources:
            source.close()


def test_a_request_goes_out_on_its_own_bus(tmp_path: Path, lines: tuple[Any, Any]) -> None:
    folder = folder_of(tmp_path / "van", two_buses(3))
    design = loaded(folder)
    given = arguments(folder, "--allow-outputs")
    sources = command.open_sources(host_for(design), given, VehicleTime(), frozenset())
    try:
        send = command._sender(sources, given)
        assert send(RequestMade("x", 1.0, Frame(0.0, 0x123, False, b"\7", bus="drive"))) is None
        heard = lines[1].recv(2.0)
        assert heard is not None and (heard.arbitration_id, bytes(heard.data)) == (0x123, b"\7")
        assert lines[0].recv(0.1) is None
        assert send(RequestMade("x", 1.0, Frame(0.0, 0x123, False, b"\7", bus="rear"))) is not None
    finally:
        for source in sources:
            source.close()


def test_each_channel_hears_the_frames_of_its_own_bus(tmp_path: Path) -> None:
    buses = two_buses(3)
    decoder = load_decoder(loaded(folder_of(tmp_path / "van", buses)))
    for bus in buses:
        wanted = {(message.frame_id, False) for message in bus.database.messages}
        assert decoder.wanted(bus.name) == Wanted(frozenset(wanted))
    assert decoder.wanted("") == Wanted()


def test_a_replay_tells_each_bus_that_met_nothing(tmp_path: Path) -> None:
    buses = two_buses(3)
    design = loaded(folder_of(tmp_path / "van", buses))
    log = tmp_path / "trip.log"
    known = buses[0].database.messages[0].frame_id
    log.write_text(f"(1.0) can0 {known:03X}#0000000000000000\n(1.1) can1 7FF#00\n(1.2) can1 7FE#00\n")
    opened = open_replay(design, [f"car={log}#can0", f"drive={log}#can1"])
    assert not isinstance(opened, RecordLog)
    replay = Replay(opened, load_decoder(design), VehicleTime(None))
    while not replay.ended:
        replay.due(0.0)
    told = [finding.message for finding in replay.take_findings() if finding.code == "R711"]
    assert len(told) == 1 and "none of the 2 frames of 'trip.log' on drive" in told[0]
    assert replay.take_findings() == []


def test_a_live_channel_of_one_bus_is_called_as_it_was_given(tmp_path: Path) -> None:
    (bus,) = two_buses(5)[:1]
    design = loaded(folder_of(tmp_path / "van", [bus]))
    parser = argparse.ArgumentParser()
    command.add_arguments(parser)
    given = parser.parse_args([str(tmp_path), "--port", "x", "--can", "virtual:one", "--can", "virtual:two"])
    sources = command.open_sources(host_for(design), given, VehicleTime(), frozenset())
    for source in sources:
        assert isinstance(source, LiveCan) and source.bus == "car"
        source.close()


def test_every_command_that_reads_a_log_tells_a_channel_that_it_does_not_have(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "trip.log"
    log.write_text("(1.0) can0 001#00\n(2.0) can2 002#00\n")
    main(["survey", "--log", f"{log}#can1"])
    told = capsys.readouterr()
    assert "R768" in told.err and "'trip.log' has no frames of channel 'can1'" in told.err
    main(["survey", "--log", f"{log}#can2"])
    assert "R768" not in capsys.readouterr().err
