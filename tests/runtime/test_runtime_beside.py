"""What a run does beside its work: sums kept through cut power, the live table, the simulator, the
watchdog, the log that rotates, messages that stand still, and message files of every kind."""

from __future__ import annotations

import csv
import os
import random
import shutil
import socket
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import can
import cantools
import pytest
from hypothesis import given
from hypothesis import strategies as st
from runtime_builders import SPAN, BoundScreen, bound, design, scaled, signal, total_of, value_of

from hmic.model.channels import Channel, Listed
from hmic.model.checksums import NAMED
from hmic.model.design import MessageCheck
from hmic.model.expressions import Doubt
from hmic.model.load import load
from hmic.model.units import unit
from hmic.runtime import service
from hmic.runtime.adapters import Adapter
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.keeping import EVERY, Keeper, Sum, load_sums, save_sums
from hmic.runtime.replays import Repeated
from hmic.runtime.service import Watchdog, open_log
from hmic.runtime.simulator import Simulator
from hmic.runtime.sources import LiveCan, Replay
from hmic.runtime.state import SignalTable
from hmic.runtime.vehicle_time import VehicleTime
from hmic.runtime.watching import Watch, shown_on
from hmic.sources.frame import Frame
from hmic.sources.log import Log
from tests.tools.changed import replace

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
REFERENCE = Path(__file__).parents[1] / "reference"


# Sums ------------------------------------------------------------------------------------------


def failing_at(number: int, monkeypatch: pytest.MonkeyPatch) -> Callable[[], int]:
    """Power that goes at the ``number``-th operation on the disk; how many there were."""
    count = 0

    def counted(real: Callable[..., object], half: bool = False) -> Callable[..., object]:
        def run(*given: object, **named: object) -> object:
            nonlocal count
            count += 1
            if count == number:
                if half:
                    real(given[0], bytes(given[1])[:7])  # type: ignore[call-overload]
                raise OSError(5, "power cut")
            if count > number:
                raise OSError(5, "no power")
            return real(*given, **named)

        return run

    monkeypatch.setattr(os, "open", counted(os.open))
    monkeypatch.setattr(os, "write", counted(os.write, half=True))
    monkeypatch.setattr(os, "fsync", counted(os.fsync))
    monkeypatch.setattr(Path, "replace", counted(Path.replace))
    return lambda: count


def test_power_may_go_at_any_operation(tmp_path: Path) -> None:
    path = tmp_path / "van.sums"
    for number in range(1, 100):
        for part in tmp_path.iterdir():
            part.unlink()
        save_sums(path, {"e": Sum(0.5)})
        save_sums(path, {"e": Sum(1.0)})
        with pytest.MonkeyPatch.context() as patch:
            count = failing_at(number, patch)
            with suppress(OSError):
                save_sums(path, {"e": Sum(2.0)})
            whole = count() < number
        sums, findings = load_sums(path)
        assert sums in ({"e": Sum(1.0)}, {"e": Sum(2.0)}) and not findings
        if whole:
            assert sums == {"e": Sum(2.0)} and number > 6
            return
    raise AssertionError("it never ends")


summed = st.builds(
    Sum,
    st.floats(allow_nan=False, allow_infinity=False),
    st.fractions(min_value=1 / 3600),
    st.lists(st.integers(-3, 3), max_size=7).map(tuple),
)


@given(st.dictionaries(st.text(max_size=20), summed, max_size=5))
def test_sums_come_back_exactly(tmp_path_factory: pytest.TempPathFactory, sums: dict[str, Sum]) -> None:
    path = tmp_path_factory.mktemp("s") / "deep" / "van.sums"
    save_sums(path, sums)
    assert load_sums(path) == (sums, [])


def test_spoilt_sums_are_told_and_the_older_count(tmp_path: Path) -> None:
    path = tmp_path / "van.sums"
    assert load_sums(path) == ({}, [])
    save_sums(path, {"e": Sum(1.0)})
    save_sums(path, {"e": Sum(2.0)})
    good = path.read_bytes()
    for spoilt in (b"", good[:-5], good.replace(b"2.0", b"9.0"), b"\xff\x00", b"0 []"):
        path.write_bytes(spoilt)
        sums, findings = load_sums(path)
        assert sums == {"e": Sum(1.0)} and [finding.code for finding in findings] == ["R756"]


