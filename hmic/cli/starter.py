"""The files of a small design: one battery, one motor, one pump to switch, two screens."""

from __future__ import annotations

DESIGN = """\
# The glass in your dash. Measure `size` on the lit area, `eye distance` from your eye to the glass.
name: My car

panel:
  pixels: [800, 480]
  size: [154.1 mm, 92.5 mm]
  eye distance: 700 mm
  colour depth: 16
  # Ask the maker how much of the light the glass sends back: every verdict on the sun hangs on it.
  # reflectance: 1 %
  baud: 115200
  flash: 1 MB
  memory: 128 kB

fonts:
  text: B612-Regular
  figures: B612-Bold

start: drive
dbc: car.dbc
"""

SIGNALS = """\
# Each signal: its unit, the range it can have, where it comes from (a message and signal of the DBC),
# and after which silence it counts as stale.
signals:
  vehicle.speed: {unit: km/h, range: [0, 160], from: Vehicle.Speed, stale: 500 ms}
  pack.charge: {unit: "%", range: [0, 100], from: Pack.Charge, stale: 2 s}
  pack.voltage: {unit: V, range: [200, 420], from: Pack.Voltage, stale: 500 ms}
  pack.current: {unit: A, range: [-300, 300], from: Pack.Current, stale: 500 ms}
  pack.power: {is: "pack.voltage * pack.current in kW", range: [-126, 126]}
  pack.fault: {flag: true, from: Pack.Fault, stale: 500 ms}
  motor.temperature: {unit: °C, range: [-40, 160], from: Motor.Temperature, stale: 2 s}
  coolant.pump: {flag: true, from: Coolant.Pump, stale: 2 s}

# What a touch may ask for: where the request goes, and under which condition. The signal of the same name
# reads back what came of it. `hmic run` sends nothing unless it is started with --allow-outputs.
outputs:
  coolant.pump: {to: CoolantRequest.Pump, allowed: "vehicle.speed < 1 km/h"}
"""

DBC = """\
VERSION ""

NS_ :

BS_:

BU_: Pack Motor Vehicle Coolant Display

BO_ 256 Vehicle: 8 Vehicle
 SG_ Speed : 0|16@1+ (0.01,0) [0|160] "km/h" Vector__XXX

BO_ 272 Pack: 8 Pack
 SG_ Voltage : 0|16@1+ (0.1,0) [0|500] "V" Vector__XXX
 SG_ Current : 16|16@1- (0.1,0) [-1000|1000] "A" Vector__XXX
 SG_ Charge : 32|8@1+ (0.5,0) [0|100] "%" Vector__XXX
 SG_ Fault : 40|1@1+ (1,0) [0|1] "" Vector__XXX

BO_ 288 Motor: 8 Motor
 SG_ Temperature : 0|16@1- (0.1,0) [-40|200] "degC" Vector__XXX

BO_ 304 Coolant: 8 Coolant
 SG_ Pump : 0|1@1+ (1,0) [0|1] "" Vector__XXX

BO_ 320 CoolantRequest: 1 Display
 SG_ Pump : 0|1@1+ (1,0) [0|1] "" Vector__XXX
"""

THEMES = """\
# The same roles in every theme; screens name roles, never colours. Without a sensor of light the clock says
# which is shown.
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
    luminance: 33
    roles:
      ground: "#080605"
      surface: "#130e0b"
      line: "#382d26"
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

DRIVE = """\
# On the road: speed, what is left, how hard.

screen drive "Drive"
    plan
        clock   lamps   more
        power   speed   charge
        power   speed   charge
    columns 1, 2, 1
    rows 14 mm, 1, 1

    in clock    clock as "0:00", text 20 arcmin
    in lamps across
        lamp battery, danger while pack.fault, means "Battery fault: stop and leave the vehicle"
        lamp motor, caution while motor.temperature > 110 °C
            danger while motor.temperature > 130 °C
            means "Motor too warm"
    in more     button "Battery", goes to battery
    in power    bar pack.power from -60 kW to 120 kW, upward, marks every 20 kW, as "0 kW"
        called "Power"
        caution above 100 kW
    in speed    reading vehicle.speed as "0 km/h", text 90 arcmin
    in charge   level pack.charge from 0 % to 100 %, shaped battery, filled by ramp charge
        as "0 %", called "Battery", caution below 20 %, danger below 10 %
"""

BATTERY = """\
# The battery and the motor in figures, and the coolant pump to switch by hand while the car stands.

screen battery "Battery"
    plan
        back    lamps
        volts   amps
        power   heat
        pump    pump
    rows 14 mm, 1, 1, 1

    in back     button "Drive", goes to drive
    in lamps across
        lamp battery, danger while pack.fault, means "Battery fault: stop and leave the vehicle"
        lamp motor, caution while motor.temperature > 110 °C
            danger while motor.temperature > 130 °C
            means "Motor too warm"
    in volts    reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"
    in amps     reading pack.current as "0.0 A", text 36 arcmin, called "Current"
    in power    reading pack.power as "0.0 kW", text 36 arcmin, called "Power"
    in heat     reading motor.temperature as "0 °C", text 36 arcmin, called "Motor"
        caution above 110 °C, danger above 130 °C
    in pump     switch coolant.pump, called "Coolant pump", text 18 arcmin
        allowed when vehicle.speed < 1 km/h, confirmed by "Switch the pump?"
        refused with "Stop first"
"""

FILES = {
    "design.yaml": DESIGN,
    "signals.yaml": SIGNALS,
    "themes.yaml": THEMES,
    "car.dbc": DBC,
    "drive.layout": DRIVE,
    "battery.layout": BATTERY,
}
