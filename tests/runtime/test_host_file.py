"""The host file: a run by it is the run from the folder, nothing spoilt is taken, nothing heavy is loaded."""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from runtime_builders import Far

from hmic.cli.main import main
from hmic.compile.bind import host_of
from hmic.compile.compiling import Compiled, compile_design
from hmic.diagnostics import DesignError
from hmic.model.made import MAKERS, PLAIN
from hmic.runtime import host_file
from hmic.runtime.answering import overhearing
from hmic.runtime.decoding import Arrival, decoder_of
from hmic.runtime.encoding import encoder_of
from hmic.runtime.host_file import Host
from hmic.runtime.obd import Asker
from hmic.runtime.runtime import Runtime
from hmic.runtime.simulator import Simulator
from hmic.runtime.vehicle_time import VehicleTime
from hmic.sources.frame import Frame
from hmic.wire.events import Phase

ROOT = Path(__file__).parents[2]
BASE = ROOT / "hmic" / "cli" / "pages" / "base"
LAYOUTS = ("dunlin", "roost", "plover")

SIGNALS = """\
controllers:
  car/battery: {request: 0x7E6}
messages:
  car/Request: {counter: Count, checksum: Sum, method: CRC-8/SAE-J1850, with identifier: true}
outputs:
  charge.limit: {to: car/Request.Limit, allowed: "vehicle.speed < 5 km/h"}
  house.lights: {to: car/Request.Lights}
  media.title: {to: pipe}
signals:
  vehicle.speed: {unit: km/h, range: [0, 140], from: car/Vehicle.Speed, stale: 500 ms}
  vehicle.gear: {words: {0: P, 1: R, 2: "N", 3: D}, from: car/Vehicle.Gear, stale: 1 s}
  pack.voltage: {unit: V, range: [0, 7000], from: car/Pack.Voltage, stale: 500 ms}
  pack.current: {unit: A, range: [-3300, 3300], from: car/Pack.Current, stale: 500 ms}
  pack.charge: {unit: "%", range: [0, 128], from: car/Pack.Charge, stale: 2 s}
  pack.fault: {flag: true, from: car/Pack.Fault, stale: 500 ms}
  pack.cells: {unit: V, range: [0, 70], count: 4, from: "car/Cells.Cell{n}", stale: 2 s}
  charge.limit: {unit: "%", range: [50, 100], from: car/House.Limit, stale: 2 s}
  house.lights: {flag: true, from: car/House.Lights, stale: 2 s}
  media.title: {unit: "", range: [1, 40], from: pipe, stale: 10 s}
  media.titles: {text: true, count: 40, from: pipe, stale: 10 s}
  motor.heat: {unit: °C, range: [-40, 210], from: drive/Heat.Oil, source address: 0x27, stale: 5 s}
  motor.speed: {unit: rpm, range: [0, 8031], from: drive/Turning.Speed, stale: 500 ms}
  engine.load: {unit: "%", range: [0, 100], from: car/obd 04, every: 2 s, stale: 8 s}
  front.charge: {unit: "%", range: [0, 700], from: car/battery 22 5A10, stale: 4 s,
                 value: "unsigned(1, 2) / 100"}
  front.cells: {unit: V, range: [0, 70], count: 3, from: car/battery 22 5A11, stale: 4 s,
                value: "unsigned(2 * n - 1, 2 * n) / 1000"}
  pack.power: {is: "pack.voltage * pack.current in kW"}
  pack.rate: {is: "rate(motor.heat, 30 s)"}
  pack.mean: {is: "average(pack.power, 1 min)"}
  pack.slow: {is: "smooth(pack.current, 2 s)"}
  pack.energy: {is: "integral(pack.power, pack.fault) in kWh"}
  pack.hot: {flag: true, is: "hysteresis(motor.heat, 110 °C, 100 °C)"}
  pack.faulted: {flag: true, is: "hold(pack.fault, 10 s)"}
  pack.steady: {flag: true, is: "debounce(pack.fault, 1 s)"}
  pack.left: {is: "time_to(pack.charge, 80 %, 5 min) in min"}
  pack.needs: {is: "efficiency(pack.power, vehicle.speed, 5 min) in Wh/km"}
  pack.curve: {is: "interpolate(pack.voltage, 0 V, 0 %, 3000 V, 60 %, 7000 V, 100 %)"}
  pack.turned: {is: "abs(-pack.current) + (pack.current - 3 A) / 2"}
  pack.warmer: {is: "motor.heat + 5 K in °C"}
  pack.asked: {flag: true, is: "not (pack.fault and house.lights or vehicle.gear is not \\"D\\")"}
  pack.second: {is: "pack.cells[where_min(pack.cells)]"}
  pack.third: {is: "count(pack.cells >= 3 V) + where_max(pack.cells) + 1"}
  pack.worst: {is: "min(pack.cells) + max(pack.cells) + mean(pack.cells) + sum(pack.cells)"}
  pack.most: {is: "max(pack.voltage, 3000 V)"}
  pack.apart: {is: "spread(pack.cells)"}
  pack.made: {is: "power(pack.voltage, pack.current)"}
"""
DRIVE = """\
VERSION ""
BU_: A
BO_ 2566844160 Heat: 8 A
 SG_ Coolant : 0|8@1+ (1,-40) [-40|210] "degC" A
 SG_ Oil : 16|16@1+ (0.03125,-273) [-273|1735] "degC" A
BO_ 2364540158 Turning: 8 A
 SG_ Speed : 24|16@1+ (0.125,0) [0|8031.875] "rpm" A
BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";
BA_DEF_DEF_ "VFrameFormat" "StandardCAN";
BA_ "VFrameFormat" BO_ 2566844160 3;
BA_ "VFrameFormat" BO_ 2364540158 3;
"""
LAYOUT = """\
screen drive "Drive"
    plan
        speed   past    past
        power   list    asks
        clock   list    lamps

    in speed    dial vehicle.speed from 0 km/h to 140 km/h, as "0 km/h", glides within 300 ms
    in power    bar pack.power from 0 kW to 100 kW, as "0 kW", peak held 2 s, called "Power"
    in clock    clock with hands
    in past     chart over 60 s
        trace pack.power from 0 kW to 100 kW, called "Power"
    in list     list media.titles, showing 3 rows, marked by media.title, sets media.title to row
    in asks     button "Charge to 80 %", sets charge.limit to 80 %, held 2 s, confirmed by "Charge to 80 %?"
    in lamps    lamp battery, caution while pack.hot and pack.faulted, means "Battery hot"

screen stop "Stop"
    comes up when pack.fault
    plan
        what
    in what     label "Stop"
"""