def test_a_keeper_writes_what_changed_and_complains_once(tmp_path: Path) -> None:
    sums = {"e": Sum(1.0)}
    path = tmp_path / "van.sums"
    keeper = Keeper(path, lambda: sums)
    for now in (0.0, EVERY, 2 * EVERY):
        assert keeper.turn(now) == []
    assert not path.exists()
    sums["e"] = Sum(2.0)
    keeper.turn(3 * EVERY)
    keeper._disk.wait()
    assert load_sums(path)[0] == {"e": Sum(2.0)}
    sums["e"] = Sum(3.0)
    path.unlink()
    (tmp_path / "van.sums.part").mkdir()
    told = []
    for now in range(4, 40):
        told += [finding.code for finding in keeper.turn(now * EVERY)]
        keeper._disk.wait()
    assert told == ["R755"]
    (tmp_path / "van.sums.part").rmdir()
    assert keeper.close() == [] and load_sums(path)[0] == {"e": Sum(3.0)}


def test_a_slow_disk_does_not_hold_up_the_keeper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda descriptor: (time.sleep(0.3), real(descriptor)))
    sums = {"e": Sum(1.0)}
    keeper = Keeper(tmp_path / "van.sums", lambda: sums)
    keeper.turn(0.0)
    began = time.monotonic()
    for turn in range(1, 4):
        sums["e"] = Sum(float(turn) + 1)
        keeper.turn(turn * EVERY)
    assert time.monotonic() - began < 0.2
    assert keeper.close() == [] and load_sums(tmp_path / "van.sums")[0] == {"e": Sum(4.0)}


# The table --------------------------------------------------------------------------------------


def table_bound():  # type: ignore[no-untyped-def]
    signals = [
        signal("a.speed", unit=unit("km/h"), resolution=0.1),
        signal("a.cells", count=3, unit=unit("V")),
        signal("a.on", kind="flag", unit=None),
        signal("a.sum", derived=total_of("a.speed")),
        signal("a.name", kind="text", unit=None),
    ]
    channels = [scaled("a.sum"), Channel(value_of("a.on", "flag"), Listed((False, True)))]
    screens = [BoundScreen("first", (0,)), BoundScreen("second", (0, 1))]
    return bound(signals, channels, screens)


def test_the_table_says_value_age_rate_source_and_where() -> None:
    van = table_bound()
    table = SignalTable(van.design.signals)
    written: list[str] = []
    watch = Watch(van, table, [], write=written.append, size=lambda: (200, 50))
    watch.turn(0.0)
    for tenth in range(20):
        table.advance(tenth / 10)
        table.feed(
            Arrival(
                tenth / 10,
                (
                    Reading("a.speed", None, 42.5),
                    Reading("a.cells", 1, 3.5),
                    Reading("a.on", None, True),
                    Reading("a.name", None, "Low\ttide"),
                ),
            )
        )
    table.advance(2.0)
    assert shown_on(van) == {
        "a.sum": ["first", "second"],
        "a.speed": ["first", "second"],
        "a.on": ["second"],
    }
    lines = watch.lines()
    assert lines[0] == "sources: no source"
    assert lines[2].split() == ["a.speed", "42.5", "km/h", "100", "ms", "10.0/s", "pipe", "first,", "second"]
    assert lines[3].split()[:3] == ["a.cells", "3.500..3.500", "(2?)"]
    assert lines[4].split()[:2] == ["a.on", "on"]
    assert lines[5].split() == ["a.sum", "42.500", "%", "worked", "out", "first,", "second"]
    watch.turn(0.5)
    watch.note("display\nconnected")
    watch.turn(1.5)
    assert len(written) == 2 and "display connected" in written[1] and written[1].startswith("\x1b[H")


