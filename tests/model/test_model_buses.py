"""Several buses in a design: which bus a source is on, and what is wrong with one that does not say it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from hmic.diagnostics import Finding
from hmic.editor.completion import complete
from hmic.editor.hover import definition
from hmic.editor.project import View
from hmic.model.design import CanSource, Design
from hmic.model.load import load

DOCUMENT = (Path(__file__).parents[2] / "hmic" / "model" / "DESIGN.md").read_text(encoding="utf-8")
BASE = Path(__file__).parents[2] / "hmic" / "cli" / "pages" / "base"
DONOR = """VERSION ""
BO_ 256 VehicleSpeed: 8 A
 SG_ Speed : 0|16@1+ (0.01,0) [0|655] "km/h" B
BO_ 257 Shared: 8 A
 SG_ One : 0|8@1+ (1,0) [0|255] "" B
"""
INVERTER = """VERSION ""
BO_ 256 Motor: 8 A
 SG_ Speed : 0|16@1- (1,0) [-9000|9000] "rpm" B
 SG_ Count : 16|4@1+ (1,0) [0|15] "" B
BO_ 257 Wanted: 8 B
 SG_ Limit : 0|16@1+ (1,0) [0|9000] "rpm" A
"""
LAYOUT = """screen drive "Drive"
    plan
        a
    in a  reading vehicle.speed as "0 km/h", text 40 arcmin
"""
BUSES = "buses: {car: donor.dbc, drive: inverter.dbc}"
SIGNALS = """signals:
  vehicle.speed: {unit: km/h, range: [0, 140], from: car/VehicleSpeed.Speed, stale: 250 ms}
  motor.speed: {unit: rpm, range: [-9000, 9000], from: drive/Motor.Speed, stale: 100 ms}
  motor.limit: {unit: rpm, range: [0, 9000], from: pipe, stale: 1 s}
  net.voltage: {unit: V, range: [8, 16], from: car/obd 42, every: 2 s, stale: 8 s}
outputs:
  motor.limit: {to: drive/Wanted.Limit}
messages:
  drive/Motor: {counter: Count}
