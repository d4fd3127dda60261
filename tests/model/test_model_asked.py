# ruff: noqa: E501
"""Values that are asked of controllers, as signals.yaml declares them, and what is wrong with them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from hmic.compile.compiling import examine
from hmic.diagnostics import Finding, Severity
from hmic.editor.hover import signal_text
from hmic.model.asked import AskedSource, Controller
from hmic.model.design import Design
from hmic.model.load import load

ROOT = Path(__file__).parents[2]
BASE = ROOT / "hmic" / "cli" / "pages" / "base"
LAYOUT = """screen drive "Drive"
    plan
        a
    in a  reading pack.charge as "0 %", text 40 arcmin
"""
CONTROLLERS = """controllers:
  battery: {request: 0x7E6, response: 0x7EE}
  motor: {request: 0x18DA44F1}
"""
CHARGE = '  pack.charge: {unit: "%", range: [0, 100], from: battery 22 4C01, value: "A / 2", stale: 4 s}\n'
MORE = """  pack.cells: {unit: V, range: [2, 4.5], count: 90, from: battery 22 5A11, value: "unsigned(2 * n, 2 * n + 1) / 1000",
               every: 5 s, stale: 15 s, no data: 65.535}
  pack.closed: {flag: true, from: battery 22 5A12, value: "bit(3, 7)", stale: 3 s}
  motor.state: {words: {0: "Off", 3: On}, from: motor 22 5B01, value: "A & 3", stale: 3 s}
  motor.load: {unit: "%", range: [0, 100], from: motor 01 04, every: 500 ms, stale: 2 s}
  engine.oil: {unit: kPa, range: [0, 765], from: obd 0A, value: "3 * A", stale: 3 s}
