"""One thing broken in a sound design has one report, at its place; where its remedy can be pasted, that
mends it. What is told of more is an exception that says why."""

from __future__ import annotations

import re
import shutil
from base64 import b64encode
from pathlib import Path
from random import Random
from typing import NamedTuple

import pytest

from hmic.compile.compiling import examine
from hmic.diagnostics import Finding, Severity, Span

LAYOUTS = Path(__file__).parents[2] / "layouts"


class Break(NamedTuple):
    """What first stands as ``old`` in a file of a design made ``new``: the code that it is told by, so many
    lines ``below`` it or ``at`` another place, and whether the remedy can be ``pasted``."""

    file: str
    old: str
    new: str
    code: str
    below: int = 0
    pasted: bool = True
    at: str = ""
    design: str = "roost"


def told(design: str, texts: dict[str, str]) -> list[Finding]:
    _, _, found = examine(LAYOUTS / design, None, texts)
    return [item for item in found if item.severity is not Severity.NOTE]


def text_of(design: str, file: str) -> str:
    return (LAYOUTS / design / file).read_text(encoding="utf-8")


# -- a remedy, done to the letter


def mended(text: str, finding: Finding) -> str | None:
    """The text with the remedy put in; None for one that is advice."""
    span, remedy = finding.span, finding.remedy or ""
    assert span is not None
    lines = text.split("\n")
    line = lines[span.line - 1]
    if found := re.fullmatch(r"indent it by (\d+) spaces|start it at the left edge", remedy):
        lines[span.line - 1] = " " * int(found.group(1) or 0) + line.lstrip()
        return "\n".join(lines)
    if found := re.match(r"write: (.*)", remedy):
        lines[span.line - 1] = line[: len(line) - len(line.lstrip())] + found.group(1)
        return "\n".join(lines)
    if found := re.match(r"did you mean '(.*?)'\?", remedy):
        meant = re.search(r"'(.*?)'", finding.message)
        assert meant is not None
        return _put(lines, span, line[span.column - 1 : span.end_column - 1].replace(meant[1], found[1], 1))
    if found := re.fullmatch(r"close them: (.*)", remedy):
        return _put(lines, span, found[1])
    if found := re.fullmatch(r"add '(.*)'", remedy):
        return _put(lines, span, f" {found[1]}")
    if found := re.match(r"write (\[.*?\]): width, then height", remedy):
        return _put(lines, span, found[1])
    if found := re.fullmatch(r"(?:write|write, say,) [`']?(.*?)[`']?(?: for '.*')?", remedy):
        return _put(lines, span, found[1])
    return None


def _put(lines: list[str], span: Span, new: str) -> str:
    line = lines[span.line - 1]
    lines[span.line - 1] = line[: span.column - 1] + new + line[span.end_column - 1 :]
    return "\n".join(lines)


# -- one thing broken


THEMES, SIGNALS, SETTINGS = "themes.yaml", "signals.yaml", "design.yaml"
BATTERY, SUN, TROUBLE, WATER = "battery.layout", "sun.layout", "trouble.layout", "water.layout"
MOTOR, DRIVE = "motor.layout", "drive.layout:3"
TIMES = "{day: 7:00, night: 20:30}"

