"""False alarms and missed faults: good designs give no finding, spoiled twins exactly the one.

The designs are this project's own. A twin worsens one thing; the figures that it must give are
printed (``pytest -s``) and stand beside the limits of ``hmic/model/limits.py``, which name their sources.
"""

import re
from pathlib import Path
from types import SimpleNamespace

import pytest
from good_design import THEMES, found_in, spoiled

from hmic.arrange.canvas import TouchFact
from hmic.arrange.compose import arrange
from hmic.check.codes import CODES
from hmic.check.ramps import READY
from hmic.check.rules import check
from hmic.check.scale_form import COOL, GREEN, RED, WARM
from hmic.check.touch_targets import _apart
from hmic.diagnostics import Span
from hmic.model.design import Panel
from hmic.model.limits import DEFAULTS
from hmic.model.load import load
from hmic.paint.operations import Box
from tests.tools.changed import replace

DAY, NIGHT = THEMES.split("  night:")
ROOT = Path(__file__).parents[2]


def theme(name, old, new):
    """A change within one theme of themes.yaml."""
    day, night = (DAY.replace(old, new, 1), NIGHT) if name == "day" else (DAY, NIGHT.replace(old, new, 1))
    text = day + "  night:" + night
    assert text != THEMES, (old, new)
    return ("themes.yaml", THEMES, text)


def limit(name, value):
    """A limit that the design sets itself, so close that the good design fails it."""
    return (
        "design.yaml",
        "dbc: car.dbc",
        f'dbc: car.dbc\nlimits: {{"{name}": {{limit: {value}, because: so that a twin fails}}}}',
    )


def road(old, new):
    return ("road.layout", old, new)


def battery(old, new):
    return ("battery.layout", old, new)


SPEED = 'reading vehicle.speed as "0 km/h", text 90 arcmin'
VOLTS = 'reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"'
AMPS = 'reading pack.current as "0.0 A", text 36 arcmin, called "Current"'
HEATER = 'switch heat.on, called "Heater", allowed when vehicle.speed < 1 km/h'
MODE = 'choice heat.mode of "Low" or "High", called "Heat"\n        allowed when vehicle.speed < 1 km/h'
MEANS = ', means "Battery fault: stop and leave the vehicle"'
LAMP = "lamp battery, danger while pack.fault" + MEANS

WHEEL = """\
  wheel.turn: {{unit: m/s, range: [0, 40], from: pipe, stale: {}}}
  wheel.pace: {{unit: km/h, range: [0, 144], is: "wheel.turn"}}
  pack.fault:"""
PIPED = "  tow.speed: {{unit: km/h, range: [0, 160], from: {}}}\n  pack.fault:"
HEAT = """\
reading motor.temperature as "0 °C", text 36 arcmin, called "Motor"
        caution above 110 °C, danger above 130 °C"""
PARKED = "    allowed when vehicle.speed < 1 km/h"
CELLS = (
    "signals.yaml",
    "  pack.fault:",
    "  pack.cells: {unit: V, range: [2, 4.5], count: 4, from: pipe, stale: 2 s}\n  pack.fault:",
)
ASKED = (
    "signals.yaml",
    "outputs:",
    '  charge.most: {unit: "%", range: [0, 100], from: pipe, stale: 2 s}\n'
    "outputs:\n  charge.most: {to: pipe, range: [50, 80]}",
)
PIPE = """freely
        symbol pump named pump at 8 mm across 12 mm down, sized 10 mm
        symbol motor named motor at 40 mm across 12 mm down, sized 10 mm
        pipe from pump.right to motor.left
            filled by ramp charge of motor.temperature from {} to {}"""

BACK_PIPE = PIPE.replace("charge of motor.temperature", "back of pack.charge").format("0 %", "100 %")

POWER = """\
bar pack.power from -60 kW to 120 kW, upward, marks every 20 kW, as "0 kW", called "Power"
        caution above 100 kW"""