def everything(folder: Path) -> Path:
    """A design of two buses, one of J1939 and one that is asked by OBD, with all that a run does."""
    shutil.copytree(BASE, folder)
    design = (folder / "design.yaml").read_text()
    buses = "buses: {car: van.dbc, drive: drive.dbc}"
    (folder / "design.yaml").write_text(design.replace("dbc: van.dbc", buses))
    dbc = (folder / "van.dbc").read_text()
    more = ' SG_ Count : 24|4@1+ (1,0) [0|14] "" A\n SG_ Sum : 32|8@1+ (1,0) [0|255] "" A\n'
    title = ' SG_ Title : 16|8@1+ (1,0) [0|250] "" Vector__XXX\n'
    (folder / "van.dbc").write_text(dbc.replace(title, more))
    (folder / "drive.dbc").write_text(DRIVE)
    (folder / "signals.yaml").write_text(SIGNALS)
    (folder / "drive.layout").write_text(LAYOUT)
    return folder


def compiled(folder: Path) -> Compiled:
    found = compile_design(folder)
    assert isinstance(found, Compiled), found.findings
    return found


@pytest.fixture(scope="module")
def hosts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Host]:
    """What a run from each folder goes by."""
    folders = {name: ROOT / "layouts" / name for name in LAYOUTS}
    folders["everything"] = everything(tmp_path_factory.mktemp("host") / "van")
    return {name: host_of(compiled(folder)) for name, folder in folders.items()}


@pytest.fixture(scope="module")
def files(hosts: dict[str, Host]) -> dict[str, bytes]:
    """The host file of each."""
    return {name: host_file.write(host) for name, host in hosts.items()}


