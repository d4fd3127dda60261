"""A small design in which the checks find nothing: the pattern of the spoiled twins."""

from pathlib import Path

from hmic.arrange.compose import arrange
from hmic.check.rules import check
from hmic.cli.starter import DBC
from hmic.model.load import load

DESIGN = """\
name: Heron
panel:
  pixels: [800, 480]
  size: [154.1 mm, 85.9 mm]
  eye distance: 700 mm
  colour depth: 24
  baud: 115200
  flash: 1 MB
  memory: 128 kB
fonts:
  text: B612-Regular
  figures: B612-Bold
start: road
dbc: car.dbc
"""

SIGNALS = """\
signals:
  vehicle.speed: {unit: km/h, range: [0, 160], from: Vehicle.Speed, stale: 500 ms}
  pack.charge: {unit: "%", range: [0, 100], from: Pack.Charge, stale: 2 s}
  pack.voltage: {unit: V, range: [200, 420], from: Pack.Voltage, stale: 500 ms}
  pack.current: {unit: A, range: [-300, 300], from: Pack.Current, stale: 500 ms}
  pack.power: {is: "pack.voltage * pack.current in kW", range: [-126, 126]}
  pack.hours: {is: "pack.charge / max(pack.current, 1 A)", range: [0, 100]}
  pack.fault: {flag: true, from: Pack.Fault, stale: 500 ms}
  motor.temperature: {unit: °C, range: [-40, 160], from: Motor.Temperature, stale: 2 s}
  heat.on: {flag: true, from: Pack.Heat, stale: 2 s}
  heat.mode: {words: {0: Low, 1: High}, from: Pack.Mode, stale: 2 s}
outputs:
  heat.on: {to: Wish.Heat}
  heat.mode: {to: Wish.Mode}
"""

# The starter's messages and two that its screens do not need.
MESSAGES = (
    DBC.replace(
        " SG_ Fault : 40|1@1+",
        ' SG_ Heat : 41|1@1+ (1,0) [0|1] "" Vector__XXX\n'
        ' SG_ Mode : 42|2@1+ (1,0) [0|3] "" Vector__XXX\n SG_ Fault : 40|1@1+',
    )
    + '\nBO_ 512 Wish: 8 Pack\n SG_ Heat : 0|1@1+ (1,0) [0|1] "" Vector__XXX\n'
    ' SG_ Mode : 8|2@1+ (1,0) [0|3] "" Vector__XXX\n'
)

THEMES = """\
choose: {by: clock, times: {day: 7:00, night: 19:30}}
themes:
  day:
    brightness: 100
    luminance: 600
    roles:
      ground: "#11171a"
      surface: "#1c2529"
      line: "#4b5a60"
      ink: "#f8f3e6"
      quiet: "#beb8b0"
      accent: "#8fd3f4"
      good: "#44a074"
      notice: "#6f90ff"
      caution: "#ffd04a"
      danger: "#ff4f34"
      stale: "#a18aac"
    ramps:
      charge: ["#aa6647", "#b6804b", "#b2a054", "#90c37e", "#7adfb7"]
  night:
    brightness: 6
    luminance: 36
    roles:
      ground: "#080605"
      surface: "#130e0b"
      line: "#43362d"
      ink: "#edd0a3"
      quiet: "#8c7b70"
      accent: "#bf9981"
      good: "#388c4c"
      notice: "#7a8ade"
      caution: "#f5a800"
      danger: "#fb3a20"
      stale: "#8a83a2"
    ramps:
      charge: ["#885037", "#916539", "#8c7e40", "#709961", "#5caf8f"]
"""

ROAD = """\
screen road "Road"
    plan
        time   lamps  more
        power  speed  charge
        power  speed  charge
    columns 1, 2, 1
    rows 14 mm, 1, 1

    in time     clock as "00:00", text 20 arcmin
    in lamps across
        lamp battery, danger while pack.fault, means "Battery fault: stop and leave the vehicle"
        lamp motor, caution while motor.temperature > 110 °C, means "Motor too warm"
    in more     button "Battery", goes to battery
    in power    bar pack.power from -60 kW to 120 kW, upward, marks every 20 kW, as "0 kW", called "Power"
        caution above 100 kW
    in speed    reading vehicle.speed as "0 km/h", text 90 arcmin
    in charge   level pack.charge from 0 % to 100 %, shaped battery, filled by ramp charge
        as "0 %", called "Battery", caution below 20 %, danger below 10 %
"""

BATTERY = """\
screen battery "Battery"
    plan
        back   lamps  .
        volts  amps   heater
        power  heat   mode
    rows 14 mm, 1, 1

    in back     button "Back", goes to road
    in lamps    lamp battery, danger while pack.fault, means "Battery fault: stop and leave the vehicle"
    in volts    reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"
    in amps     reading pack.current as "0.0 A", text 36 arcmin, called "Current"
    in power    reading pack.power as "0.0 kW", text 36 arcmin, called "Power"
    in heat     reading motor.temperature as "0 °C", text 36 arcmin, called "Motor"
        caution above 110 °C, danger above 130 °C
    in heater   switch heat.on, called "Heater", allowed when vehicle.speed < 1 km/h
    in mode     choice heat.mode of "Low" or "High", called "Heat"
        allowed when vehicle.speed < 1 km/h
"""

FILES = {
    "design.yaml": DESIGN,
    "signals.yaml": SIGNALS,
    "themes.yaml": THEMES,
    "car.dbc": MESSAGES,
    "road.layout": ROAD,
    "battery.layout": BATTERY,
}


def arranged_in(folder: Path, files: dict[str, str]):
    """The design, what it is arranged to, and what was found on the way: errors keep it from that."""
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    design, findings = load(folder)
    assert design is not None, findings
    arranged, more = arrange(design)
    errors = [item for item in [*findings, *more] if item.severity.value == "error"]
    assert arranged is not None and not errors, errors
    return design, arranged, [*findings, *more]


def found_in(folder: Path, files: dict[str, str]):
    """Every finding of the checks, and the errors that kept them from running."""
    design, arranged, _ = arranged_in(folder, files)
    return check(design, arranged)


def spoiled(*changes: tuple[str, str, str]) -> dict[str, str]:
    """The good files with each (file, old, new) replaced once; the old text must be there."""
    files = dict(FILES)
    for name, old, new in changes:
        assert old in files[name], (name, old)
        files[name] = files[name].replace(old, new, 1)
    return files