WORDS_IN_RED = 'words heat.mode, text 30 arcmin, called "Heat", danger while motor.temperature > 140 °C'
TURNED = 'dial pack.charge from 0 % to 100 %, sweep from 90° to -90°, as "0 %", called "Battery"'
BLUE_HEAT = '      heat: ["#ffd16b", "#ff9d71", "#e86f89", "#aa6098", "#5e549e"]\n'
BACKWARDS = '      back: ["#7adfb7", "#90c37e", "#b2a054", "#b6804b", "#aa6647"]\n'
BLINK = '  pack.blink: {flag: true, is: "hold(pack.fault, 300 ms)"}\n  pack.fault:'
NO_RED = battery(", danger above 130 °C", "")
"""Where the lamp of the motor is taken for something else, its reading is no danger."""
JUMP = '  pack.jumps: {flag: true, is: "rate(pack.voltage, 300 ms) > 500 V/s"}\n  pack.fault:'
RAMPED = "filled by ramp charge of motor.temperature from 80 °C to 110 °C"
HALT = """\
screen {} "Halt"
    comes up when {}
    plan
        text
    in text     label "Stop", text 40 arcmin

"""
FREELY = "freely\n        {}\n        {}"
DIAL = "dial motor.temperature from -40 °C to 160 °C, at 20 mm across 14 mm down, sized 24 mm"
DISC = "shape box, colour surface, at 20 mm across 14 mm down, sized 10 mm"
BAR = "bar motor.temperature from -40 °C to 160 °C, at 20 mm across 14 mm down, sized 24 mm by 6 mm"
OVER = "shape box, colour ground, at 20 mm across 14 mm down, sized 10 mm"

LABEL = 'label "Heron", text 40 arcmin, colour faint'
SYMBOL = "symbol battery, sized 20 mm, colour faint"
FAINT_LAMP = "faint while motor.temperature > 90 °C, danger while pack.fault"
FILLED = "filled by ramp charge"


def faint(day, night):
    """A role of its own in both themes."""
    text = f'\n      faint: "{night}"\n    ramps:'
    both = NIGHT.replace("\n    ramps:", text, 1)
    return [
        ("themes.yaml", THEMES, DAY.replace("\n    ramps:", text.replace(night, day), 1) + "  night:" + both)
    ]