BREAKS = [
    # Which theme is shown when
    Break(THEMES, TIMES, "{day: 700, night: 20:30}", "M230", pasted=False),
    Break(THEMES, "by: clock", "by: clok", "M270"),
    Break(THEMES, "  by: clock\n", "", "M229", -1, pasted=False),
    Break(THEMES, "times:", "levels:", "M271", -1, pasted=False),
    Break(THEMES, "times:", "time:", "M228"),
    Break(THEMES, "choose:", "chose:", "M228"),
    Break(THEMES, TIMES, "{day: 7:00, nigth: 20:30}", "M271"),
    Break(THEMES, TIMES, "{night: 7:00, day: 20:30}", "C427", pasted=False, at="themes.yaml:10"),
    Break(THEMES, TIMES, "{day: 7:00, night: 7:00}", "M271", pasted=False),
    Break(THEMES, TIMES, TIMES + "\n  wait: 2 s", "M271", 1, pasted=False),
    Break(THEMES, "  night:\n", "  nigth:\n", "M271", at="themes.yaml:6"),
    # Colours and light
    Break(THEMES, '      ink: "#17211d"\n', "", "M229", -4, pasted=False),
    Break(THEMES, 'ink: "#17211d"', 'ink: "#17211"', "M230", pasted=False),
    Break(THEMES, 'ink: "#17211d"', "ink: #17211d", "M230", pasted=False),
    Break(THEMES, 'ink: "#17211d"', 'inck: "#17211d"', "M228"),
    Break(THEMES, "luminance: 350", "luminance: bright", "M230", pasted=False),
    Break(THEMES, "    luminance: 350\n", "", "M229", -2, pasted=False),
    Break(THEMES, "brightness: 8\n", "brightness: 800\n", "M231", pasted=False),
    Break(THEMES, 'charge: ["#6a2d12"', 'charg: ["#6a2d12"', "M250", pasted=False, at="themes.yaml:44"),
    # The plan
    Break(BATTERY, "    plan\n", "", "L115", pasted=False),
    Break(BATTERY, "    plan\n", "  plan\n", "L102"),
    Break(BATTERY, "    plan\n", "        plan\n", "L102"),
    Break(BATTERY, "    plan\n", "            plan\n", "L102"),
    Break(BATTERY, "    plan\n", "plan\n", "L115", pasted=False),
    Break(BATTERY, "        state   lamps", "    state   lamps", "L102"),
    Break(BATTERY, "        store   left", "    store   left", "L102"),
    Break(BATTERY, "        store   left", "store   left", "L102"),
    Break(BATTERY, "        store   left", "            store   left", "L102"),
    Break(BATTERY, "state   lamps", "state   la\x1bmps", "L127", pasted=False),
    Break(BATTERY, "state   lamps", "state   lamps  more", "A311", pasted=False),
    Break(BATTERY, "columns 9, 13", "columns 9, 13, 4", "A312"),
    Break(BATTERY, "rows 7 mm", "rows 7 m", "A301", pasted=False),
    Break(BATTERY, "rows 7 mm", "rows 70 mm", "A313", pasted=False),
    Break(BATTERY, "store   power", "power   store", "A310", -1, pasted=False),
    # Areas
    Break(BATTERY, "in store ", "in stor ", "A303"),
    Break(BATTERY, "in power ", "in pow\x1ber ", "L127", pasted=False),
    Break(BATTERY, "    in lamps across", "        in lamps across", "L102"),
    Break(BATTERY, "in lamps across", "in lamps acros", "L106"),
    Break(BATTERY, "        lamp pump", "    lamp pump", "L102"),
    Break(BATTERY, "        lamp pump", "            lamp pump", "L102"),
    Break(BATTERY, '            otherwise hidden, m', '        otherwise hidden, m', "L102"),
    Break(WATER, "in fresh    level", "in waste    level", "L116", 2, pasted=False),
    # Sentences
    Break(BATTERY, "words battery.state", "words battery.stat", "M201"),
    Break(BATTERY, "battery.charge < 20 %", "battery.charge < 20 V", "M204", pasted=False),
    Break(BATTERY, "ramp charge", "ramp charg", "M253"),
    Break(BATTERY, "danger while battery.fault", "dangr while battery.fault", "M252"),
    Break(BATTERY, "lamp battery,", "lamp batery,", "A324"),
    Break(BATTERY, "text 40 arcmin", "text 400 arcmin", "A350", pasted=False),
    Break(BATTERY, 'as "0 h"', 'as "0 W"', "M212", pasted=False),
    Break(BATTERY, 'as "0 h"', "as 0 h", "L124"),
    Break(BATTERY, 'called "Time left"', 'calld "Time left"', "L107"),
    Break(BATTERY, 'called "Time left"', 'called "Time\x1b left"', "A392", pasted=False),
    Break(BATTERY, "left     reading", "left     raeding", "L106"),
    Break(BATTERY, "left     reading", "left     reading reading", "L112"),
    Break(BATTERY, "from 0 % to 100 %", "from 100 % to 0 %", "A344", pasted=False),
    Break(BATTERY, "shaped battery", "shaped batery", "A326"),
    Break(BATTERY, ', means "Too cold', ' means "Too cold', "L130"),
    Break(BATTERY, '"In or out",', '"In or out,', "L108"),
    Break("drive.layout", "every 20 kW", "every 20", "M214", design="dunlin"),
    Break(WATER, "water.fresh from", "water.fresh[1] from", "M209", pasted=False),
    Break(TROUBLE, "or water.pump_fault\n", "or water.left\n", "M206", pasted=False),
    # What leads where
    Break(BATTERY, 'screen battery "', 'screen batery "', "M240", at="design.yaml:23", pasted=False),
    Break(BATTERY, 'screen battery "Battery"', "screen battery", "L113"),
    Break(SUN, "through battery", "through batery", "M240"),
    Break(SUN, "swipe through battery, water, sun\n", "", "M278", pasted=False, at="sun.layout:3"),
    Break(TROUBLE, "left goes to battery", "left goes to batery", "M240"),
    Break(TROUBLE, "    swipe left", "  swipe left", "L102"),
    # Signals
    Break(SIGNALS, "  battery.charge: ", "  battery.charg: ", "M201", pasted=False, at="battery.layout:14"),
    Break(SIGNALS, "BatteryState.Charge", "BatteryState.Chrge", "M261", pasted=False),
    Break(SIGNALS, "battery.current in W", "battery.curent in W", "M201"),
    Break(SIGNALS, 'battery.current in W"', "battery.current in W", "M226", pasted=False),
    Break(SIGNALS, "range: [9, 16]", "range: [16, 9]", "M254", pasted=False),
    Break(SIGNALS, "range: [9, 16]", "range: [9 16]", "M230", pasted=False),
    Break(SIGNALS, "  battery.fault: ", "  Battery.Fault: ", "M230"),
    Break(SIGNALS, "  battery.fault: ", "   battery.fault: ", "M226", pasted=False),
    Break(SIGNALS, "signals:", "signal:", "M228"),
    Break(SIGNALS, "signals:\n", "", "M226", pasted=False, at="signals.yaml:26"),
    Break(SIGNALS, "BatteryPower.Voltage, stale: 2 s", "BatteryPower.Voltage", "M248", pasted=False),
    # Settings
    Break(SETTINGS, "[320, 240]", "[320]", "M230", pasted=False),
    Break(SETTINGS, "[320, 240]", "[240, 320]", "M232"),
    Break(SETTINGS, "[320, 240]", "[320, 2400]", "M232", 1, pasted=False),
    Break(SETTINGS, "[48.96 mm, 36.72 mm]", "[36.72 mm, 48.96 mm]", "M232"),
    Break(SETTINGS, "[48.96 mm, 36.72 mm]", "[489.6 mm, 36.72 mm]", "M232", pasted=False),
    Break(SETTINGS, "  size: [48.96 mm, 36.72 mm]\n", "", "M229", -2, pasted=False),
    Break(SETTINGS, "text: B612-Regular", "text: B612-Regulr", "M257"),
    Break(SETTINGS, "  text: B612-Regular\n", "", "M229", -1, pasted=False),
    Break(SETTINGS, "start: battery", "start: batery", "M240"),
    Break(SETTINGS, "roost.dbc", "rost.dbc", "M221"),
    Break(SETTINGS, "dbc: roost.dbc\n", "", "M259", pasted=False, at="signals.yaml:6"),
    Break(SETTINGS, "panel:", "panl:", "M228"),
    Break(SETTINGS, "eye distance: 500 mm", "eye distance: 50 mm", "M231"),
    Break(SETTINGS, "eye distance: 500 mm", "eye distance: 50 cm", "M230"),
    Break(SETTINGS, "flash: 512 kB", "flash: 512", "M230", pasted=False),
    Break(SETTINGS, "start: battery", "start: Battery", "M240"),
    Break(SETTINGS, "  figures: B612-Bold\n", "", "M229", -2, pasted=False),
    Break(SETTINGS, "fonts:\n", "panel:\n", "M227", pasted=False),
    # Of a van with touch
    Break(SIGNALS, "{0: Calm, 1: Normal, 2: Hill}", "[Calm, Normal]", "M230", pasted=False, design="dunlin"),
    Break("coolant.layout", 'with title "Dr', 'with tittle "Dr', "M242", pasted=False, design="dunlin"),
    Break(MOTOR, "held 2 s", "held 2", "M214", design="dunlin"),
    Break(THEMES, 'ink: "#edd0a3"', 'ink: "edd0a3"', "M230", design="dunlin"),
    Break(THEMES, "wait: 2 s", "wait: 2", "M230", design="dunlin"),
    Break(SIGNALS, "Speed, stale: 250 ms", "Speed, stale: 250", "M230", design="dunlin"),
    Break(SIGNALS, "unit: V, range: [180", "unit: mV, range: [192", "M265", pasted=False, design="dunlin"),
    Break(SIGNALS, "ChargeRequest.Limit", "ChargerState.Limit", "M298", pasted=False, design="dunlin"),
    Break(SIGNALS, "pack.fault:   ", "pack.voltage: ", "M227", pasted=False, design="dunlin"),
    Break(SIGNALS, "pack.voltage * pack", "pack.voltage x pack", "L112", pasted=False, design="dunlin"),
    Break("cells.layout", "screen cells", "screen drive", "M244", pasted=False, at=DRIVE, design="dunlin"),
    Break("drive.layout", "gear    range   charge", "gear    range   chagre", "A304", design="dunlin"),
    Break("drive.layout", "100 arcmin", "100 mm", "A350", pasted=False, design="dunlin"),
    Break(MOTOR, 'vehicle.gear is "P"', 'vehicle.gear == "P"', "L110", pasted=False, design="dunlin"),
    Break(MOTOR, "125 °C", "125 C", "M203", design="dunlin"),
    Break(MOTOR, 'of "Calm"', 'of "calm"', "A362", pasted=False, design="dunlin"),
]


