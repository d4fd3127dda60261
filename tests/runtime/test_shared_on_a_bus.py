# ruff: noqa: E501
"""Shared parts on a bus: their frames are read by their own description, beside those of the bus's."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import cantools
import pytest

from hmic.cli.main import main
from hmic.model.design import Design
from hmic.model.load import load
from hmic.runtime.from_dbc import load_decoder, load_encoder
from hmic.runtime.wiring import wires
from hmic.sources.frame import Frame

ROOT = Path(__file__).parents[2]
PARTS = ROOT / "layouts" / "parts"
BASE = ROOT / "hmic" / "cli" / "pages" / "base"
CHARGER: Any = cantools.database.load_file(PARTS / "charger" / "charger.dbc")


def checksum(identifier: int, data: bytes) -> int:
    """CRC-8/SAE-J1850 by the independent library."""
    from crccheck.crc import Crc8SaeJ1850

    return int(Crc8SaeJ1850.calc(data))


def status(counter: int, **fields: float) -> bytes:
    said = {"Voltage": 400.0, "Current": 8.0, "State": 2, "Plugged": 1, "Temperature": 40, "Limit": 10.0, "Counter": counter, "Checksum": 0} | fields
    data = CHARGER.encode_message("Status", said, strict=False)
    return bytes(data[:7] + bytes([checksum(0x610, data[:7])]))


def van(folder: Path, uses: str, buses: str = "dbc: van.dbc") -> Path:
    shutil.copytree(BASE, folder / "van")
    shutil.copytree(PARTS, folder / "parts")
    settings = folder / "van" / "design.yaml"
    settings.write_text(settings.read_text().replace("dbc: van.dbc", buses) + f"uses: {uses}\n")
    return folder / "van"


def loaded(folder: Path) -> Design:
    design, findings = load(folder)
    assert design is not None, findings
    return design


def test_frames_are_read_by_the_parts_own_description(tmp_path: Path) -> None:
    """As cantools reads them; a frame with a wrong checksum is not used."""
    design = loaded(van(tmp_path, "[../parts/charger, ../parts/stove]"))
    decoder = load_decoder(design)
    assert all((number, False) in decoder.wanted() for number in (0x610, 0x630, 0x110))
    said = CHARGER.decode_message("Status", status(1), decode_choices=False)
    readings = {each.name: each.value for each in decoder.readings(Frame(0.0, 0x610, False, status(1)))}
    assert readings == {
        "charger.voltage": said["Voltage"],
        "charger.current": said["Current"],
        "charger.state": "Charging",
        "charger.plugged": True,
        "charger.temperature": said["Temperature"],
        "charger.limit": said["Limit"],
    }
    assert decoder.readings(Frame(0.2, 0x610, False, status(2)[:7] + b"\0")) == ()
    assert [each.name for each in decoder.readings(Frame(0.0, 0x110, False, bytes(8)))][:1] == ["pack.voltage"]


def test_a_part_is_on_its_bus_alone(tmp_path: Path) -> None:
    folder = van(tmp_path, "[{part: ../parts/charger, bus: drive}]", "buses: {car: van.dbc, drive: van.dbc}")
    signals = folder / "signals.yaml"
    text = signals.read_text()
    for message in ("Vehicle", "Pack", "Motor", "House", "Request", '"Cells'):
        text = text.replace(f" {message}.", f' {message[:1] if message[0] == chr(34) else ""}car/{message.lstrip(chr(34))}.')
    signals.write_text(text)
    design = loaded(folder)
    decoder = load_decoder(design)
    assert decoder.readings(Frame(0.0, 0x610, False, status(1), bus="car")) == ()
    assert len(decoder.readings(Frame(0.0, 0x610, False, status(1), bus="drive"))) == 6
    assert (0x610, False) in decoder.wanted("drive") and (0x610, False) not in decoder.wanted("car")
    assert [(wire.bus, wire.what) for wire in wires(design, ["car=can0", "drive=can1"], "--can")] == [("car", "can0"), ("drive", "can1")]


def test_what_is_asked_of_a_part_goes_out_on_its_bus(tmp_path: Path) -> None:
    encoder = load_encoder(loaded(van(tmp_path, "[../parts/charger]")))
    assert encoder is not None
    target = encoder.targets["charger.limit"]
    assert (target.bus, target.identifier, target.carries) == ("", 0x620, ("charger.limit",))
    data = encoder.encode("charger.limit", {"charger.limit": 8.0})
    assert isinstance(data, bytes) and CHARGER.decode_message("Request", data)["Limit"] == 8.0


def test_a_vehicle_of_parts_alone_has_one_bus_without_a_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = van(tmp_path, "[../parts/charger]", "")
    (folder / "signals.yaml").write_text("signals: {}\n")
    (folder / "drive.layout").write_text('screen drive "Drive"\n    plan\n        a\n    in a  use charger_box\n')
    design = loaded(folder)
    assert [(wire.bus, wire.what) for wire in wires(design, ["trip.log"], "--replay")] == [("", "trip.log")]
    log = tmp_path / "trip.log"
    log.write_text("".join(f"({at / 5:.3f}) can0 610#{status(at % 16, Voltage=380 + at % 9, Temperature=20 + at % 7, Current=8 + at % 3).hex()}\n" for at in range(60)))
    assert main(["trace", str(folder), "--replay", str(log), "--at", "5", "--out", str(tmp_path / "then.png")]) == 0
    said = capsys.readouterr()
    assert "R711" not in said.err and "R714" not in said.err


def test_a_part_is_held_against_a_recording_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By a name as the design has it; and one more of its fields can be added to the design."""
    folder = van(tmp_path, "[{part: ../parts/charger, as: rear}]")
    log = tmp_path / "trip.log"
    rows = [f"({at / 5:.3f}) can0 610#{status(at % 16, Voltage=424.5 + at % 9, Temperature=20 + at % 7).hex()}\n" for at in range(60)]
    log.write_text("".join(rows))
    main(["check", str(folder), "--json", "--log", str(log)])
    found = {each["code"]: each for each in json.loads(capsys.readouterr().out) if each["code"] in ("S802", "S806") and "rear" in each["message"]}
    assert set(found) == {"S802"} and found["S802"]["file"] == "../parts/charger/signals.yaml"
    assert "'rear.voltage' came as 424.5 to 432.5 V" in found["S802"]["message"]
    assert main(["signals", str(folder), "--add", "rear/Status.Temperature", "--log", str(log)]) == 0
    assert "from: rear/Status.Temperature" in capsys.readouterr().out
    assert [each.code for each in load(folder)[1] if each.severity.value == "error"] == []


def test_an_identifier_that_two_describe_is_told(tmp_path: Path) -> None:
    """With both places where both are bound; with a warning where the other is only described."""
    folder = van(tmp_path, "[../parts/charger, ../parts/stove]")
    dbc = folder / "van.dbc"
    dbc.write_text(dbc.read_text().replace("BO_ 272 Pack", "BO_ 1552 Pack"))
    (found,) = [each for each in load(folder)[1] if each.code == "M306"]
    assert found.severity.value == "error" and "identifier 610" in found.message
    assert {span.file for span in (found.span, *found.also) if span} == {"signals.yaml", "../parts/charger/signals.yaml"}
    dbc.write_text((BASE / "van.dbc").read_text() + '\nBO_ 1584 Elsewhere: 8 House\n SG_ Some : 0|8@1+ (1,0) [0|9] "" Vector__XXX\n')
    (found,) = [each for each in load(folder)[1] if each.code == "M306"]
    assert found.severity.value == "warning" and "identifier 630" in found.message