TWINS = {
    # Text
    "a label far too small": ("C401", road(SPEED, 'label "Heron", text 10 arcmin')),
    "a reading far too small": ("C401", battery(VOLTS, VOLTS.replace("36", "10"))),
    "a button's words too small": ("C401", road('button "Battery",', 'button "Battery", text 9 arcmin,')),
    "speed too small to act on": ("C402", road("text 90 arcmin", "text 13 arcmin")),
    "voltage too small to act on": ("C402", battery(VOLTS, VOLTS.replace("36", "14"))),
    "current too small to act on": ("C402", battery(AMPS, AMPS.replace("36", "15"))),
    "speed below comfort": ("C403", road("text 90 arcmin", "text 17 arcmin")),
    "clock below comfort": ("C403", road("text 20 arcmin", "text 17 arcmin")),
    "a font with thick strokes": ("C404", limit("stroke most", 0.1)),
    "a font with thin strokes": ("C404", limit("stroke least", 0.15)),
    "wide capitals": ("C405", limit("width most", 0.7)),
    "narrow capitals": ("C405", limit("width least", 0.75)),
    "letters set tight": ("C406", limit("gap least", 3)),
    "lines set tight": ("C407", limit("line gap least", 20)),
    "much to read on the road": (
        "C408",
        road('called "Power"', 'called "Pull"'),
        limit("letters while driving", 12),
    ),
    "captions held to more": ("C401", limit("text floor", 16)),
    # Contrast: a label, a symbol and a level in a role of their own
    "text faint by day": ("C420", road(SPEED, LABEL), *faint("#5c6468", "#8c7b70")),
    "text faint in sun": ("C420", road(SPEED, LABEL), *faint("#8a8a80", "#8c7b70")),
    "text faint at night": ("C420", road(SPEED, LABEL), *faint("#beb8b0", "#3d3530")),
    "text like the ground": ("C420", road(SPEED, LABEL), *faint("#11171a", "#8c7b70")),
    "text faint at dusk alone": ("C420", road(SPEED, LABEL), *faint("#beb8b0", "#5f544d")),
    "a symbol faint by day": ("C421", road(SPEED, SYMBOL), *faint("#3c4448", "#8c7b70")),
    "a symbol faint in sun": ("C421", road(SPEED, SYMBOL), *faint("#7d7d74", "#8c7b70")),
    "a symbol faint at night": ("C421", road(SPEED, SYMBOL), *faint("#beb8b0", "#2d2622")),
    "an unlit lamp that should be seen": (
        "C421",
        battery(MEANS, ", otherwise faint" + MEANS),
        *faint("#3c4448", "#8c7b70"),
    ),
    "a lit lamp that is faint": (
        "C421",
        battery("danger while pack.fault", FAINT_LAMP),
        *faint("#0d3fa0", "#8c7b70"),
    ),
    "a level like its bed by day": ("C422", road(FILLED, "colour faint"), *faint("#262f33", "#8c7b70")),
    "a level like its bed at night": ("C422", road(FILLED, "colour faint"), *faint("#beb8b0", "#14100d")),
    "a panel that mirrors": (
        "C420",
        road(SPEED, LABEL),
        limit("panel reflectance", 1.05),
        *faint("#8d8d8d", "#8c7b70"),
    ),
    "more sun": ("C420", road(SPEED, LABEL), limit("light in sun", 47250), *faint("#8d8d8d", "#8c7b70")),
    "text held to more at night": ("C420", limit("text contrast at night", 100)),
    "text held to more at dusk": ("C420", limit("text contrast at dusk", 10)),
    "text held to more by day": ("C420", limit("text contrast by day", 12)),
    "symbols held to more at night": ("C421", limit("symbol contrast at night", 60)),
    "symbols held to more by day": ("C421", limit("symbol contrast by day", 9)),
    "a bar like its track": ("C422", limit("area contrast", 12)),
    # Night
    "a bright place at night": ("C424", limit("night peak", 20)),
    "a bright screen at night": ("C425", limit("night mean", 0.5)),
    # Colour vision
    "pressed like at rest": (
        "C430",
        theme("day", 'accent: "#8fd3f4"', 'accent: "#4c5b61"'),
    ),
    "pressed like at rest at night": (
        "C430",
        theme("night", 'accent: "#bf9981"', 'accent: "#43362e"'),
    ),
    "an uneven ramp": ("C431", theme("day", '"#b2a054"', '"#c9b660"')),
    "a ramp that stands still": ("C431", theme("night", '"#916539", "#8c7e40"', '"#916539", "#916539"')),
    "red to green": (
        "C432",
        theme(
            "day",
            '["#aa6647", "#b6804b", "#b2a054", "#90c37e", "#7adfb7"]',
            '["#e0503c", "#d0a040", "#4cb050"]',
        ),
    ),
    "ends alike": (
        "C432",
        theme(
            "day",
            '["#aa6647", "#b6804b", "#b2a054", "#90c37e", "#7adfb7"]',
            '["#aa6647", "#d0a040", "#ac6748"]',
        ),
    ),
    # Lamps
    "danger in violet": ("C440", theme("day", 'danger: "#ff4f34"', 'danger: "#e072e0"')),
    "caution in green": ("C440", theme("day", 'caution: "#ffd04a"', 'caution: "#c5e94a"')),
    "good in blue": ("C440", theme("night", 'good: "#388c4c"', 'good: "#15899a"')),
    "a belt in yellow": ("C441", road("lamp motor, caution", "lamp belt, caution")),
    "a low tyre in red": (
        "C441",
        NO_RED,
        road(
            "lamp motor, caution while motor.temperature > 110 °C", "lamp tyre, danger while not pack.fault"
        ),
    ),
    "a parking brake in green": ("C441", NO_RED, road("lamp motor, caution", "lamp park_brake, good")),
    "danger in grey": ("C440", theme("day", 'danger: "#ff4f34"', 'danger: "#b5928c"')),
    "head lamps in red": (
        "C441",
        NO_RED,
        road(
            "lamp motor, caution while motor.temperature > 110 °C", "lamp light, danger while not pack.fault"
        ),
    ),
    "no lamp on the second screen": (
        "C443",
        battery(f"    in lamps    {LAMP}\n", '    in lamps    label "Heron"\n'),
    ),
    "another danger on the second screen": (
        "C443",
        battery(
            "lamp battery, danger while pack.fault", "lamp motor, danger while motor.temperature > 140 °C"
        ),
    ),
    "a lamp without words": ("C444", battery(MEANS, "")),
    "a caution without words": ("C444", road(', means "Motor too warm"', "")),
    "lamps that share a low row": ("C445", road("in lamps across", "in lamps down")),
    "lamps that share a narrow column": (
        "C445",
        road("time   lamps  more", "time   more   lamps"),
        road("columns 1, 2, 1", "columns 4, 5, 1"),
        road("power  speed  charge", "power  speed  ."),
        road("power  speed  charge", "power  charge charge"),
    ),
    "a small symbol": ("C445", battery(VOLTS, "symbol battery, sized 6 mm")),
    "a symbol held to more": ("C445", limit("pictogram size", 50)),
    # Touch
    "a low row of buttons": ("C410", road("rows 14 mm", "rows 9 mm")),
    "gloves": ("C410", limit("touch size", 19)),
    "targets close together": ("C411", limit("touch gap", 3)),
    "a rim that keeps fingers off": ("C412", limit("touch edge", 4)),
    "a double press": (
        "C413",
        battery("back   lamps  .", "back   lamps  quick"),
        battery(
            "    in back",
            '    in quick    button "Heat", toggles heat.on, allowed when pack.charge > 50 %\n    in back',
        ),
    ),
    "an area that acts under a reading": (
        "C414",
        battery(
            "\n    in back",
            "\n    touch volts toggles heat.on, allowed when vehicle.speed < 1 km/h\n    in back",
        ),
    ),
    "a button that tells nothing": (
        "C415",
        road('button "Battery", goes to battery', 'button "Heat", sets heat.on to on'),
    ),
    "a control far away": ("C416", limit("touches to an act", 1)),
    # Truth
    "decimals of charge": ("C450", road('as "0 %"', 'as "0.0 %"')),
    "decimals of volts": ("C450", battery(VOLTS, VOLTS.replace("0.0 V", "0.00 V").replace("36", "24"))),
    "decimals of heat": ("C450", battery('"0 °C", text 36', '"0.00 °C", text 30')),
    "a bar that hides half": (
        "C451",
        road('upward, marks every 20 kW, as "0 kW"', "upward, marks every 20 kW"),
    ),
    "a level that hides the rest": (
        "C451",
        road(
            'from 0 % to 100 %, shaped battery, filled by ramp charge\n        as "0 %",',
            "from 20 % to 80 %, shaped battery, filled by ramp charge\n       ",
        ),
        road(", caution below 20 %, danger below 10 %", ""),
    ),
    "a dial that hides the heat": (
        "C451",
        battery(VOLTS, 'dial motor.temperature from 0 °C to 100 °C, marks every 20 °C, called "Motor"'),
    ),
    "cells that hide a sick one": (
        "C451",
        CELLS,
        battery(VOLTS, "cells pack.cells from 3.5 V to 4 V, filled by ramp charge"),
    ),
    "a slider that stops short of what is read back": (
        "C451",
        ASKED,
        battery(VOLTS, 'slider charge.most, in steps of 5 %, called "Most"\n    ' + PARKED),
    ),
    "a pipe coloured by a sliver": (
        "C451",
        battery(VOLTS, PIPE.format("80 °C", "110 °C")),
        battery("volts  amps   heater", "volts  volts  heater"),
        battery(f"    in amps     {AMPS}\n", ""),
        battery(HEAT, 'label "Heron"'),
    ),
    "division by what can be nothing": ("C453", ("signals.yaml", "max(pack.current, 1 A)", "pack.current")),
    "speed old for seconds": (
        "C456",
        ("signals.yaml", "from: Vehicle.Speed, stale: 500 ms", "from: Vehicle.Speed, stale: 3 s"),
    ),
    "volts old for seconds": (
        "C456",
        ("signals.yaml", "from: Pack.Voltage, stale: 500 ms", "from: Pack.Voltage, stale: 3 s"),
    ),
    "a derived speed, old for seconds": (
        "C456",
        ("signals.yaml", "  pack.fault:", WHEEL.format("3 s")),
        battery(VOLTS, 'reading wheel.pace as "0 km/h", text 36 arcmin, called "Pace"'),
    ),
    "a speed over the pipe, old for seconds": (
        "C456",
        ("signals.yaml", "  pack.fault:", PIPED.format("pipe, stale: 3 s")),
        battery(VOLTS, 'reading tow.speed as "0 km/h", text 36 arcmin, called "Tow"'),
    ),
    "a speed over the pipe that never ages": (
        "C456",
        ("signals.yaml", "  pack.fault:", PIPED.format("pipe")),
        battery(VOLTS, 'reading tow.speed as "0 km/h", text 36 arcmin, called "Tow"'),
    ),
    "a speed asked for, old for seconds": (
        "C456",
        ("signals.yaml", "  pack.fault:", PIPED.format("obd 0D, every: 500 ms, stale: 3 s")),
        battery(VOLTS, 'reading tow.speed as "0 km/h", text 36 arcmin, called "Tow"'),
    ),
    "a dial of volts, old for seconds": (
        "C456",
        battery(VOLTS, 'dial pack.voltage from 200 V to 420 V, called "Voltage"'),
        ("signals.yaml", "from: Pack.Voltage, stale: 500 ms", "from: Pack.Voltage, stale: 3 s"),
    ),
    "a bar of volts, old for seconds": (
        "C456",
        battery(VOLTS, 'bar pack.voltage from 200 V to 420 V, called "Voltage"'),
        ("signals.yaml", "from: Pack.Voltage, stale: 500 ms", "from: Pack.Voltage, stale: 3 s"),
    ),
    "safe by one figure": (
        "C457",
        NO_RED,
        road(
            "lamp motor, caution while motor.temperature > 110 °C",
            "lamp motor, good while pack.voltage < 250 V",
        ),
    ),
    # What stands on what
    "a needle under a box": ("C480", battery(VOLTS, FREELY.format(DIAL, DISC))),
    "a box over a bar": ("C480", battery(VOLTS, FREELY.format(BAR, OVER))),
    # Doubt
    "a doubt held to more": ("C455", limit("doubt distance", 40)),
    # Signs
    "a gauge of every colour": (
        "C433",
        battery(VOLTS, VOLTS + ", colour accent"),
        battery(AMPS, AMPS + ", colour notice"),
        battery('called "Power"', 'called "Power", colour good'),
        limit("colours at once", 2),
    ),
    "a danger in figures alone": ("C434", road(SPEED, SPEED + ", danger above 130 km/h")),
    "words that turn red for something else": (
        "C434",
        battery(VOLTS, WORDS_IN_RED),
        road("caution while motor.temperature > 110 °C", "caution while heat.on"),
        road('means "Motor too warm"', 'means "Heater"'),
    ),
    "a danger in figures alone on the second screen": (
        "C434",
        road("caution while motor.temperature > 110 °C", "caution while pack.current > 280 A"),
        road('means "Motor too warm"', 'means "Much current"'),
    ),
    "a dial in a colour like doubt": (
        "C436",
        battery(VOLTS, VOLTS + ", colour faint"),
        *faint("#a58ab0", "#8c7b70"),
    ),
    "a flood of lamps": (
        "C437",
        NO_RED,
        road(
            'lamp motor, caution while motor.temperature > 110 °C, means "Motor too warm"',
            'lamp motor, danger while pack.fault, means "Drive off"\n'
            '        lamp charger, danger while pack.fault or pack.voltage > 410 V, means "No charging"',
        ),
    ),
    "two screens for one fault": (
        "C437",
        road("screen road", HALT.format("halt", "pack.fault") + "screen road"),
        battery("screen battery", HALT.format("stop", "pack.fault or heat.on") + "screen battery"),
    ),
    "marks that flow beside the speed": (
        "C438",
        road(SPEED, PIPE.format("80 °C", "110 °C").replace(RAMPED, "colour quiet, flowing by pack.current")),
        road("power  speed  charge", "power  speed  speed"),
        road("power  speed  charge", "charge speed  speed"),
    ),
    "a dial in the look of doubt": ("C436", battery(VOLTS, VOLTS + ", colour stale")),
    "one pictogram for two faults": (
        "C446",
        battery(LAMP, f'{LAMP}\n        lamp motor, caution while heat.on, means "Heater is on"'),
        battery("in lamps    lamp", "in lamps across\n        lamp"),
    ),
    "one pictogram for a fault and for something else": (
        "C446",
        battery(LAMP, f'{LAMP}\n        lamp motor, notice while heat.on, means "Cabin heated"'),
        battery("in lamps    lamp", "in lamps across\n        lamp"),
    ),
    "two pictograms for one fault": (
        "C447",
        NO_RED,
        road("lamp motor, caution while motor.temperature > 110 °C", "lamp warning, danger while pack.fault"),
    ),
    "a lamp that is red while all is well": (
        "C448",
        NO_RED,
        road("lamp motor, caution while motor.temperature > 110 °C", "lamp heater, danger while heat.on"),
        battery(LAMP, f'{LAMP}\n        lamp heater, danger while heat.on, means "Heater"'),
        battery("in lamps    lamp", "in lamps across\n        lamp"),
    ),
    "a red label": ("C448", battery(VOLTS, 'label "Heron", text 36 arcmin, colour danger')),
    "much charge in red": (
        "C448",
        road("caution below 20 %, danger below 10 %", "caution above 80 %, danger above 90 %"),
    ),
    "a fault in green": (
        "C449",
        NO_RED,
        road("lamp motor, caution while motor.temperature > 110 °C", "lamp warning, good while pack.fault"),
    ),
    "heat in green": ("C449", battery("caution above 110 °C, danger above 130 °C", "good above 110 °C")),
    # Scales
    "a limit off the bar": ("C452", road("to 120 kW", "to 80 kW")),
    "a speed in a corner of its dial": (
        "C454",
        road(SPEED, 'dial vehicle.speed from 0 km/h to 1000 km/h, marks every 200 km/h, as "0 km/h"'),
    ),
    "marks by thirty": ("C458", road("marks every 20 kW", "marks every 30 kW")),
    "marks by four": (
        "C458",
        battery(VOLTS, 'dial motor.temperature from -40 °C to 160 °C, marks every 40 °C, called "Motor"'),
    ),
    "a bar that grows downwards": (
        "C459",
        battery(VOLTS, 'bar pack.charge from 0 % to 100 %, downward, as "0 %", called "Battery"'),
    ),
    "a dial against the clock": (
        "C459",
        battery(VOLTS, TURNED),
    ),
    "a ramp of charge turned round": (
        "C466",
        theme(
            "day",
            '["#aa6647", "#b6804b", "#b2a054", "#90c37e", "#7adfb7"]',
            '["#7adfb7", "#90c37e", "#b2a054", "#b6804b", "#aa6647"]',
        ),
    ),
    "hot in blue": (
        "C466",
        ("themes.yaml", THEMES, THEMES.replace("    ramps:\n", "    ramps:\n" + BLUE_HEAT)),
        battery(VOLTS, 'bar motor.temperature from -40 °C to 160 °C, filled by ramp heat, as "0 °C"'),
    ),
    "a pipe of charge in a ramp turned round": (
        "C466",
        ("themes.yaml", THEMES, THEMES.replace("    ramps:\n", "    ramps:\n" + BACKWARDS)),
        battery(VOLTS, BACK_PIPE),
    ),
    "a bar without its zero": ("C473", road("marks every 20 kW", "without marks")),
    "a bar that begins above zero": (
        "C473",
        road("from -60 kW", "from 10 kW"),
    ),
    # Alike everywhere
    "buttons in another order": (
        "C418",
        road("time   lamps  more", "more   lamps  other"),
        road(
            '    in time     clock as "00:00", text 20 arcmin',
            '    in other    button "Heat", goes to battery',
        ),
        battery("back   lamps  .", "back   more   other"),
        battery('button "Back", goes to road', 'button "Heat", goes to road'),
        battery(
            f"    in lamps    {LAMP}\n",
            f'    in more     {LAMP}\n    in other    button "Battery", goes to road\n',
        ),
    ),
    "degrees of two kinds": (
        "C464",
        road(SPEED, 'reading motor.temperature in °F as "0 °F", text 60 arcmin'),
    ),
    "a number of nothing": ("C465", battery(VOLTS, VOLTS.replace("0.0 V", "0.0"))),
    "a switch that has moved": ("C418", road(POWER, HEATER)),
    "a screen of figures": ("C419", limit("values while driving", 3)),
    # Warnings
    "a blink of a warning": (
        "C467",
        ("signals.yaml", "  pack.fault:", BLINK),
        road("danger while pack.fault", "danger while pack.blink"),
        battery("danger while pack.fault", "danger while pack.blink"),
    ),
    "a warning by a jump": (
        "C467",
        ("signals.yaml", "  pack.fault:", JUMP),
        road("caution while motor.temperature > 110 °C", "caution while pack.jumps"),
        battery("caution above 110 °C, danger above 130 °C", ""),
    ),
    "a speed in a chart, old for seconds": (
        "C456",
        ("signals.yaml", "from: Vehicle.Speed, stale: 500 ms", "from: Vehicle.Speed, stale: 3 s"),
        road(SPEED, "chart over 60 s\n        trace vehicle.speed from 0 km/h to 160 km/h"),
    ),
    "a switch on the road, far off": (
        "C471",
        battery(HEATER, 'switch heat.on, called "Heater"'),
        limit("task while driving", 3),
    ),
    "a switch on the road, looked at for long": (
        "C472",
        battery(HEATER, 'switch heat.on, called "Heater"'),
        limit("glance while driving", 1.9),
    ),
    "a danger on the second screen alone": (
        "C468",
        battery(VOLTS, 'lamp inverter, danger while heat.mode is "High", means "Inverter"'),
    ),
    # Limits
    "a looser limit": ("C470", limit("text acceptable", 15)),
    "a limit of no check": ("C400", limit("text hieght", 10)),
    "a limit in another unit": ("C499", limit("text floor", "10 mm")),
}