def test_a_low_terminal_and_a_file() -> None:
    van = table_bound()
    written: list[str] = []
    low = Watch(van, SignalTable(van.design.signals), [], write=written.append, size=lambda: (20, 6))
    low.turn(0.0)
    lines = written[0].split("\n")
    assert len(lines) == 6 and "... and 3 more" in lines[4]
    assert all(len(line.replace("\x1b[H", "").replace("\x1b[K", "")) <= 20 for line in lines[:-1])
    plain = Watch(
        van, SignalTable(van.design.signals), [], write=written.append, size=lambda: (20, 6), plain=True
    )
    plain.turn(0.0)
    assert "\x1b" not in written[1] and len(written[1].splitlines()) == 8


# The simulator ----------------------------------------------------------------------------------


def test_a_simulated_van_is_in_range_recent_and_the_same_again() -> None:
    van, _ = load(DUNLIN)
    assert van is not None
    clock = VehicleTime(10.0)
    one, two = (Simulator(van.signals, clock, {"pack.fault", "motor.fault"}) for _ in range(2))
    table = SignalTable(van.signals, van.memories.values())
    seen: set[str] = set()
    first: list[Arrival] = []
    for tenth in range(200):
        due = one.due(tenth / 10)
        first += due
        for arrival in due:
            table.advance(arrival.at)
            table.feed(arrival)
        table.advance(clock.at(tenth / 10))
        for name in van.signals:
            value = table.lookup(name)
            items = value if isinstance(value, tuple) else (value,)
            assert not any(
                item in (Doubt.STALE, Doubt.OUT_OF_RANGE) for item in items if isinstance(item, Doubt)
            )
            if value is True:
                seen.add(name)
    assert "pack.fault" not in seen and len(seen) > 3
    second = [arrival for tenth in range(200) for arrival in two.due(tenth / 10)]
    assert first == second
    one.ask("house.lights", True)
    later = [reading for arrival in one.due(25.0) for reading in arrival.readings]
    assert {reading.value for reading in later if reading.name == "house.lights"} == {True}


# The service ------------------------------------------------------------------------------------


def test_systemd_is_told_that_the_run_lives(tmp_path: Path) -> None:
    address = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(address)
        manager.settimeout(1.0)
        dog = Watchdog({"NOTIFY_SOCKET": address, "WATCHDOG_USEC": "4000000"})
        for now in (0.0, 1.0, 1.9, 2.0, 3.0, 4.1):
            dog.turn(now)
        dog.close()
        told = [manager.recv(100) for _ in range(4)]
    assert told == [b"READY=1", b"WATCHDOG=1", b"WATCHDOG=1", b"STOPPING=1"]
    gone = Watchdog({"NOTIFY_SOCKET": address, "WATCHDOG_USEC": "nonsense"})
    assert gone.turn(0.0) == [] and gone.turn(9.0) == [] and Watchdog({}).turn(0.0) == []


def test_a_log_rotates_and_a_full_disk_does_not_matter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(service, "LOG_BYTES", 100)
    path = tmp_path / "logs" / "run.log"
    write = open_log(path, lambda: "now")
    for number in range(100):
        write(f"line {number:03d}")
    kept = sorted(part.name for part in path.parent.iterdir())
    assert kept == ["run.log", "run.log.1", "run.log.2", "run.log.3", "run.log.4", "run.log.5"]
    assert path.read_text().endswith("now line 099\n")
    assert all(part.stat().st_size <= 100 for part in path.parent.iterdir())
    with pytest.raises(OSError):
        open_log(Path("/proc/nowhere/run.log"), lambda: "now")
    # Gone while the run goes on: each line is given up.
    shutil.rmtree(path.parent)
    path.parent.write_text("no folder")
    write("lost")


# Messages that live -------------------------------------------------------------------------------