"""


def made(
    folder: Path, signals: str = CHARGE, controllers: str = CONTROLLERS, buses: str = ""
) -> tuple[Design | None, list[Finding]]:
    text = (BASE / "design.yaml").read_text(encoding="utf-8").replace("dbc: van.dbc\n", buses)
    (folder / "design.yaml").write_text(text, encoding="utf-8")
    (folder / "signals.yaml").write_text(f"{controllers}signals:\n{signals}", encoding="utf-8")
    (folder / "drive.layout").write_text(LAYOUT, encoding="utf-8")
    shutil.copy(BASE / "themes.yaml", folder)
    design, findings = load(folder)
    return design, [finding for finding in findings if finding.code != "M247"]


def test_what_is_asked_of_whom(tmp_path: Path) -> None:
    design, findings = made(tmp_path, CHARGE + MORE)
    assert design is not None and findings == []
    battery, motor = Controller("battery", 0x7E6, 0x7EE), Controller("motor", 0x18DA44F1, 0x18DAF144)
    asked = {name: each.asked for name, each in design.signals.items() if each.asked is not None}
    assert {
        name: (each.controller, each.service, each.number, each.every) for name, each in asked.items()
    } == {
        "pack.charge": (battery, 0x22, 0x4C01, 1000),
        "pack.cells": (battery, 0x22, 0x5A11, 5000),
        "pack.closed": (battery, 0x22, 0x5A12, 1000),
        "motor.state": (motor, 0x22, 0x5B01, 1000),
        "motor.load": (motor, 0x01, 0x04, 500),
        "engine.oil": (None, 0x01, 0x0A, 1000),
    }
    assert (battery.asks, motor.answers) == ((0x7E6, False), (0x18DAF144, True))
    cells = asked["pack.cells"].formula
    assert cells is not None and len(cells.values) == 90 and cells.needs[-1] == 181
    assert asked["motor.load"].formula is None
    assert "asked for: battery 22 4C01" in signal_text(design.signals["pack.charge"])
    assert not any(each.severity is Severity.ERROR for each in examine(tmp_path)[2])


def test_of_several_buses_each_says_its_own(tmp_path: Path) -> None:
    buses = "buses: {car: a.dbc, drive: b.dbc}\n"
    for name in ("a.dbc", "b.dbc"):
        (tmp_path / name).write_text('VERSION ""\n')
    controllers = "controllers:\n  car/battery: {request: 0x7E6}\n  drive/battery: {request: 0x7E6}\n"
    design, findings = made(tmp_path, CHARGE.replace("battery", "drive/battery"), controllers, buses)
    assert design is not None and findings == []
    asked = design.signals["pack.charge"].asked
    assert isinstance(asked, AskedSource) and asked.bus == "drive" and asked.controller is not None
    _, findings = made(tmp_path, CHARGE, controllers, buses)
    assert [(each.code, each.remedy) for each in findings][:1] == [
        ("M296", "write 'car/battery 22 4C01' or 'drive/battery 22 4C01'")
    ]


WRONG = [
    # What is changed, to what, the code, in the message, in the remedy.
    ("battery 22", "batery 22", "M237", "'batery'", "did you mean 'battery'?"),
    ("battery 22", "car/battery 22", "M296", "'car'", "'battery 22 4C01'"),
    ("22 4C01", "22 101", "M230", "'from' must be", "Message.Signal"),
    ("22 4C01", "23 0101", "M230", "'from' must be", "Message.Signal"),
    (', value: "A / 2"', "", "M235", "does not say how", '`value: "(256 * A + B) / 10"`'),
    ('"A / 2"', '"A / two"', "M235", "cannot stand", "use A to Z"),
    ('"A / 2"', '"A / "', "M235", "does not read", "write, say"),
    ("from: battery 22 4C01", "from: pipe", "M284", "has no 'value'", "remove `value`"),
    ('from: battery 22 4C01, value: "A / 2", stale: 4 s', 'is: "1 %", value: "A"', "M267", "no 'value'", "remove `value`"),
    ('unit: "%", range: [0, 100]', "text: true", "M284", "is a text", "unit and a range"),
    ("from: battery 22 4C01, value: \"A / 2\"", "count: 4, from: battery 01 5B", "M255", "one value", "`value`"),
    ("stale: 4 s", "every: 5 s, stale: 4 s", "M294", "asked for every 5000 ms", "`stale: 15000 ms`"),
    ("stale: 4 s", "count: 4, stale: 4 s", "M235", "same of every element", "unsigned(2 * n - 1, 2 * n)"),
    ("{request: 0x7E6, response: 0x7EE}", "{request: 0x7FA}", "M236", "by which identifier", "`response: 0x7E8`"),
    ("response: 0x7EE", "response: 0x7E6", "M236", "by one identifier", "`response`"),
    ("0x18DA44F1", "0x18DA44F1, response: 0x7EE", "M236", "'motor' and 'battery'", "keep one"),
    ("  battery:", "  car/battery:", "M296", "'car/battery' names a bus", "write 'battery'"),
    ("0x7E6", "0x2FFFFFFF", "M230", "0x1FFFFFFF", "0x7E6"),
    ("request: 0x7E6, ", "", "M229", "lacks 'request'", "`request: 0x7E6`"),
    ("0x7E6", "2020", "M230", "'request' must be", "0x7E6"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "code", "message", "remedy"), WRONG)
def test_what_is_wrong_is_told_once(
    tmp_path: Path, old: str, new: str, code: str, message: str, remedy: str
) -> None:
    assert (old in CONTROLLERS) != (old in CHARGE)
    _, findings = made(tmp_path, CHARGE.replace(old, new), CONTROLLERS.replace(old, new))
    told = [each for each in findings if each.severity is not Severity.NOTE]
    assert [each.code for each in told] == [code], [each.message for each in told]
    assert message in told[0].message and remedy in str(told[0].remedy)
    assert told[0].span is not None and told[0].span.file == "signals.yaml"


def test_a_formula_is_told_at_its_place(tmp_path: Path) -> None:
    _, (finding,) = made(tmp_path, CHARGE.replace("A / 2", "A / (two + 1)"))
    span = finding.span
    assert span is not None
    line = (tmp_path / "signals.yaml").read_text().split("\n")[span.line - 1]
    assert line[span.column - 1 :].startswith("two + 1")


def test_without_controllers_they_are_asked_for(tmp_path: Path) -> None:
    _, (finding,) = made(tmp_path, CHARGE, "")
    assert finding.code == "M237" and "controllers: {battery:" in str(finding.remedy)
