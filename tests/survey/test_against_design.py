# ruff: noqa: E501
"""A design held against a recording: what is told, against python-can, cantools and the statistics module, and
one small recording for each code."""

from __future__ import annotations

import json
import random
import shutil
import statistics
from collections import defaultdict
from itertools import pairwise
from pathlib import Path
from typing import Any

import can
import cantools
import pytest

from hmic.cli.main import main
from hmic.model.design import Design, SignalDefinition
from hmic.model.load import load
from hmic.model.units import converter, unit
from hmic.sources.log import Log
from hmic.survey.against_design import absent, against_design
from hmic.survey.describe import Descriptions
from hmic.survey.facts import Survey
from hmic.survey.survey import survey
from tests.tools.changed import replace

ROOT = Path(__file__).parents[2]
DUNLIN = ROOT / "layouts" / "dunlin"
LOG = DUNLIN / "logs" / "ten_minutes.blf"
BASE = ROOT / "hmic" / "cli" / "pages" / "base"


# Against other libraries ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def dunlin() -> tuple[Design, Descriptions, Survey]:
    design, _ = load(DUNLIN)
    assert design is not None
    described = Descriptions(list(design.buses.values()), list(design.buses), absent=absent(design))
    log = Log(LOG)
    return design, described, survey([(log.name, log.rows(), "", True)], described)


@pytest.fixture(scope="module")
def otherwise() -> tuple[dict[str, list[float]], dict[tuple[str, str], list[tuple[float, float]]]]:
    """Of each message the stamps, of each field its stamps and values: python-can and cantools."""
    database = cantools.database.load_file(DUNLIN / "dunlin.dbc")
    stamps: dict[str, list[float]] = defaultdict(list)
    values: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    with can.BLFReader(LOG) as reader:
        for message in reader:
            described: Any = database.get_message_by_frame_id(message.arbitration_id)
            stamps[described.name].append(message.timestamp)
            for field, value in described.decode(message.data, decode_choices=False).items():
                values[described.name, field].append((message.timestamp, float(value)))
    return stamps, values


def fields_of(signal: SignalDefinition) -> list[tuple[str, str]]:
    assert signal.source is not None
    places = range(1, (signal.count or 1) + 1)
    return [(signal.source.message, signal.source.signal.replace("{n}", str(place))) for place in places]


@pytest.mark.parametrize("seed", range(6))
def test_ages_and_ranges_are_those_that_other_libraries_tell(dunlin: Any, otherwise: Any, seed: int) -> None:
    """With stale times and ranges at random, around what came."""
    design, described, found = dunlin
    stamps, values = otherwise
    some = random.Random(seed)
    database = cantools.database.load_file(DUNLIN / "dunlin.dbc")
    changed, expected = {}, set()
    for name, signal in design.signals.items():
        if signal.source is None:
            continue
        came = [values[field] for field in fields_of(signal)]
        gaps = [[after - before for (before, _), (after, _) in pairwise(of)] for of in came]
        period, longest = max(map(statistics.median, gaps)), max(map(max, gaps))
        in_turns = len(came[0]) < len(stamps[signal.source.message])
        stale = round(1000 * some.choice([0.4 * period, 0.9 * period, 1.1 * period, 1.5 * longest, 3 * longest]))
        # A value that comes by turns comes no more regularly than its message; a gap that is ten periods is a failure.
        outlasts = 0 if in_turns or longest >= 10 * period else longest
        if abs(stale / 1000 - longest) < 0.002 * longest or abs(stale / 1000 - period) < 0.002 * period:
            continue
        expected |= {("S801", name)} if stale / 1000 < max(period, outlasts) else set()
        signal = replace(signal, stale_after=stale)
        if signal.kind == "number":
            message: Any = database.get_message_by_name(signal.source.message)
            given = unit(message.get_signal_by_name(fields_of(signal)[0][1]).unit or "")
            change = converter(given, signal.unit) if given is not None and signal.unit is not None else float
            real = [change(value) for of in came for _, value in of if signal.no_data is None or abs(value - signal.no_data) > 1e-6]
            low, high = min(real), max(real)
            wide = (high - low) or 1.0
            begin, end = some.choice(
                [(low, high), (low - wide, high + wide), (low + 0.1 * wide, high + wide), (low - wide, high - 0.1 * wide), (high + wide, high + 2 * wide), (low - 3 * wide, low - wide)]
            )
            if begin > high or end < low:
                expected.add(("S803", name))
            elif begin > low or end < high:
                # Where it never changed, what lies beyond is all that came.
                expected.add(("S802" if low < high else "S803", name))
            signal = replace(signal, low=begin, high=end)
        changed[name] = signal
    signals = dict(design.signals) | changed
    told = against_design(replace(design, signals=signals), described, found)
    by_place = {signal.span: name for name, signal in signals.items()}
    said = {(each.code, by_place[each.span]) for each in told if each.code in ("S801", "S802", "S803")}
    checked = {(code, name) for code, name in said if name in changed}
    assert checked == expected
    assert len(expected) > 20
    for each in told:
        if each.code == "S802":
            signal = signals[by_place[each.span]]
            assert signal.source is not None and each.measured is not None and each.limit in (signal.low, signal.high)
        if each.code == "S801":
            name = by_place[each.span]
            if name in changed:
                gaps = [after - before for (before, _), (after, _) in pairwise(values[fields_of(signals[name])[0]])]
                nearest = min((statistics.median(gaps), max(gaps)), key=lambda gap: abs(gap * 1000 - each.limit))
                assert each.limit == pytest.approx(nearest * 1000, rel=0.002)