@pytest.mark.parametrize("name", TWINS)
def test_a_spoiled_twin_gives_the_one_finding(name, tmp_path):
    code, *changes = TWINS[name]
    found = found_in(tmp_path, spoiled(*changes))
    for item in found:
        print(f"{name}: {item.code} measured {item.measured} limit {item.limit} {item.unit}")
    assert {item.code for item in found} == {code}, [(item.code, item.message) for item in found]


GOOD = {
    "as it is": [],
    "16 bits a pixel": [("design.yaml", "colour depth: 24", "colour depth: 16")],
    "a limit in the other degrees": [
        battery(HEAT, 'bar motor.temperature in °F from 140 °F to 320 °F, as "0 °F", danger above 130 °C'),
    ],
    "a larger glass": [
        ("design.yaml", "[154.1 mm, 85.9 mm]", "[231.15 mm, 128.85 mm]"),
        ("design.yaml", "[800, 480]", "[1200, 720]"),
    ],
    "a nearer eye": [("design.yaml", "700 mm", "600 mm")],
    "a panel that is told": [
        ("design.yaml", "  baud", "  reflectance: 0.8 %\n  native contrast: 900\n  baud")
    ],
    "a limit with its reason": [
        (
            "design.yaml",
            "dbc: car.dbc",
            "dbc: car.dbc\nlimits: {text comfortable: {limit: 22 arcmin, because: asked for by the driver}}",
        ),
        road("text 20 arcmin", "text 23 arcmin"),
    ],
    "a lamp that flashes": [road("danger while pack.fault", "flashing danger while pack.fault")],
    "words": [battery(VOLTS, 'words heat.mode, text 30 arcmin, called "Heat"')],
    "a dial": [
        battery(VOLTS, 'dial motor.temperature from -40 °C to 160 °C, marks every 20 °C, called "Motor"')
    ],
    "a needle over a box": [battery(VOLTS, FREELY.format(DIAL, DISC + ", behind"))],
    "a bar over a box": [battery(VOLTS, FREELY.format(BAR, OVER + ", behind"))],
    "a bar beside a box": [battery(VOLTS, FREELY.format(BAR, OVER.replace("20 mm a", "38 mm a")))],
    "a symbol": [battery(VOLTS, "symbol battery, sized 20 mm")],
    "a derived speed in time": [
        ("signals.yaml", "  pack.fault:", WHEEL.format("500 ms")),
        battery(VOLTS, 'reading wheel.pace as "0 km/h", text 36 arcmin, called "Pace"'),
    ],
    "power of an old voltage, which is no voltage": [
        ("signals.yaml", "from: Pack.Voltage, stale: 500 ms", "from: Pack.Voltage, stale: 3 s"),
        battery(VOLTS, 'label "Heron"'),
    ],
    "a dial that ends early, with its figure": [
        battery(VOLTS, 'dial motor.temperature from 0 °C to 100 °C, marks every 20 °C, as "0 °C"')
    ],
    "cells with their lowest and highest beside them": [
        CELLS,
        ("signals.yaml", "  pack.fault:", '  pack.least: {is: "min(pack.cells)"}\n  pack.fault:'),
        battery(VOLTS, "cells pack.cells from 3.5 V to 4 V, filled by ramp charge"),
        battery(AMPS, 'reading pack.least as "0.0 V", text 36 arcmin, called "Lowest"'),
    ],
    "cells by their distance from the mean": [
        CELLS,
        battery(VOLTS, "cells pack.cells, difference from mean within 40 mV, filled by ramp charge"),
    ],
    "a slider over all that is read back": [
        ASKED,
        ("signals.yaml", "range: [50, 80]", "range: [0, 100]"),
        battery(VOLTS, 'slider charge.most, in steps of 5 %, called "Most"\n    ' + PARKED),
    ],
    "a pipe coloured by most of the range": [
        battery(VOLTS, PIPE.format("0 °C", "110 °C")),
        battery("volts  amps   heater", "volts  volts  heater"),
        battery(f"    in amps     {AMPS}\n", ""),
        battery(HEAT, 'label "Heron"'),
    ],
    "parked, in green": [
        NO_RED,
        road("lamp motor, caution while motor.temperature > 110 °C", "lamp parking, good while heat.on"),
    ],
    "a charger's fault, which matters at the post alone": [
        road("lamp motor, caution", "lamp plug, danger"),
    ],
    "a lamp that tells more of a fault than another": [
        NO_RED,
        road("caution while motor.temperature > 110 °C", "caution while pack.fault and heat.on"),
    ],
    "flow on a screen of its own": [
        battery(
            VOLTS, PIPE.format("80 °C", "110 °C").replace(RAMPED, "colour quiet, flowing by pack.current")
        ),
        battery("volts  amps   heater", "volts  volts  heater"),
        battery(f"    in amps     {AMPS}\n", ""),
    ],
    "a jump that is held": [
        (
            "signals.yaml",
            "  pack.fault:",
            JUMP.replace('"rate(', '"hold(rate(').replace('V/s"', 'V/s, 5 s)"'),
        ),
        road(
            "caution while motor.temperature > 110 °C",
            "caution while pack.jumps or motor.temperature > 110 °C",
        ),
    ],
    "a heat to both sides of nothing": [
        battery(
            VOLTS, 'bar motor.temperature from -40 °C to 160 °C, without marks, as "0 °C", called "Motor"'
        )
    ],
    "a wind, which is no vehicle": [
        (
            "signals.yaml",
            "  pack.fault:",
            "  wind.speed: {unit: km/h, range: [0, 120], from: pipe, stale: 5 s}\n  pack.fault:",
        ),
        battery(VOLTS, 'reading wind.speed as "0 km/h", text 36 arcmin, called "Wind"'),
    ],
    "a question": [battery(HEATER, 'switch heat.on, called "Heater", confirmed by "Sure?"')],
    "a ready ramp": [
        theme("day", '["#aa6647", "#b6804b", "#b2a054", "#90c37e", "#7adfb7"]', str(list(READY["amount"])))
    ],
    "a danger that comes up by itself": [
        battery(LAMP, 'label "Heron"'),
        (
            "road.layout",
            "screen road",
            'screen halt "Halt"\n    comes up when pack.fault\n    plan\n        text\n'
            '    in text     label "Stop", text 40 arcmin\n\nscreen road',
        ),
    ],
}