def lived(host: Host, seed: int, steps: int = 160) -> tuple[bytes, list[Any]]:
    """Eight seconds of frames and touches: all bytes on the line and on the buses, and all that was told."""
    design, dice = host.bound.design, random.Random(seed)
    panel = design.panel
    far = Far(host.bound.identity, width=panel.width, height=panel.height, depth=panel.depth)
    decoder, encoder = decoder_of(host.received, overhearing(design)), encoder_of(host.sent)
    vehicle_time = VehicleTime()
    runtime = Runtime(host.bound, 3, vehicle_time, outputs_allowed=True, encoder=encoder)
    asker = Asker(design.signals)
    simulated = Simulator(design.signals, vehicle_time)
    line, told = bytearray(), []
    down: int | None = None
    for step in range(steps):
        now = 100.0 + step / 20
        frames = [
            Frame(now, each.identifier, each.extended, payload(dice), bus=each.bus)
            for each in dice.sample(host.received, min(4, len(host.received)))
        ]
        frames += [Frame(now, *each, payload(dice), bus="car") for each in answers(asker, now, dice)]
        for arrival in simulated.due(now) if step % 3 == 0 else ():
            runtime.feed(arrival, now)
        for frame in frames:
            readings = decoder.readings(frame) or asker.take(frame, now)
            told.append(readings)
            runtime.feed(Arrival(now - 100.0, readings), now)
        runtime.set_clock(float(600 + step), now)
        data = runtime.outgoing(now)
        line += data
        far.receive(data, now)
        zones = host.bound.screens[far.screen].zones if far.screen is not None else ()
        if down is not None:
            far.session.touch(down, Phase.RELEASE, 40, 40, now)
            down = None
        elif zones and step % 4 == 0:
            down = dice.randrange(len(zones))
            far.session.touch(down, Phase.PRESS, 40, 40, now)
        runtime.receive(far.session.outgoing(now), now)
        told += [*runtime.take_events(), *decoder.take_findings(), *asker.take_findings()]
    return bytes(line), told


def payload(dice: random.Random) -> bytes:
    """Bytes that now and then are plausible."""
    return bytes(dice.choice((0, 0, 1, 2, 60, dice.randrange(256))) for _ in range(8))


def answers(asker: Asker, now: float, dice: random.Random) -> list[tuple[int, bool]]:
    """Identifiers of controllers that answer what is asked."""
    return [dice.choice(((0x7E8, False), (0x7EE, False))) for _ in asker.outgoing(now)]


@pytest.mark.parametrize("name", [*LAYOUTS, "everything"])
def test_a_run_by_the_file_is_the_run_from_the_folder(
    name: str, hosts: dict[str, Host], files: dict[str, bytes]
) -> None:
    by_file = host_file.read(files[name], "car.host")
    assert (by_file.received, by_file.sent, by_file.pack) == (
        hosts[name].received,
        hosts[name].sent,
        hosts[name].pack,
    )
    assert by_file.bound.identity == hosts[name].bound.identity
    assert host_file.write(by_file) == files[name]
    line, told = lived(hosts[name], 5)
    assert lived(by_file, 5) == (line, told)
    kinds = {type(each).__name__ for each in told}
    assert len(line) > 500 and "LinkChanged" in kinds
    if name == "everything":
        assert {"RequestMade", "RequestRefused", "ScreenChanged"} <= kinds, kinds


def tables(data: bytes) -> Any:
    """The JSON of a file."""
    head, _, rest = data.partition(b"\n")
    return json.loads(rest[: int(head.split()[3])])


def sealed(rows: Any, like: bytes) -> bytes:
    """A file with other tables, whose checksum is right."""
    head, _, rest = like.partition(b"\n")
    words = head.split()
    pack = rest[int(words[3]) :]
    text = json.dumps(rows).encode() + b"\n"
    words[3], words[4] = str(len(text)).encode(), hashlib.sha256(text + pack).hexdigest().encode()
    return b" ".join(words) + b"\n" + text + pack


def test_every_maker_is_in_some_file(files: dict[str, bytes]) -> None:
    made = {row[0] for data in files.values() for row in tables(data)["closures"]}
    assert made == {*MAKERS, *PLAIN}