def test_the_example_is_borne_out_by_its_recording(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(DUNLIN), "--log", str(LOG), "--strict"]) == 0
    assert "note S805     'pack.contactors' was never 'Locked out' in 3000 frames" in capsys.readouterr().out


def test_remedies_put_it_right(dunlin: Any, tmp_path: Path) -> None:
    """A stale time and a range as the remedy has them bring silence."""
    design, described, found = dunlin
    signal = replace(design.signals["pack.voltage"], stale_after=10, low=0.0, high=300.0)
    told = against_design(replace(design, signals={signal.name: signal}), described, found)
    assert {each.code for each in told} == {"S801", "S803"}
    remedies = {each.code: each.remedy or "" for each in told}
    low, high = json.loads(remedies["S803"].partition("`range: ")[2].rstrip("`"))
    stale = int(remedies["S801"].removeprefix("write `stale: ").removesuffix(" ms`"))
    mended = replace(signal, stale_after=stale, low=low, high=high)
    assert against_design(replace(design, signals={signal.name: mended}), described, found) == []


# One recording for each code --------------------------------------------------------------------

VEHICLE, PACK, CELLS, MOTOR, HOUSE = 0x100, 0x110, 0x111, 0x120, 0x130


def frames(seconds: float = 20.0, **changes: Any) -> list[tuple[float, int, bytes]]:
    """A recording that bears the design out, but for what is changed. All at 10 Hz."""
    said = {"speed": 60.0, "gear": 3, "voltage": 350.0, "charge": 80.0, "fault": 0, "cell": 3.6, "temperature": 60.0} | changes
    rows = []
    for number in range(int(seconds * 10)):
        at, wave = number / 10, number % 20 / 20
        of = {key: value(number) if callable(value) else value for key, value in said.items()}
        speed = (round((of["speed"] + 40 * wave) * 100) & 0xFFFF).to_bytes(2, "little")
        gear = number % 4 if of["gear"] == 3 else of["gear"]
        voltage = round((of["voltage"] + 30 * wave) * 10).to_bytes(2, "little")
        charge = round((of["charge"] + 10 * wave) * 2)
        rows.append((at, VEHICLE, speed + bytes([gear])))
        rows.append((at, PACK, voltage + round(wave * 900).to_bytes(2, "little") + bytes([charge, of["fault"]])))
        rows.append((at, CELLS, round((of["cell"] + 0.3 * wave) * 1000).to_bytes(2, "little") * of.get("cells", 4)))
        rows.append((at, MOTOR, round((of["temperature"] + 30 * wave) * 10).to_bytes(2, "little") + round(wave * 600).to_bytes(2, "little")))
        rows.append((at, HOUSE, bytes([round(100 + 40 * wave), number % 2])))
    return rows


def written(path: Path, rows: list[tuple[float, int, bytes]], channel: str = "can0") -> Path:
    path.write_text("".join(f"({at:.6f}) {channel} {identifier:03X}#{data.hex()}\n" for at, identifier, data in rows))
    return path


@pytest.fixture
def van(tmp_path: Path) -> Path:
    folder = tmp_path / "van"
    shutil.copytree(BASE, folder)
    return folder