@pytest.mark.parametrize("broken", BREAKS, ids=lambda case: f"{case.code}-{case.new.strip()[:30]}")
def test_one_break_has_one_report(broken: Break) -> None:
    text = text_of(broken.design, broken.file)
    assert broken.old in text
    changed = text.replace(broken.old, broken.new, 1)
    found = told(broken.design, {broken.file: changed})
    assert [item.code for item in found] == [broken.code], [(item.message, item.remedy) for item in found]
    (item,) = found
    assert item.span is not None and item.remedy
    line = text[: text.index(broken.old)].count("\n") + 1 + broken.below
    assert f"{item.span.file}:{item.span.line}" == (broken.at or f"{broken.file}:{line}")
    if broken.pasted:
        result = mended(changed, item)
        assert result is not None, item.remedy
        assert told(broken.design, {broken.file: result}) == [], result


SEVERAL = [
    # What is declared may be right, and the unit of the DBC and of the layout wrong.
    (SIGNALS, 'charge:    {unit: "%"', "charge:    {unit: V", ["M204", "M262", "M212", "M212"]),
    # The area is there, and smaller: it may be meant so.
    (BATTERY, "store   left", "stor   left", ["A304", "A351"]),
    # Two faults that the driver is not told of, and a screen that nothing leads to.
    (TROUBLE, "    comes up when battery.fault or water.pump_fault\n", "", ["M278", "C443", "C443"]),
]