def test_the_recorded_van_passes_its_own_checks_and_a_frozen_one_does_not() -> None:
    van, _ = load(DUNLIN)
    assert van is not None
    checks = {
        name: MessageCheck(name, "Counter", "Checksum", NAMED["CRC-8/SAE-J1850"], True, SPAN)
        for name in ("PackPower", "MotorPower")
    }
    decoder = load_decoder(replace(van, messages=checks))
    frames = []
    for frame in Log(DUNLIN / "logs" / "ten_minutes.blf"):
        if frame.identifier in (288, 528):
            assert decoder.readings(frame)
            frames.append(frame)
        if len(frames) > 400:
            break
    last = frames[-1]
    assert decoder.take_findings() == []
    assert [decoder.readings(last) for _ in range(4)] == [()] * 4
    told = decoder.take_findings()
    assert [finding.code for finding in told] == ["R714"] and "stands still" in told[0].message
    damaged = replace(last, data=bytes([last.data[0] ^ 1]) + last.data[1:])
    assert decoder.readings(damaged) == () and decoder.readings(frames[-5])
    assert decoder.readings(replace(last, data=last.data[:7])) == ()


# Message files ----------------------------------------------------------------------------------


@pytest.mark.parametrize("suffix", ["kcd", "sym", "arxml", "dbc"])
def test_message_files_of_every_kind_decode_as_the_library_does(tmp_path: Path, suffix: str) -> None:
    """Against cantools: the example van's messages written again, or a small file beside this one."""
    path = tmp_path / f"van.{suffix}"
    if suffix in ("kcd", "dbc"):
        plain = cantools.database.load_file(DUNLIN / "dunlin.dbc", encoding="cp1252")
        cantools.database.dump_file(plain, str(path))
    else:
        path.write_bytes((Path(__file__).parent / f"wheels.{suffix}").read_bytes())
    library = cantools.database.load_file(path)
    dice = random.Random(3)
    checked = 0
    for message in library.messages:
        signals = [
            signal(
                f"m.s{at}",
                unit=unit(field.unit or "") or unit(""),
                low=-1e9,
                high=1e9,
                source=f"{message.name}.{field.name}",
            )
            for at, field in enumerate(message.signals)
        ]
        decoder = load_decoder(design(signals, path))
        for _ in range(4):
            data = dice.randbytes(message.length)
            with suppress(cantools.database.errors.DecodeError):
                expected = message.decode(data, decode_choices=False, allow_truncated=True)
                got = decoder.readings(Frame(0.0, message.frame_id, message.is_extended_frame, data))
                values = {message.signals[int(item.name[3:])].name: item.value for item in got}
                for name, value in expected.items():
                    assert isinstance(values[name], Doubt) or values[name] == pytest.approx(float(value))
                    checked += 1
    assert checked >= {"kcd": 300, "dbc": 300, "sym": 12, "arxml": 8}[suffix]


def test_extended_multiplexing(tmp_path: Path) -> None:
    """A multiplexer inside a multiplexed part (SG_MUL_VAL_), against cantools."""
    path = tmp_path / "x.dbc"
    path.write_text(
        'VERSION ""\nNS_ :\nBS_:\nBU_: A\nBO_ 100 M: 8 A\n SG_ S0 M : 0|4@1+ (1,0) [0|0] "" A\n'
        ' SG_ S1 m0M : 4|4@1+ (1,0) [0|0] "" A\n SG_ X m0 : 8|8@1+ (1,0) [0|0] "" A\n'
        ' SG_ Y m1 : 8|8@1+ (1,0) [0|0] "" A\n SG_ Z m1 : 16|8@1+ (1,0) [0|0] "" A\n'
        "SG_MUL_VAL_ 100 S1 S0 0-0;\nSG_MUL_VAL_ 100 X S1 0-2, 5-5;\nSG_MUL_VAL_ 100 Y S1 3-3;\n"
        "SG_MUL_VAL_ 100 Z S0 1-1;\n"
    )
    names = ("S0", "S1", "X", "Y", "Z")
    signals = [signal(name.lower(), unit=unit(""), high=255.0, source=f"M.{name}") for name in names]
    decoder = load_decoder(design(signals, path))
    library = cantools.database.load_file(path)
    for first in (0x00, 0x20, 0x30, 0x50, 0x01, 0x31, 0x02, 0xF0):
        data = bytes([first, 7, 9, 0, 0, 0, 0, 0])
        got = {item.name.upper(): item.value for item in decoder.readings(Frame(0.0, 100, False, data))}
        try:
            expected = library.decode_message(100, data)
        except cantools.database.errors.DecodeError:
            # It drops all for a page that it does not know; what is on no such page is there all the same.
            expected = {"S0": first & 15} | ({"S1": first >> 4} if first & 15 == 0 else {})
        assert got == {name: float(value) for name, value in expected.items()}