@pytest.mark.parametrize("name", GOOD)
def test_a_good_design_gives_no_finding(name, tmp_path):
    found = found_in(tmp_path, spoiled(*GOOD[name]))
    assert found == [], [(item.code, item.message) for item in found]


def test_the_example_vehicle_gives_no_finding():
    design, _ = load(ROOT / "layouts" / "dunlin")
    arranged, _ = arrange(design)
    weighty = [item for item in check(design, arranged) if item.severity.value != "note"]
    assert weighty == [], [(item.code, item.message) for item in weighty]


def test_every_code_has_its_meaning_and_every_finding_its_remedy(tmp_path):
    found = found_in(tmp_path, spoiled(*TWINS["speed too small to act on"][1:]))
    assert all(item.remedy and item.source and item.code in CODES for item in found)
    used = set()
    for file in (ROOT / "hmic" / "check").glob("*.py"):
        if file.name != "codes.py":
            used |= set(re.findall(r'"(C4\d\d)"', file.read_text(encoding="utf-8")))
    # C46x are of the link's and the memory's budget.
    assert {code for code in used if code < "C46" or code > "C47"} <= set(CODES)
    assert {code for code in CODES if code < "C46"} <= used


def test_there_are_enough_twins():
    assert len(TWINS) >= 60
    assert {code for code, *_ in TWINS.values()} <= set(CODES)