def test_two_binds_are_the_same_bytes_and_a_run_loads_nothing_heavy(
    hosts: dict[str, Host], files: dict[str, bytes], tmp_path: Path
) -> None:
    """In processes of their own, with another order of sets."""
    made, van = tmp_path / "van.host", everything(tmp_path / "van")
    child = [sys.executable, "-m", "hmic", "bind", str(van), "-o", str(made)]
    where = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "77"}
    subprocess.run(child, env=where, check=True, capture_output=True, timeout=120)
    assert made.read_bytes() == files["everything"]
    program = f"""
import sys
from unittest import mock
from hmic.cli.main import main
words = ["run", {str(made)!r}, "--port", "x", "--simulate"]
class Begun(BaseException):
    pass
def begun(runtime, *given, **named):
    raise Begun
with mock.patch("hmic.runtime.run.run", begun):
    try:
        main(words)
    except Begun:
        print(*sorted(sys.modules))
"""
    loaded = subprocess.run(
        [sys.executable, "-c", program], env=where, check=True, capture_output=True, text=True, timeout=120
    ).stdout.split()
    heavy = {"lark", "jsonschema", "PIL", "cantools", "pint", "yaml", "numpy", "can", "rich", "hmic.arrange"}
    assert "hmic.runtime.runtime" in loaded and not heavy & set(loaded)


def test_what_is_no_host_file_is_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "van.pack"
    for data in (b"", b"host", b"host 1 x", b"HMIC" + bytes(80)):
        file.write_bytes(data)
        assert main(["run", str(file), "--port", "x", "--simulate"]) == 1
        told = capsys.readouterr().err
        assert "R780" in told and "hmic bind DESIGN -o FILE" in told


def test_a_file_of_another_version_is_refused(files: dict[str, bytes]) -> None:
    words = files["everything"].split(b" ", 3)
    for other in ((words[0], b"9999", *words[2:]), (*words[:2], b"00000000", words[3])):
        with pytest.raises(DesignError) as refused:
            host_file.read(b" ".join(other), "car.host")
        assert [each.code for each in refused.value.findings] == ["R781"]


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_every_damaged_byte_is_told(files: dict[str, bytes], data: Any) -> None:
    whole = files["everything"]
    place = data.draw(st.integers(0, len(whole) - 1))
    cut = data.draw(st.booleans())
    other = b"" if cut else bytes([whole[place] ^ 1 << place % 8]) + whole[place + 1 :]
    with pytest.raises(DesignError) as refused:
        host_file.read(whole[:place] + other, "car.host")
    (found,) = refused.value.findings
    assert found.code in {"R780", "R781", "R782"} and found.remedy


STRANGE = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(1 << 70), 1 << 70),
    st.sampled_from([0, 1, -1, 0.0, 1e308, -1e308, 1e-308, "inf", "-inf", 65536, 1 << 40]),
    st.text(max_size=4),
    st.lists(st.integers(-1, 600), max_size=3),
    st.just([[[[[[]]]]]]),
)


def places(value: Any, way: tuple[int | str, ...] = ()) -> list[tuple[int | str, ...]]:
    """The way to everything that JSON holds."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [way, *(each for key, one in inner for each in places(one, (*way, key)))]


@pytest.fixture(scope="module")
def everywhere(files: dict[str, bytes]) -> list[tuple[int | str, ...]]:
    return places(tables(files["everything"]))


@settings(deadline=None, max_examples=40)
@given(st.data())
def test_strange_values_are_refused_or_harmless(
    files: dict[str, bytes], everywhere: list[tuple[int | str, ...]], data: Any
) -> None:
    """Whoever writes a file with a right checksum can still run nothing, and no strange value ends a run."""
    rows = tables(files["everything"])
    way = data.draw(st.sampled_from(everywhere))
    value = data.draw(STRANGE)
    holder = rows
    for key in way[:-1]:
        holder = holder[key]
    if way:
        holder[way[-1]] = value
    else:
        rows = value
    try:
        host = host_file.read(sealed(rows, files["everything"]), "car.host")
    except DesignError as refused:
        (found,) = refused.findings
        assert found.code == "R782" and found.remedy
        return
    lived(host, 9, 12)