# Faults -----------------------------------------------------------------------------------------


def test_a_log_is_played_again_and_again(tmp_path: Path) -> None:
    path = tmp_path / "x.asc"
    with can.Logger(str(path)) as writer:
        for at in range(3):
            writer(can.Message(timestamp=100 + at, arbitration_id=5, data=b"\1", is_extended_id=False))
    log = iter(Repeated(lambda: Log(path)))
    times = [next(log).at for _ in range(7)]
    assert times == pytest.approx([0, 1, 2, 2.1, 3.1, 4.1, 4.2])


class OffBus:
    """A controller that has left the bus, as an interface shows it."""

    state = can.BusState.ERROR

    def recv(self, seconds: float) -> None:
        return None

    def send(self, message: object, timeout: float) -> None:
        raise can.CanOperationError("transmit buffer full")

    def shutdown(self) -> None:
        pass


def test_bus_off_is_seen_and_a_request_is_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(can, "Bus", lambda **given: OffBus())
    decoder = load_decoder(design([]))
    bus = LiveCan(Adapter("can9", "made"), decoder, VehicleTime())
    bus.listener.step()
    bus.listener.step()
    assert bus.due(0.0) == [] and bus.health == "controller error"
    assert bus.send(Frame(0.0, 5, False, b"\1")) == "its driver says 'transmit buffer full'"
    bus.close()
    assert bus.send(Frame(0.0, 5, False, b"\1")) == "CAN channel 'can9' is down" and bus.health == "down"


def test_frames_are_sent_on_a_bus() -> None:
    decoder = load_decoder(design([]))
    bus = LiveCan(Adapter("beside-test", "virtual"), decoder, VehicleTime())
    bus.listener.step()
    with can.Bus(channel="beside-test", interface="virtual") as other:
        assert bus.send(Frame(0.0, 0x710, False, b"\1\2")) is None
        got = other.recv(1.0)
    assert got is not None and (got.arbitration_id, bytes(got.data)) == (0x710, b"\1\2")
    bus.close()


def test_a_record_is_a_source_of_frames_and_values(tmp_path: Path) -> None:
    from hmic.runtime.recording import Recorder, RecordLog

    path = tmp_path / "x.record"
    recorder = Recorder(path, "made", bytes(8))
    recorder.arrived(Arrival(0.5, (Reading("told", None, "Low tide"),)))
    recorder.close()
    source = Replay(RecordLog(path), load_decoder(design([])), VehicleTime())
    source.due(0.0)
    assert source.due(1.0) == [Arrival(0.5, (Reading("told", None, "Low tide"),))] and source.ended


# Published values -------------------------------------------------------------------------------


def test_the_control_pilot_as_a_signal_that_is_worked_out() -> None:
    """tests/reference/07_j1772_duty_to_amps.csv: SAE J1772, with its step above 85 %."""
    from hmic.model.signals_file import read_signals
    from hmic.model.yaml_source import parse_yaml

    points = "10 %, 6 A, 85 %, 51 A, 85.01 %, 52.525 A, 96 %, 80 A"
    node, _ = parse_yaml(
        'signals:\n  pilot.duty: {unit: "%", range: [0, 100], from: I.Duty, stale: 1 s}\n'
        f"  pilot.limit: {{unit: A, is: 'interpolate(pilot.duty, {points})'}}\n",
        "signals.yaml",
    )
    assert node is not None
    file = read_signals(node, [])
    table = SignalTable(file.signals)
    with (REFERENCE / "07_j1772_duty_to_amps.csv").open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(rows) > 10
    for row in rows:
        table.feed(Arrival(0.0, (Reading("pilot.duty", None, float(row["duty_pct"])),)))
        assert table.lookup("pilot.limit") == pytest.approx(float(row["amps"]), rel=1e-5)