"""


def made(folder: Path, buses: str = BUSES, signals: str = SIGNALS) -> tuple[Design | None, list[Finding]]:
    """A design of two buses, and what is found in it but for signals that no screen shows."""
    text = (BASE / "design.yaml").read_text(encoding="utf-8").replace("dbc: van.dbc", buses)
    (folder / "design.yaml").write_text(text, encoding="utf-8")
    (folder / "signals.yaml").write_text(signals, encoding="utf-8")
    (folder / "drive.layout").write_text(LAYOUT, encoding="utf-8")
    shutil.copy(BASE / "themes.yaml", folder)
    (folder / "donor.dbc").write_text(DONOR)
    (folder / "inverter.dbc").write_text(INVERTER)
    design, findings = load(folder)
    return design, [finding for finding in findings if finding.code != "M247"]


def test_the_page_describes_such_a_design(tmp_path: Path) -> None:
    (tmp_path / "it").mkdir()
    said = DOCUMENT.split("```yaml\n# two-buses/")[1:]
    texts = {part.partition("\n")[0]: part.partition("\n")[2].partition("```")[0] for part in said}
    signals = texts["signals.yaml"].replace(
        "outputs:", "  motor.limit: {unit: rpm, range: [0, 9000], from: pipe, stale: 1 s}\noutputs:"
    )
    design, findings = made(tmp_path / "it", texts["design.yaml"], signals)
    assert design is not None and findings == []
    assert list(design.buses) == ["car", "drive"] and design.signals["vehicle.speed"].source is not None


def test_each_source_is_on_its_bus(tmp_path: Path) -> None:
    design, findings = made(tmp_path)
    assert design is not None and findings == [] and not design.broken
    assert design.signals["vehicle.speed"].source == CanSource("VehicleSpeed", "Speed", "car")
    assert design.signals["motor.speed"].source == CanSource("Motor", "Speed", "drive")
    asked = design.signals["net.voltage"].asked
    assert asked is not None and asked.bus == "car"
    assert design.outputs["motor.limit"].bus == "drive" and design.outputs["motor.limit"].steps is not None
    assert list(design.messages) == ["drive/Motor"] and design.messages["drive/Motor"].message == "Motor"
    # The step of each is that of its own description: one identifier, two messages.
    assert design.signals["vehicle.speed"].resolution == pytest.approx(0.01)
    assert design.signals["motor.speed"].resolution == pytest.approx(1.0)


WRONG = [
    # Change of signals.yaml, code, what the message and remedy hold.
    ("car/VehicleSpeed", "VehicleSpeed", "M296", "which bus", "'car/VehicleSpeed.Speed'"),
    ("car/VehicleSpeed", "cra/VehicleSpeed", "M296", "'cra'", "did you mean 'car'?"),
    ("drive/Motor.Speed", "car/Motor.Speed", "M260", "'donor.dbc'", "`drive/Motor.Speed`"),
    ("to: drive/Wanted", "to: Wanted", "M296", "which bus", "'drive/Wanted.Limit'"),
    ("to: drive/Wanted", "to: car/Wanted", "M260", "'donor.dbc'", "`drive/Wanted.Limit`"),
    ("  drive/Motor:", "  Motor:", "M296", "which bus", "'drive/Motor'"),
    ("car/obd 42", "obd 42", "M296", "which bus", "'car/obd 42'"),
    ("car/obd 42", "rear/obd 42", "M296", "'rear'", "car, drive"),
]


@pytest.mark.parametrize(("old", "new", "code", "message", "remedy"), WRONG)
def test_a_source_says_its_bus(
    tmp_path: Path, old: str, new: str, code: str, message: str, remedy: str
) -> None:
    assert old in SIGNALS
    _, findings = made(tmp_path, signals=SIGNALS.replace(old, new))
    assert [finding.code for finding in findings] == [code]
    assert message in findings[0].message and remedy in str(findings[0].remedy)
    assert findings[0].span is not None and findings[0].span.file == "signals.yaml"


def test_one_bus_need_not_be_named(tmp_path: Path) -> None:
    alone = "signals:\n  vehicle.speed: {unit: km/h, range: [0, 140], from: %s, stale: 250 ms}\n"
    for buses, source, bus in (
        ("dbc: donor.dbc", "VehicleSpeed.Speed", ""),
        ("buses: {car: donor.dbc}", "VehicleSpeed.Speed", "car"),
        ("buses: {car: donor.dbc}", "car/VehicleSpeed.Speed", "car"),
    ):
        design, findings = made(tmp_path, buses, alone % source)
        assert design is not None and findings == []
        assert design.signals["vehicle.speed"].source == CanSource("VehicleSpeed", "Speed", bus)
    _, findings = made(tmp_path, "dbc: donor.dbc", alone % "car/VehicleSpeed.Speed")
    assert [finding.code for finding in findings] == ["M260"] and "buses" in str(findings[0].remedy)


def test_two_buses_may_share_a_file_and_files_a_name(tmp_path: Path) -> None:
    both = (
        "signals:\n"
        "  vehicle.speed: {unit: km/h, range: [0, 140], from: car/VehicleSpeed.Speed, stale: 250 ms}\n"
        "  trailer.speed: {unit: km/h, range: [0, 140], from: trailer/VehicleSpeed.Speed, stale: 250 ms}\n"
    )
    design, findings = made(tmp_path, "buses: {car: donor.dbc, trailer: donor.dbc}", both)
    assert design is not None and findings == []
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "donor.dbc").write_text(DONOR.replace("SG_ One :", "SG_ One"))
    design, findings = made(tmp_path, "buses: {car: donor.dbc, trailer: other/donor.dbc}", both)
    assert design is not None
    # What is wrong in one of them is told of that one.
    assert [(finding.code, finding.span.file) for finding in findings if finding.span] == [
        ("M289", "other/donor.dbc")
    ]
    assert "other/donor.dbc" in design.sources and "donor.dbc" not in design.sources


def test_buses_told_twice_or_not_there(tmp_path: Path) -> None:
    _, findings = made(tmp_path, f"dbc: donor.dbc\n{BUSES}")
    assert [finding.code for finding in findings] == ["M297"]
    _, findings = made(tmp_path, "buses: {car: donor.dbc, drive: invrter.dbc}")
    assert [finding.code for finding in findings] == ["M221"]
    assert "did you mean 'inverter.dbc'?" in str(findings[0].remedy)
    for broken in ("buses: {}", "buses: 5", "buses: {Car: donor.dbc}", "buses: {car: 5}"):
        _, findings = made(tmp_path, broken)
        codes = {finding.code for finding in findings}
        assert codes <= {"M230", "M231", "M228", "M229", "M296"} and codes, (broken, findings)


def test_an_editor_knows_the_buses(tmp_path: Path) -> None:
    design, _ = made(tmp_path)
    lines = SIGNALS.split("\n")
    view = View(tmp_path, design, {"signals.yaml": SIGNALS})
    at = lines[2].index("drive/")
    offered = [item.text for item in complete(view, "signals.yaml", 2, at)]
    assert "drive/Motor.Speed" in offered and "car/VehicleSpeed.Speed" in offered
    within = [item.text for item in complete(view, "signals.yaml", 2, at + len("drive/"))]
    assert "Motor.Speed" in within and "VehicleSpeed.Speed" not in within
    # The same field's name leads to the file of its own bus.
    found = definition(view, "signals.yaml", 2, lines[2].index("Motor.Speed") + 2)
    assert found is not None and found.file == "inverter.dbc" and found.line == 3
    found = definition(view, "signals.yaml", 1, lines[1].index("VehicleSpeed.Speed") + 2)
    assert found is not None and found.file == "donor.dbc"
