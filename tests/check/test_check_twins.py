"""False alarms and missed faults: good designs give no finding, spoiled twins exactly the one.

The designs are this project's own. A twin worsens one thing; the figures that it must give are
printed (``pytest -s``) and stand beside the limits of ``hmic/check/limits.py``, which name their sources.
"""

from pathlib import Path

import pytest
from good_design import BATTERY, FILES, ROAD, THEMES, found_in, spoiled

from hmic.check.codes import CODES
from hmic.cli.starter import FILES as STARTER

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
        f'dbc: car.dbc\nlimits: {{"{name}": {{limit: {value}, because: a test}}}}',
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
    "an eye twice as far": ("C401", ("design.yaml", "700 mm", "1200 mm")),
    "a font with thick strokes": ("C404", limit("stroke most", 0.1)),
    "a font with thin strokes": ("C404", limit("stroke least", 0.15)),
    "wide capitals": ("C405", limit("width most", 0.7)),
    "narrow capitals": ("C405", limit("width least", 0.75)),
    "letters set tight": ("C406", limit("gap least", 3)),
    "lines set tight": ("C407", limit("line gap least", 20)),
    "much to read on the road": ("C408", road('called "Power"', 'called "Electric power now"')),
    # Contrast, day
    "quiet text dim by day": ("C420", theme("day", 'quiet: "#beb8b0"', 'quiet: "#6d6a66"')),
    "ink dim by day": ("C420", theme("day", 'ink: "#f8f3e6"', 'ink: "#8d8a82"')),
    "ink no lighter than its control": ("C420", theme("day", 'surface: "#1c2529"', 'surface: "#c9c4b8"')),
    "quiet text dim at night": ("C420", theme("night", 'quiet: "#8c7b70"', 'quiet: "#4d433d"')),
    "caution dim in sun": ("C420", theme("day", 'caution: "#ffd04a"', 'caution: "#a98300"')),
    "a panel that mirrors": ("C420", limit("panel reflectance", 4)),
    "more sun": ("C420", limit("light in sun", 120000)),
    "text held to more at night": ("C420", limit("text contrast at night", 30)),
    "text held to more at dusk": ("C420", limit("text contrast at dusk", 10)),
    "text held to more by day": ("C420", limit("text contrast by day", 12)),
    "symbols held to more at night": ("C421", limit("symbol contrast at night", 12)),
    "symbols held to more by day": ("C421", limit("symbol contrast by day", 4.5)),
    "an unlit lamp that should be seen": (
        "C421",
        battery(LAMP, LAMP.replace("fault" + MEANS, "fault, otherwise surface" + MEANS)),
    ),
    "a knob like its switch": ("C421", theme("day", 'good: "#44a074"', 'good: "#7fd9b0"')),
    "a bar like its track": ("C422", limit("area contrast", 4)),
    "a panel that is grey in the dark": ("C420", ("design.yaml", "  baud", "  native contrast: 6\n  baud")),
    # Night
    "a bright place at night": ("C424", limit("night peak", 20)),
    "a bright screen at night": ("C425", limit("night mean", 0.5)),
    # Colour vision
    "caution like danger": ("C430", theme("day", 'line: "#4b5a60"', 'line: "#8fd3f0"')),
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
        road("lamp motor, caution while motor.temperature > 110 °C", "lamp tyre, danger while pack.fault"),
    ),
    "a parking brake in green": ("C441", road("lamp motor, caution", "lamp parking, good")),
    "head lamps in red": (
        "C441",
        road("lamp motor, caution while motor.temperature > 110 °C", "lamp light, danger while pack.fault"),
    ),
    "no lamp on the second screen": (
        "C443",
        battery(f"    in lamps    {LAMP}\n", '    in lamps    label "Heron"\n'),
    ),
    "another danger on the second screen": (
        "C443",
        battery("danger while pack.fault", "danger while motor.temperature > 140 °C"),
    ),
    "a lamp without words": ("C444", battery(MEANS, "")),
    "a caution without words": ("C444", road(', means "Motor too warm"', "")),
    # Touch
    "a low row of buttons": ("C410", road("rows 14 mm", "rows 9 mm")),
    "options too narrow": ("C410", battery("columns", "columns")),
    "gloves": ("C410", limit("touch size", 19)),
    "targets close together": ("C411", limit("touch gap", 3)),
    "a rim that keeps fingers off": ("C412", limit("touch edge", 4)),
    "a double press": (
        "C413",
        battery(
            "back   lamps  .\n        volts  amps   heater", "back   lamps  heater\n        volts  amps   ."
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
    "decimals of speed": ("C450", road('"0 km/h"', '"0.000 km/h"')),
    "decimals of volts": ("C450", battery('"0.0 V"', '"0.00 V"')),
    "decimals of heat": ("C450", battery('"0 °C", text 36', '"0.00 °C", text 30')),
    "a bar that hides half": (
        "C451",
        road('upward, marks every 30 kW, as "0 kW"', "upward, marks every 30 kW"),
    ),
    "a level that hides the rest": (
        "C451",
        road(
            'from 0 % to 100 %, shaped battery, filled by ramp charge\n        as "0 %",',
            "from 20 % to 80 %, shaped battery, filled by ramp charge\n       ",
        ),
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
    "safe by one figure": (
        "C457",
        road(
            "lamp motor, caution while motor.temperature > 110 °C",
            "lamp motor, good while pack.voltage < 250 V",
        ),
    ),
    # Doubt
    "doubt like the bar": ("C455", theme("day", 'accent: "#8fd3f4"', 'accent: "#a18aac"')),
    "doubt like the empty bar": ("C455", theme("night", 'stale: "#8a83a2"', 'stale: "#130e0b"')),
    # Limits
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


def test_there_are_enough_twins():
    assert len(TWINS) >= 60
    assert {code for code, *_ in TWINS.values()} <= set(CODES)