@pytest.mark.parametrize("file, old, new, codes", SEVERAL, ids=lambda part: str(part)[:20])
def test_what_is_told_of_more_than_once(file: str, old: str, new: str, codes: list[str]) -> None:
    changed = text_of("roost", file).replace(old, new, 1)
    assert sorted(item.code for item in told("roost", {file: changed})) == sorted(codes)


@pytest.mark.parametrize("scale, most", [("0.1", "25.5"), ("0.3", "76.5")])
def test_a_field_that_cannot_carry_what_is_asked_for_is_told_where_it_is_asked(
    scale: str, most: str, tmp_path: Path
) -> None:
    """What it carries of the range is no second report."""
    text = (LAYOUTS / "dunlin" / "dunlin.dbc").read_text(encoding="latin-1")
    field = ' SG_ Regen : 0|8@1+ ({},0) [0|100] "%" Inverter'
    assert field.format(1) in text
    changed = text.replace(field.format(1), field.format(scale))
    shutil.copytree(LAYOUTS / "dunlin", tmp_path / "dunlin")
    (tmp_path / "dunlin" / "dunlin.dbc").write_text(changed, encoding="latin-1")
    _, _, (one,) = examine(tmp_path / "dunlin")
    assert one.code == "A362" and one.span is not None and one.span.file == "motor.layout"
    assert f"the field of 'motor.regen' can carry, 0 % to {most} %" in one.message
    assert one.remedy is not None and one.remedy.endswith("or correct the scale in the DBC")


def test_noise_is_summed_up() -> None:
    noise = b64encode(Random(1).randbytes(20_000)).decode()
    lines = "\n".join(noise[at : at + 76] for at in range(0, len(noise), 76))
    found = told("roost", {BATTERY: f"{lines}\n{text_of('roost', BATTERY)}"})
    assert 1 < len(found) < 20
    assert any("more lines" in item.message and len(item.also) > 100 for item in found)


@pytest.mark.parametrize(
    "outputs",
    [
        "  motor.creep: {to: MotorRequest.Creep, too: 1}\n",
        "  motor.creep:\n    to: MotorRequest.Creep\n    too: 1\n",
        "  motor.creep:\n    to: 7\n",
        "  motor.creep:\n    to: MotorRequest.Creeep\n",
        "  motor.creep:\n    to: MotorRequest.Creep\n    allowed: vehicle.speeed < 1 km/h\n",
    ],
)
def test_an_output_with_an_error_is_not_missed_by_its_control(outputs: str) -> None:
    """Whether it is written in braces or in lines of its own; nor are the signals that it reads."""
    text = text_of("dunlin", SIGNALS)
    changed = re.sub(r"  motor\.creep: +\{to.*\n", outputs, text)
    assert changed != text
    _, _, found = examine(LAYOUTS / "dunlin", None, {SIGNALS: changed})
    assert len([item for item in found if item.severity is not Severity.NOTE]) == 1, found
    assert "M247" not in {item.code for item in found}