def told(van: Path, rows: list[tuple[float, int, bytes]], capsys: pytest.CaptureFixture[str], *more: str) -> list[dict[str, Any]]:
    log = written(van.parent / "drive.log", rows)
    main(["check", str(van), "--json", "--log", str(log), *more])
    found = json.loads(capsys.readouterr().out)
    return [each for each in found if each["code"][0] in "SU"]


def changed_signals(van: Path, old: str, new: str) -> None:
    path = van / "signals.yaml"
    text = path.read_text()
    assert text.count(old) == 1
    path.write_text(text.replace(old, new))


def test_what_bears_the_design_out_brings_silence(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(van, frames(), capsys) == []


def test_a_stale_time_below_the_measured_period(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    changed_signals(van, "from: Motor.Power, stale: 500 ms", "from: Motor.Power, stale: 80 ms")
    (found,) = told(van, frames(), capsys)
    assert (found["code"], found["severity"], found["file"], found["line"]) == ("S801", "warning", "signals.yaml", 16)
    assert found["remedy"] == "write `stale: 300 ms`" and found["measured"] == 80 and found["limit"] == pytest.approx(100, rel=0.002)
    assert "brought it every 100 ms: it would flicker" in found["message"]


def test_a_gap_that_a_value_must_outlast(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nine periods are a gap, twelve are a failure, which has to show."""
    late = [row for row in frames() if not (row[1] == PACK and 5 <= row[0] < 5.75)]
    found = told(van, late, capsys)
    assert {each["code"] for each in found} == {"S801"} and len(found) == 3
    assert all("once came 900 ms apart: it was stale then" in each["message"] for each in found)
    failure = [row for row in frames() if not (row[1] == PACK and 5 <= row[0] < 6.15)]
    assert told(van, failure, capsys) == []


def test_a_voltage_that_comes_too_seldom_is_not_sent_to_and_fro(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A check of ages and one against the recording ask for the opposite; both say what brings them together."""
    seldom = [row for at, row in enumerate(frames()) if row[1] != PACK or at // 5 % 10 == 0]
    (found,) = [each for each in told(van, seldom, capsys) if "'pack.voltage'" in each["message"]]
    assert found["code"] == "S801" and "better have it sent every 500 ms" in found["remedy"]
    changed_signals(van, "from: Pack.Voltage, stale: 500 ms", "from: Pack.Voltage, stale: 3 s")
    main(["check", str(van), "--json", "--log", str(van.parent / "drive.log")])
    (aged,) = [each for each in json.loads(capsys.readouterr().out) if "'pack.voltage'" in each["message"]]
    assert aged["code"] == "C456" and "its message has to come every 500 ms" in aged["remedy"]


def test_the_period_of_the_dbc_and_of_the_recording_are_told_once(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dbc = (van / "van.dbc").read_text() + '\nBA_DEF_ BO_ "GenMsgCycleTime" INT 0 9999;\nBA_DEF_DEF_ "GenMsgCycleTime" 0;\nBA_ "GenMsgCycleTime" BO_ 288 100;\n'
    (van / "van.dbc").write_text(dbc)
    changed_signals(van, "from: Motor.Power, stale: 500 ms", "from: Motor.Power, stale: 80 ms")
    log = written(van.parent / "drive.log", frames())
    codes = []
    for more in ([], ["--log", str(log)]):
        main(["check", str(van), "--json", *more])
        codes.append([each["code"] for each in json.loads(capsys.readouterr().out) if each["code"] in ("M294", "S801")])
    assert codes == [["M294"], ["S801"]]


def test_a_range_that_is_overrun(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = told(van, frames(speed=110.0), capsys)
    assert (found["code"], found["measured"], found["limit"], found["unit"]) == ("S802", 148, 140, "km/h")
    assert found["remedy"].startswith("write `range: [0, 148]` if that can be true")
    (found,) = told(van, frames(cell=4.3), capsys)
    assert found["message"] == "'pack.cells' (1, 2, 3, 4) came as 4.3 to 4.585 V, beyond its range of 2 to 4.5 V"


def test_a_range_that_is_never_met(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = told(van, frames(voltage=3.5), capsys)
    assert found["code"] == "S803" and "is true from 200 to 420 V, but what came was 3.5 to 32 V" in found["message"]


def test_a_state_without_a_word(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    changed_signals(van, '2: "N", 3: D', "2: D")
    found = [each for each in told(van, frames(), capsys) if each["code"] == "S804"]
    assert [each["message"] for each in found] == ["'vehicle.gear' came as 3, for which it has no word: it would be out of range then"]
    assert found[0]["remedy"] == 'add `3: "?"` to its words, with what it means'


def test_a_flag_that_is_none(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (van / "van.dbc").write_text((van / "van.dbc").read_text().replace("SG_ Fault : 40|1@1+", "SG_ Fault : 40|2@1+"))
    (found,) = told(van, frames(fault=lambda number: number % 3), capsys)
    assert found["code"] == "S804" and "'pack.fault' came as 2, which is neither 0 nor 1" in found["message"]
    assert '`words: {0: "Off", 1: "On", 2: "?"}`' in found["remedy"]


def test_words_that_never_came(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = told(van, frames(gear=1), capsys)
    assert (found["code"], found["severity"]) == ("S805", "note")
    assert found["message"] == "'vehicle.gear' was never 'P', 'N', 'D' in 200 frames"


def test_a_message_that_never_came(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = told(van, [row for row in frames() if row[1] != PACK], capsys)
    assert (found["code"], found["severity"], len(found["also"])) == ("S806", "warning", 3)
    assert "message 'Pack' never came, so 'pack.voltage', 'pack.current', 'pack.charge', 'pack.fault'" in found["message"]
    (whole,) = told(van, [(at, identifier + 0x200, data) for at, identifier, data in frames()], capsys)
    assert whole["code"] == "S806" and whole["message"] == "none of the 5 messages of the design came"
    assert "identifiers that came most: 300, 310, 311, 320, 330" in whole["remedy"]


def test_a_field_that_never_came(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = told(van, [(at, i, data[:4] if i == PACK else data) for at, i, data in frames()], capsys)[:1]
    assert found["code"] == "S807" and "'pack.charge' never came: 200 frames of 'Pack' came without 'Charge'" in found["message"]
    (found,) = told(van, frames(cells=2), capsys)
    assert found["message"] == "'pack.cells' (3, 4) never came, though 200 frames of 'Cells' did"


def test_values_that_never_changed(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = [(at, i, b"\x5e\x01\x00\x00" if i == MOTOR else data) for at, i, data in frames()]
    (found,) = told(van, rows, capsys)
    assert (found["code"], found["severity"]) == ("S808", "note")
    assert found["message"] == "in 200 frames of 'Motor' never changed: 'motor.temperature' 35 °C, 'motor.power' 0 kW"


def test_a_value_for_none_that_is_not_declared(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In the range it would be shown as true. As declared, it is no value, though it is no end of the field."""
    changed_signals(van, "range: [0, 140]", "range: [0, 700]")
    blank = [(at, i, b"\xff\xff" + data[2:] if i == VEHICLE and at % 2 < 0.05 else data) for at, i, data in frames()]
    (found,) = told(van, blank, capsys)
    assert (found["code"], found["severity"]) == ("S809", "warning")
    assert "'Speed' came 10 times as 655.35, apart from all other values: 'vehicle.speed' would show that as true" in found["message"]
    assert found["remedy"].endswith("add `no data: 655.35`")
    changed_signals(van, "range: [0, 700]", "range: [0, 140], no data: 655.35")
    assert told(van, blank, capsys) == []
    inner = [(at, i, b"\x00\xfe" + data[2:] if i == VEHICLE and at % 2 < 0.05 else data) for at, i, data in frames()]
    assert [each["code"] for each in told(van, inner, capsys)] == ["S802"]
    changed_signals(van, "no data: 655.35", "no data: 650.24")
    assert told(van, inner, capsys) == []


def test_a_range_of_which_next_to_nothing_came(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = [(at, i, (int(at) % 3).to_bytes(2, "little") + data[2:] if i == VEHICLE else data) for at, i, data in frames()]
    (found,) = told(van, rows, capsys)
    assert (found["code"], found["severity"]) == ("S810", "note")
    assert "'vehicle.speed' came as 0 to 0.02 km/h, next to nothing of its range of 0 to 140 km/h" in found["message"]


def test_a_message_by_two_channels(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = van.parent / "drive.log"
    first, second = written(log, frames()).read_text(), written(log, [row for row in frames() if row[1] == MOTOR], "can1").read_text()
    log.write_text("".join(sorted((first + second).splitlines(keepends=True))))
    main(["check", str(van), "--json", "--log", str(log)])
    (found,) = [each for each in json.loads(capsys.readouterr().out) if each["code"][0] == "S"]
    assert found["code"] == "S811" and "message 'Motor' came from 'can0' and 'can1'" in found["message"]
    assert found["remedy"].endswith("--log 'drive.log#can0'")
    main(["check", str(van), "--json", "--log", f"{log}#can0"])
    assert [each for each in json.loads(capsys.readouterr().out) if each["code"][0] == "S"] == []


def test_a_group_from_two_senders(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A parameter group of J1939: what a run would refuse is told, and each sender that is named is measured alone."""
    dbc, design = van / "van.dbc", van / "design.yaml"
    dbc.write_text(dbc.read_text().replace("BO_ 256 ", f"BO_ {1 << 31 | 0x18FEF1FE} "))
    design.write_text(design.read_text() + "j1939: true\n")
    log = van.parent / "drive.log"
    text = written(log, frames()).read_text().replace(" 100#", " 18FEF10B#")
    other = "".join(line.replace("18FEF10B#", "18FEF131#FFFF") for line in text.splitlines(keepends=True) if "18FEF10B" in line)
    log.write_text("".join(sorted((text + other).splitlines(keepends=True))))

    def found() -> list[Any]:
        main(["check", str(van), "--json", "--log", str(log)])
        return [each for each in json.loads(capsys.readouterr().out) if each["code"][0] == "S"]

    (senders,) = found()
    assert senders["code"] == "S812" and "'Vehicle' came from address 0x0B and from 0x31" in senders["message"]
    assert "`source address: 0x" in senders["remedy"]
    changed_signals(van, "from: Vehicle.Speed", "from: Vehicle.Speed, source address: 0x0B")
    changed_signals(van, "from: Vehicle.Gear", "from: Vehicle.Gear, source address: 0x0B")
    assert found() == []
    changed_signals(van, "from: Vehicle.Gear, source address: 0x0B", "from: Vehicle.Gear, source address: 0x21")
    assert [each["code"] for each in found()] == ["S806"]


# Forms of --log ---------------------------------------------------------------------------------


def test_each_bus_has_its_recording(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (van / "design.yaml").write_text((van / "design.yaml").read_text().replace("dbc: van.dbc", "buses: {car: van.dbc, drive: van.dbc}"))
    text = (van / "signals.yaml").read_text()
    for message in ("Vehicle", "Pack", "House", "Request"):
        text = text.replace(f" {message}.", f" car/{message}.")
    (van / "signals.yaml").write_text(text.replace(" Motor.", " drive/Motor.").replace('"Cells.', '"car/Cells.'))
    car = written(van.parent / "car.log", frames())
    drive = written(van.parent / "drive.log", frames(temperature=140.0))
    assert main(["check", str(van), "--log", str(car)]) == 2
    assert "error R764" in capsys.readouterr().err
    assert main(["check", str(van), "--log", f"car={car}"]) == 2
    assert "add --log drive=LOG, or --log drive=none where it is not there" in capsys.readouterr().err
    main(["check", str(van), "--json", "--log", f"car={car}", "--log", f"drive={drive}"])
    (found,) = [each for each in json.loads(capsys.readouterr().out) if each["code"][0] == "S"]
    assert found["code"] == "S802" and "'motor.temperature' came as 140 to 168.5 °C" in found["message"]
    main(["check", str(van), "--json", "--log", f"car={car}", "--log", "drive=none"])
    assert [each for each in json.loads(capsys.readouterr().out) if each["code"][0] == "S"] == []


def test_a_channel_that_the_log_does_not_have(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = written(van.parent / "drive.log", frames())
    assert main(["check", str(van), "--log", f"{log}#can7"]) == 0
    said = capsys.readouterr().out
    assert "warning R768  'drive.log' has no frames of channel 'can7'" in said and "its channels: can0" in said


def test_a_design_that_cannot_be_read_is_not_held_against_anything(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (van / "design.yaml").write_text("name: van\n")
    (found,) = [each for each in told(van, frames(), capsys) if each["code"][0] == "U"]
    assert found["code"] == "U971"


def test_a_log_without_times_says_nothing_of_ages(van: Path, capsys: pytest.CaptureFixture[str]) -> None:
    changed_signals(van, "from: Motor.Power, stale: 500 ms", "from: Motor.Power, stale: 1 ms")
    log = van.parent / "drive.txt"
    log.write_text("".join(f"  can0  {identifier:03X}   [{len(data)}]  {data.hex(' ').upper()}\n" for _, identifier, data in frames()))
    main(["check", str(van), "--json", "--log", str(log)])
    assert [each["code"] for each in json.loads(capsys.readouterr().out) if each["code"][0] in "SR"] == ["R719"]