@pytest.mark.parametrize(("pixels", "found"), [(-0.49, 0), (0.49, 0), (0.51, 1), (1.5, 1)])
def test_half_a_pixel_of_rounding_is_no_gap_too_small(pixels, found):
    """A gap of 7 px against what asks for 7 px and a part."""
    touches = tuple(
        TouchFact(Span("a", line, 1, line, 2), Box(left, 200, 100, 100), None)
        for line, left in ((1, 100), (2, 207))
    )
    panel = Panel(800, 480, 160.0, 96.0, 700.0, 16, 115200, 1 << 20, 1 << 17)
    wanted = replace(DEFAULTS["touch gap"], value=(7 + pixels) * panel.pitch)
    screen = SimpleNamespace(name="a", touches=touches)
    assert len(_apart(screen, panel, {"touch gap": wanted})) == found


def test_the_screen_is_named_where_the_usual_unit_is_met_first(tmp_path):
    changes = [
        road(SPEED, 'reading motor.temperature as "0 °C", text 60 arcmin, called "Motor"'),
        battery(VOLTS, 'reading motor.temperature in °F as "0 °F", text 36 arcmin, called "Motor"'),
    ]
    told = [item.message for item in found_in(tmp_path, spoiled(*changes)) if item.code == "C464"]
    assert told == ["screen 'battery' shows °F where screen 'battery' shows °C: one is read for the other"]


def test_what_looks_warm_and_cool_is_as_it_is_published():
    """hmic/check/scale_form.py: our own choice."""
    assert (WARM, COOL, GREEN, RED) == ((330, 110), (180, 320), (110, 185), (0, 75))
